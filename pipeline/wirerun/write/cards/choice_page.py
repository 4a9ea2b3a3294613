"""The sheet that compares fixings: what else would hold, and what it would take."""

from typing import Any

from wirerun.records import Plan
from wirerun.tables import as_lines
from wirerun.terms import in_terms
from wirerun.units import NONE, Units, fixed, units_of
from wirerun.write.cards.grid import Head, grid
from wirerun.write.cards.letters import BIG, BODY, MAIN, wrap
from wirerun.write.cards.pen import WIDTH
from wirerun.write.cards.sheets import Block, Group, text_block
from wirerun.write.fixing_choice import HOLDERS, choices_by_block, shown_options, with_pieces

_WHAT = (
    "What the plan takes, and what else would hold. Change it with fixings.use in the config; holding forces, prices "
    "and minutes are those of the catalogue. Not held: posts at which none of the "
    "set may bear the wire's pull. Hours are labour hours, to set them and for their removal."
)


def choice_groups(plan: Plan) -> list[Group]:
    """Return the sheet; nothing where no fixings were compared."""
    shown = shown_options(plan)
    if not shown:
        return []
    blocks: list[Block] = [
        text_block(wrap("Choice of fixings", BIG, WIDTH, bold=True), BIG, bold=True, after=1.0),
        text_block(wrap(in_terms(_WHAT, plan.config.output.terms), MAIN, WIDTH), MAIN, after=2.0),
    ]
    currency, units = plan.config.catalogue.currency, units_of(plan.config.output.units)
    heads = (
        Head("", 5.0, size=BODY),
        Head("fixings", 50.0, size=BODY),
        Head("not held", 19.0, "right", BODY),
        Head("price", 16.0, "right", BODY),
        Head("hours", 14.0, "right", BODY),
        Head(f"{currency}/{units.area.sign}", 18.0, "right", BODY),
        Head("a year", 14.0, "right", BODY),
        Head("removal", 19.0, "right", BODY),
        Head("tools", 25.0, size=BODY),
        Head("nets", 12.0, size=BODY),
        Head("harvester", 21.0, size=BODY),
    )
    for holder, options in shown.items():
        blocks += grid(HOLDERS[holder], heads, [_cells(one, units) for one in as_lines(options)])
    by_block = choices_by_block(plan)
    blocks += grid(
        "What each block takes", (Head("block", 12.0), Head("wires", 30.0), Head("fixings", 120.0)), by_block
    )
    return [Group("Choice of fixings", tuple(blocks))]


def _cells(option: dict[str, Any], units: Units) -> list[str]:
    return [
        "\N{CHECK MARK}" if option["chosen"] == "yes" else "",
        with_pieces(option),
        fixed(option["not_held"]),
        _money(option["price"]),
        _money(option["hours"]),
        _money(option["cost_per_ha"] * units.area.metric),
        _money(option["cost_per_year"]),
        _money(option["removal_hours"]),
        _or_none(option["tools"]),
        option["net_safe"],
        _or_none(option["harvester_safe"]),
    ]


def _money(value: float) -> str:
    return NONE if value != value else fixed(value, 0)  # noqa: PLR0124 - NaN


def _or_none(words: str | float) -> str:
    return words if isinstance(words, str) else NONE
