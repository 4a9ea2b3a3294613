"""How a table travels inside the map page: plain columns, rounded to what a person reads, and all of it compressed.

A page with 80 000 posts must open from a phone's disk. So places are steps from the place before, columns of few words
travel as those words and numbers, and the whole is gzipped JSON, written in the letters of base64; the browser has the
way back built in, but for the words (`page/unpack.js`).
"""

import base64
import gzip
import json
from collections.abc import Iterable
from typing import Any, Final

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike
from shapely import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from wirerun.arrays import FloatArray
from wirerun.rounding import half_up

DEGREE_DECIMALS: Final = 7  # 11 mm on the ground: finer than a pixel at the closest zoom

# Below so many lines a column goes as it is: choice.
_FEW: Final = 20

Packed = dict[str, Any]


def compressed(data: Packed) -> str:
    """Return data as gzipped JSON in base64: the same text for the same data, nothing in it means a thing to HTML.

    Packed at 7 of 9: a fiftieth larger than at 9, in a third of the time.
    """
    written = json.dumps(_folded(data), allow_nan=False, separators=(",", ":"))
    return base64.b64encode(gzip.compress(written.encode(), 7, mtime=0)).decode()


def _folded(data: Any) -> Any:  # noqa: ANN401 - whatever JSON has
    """Return data with each column of few words as ``words`` and ``at``: for every line the place of its word."""
    if isinstance(data, dict):
        return {name: _folded(value) for name, value in data.items()}
    if not isinstance(data, list) or not data:
        return data
    first = next((one for one in data if one is not None), None)
    if isinstance(first, dict | list):
        return [_folded(one) for one in data]
    if len(data) < _FEW or not set(map(type, data)) <= {str, type(None)}:
        return data
    words = {word: place for place, word in enumerate(dict.fromkeys(data))}
    return data if 2 * len(words) > len(data) else {"words": list(words), "at": list(map(words.__getitem__, data))}


def pack_numbers(values: ArrayLike, decimals: int = 0) -> Packed:
    """Return a column of numbers as ``decimals`` and ``values``, rounded to them; None where there is none.

    Parameters
    ----------
    values : shape (n,)
        Numbers; NaN where there is none.
    decimals : int
        Decimals the page shows.
    """
    return {"decimals": decimals, "values": _plain(half_up(values, decimals), np.float64 if decimals else np.int64)}


def pack_codes(codes: Iterable[float | None]) -> list[int | None]:
    """Return a column of whole numbers: positions, classes; None where there is none or NaN."""
    return _plain(np.array(list(codes), dtype=np.float64), np.int64)


def _plain(values: FloatArray, kind: type[np.generic]) -> list[Any]:
    """Return numbers as JSON has them, of a kind; None where there is none."""
    known = np.isfinite(values)
    plain = np.where(known, values, 0.0).astype(kind).astype(object)
    plain[~known] = None
    return list(plain.tolist())


def pack_words(values: Iterable[object]) -> list[str | None]:
    """Return a column of texts; None where there is none."""
    if isinstance(values, pd.Series):  # slow to walk through by itself
        values = values.to_numpy(dtype=object).tolist()
    return [value if isinstance(value, str) else None for value in values]


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
    whole = np.rint((points - origin) * 10**DEGREE_DECIMALS).astype(np.int64)
    return list(np.diff(whole, axis=0, prepend=np.zeros((1, 2), dtype=np.int64)).ravel().tolist())


def pack_rings(area: BaseGeometry, origin: tuple[float, float]) -> list[list[int]]:
    """Return the rings of a polygon, holes included, as paths; anything but a polygon has none."""
    polygons = area.geoms if isinstance(area, MultiPolygon) else [area] if isinstance(area, Polygon) else []
    rings = [ring for one in polygons if not one.is_empty for ring in (one.exterior, *one.interiors)]
    return [pack_path(ring.coords, origin) for ring in rings]
