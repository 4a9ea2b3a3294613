"""How a table travels inside the map page: columns of small whole numbers.

A page with 17 000 posts must open from a phone's disk. So numbers are whole steps (of 0.1 N, of 0.01 m), written as
differences from the value before where that is shorter, and words are numbered in a list. The page's ``decode.js``
is the way back.

Worked example: ``pack_numbers([6.0, nan, 12.04], 2)`` is
``{"decimals": 2, "values": [600, None, 604], "steps": True}``: 6.00, nothing, 6.04 more.
"""

from collections.abc import Iterable
from typing import Any, Final

import numpy as np
from numpy.typing import ArrayLike, NDArray
from shapely import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

DEGREE_DECIMALS: Final = 7  # 11 mm on the ground: finer than a pixel at the closest zoom

Packed = dict[str, Any]


def pack_numbers(values: ArrayLike, decimals: int = 0) -> Packed:
    """Return a column of numbers as whole steps of ``10**-decimals``.

    Parameters
    ----------
    values : shape (n,)
        Numbers; NaN where there is none.
    decimals : int
        Decimals the page shows.

    Returns
    -------
    dict
        ``decimals``; ``values``, whole numbers or None; ``steps`` is True where each is the difference from the last
        one that was not None.
    """
    given = np.asarray(values, dtype=np.float64)
    known = np.isfinite(given)
    whole = np.rint(given[known] * 10**decimals).astype(np.int64)
    steps = np.diff(whole, prepend=0)
    shorter = _digits(steps) < _digits(whole)
    packed: Packed = {"decimals": decimals, "values": _with_gaps(steps if shorter else whole, known)}
    return {**packed, "steps": True} if shorter else packed


def _digits(whole: NDArray[np.int64]) -> int:
    """Return how many characters the numbers take when written."""
    return sum(map(len, map(str, whole.tolist())))


def _with_gaps(whole: NDArray[np.int64], known: NDArray[np.bool_]) -> list[int | None]:
    """Return the numbers in the places where `known` is True, and None in the others."""
    out = np.full(known.shape, None, dtype=object)
    out[known] = whole
    return list(out)


def pack_words(values: Iterable[object]) -> Packed:
    """Return a column of texts: ``words``, each once in order of first use, and ``at``, each line's number in them.

    A missing text is None in ``at``.
    """
    numbers: dict[str, int] = {}
    at = [numbers.setdefault(value, len(numbers)) if isinstance(value, str) else None for value in values]
    return {"words": list(numbers), "at": at}


def whole_degrees(degrees: ArrayLike, origin: float) -> NDArray[np.int64]:
    """Return degrees as whole steps of 1e-7 degree from the origin, same shape."""
    return np.rint((np.asarray(degrees, dtype=np.float64) - origin) * 10**DEGREE_DECIMALS).astype(np.int64)


def pack_path(lonlat: ArrayLike, origin: tuple[float, float]) -> list[int]:
    """Return a path as ``[x0, y0, dx1, dy1, ...]`` in steps of 1e-7 degree from the origin.

    Parameters
    ----------
    lonlat : shape (n, 2)
        Longitude and latitude. [deg]
    origin : (float, float)
        Longitude and latitude that the first point is counted from. [deg]
    """
    points = np.asarray(lonlat, dtype=np.float64)[:, :2]
    whole = np.column_stack([whole_degrees(points[:, axis], origin[axis]) for axis in (0, 1)])
    return [int(step) for step in np.diff(whole, axis=0, prepend=np.zeros((1, 2), dtype=np.int64)).ravel()]


def pack_rings(area: BaseGeometry, origin: tuple[float, float]) -> list[list[int]]:
    """Return the rings of a polygon, holes included, as paths; anything but a polygon has none."""
    polygons = area.geoms if isinstance(area, MultiPolygon) else [area] if isinstance(area, Polygon) else []
    rings = [ring for one in polygons if not one.is_empty for ring in (one.exterior, *one.interiors)]
    return [pack_path(ring.coords, origin) for ring in rings]
