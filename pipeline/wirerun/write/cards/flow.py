"""Words that follow each other in lines over the whole width, some with a sign before them."""

from dataclasses import dataclass
from typing import Final, Literal

from wirerun.write.cards.letters import clean, leading, width, wrap
from wirerun.write.cards.pen import LEFT, WIDTH, Pen
from wirerun.write.cards.sheets import Block
from wirerun.write.cards.symbols import Seat, draw_doubt, draw_seat

Sign = Seat | Literal["doubt"]

_SIGN_WIDE: Final = 4.8
_SIGN_GAP: Final = 3.0


@dataclass(frozen=True, slots=True)
class Word:
    """A word, its size, what follows it plain and is not parted from it, and the sign before it."""

    word: str
    size: float
    bold: bool = False
    after: str = ""
    sign: Sign | None = None

    @property
    def wide(self) -> float:
        """Its width with its sign [mm]."""
        return self.to_after + width(self.after, self.size)

    @property
    def to_after(self) -> float:
        """How far from its left edge what follows it begins [mm]."""
        near = width(" ", self.size) if self.after else 0.0
        return (_SIGN_WIDE if self.sign else 0.0) + width(self.word, self.size, bold=self.bold) + near


def phrase(text: str, size: float, *, bold: bool = False, sign: Sign | None = None) -> list[Word]:
    """Return the words of a phrase, the first with its sign; a word too long for a line is broken."""
    words = [part for word in clean(text).split(" ") for part in wrap(word, size, WIDTH - _SIGN_WIDE, bold=bold)]
    return [Word(word, size, bold, sign=sign if place == 0 else None) for place, word in enumerate(words)]


def flow(words: list[Word]) -> list[Block]:
    """Return words in lines over the whole width, a block a line."""
    lines: list[list[tuple[float, Word]]] = []
    x = WIDTH
    for word in words:
        x += _SIGN_GAP if word.sign else 0.0
        if x + word.wide > WIDTH:
            lines.append([])
            x = 0.0
        lines[-1].append((x, word))
        x += word.wide + width(" ", word.size) * (2.0 if word.after else 1.0)
    return [_line(line) for line in lines]


def _line(line: list[tuple[float, Word]]) -> Block:
    high = max(leading(word.size) for _, word in line)

    def draw(pen: Pen, top: float) -> None:
        base = top + 0.75 * high
        for start, word in line:
            x = LEFT + start
            if word.sign == "doubt":
                draw_doubt(pen, x + 1.7, base - 1.2)
            elif word.sign:
                draw_seat(pen, x + 1.7, base - 1.3, word.sign, 3.0)
            pen.text(x + (_SIGN_WIDE if word.sign else 0.0), base, word.word, word.size, bold=word.bold)
            if word.after:
                pen.text(x + word.to_after, base, word.after, word.size)

    return Block(high, draw)
