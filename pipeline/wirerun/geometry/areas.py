"""One area for each group of lines: which ground goes with which rows.

Straight rows side by side have bands of ground between midlines, see `bands`. For other lines, places along them are
joined into a triangulation that has every line among its edges. A triangle whose corners belong to several groups is
cut where its sides are equally far from both groups, and the cuts together are the borders. The border between two
parallel lines is then the line midway between them, however the places lie.

Whatever is put together lies on one fixed grid: borders that are to meet do meet.
"""

from typing import Final, NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.spatial import Delaunay
from shapely.geometry.base import BaseGeometry

from wirerun.arrays import FloatArray, IntArray
from wirerun.geometry.bands import bands, side_by_side
from wirerun.geometry.shapes import ShapeArray, lines_through

# All in metres, all choice. Where lines of two groups come closer than this, the place is the first group's.
_FINEST_M: Final = 0.002
# Ground that is kept around lines which run along the edge of the area, or over it.
_HAIR_M: Final = 0.001
# Corners of areas are whole micrometres, so that neighbours share them for good; a corner that makes less than the
# other is left out.
_GRID_M: Final = 1e-6
_DECIMALS: Final = 6
_FLAT_M: Final = 1e-5
# Places around all lines that carry the borders outward, past the reach, and where borders end (shares of it).
_SHELL: Final = 1.25
_RING: Final = 1.1
# A cut keeps off both ends of its side, by this share of it.
_SHARE: Final = (0.02, 0.98)
# Rounds of halving at most: enough from a kilometre to the finest, and for lines that meet at a sharp angle.
_ROUNDS: Final = 32


def strips(lines: ShapeArray, group: IntArray, within: BaseGeometry, reach_m: float) -> list[shapely.MultiPolygon]:
    """Area of each group of lines, shape (groups,).

    Areas share edges and corners and nothing else, lie within `within` and cover their lines. Lines that are nearer
    than 1 mm to the edge of `within`, or outside it, keep 1 mm of ground on either side.

    Straight rows side by side: borders lie on the midlines between neighbouring rows, and no ground within the reach
    of a row is left out. Beyond the end of a row, its ground goes on as wide as beside it, by the reach or half way to
    the next piece of the same row; further on, the midline is that between the rows that are still there. So past the
    ends of its rows an area may lie up to 1.5 times the reach from them.

    Other lines: a place belongs to the group of the nearest line, up to half the reach beside the true border where
    lines end or turn; some crumbs of ground there are left out. Where lines of two groups cross, touch or lie on each
    other, the group with the lower number has the place, and so much of the other's line lies outside its area as is
    within 2 mm.

    Parameters
    ----------
    lines : shape (n,)
        LineStrings in plane metres.
    group : shape (n,)
        Group of each line, 0, 1, 2 ... without gaps; lines of a group need not lie together.
    within : Polygon or MultiPolygon
        Ground that may be shared out, in plane metres.
    reach_m : float
        How far an area reaches from its group's lines, > 0. [m]
    """
    if not len(lines):
        return []
    room, rows, reach = _room(lines, within), side_by_side(lines), reach_m - 2.0 * _FLAT_M
    if rows is not None:
        near = shapely.union_all(shapely.buffer(rows.turn(lines), reach))
        ground = shapely.intersection(rows.turn(np.array([room], dtype=object))[0], near, grid_size=_GRID_M)
        return list(rows.turn_back(_shared_out(bands(rows, group, reach_m), ground)))
    ours = np.array([shapely.multilinestrings(lines[group == g]) for g in range(group.max() + 1)], dtype=object)
    cells = _cells(_keep_apart(ours), reach_m)
    reached = _surface(shapely.intersection(cells, shapely.buffer(ours, reach), grid_size=_GRID_M))
    return list(_shared_out(reached, room))


def _shared_out(areas: ShapeArray, ground: BaseGeometry) -> ShapeArray:
    """What areas that do not overlap have of some ground; they share their corners."""
    # On the grid: without one, intersections of such shapes have come out empty.
    return _share_corners(_surface(shapely.intersection(areas, ground, grid_size=_GRID_M)))


def _room(lines: ShapeArray, within: BaseGeometry) -> BaseGeometry:
    """Return the ground that may be shared out, and a hair around lines at its edge."""
    # A hole that touches the edge may cross it by a hair.
    within = shapely.make_valid(within, method="structure", keep_collapsed=False)
    shapely.prepare(within)
    inside = shapely.contains(within, lines) & ~shapely.dwithin(lines, within.boundary, _HAIR_M)
    if inside.all():
        return within
    return shapely.union_all([within, *shapely.buffer(lines[~inside], _HAIR_M)])


