"""What setting the posts takes: which posts, how far out and in, how their ends are held, and where each stands."""

from collections import Counter
from typing import Any, Final

from wirerun.units import NONE
from wirerun.wording import number as grouped
from wirerun.write.cards.facts import RowFacts, ZoneFacts
from wirerun.write.cards.flow import Word, phrase
from wirerun.write.cards.letters import clean, leading, width
from wirerun.write.cards.numbers import post_number, post_ranges
from wirerun.write.cards.pen import LEFT, WIDTH, Pen
from wirerun.write.cards.sheets import Block

_Kind = tuple[str | None, float, str | None]  # post, height out of the ground, what holds its end
_GAP: Final = 3.5  # between two stations
_NEAR: Final = 1.2  # between a post's number and its station
_HANGS: Final = " Slacken a wire that hangs already before you take a post out from under it."
_DEPTH: Final = "Depth and anchors are the catalogue's: a competent person settles them for your ground."


def usual_posts(facts: ZoneFacts) -> dict[str, _Kind]:
    """Return what most posts that are set in a zone are, by `kind`: end or intermediate."""
    posts = [post for card in facts.rows for post in card.new_posts]
    kinds = {kind: Counter(_kind(post) for post in posts if post["kind"] == kind) for kind in ("end", "intermediate")}
    return {kind: count.most_common(1)[0][0] for kind, count in kinds.items() if count}


def post_words(facts: ZoneFacts) -> str:
    """Return how the posts of a zone are set, in words."""
    usual = usual_posts(facts)
    if not usual:
        return ""
    who = {"end": "End posts", "intermediate": "posts between"}
    said = "; ".join(f"{who[kind]}: {_told(facts, of)}" for kind, of in usual.items())
    hangs = any(wire["standing"] == "yes" for card in facts.rows if card.new_posts for wire in card.wires)
    return f"{_rows(facts)}{said}. {_DEPTH}{_HANGS if hangs else ''}"


def stand_words(posts: int) -> str:
    """Return behind a number of posts how many of them stand already; nothing where none does."""
    return f" ({grouped(posts)} stand)" if posts else ""


def _rows(facts: ZoneFacts) -> str:
    """Return how the zone's rows run, where all run alike, and how far apart they are."""
    bearings = {round(card.row["bearing_deg"], 1) for card in facts.rows}
    if len(bearings) > 1:
        return ""
    how = "held level" if facts.layout.spacing_measured == "horizontal" else "along the slope"
    apart = f", {facts.units.height(facts.layout.spacing_m)} apart, {how}" if facts.layout.layout == "parallel" else ""
    return f"Rows run {bearings.pop():g}\N{DEGREE SIGN} from true north{apart}. "


def unlike_words(facts: RowFacts, zone: ZoneFacts, size: float) -> list[Word]:
    """Return which posts of a row are to be set where others stand, and those that are not as usual in the zone."""
    usual = usual_posts(zone)
    others: dict[_Kind, list[int]] = {}
    new = facts.new_posts
    for post in new:
        if _kind(post) != usual[post["kind"]]:
            others.setdefault(_kind(post), []).append(post_number(post["post_id"]))
    words = "; ".join(f"{post_ranges(numbers)}: {_told(zone, kind)}" for kind, numbers in others.items())
    to_set = ""
    if new and len(new) < len(facts.posts):
        to_set = f"SET only {post_ranges([post_number(post['post_id']) for post in new])}; the others stand."
    told = " ".join(filter(None, [to_set, f"{words}." if words else ""]))
    return phrase(told, size, bold=True) if told else []


def shift_words(facts: RowFacts, size: float) -> list[Word]:
    """Return on which posts all clips are set higher or lower than their heights, in centimetres, if on any."""
    by_shift: dict[int, list[int]] = {}
    for post in facts.posts:
        shift_cm = round(100.0 * post["clip_shift_m"])
        if shift_cm:
            by_shift.setdefault(shift_cm, []).append(post_number(post["post_id"]))
    # The highest first; numbers in a list of numbers need their sign.
    said = [f"{shift:+d}: {post_ranges(by_shift[shift])}" for shift in sorted(by_shift, reverse=True)]
    words = f"ALL CLIPS of these posts higher (+) or lower, cm: {'; '.join(said)}." if said else ""
    return phrase(words, size, bold=True) if words else []


def place_words(facts: RowFacts, size: float) -> list[Word]:
    """Return where the row's ends come to stand, and how its posts are taped; nothing for a row without new posts."""
    if not facts.new_posts:
        return []
    ends = [end for end in (facts.posts[0], facts.posts[-1]) if end["standing"] != "yes"]
    said = ", ".join(f"P{post_number(end['post_id']):03d} {end['lat']:.7f} {end['lon']:.7f}" for end in ends)
    place = facts.units.place
    how = "on the ground" if _is_taped(facts) else "held level (heights missing)"
    unit = f", {place.sign}" if place.sign else ""
    where = f"Ends: {said}. " if ends else ""
    return phrase(f"{where}Tape {how} from P001{unit}:", size)


def station_words(facts: RowFacts, size: float) -> list[Word]:
    """Return what the tape reads at each post, in words."""
    return [Word(name, size, bold=True, after=clean(at)) for name, at in _stations(facts)]


def station_lines(facts: RowFacts, size: float) -> list[Block]:
    """Return what the tape reads at each post, in columns."""
    cells = _stations(facts)
    if not cells:
        return []
    names = max(width(name, size, bold=True) for name, _ in cells)
    pitch = names + _NEAR + max(width(clean(at), size) for _, at in cells) + _GAP
    many = max(int((WIDTH + _GAP) // pitch), 1)
    return [_line(cells[start : start + many], names, pitch, size) for start in range(0, len(cells), many)]


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


def _is_taped(facts: RowFacts) -> bool:
    return all(post["taped_m"] is not None for post in facts.posts)


def _stations(facts: RowFacts) -> list[tuple[str, str]]:
    """Number of each post to set, and what the tape reads there; the row's first reads nothing."""
    column = "taped_m" if _is_taped(facts) else "station_m"
    bare = facts.units.place.bare
    return [
        (str(post_number(post["post_id"])), bare(post[column] - facts.posts[0][column]))
        for post in facts.posts[1:]
        if post["standing"] != "yes"
    ]


def _line(cells: list[tuple[str, str]], names: float, pitch: float, size: float) -> Block:
    def draw(pen: Pen, top: float) -> None:
        y = top + 0.75 * leading(size)
        for number, (name, at) in enumerate(cells):
            x = LEFT + number * pitch + names
            pen.text(x, y, name, size, bold=True, align="right")
            pen.text(x + _NEAR, y, at, size)

    return Block(leading(size), draw)
