"""The tables of a plan, taken apart by row and by zone once, so that each card finds its own lines at once."""

from dataclasses import dataclass
from typing import Any

import pandas as pd

from wirerun.records import Plan
from wirerun.settings import WireSettings

Lines = list[dict[str, Any]]


@dataclass(frozen=True, slots=True)
class RowFacts:
    """What the plan says of one row. Empty cells are None. `wires` from the lowest up."""

    row: dict[str, Any]
    posts: Lines
    clips: Lines
    sections: Lines
    wires: Lines
    coils: Lines
    adjusters: Lines
    lifts: Lines
    checks: Lines
    settings: dict[str, WireSettings]
    stringing_c: float


@dataclass(frozen=True, slots=True)
class ZoneFacts:
    """What the plan says of one zone. `zone` is empty where the plan has no such zone."""

    zone_id: str
    zone: dict[str, Any]
    rows: list[RowFacts]
    materials: Lines
    programme: Lines


def take_apart(plan: Plan) -> list[ZoneFacts]:
    """Return the facts of every zone that rows are in, in the order of zones, rows in theirs."""
    by_row = {
        name: _by(getattr(plan, name), "row_id")
        for name in ("posts", "clips", "sections", "wires", "coils", "adjusters", "lifts")
    }
    by_row["checks"] = _by(_near_stringing(plan), "row_id")
    settings = {block: _wires_of(plan, block) for block in dict.fromkeys(plan.rows["block_id"].tolist())}
    zones, materials, programme = (
        _by(getattr(plan, name), "zone_id") for name in ("zones", "zone_materials", "programme")
    )
    facts = []
    for zone_id, rows in _by(plan.rows.assign(zone_id=plan.rows["zone_id"].fillna("")), "zone_id").items():
        cards = []
        for row in rows:
            lines = {name: table.get(row["row_id"], []) for name, table in by_row.items()}
            wires = settings[row["block_id"]]
            place = {wire: number for number, wire in enumerate(wires)}
            lines["wires"] = sorted(lines["wires"], key=lambda line: place.get(line["wire_id"], len(place)))
            cards.append(RowFacts(row=row, settings=wires, stringing_c=plan.config.states.stringing_c, **lines))
        zone = zones.get(zone_id, [{}])[0]
        facts.append(ZoneFacts(zone_id, zone, cards, materials.get(zone_id, []), programme.get(zone_id, [])))
    return sorted(facts, key=lambda zone: zone.zone_id)


def _by(frame: pd.DataFrame, key: str) -> dict[str, Lines]:
    """Return the lines of a table by a column's value; geometry is left out."""
    plain = pd.DataFrame(frame.drop(columns="geometry", errors="ignore"))
    lines = plain.astype(object).where(plain.notna(), None).to_dict("records")
    found: dict[str, Lines] = {}
    for line in lines:
        found.setdefault(line[key], []).append(line)
    return found


def _near_stringing(plan: Plan) -> pd.DataFrame:
    """Return the tension check at the two temperatures nearest to the stringing one."""
    check = plan.tension_check
    stringing = plan.config.states.stringing_c
    nearest = sorted(check["temperature_c"].unique().tolist(), key=lambda celsius: (abs(celsius - stringing), celsius))
    return check[check["temperature_c"].isin(nearest[:2])]


def _wires_of(plan: Plan, block_id: str) -> dict[str, WireSettings]:
    """Return the block's wires by name, from the lowest up."""
    wires = plan.config.for_block(block_id).wires
    return {wire.id: wire for wire in sorted(wires, key=lambda wire: (wire.height_m, wire.id))}
