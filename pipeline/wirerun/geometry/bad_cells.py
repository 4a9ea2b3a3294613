"""Cells of a height raster that are no ground: zeros, cliffs, spikes; and heights that were rounded.

Whole arrays, in strips of rows, so that a large window takes little memory.
"""

from collections.abc import Iterator
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from wirerun.arrays import BoolArray

Heights = NDArray[np.float32] | NDArray[np.float64]

_STRIP_CELLS: Final = 1_000_000

# Choices. Heights within this of 0 are near 0; a ground that has more of them than these shares lies at sea level.
_NEAR_ZERO_M: Final = 2.0
_MOST_NEAR_OF_GROUND, _MOST_NEAR_OF_ZEROS = 0.01, 0.1

#: Choices. Ground that rises or falls by more than this within `CLIFF_RUN_M`, 333 %, is no slope to plant; where cells
#: are larger, the same grade is looked for from cell to cell.
CLIFF_M: Final = 10.0
CLIFF_RUN_M: Final = 3.0

# Choices. A spike stands off whatever lies round it on all sides, by so much, by half the distance to it, and by so
# many robust sigma of what the whole ground does over that distance.
_SPIKE_M: Final = 0.5
_SPIKE_GRADE: Final = 0.5
_SPIKE_SIGMAS: Final = 8.0
_SPIKE_REACH_CELLS: Final = 3
_SPIKE_REACH_M: Final = 1.6
_MAD_TO_SIGMA: Final = 1.4826  # of a normal distribution

# Steps that heights are rounded to, in the raster's unit, from the coarsest: a foot is among them, for rasters that
# were whole feet before they were metres.
_ROUND_STEPS: Final = (1.0, 0.5, 0.3048, 0.25, 0.2, 0.1, 0.05)
# Choice: rounding to less is off by 1.4 cm at most, one sigma 0.3 of that for centimetres.
_LEAST_STEP_M: Final = 0.05
_ROUND_SHARE: Final = 0.98
_LEAST_PLACES: Final = 10
_MICROMETRE: Final = 1e-6
_ROUND_CELLS: Final = 300_000
# So many steps between neighbours must be other than the usual one, in so many rows and columns: even and level ground
# rounds to nothing, nor does such ground with a bend in it.
_LEAST_UNEVEN: Final = 10
_LEAST_LINES: Final = 3


class BadCells(NamedTuple):
    """Cells that are no ground.

    Attributes
    ----------
    cells : int
        How many.
    worst_m : float
        How far the worst is off; signed for a spike. [m]
    column, row : int
        The worst cell.
    """

    cells: int
    worst_m: float
    column: int
    row: int


class ZeroCounts(NamedTuple):
    """How many cells are exactly 0, how many others are near it, and how many there are beside the zeros."""

    zeros: int = 0
    near: int = 0
    other: int = 0

    def plus(self, heights_m: Heights, looked: BoolArray) -> "ZeroCounts":
        """Return the counts with those of more cells, of which some are looked at."""
        zero = _count(looked & (heights_m == 0.0))
        near = _count(looked & (np.abs(heights_m) <= _NEAR_ZERO_M)) - zero
        return ZeroCounts(self.zeros + zero, self.near + near, self.other + _count(looked) - zero)

    @property
    def stray(self) -> bool:
        """Return whether the zeros are no heights; see `stray_zeros`."""
        few = self.near <= _MOST_NEAR_OF_GROUND * self.other and self.near <= _MOST_NEAR_OF_ZEROS * self.zeros
        return self.zeros > 0 and self.other > 0 and few


def stray_zeros(heights_m: Heights, ground: BoolArray) -> BoolArray | None:
    """Cells of exactly 0 in ground that lies elsewhere, shape as given; None where there are none.

    Zeros belong to the ground where it lies near 0 in other places too, or has no other height at all.

    Parameters
    ----------
    heights_m : shape (rows, columns)
        Heights. [m]
    ground : shape (rows, columns)
        Which of them are looked at.
    """
    seen = ZeroCounts()
    for rows in _strips(heights_m.shape):
        seen = seen.plus(heights_m[rows], ground[rows])
    return ground & (heights_m == 0.0) if seen.stray else None


