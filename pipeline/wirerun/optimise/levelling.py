"""Clips set a little higher or lower, so that dips even out: of all whole steps on all posts, those that cost least.

A post has one-way clips, whose cost depends on its own step and on those of its two neighbours, or two-way ones at a
price; from one kind to the other costs a change. So the least cost from a post to the row's end is kept for every pair
of steps on it and on the post before, and for the kind of that (dynamic programming of second order). All rows of a
batch go from their far ends to their starts together: the only loop runs over posts counted along the longest row.
Costs are whole numbers, so nothing is decided by rounding.
"""

from typing import Final, NamedTuple

import numpy as np

from wirerun.arrays import BoolArray, FloatArray, IntArray
from wirerun.mechanics.row_index import RowIndex

#: Cost of a step that is not allowed: above any sum of costs, and with room to add two of them.
NEVER: Final = 2**60
# Triples of steps worked on at a time: bounds the memory. Choice.
_AT_A_TIME: Final = 2_000_000


class StepCosts(NamedTuple):
    """What posts cost by their steps.

    Attributes
    ----------
    slope : [post, 3]
        How far one step of the previous, the own and the next post moves the post along its axis of `of_post`. [-]
    reach : [post], > 0
        The axis runs from -reach to reach; no allowed triple of steps moves the post beyond. [-]
    of_post : [post, place]
        Cost of the post with one-way clips at even places along that axis; the nearest counts.
    of_step : [post, step]
        Cost of the step itself, steps from -most to most; `NEVER` where it is not allowed. Ends of rows cost nothing
        else, and have no two-way clips.
    two_way, change : int
        Cost of a post with two-way clips, and of a change of kind from one post of a row to the next.
    """

    slope: FloatArray
    reach: FloatArray
    of_post: IntArray
    of_step: IntArray
    two_way: int
    change: int


class _Best(NamedTuple):
    """What is best from a post on, by the steps of the post before and the own: [line, before, own, row].

    Attributes
    ----------
    open_next : [line, before, own, row]
        Which step the next post takes where this one has one-way clips.
    closed_next : [line, own, row]
        The same where it has two-way clips.
    closed : [line, kind, before, own, row]
        Whether it has two-way clips, by the kind of the post before, 0 or 1.
    """

    open_next: IntArray
    closed_next: IntArray
    closed: IntArray


class _Batch(NamedTuple):
    """Rows side by side, [line, row]: the post of each, -1 behind a row's far end, and whether it lies within a row."""

    post: IntArray
    inner: IntArray


def cheapest_steps(rows: RowIndex, costs: StepCosts) -> IntArray:
    """The step of every post that makes each row cost least, shape (posts,).

    Of equal costs the smaller steps are taken, row by row from the start on.

    Parameters
    ----------
    rows : RowIndex
        Rows of the posts.
    costs : StepCosts
        What they cost.
    """
    steps = np.zeros(rows.size, dtype=np.int64)
    size = rows.last - rows.first + 1
    some = np.argsort(size, kind="stable")  # rows of like length side by side leave little empty
    most = costs.of_step.shape[1] // 2
    width = max(1, _AT_A_TIME // (2 * most + 1) ** 3)
    # The smaller of equal steps comes first.
    tried = np.array(sorted(range(-most, most + 1), key=abs))
    for begin in range(0, some.size, width):
        here = some[begin : begin + width]
        ordinal = np.arange(int(size[here].max()))[:, None]
        post = np.where(ordinal < size[here], rows.first[here] + ordinal, -1)
        inner = (ordinal > 0) & (ordinal < size[here] - 1)
        chosen = _trace(_scan(_Batch(post, inner.astype(np.int64)), costs, tried), tried)
        steps[post[post >= 0]] = chosen[post >= 0]
    return steps


def cost_of_steps(rows: RowIndex, costs: StepCosts, steps: IntArray, two_way: BoolArray) -> int:
    """What all rows cost with given steps and kinds, by the rules by which `cheapest_steps` chooses."""
    inner, most = rows.inner, costs.of_step.shape[1] // 2
    moved = (costs.slope[inner] * steps[inner[:, None] + np.arange(-1, 2)]).sum(axis=1)
    of_post = costs.of_post[inner, _place(moved, costs.reach[inner], costs.of_post.shape[1])]
    of_post = np.where(two_way[inner], costs.two_way, of_post)
    changes = np.count_nonzero(two_way[rows.near] != two_way[rows.near + 1])
    return int(of_post.sum() + costs.change * changes + costs.of_step[np.arange(rows.size), steps + most].sum())


def _place(moved: FloatArray, reach: FloatArray, places: int) -> IntArray:
    """Nearest place on a post's axis."""
    half = (places - 1) / 2.0
    return np.rint((moved / reach + 1.0) * half).astype(np.int64).clip(0, places - 1)


def _scan(batch: _Batch, costs: StepCosts, tried: IntArray) -> _Best:
    """What is best from every post on."""
    lines, width = batch.post.shape
    many, most, places = tried.size, costs.of_step.shape[1] // 2, costs.of_post.shape[1]
    best = _Best(
        np.zeros((lines, many, many, width), dtype=np.int8),
        np.zeros((lines, many, width), dtype=np.int8),
        np.zeros((lines, 2, many, many, width), dtype=np.int8),
    )
    ahead = np.zeros((2, many, many, width), dtype=np.int64)  # by own kind, own and next step
    for line in range(lines - 1, -1, -1):
        post, inner = batch.post[line], batch.inner[line]
        slope = np.where(inner[:, None] > 0, costs.slope[post], 0.0)
        moved = (
            slope[:, 0] * tried[:, None, None, None] + slope[:, 1] * tried[:, None, None] + slope[:, 2] * tried[:, None]
        )
        cost = costs.of_post[post, _place(moved, costs.reach[post], places)] * inner + ahead[0]
        best.open_next[line] = cost.argmin(axis=2)
        as_open = cost.min(axis=2)
        best.closed_next[line] = ahead[1].argmin(axis=1)
        as_closed = np.where(inner > 0, costs.two_way + ahead[1].min(axis=1), NEVER)
        own = np.where(post >= 0, costs.of_step[post][:, tried + most].T, np.where(tried == 0, 0, NEVER)[:, None])
        for kind in range(2):
            left, entered = as_open + kind * costs.change, as_closed + (1 - kind) * costs.change
            best.closed[line, kind] = entered < left
            ahead[kind] = np.minimum(np.minimum(left, entered) + own, NEVER)
    return best


def _trace(best: _Best, tried: IntArray) -> IntArray:
    """Steps along each row, [line, row]: row ends, which cost nothing else, take the step 0."""
    lines, _, _, width = best.open_next.shape
    steps = np.zeros((lines, width), dtype=np.int64)
    row, before, own, kind = np.arange(width), *np.zeros((3, width), dtype=np.int64)
    for line in range(lines - 1):
        kind = best.closed[line, kind, before, own, row]
        step = np.where(kind > 0, best.closed_next[line, own, row], best.open_next[line, before, own, row])
        before, own = own, step
        steps[line + 1] = tried[own]
    return steps
