"""Rows that follow a guide line (a contour, a road, an old terrace edge), each a whole number of spacings from it.

Number k is the set of points whose distance from the guide is exactly |k| spacings, negative to the left as one walks
along the guide, positive to the right. The guide is carried on straight at both ends, so that rows cover a block that
is longer than it. Round the outside of a bend rows run on arcs; on its inside, where the bend is tighter than the
distance, a part of the guide has no row, and the row is one kinked line without a loop.
"""

from dataclasses import dataclass
from itertools import combinations
from typing import Final, NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from wirerun.arrays import FloatArray, IntArray
from wirerun.geometry.level import Side, TooManyCornersError
from wirerun.geometry.lines import Pieces, shorten
from wirerun.geometry.shapes import lines_through

# The direction in which the guide is carried on is taken over this length, so that a slip of the pen in the last
# vertex does not turn it. *Choice*. [m]
_END_M: Final = 1.0
# A guide carried on stops this far short of itself. [m]
_SHORT_OF_M: Final = 1e-3
# Vertices closer than this are one. [m]
_SAME_M: Final = 1e-6

# How the tolerance is spent: on thinning the guide, on drawing arcs as chords, on thinning the rows.
_GUIDE_SHARE: Final = 0.3
_CHORD_SHARE: Final = 0.2
_ROW_SHARE: Final = 0.5


class GuideError(ValueError):
    """A guide that cannot be followed; carries what is wrong and where, in plane metres."""

    def __init__(self, message: str, x_m: float, y_m: float) -> None:
        super().__init__(f"{message} at x = {x_m:.2f} m, y = {y_m:.2f} m")
        self.message, self.x_m, self.y_m = message, float(x_m), float(y_m)


@dataclass(frozen=True, slots=True)
class Curve:
    """One piece of row.

    Attributes
    ----------
    number : int
        Distance from the guide in spacings: negative to its left as one walks along it, positive to its right.
    xy : shape (n, 2)
        Vertices in the guide's walking direction. [m]
    """

    number: int
    xy: FloatArray


@dataclass(frozen=True, slots=True)
class FollowReport:
    """What became of the guide's bends, and what was left out. Only what lies inside the workable area.

    Attributes
    ----------
    kink_number, kink_xy, kink_turn_deg : shape (k,), (k, 2), (k,)
        Every place where a row turns by `level.KINK_DEG` or more at one point, because the guide is tighter there
        than the row's distance from it. [m], [deg]
    tight_number, tight_m : shape (t,)
        By number: length of guide that has no row at this distance because another part of the guide is nearer. [m]
    short_number, short_m : shape (s,)
        Pieces of row left out as shorter than the least length. [m]
    """

    kink_number: IntArray
    kink_xy: FloatArray
    kink_turn_deg: FloatArray
    tight_number: IntArray
    tight_m: FloatArray
    short_number: IntArray
    short_m: FloatArray


def extend_guide(guide: FloatArray, reach_m: float) -> FloatArray:
    """Guide carried on straight at both ends, shape (n, 2) [m].

    An end stops where it would meet the guide, and both stop where they would meet each other.

    Parameters
    ----------
    guide : shape (n, 2)
        Vertices in walking direction. [m]
    reach_m : float
        How far it is carried on. [m]

    Raises
    ------
    GuideError
        If the guide has no length, a position is not finite, or it crosses, touches or closes on itself.
    """
    guide = _checked(guide)
    line = shapely.LineString(guide)
    far = np.stack([_ahead(guide[::-1], reach_m), _ahead(guide, reach_m)])
    near = guide[[0, -1]]
    free = np.array([_free_length(near[k], far[k], line) for k in (0, 1)])
    way = (far - near) / reach_m
    rays = lines_through(np.stack([near, near + free[:, None] * way], axis=1))
    meeting = shapely.get_coordinates(shapely.intersection(rays[0], rays[1]))
    if len(meeting):
        free = np.hypot(*(near[:, None] - meeting[None]).transpose(2, 0, 1)).min(axis=1) - _SHORT_OF_M
    ends = near + np.maximum(free, 0.0)[:, None] * way
    return np.concatenate([ends[:1][free[:1] > _SAME_M], guide, ends[1:][free[1:] > _SAME_M]])


