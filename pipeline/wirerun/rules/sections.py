"""Where undulating sections begin and end: posts in need of two-way clips, joined across small gaps."""

import numpy as np

from wirerun.arrays import BoolArray, IntArray


def runs(need: BoolArray, row: IntArray, join: int) -> tuple[IntArray, IntArray]:
    """First and last post of each run of need within a row, across gaps of at most `join` posts.

    >>> need, row = np.array([0, 1, 0, 1, 0, 0, 1, 0]) > 0, np.zeros(8, dtype=np.int64)
    >>> [end.tolist() for end in runs(need, row, 1)]
    [[1, 6], [3, 6]]

    Parameters
    ----------
    need : [post]
        Posts that need two-way clips.
    row : [post]
        Row of each, never falling.
    join : int
        Posts without need that a run may bridge.
    """
    at = np.flatnonzero(need)
    if not len(at):
        return at, at
    breaks = (np.diff(at) > join + 1) | (np.diff(row[at]) != 0)
    return at[np.concatenate([[True], breaks])], at[np.concatenate([breaks, [True]])]


def within(first: IntArray, last: IntArray, posts: int) -> BoolArray:
    """Which posts stand in a run, [post]."""
    edge = np.zeros(posts + 1, dtype=np.int64)
    edge[first] += 1
    edge[last + 1] -= 1
    return np.asarray(np.cumsum(edge)[:-1] > 0)
