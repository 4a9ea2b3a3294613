"""Rows taken a batch at a time, so that the working arrays stay in the processor's cache."""

from typing import NamedTuple

import numpy as np

from wirerun.mechanics.arrays import IntArray
from wirerun.mechanics.row_index import RowIndex


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


def batch_bounds(rows: RowIndex, most_points: int) -> IntArray:
    """First row of each batch and, last, the number of rows; shape (n_batches + 1,).

    Rows are never cut: a batch holds about ``most_points`` points, or one row that is longer than that.

    Parameters
    ----------
    rows : RowIndex
        Where the rows lie.
    most_points : int, > 0
        Points wanted in a batch.
    """
    marks = np.arange(0, rows.size, most_points)
    begins = np.searchsorted(rows.first, marks)
    return np.unique(np.append(begins, rows.count))


def batch(rows: RowIndex, bounds: IntArray, number: int) -> Batch:
    """Slices of the rows and points of one batch.

    Parameters
    ----------
    rows : RowIndex
        Where the rows lie.
    bounds : shape (n_batches + 1,)
        From `batch_bounds`.
    number : int
        Which batch, counted from 0.
    """
    start, stop = int(bounds[number]), int(bounds[number + 1])
    end = int(rows.first[stop]) if stop < rows.count else rows.size
    return Batch(slice(start, stop), slice(int(rows.first[start]), end))