def _keep_apart(ours: ShapeArray) -> ShapeArray:
    """Lines of every group less what comes too close to those of a group before it."""
    kept = ours.copy()
    later, before = shapely.STRtree(ours).query(ours, predicate="dwithin", distance=_FINEST_M)
    for second, first in sorted(zip(later, before, strict=True)):
        if first < second:
            kept[second] = shapely.difference(kept[second], shapely.buffer(ours[first], _FINEST_M))
    return kept


def _cells(ours: ShapeArray, reach_m: float) -> ShapeArray:
    """Ground nearer to each group than to the others, a little past the reach, shape (groups,)."""
    around = shapely.union_all(shapely.buffer(ours, _SHELL * reach_m)).boundary
    shell = shapely.get_coordinates(shapely.segmentize(around, reach_m / 2.0))
    lines, group = shapely.get_parts(ours, return_index=True)
    nearest = shapely.STRtree(lines).nearest(shapely.points(shell))
    xy, label, corner = _triangulate(shapely.segmentize(lines, reach_m), group, shell, group[nearest])
    pieces, of_piece, borders = _pieces(xy, corner, label, ours)
    ring = shapely.union_all(shapely.buffer(ours, _RING * reach_m)).boundary
    # Thousands of cuts along one midline make one piece of line.
    parting = shapely.simplify(shapely.line_merge(shapely.MultiLineString(list(lines_through(borders)))), _FLAT_M)
    edges = shapely.union_all([ring, parting], grid_size=_GRID_M)
    faces = shapely.get_parts(shapely.polygonize(shapely.get_parts(edges)))
    of = of_piece[shapely.STRtree(pieces).nearest(shapely.point_on_surface(faces))]
    return np.array([shapely.coverage_union_all(faces[of == g]) for g in range(len(ours))], dtype=object)


def _triangulate(
    lines: ShapeArray, group: IntArray, shell: FloatArray, shell_group: IntArray
) -> tuple[FloatArray, IntArray, IntArray]:
    """Places, shape (p, 2), the group of each, shape (p,), and corners of triangles, shape (t, 3).

    Lines are halved until their pieces are shorter than twice the way to another group, which makes edges of most;
    then where they are no edges yet and another group is near.
    """
    xy, line = shapely.get_coordinates(lines, return_index=True)
    piece = np.flatnonzero(np.diff(line) == 0)
    others = _Others(shapely.STRtree(_straight(xy[piece], xy[piece + 1])), group[line[piece]])
    for _ in range(_ROUNDS):
        piece = np.flatnonzero(np.diff(line) == 0)
        long = piece[others.within(0.5, xy[piece], xy[piece + 1], group[line[piece]])]
        if not long.size:
            break
        xy, line = _halved(xy, line, long)
    for _ in range(_ROUNDS):
        every = np.round(np.vstack([xy, shell]), _DECIMALS) + 0.0  # no zero below zero
        place, first, which = np.unique(every, axis=0, return_index=True, return_inverse=True)
        label, which = np.concatenate([group[line], shell_group])[first], which.ravel()
        corner = _delaunay(place)
        side = np.sort(np.concatenate([corner[:, [0, 1]], corner[:, [1, 2]], corner[:, [2, 0]]]), axis=1)
        near, far = which[: len(xy) - 1], which[1 : len(xy)]
        wanted = np.minimum(near, far) * len(place) + np.maximum(near, far)
        joined = np.isin(wanted, side[:, 0] * len(place) + side[:, 1])
        lost = np.flatnonzero((line[:-1] == line[1:]) & (near != far) & ~joined)
        lost = lost[others.within(2.0, xy[lost], xy[lost + 1], group[line[lost]])]
        if not lost.size:
            break
        xy, line = _halved(xy, line, lost)
    return place, label, corner


def _halved(xy: FloatArray, line: IntArray, piece: IntArray) -> tuple[FloatArray, IntArray]:
    """Places of lines and the line of each, with one more in the middle of pieces, numbered by their first place."""
    middle = 0.5 * (xy[piece] + xy[piece + 1])
    return np.insert(xy, piece + 1, middle, axis=0), np.insert(line, piece + 1, line[piece])


def _straight(start: FloatArray, end: FloatArray) -> ShapeArray:
    """Lines of two places each, from starts and ends, shape (n, 2)."""
    return np.asarray(shapely.linestrings(np.stack([start, end], axis=1)), dtype=object)


class _Others(NamedTuple):
    """Pieces of all lines, and the group of each."""

    tree: shapely.STRtree
    group: IntArray

    def within(self, times: float, start: FloatArray, end: FloatArray, of: IntArray) -> NDArray[np.bool_]:
        """Whether pieces, from start to end, shape (n, 2), have another group within so many times their length."""
        length = np.hypot(*(end - start).T)
        piece, other = self.tree.query(_straight(start, end), predicate="dwithin", distance=times * length)
        found = np.zeros(len(start), dtype=bool)
        found[piece[of[piece] != self.group[other]]] = True
        return np.asarray(found & (length > _FINEST_M / 2.0))


