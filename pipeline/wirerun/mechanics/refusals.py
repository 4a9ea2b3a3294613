"""Input checks of the mechanics: the first number that cannot be meant, in one sentence."""

import numpy as np

from wirerun.arrays import BoolArray, FloatArray
from wirerun.errors import MechanicsError


def _fail(job: str, name: str, values: FloatArray, bad: BoolArray, wanted: str) -> None:
    first = int(np.flatnonzero(bad)[0])
    place = f" at index {first}" if values.ndim else ""
    message = f"{job}: {name} must be {wanted}, but is {values.ravel()[first]:g}{place}."
    raise MechanicsError(message)


def require_positive(job: str, **values: FloatArray) -> None:
    """Refuse arrays that hold a number not above 0 or not finite.

    Parameters
    ----------
    job : str
        What was being computed, for the message.
    **values : any shape
        The arrays by the name the caller knows them by.

    Raises
    ------
    MechanicsError
        Names the first offender: array, index and value.
    """
    for name, array in values.items():
        # Least and greatest are two quick passes and carry NaN along; the mask is made on failure only.
        if array.size and not (array.min() > 0.0 and array.max() < np.inf):
            _fail(job, name, array, ~((array > 0.0) & (array < np.inf)), "above 0 and finite")


def require_non_negative(job: str, **values: FloatArray) -> None:
    """Refuse arrays that hold a number below 0 or not finite.

    Parameters
    ----------
    job : str
        What was being computed, for the message.
    **values : any shape
        The arrays by the name the caller knows them by.

    Raises
    ------
    MechanicsError
        Names the first offender: array, index and value.
    """
    for name, array in values.items():
        if array.size and not (array.min() >= 0.0 and array.max() < np.inf):
            _fail(job, name, array, ~((array >= 0.0) & (array < np.inf)), "0 or more and finite")


def require_finite(job: str, **values: FloatArray) -> None:
    """Refuse arrays that hold NaN or an infinite number.

    Parameters
    ----------
    job : str
        What was being computed, for the message.
    **values : any shape
        The arrays by the name the caller knows them by.

    Raises
    ------
    MechanicsError
        Names the first offender: array, index and value.
    """
    for name, array in values.items():
        bad = ~np.isfinite(array)
        if bad.any():
            _fail(job, name, array, bad, "finite")
