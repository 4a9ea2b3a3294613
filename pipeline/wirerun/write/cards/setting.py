"""What setting the posts takes: which posts, how far out and in, how their ends are held, and where each stands."""

from collections import Counter
from collections.abc import Iterable
from typing import Any, Final

from wirerun.units import NONE
from wirerun.write.cards.facts import RowFacts, ZoneFacts
from wirerun.write.cards.letters import clean, leading, width, wrap
from wirerun.write.cards.numbers import post_number, post_ranges
from wirerun.write.cards.pen import LEFT, WIDTH, Pen
from wirerun.write.cards.sheets import Block, text_block

_Kind = tuple[str | None, float, str | None]  # post, height out of the ground, what holds its end
_GAP: Final = 3.5  # between two stations
_NEAR: Final = 1.2  # between a post's number and its station
_DEPTH: Final = "Depth and anchors are the catalogue's: a competent person settles them for your ground."


def usual_posts(facts: ZoneFacts) -> dict[str, _Kind]:
    """Return what most posts of a zone are, by `kind`: end or intermediate."""
    posts = [post for card in facts.rows for post in card.posts]
    kinds = {kind: Counter(_kind(post) for post in posts if post["kind"] == kind) for kind in ("end", "intermediate")}
    return {kind: count.most_common(1)[0][0] for kind, count in kinds.items() if count}


def post_words(facts: ZoneFacts) -> str:
    """Return how the posts of a zone are set, in words."""
    usual = usual_posts(facts)
    if not usual:
        return ""
    who = {"end": "End posts", "intermediate": "posts between"}
    said = "; ".join(f"{who[kind]}: {_told(facts, of)}" for kind, of in usual.items())
    return f"{said}. {_DEPTH}"


def setting_lines(facts: RowFacts, zone: ZoneFacts, size: float) -> list[Block]:
    """Return the stations of a row's posts, and before them those posts that are not as usual in the zone."""
    if not facts.posts:
        return []
    usual = usual_posts(zone)
    others: dict[_Kind, list[int]] = {}
    for post in facts.posts:
        if _kind(post) != usual[post["kind"]]:
            others.setdefault(_kind(post), []).append(post_number(post["post_id"]))
    words = "; ".join(f"{post_ranges(numbers)}: {_told(zone, kind)}" for kind, numbers in others.items())
    unlike = [text_block([line], size, bold=True) for line in wrap(words, size, WIDTH, bold=True)]
    return [*unlike, *_stations(facts, size)]


def _kind(post: dict[str, Any]) -> _Kind:
    return post["post_item"], post["height_out_m"], post["end_item"]


def _told(zone: ZoneFacts, kind: _Kind) -> str:
    """Return a kind of post in words: what it is, how far out and in, and what holds it."""
    item, out_m, end = kind
    height = zone.units.height
    length = zone.post_length_m.get(item or "")
    deep = "" if length is None else f", {height(length - out_m)} deep"
    held = f", {end}" if end else ""
    return f"{item or NONE}, {height(out_m)} out{deep}{held}"


def _stations(facts: RowFacts, size: float) -> Iterable[Block]:
    """Return what the tape reads at each post, in columns; what holds only in plan says so."""
    taped = all(post["taped_m"] is not None for post in facts.posts)
    read = [post["taped_m"] if taped else post["station_m"] - facts.posts[0]["station_m"] for post in facts.posts]
    place = facts.units.place
    how = "on the ground" if taped else "held level (heights missing)"
    told = clean(f"Tape {how} from P001{f', {place.sign}' if place.sign else ''}:")
    cells = [(str(post_number(post["post_id"])), place.bare(x)) for post, x in zip(facts.posts, read, strict=True)]
    names = max(width(name, size, bold=True) for name, _ in cells)
    pitch = names + _NEAR + max(width(clean(at), size) for _, at in cells) + _GAP
    left = pitch * -(-(width(told, size) + _GAP) // pitch)  # whole columns, so that all lines stand under each other
    first = int((WIDTH + _GAP - left) // pitch)
    many = max(int((WIDTH + _GAP) // pitch), 1)
    rest = cells[1:]  # P001 reads nothing
    yield _line(told, rest[:first], left, names, pitch, size)
    for start in range(first, len(rest), many):
        yield _line("", rest[start : start + many], 0.0, names, pitch, size)


def _line(told: str, cells: list[tuple[str, str]], left: float, names: float, pitch: float, size: float) -> Block:
    def draw(pen: Pen, top: float) -> None:
        y = top + 0.75 * leading(size)
        pen.text(LEFT, y, told, size)
        for number, (name, at) in enumerate(cells):
            x = LEFT + left + number * pitch + names
            pen.text(x, y, name, size, bold=True, align="right")
            pen.text(x + _NEAR, y, at, size)

    return Block(leading(size), draw)