def cliffs(heights_m: Heights, ground: BoolArray, sides_m: tuple[float, float]) -> BadCells | None:
    """Where the ground rises or falls too much over a short way along columns or rows; None where it does nowhere.

    Parameters
    ----------
    heights_m, ground : shape (rows, columns)
        Heights [m], and which of them are looked at.
    sides_m : tuple of float
        Width and height of a cell. [m]

    Returns
    -------
    BadCells or None
        `worst_m` is the greatest rise or fall, over `CLIFF_RUN_M` or one cell, whichever is longer.
    """
    count, worst, place = 0, 0.0, (0, 0)
    for axis, side in ((0, sides_m[1]), (1, sides_m[0])):
        lag = max(1, int(CLIFF_RUN_M / side + 0.01))  # a metre of a grid is a little more or less
        limit = cliff_limit(side)
        for rows in _strips(heights_m.shape, after=lag if axis == 0 else 0):
            heights, looked = heights_m[rows], ground[rows]
            if heights.shape[axis] <= lag:
                continue
            head, tail = _shifted(heights.shape[axis], lag)
            first, last = (heights[part] if axis == 0 else heights[:, part] for part in (head, tail))
            step = np.abs(last - first)
            if not (step > limit).any():
                continue
            # What lies between is looked at, too: a cliff may be kept out by a narrow strip.
            out = np.cumsum(~looked, axis=axis, dtype=np.int32)
            both = (
                (looked[head] & (out[head] == out[tail]))
                if axis == 0
                else (looked[:, head] & (out[:, head] == out[:, tail]))
            )
            step = np.where(both, step, 0.0)
            count += _count(step > limit)
            at = np.unravel_index(int(step.argmax()), step.shape)
            if step[at] > max(worst, limit):
                worst = float(step[at])
                place = int(at[0]) + rows.start + (lag // 2 if axis == 0 else 0), int(at[1]) + (lag // 2) * axis
    return BadCells(count, worst, place[1], place[0]) if count else None


def cliff_limit(side_m: float) -> float:
    """Rise or fall that is still no cliff, over `CLIFF_RUN_M` or one cell, whichever is longer [m]."""
    return CLIFF_M * max(1.0, side_m / CLIFF_RUN_M)


def spikes(heights_m: Heights, valid: BoolArray, ground: BoolArray, sides_m: tuple[float, float]) -> BadCells | None:
    """Single cells and groups up to three by three that stand off all that lies round them; None where there are none.

    Compared with the eight cells 1, 2 and 3 cells away (within 1.6 m). A spike is off the mean of each of the four
    opposite pairs, to the same side, and higher than all eight, or lower. Even slopes, edges and corners of walls,
    ridges and gullies are not, however rough: along a wall and along a gully there is a pair that goes on like it.

    Parameters
    ----------
    heights_m, valid, ground : shape (rows, columns)
        Heights [m], which of them are any, and which are looked at; all valid ones may serve as neighbours.
    sides_m : tuple of float
        Width and height of a cell. [m]
    """
    side = min(sides_m)
    reaches = [n for n in range(1, _SPIKE_REACH_CELLS + 1) if n == 1 or n * side <= _SPIKE_REACH_M]
    margin = reaches[-1]
    count, worst, place = 0, 0.0, (0, 0)
    for rows in _strips(heights_m.shape, before=margin, after=margin):
        heights = np.where(valid[rows], heights_m[rows], np.nan)
        if min(heights.shape) <= 2 * margin:
            continue
        inner = ground[rows][margin:-margin, margin:-margin]
        off = np.zeros(inner.shape)
        for reach in reaches:
            floor_m = max(_SPIKE_M, _SPIKE_GRADE * reach * side)
            if not _some_off_one_pair(heights, reach, margin, floor_m):
                continue  # then none is off all four
            by = _off_all_round(heights, reach, margin, inner, floor_m)
            off = np.where(np.abs(by) > np.abs(off), by, off)
        hit = np.abs(off)
        count += _count(hit)
        at = np.unravel_index(int(hit.argmax()), hit.shape)
        if hit[at] > abs(worst):
            worst, place = float(off[at]), (int(at[0]) + rows.start + margin, int(at[1]) + margin)
    return BadCells(count, worst, place[1], place[0]) if count else None


def _some_off_one_pair(heights: Heights, reach: int, margin: int, floor_m: float) -> bool:
    """Whether any cell of the inner part is so far off the mean of the two beside it."""
    rows, columns = (size - margin for size in heights.shape)
    inner = heights[margin:rows]
    one, other = (inner[:, margin + by : columns + by] for by in (reach, -reach))
    by_m = one + other
    by_m *= 0.5
    by_m -= inner[:, margin:columns]
    return bool((np.abs(by_m, out=by_m) > floor_m).any())


def _off_all_round(heights: Heights, reach: int, margin: int, looked: BoolArray, floor_m: float) -> Heights:
    """How far each cell is off the cells round it, 0 where that is no spike, shape of the inner part [m]."""
    rows, columns = (size - margin for size in heights.shape)
    middle = heights[margin:rows, margin:columns]
    least, most = np.full(middle.shape, np.inf), np.full(middle.shape, -np.inf)
    lowest, highest = least.copy(), most.copy()
    for down, right in ((0, reach), (reach, 0), (reach, reach), (reach, -reach)):
        one, other = (
            heights[margin + sign * down : rows + sign * down, margin + sign * right : columns + sign * right]
            for sign in (1, -1)
        )
        by = middle - (one + other) / 2.0
        least, most = np.minimum(least, by), np.maximum(most, by)
        lowest, highest = np.minimum(lowest, np.minimum(one, other)), np.maximum(highest, np.maximum(one, other))
    # Comparisons with a missing height are false.
    usual = np.abs(least[looked & np.isfinite(least)])
    limit = max(floor_m, _SPIKE_SIGMAS * _MAD_TO_SIGMA * float(np.median(usual))) if usual.size else floor_m
    up = looked & (least > limit) & (middle - highest > limit / 2.0)
    down_ = looked & (most < -limit) & (lowest - middle > limit / 2.0)
    return np.asarray(np.where(up, least, np.where(down_, most, 0.0)))


def rounded_to(heights_m: Heights, ground: BoolArray, unit_m: float = 1.0) -> float | None:
    """Step to which heights were rounded, from 5 cm up; None where they were not [m].

    Told from ground that bends: even slopes, level ground and level terraces have heights of whole steps by nature, but
    rounded ones go up by a step here and by none there. Looked at on a sample of whole rows, 300 000 cells or so.

    Parameters
    ----------
    heights_m, ground : shape (rows, columns)
        Heights [m], and which of them are looked at.
    unit_m : float
        The raster's unit of height. [m]
    """
    stride = max(1, int(ground.sum() // _ROUND_CELLS))
    upper, lower = heights_m[:-1:stride], heights_m[1::stride]
    here = ground[:-1:stride]
    down = lower - upper, here & ground[1::stride]
    right = np.diff(upper, axis=1), here[:, 1:] & here[:, :-1]
    sample = np.asarray(upper[here], dtype=np.float64) / unit_m
    if not sample.size:
        return None
    # Heights come in single precision: what that cannot tell apart counts as equal.
    fine = float(np.spacing(np.float32(np.abs(sample).max()))) + 1e-9
    for step in _ROUND_STEPS:
        if step * unit_m < _LEAST_STEP_M or not _in_steps(sample[:1000], step, fine):
            continue
        if _in_steps(sample, step, fine) and any(_uneven(by, both, step * unit_m) for by, both in (down, right)):
            return step * unit_m
    return None


def step_of(heights_m: NDArray[np.float64]) -> float | None:
    """Step from 5 cm up of which heights of single places, such as posts, are whole multiples [m].

    None where there is no such step, or where ten places do not bear it out.

    Parameters
    ----------
    heights_m : shape (n,)
        NaN where there is none. [m]
    """
    known = heights_m[np.isfinite(heights_m)]
    if len(known) < _LEAST_PLACES or np.ptp(known) == 0.0:
        return None
    steps = (step for step in _ROUND_STEPS if step >= _LEAST_STEP_M)
    return next((step for step in steps if _in_steps(known, step, _MICROMETRE)), None)


def _in_steps(heights: NDArray[np.float64], step: float, fine: float) -> bool:
    """Whether heights are whole steps, but for a few."""
    rest = np.abs(heights - np.round(heights / step) * step)
    return bool(np.mean(rest <= fine) >= _ROUND_SHARE)


def _uneven(by_m: Heights, both: BoolArray, step_m: float) -> bool:
    """Whether neighbouring heights are apart now by some number of steps, now by one more, here and there."""
    steps = np.round(np.where(both, by_m, 0.0) / step_m).astype(np.int64)
    if not both.any():
        return False
    values, counts = np.unique(steps[both], return_counts=True)
    odd = both & (np.abs(steps - values[counts.argmax()]) == 1)
    places = odd.any(axis=1).sum(), odd.any(axis=0).sum()
    return bool(odd.sum() >= _LEAST_UNEVEN and min(places) >= _LEAST_LINES)


def _count(where: BoolArray) -> int:
    return int(np.count_nonzero(where))


def _shifted(size: int, lag: int) -> tuple[slice, slice]:
    return slice(0, size - lag), slice(lag, size)


def _strips(shape: tuple[int, ...], before: int = 0, after: int = 0) -> Iterator[slice]:
    """Go through the rows in strips of some million cells; each reaches back and on by so many rows of the next."""
    rows, columns = shape
    height = max(1, _STRIP_CELLS // max(1, columns)) + before + after
    for start in range(0, max(1, rows - before - after), height - before - after):
        yield slice(start, min(rows, start + height))