def follow_guide(
    guide: FloatArray,
    workable: BaseGeometry,
    within_margin: BaseGeometry,
    spacing_m: float,
    headland_start_m: float,
    headland_end_m: float,
    min_length_m: float,
    tolerance_m: float = 0.01,
) -> tuple[list[Curve], FollowReport]:
    """Rows parallel to a guide, by number, those of one number in walking direction; and what was left out.

    A row keeps within `tolerance_m` of its distance from the guide as `extend_guide` carries it on. Rows meet neither
    each other nor themselves. Numbers hang on the guide and the spacing only.

    Worked example: guide from (0, 0) to (0, 100), spacing 2: row 3 runs north along x = 6, row -3 along x = -6.

    Parameters
    ----------
    guide : shape (n, 2)
        Vertices in walking direction; may lie beside the block. [m]
    workable : Polygon or MultiPolygon
        The block less its exclusions. [m]
    within_margin : Polygon or MultiPolygon
        The workable area less its side margin: rows lie inside. [m]
    spacing_m : float
        Distance from row to row. [m]
    headland_start_m, headland_end_m : float
        Least distance along the row from where it enters the workable area to its start, and from its end to where it
        leaves. A row that ends because the guide's bend leaves it no room keeps the same distance from there. [m]
    min_length_m : float
        Shorter pieces are left out. [m]
    tolerance_m : float
        How far a row may be off its distance. [m]

    Raises
    ------
    GuideError
        If the guide has no length, a position is not finite, it crosses, touches or closes on itself, or has too many
        corners.
    ValueError
        If the spacing is not well above the tolerance.
    """
    if not spacing_m > 4.0 * tolerance_m > 0.0:
        message = f"the spacing must be over four times the tolerance, but they are {spacing_m:g} and {tolerance_m:g} m"
        raise ValueError(message)
    found = _find(_checked(guide), workable, spacing_m, tolerance_m)
    pieces = shorten(
        _inside(found.lines, within_margin), _inside(found.lines, workable), headland_start_m, headland_end_m
    )
    length = pieces.end_m - pieces.start_m
    long = length >= max(min_length_m, _SAME_M)
    short = ~long & (length > 0.0)
    curves = [
        Curve(int(found.number[line]), _cut(shapely.get_coordinates(found.lines[line]), start, end))
        for line, start, end in zip(pieces.line[long], pieces.start_m[long], pieces.end_m[long], strict=True)
    ]
    report = FollowReport(
        found.kink_number,
        found.kink_xy,
        found.kink_turn_deg,
        found.tight_number,
        found.tight_m,
        found.number[pieces.line[short]],
        length[short],
    )
    return curves, report


class _Found(NamedTuple):
    """Curves that cover the workable area, not yet cut by it, by number; and the report's first five parts."""

    lines: NDArray[np.object_]
    number: IntArray
    kink_number: IntArray
    kink_xy: FloatArray
    kink_turn_deg: FloatArray
    tight_number: IntArray
    tight_m: FloatArray


