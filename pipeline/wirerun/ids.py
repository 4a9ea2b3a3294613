"""How rows, posts, spans and sections are called: B01-R012, B01-R012-P007, B01-R012-S006, B01-R012-U01."""

import re
import string
from collections.abc import Iterable
from typing import Final

import numpy as np
import pandas as pd

from wirerun.arrays import IntArray, TextArray

# Digits of a coil's number, at least.
_COIL_DIGITS: Final = 3
_ROW: Final = re.compile(r"R(\d{1,9})([b-z]|z\d{1,9})?", re.ASCII)


def row_ids(block_id: str, number: IntArray, piece: IntArray) -> list[str]:
    """Ids of rows: the second piece of a number, 1 of `piece`, gets a b, the third a c."""
    return [f"{block_id}-R{n:03d}{_letter(p)}" for n, p in zip(number, piece, strict=True)]


def row_parts(row_id: str, block_id: str) -> tuple[int, int] | None:
    """Number and piece of a row of a block, as `row_ids` takes them; None where the id is none of the block's.

    >>> row_parts("B01-R012c", "B01"), row_parts("B02-R012", "B01")
    ((12, 2), None)
    """
    named = _ROW.fullmatch(row_id.removeprefix(f"{block_id}-"))
    if named is None or not row_id.startswith(f"{block_id}-"):
        return None
    letter = named[2] or ""
    return int(named[1]), int(letter[1:]) if len(letter) > 1 else string.ascii_lowercase.find(letter or "a")


def post_ids(row_id: TextArray, row: IntArray) -> list[str]:
    """Ids of posts ordered along their rows; `row_id` has one entry a row, `row` the row of each post."""
    begins = np.flatnonzero(np.diff(row, prepend=-1))
    count = np.diff(begins, append=len(row))
    numbers = [f"-P{number:03d}" for number in range(1, int(count.max(initial=0)) + 1)]
    return [name + number for name, posts in zip(row_id[row[begins]], count, strict=True) for number in numbers[:posts]]


def span_ids(from_post: TextArray) -> TextArray:
    """Ids of spans from the id of the post at their start: span 6 runs from post 6 to post 7."""
    return np.array(["-S".join(post.rsplit("-P", 1)) for post in from_post], dtype=object)


def section_ids(row_id: TextArray) -> TextArray:
    """Ids of sections ordered along their rows, from the row of each."""
    number = pd.Series(row_id).groupby(row_id).cumcount() + 1
    return np.array([f"{r}-U{n:02d}" for r, n in zip(row_id, number, strict=True)], dtype=object)


def coil_ids(part: Iterable[bool]) -> list[str]:
    """Ids of coils in the order in which they are begun; a part coil of the stock has a P behind its number.

    As wide as the last number, so that coils sort by their ids.

    >>> coil_ids([True, False, False])
    ['C001P', 'C002', 'C003']
    """
    parts = list(part)
    width = max(_COIL_DIGITS, len(str(len(parts))))
    return [f"C{number:0{width}d}{'P' * bool(is_part)}" for number, is_part in enumerate(parts, start=1)]


def _letter(piece: int) -> str:
    if piece == 0:
        return ""
    return string.ascii_lowercase[piece] if piece < len(string.ascii_lowercase) else f"z{piece}"
