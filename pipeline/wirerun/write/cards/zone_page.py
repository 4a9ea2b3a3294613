"""The first sheet of a zone: its figures, its map, what to do in which order, and what to load."""

from itertools import zip_longest
from typing import Any, Final

from wirerun.records import Plan
from wirerun.rules.order_of_work import STRAIN
from wirerun.units import Units, fixed
from wirerun.wording import many, plural
from wirerun.write.cards.facts import Lines, ZoneFacts
from wirerun.write.cards.grid import Head, grid
from wirerun.write.cards.letters import BIG, BODY, MAIN, TICK, wrap
from wirerun.write.cards.pen import WIDTH
from wirerun.write.cards.setting import post_words, stand_words
from wirerun.write.cards.sheets import ROOM, Block, Group, text_block
from wirerun.write.cards.zone_map import ZonePlace, map_block

_STAND: Final = "Eye protection on; nobody in line with it."
_NOTHING_M: Final = 0.05  # of a coil, as it is written
_MAP_HIGH: Final = (42.0, 150.0)  # where what to load is on the same sheet, and where it is not


def zone_groups(plan: Plan, facts: ZoneFacts) -> list[Group]:
    """Return the sheet of a zone; what to load goes to another sheet where there is no room."""
    head = [
        text_block([f"Zone {facts.zone_id or 'without a name'}"], BIG, bold=True, after=0.5),
        text_block(wrap(_figures(facts), MAIN, WIDTH), MAIN, after=1.5),
    ]
    programme, materials, coils = [*_programme(facts), *_posts(facts)], _materials(facts), _coils(facts)
    room = ROOM - sum(block.height for block in (*head, *programme))
    loads = sum(block.height for block in (*materials, *coils))
    place = ZonePlace(plan, facts)
    drawn = map_block(place, room - loads if room - loads > _MAP_HIGH[0] else min(room, _MAP_HIGH[1]))
    first = Group(facts.zone_id, (*head, *([drawn] if drawn else []), *programme), gap=0.0)
    return [first, *(Group("", tuple(blocks), gap=0.0) for blocks in (materials, coils) if blocks)]


def _figures(facts: ZoneFacts) -> str:
    rows = [card.row for card in facts.rows]
    zone = facts.zone
    two_way = sum(row["two_way_posts"] for row in rows)
    stand = sum(len(card.posts) - len(card.new_posts) for card in facts.rows)
    parts = [
        rows_named([row["row_id"] for row in rows]),
        many(len(rows), "row"),
        facts.units.far(sum(row["length_m"] for row in rows)),
        f"{many(sum(row['posts'] for row in rows), 'post')}{stand_words(stand)}, {two_way} two-way",
    ]
    if zone:
        people, hours, days = zone["people"], fixed(zone["hours"], 1), fixed(zone["days"], 1)
        parts.append(f"{hours} hours of one, or {days} days of {people} people")
    if zone.get("slope_class"):
        parts.append(f"slope {zone['slope_class']}")
    return "  \N{MIDDLE DOT}  ".join(parts)


def rows_named(row_ids: list[str]) -> str:
    """Return the rows of a zone by their first and last."""
    return row_ids[0] if len(row_ids) == 1 else f"{row_ids[0]} to {row_ids[-1]}"


def _programme(facts: ZoneFacts) -> list[Block]:
    heads = (
        Head("", 6, size=BODY),
        Head("task", 43, size=BODY),
        Head("how much", 34, size=BODY),
        Head("hours of one", 26, "right", BODY),
        Head("people at once", 28, "right", BODY),
        Head("tools", 64, size=BODY),
    )
    programme = facts.programme
    lines = [
        (
            TICK,
            f"{line['step']} {line['task']}",
            _much(facts.units, line),
            fixed(line["hours"], 1),
            str(line["people"]),
            line["tools"] or "",
        )
        for line in programme
    ]
    notes = " ".join(f"{line['step']}: {line['note']}" for line in programme if line["note"] not in {None, STRAIN})
    return [
        *grid("What to do, in this order", heads, lines),
        text_block(wrap(notes, BODY, WIDTH), BODY),
        text_block([f"{STRAIN} {_STAND}"], MAIN, bold=True, after=1.0),
    ]


def _posts(facts: ZoneFacts) -> list[Block]:
    words = post_words(facts)
    return [text_block(wrap(words, BODY, WIDTH), BODY, after=1.5)] if words else []


def _materials(facts: ZoneFacts) -> list[Block]:
    """Return what to load, two items to a line; tools stand beside their tasks."""
    items = [(line["item"], _much(facts.units, line)) for line in facts.materials if line["kind"] != "tool"]
    items += [(f"{swap.fixing}, for ?", f"{swap.pieces} spares") for swap in facts.looks if swap.fixing]
    half = (len(items) + 1) // 2
    pairs = zip_longest(items[:half], items[half:], fillvalue=("", ""))
    heads = (Head("item", 65, size=BODY), Head("how much", 28, "right", BODY)) * 2
    return grid("To load, spares not counted", heads, [(*one, *two) for one, two in pairs])


def _much(units: Units, line: dict[str, Any]) -> str:
    """Return how much of something, with its unit."""
    shown, unit = units.quantity(line["quantity"], line["unit"])
    counted = unit == line["unit"] and unit != "m"
    return f"{shown} {plural(2 if float(line['quantity']) != 1.0 else 1, unit) if counted else unit}"


def _coils(facts: ZoneFacts) -> list[Block]:
    """Return the coils the zone is cut from, two to a line: metres run off, and what becomes of it."""
    cuts: dict[str, dict[str, Lines]] = {}
    for card in facts.rows:
        for cut in card.coils:
            cuts.setdefault(cut["wire_item"], {}).setdefault(cut["coil_id"], []).append(cut)
    lines = []
    for item, coils in sorted(cuts.items()):
        cells = [_coil(facts.units, coil, coils[coil]) for coil in sorted(coils)]
        pairs = zip_longest(cells[::2], cells[1::2], fillvalue=("", ""))
        lines += [("" if place else item, *one, *two) for place, (one, two) in enumerate(pairs)]
    pair = (Head(f"coil, {facts.units.wire.sign} run off", 32, size=BODY), Head("comes; then", 39, size=BODY))
    return grid("Coils for this zone", (Head("wire", 44, size=BODY), *pair, *pair), lines)


def _coil(units: Units, coil: str, cuts: Lines) -> tuple[str, str]:
    """Return a coil with the metres run off it, and how it comes and what becomes of it."""
    begin_m, end_m = min(cut["from_m"] for cut in cuts), max(cut["to_m"] for cut in cuts)
    whole_m, remainder_m = cuts[0]["coil_m"], cuts[0]["remainder_m"]
    left = units.wire(whole_m - end_m)
    if whole_m - end_m > remainder_m + _NOTHING_M:
        then = f"{left} go on"
    elif remainder_m < _NOTHING_M:
        then = "used up"
    else:
        then = f"{left} to {'keep' if cuts[0]['remainder_usable'] == 'yes' else 'scrap'}"
    ran = f"{coil} {units.wire.bare(begin_m)}\N{EN DASH}{units.wire.bare(end_m)}"
    return ran, f"{'open' if begin_m > 0.0 else _fresh(cuts[0])}; {then}"


def _fresh(cut: dict[str, Any]) -> str:
    """Return how a coil comes that has not been begun: whole, or a part coil of the stock, with its tag."""
    if cut["from_stock"] != "part":
        return "whole"
    return f"part coil {cut['stock_tag']}" if cut["stock_tag"] else "part coil"
