"""Which clips a row's wires get on which post, wires that are alike taken together; and the same in words.

Clips that stand already are not to be fixed, and not told.
"""

from dataclasses import dataclass
from typing import Any, Final

from wirerun.write.cards.facts import RowFacts
from wirerun.write.cards.flow import Word, phrase
from wirerun.write.cards.letters import TICK
from wirerun.write.cards.numbers import post_number, post_ranges
from wirerun.write.cards.symbols import Seat

_SEATS: Final[tuple[Seat, ...]] = ("under", "over")


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
    for clip in facts.new_clips:
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


def clip_words(facts: RowFacts, size: float) -> list[Word]:
    """Return in words where the two-way clips go, which way up, and where to look: one phrase after the other."""
    found = lanes(facts)
    words: list[Word] = []
    for lane in found:
        name = f"{', '.join(lane.wires)}: " if len(found) > 1 else ""
        for seat in _SEATS:
            posts = lane.numbers(seat)
            if posts:
                words += phrase(f"{name}two-way, wire {seat.upper()}: {post_ranges(posts)}", size, sign=seat)
        if lane.doubts:
            boxes = " ".join(f"{TICK}P{post:03d}" for post in sorted(lane.doubts))
            words += phrase(f"{name}look: {boxes}", size, sign="doubt")
    return words


def fixing_words(facts: RowFacts, size: float) -> list[Word]:
    """Return in words how many of which fixing the wires take, and on which posts where it is not the usual one."""
    two_way = {wire: tuple(sorted(lane.seats)) for lane in lanes(facts) for wire in lane.wires}
    alike: dict[Any, list[str]] = {}
    pieces: dict[tuple[str, str], int] = {}
    for wire in (line["wire_id"] for line in facts.wires):
        posts: dict[str, list[int]] = {}
        for clip in facts.new_clips:
            if clip["wire_id"] == wire:
                name = clip["fixing"] or clip["clip"] or "fixing not known"
                posts.setdefault(name, []).append(post_number(clip["post_id"]))
                pieces[wire, name] = pieces.get((wire, name), 0) + clip["pieces"] - clip["standing_pieces"]
        pattern = tuple((name, tuple(sorted(numbers))) for name, numbers in posts.items())
        alike.setdefault((pattern, two_way.get(wire)), []).append(wire)
    words: list[Word] = []
    for (pattern, both_ways), wires in alike.items():
        parts = []
        for place, (name, numbers) in enumerate(sorted(pattern, key=lambda entry: -len(entry[1]))):
            count = sum(pieces[wire, name] for wire in wires)
            where = "two-way" if numbers == both_ways else post_ranges(list(numbers))
            parts.append(f"{count} \N{MULTIPLICATION SIGN} {name}" + (f" ({where})" if place else ""))
        if parts:
            words += phrase(f"{', '.join(wires)}:", size, bold=True) + phrase(f"{'; '.join(parts)}.", size)
    return words
