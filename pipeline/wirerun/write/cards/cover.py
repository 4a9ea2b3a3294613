"""The first sheet: what this is, the totals, how to read a row's card, and the cautions."""

from collections.abc import Callable, Iterable
from itertools import zip_longest
from typing import Final

import pandas as pd

from wirerun.findings import name_some
from wirerun.records import Plan, left_out_words
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
_MOST_MISSING: Final = 6  # more fill the sheet
_Sign = tuple[Callable[[Pen, float, float], object], str]
#: The signs of a row's strip, each drawn about a foot in the middle, and what it means.
SIGNS: Final[tuple[_Sign, ...]] = (
    (lambda pen, x, y: draw_seat(pen, x, y - 1.2, "under", 3.6), "two-way clip, wire UNDER the bar: it pulls up"),
    (lambda pen, x, y: draw_seat(pen, x, y - 1.2, "over", 3.6), "two-way clip, wire OVER the bar: it bears down"),
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
        *_totals(plan),
        *_not_included(plan),
        *_missing(plan),
        *_titled("Before you touch a wire", CAUTIONS, MAIN),
        *_signs(),
        *_reading(plan),
    ]
    blocks += _titled("How to check tension", _checks(plan))
    fixings = [item for item in plan.catalogue.fixings if item.id in set(plan.clips["fixing"].dropna())]
    driving = [f"{item.id}: {item.drive_to.rstrip('.')}." for item in fixings if item.drive_to]
    if any(item.fastener_kind == "screw" for item in fixings):
        driving.append("Screws can be over-tightened: stop as soon as the clip sits on the post.")
    if driving:
        blocks += _titled("How far to drive fixings", driving)
    return Group("First sheet", tuple(blocks))


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


def _totals(plan: Plan) -> list[Block]:
    """Return the totals, four beside each other."""
    rows, far = plan.rows, units_of(plan.config.output.units).far
    wire = plan.wires.loc[plan.wires["standing"] != "yes", "run_out_m"]
    stand = int((plan.posts["standing"] == "yes").sum())
    unknown = int(wire.isna().sum())
    coils = plan.coils["coil_id"].nunique()
    zones = rows["zone_id"].nunique()
    hours = plan.zones["hours"].sum() if len(plan.zones) else rows["hours"].sum()
    figures = (
        ("rows", grouped(len(rows))),
        ("posts" + (f", {grouped(stand)} of them stand" if stand else ""), grouped(rows["posts"].sum())),
        ("posts with two-way clips", grouped(rows["two_way_posts"].sum())),
        (
            f"{_LONG[far.sign]} of wire" + (f", {unknown} not known" if unknown else ""),
            grouped(wire.sum() / far.metric),
        ),
        ("coils of wire", grouped(coils) if coils else NONE),
        ("adjusters", grouped((plan.adjusters["standing"] != "yes").sum())),
        ("zones", grouped(zones)),
        ("hours of one person", grouped(hours) if hours else NONE),
    )
    return [_totals_line(figures[:4]), _totals_line(figures[4:])]


def _not_included(plan: Plan) -> list[Block]:
    """Return which rows are in none of the totals, nor on any card."""
    if plan.left_out.empty:
        return []
    units = units_of(plan.config.output.units)
    sentence = (
        f"NOT INCLUDED in these figures, nor on any card: {left_out_words(plan.left_out, units.wire)}, for want of "
        f"ground heights: {name_some(plan.left_out['row_id'], 12)}."
    )
    return [text_block(wrap(sentence, MAIN, WIDTH, bold=True), MAIN, bold=True, after=1.5)]


def _missing(plan: Plan) -> list[Block]:
    """Return which blocks are not in the totals above, nor on any sheet."""
    if not plan.missing:
        return []
    told = [f"{block.block_id}: {block.reason}" for block in plan.missing[:_MOST_MISSING]]
    if len(plan.missing) > _MOST_MISSING:
        told.append(f"and {len(plan.missing) - _MOST_MISSING} more")
    return _titled("Blocks that could not be planned: not in these figures, and without cards", told)


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


def _signs() -> list[Block]:
    """Return the signs of a row's strip, two beside each other."""
    half = (len(SIGNS) + 1) // 2
    pairs = zip_longest(SIGNS[:half], SIGNS[half:])
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
