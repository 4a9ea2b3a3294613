"""Promises about arrays, checked where a value is made."""

import numpy as np
from numpy.typing import NDArray

from wirerun.arrays import IntArray
from wirerun.errors import ModelError


def require_shape(owner: object, shape: tuple[int, ...], **arrays: NDArray[np.generic]) -> None:
    """Refuse arrays that have not the shape promised.

    Raises
    ------
    ModelError
        Names the value, the array, and both shapes.
    """
    for name, array in arrays.items():
        if array.shape != shape:
            msg = f"{type(owner).__name__}.{name} has the shape {array.shape} where {shape} is promised"
            raise ModelError(msg)


def require_finite(owner: object, **arrays: NDArray[np.float64]) -> None:
    """Refuse arrays with a number that is none, or is infinite.

    Raises
    ------
    ModelError
        Names the value, the array, and the first place.
    """
    for name, array in arrays.items():
        wrong = np.argwhere(~np.isfinite(array))
        if len(wrong):
            at = tuple(int(index) for index in wrong[0])
            msg = f"{type(owner).__name__}.{name} is {array[at]} at {at if len(at) > 1 else at[0]}"
            raise ModelError(msg)


def require_rows(owner: object, row: IntArray, rows: int) -> None:
    """Refuse a row index that does not run 0, 1, 2 ... without falling and without a gap.

    Raises
    ------
    ModelError
        Names the value and the first place.
    """
    step = np.diff(row, prepend=-1)
    wrong = np.flatnonzero((step < 0) | (step > 1))
    if len(wrong):
        at = int(wrong[0])
        msg = f"{type(owner).__name__}.row is {int(row[at])} at {at}, after {int(row[at - 1]) if at else 'none'}"
        raise ModelError(msg)
    last = int(row[-1]) + 1 if len(row) else 0
    if last != rows:
        msg = f"{type(owner).__name__}.row ends at {last - 1}; there are {rows} rows"
        raise ModelError(msg)
