"""Plain tables on a sheet: a title, a line of column heads, and lines of cells, each line a block."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final, Literal

from wirerun.write.cards.letters import MAIN, SMALL, leading, wrap
from wirerun.write.cards.pen import LEFT, PALE, WIDTH, Pen
from wirerun.write.cards.sheets import Block

_GAP: Final = 3.0


@dataclass(frozen=True, slots=True)
class Head:
    """A column: what stands over it, its share of the table's width, on which side its cells stand, and their size."""

    title: str
    share: float
    align: Literal["left", "right"] = "left"
    size: float = MAIN


def heads_block(heads: Sequence[Head]) -> Block:
    """Return the heads of a table alone, for where it is carried on."""
    return _heads("", _columns(heads))


def _columns(heads: Sequence[Head]) -> list["_Column"]:
    """Return each head with the left edge and the width of its column."""
    whole = sum(head.share for head in heads)
    rooms = [WIDTH * head.share / whole for head in heads]
    edges = [LEFT + sum(rooms[:place]) for place in range(len(rooms))]
    return list(zip(heads, edges, rooms, strict=True))


def grid(title: str, heads: Sequence[Head], lines: Iterable[Sequence[str]]) -> list[Block]:
    """Return a table as blocks: the first holds title, heads and first line, then one a line. Cells are wrapped.

    A table without lines gives no block.
    """
    columns = _columns(heads)
    blocks = [_line(columns, cells) for cells in lines]
    if not blocks:
        return []
    head, first = _heads(title, columns), blocks[0]

    def draw(pen: Pen, top: float) -> None:
        head.draw(pen, top)
        first.draw(pen, top + head.height)

    return [Block(head.height + first.height, draw), *blocks[1:]]


_Column = tuple[Head, float, float]


def _heads(title: str, columns: list[_Column]) -> Block:
    left, right = LEFT, LEFT + WIDTH
    up = 0.0 if title else 4.4

    def draw(pen: Pen, top: float) -> None:
        top -= up
        pen.text(left, top + 4.4, title, MAIN, bold=True, room=right - left)
        for head, edge, room in columns:
            x = edge if head.align == "left" else edge + room - _GAP
            pen.text(x, top + 8.6, head.title, SMALL, align=head.align, room=room - _GAP)
        pen.line((left, top + 9.6), (right, top + 9.6), stroke=0.25)

    return Block(10.0 - up, draw)


def _line(columns: list[_Column], cells: Sequence[str]) -> Block:
    texts = [
        wrap(cell, head.size, room - _GAP / 2.0) if head.align == "left" else [cell]
        for cell, (head, _, room) in zip(cells, columns, strict=True)
    ]
    deep = max(len(text) * leading(head.size) for text, (head, _, _) in zip(texts, columns, strict=True))
    line = leading(max(head.size for head, _, _ in columns))
    height = max(deep, line) + 0.9

    def draw(pen: Pen, top: float) -> None:
        for text, (head, edge, room) in zip(texts, columns, strict=True):
            x = edge if head.align == "left" else edge + room - _GAP
            y = top + 0.8 * line  # first lines share a baseline, whatever their size
            for words in text:
                pen.text(x, y, words, head.size, align=head.align, room=room - _GAP / 2.0)
                y += leading(head.size)
        pen.line((LEFT, top + height - 0.2), (LEFT + WIDTH, top + height - 0.2), stroke=0.15, grey=PALE)

    return Block(height, draw)
