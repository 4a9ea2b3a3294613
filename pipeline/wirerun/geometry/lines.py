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
    across_m : shape (k,)
        Offset of each line to the right of the frame's origin. [m]
    bearing_deg : float
        Direction of the lines, clockwise from north. [deg]
    """

    def turn(xy: FloatArray) -> FloatArray:
        along, across = to_row_axes(xy[:, 0], xy[:, 1], bearing_deg)
        return np.column_stack([across, along])

    turned = shapely.transform(area, turn)
    if turned.is_empty or not len(across_m):
        return Pieces(np.empty(0, np.int64), np.empty(0), np.empty(0))
    _, low, _, high = turned.bounds
    # Two coordinates a line, reaching well past the area at both ends.
    ends = np.empty((len(across_m), 2, 2))
    ends[:, :, 0] = across_m[:, None]
    ends[:, :, 1] = (low - 1.0, high + 1.0)
    inside = shapely.intersection(shapely.linestrings(ends), turned)
    parts, line = shapely.get_parts(inside, return_index=True)
    # A line that only touches leaves points, one that misses an empty line.
    whole = (shapely.get_type_id(parts) == shapely.GeometryType.LINESTRING) & ~shapely.is_empty(parts)
    bounds = shapely.bounds(parts[whole])
    line = line[whole].astype(np.int64)
    order = np.lexsort((bounds[:, 1], line))
    return Pieces(line[order], bounds[order, 1], bounds[order, 3])


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
