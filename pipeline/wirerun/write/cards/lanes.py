"""Which clips a row's wires get on which post, wires that are alike taken together; and the same in words."""

from dataclasses import dataclass
from typing import Any, Final, Literal

from wirerun.write.cards.facts import RowFacts
from wirerun.write.cards.letters import clean, leading, width, wrap
from wirerun.write.cards.numbers import post_number, post_ranges
from wirerun.write.cards.pen import LEFT, WIDTH, Pen
from wirerun.write.cards.sheets import Block
from wirerun.write.cards.symbols import Seat, draw_doubt, draw_seat

_SEATS: Final[tuple[Seat, ...]] = ("under", "over")
_SIGN_WIDE: Final = 4.8
_SIGN_GAP: Final = 3.0


@dataclass(frozen=True, slots=True)
class Lane:
    """Wires whose clips are alike on every post of the row, and what each post's clip is, by post number.

    `doubts`: posts to look at, since a one-way clip may not do there or the load is not known.
    """

    wires: tuple[str, ...]
    seats: dict[int, Seat]
    doubts: frozenset[int]

    def numbers(self, seat: Seat) -> list[int]:
        """Return the posts whose two-way clip has the wire over or under it, rising."""
        return sorted(post for post, here in self.seats.items() if here == seat)


def lanes(facts: RowFacts) -> list[Lane]:
    """Return the lanes of a row: its clipped wires from the lowest up, alike ones together."""
    seats: dict[str, dict[int, Seat]] = {}
    doubts: dict[str, set[int]] = {}
    for clip in facts.clips:
        if clip["clip"] == "staple":
            continue
        wire, post = clip["wire_id"], post_number(clip["post_id"])
        seats.setdefault(wire, {})
        doubts.setdefault(wire, set())
        if clip["clip"] == "two-way":
            seats[wire][post] = clip["seat"] or "over"
        elif clip["clip"] is None or clip["look_on_site"] == "yes":
            doubts[wire].add(post)
    alike: dict[Any, list[str]] = {}
    for wire in sorted(seats, key=list(facts.settings).index):
        alike.setdefault((tuple(sorted(seats[wire].items())), frozenset(doubts[wire])), []).append(wire)
    return [Lane(tuple(wires), dict(pattern), unsure) for (pattern, unsure), wires in alike.items()]


def clip_lines(facts: RowFacts, size: float) -> list[Block]:
    """Return in words where the two-way clips go, which way up, and where to look: one phrase after the other."""
    found = lanes(facts)
    words: list[_Word] = []
    for lane in found:
        name = f"{', '.join(lane.wires)}: " if len(found) > 1 else ""
        for seat in _SEATS:
            posts = lane.numbers(seat)
            if posts:
                words += _phrase(f"{name}two-way, wire {seat.upper()}: {post_ranges(posts)}", size, sign=seat)
        if lane.doubts:
            boxes = " ".join(f"\N{BALLOT BOX}P{post:03d}" for post in sorted(lane.doubts))
            words += _phrase(f"{name}look: {boxes}", size, sign="doubt")
    return _flow(words)


def fixing_lines(facts: RowFacts, size: float) -> list[Block]:
    """Return in words how many of which fixing the wires take, and on which posts where it is not the usual one."""
    two_way = {wire: tuple(sorted(lane.seats)) for lane in lanes(facts) for wire in lane.wires}
    alike: dict[Any, list[str]] = {}
    pieces: dict[tuple[str, str], int] = {}
    for wire in (line["wire_id"] for line in facts.wires):
        posts: dict[str, list[int]] = {}
        for clip in facts.clips:
            if clip["wire_id"] == wire:
                name = clip["fixing"] or clip["clip"] or "fixing not known"
                posts.setdefault(name, []).append(post_number(clip["post_id"]))
                pieces[wire, name] = pieces.get((wire, name), 0) + clip["pieces"]
        pattern = tuple((name, tuple(sorted(numbers))) for name, numbers in posts.items())
        alike.setdefault((pattern, two_way.get(wire)), []).append(wire)
    words: list[_Word] = []
    for (pattern, both_ways), wires in alike.items():
        parts = []
        for place, (name, numbers) in enumerate(sorted(pattern, key=lambda entry: -len(entry[1]))):
            count = sum(pieces[wire, name] for wire in wires)
            where = "two-way" if numbers == both_ways else post_ranges(list(numbers))
            parts.append(f"{count} \N{MULTIPLICATION SIGN} {name}" + (f" ({where})" if place else ""))
        if parts:
            words += _phrase(f"{', '.join(wires)}:", size, bold=True) + _phrase(f"{'; '.join(parts)}.", size)
    return _flow(words)


_Sign = Seat | Literal["doubt"]


@dataclass(frozen=True, slots=True)
class _Word:
    """A word, its size, and the sign before it."""

    word: str
    size: float
    bold: bool = False
    sign: _Sign | None = None

    @property
    def wide(self) -> float:
        """Its width with its sign [mm]."""
        return (_SIGN_WIDE if self.sign else 0.0) + width(self.word, self.size, bold=self.bold)


def _phrase(text: str, size: float, *, bold: bool = False, sign: _Sign | None = None) -> list[_Word]:
    """Return the words of a phrase, the first with its sign; a word too long for a line is broken."""
    words = [part for word in clean(text).split(" ") for part in wrap(word, size, WIDTH - _SIGN_WIDE, bold=bold)]
    return [_Word(word, size, bold, sign if place == 0 else None) for place, word in enumerate(words)]


def _flow(words: list[_Word]) -> list[Block]:
    """Return words in lines over the whole width, a block a line."""
    lines: list[list[tuple[float, _Word]]] = []
    x = WIDTH
    for word in words:
        x += _SIGN_GAP if word.sign else 0.0
        if x + word.wide > WIDTH:
            lines.append([])
            x = 0.0
        lines[-1].append((x, word))
        x += word.wide + width(" ", word.size)
    return [_flowed(line) for line in lines]


def _flowed(line: list[tuple[float, _Word]]) -> Block:
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

    return Block(high, draw)
