"""Rows taken a batch at a time, so that the working arrays stay in the processor's cache, and values per row."""

from typing import NamedTuple

import numpy as np

from wirerun.mechanics import BoolArray, FloatArray, FloatLike, IntArray
from wirerun.mechanics.ragged import Rows, spread


class Batch(NamedTuple):
    """One batch of whole rows: where its rows and its points lie.

    Attributes
    ----------
    rows : slice
        Its rows among all rows.
    points : slice
        Its points (or supports) among all points.
    """

    rows: slice
    points: slice


def batch_bounds(rows: Rows, most_points: int) -> IntArray:
    """First row of each batch and, last, the number of rows; shape (n_batches + 1,).

    Rows are never cut: a batch holds about ``most_points`` points, or one row that is longer than that.

    Parameters
    ----------
    rows : Rows
        Where the rows lie.
    most_points : int, > 0
        Points wanted in a batch.
    """
    marks = np.arange(0, rows.ordinal.size, most_points)
    begins = np.searchsorted(rows.first, marks)
    return np.unique(np.append(begins, rows.first.size))


def batch(rows: Rows, bounds: IntArray, number: int) -> Batch:
    """Slices of the rows and points of one batch.

    Parameters
    ----------
    rows : Rows
        Where the rows lie.
    bounds : shape (n_batches + 1,)
        From `batch_bounds`.
    number : int
        Which batch, counted from 0.
    """
    start, stop = int(bounds[number]), int(bounds[number + 1])
    end = int(rows.first[stop]) if stop < rows.first.size else rows.ordinal.size
    return Batch(slice(start, stop), slice(int(rows.first[start]), end))


def per_row(name: str, value: FloatLike, rows: Rows) -> FloatArray:
    """One value for each row, shape (n_rows,), from one number or one per row.

    Parameters
    ----------
    name : str
        What the value is called, for the message.
    value : one number or shape (n_rows,)
        The number or numbers.
    rows : Rows
        Where the rows lie.

    Raises
    ------
    MechanicsError
        If there is neither one number nor one per row.
    """
    count = rows.first.size
    return spread(name, np.asarray(value, dtype=np.float64), count, np.arange(count))


def row_sums(owner: IntArray, values: FloatArray | BoolArray, count: int) -> FloatArray:
    """Sum of each row's values, shape (count,); 0 for a row without any, NaN for one with a NaN.

    Parameters
    ----------
    owner : shape (n,)
        Row of each value, counted from 0.
    values : shape (n,)
        What is summed up, or counted where true.
    count : int
        How many rows there are.
    """
    return np.asarray(np.bincount(owner, weights=values, minlength=count), dtype=np.float64)


def last_points(rows: Rows) -> IntArray:
    """Index of the last point of each row, shape (n_rows,)."""
    return np.append(rows.first[1:], rows.ordinal.size) - 1 if rows.first.size else rows.first


def rows_with(mask: BoolArray, rows: Rows) -> BoolArray:
    """Which rows have a point marked, shape (n_rows,).

    Parameters
    ----------
    mask : shape (n_points,)
        Points marked.
    rows : Rows
        Where the rows lie.
    """
    return np.bincount(rows.ordinal, weights=mask, minlength=rows.first.size) > 0
