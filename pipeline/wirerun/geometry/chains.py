"""Lines drawn in pieces: which ends belong together, and the one line that the pieces make. All in plane metres."""

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely

from wirerun.arrays import FloatArray
from wirerun.geometry.shapes import lines_of, points_at

# All choice. Lines that are to be joined may turn by so much; a row that bends more in one place is two rows.
_MOST_TURN_DEG: Final = 15.0
# Ends may overlap by so much and still be joined, or lie so far beside each other, ...
_OVERLAP_M: Final = 0.2
# ... and never farther, however wide the gap: the next row's end must not be taken for this row's.
_MOST_BESIDE_M: Final = 0.5
# The direction of an end is that of its last metres: the last step of a tracked line may point anywhere.
_END_M: Final = 2.0
_SMALL_M: Final = 1e-6

#: A chain: given lines that follow one another, each with whether it runs as it was drawn.
Chain = list[tuple[int, bool]]


@dataclass(frozen=True, slots=True)
class Join:
    """Two given lines made one: their indices, and the gap between their ends [m]."""

    first: int
    second: int
    gap_m: float


def _ends(lines: list[FloatArray]) -> tuple[FloatArray, FloatArray]:
    """Return place and outward direction of every end, shape (2 n, 2): of line i the start is 2 i, the end 2 i + 1."""
    drawn = lines_of(lines)
    near = np.minimum(_END_M, shapely.length(drawn))
    place, inner = np.empty((2 * len(lines), 2)), np.empty((2 * len(lines), 2))
    place[0::2], place[1::2] = [line[0] for line in lines], [line[-1] for line in lines]
    inner[0::2] = shapely.get_coordinates(shapely.line_interpolate_point(drawn, near))
    inner[1::2] = shapely.get_coordinates(shapely.line_interpolate_point(drawn, shapely.length(drawn) - near))
    out = place - inner
    return place, out / np.maximum(np.hypot(out[:, 0], out[:, 1]), _SMALL_M)[:, None]


def _fitting_ends(lines: list[FloatArray], kept: list[int], gap_m: float) -> list[tuple[float, int, int]]:
    """Return (gap, end, other end) for ends that may be joined, nearest first."""
    place, out = _ends(lines)
    ends = np.array([end for index in kept for end in (2 * index, 2 * index + 1)], dtype=np.int64)
    points = points_at(place[ends])
    one, other = ends[shapely.STRtree(points).query(points, predicate="dwithin", distance=gap_m + _SMALL_M)]
    ahead = one // 2 < other // 2
    one, other = one[ahead], other[ahead]
    across_gap = place[other] - place[one]
    way = out[one] - out[other]
    way /= np.maximum(np.hypot(way[:, 0], way[:, 1]), _SMALL_M)[:, None]
    forward = (across_gap * way).sum(axis=1)
    beside = np.abs(across_gap[:, 0] * way[:, 1] - across_gap[:, 1] * way[:, 0])
    most_turn = math.radians(_MOST_TURN_DEG)
    fit = (out[one] * -out[other]).sum(axis=1) >= math.cos(most_turn)
    fit &= (forward >= -_OVERLAP_M) & (beside <= np.clip(forward * math.tan(most_turn), _OVERLAP_M, _MOST_BESIDE_M))
    gap = np.hypot(across_gap[:, 0], across_gap[:, 1])
    return sorted(zip(gap[fit].tolist(), one[fit].tolist(), other[fit].tolist(), strict=True))


def chains_of(lines: list[FloatArray], kept: list[int], gap_m: float) -> tuple[list[Chain], tuple[Join, ...]]:
    """The kept lines in chains that are to be one line each, and the joins."""
    partner: dict[int, int] = {}
    chain_of = {index: index for index in kept}
    joined = []
    for gap, here, there in _fitting_ends(lines, kept, gap_m):
        one, two = chain_of[here // 2], chain_of[there // 2]
        # An end is joined once, and a chain that is joined to itself would have no ends.
        if here in partner or there in partner or one == two:
            continue
        partner |= {here: there, there: here}
        chain_of = {index: one if chain == two else chain for index, chain in chain_of.items()}
        joined.append(Join(here // 2, there // 2, gap))
    chains: list[Chain] = []
    done: set[int] = set()
    for index in kept:
        free = next((end for end in (2 * index, 2 * index + 1) if end not in partner), None)
        if index in done or free is None:
            continue
        chain: Chain = []
        end: int | None = free
        while end is not None:
            chain.append((end // 2, end % 2 == 0))
            end = partner.get(end ^ 1)
        done.update(line for line, _ in chain)
        chains.append(chain)
    return chains, tuple(joined)


def turned_round(chain: Chain) -> Chain:
    """The chain run through the other way."""
    return [(index, not forward) for index, forward in reversed(chain)]


def drawn_through(lines: list[FloatArray], chain: Chain) -> FloatArray:
    """The one line that a chain makes: across small gaps the two ends give way to the point half way between."""
    path, *rest = (lines[index] if forward else lines[index][::-1] for index, forward in chain)
    for follower in rest:
        between = (path[-1:] + follower[:1]) / 2.0
        gap = float(np.hypot(*(follower[0] - path[-1])))
        met = [_without_end(path, gap), between, _without_end(follower[::-1], gap)[::-1]]
        path = np.concatenate(met if gap <= _END_M else [path, follower])
    return path


def _without_end(path: FloatArray, gap_m: float) -> FloatArray:
    """Return a path less its end and the points next to it: where ends overlap, the line would run back on itself."""
    far = np.hypot(*(path[:-1] - path[-1]).T) > gap_m
    return path[: int(np.flatnonzero(far)[-1]) + 1 if far.any() else 1]
