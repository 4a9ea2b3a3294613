"""Supports of many rows in one array: checks, row bounds, and what lies beside what.

All supports of all rows stand one after another, in the order they are walked; ``row`` holds the same
number for all supports of one row and never falls. The numbers may have gaps: what is given "one per row"
goes by the order of the rows, not by their numbers.
"""

from typing import NamedTuple

import numpy as np

from wirerun.errors import MechanicsError
from wirerun.mechanics import BoolArray, FloatArray, IntArray
from wirerun.mechanics.refusals import refuse_unless_finite


class Rows(NamedTuple):
    """Where the rows lie in the array of supports.

    Attributes
    ----------
    ordinal : IntArray
        0 for the supports of the first row, 1 for the next, whatever their numbers; shape (n_supports,).
    first : IntArray
        Index of the first support of each row; shape (n_rows,).
    """

    ordinal: IntArray
    first: IntArray


def find_rows(row: IntArray) -> Rows:
    """Order and first support of each row; shapes (n_supports,) and (n_rows,).

    Rows 4, 4, 7, 7, 7 give ordinal 0, 0, 1, 1, 1 and first 0, 2.

    Parameters
    ----------
    row : shape (n_supports,), whole numbers, never falling
        Which row each support belongs to.

    Raises
    ------
    MechanicsError
        If ``row`` is not one list of whole numbers, or falls somewhere; names the place.
    """
    if row.ndim != 1 or not np.issubdtype(row.dtype, np.integer):
        message = f"row must be one list of whole numbers, but has {row.ndim} dimensions of {row.dtype}."
        raise MechanicsError(message)
    change = np.diff(row)
    if (change < 0).any():
        at = int(np.flatnonzero(change < 0)[0]) + 1
        message = f"row must never fall, but goes from {row[at - 1]} to {row[at]} at index {at}."
        raise MechanicsError(message)
    begins = np.ones(row.size, dtype=np.bool_)
    begins[1:] = change > 0
    return Rows(np.cumsum(begins) - 1, np.flatnonzero(begins))


def near_supports(row: IntArray) -> IntArray:
    """Index of the near support of every span, shape (n_spans,): those whose next is in the same row."""
    return np.flatnonzero(row[1:] == row[:-1])


def inner_supports(row: IntArray) -> IntArray:
    """Index of every support with a neighbour on both sides in its row, shape (n_inner,)."""
    same: BoolArray = row[1:] == row[:-1]
    return np.flatnonzero(same[1:] & same[:-1]) + 1


def refuse_bad_supports(x_m: FloatArray, z_m: FloatArray, row: IntArray) -> None:
    """Return nothing; refuse supports that make no rows.

    Parameters
    ----------
    x_m : shape (n_supports,)
        Stations; must grow within each row. [m]
    z_m : shape (n_supports,)
        Heights; NaN where there is none, never infinite. [m]
    row : shape (n_supports,)
        Row of each support, checked by `find_rows`.

    Raises
    ------
    MechanicsError
        If lengths differ, a station is not finite or does not grow, or a height is infinite.
    """
    if not (x_m.shape == z_m.shape == row.shape):
        message = f"x_m, z_m and row must be equally long, but are {x_m.shape}, {z_m.shape} and {row.shape}."
        raise MechanicsError(message)
    refuse_unless_finite("Supports", x_m=x_m, z_m=np.where(np.isnan(z_m), 0.0, z_m))
    back = (np.diff(x_m) <= 0.0) & (row[1:] == row[:-1])
    if back.any():
        at = int(np.flatnonzero(back)[0]) + 1
        message = f"x_m must grow along a row, but goes from {x_m[at - 1]:g} to {x_m[at]:g} m at index {at}."
        raise MechanicsError(message)


def spread(name: str, value: FloatArray, count: int, ordinal: IntArray) -> FloatArray:
    """Values per support from one number or one per row, shape (n_supports,).

    Parameters
    ----------
    name : str
        What the value is called, for the message.
    value : shape () or (n_rows,)
        The number or numbers.
    count : int
        How many rows there are.
    ordinal : shape (n_supports,)
        `Rows.ordinal`.

    Raises
    ------
    MechanicsError
        If there is neither one number nor one per row.
    """
    if value.ndim == 0:
        return np.broadcast_to(value, ordinal.shape)
    if value.shape != (count,):
        message = f"{name} must be one number or one for each of {count} rows, but has shape {value.shape}."
        raise MechanicsError(message)
    return value[ordinal]