def _find(guide: FloatArray, workable: BaseGeometry, spacing_m: float, tolerance_m: float) -> _Found:
    most, axis = 0, guide
    guide_share_m, chord_m = _GUIDE_SHARE * tolerance_m, _CHORD_SHARE * tolerance_m
    if not workable.is_empty:
        corners = shapely.get_coordinates(shapely.box(*workable.bounds))[:4]
        away = np.hypot(*(guide[:, None] - corners[None]).transpose(2, 0, 1))
        # The vertex whose furthest corner is nearest: no place of the block is further from the guide.
        most = int(away.max(axis=1).min() / spacing_m)
        # No place of the block is nearest to anything beyond twice the furthest corner.
        axis = _thinned(guide, extend_guide(guide, 2.0 * float(away.max()) + spacing_m), guide_share_m)
    try:
        sides = {k: Side(axis, workable.bounds, most * spacing_m, right=k > 0) for k in (-1, 1)} if most else {}
    except TooManyCornersError as error:
        message = f"with {len(axis)} corners it has too many near the block; draw it with fewer; it begins"
        raise GuideError(message, *guide[0]) from error
    shapely.prepare(workable)
    lines, number = _thinned_apart([axis], tolerance_m), [0]
    kink_number, kink_xy, kink_turn = [np.empty(0, np.int64)], [np.empty((0, 2))], [np.empty(0)]
    tight = []
    for step in range(1, most + 1):
        levels = {sign: side.at(step * spacing_m, chord_m) for sign, side in sides.items()}
        lines.extend(_thinned_apart([line for level in levels.values() for line in level.lines], tolerance_m))
        for sign, level in levels.items():
            number.extend([sign * step] * len(level.lines))
            here = shapely.intersects_xy(workable, level.kink_xy)
            kink_number.append(np.full(here.sum(), sign * step))
            kink_xy.append(level.kink_xy[here])
            kink_turn.append(level.kink_turn_deg[here])
            tight.append((sign * step, float(shapely.length(shapely.intersection(level.lost, workable)).sum())))
    by_number = np.argsort(number, kind="stable")
    kinks = np.concatenate(kink_number)
    by_kink = np.argsort(kinks, kind="stable")
    tight = sorted(pair for pair in tight if pair[1] > tolerance_m)
    return _Found(
        np.array(lines, dtype=object)[by_number],
        np.array(number)[by_number],
        kinks[by_kink],
        np.concatenate(kink_xy)[by_kink],
        np.concatenate(kink_turn)[by_kink],
        np.array([k for k, _ in tight], dtype=np.int64),
        np.array([m for _, m in tight], dtype=np.float64),
    )


def _thinned(guide: FloatArray, extended: FloatArray, tolerance_m: float) -> FloatArray:
    """Extended guide with fewer vertices, unless it would then meet itself.

    Only the guide proper is thinned: its shape must not hang on how far this block needs it carried on.
    """
    thin = shapely.get_coordinates(shapely.LineString(guide).simplify(tolerance_m))
    before = extended[:1][(extended[:1] != guide[:1]).any(axis=1)]
    after = extended[-1:][(extended[-1:] != guide[-1:]).any(axis=1)]
    whole = np.concatenate([before, thin, after])
    return whole if shapely.LineString(whole).is_simple else extended


def _thinned_apart(lines: list[FloatArray], tolerance_m: float) -> list[shapely.LineString]:
    """Curves of one distance with fewer vertices, except where these would meet: then as they were.

    Curves of different distances cannot meet, since all stay within the tolerance of theirs. Two of one distance can
    run side by side as close as one likes, where two parts of the guide, or its two sides, face each other.
    """
    drawn = [shapely.LineString(line) for line in lines]
    thin = [shapely.simplify(line, _ROW_SHARE * tolerance_m) for line in drawn]
    bad = {k for k, line in enumerate(thin) if not line.is_simple}
    for i, j in combinations(range(len(thin)), 2):
        if thin[i].crosses(thin[j]):
            bad |= {i, j}
    return [drawn[k] if k in bad else line for k, line in enumerate(thin)]


