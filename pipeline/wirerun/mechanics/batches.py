"""Arrays taken a piece at a time, so that the working arrays stay in the processor's cache."""

from itertools import pairwise
from typing import NamedTuple

import numpy as np

from wirerun.mechanics.row_index import RowIndex


class Batch(NamedTuple):
    """Some whole rows: where they and their points lie.

    Attributes
    ----------
    rows : slice
        Its rows among all rows.
    points : slice
        Its points (or supports) among all points.
    """

    rows: slice
    points: slice


def batches(rows: RowIndex, most_points: int) -> list[Batch]:
    """All rows in batches of about ``most_points`` points; a row is never cut, however long.

    Rows of 3, 3, 3 and 20 points, about 6 points at a time:

    >>> [part.rows for part in batches(RowIndex.of(np.repeat(np.arange(4), [3, 3, 3, 20])), 6)]
    [slice(0, 2, None), slice(2, 4, None)]

    Parameters
    ----------
    rows : RowIndex
        Where the rows lie.
    most_points : int, > 0
        Points wanted in a batch.

    Returns
    -------
    list of Batch
        In the order of the rows; none without rows.
    """
    marks = np.arange(0, rows.size, most_points)
    bounds = np.unique(np.append(np.searchsorted(rows.first, marks), rows.count))
    begins = np.append(rows.first, rows.size)
    return [
        Batch(slice(start, stop), slice(int(begins[start]), int(begins[stop])))
        for start, stop in pairwise(bounds.tolist())
    ]


def chunks(count: int, most: int) -> list[slice]:
    """Slices of at most ``most`` that together make ``count``.

    >>> chunks(5, 2)
    [slice(0, 2, None), slice(2, 4, None), slice(4, 6, None)]

    Parameters
    ----------
    count, most : int
        Numbers in all and in one slice.

    Returns
    -------
    list of slice
        In order; the last may reach beyond the count, as slices may.
    """
    return [slice(start, start + most) for start in range(0, count, most)]
