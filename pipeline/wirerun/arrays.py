"""What the arrays of this package hold; their axes are named where they are made."""

from collections.abc import Iterable
from typing import Any

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]
FloatLike = FloatArray | float
#: Ids and words; None where there is none.
TextArray = NDArray[np.object_]


def words(given: Iterable[str | None]) -> TextArray:
    """Words as an array, [word]."""
    return np.array(list(given), dtype=object)


def no_words(shape: int | tuple[int, ...]) -> TextArray:
    """None everywhere."""
    return np.full(shape, None, dtype=object)


def only_where(where: BoolArray, given: TextArray | str) -> TextArray:
    """Words where a condition holds and None elsewhere, the shapes broadcast."""
    return np.asarray(np.where(where, np.asarray(given, dtype=object), np.array(None, dtype=object)), dtype=object)


def is_blank(given: TextArray) -> BoolArray:
    """Where there is no word, shape as given."""
    return np.asarray(np.equal(given, np.array(None, dtype=object)), dtype=np.bool_)


def places_in(known: Iterable[str], given: TextArray) -> IntArray:
    """Place of each word among those that are known, each of them once; -1 where it is none of them, shape as given.

    >>> places_in(["pine", "oak"], words(["oak", None, "elm", "pine"])).tolist()
    [1, -1, -1, 0]
    """
    names = {name: place for place, name in enumerate(known)}
    found, which = np.unique(given.astype("U"), return_inverse=True)
    among = np.array([names.get(name, -1) for name in found.tolist()], dtype=np.int64)
    return np.where(is_blank(given), -1, among[which.reshape(given.shape)])


def numbered(*keys: NDArray[np.generic]) -> tuple[IntArray, list[tuple[Any, ...]]]:
    """Number of each line's keys together, from 0 as they first come, [line]; and the keys of each number."""
    seen: dict[tuple[Any, ...], int] = {}
    each = zip(*(key.tolist() for key in keys), strict=True)
    number = np.array([seen.setdefault(one, len(seen)) for one in each], dtype=np.int64)
    return number, list(seen)