def _inside(lines: NDArray[np.object_], area: BaseGeometry) -> Pieces:
    """Pieces of curves inside an area, by distance along each curve, in order."""
    cuts, cut_line = shapely.get_coordinates(shapely.intersection(lines, area.boundary), return_index=True)
    every = np.arange(len(lines))
    line = np.concatenate([every, every, cut_line]).astype(np.int64)
    length = np.asarray(shapely.length(lines))
    at = np.concatenate(
        [np.zeros(len(lines)), length, shapely.line_locate_point(lines[cut_line], shapely.points(cuts))]
    )
    order = np.lexsort((at, line))
    line, at = line[order], at[order]
    whole = (np.diff(line) == 0) & (np.diff(at) > _SAME_M)
    line, start, end = line[1:][whole], at[:-1][whole], at[1:][whole]
    middle = shapely.get_coordinates(shapely.line_interpolate_point(lines[line], (start + end) / 2.0))
    shapely.prepare(area)
    inside = shapely.intersects_xy(area, middle)
    line, start, end = line[inside], start[inside], end[inside]
    # A curve that only touches the edge in passing is not cut by it.
    goes_on = (np.diff(line) == 0) & (start[1:] - end[:-1] < _SAME_M)
    first, last = np.append(True, ~goes_on)[: len(line)], np.append(~goes_on, True)[: len(line)]
    return Pieces(line[first], start[first], end[last])


def _cut(xy: FloatArray, start_m: float, end_m: float) -> FloatArray:
    """Part of a line between two distances along it."""
    at = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(xy, axis=0).T))])
    between = (at > start_m + _SAME_M) & (at < end_m - _SAME_M)
    ends = np.column_stack([np.interp([start_m, end_m], at, xy[:, k]) for k in (0, 1)])
    return np.concatenate([ends[:1], xy[between], ends[1:]])


def _checked(guide: FloatArray) -> FloatArray:
    """Guide without repeated vertices; refuses one that cannot be followed."""
    guide = np.asarray(guide, dtype=np.float64)
    bad = ~np.isfinite(guide).all(axis=1)
    if bad.any():
        message = f"vertex {int(np.flatnonzero(bad)[0])} of the guide is no position"
        raise GuideError(message, *guide[bad][0])
    guide = guide[np.append(True, np.hypot(*np.diff(guide, axis=0).T) > _SAME_M)[: len(guide)]]
    if len(guide) < 2:
        message = "the guide has no length"
        raise GuideError(message, *(guide[0] if len(guide) else (np.nan, np.nan)))
    if np.hypot(*(guide[-1] - guide[0])) <= _SAME_M:
        message = "the guide closes on itself; leave a gap where rows may end,"
        raise GuideError(message, *guide[0])
    if not shapely.LineString(guide).is_simple:
        message = "the guide crosses or touches itself"
        raise GuideError(message, *_first_meeting(guide))
    return guide


def _first_meeting(guide: FloatArray) -> tuple[float, float]:
    """First place where a line meets an earlier part of itself."""
    segments = lines_through(np.stack([guide[:-1], guide[1:]], axis=1))
    later, earlier = shapely.STRtree(segments).query(segments, predicate="intersects")
    shared = shapely.intersection(segments[later], segments[earlier])
    # Neighbours share a vertex; they meet only if one folds back on the other.
    meets = (later > earlier + 1) | ((later == earlier + 1) & (shapely.length(shared) > 0.0))
    first = np.flatnonzero(meets)[np.lexsort((earlier[meets], later[meets]))[0]]
    x_m, y_m = shapely.get_coordinates(shared[first])[0]
    return float(x_m), float(y_m)


def _ahead(guide: FloatArray, reach_m: float) -> FloatArray:
    """Where the guide's end comes to if carried on straight."""
    back = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(guide[::-1], axis=0).T))])
    over = max(min(_END_M, back[-1]), back[1])
    from_xy = np.array([np.interp(over, back, guide[::-1, k]) for k in (0, 1)])
    way = guide[-1] - from_xy
    return np.asarray(guide[-1] + way * (reach_m / np.hypot(*way)))


def _free_length(near: FloatArray, far: FloatArray, line: shapely.LineString) -> float:
    """How far one can go straight from a line's end without meeting the line [m]."""
    ray = shapely.LineString([near, far])
    away = np.hypot(*(shapely.get_coordinates(ray.intersection(line)) - near).T)
    meets = away[away > _SAME_M]
    return float(meets.min()) - _SHORT_OF_M if len(meets) else float(ray.length)
