"""Shapes of the geometry library, many at once.

The library answers some calls with one shape or with an array, as the places given have it; here it is always an array.
"""

from collections.abc import Sequence
from typing import TypeVar

import numpy as np
import shapely
from numpy.typing import NDArray
from pyproj import Transformer
from shapely.geometry.base import BaseGeometry

from wirerun.arrays import FloatArray, IntArray

ShapeArray = NDArray[np.object_]
Shape = TypeVar("Shape", bound=BaseGeometry)


def lines_through(places: FloatArray, line: IntArray | None = None) -> ShapeArray:
    """LineStrings, [line].

    Parameters
    ----------
    places : shape (line, place, 2), or (n, 2) with `line`
        Equally many places for each line, or those of all lines one after the other.
    line : shape (n,)
        Which line each place is of, 0, 1, 2 ... in order.
    """
    return np.asarray(shapely.linestrings(places, indices=line), dtype=object)


def points_at(places: FloatArray) -> ShapeArray:
    """Points, [place], from places of shape (place, 2)."""
    return np.asarray(shapely.points(places), dtype=object)


def projected(shape: Shape, transformer: Transformer) -> Shape:
    """Shape in another CRS, corner by corner."""
    return shapely.transform(shape, lambda at: np.column_stack(transformer.transform(at[:, 0], at[:, 1])))


def lines_of(paths: Sequence[FloatArray]) -> ShapeArray:
    """A line through the places of each path, shape (n, 2), [path]."""
    if not len(paths):
        return np.empty(0, dtype=object)
    line = np.repeat(np.arange(len(paths)), [len(path) for path in paths])
    return lines_through(np.concatenate(paths), line)
