"""The back of a zone's sheet: its rows, how its wires are set and checked, and what to do at posts marked "?"."""

from collections.abc import Iterable
from typing import Any, Final

from wirerun.rules.order_of_work import STRAIN
from wirerun.settings import WireSettings
from wirerun.units import NONE
from wirerun.write.cards.facts import Swap, ZoneFacts
from wirerun.write.cards.grid import Head, grid
from wirerun.write.cards.letters import BODY, MAIN, wrap
from wirerun.write.cards.pen import WIDTH
from wirerun.write.cards.row_card import STYLES, row_group
from wirerun.write.cards.sheets import ROOM, Block, Group, text_block

# Readings of rows that differ by no more are told as one (choice: half of what a hand reads off a spring balance).
_SAME_N: Final = 1.0
_Reading = tuple[float, float, float]  # tension, gauge where the wire slides, gauge where it sticks [N]


def back_groups(facts: ZoneFacts) -> list[Group]:
    """Return a zone's rows and what belongs to them all, as roomy as fits on one page."""
    ends = [Group("", (_strain_block(facts), *_settings_table(facts)), gap=1.0), *_looks(facts)]
    for style in STYLES:
        groups = [*(row_group(card, facts, style) for card in facts.rows), *ends]
        if sum(group.height + group.gap for group in groups) <= ROOM:
            break
    return groups


def _strain_block(facts: ZoneFacts) -> Block:
    """Return when to strain, and how much wire to leave at each end before."""
    tails: dict[str, list[str]] = {}
    for wire in facts.rows[0].settings.values():
        tails.setdefault(facts.units.wire(wire.tail_m), []).append(wire.id)
    alone = len(tails) == 1
    said = ", ".join(tail if alone else f"{tail} ({', '.join(wires)})" for tail, wires in tails.items())
    words = f"{STRAIN} Leave {said} of wire beyond each end post."
    return text_block(wrap(words, MAIN, WIDTH, bold=True), MAIN, bold=True)


def _settings_table(facts: ZoneFacts) -> list[Block]:
    """Return what each wire is and is set to, and what the gauge must read at several temperatures."""
    units = facts.units
    warmths = sorted({check["temperature_c"] for card in facts.rows for check in card.checks})
    heads = (
        Head("wire", 30.0, size=BODY),
        Head(f"held (lifted), {units.height.sign}", 28.0, size=BODY),
        Head(f"at {units.warmth(facts.rows[0].stringing_c)}", 17.0, size=BODY),
        *(Head(f"at {units.warmth(warmth)}", 111.0 / len(warmths), size=BODY) for warmth in warmths),
    )
    wires = facts.rows[0].settings.values()
    lines = [line for settings in wires for line in _settings_lines(facts, settings, warmths)]
    title = f"Set the wires, {units.force.sign}: the tension, then the two readings that the gauge must lie between"
    return grid(title, heads, lines)


def _settings_lines(facts: ZoneFacts, wire: WireSettings, warmths: list[float]) -> Iterable[tuple[str, ...]]:
    units = facts.units
    lifts = (lift for card in facts.rows for lift in card.lifts if lift["wire_id"] == wire.id)
    heights = {lift["height_m"] for lift in lifts}
    held = units.height.bare(wire.height_m)
    if heights:
        held += f" ({', '.join(units.height.bare(height) for height in sorted(heights))})"
    set_at = units.force.bare(wire.tension_n)
    for rows, cells in _alike(facts, wire.id, warmths):
        name = f"{wire.id}, {units.thick(wire.diameter_mm)}"
        if len(rows) < len(facts.rows):
            name += f": {', '.join(rows)}"
        yield (name, held, set_at, *(_check(facts, cell) for cell in cells))


