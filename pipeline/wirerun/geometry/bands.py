"""The ground of straight parallel rows: bands between the midlines of rows that lie side by side.

Everything happens in row axes, across to the right and along ahead, in which all bands are rectangles: borders of
neighbours are the same numbers, so that nothing has to be fitted together afterwards.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely

from wirerun.arrays import FloatArray, IntArray
from wirerun.geometry.lines import from_row_axes, to_row_axes
from wirerun.geometry.shapes import ShapeArray
from wirerun.geometry.station import first_and_last

# Choices. A line is straight, and two pieces are of one row, where they keep to it within a millimetre; rows that are
# nearer to each other than a decimetre are no rows side by side.
_SAME_M: Final = 0.001
_LEAST_APART_M: Final = 0.1
# Rectangles have corners on whole micrometres.
_DECIMALS: Final = 6
_GRID_M: Final = 1e-6


@dataclass(frozen=True, slots=True, eq=False)
class SideBySide:
    """Straight parallel lines in row axes, shape (n,) each; pieces of one row have the same `across_m`."""

    bearing_deg: float
    across_m: FloatArray
    start_m: FloatArray
    end_m: FloatArray

    def turn(self, shapes: ShapeArray) -> ShapeArray:
        """Shapes in row axes (across, along), from plane ones."""

        def turned(xy: FloatArray) -> FloatArray:
            along, across = to_row_axes(xy[:, 0], xy[:, 1], self.bearing_deg)
            return np.column_stack([across, along])

        return np.asarray(shapely.transform(shapes, turned), dtype=object)

    def turn_back(self, shapes: ShapeArray) -> ShapeArray:
        """Shapes in the plane, from those in row axes."""

        def turned(xy: FloatArray) -> FloatArray:
            return np.column_stack(from_row_axes(xy[:, 1], xy[:, 0], self.bearing_deg))

        return np.asarray(shapely.transform(shapes, turned), dtype=object)


def side_by_side(lines: ShapeArray) -> SideBySide | None:
    """Rows in row axes; None unless the lines are straight and parallel, and none lies on another or nearly so.

    Parameters
    ----------
    lines : shape (n,), n > 0
        LineStrings in plane metres.
    """
    xy, of = shapely.get_coordinates(lines, return_index=True)
    first, last = first_and_last(of)
    whole = xy[last] - xy[first]
    east, north = whole[np.hypot(*whole.T).argmax()]
    bearing = float(np.degrees(np.arctan2(east, north)))
    along, across = to_row_axes(xy[:, 0], xy[:, 1], bearing)
    left, right = np.minimum.reduceat(across, first), np.maximum.reduceat(across, first)
    start, end = np.minimum.reduceat(along, first), np.maximum.reduceat(along, first)
    order = np.argsort(left, kind="stable")
    row = np.empty(len(lines), dtype=np.int64)
    row[order] = np.cumsum(np.diff(left[order], prepend=left[order[0]]) > _SAME_M)
    low, high = np.full(row.max() + 1, np.inf), np.full(row.max() + 1, -np.inf)
    np.minimum.at(low, row, left)
    np.maximum.at(high, row, right)
    order = np.lexsort((start, row))
    on_each_other = (np.diff(row[order]) == 0) & (start[order[1:]] < end[order[:-1]])
    if (high - low).max() > _SAME_M or np.diff(low).min(initial=np.inf) < _LEAST_APART_M or on_each_other.any():
        return None
    return SideBySide(bearing, np.round(0.5 * (low + high), _DECIMALS)[row], start, end)


def bands(rows: SideBySide, group: IntArray, reach_m: float) -> ShapeArray:
    """Ground of each group of rows in row axes, shape (groups,): everything within the reach, square at the ends.

    A row goes on past its ends by the reach, or to the middle of the gap to the next piece of the same row. There and
    along the row, ground belongs to the nearest row across that is there, so that borders lie on midlines.

    Parameters
    ----------
    rows : SideBySide
        n rows.
    group : shape (n,)
        Group of each row, 0, 1, 2 ... without gaps.
    reach_m : float
        How far ground reaches from a row, across and along, > 0. [m]
    """
    across, (start, end) = rows.across_m, _lengthened(rows, reach_m)
    left, right = np.round([across - reach_m, across + reach_m], _DECIMALS)
    own = shapely.box(left, start, right, end)
    mine, other = shapely.STRtree(own).query(own, predicate="intersects")
    begin, stop = np.maximum(start[mine], start[other]), np.minimum(end[mine], end[other])
    # The same number from either side.
    middle = np.round(0.5 * (across[mine] + across[other]), _DECIMALS)
    on_left = across[other] < across[mine]
    near, far = np.where(on_left, left[mine], middle), np.where(on_left, middle, right[mine])
    ask = (group[mine] != group[other]) & (across[mine] != across[other]) & (begin < stop) & (near < far)
    order = np.flatnonzero(ask)[np.argsort(mine[ask], kind="stable")]
    nearer = shapely.box(near[order], begin[order], far[order], stop[order])
    by_row = np.split(nearer, np.searchsorted(mine[order], np.arange(1, len(own))))
    lost = np.array([shapely.union_all(boxes, grid_size=_GRID_M) for boxes in by_row], dtype=object)
    kept = shapely.difference(own, lost, grid_size=_GRID_M)
    ours = [shapely.union_all(kept[group == number], grid_size=_GRID_M) for number in range(group.max() + 1)]
    return np.array(ours, dtype=object)


def _lengthened(rows: SideBySide, reach_m: float) -> FloatArray:
    """Starts and ends of rows that go on by the reach, or half way to the next piece of the same row, shape (2, n)."""
    order = np.lexsort((rows.start_m, rows.across_m))
    across, start, end = rows.across_m[order], rows.start_m[order], rows.end_m[order]
    gap = np.where(np.diff(across) == 0.0, 0.5 * (start[1:] - end[:-1]), np.inf)
    longer = np.empty((2, len(order)))
    longer[0, order] = start - np.minimum(np.append(np.inf, gap), reach_m)
    longer[1, order] = end + np.minimum(np.append(gap, np.inf), reach_m)
    return np.round(longer, _DECIMALS)
