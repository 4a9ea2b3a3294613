"""Surveyed points brought onto the rows they belong to."""

from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray

from wirerun.arrays import FloatArray, IntArray
from wirerun.geometry.shapes import lines_through

# Choice: no two posts stand closer, and a post measured twice lies within it.
LEAST_APART_M: Final = 0.3


@dataclass(frozen=True, slots=True)
class Snapped:
    """Where each point lies on the rows; all arrays have shape (n,), in the order of the points.

    `row`: index of the nearest row, -1 beyond the limit. `nearest`: the same whatever the distance, -1 where there is
    no row or the point is not finite. `station_m`: distance along that row from its start [m]. `distance_m`: from the
    point to that row [m]. `twin_of`: index of the earlier point that the point repeats, else -1. Station and distance
    are NaN where `nearest` is -1.
    """

    row: IntArray
    nearest: IntArray
    station_m: FloatArray
    distance_m: FloatArray
    twin_of: IntArray

    @property
    def used(self) -> NDArray[np.bool_]:
        """Return which points stand for a post: on a row, and not there a second time."""
        on_row: NDArray[np.bool_] = self.row >= 0
        return on_row & (self.twin_of < 0)


def snap_points(
    paths_xy: list[FloatArray], points: FloatArray, limit_m: float, least_apart_m: float = LEAST_APART_M
) -> Snapped:
    """Nearest row of each point, as far as within the limit, and which points repeat an earlier one.

    Of rows equally near, the first counts. A point beyond the end of a row lies at its end. Going through the points of
    a row in their own order, one that lies closer along the row than `least_apart_m` to an earlier one that was kept
    repeats it.

    Parameters
    ----------
    paths_xy : list of arrays of shape (k, 2)
        The rows, each two places or more, in plane metres. [m]
    points : shape (n, 2)
        [m]
    limit_m : float, >= 0
        Greatest distance from a point to its row. [m]
    least_apart_m : float, >= 0
        Least distance between two posts of a row. [m]
    """
    n = len(points)
    nearest = np.full(n, -1, np.int64)
    station, distance = np.full(n, np.nan), np.full(n, np.nan)
    whole = np.flatnonzero(np.isfinite(points).all(axis=1))
    if len(paths_xy) and len(whole):
        # Straight pieces, not whole rows: a search tree is only quick where its boxes are small.
        starts, ends = (np.concatenate([path[part] for path in paths_xy]) for part in (slice(-1), slice(1, None)))
        row = np.repeat(np.arange(len(paths_xy)), [len(path) - 1 for path in paths_xy])
        pieces = lines_through(np.stack([starts, ends], axis=1))
        reached = np.cumsum(shapely.length(pieces)) - shapely.length(pieces)
        reached -= reached[np.searchsorted(row, row)]
        places = shapely.points(points[whole])
        point, piece = shapely.STRtree(pieces).query_nearest(places, all_matches=True)
        order = np.lexsort((piece, point))
        piece = piece[order][np.unique(point[order], return_index=True)[1]]
        nearest[whole] = row[piece]
        station[whole] = reached[piece] + shapely.line_locate_point(pieces[piece], places)
        distance[whole] = shapely.distance(pieces[piece], places)
    row_of = np.where(distance <= limit_m, nearest, -1)
    return Snapped(row_of, nearest, station, distance, twins(row_of, station, least_apart_m))


def twins(row: IntArray, station_m: FloatArray, least_apart_m: float = LEAST_APART_M) -> IntArray:
    """Return for each point the earlier point of its row that it repeats, else -1.

    Parameters
    ----------
    row : [point]
        Its row; -1 for none, and nothing repeats it.
    station_m : [point]
        Distance along that row. [m]
    least_apart_m : float, >= 0
        Least distance between two posts of a row. [m]
    """
    twin = np.full(len(row), -1, np.int64)
    order = np.lexsort((station_m, row))
    order = order[row[order] >= 0]
    if len(order) < 2:
        return twin
    close = (np.diff(row[order]) == 0) & (np.diff(station_m[order]) < least_apart_m)
    # Points far from both neighbours are done with; only bunches need to be gone through, and they are few.
    bunches = np.split(order, np.flatnonzero(~close) + 1)
    for bunch in (bunch for bunch in bunches if len(bunch) > 1):
        kept: list[int] = []
        for point in sorted(int(index) for index in bunch):
            apart = np.abs(station_m[kept] - station_m[point])
            if kept and apart.min() < least_apart_m:
                twin[point] = kept[int(apart.argmin())]
            else:
                kept.append(point)
    return twin
