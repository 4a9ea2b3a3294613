"""How a table travels inside the map page: columns of small whole numbers, written as short text.

A page with 17 000 posts must open from a phone's disk. So numbers are whole steps (of 0.1 N, of 0.01 m), written as
differences from the value before, or from the wire before, where that is shorter, and words are numbered in a list.
What repeats is written once with how often it comes. The page's ``decode.js`` is the way back.

A whole number takes as many signs as it needs, five bits each, the low ones first; a sign from the second half of the
alphabet says that more follow. Signs alternate (0, -1, 1, -2, ...), and 0 itself stands for "none".

Worked example: ``pack_numbers([6.0, nan, 12.04], 2)`` is ``{"decimals": 2, "text": "xlBAprC"}``: ``xlB`` is
17 + 32 * 5 + 1024 * 1 = 1201 = 2 * 600 + 1, so 6.00; ``A`` is none; ``prC`` is 12.04.
"""

from collections.abc import Iterable, Sequence
from typing import Any, Final

import numpy as np
from numpy.typing import ArrayLike, NDArray
from shapely import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

DEGREE_DECIMALS: Final = 7  # 11 mm on the ground: finer than a pixel at the closest zoom
# None of these signs means anything to JSON or HTML.
ALPHABET: Final = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-_"

Packed = dict[str, Any]


def pack_whole(whole: NDArray[np.int64], known: NDArray[np.bool_]) -> str:
    """Return whole numbers as text: one for each place where `known` is True, the sign for none elsewhere.

    Parameters
    ----------
    whole : shape (k,)
        The numbers that are known, in order.
    known : shape (n,)
        True in k places.
    """
    codes = np.zeros(known.shape, dtype=np.int64)
    codes[known] = np.where(whole < 0, -2 * whole - 1, 2 * whole) + 1
    signs = np.frombuffer(ALPHABET.encode(), dtype=np.uint8)
    columns, used = [signs[(codes & 31) + 32 * (codes > 31)]], [np.ones(codes.shape, dtype=bool)]
    while (codes := codes >> 5).any():
        columns.append(signs[(codes & 31) + 32 * (codes > 31)])
        used.append(codes > 0)
    text: bytes = np.stack(columns, axis=1)[np.stack(used, axis=1)].tobytes()
    return text.decode()


def pack_numbers(values: ArrayLike, decimals: int = 0, like: ArrayLike | None = None) -> Packed:
    """Return a column of numbers as whole steps of ``10**-decimals``, in the shortest of four ways.

    Parameters
    ----------
    values : shape (n,)
        Numbers; NaN where there is none.
    decimals : int
        Decimals the page shows.
    like : shape (n,), optional
        The same column of the thing before, which this one may be much like.

    Returns
    -------
    dict
        ``decimals``; ``text``, the whole numbers. Where there is ``runs``, ``text`` has each number of a run once.
        ``steps`` is True where each is the difference from the last one there was, ``like`` where each is the
        difference from the one in the column before (from 0 where that has none).
    """
    whole = _steps_of(values, decimals)
    known = np.isfinite(whole)
    ways: list[Packed] = [
        pack_codes(whole),
        {"text": pack_whole(np.diff(whole[known], prepend=0).astype(np.int64), known), "steps": True},
    ]
    if like is not None:
        ways.append({**pack_codes(whole - np.nan_to_num(_steps_of(like, decimals))), "like": True})
    shortest: Packed = min(ways, key=_size)
    return {"decimals": decimals, **shortest}


def _size(packed: Packed) -> int:
    return len(packed["text"]) + len(packed.get("runs", ""))


def _steps_of(values: ArrayLike, decimals: int) -> NDArray[np.float64]:
    """Return numbers as whole steps, NaN where there is none."""
    steps: NDArray[np.float64] = np.rint(np.asarray(values, dtype=np.float64) * 10**decimals)
    return steps


def pack_codes(codes: Sequence[int | None] | NDArray[np.int64] | NDArray[np.float64]) -> Packed:
    """Return a column of whole numbers that may repeat: positions, classes, words in a list; None or NaN is none.

    Returns
    -------
    dict
        ``text``, the numbers, None among them; where there is ``runs``, ``text`` has each number of a run once and
        ``runs`` how often it comes.
    """
    given = np.array([np.nan if code is None else code for code in codes], dtype=np.float64)
    known = np.isfinite(given)
    plain = pack_whole(given[known].astype(np.int64), known)
    # None compares unequal to itself: a number that no column holds stands for it.
    filled = np.where(known, given, np.inf)
    starts = np.flatnonzero(np.append(True, filled[1:] != filled[:-1])[: len(given)])
    lengths = np.diff(starts, append=len(given))
    heads = pack_whole(given[starts][known[starts]].astype(np.int64), known[starts])
    runs = pack_whole(lengths, np.ones(lengths.shape, dtype=bool))
    return {"text": heads, "runs": runs} if len(heads) + len(runs) < len(plain) else {"text": plain}


def pack_words(values: Iterable[object]) -> Packed:
    """Return a column of texts: ``words``, each once in order of first use, and each line's number in them.

    A missing text is None among the numbers.
    """
    numbers: dict[str, int] = {}
    at = [numbers.setdefault(value, len(numbers)) if isinstance(value, str) else None for value in values]
    return {"words": list(numbers), **pack_codes(at)}


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
