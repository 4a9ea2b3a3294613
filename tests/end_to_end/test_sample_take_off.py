"""The take-off of the sample estate: hours, quantities and loads all found again, every piece once."""

import re
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from wirerun import load_config, plan_config
from wirerun.arrays import numbered, words
from wirerun.errors import Faults
from wirerun.read.catalogue import read_catalogue
from wirerun.records import Plan
from wirerun.result.to_build import zone_rows
from wirerun.result.zone_table import zone_table
from wirerun.stages.work.zones import sum_up

from tests.unit.stages.takeoff.test_materials import check_sums, cut
from tests.unit.stages.work.test_programme import tasks_of
from tests.unit.stages.written_down import Planned, materials_of, work_of


@pytest.fixture(scope="module")
def plan() -> Plan:
    return plan_config(load_config(Path(__file__).parents[2] / "configs" / "encosta_nova.toml"))


def test_every_row_is_on_the_list_in_its_zone_once(plan: Plan) -> None:
    """Two hillside blocks: every row's wire, post and clip is on the list, in its zone, once."""
    known, _ = read_catalogue(None, Path(), Faults())
    item = {wire.id: f"wire {wire.diameter_mm} mm high tensile" for wire in plan.config.wires}
    fixing = {"staple": "formed staple 4 x 40, ringed", "two-way": "closing clip, two screws"}
    wires = plan.wires.assign(wire_item=plan.wires["wire_id"].map(item))
    clips = plan.clips.assign(fixing=plan.clips["clip"].map(fixing), pieces=4 + plan.clips.index % 3)
    rows = plan.rows.assign(zone_id=plan.rows["block_id"] + "-Z" + plan.rows["row_id"].str[5:7])
    planned = Planned(
        rows=rows,
        posts=plan.posts.assign(post_item=plan.posts["kind"].map({"end": "pine end post 120 x 2800"})),
        clips=clips,
        wires=wires,
        adjusters=plan.adjusters,
        coils=cut(wires, rows, known),
    )
    materials, zones, _ = materials_of(planned, plan.config, known)
    check_sums(materials, zones)
    by_item = materials.set_index("item")
    assert by_item.loc["pine end post 120 x 2800", "quantity"] == 2 * len(plan.rows)
    # A run is cut at most a millimetre too long.
    run_out, lines = plan.wires["run_out_m"].sum(), plan.wires["lines"].sum()
    assert run_out <= materials["length_m"].sum() <= run_out + 0.001 * lines
    screws = 2 * clips.loc[clips["clip"] == "two-way", "pieces"].sum()
    assert by_item.loc["screw 5 x 45", "quantity"] == screws > 0
    gear = plan.adjusters["kind"].notna().sum()
    assert by_item.loc["crimp sleeve", "quantity"] == 2 * lines - gear


@pytest.fixture(scope="module")
def made(plan: Plan) -> dict[str, pd.DataFrame]:
    """Return work, zones, coils, materials and programme of the plan."""
    settings = plan.config.work
    rows = pd.DataFrame(plan.rows.drop(columns="geometry"))
    rows = rows.reset_index(drop=True)
    coils = plan.coils
    parts = (plan.posts, plan.clips, plan.wires, plan.adjusters, coils)
    planned = Planned(rows, *parts)
    work, _ = work_of(planned, plan.catalogue, settings)
    hours = work.groupby("row_id")["hours"].sum().reindex(rows["row_id"]).to_numpy()
    zone, names = numbered(rows["zone_id"].to_numpy(dtype=object))
    zones, _ = sum_up(zone_rows(rows), hours, zone, words(name for (name,) in names), settings)
    _, materials, _ = materials_of(planned, plan.config, plan.catalogue)
    programme = tasks_of(work, rows.set_index("row_id")["zone_id"], materials, coils, settings, plan.catalogue)
    return {
        "rows": rows,
        "work": work,
        "zones": zone_table(zones),
        "coils": coils,
        "materials": materials,
        "got": programme,
    }


def test_estate_keeps_hours_and_quantities(plan: Plan, made: dict[str, pd.DataFrame]) -> None:
    got, zones = made["got"], made["zones"].set_index("zone_id")
    assert got.groupby("zone_id")["hours"].sum().to_numpy() == pytest.approx(zones["hours"].sort_index(), rel=1e-12)
    assert got.groupby("zone_id")["days"].sum().to_numpy() == pytest.approx(zones["days"].sort_index(), rel=1e-12)
    assert (got.groupby("zone_id")["step"].agg(list).map(lambda steps: steps == list(range(1, len(steps) + 1)))).all()
    quantity = got.groupby("task")["quantity"].sum()
    posts = plan.posts["kind"].value_counts()
    lines = int(plan.wires["lines"].sum())
    fitted = int(plan.adjusters["kind"].notna().sum())
    assert quantity["set end posts"] == posts["end"] == 2 * len(plan.rows)
    assert quantity["set posts"] == posts["intermediate"]
    assert quantity["end staples"] == 2 * lines
    assert quantity["fix one end"] == lines
    assert quantity["tie off"] == lines - fitted
    staples = {item.id for item in plan.catalogue.fixings if item.kind in ("formed staple", "plain staple")}
    assert quantity["drive home"] == plan.clips.loc[plan.clips["fixing"].isin(staples), "pieces"].sum() > 0
    assert quantity["tension"] == lines
    assert (
        quantity["join"] == len(made["coils"]) - len(made["coils"].drop_duplicates(["row_id", "wire_id", "line"])) > 0
    )
    assert quantity["carry coils"] == len(made["coils"].drop_duplicates(["zone_id", "coil_id"]))
    assert quantity["run out"] == pytest.approx(plan.wires["run_out_m"].sum())
    assert quantity["clips and staples"] == plan.clips["pieces"].sum()
    assert quantity["adjusters"] == fitted
    assert quantity["check"] == len(plan.rows)


def test_estate_loads_every_piece_and_every_coil_once(plan: Plan, made: dict[str, pd.DataFrame]) -> None:
    """Read the texts back: pieces by zone and item are those of the zones' materials, coils those with cuts there."""
    loads = made["got"].dropna(subset="materials")
    found: dict[tuple[str, str], float] = {}
    coils: set[tuple[str, str, float]] = set()
    for zone, text in zip(loads["zone_id"], loads["materials"], strict=True):
        for load in text.split("; "):
            wire = re.fullmatch(r".+: coils? (.+)", load)
            if wire:
                names = re.findall(r"(C\d+)(?: \(open, (\d+\.\d\d) m run off\))?", wire[1])
                coils |= {(zone, name, float(run_off or 0.0)) for name, run_off in names}
                continue
            many, item = load.split(" x ", 1)
            assert (zone, item) not in found
            found[zone, item] = float(many)
    pieces = made["materials"][~made["materials"]["kind"].isin(["tool", "wire"])]
    assert found == pieces.set_index(["zone_id", "item"])["quantity"].to_dict()

    zone_of = dict(zip(made["rows"]["row_id"], made["rows"]["zone_id"], strict=True))
    first: dict[tuple[str, str], float] = {}
    for coil, row, mark in made["coils"][["coil_id", "row_id", "from_m"]].itertuples(index=False):
        key = (zone_of[row], coil)
        first[key] = min(first.get(key, np.inf), mark)
    assert coils == {(zone, coil, round(mark, 2)) for (zone, coil), mark in first.items()}
    assert any(mark > 0.0 for _, _, mark in coils)
    assert {post.id for post in plan.catalogue.posts} & {item for _, item in found}
