"""The tables of a plan, taken apart by row and by zone once, so that each card finds its own lines at once."""

from dataclasses import dataclass
from typing import Any, Final

import pandas as pd

from wirerun.records import Plan
from wirerun.settings import RowSettings, WireSettings
from wirerun.tables import as_lines
from wirerun.units import Units, units_of

Lines = list[dict[str, Any]]
_MOST_CHECKS: Final = 4  # temperatures that find room beside each other


@dataclass(frozen=True, slots=True)
class RowFacts:
    """What the plan says of one row. Empty cells are None. `wires` from the lowest up; checks from the coldest."""

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
    units: Units

    @property
    def new_posts(self) -> Lines:
        """Return the posts that are to be set."""
        return [post for post in self.posts if post["standing"] != "yes"]

    @property
    def new_clips(self) -> Lines:
        """Return the clips and staples that are to be fixed, or of which nobody knows."""
        return [clip for clip in self.clips if not clip["pieces"] or clip["pieces"] > clip["standing_pieces"]]


@dataclass(frozen=True, slots=True)
class ZoneFacts:
    """What the plan says of one zone. `zone` is empty where the plan has no such zone.

    `post_length_m` is that of each post of the catalogue; `looks` what a look on site may take; `layout` how rows
    were laid.
    """

    zone_id: str
    zone: dict[str, Any]
    rows: list[RowFacts]
    materials: Lines
    programme: Lines
    units: Units
    post_length_m: dict[str, float]
    looks: list["Swap"]
    layout: RowSettings


@dataclass(frozen=True, slots=True)
class Swap:
    """What goes on where a post that was looked at turns out to need a two-way clip.

    Attributes
    ----------
    fixing : str or None
        The one that the block's two-way posts have for the same wires; None where it has none.
    wires : tuple of str
        Wires that would take it.
    pieces : int
        As many as it takes if every such post of the zone needs it.
    spare : int or None
        Spares of it that are ordered in all; None where it is not in the order.
    """

    fixing: str | None
    wires: tuple[str, ...]
    pieces: int
    spare: int | None


def take_apart(plan: Plan) -> list[ZoneFacts]:
    """Return the facts of every zone that rows are in, in the order of zones, rows in theirs."""
    by_row = {
        name: _by(getattr(plan, name), "row_id")
        for name in ("posts", "clips", "sections", "wires", "coils", "adjusters", "lifts")
    }
    by_row["checks"] = _by(_near_stringing(plan), "row_id")
    units, swaps = units_of(plan.config.output.units), _two_way_fixings(plan)
    spares = dict(zip(plan.materials["item"], plan.materials["spare_quantity"], strict=True))
    bought = {item.id: item.bought_as for item in plan.catalogue.fixings}
    lengths = {item.id: item.length_m for item in plan.catalogue.posts}
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
            stringing_c = plan.config.states.stringing_c
            cards.append(RowFacts(row=row, settings=wires, stringing_c=stringing_c, units=units, **lines))
        looks = [
            Swap(fixing, names, pieces, _whole(spares.get(bought.get(fixing or "", fixing or ""))))
            for fixing, names, pieces in _looked_at(cards, swaps)
        ]
        zone = zones.get(zone_id, [{}])[0]
        load, tasks = materials.get(zone_id, []), programme.get(zone_id, [])
        facts.append(ZoneFacts(zone_id, zone, cards, load, tasks, units, lengths, looks, plan.config.rows))
    return sorted(facts, key=lambda zone: zone.zone_id)


def _by(frame: pd.DataFrame, key: str) -> dict[str, Lines]:
    """Return the lines of a table by a column's value; geometry is left out."""
    plain = pd.DataFrame(frame.drop(columns="geometry", errors="ignore"))
    lines = as_lines(plain.astype(object).where(plain.notna(), None))
    found: dict[str, Lines] = {}
    for line in lines:
        found.setdefault(line[key], []).append(line)
    return found


def _whole(value: float | None) -> int | None:
    return None if value is None else int(value)


def _two_way_fixings(plan: Plan) -> dict[tuple[str, str], str]:
    """Return what the two-way posts of a block have most of, by block and wire."""
    clips = plan.clips[(plan.clips["clip"] == "two-way") & plan.clips["fixing"].notna()]
    block = clips["row_id"].map(plan.rows.set_index("row_id")["block_id"])
    counts = clips.groupby([block, "wire_id", "fixing"], observed=True).size()
    return {(str(key[0]), str(key[1])): str(key[2]) for key in counts.sort_values(kind="stable").index}


def _looked_at(
    cards: list[RowFacts], swaps: dict[tuple[str, str], str]
) -> list[tuple[str | None, tuple[str, ...], int]]:
    """Return fixings that a look on site may take: each with its wires, and how many if all are needed."""
    found: dict[str | None, dict[str, int]] = {}
    for card in cards:
        for clip in card.new_clips:
            if clip["look_on_site"] == "yes":
                fixing = swaps.get((card.row["block_id"], clip["wire_id"]))
                wires = found.setdefault(fixing, {})
                wires[clip["wire_id"]] = wires.get(clip["wire_id"], 0) + clip["pieces"]
    return [(fixing, tuple(wires), sum(wires.values())) for fixing, wires in found.items()]


def _near_stringing(plan: Plan) -> pd.DataFrame:
    """Return the tension check at the temperatures nearest to the stringing one."""
    check = plan.tension_check
    stringing = plan.config.states.stringing_c
    nearest = sorted(check["temperature_c"].unique().tolist(), key=lambda celsius: (abs(celsius - stringing), celsius))
    return check[check["temperature_c"].isin(nearest[:_MOST_CHECKS])]


def _wires_of(plan: Plan, block_id: str) -> dict[str, WireSettings]:
    """Return the block's wires by name, from the lowest up."""
    wires = plan.config.for_block(block_id).wires
    return {wire.id: wire for wire in sorted(wires, key=lambda wire: (wire.height_m, wire.id))}
