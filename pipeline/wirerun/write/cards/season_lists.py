"""Two lists that serve for years: what to undo in winter, and what to put back in spring, row by row."""

from collections.abc import Iterable
from typing import Any, Final

import pandas as pd

from wirerun.records import Plan
from wirerun.terms import in_terms
from wirerun.units import NONE, fixed, units_of
from wirerun.write.cards.facts import RowFacts, ZoneFacts
from wirerun.write.cards.grid import Head, grid, heads_block
from wirerun.write.cards.letters import BIG, BODY, MAIN, TICK, wrap
from wirerun.write.cards.pen import WIDTH
from wirerun.write.cards.sheets import Block, Group, text_block

_WINTER: Final = (
    "Take the foliage wires out of their clips, the lowest first; hold on to the wire: it is under tension.",
    "Where an adjuster is named, let it out as far as the list says. Nothing is cut.",
)
_SPRING: Final = (
    "Put the wires into the clips at their own height and wind each adjuster in as far as it was let out.",
    "Check one row in ten with the gauge.",
    "Then lift, the highest wire first; the one below goes into the clips that have come free.",
    "Lifted: the tension the wire has then. Do not force up by hand what does not come: let its adjuster out first.",
)


def season_groups(plan: Plan, zones: Iterable[ZoneFacts]) -> list[Group]:
    """Return the winter list and the spring list; nothing where no wire is let down."""
    rows = [card for zone in zones for card in zone.rows]
    found = []
    for title, words, heads, cells in (
        ("Winter list", (*_WINTER, _still_up_means(plan)), _WINTER_HEADS, _winter),
        ("Spring list", _SPRING, _spring_heads(plan), _spring),
    ):
        lines = [line for row in rows for line in cells(row)]
        if lines:
            blocks: list[Block] = [text_block([title], BIG, bold=True, after=1.0)]
            blocks += [
                text_block(wrap(in_terms(sentence, plan.config.output.terms), MAIN, WIDTH), MAIN, after=1.0)
                for sentence in words
            ]
            found.append(Group(title, (*blocks, *grid("", heads, lines)), again=heads_block(heads)))
    return found


def _still_up_means(plan: Plan) -> str:
    high = units_of(plan.config.output.units).height(plan.config.states.drop_height_m)
    return (
        f"Still up, once that is done: at how many posts the wire hangs above {high}, and how high it is at most. "
        "The first and the last tenth of a row are not counted: there it has to hang."
    )


_WINTER_HEADS: Final = (
    Head("", 7.0),
    Head("row", 27.0),
    Head("wires", 32.0, size=BODY),
    Head("undo", 76.0, size=BODY),
    Head("still up", 42.0, size=BODY),
)


def _spring_heads(plan: Plan) -> tuple[Head, ...]:
    units = units_of(plan.config.output.units)
    return (
        Head("", 7.0),
        Head("row", 27.0),
        Head("wires", 24.0, size=BODY),
        Head("wind in", 68.0, size=BODY),
        Head(f"set at {units.warmth(plan.config.states.stringing_c)}", 24.0, "right", BODY),
        Head(f"gauge reads {units.reading.sign} at {_near(plan)}", 44.0, size=BODY),
        Head("lifted", 18.0, "right", BODY),
    )


def _near(plan: Plan) -> str:
    """The temperature of the check nearest to that of stringing."""
    stringing = plan.config.states.stringing_c
    warmth = units_of(plan.config.output.units).warmth
    return warmth(min(plan.config.check.temperatures_c, key=lambda one: (abs(one - stringing), one)))


def _winter(row: RowFacts) -> list[tuple[str, ...]]:
    return _alike(row, lambda wire: (_undo(row, wire), _still_up(row, wire)))


def _spring(row: RowFacts) -> list[tuple[str, ...]]:
    force = row.units.force
    return _alike(
        row, lambda wire: (_wind_in(row, wire), force(wire["tension_n"]), _reads(row, wire), _lifted(row, wire))
    )


def _alike(row: RowFacts, cells: Any) -> list[tuple[str, ...]]:  # noqa: ANN401 - from a wire to its cells
    """Lines of a row's foliage wires, alike ones together; a box to tick stands before each row."""
    found: dict[tuple[str, ...], list[str]] = {}
    for wire in row.wires:
        if wire["drops_by_itself"] is not None:
            found.setdefault(cells(wire), []).append(wire["wire_id"])
    return [
        (TICK, row.row["row_id"] if place == 0 else "", ", ".join(wires), *said)
        for place, (said, wires) in enumerate(found.items())
    ]


def _adjusted(row: RowFacts, wire: dict[str, Any], column: str) -> tuple[str, str] | None:
    """Where the wire's adjuster is and what kind, and how far it goes for winter or lifting; else None."""
    mine = [line for line in row.adjusters if line["wire_id"] == wire["wire_id"]]
    far_mm = wire[column]
    if not mine or not far_mm:
        return None
    first = mine[0]
    turns = "" if first["turns"] is None else f"{fixed(first['turns'] * far_mm / first['take_up_mm'], 1)} turns, "
    return f"{first['end']}: {first['kind'] or 'NO KIND REACHES'}", f"{turns}{row.units.small(far_mm)}"


def _undo(row: RowFacts, wire: dict[str, Any]) -> str:
    if wire["let_down_by"] == "undo an end":
        return "one end, secured on both sides first: NO ADJUSTER REACHES"
    adjuster = _adjusted(row, wire, "take_up_mm")
    out = "" if adjuster is None else f"{adjuster[0]}, let out {adjuster[1]}"
    if wire["let_down_by"] == "park":
        return f"into its winter clips{'; ' if out else ''}{out}"
    return out or "nothing: it drops by itself"


def _wind_in(row: RowFacts, wire: dict[str, Any]) -> str:
    if wire["let_down_by"] == "undo an end":
        return "fix the end again, strain"
    adjuster, lift = (_adjusted(row, wire, column) for column in ("take_up_mm", "lift_slack_mm"))
    said = [] if adjuster is None else [f"{adjuster[0]}, {adjuster[1]}"]
    if lift is not None:
        where = "" if said else f"{lift[0]}, "
        said.append(f"{where}to lift let out {lift[1]}")
    return "; ".join(said) or NONE


def _still_up(row: RowFacts, wire: dict[str, Any]) -> str:
    if wire["left_posts_up"] is None:
        return NONE
    up = int(wire["left_posts_up"])
    posts = sum(clip["wire_id"] == wire["wire_id"] for clip in row.clips)
    return f"{up} of {posts} posts, {row.units.height(wire['left_up_m'])}" if up else "nowhere"


def _reads(row: RowFacts, wire: dict[str, Any]) -> str:
    mine = [check for check in row.checks if check["wire_id"] == wire["wire_id"]]
    if not mine:
        return NONE
    check = min(mine, key=lambda one: abs(one["temperature_c"] - row.stringing_c))
    read = row.units.reading
    return f"{read.bare(check['gauge_n'])}\N{EN DASH}{read.bare(check['gauge_stuck_n'])}"


def _lifted(row: RowFacts, wire: dict[str, Any]) -> str:
    mine = [lift for lift in row.lifts if lift["wire_id"] == wire["wire_id"] and lift["use"] == "lifted"]
    most = [lift["tension_n"] for lift in mine if not pd.isna(lift["tension_n"])]
    return row.units.force(max(most)) if most else NONE