def _alike(facts: ZoneFacts, wire_id: str, warmths: list[float]) -> list[tuple[list[str], list[_Reading | None]]]:
    """Return rows that are checked alike, and by what: their least and greatest readings."""
    found: list[tuple[list[str], list[_Reading | None]]] = []
    for card in facts.rows:
        checks = {check["temperature_c"]: check for check in card.checks if check["wire_id"] == wire_id}
        mine = [_reading(checks.get(warmth)) for warmth in warmths]
        name = card.row["row_id"].rsplit("-", 1)[-1]
        for rows, cells in found:
            if all(_near(one, other) for one, other in zip(cells, mine, strict=True)):
                rows.append(name)
                cells[:] = [_widened(one, other) for one, other in zip(cells, mine, strict=True)]
                break
        else:
            found.append(([name], mine))
    return found


def _reading(check: dict[str, Any] | None) -> _Reading | None:
    if check is None or check["gauge_n"] is None or check["gauge_stuck_n"] is None:
        return None
    return check["tension_n"], check["gauge_n"], check["gauge_stuck_n"]


def _near(one: _Reading | None, other: _Reading | None) -> bool:
    if one is None or other is None:
        return one is other
    return all(abs(a - b) <= _SAME_N for a, b in zip(one[1:], other[1:], strict=True))


def _widened(one: _Reading | None, other: _Reading | None) -> _Reading | None:
    if one is None or other is None:
        return one
    return one[0], min(one[1], other[1]), max(one[2], other[2])


def _check(facts: ZoneFacts, reading: _Reading | None) -> str:
    if reading is None:
        return NONE
    units = facts.units
    tension, slides, sticks = reading
    return f"{units.force.bare(tension)}: {units.reading.bare(slides)}\N{EN DASH}{units.reading.bare(sticks)}"


def _looks(facts: ZoneFacts) -> list[Group]:
    """Return what to do at the posts marked "?"; nothing where the zone has none."""
    if not facts.looks:
        return []
    below = _lifts_below(facts)
    look = (
        "When the wires are strained, lay the string line from this wire's clip on the post before to its clip on the "
        f"post after. The wire will lift in the cold if this post's clip is further below the string than {below}."
    )
    lines = [
        look,
        *(_swap(swap) for swap in facts.looks),
        "Stand to the side: the wire is strained and springs up when its clip is off.",
        "Tick the box when you have looked; write X where you changed the clips, and give the sheet back.",
    ]
    blocks = [text_block(['Posts marked "?": look'], MAIN, bold=True)]
    blocks += [text_block([line], BODY) for words in lines for line in wrap(f"\N{BULLET} {words}", BODY, WIDTH)]
    return [Group("", tuple(blocks), gap=0.0)]


def _lifts_below(facts: ZoneFacts) -> str:
    """How far below its neighbours' line a clip may lie, in words: the least of the zone's rows for each wire."""
    least: dict[str, float] = {}
    looked = {wire for swap in facts.looks for wire in swap.wires}
    for card in facts.rows:
        for wire in card.wires:
            dip = wire["lifts_below_mm"]
            if wire["wire_id"] in looked and dip is not None:
                least[wire["wire_id"]] = min(dip, least.get(wire["wire_id"], dip))
    said = {wire: facts.units.small(dip) for wire, dip in least.items()}
    if len(set(said.values())) == 1:
        return next(iter(said.values()))
    return ", ".join(f"{dip} ({wire})" for wire, dip in said.items()) or "a finger's breadth"


def _swap(swap: Swap) -> str:
    """What to put on, how many to take along, and of how many."""
    fixing = swap.fixing or "a two-way clip of the catalogue (the plan has none here)"
    spare = "none is ordered beyond the plan" if not swap.spare else f"of the {swap.spare} spares ordered for all zones"
    wires = ", ".join(swap.wires)
    return (
        f"If it is, change that post's clips for {wires}, at all their heights, to {fixing}, wire UNDER: set the new "
        f"one, bring the wire under it, take the old one off. Take {swap.pieces} along, {spare}."
    )