def _delaunay(place: FloatArray) -> IntArray:
    """Corners of the Delaunay triangles of places, shape (t, 3)."""
    return np.asarray(Delaunay(place - place.mean(axis=0)).simplices, dtype=np.int64)


def _pieces(
    place: FloatArray, corner: IntArray, label: IntArray, ours: ShapeArray
) -> tuple[ShapeArray, IntArray, FloatArray]:
    """Triangles, cut where their corners belong to several groups: pieces, the group of each, and the cuts.

    Cuts are pieces of line, shape (cuts, 2, 2); they go on from triangle to triangle.
    """
    of = label[corner]
    differ = of != np.roll(of, -1, axis=1)  # whether each corner and the next are of two groups
    count = differ.sum(axis=1)
    whole, two, three = (corner[count == n] for n in (0, 2, 3))
    # The corner that stands alone comes first: it differs from both its neighbours.
    alone = (differ & np.roll(differ, 1, axis=1))[count == 2].argmax(axis=1)
    two = np.take_along_axis(two, (alone[:, None] + np.arange(3)) % 3, axis=1)

    sides = np.concatenate([two[:, :2], two[:, ::2], three[:, :2], three[:, 1:], three[:, ::2]])
    cuts = np.split(_cut(place, sides, label, ours), np.cumsum([len(two)] * 2 + [len(three)] * 2))
    a, b, c = place[two].transpose(1, 0, 2)
    p, after = place[three], np.stack(cuts[2:], axis=1)
    centre = np.broadcast_to(after.mean(axis=1, keepdims=True), p.shape)
    thirds = np.stack([p, after, centre, np.roll(after, 1, axis=1)], axis=2).reshape(-1, 4, 2)
    rings = (place[whole], np.stack([a, cuts[0], cuts[1]], axis=1), np.stack([cuts[0], b, c, cuts[1]], axis=1), thirds)
    pieces = np.concatenate([shapely.polygons(ring) for ring in rings])
    of_piece = np.concatenate([label[whole[:, 0]], label[two[:, 0]], label[two[:, 1]], label[three].ravel()])
    borders = np.concatenate([np.stack(cuts[:2], axis=1), np.stack([after, centre], axis=2).reshape(-1, 2, 2)])
    return pieces, of_piece, borders


def _cut(place: FloatArray, sides: IntArray, label: IntArray, ours: ShapeArray) -> FloatArray:
    """Where sides with ends of two groups are equally far from both, shape (sides, 2).

    The difference of the two distances is taken to change evenly along the side, as it does between parallel lines.
    """
    ends, which = np.unique(np.sort(sides, axis=1), axis=0, return_inverse=True)
    at, of = place[ends], ours[label[ends]]
    shapely.prepare(ours)
    points = shapely.points(at)
    lead = shapely.distance(of[:, ::-1], points) - shapely.distance(of, points)
    share = np.clip(lead[:, 0] / np.maximum(lead.sum(axis=1), _FLAT_M), *_SHARE)[:, None]
    return np.asarray(((1.0 - share) * at[:, 0] + share * at[:, 1])[which.ravel()])


def _surface(shapes: ShapeArray) -> ShapeArray:
    """Shapes without the points and lines in which they only touched what they were cut with."""
    parts, of = shapely.get_parts(shapes, return_index=True)
    parts, deeper = shapely.get_parts(parts, return_index=True)
    is_polygon = shapely.get_type_id(parts) == shapely.GeometryType.POLYGON
    parts, of = parts[is_polygon], of[deeper[is_polygon]]
    return np.array([shapely.multipolygons(parts[of == number]) for number in range(len(shapes))], dtype=object)


def _share_corners(areas: ShapeArray) -> ShapeArray:
    """Areas on the grid, with every corner of a neighbour that lies on their edge."""
    touching = shapely.get_parts(shapely.line_merge(shapely.union_all(shapely.boundary(areas), grid_size=_GRID_M)))
    # Edges of neighbours that ran a hair apart may lie on each other now, so they are joined once more.
    edges = shapely.union_all(shapely.simplify(touching, _FLAT_M), grid_size=_GRID_M)
    faces = shapely.get_parts(shapely.polygonize(shapely.get_parts(edges)))
    face, area = shapely.STRtree(areas).query(shapely.point_on_surface(faces), predicate="within")
    face, first = np.unique(face, return_index=True)
    area = area[first]
    parts = (shapely.coverage_union_all(faces[face[area == number]]) for number in range(len(areas)))
    return np.array([shapely.multipolygons(shapely.get_parts(part)) for part in parts], dtype=object)
