"""The first sheet: what the plan comes to, the cautions, how to read a row's card; and how tension is checked."""

from collections.abc import Callable, Iterable, Iterator
from itertools import zip_longest
from typing import Final

import pandas as pd

from wirerun.records import Plan
from wirerun.rules.headline import Fact, headline
from wirerun.terms import Terms, in_terms
from wirerun.units import NONE, fixed, units_of
from wirerun.wording import number as grouped
from wirerun.write.cards.cautions import CAUTIONS, CHECKS, READING, ROUNDING
from wirerun.write.cards.letters import BIG, BODY, MAIN, SMALL, leading, wrap
from wirerun.write.cards.pen import LEFT, WIDTH, Pen
from wirerun.write.cards.sheets import Block, Group, text_block
from wirerun.write.cards.symbols import (
    draw_doubt,
    draw_end_post,
    draw_post,
    draw_seat,
    draw_section,
    draw_unknown_post,
)

_WHAT: Final = (
    "For the crew that builds the trellis. Print it double-sided: each zone is one sheet, in front its map, what to do "
    "and what to load, on the back its rows. A zone of many rows takes more."
)
_LONG: Final = {"m": "metres", "ft": "feet"}
_PUSHED_OFF_MM: Final = 0.5  # as well as anybody sees it beside a mark (choice)
_Sign = tuple[Callable[[Pen, float, float], object], str]
#: The signs of a row's strip, each drawn about a foot in the middle, and what it means.
SIGNS: Final[tuple[_Sign, ...]] = (
    (lambda pen, x, y: draw_seat(pen, x, y - 1.2, "under", 3.6), "two-way clip, wire UNDER the bar: it pulls up"),
    (lambda pen, x, y: draw_seat(pen, x, y - 1.2, "over", 3.6), "two-way clip, wire OVER the bar: it presses down"),
    (lambda pen, x, y: draw_doubt(pen, x, y - 1.2), "one-way clip; look on site: the wire may pull up"),
    (lambda pen, x, y: pen.line((x - 3.0, y - 1.2), (x + 3.0, y - 1.2)), "no sign on the line: one-way clip"),
    (lambda pen, x, y: draw_section(pen, x - 3.0, x + 3.0, y - 2.0), "undulating section, all posts two-way"),
    (lambda pen, x, y: draw_end_post(pen, x, y + 0.6), "end post; P001 stands at the left"),
    (lambda pen, x, y: draw_post(pen, x, y + 0.6), "intermediate post"),
    (lambda pen, x, y: draw_post(pen, x, y + 0.6, two_way=True), "intermediate post with a two-way clip"),
    (lambda pen, x, y: draw_unknown_post(pen, x, y + 0.6), "post whose ground height is not known"),
)


def cover_group(plan: Plan) -> Group:
    """Return the first sheet."""
    blocks = [
        text_block(wrap(f"Field cards: {plan.config.name}", BIG, WIDTH, bold=True), BIG, bold=True, after=1.0),
        text_block(wrap(_WHAT, MAIN, WIDTH), MAIN, after=1.5),
        *_glance(plan),
        *_titled("Before you touch a wire", CAUTIONS, MAIN),
        *_signs(plan.config.output.terms),
        *_reading(plan),
    ]
    return Group("First sheet", tuple(blocks))


def method_group(plan: Plan) -> Group:
    """Return how tension is checked and how far fixings are driven: read once, before the first wire."""
    blocks = _titled("How to check tension", _checks(plan))
    fixings = [item for item in plan.catalogue.fixings if item.id in set(plan.clips["fixing"].dropna())]
    driving = [f"{item.id}: {item.drive_to.rstrip('.')}." for item in fixings if item.drive_to]
    if any(item.fastener_kind == "screw" for item in fixings):
        driving.append("Screws can be over-tightened: stop as soon as the clip sits on the post.")
    if driving:
        blocks += _titled("How far to drive fixings", driving)
    return Group("Tension and fixings", tuple(blocks))


def _checks(plan: Plan) -> list[str]:
    """Return how tension is checked, and how sure that is in this plan."""
    check, units = plan.config.check, units_of(plan.config.output.units)
    band = (plan.tension_check["gauge_stuck_n"] / plan.tension_check["gauge_n"] - 1.0).median()
    said = {
        "base": units.fine(1000.0 * check.gauge_base_m),
        "push": units.fine(check.gauge_push_mm),
        "band": NONE if pd.isna(band) else fixed(100.0 * band, 0, "%"),
        "off": units.fine(_PUSHED_OFF_MM),
        "push_error": fixed(100.0 * _PUSHED_OFF_MM / check.gauge_push_mm, 0, "%"),
    }
    return [line.format(**said) for line in CHECKS]


