"""Which lines run side by side with which, closely enough to be the same line drawn twice."""

from typing import Final, NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray

from wirerun.arrays import FloatArray, IntArray

# Choice: of the shorter line at least so much must run beside the other.
_LEAST_SHARE: Final = 0.5
# Choice: places along the common stretch at which the distance is taken.
_PLACES: Final = 17


class Pairs(NamedTuple):
    """Pairs of lines that run side by side, shape (pairs,) each.

    `one` and `other` are their indices; `beside_m` the length of `one` that has the other beside it, `apart_m` the mean
    distance there, and `start_m` how far their starts are from one another, both taken in the direction of `one`. [m]
    """

    one: IntArray
    other: IntArray
    beside_m: FloatArray
    apart_m: FloatArray
    start_m: FloatArray


def side_by_side(ones: NDArray[np.object_], others: NDArray[np.object_], within_m: float) -> Pairs:
    """Pairs of lines that are nearer than `within_m` all along the stretch where both are.

    That stretch is at least half of the shorter line. Lines may be drawn either way, and go on beyond one another.
    Worked example: from (0, 0) to (100, 0) and from (150, 1) to (40, 1): 60 m side by side, 1 m apart.

    Parameters
    ----------
    ones, others : arrays of LineString
        In plane metres. [m]
    within_m : float, > 0
        Lines exactly so far apart are not the same. [m]
    """
    one, other = shapely.STRtree(others).query(ones, predicate="dwithin", distance=within_m)
    here, there = ones[one], others[other]
    begin, end = (shapely.get_point(there, place) for place in (0, -1))
    at_begin, at_end = shapely.line_locate_point(here, begin), shapely.line_locate_point(here, end)
    low, high = np.minimum(at_begin, at_end), np.maximum(at_begin, at_end)
    along = low[:, None] + (high - low)[:, None] * np.linspace(0.0, 1.0, _PLACES)
    places = shapely.line_interpolate_point(here[:, None], along)
    apart = shapely.distance(places, there[:, None])
    shorter = np.minimum(shapely.length(here), shapely.length(there))
    same = (high - low >= _LEAST_SHARE * shorter) & (apart.max(axis=1, initial=0.0) < within_m)
    start = np.where(at_begin <= at_end, begin, end)
    start_m = shapely.distance(shapely.get_point(here, 0), start)
    mean = apart.sum(axis=1) / _PLACES
    return Pairs(
        one[same].astype(np.int64), other[same].astype(np.int64), (high - low)[same], mean[same], start_m[same]
    )
