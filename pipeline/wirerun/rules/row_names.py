"""Rows, posts and spans as people call them: B01-R012, r12, 12b; P017, S016."""

import re
from collections.abc import Sequence
from difflib import get_close_matches
from typing import Final, NamedTuple

from wirerun.findings import name_some

_ROW: Final = re.compile(r"(?:(?P<block>.+)-)?R?0*(?P<number>\d{1,9})(?P<piece>[b-z]\d*)?", re.IGNORECASE | re.ASCII)
_PLACE: Final = re.compile(r"(?:(?P<row>.+)-)?(?P<what>[PS])0*(?P<number>\d{1,6})", re.IGNORECASE | re.ASCII)
# Blocks that are listed in a sentence.
_MOST_NAMED: Final = 20


class NamedRow(NamedTuple):
    """A row that somebody named: its block and its id."""

    block_id: str
    row_id: str


class NamedPlace(NamedTuple):
    """A place in a row that somebody named: a post or a span, and its number from 0."""

    is_post: bool
    number: int


def named_row(called: str, blocks: Sequence[str]) -> NamedRow | str:
    """Return the row that is meant; or a sentence, where that is no row or may be one of several blocks.

    >>> named_row("b01-r12", ["B01", "B02"])
    NamedRow(block_id='B01', row_id='B01-R012')
    >>> named_row("12b", ["B01"])
    NamedRow(block_id='B01', row_id='B01-R012b')
    >>> named_row("12", ["B01", "B02"])
    'there are 2 blocks; which row is meant? B01-R012, B02-R012'
    """
    said = _ROW.fullmatch(called.strip())
    if said is None:
        return f"this is no row; wanted is one such as {blocks[0]}-R012, or its number"
    name = f"R{int(said['number']):03d}{(said['piece'] or '').lower()}"
    if said["block"] is None:
        if len(blocks) > 1:
            ways = name_some((f"{block}-{name}" for block in blocks), 3)
            return f"there are {len(blocks)} blocks; which row is meant? {ways}"
        return NamedRow(blocks[0], f"{blocks[0]}-{name}")
    block = next((block for block in blocks if block.lower() == said["block"].lower()), None)
    if block is None:
        return f"there is no block {said['block']}; there are {name_some(blocks, _MOST_NAMED)}"
    return NamedRow(block, f"{block}-{name}")


def named_place(called: str, row_id: str, posts: int) -> NamedPlace | str:
    """Return the post or span that is meant in a row of so many posts; or a sentence.

    >>> named_place("S016", "B01-R012", 20)
    NamedPlace(is_post=False, number=15)
    >>> named_place("P021", "B01-R012", 20)
    'row B01-R012 has 20 posts, P001 to P020'
    """
    said = _PLACE.fullmatch(called.strip())
    if said is None:
        return "this is no place in the row; wanted is a post such as P017, or a span such as S016 behind post 16"
    if said["row"] is not None and not row_id.lower().endswith(said["row"].lower()):
        return f"that is a place in another row than {row_id}"
    number, is_post = int(said["number"]) - 1, said["what"].upper() == "P"
    count = posts if is_post else posts - 1
    if not 0 <= number < count:
        letter, thing = ("P", "posts") if is_post else ("S", "spans")
        return f"row {row_id} has {count} {thing}, {letter}001 to {letter}{count:03d}"
    return NamedPlace(is_post, number)


def nearest(called: str, known: Sequence[str]) -> str:
    """Return a question with the nearest of some names, to end a sentence with; "" where none is near.

    >>> nearest("louver", ["lower", "upper"])
    '; did you mean lower?'
    """
    near = get_close_matches(called, known, n=1, cutoff=0.4)
    return f"; did you mean {near[0]}?" if near else ""