def _glance(plan: Plan) -> list[Block]:
    """Return what the plan comes to: how much there is to build, then the headline, as the map has it."""
    told, terms = headline(plan), plan.config.output.terms
    rows, far = plan.rows, units_of(plan.config.output.units).far
    wire = plan.wires.loc[plan.wires["standing"] != "yes", "run_out_m"]
    stand = int((plan.posts["standing"] == "yes").sum())
    unknown = int(wire.isna().sum())
    main = [(f"{fact.words[0].lower()}{fact.words[1:]}", _figure(fact)) for fact in told.facts if not fact.part]
    figures = (
        ("rows", grouped(len(rows))),
        ("posts" + (f", {grouped(stand)} of them stand" if stand else ""), grouped(rows["posts"].sum())),
        ("posts with two-way clips", grouped(rows["two_way_posts"].sum())),
        (
            in_terms(f"{_LONG[far.sign]} of wire", terms) + (f", {unknown} not known" if unknown else ""),
            grouped(wire.sum() / far.metric),
        ),
        ("zones", grouped(rows["zone_id"].nunique())),
        *main,
    )
    order = ", ".join(f"{grouped(one.pieces)} {one.name[0].lower()}{one.name[1:]}" for one in told.order)
    said = [f"To order, spares included: {order}."] if order else []
    said += [" ".join(_parts(told.facts))]
    blocks = [_totals_line(figures[:4]), _totals_line(figures[4:])]
    blocks += [text_block(wrap(sentence, BODY, WIDTH), BODY, after=0.6) for sentence in said]
    if told.lacks:
        blocks += _titled("NOT in these figures, and what is not planned is on no sheet", told.lacks, MAIN)
    return blocks


def _parts(facts: Iterable[Fact]) -> Iterator[str]:
    """Go through the figures that have parts: a sentence each."""
    whole, parts = "", list[str]()
    for fact in (*facts, None):
        if fact is not None and fact.part:
            parts.append(f"{fact.words} {_figure(fact)}")
            continue
        if parts:
            yield f"{whole}: {', '.join(parts)}."
        whole, parts = "" if fact is None else fact.words, []


def _figure(fact: Fact) -> str:
    return (
        "not priced"
        if fact.figure is None
        else "\N{NO-BREAK SPACE}".join(filter(None, (grouped(fact.figure), fact.unit)))
    )


def _totals_line(figures: Iterable[tuple[str, str]]) -> Block:
    kept = tuple(figures)
    each = WIDTH / len(kept)

    def draw(pen: Pen, top: float) -> None:
        for place, (what, figure) in enumerate(kept):
            pen.box(LEFT + place * each, top, each - 2.0, 12.4, stroke=0.3)
            pen.text(LEFT + place * each + 2.0, top + 6.6, figure, BIG, bold=True, room=each - 6.0)
            pen.text(LEFT + place * each + 2.0, top + 10.8, what, SMALL, room=each - 5.0)

    return Block(14.4, draw)


def _titled(title: str, sentences: Iterable[str], size: float = BODY) -> list[Block]:
    """Return sentences under a title, each behind a dot."""
    lines = [_title(title)]
    for sentence in sentences:
        for place, line in enumerate(wrap(sentence, size, WIDTH - 5.0)):
            lines.append(_bullet(line, size, dot=place == 0))
    return lines


def _title(title: str) -> Block:
    def draw(pen: Pen, top: float) -> None:
        pen.text(LEFT, top + 6.0, title, MAIN, bold=True)

    return Block(leading(MAIN) + 2.6, draw)


def _bullet(line: str, size: float, *, dot: bool) -> Block:
    def draw(pen: Pen, top: float) -> None:
        base = top + 0.75 * leading(size)
        if dot:
            pen.dots([(LEFT + 1.5, base - 0.1 * size)], 0.6)
        pen.text(LEFT + 5.0, base, line, size)

    return Block(leading(size) + 0.2, draw)


def _signs(terms: Terms) -> list[Block]:
    """Return the signs of a row's strip, two beside each other."""
    signs = [(draw, in_terms(words, terms)) for draw, words in SIGNS]
    half = (len(signs) + 1) // 2
    pairs = zip_longest(signs[:half], signs[half:])
    return [_title("How to read a row's strip"), *(_sign_line(pair) for pair in pairs)]


def _sign_line(pair: Iterable[_Sign | None]) -> Block:
    signs = tuple(sign for sign in pair if sign)

    def draw(pen: Pen, top: float) -> None:
        for place, (sign, words) in enumerate(signs):
            left = LEFT + place * WIDTH / 2.0
            sign(pen, left + 4.0, top + 4.4)
            pen.text(left + 10.0, top + 4.4, words, BODY, room=WIDTH / 2.0 - 12.0)

    return Block(6.4, draw)


def _reading(plan: Plan) -> list[Block]:
    return _titled("How to read the figures", [*READING, *_heights(plan), _rounding(plan)])


def _rounding(plan: Plan) -> str:
    """Return how finely figures are written."""
    units = units_of(plan.config.output.units)
    feet = units.system == "imperial"
    steps = {name: getattr(units, name) for name in ("wire", "force", "reading", "small")}
    said = {name: f"{one.step:g} {one.sign}" for name, one in steps.items()}
    return ROUNDING.format(**said, place="an inch" if feet else f"{units.place.step:g} m")


def _heights(plan: Plan) -> list[str]:
    """Return at which heights each wire is held; blocks with wires of their own may hold one of the same name apart."""
    uses = plan.clips.dropna(subset=["uses"]).groupby("wire_id", sort=False, observed=True)["uses"].unique()
    if uses.empty:
        return []
    units = units_of(plan.config.output.units)
    wires = "; ".join(f"{wire}: {units.heights_in(' or '.join(each))}" for wire, each in uses.items())
    return [f"Held at, {units.height.sign} above ground: {wires}. In brackets, the wire whose clip it is lifted into."]
