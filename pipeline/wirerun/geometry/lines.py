"""Straight parallel lines across an area, and what is left of them inside it.

Everything happens in row axes: `along` runs with the bearing, `across` to its right, both through the frame's origin.
Worked example: bearing 90 (east), the point x = 3, y = 5 has along 3 and across -5 (it lies to the left of the line).
"""

from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from wirerun.arrays import FloatArray, IntArray
from wirerun.geometry.frame import direction


def to_row_axes(x_m: FloatArray, y_m: FloatArray, bearing_deg: float) -> tuple[FloatArray, FloatArray]:
    """Along and across of plane positions [m], same shape as given."""
    east, north = direction(bearing_deg)
    return x_m * east + y_m * north, x_m * north - y_m * east


def from_row_axes(along_m: FloatArray, across_m: FloatArray, bearing_deg: float) -> tuple[FloatArray, FloatArray]:
    """Plane positions of along and across [m]: the inverse of `to_row_axes`."""
    east, north = direction(bearing_deg)
    return along_m * east + across_m * north, along_m * north - across_m * east


@dataclass(frozen=True, slots=True)
class Pieces:
    """Pieces of lines, shape (n,) each: the line's index into the offsets asked for, and where it starts and ends."""

    line: IntArray
    start_m: FloatArray
    end_m: FloatArray


def cut_lines(area: BaseGeometry, across_m: FloatArray, bearing_deg: float) -> Pieces:
    """Pieces of parallel lines that lie inside an area, ordered by line, then along it.

    Parameters
    ----------
    area : Polygon or MultiPolygon
        In plane metres; holes cut.
    across_m : shape (k,), never falling
        Offset of each line to the right of the frame's origin. [m]
    bearing_deg : float
        Direction of the lines, clockwise from north. [deg]

    References
    ----------
    A line is inside between its odd and its even crossings of the edges (even-odd rule); an edge counts from its lesser
    end on and without its greater, so that a line through a corner crosses once, and one that touches twice or never.
    """
    rings = shapely.get_rings(shapely.get_parts(area))
    xy, ring = shapely.get_coordinates(rings, return_index=True)
    along, across = to_row_axes(xy[:, 0], xy[:, 1], bearing_deg)
    edge = np.flatnonzero(ring[1:] == ring[:-1])
    edge = edge[across[edge] != across[edge + 1]]
    low, high = (pick(across[edge], across[edge + 1]) for pick in (np.minimum, np.maximum))
    first, beyond = (np.searchsorted(across_m, bound) for bound in (low, high))
    count = beyond - first
    which = np.repeat(np.arange(len(edge)), count)
    line = first[which] + np.arange(len(which)) - (np.cumsum(count) - count)[which]
    begin = edge[which]
    part = (across_m[line] - across[begin]) / (across[begin + 1] - across[begin])
    at = along[begin] + part * (along[begin + 1] - along[begin])
    order = np.lexsort((at, line))
    start, end, line = at[order][::2], at[order][1::2], line[order][::2]
    whole = end > start
    return Pieces(line[whole].astype(np.int64), start[whole], end[whole])


def shorten(pieces: Pieces, within: Pieces, trim_start_m: float, trim_end_m: float) -> Pieces:
    """Pieces kept away from both ends of the longer pieces they lie within; may come out negative.

    Parameters
    ----------
    pieces, within : Pieces
        Each of `pieces` lies inside one of `within`, on the same line.
    trim_start_m, trim_end_m : float
        Least distance along the line from the start and the end of `within`. [m]
    """
    if not len(pieces.line):
        return pieces
    # One axis for all lines: each line gets a stretch of its own, long enough to hold it.
    low = min(within.start_m.min(), pieces.start_m.min()) - 1.0
    stretch = max(within.end_m.max(), pieces.end_m.max()) + 1.0 - low
    middle = pieces.line * stretch + (pieces.start_m + pieces.end_m) / 2.0 - low
    holder = np.searchsorted(within.line * stretch + within.start_m - low, middle) - 1
    return Pieces(
        pieces.line,
        np.maximum(pieces.start_m, within.start_m[holder] + trim_start_m),
        np.minimum(pieces.end_m, within.end_m[holder] - trim_end_m),
    )
