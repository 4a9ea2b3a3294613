"""What setting the posts of a row takes, in words: which posts, how far out, and where each stands along the row."""

from itertools import pairwise
from typing import Any

from wirerun.write.cards.facts import RowFacts
from wirerun.write.cards.letters import BODY, wrap
from wirerun.write.cards.numbers import NONE, number, post_number, post_ranges
from wirerun.write.cards.pen import WIDTH
from wirerun.write.cards.sheets import Block, text_block


def setting_lines(facts: RowFacts) -> list[Block]:
    """Return the posts by kind, each kind with its height out of the ground, then the stations from P001 on."""
    if not facts.posts:
        return []
    kinds: dict[tuple[str, float], list[int]] = {}
    for post in facts.posts:
        kinds.setdefault((post["post_item"] or NONE, post["height_out_m"]), []).append(post_number(post["post_id"]))
    sets = [
        f"{post_ranges(numbers) if place else 'others'}: {item}, {number(out, 2)} m out"
        for place, ((item, out), numbers) in enumerate(sorted(kinds.items(), key=lambda kind: -len(kind[1])))
    ]
    tails = {wire.tail_m for wire in facts.settings.values()}
    beyond = f" Leave {number(max(tails), 1)} m of wire beyond each end post." if tails else ""
    along = f"Metres from P001, in plan: {_stations(facts.posts)}.{beyond}"
    words = f"Posts: {'; '.join(reversed(sets))}. {along}"
    return [text_block([line], BODY) for line in wrap(words, BODY, WIDTH)]


def _stations(posts: list[dict[str, Any]]) -> str:
    """Stations of the posts; the step and the last one only, where all spans are alike to the centimetre."""
    first = posts[0]["station_m"]
    along = [post["station_m"] - first for post in posts]
    steps = [b - a for a, b in pairwise(along)]
    if len(steps) > 1 and max(steps) - min(steps) < 0.005:
        return f"every {number(steps[0], 2)}, P{post_number(posts[-1]['post_id']):03d} at {number(along[-1], 2)}"
    named = (post_number(post["post_id"]) for post in posts)
    return "  ".join(f"{name}: {number(x, 2)}" for name, x in zip(named, along, strict=True))
