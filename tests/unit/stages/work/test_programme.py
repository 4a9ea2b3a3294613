"""The programme of a small plan by hand."""

import datetime as dt
from dataclasses import replace

import numpy as np
import pandas as pd
from wirerun.arrays import words
from wirerun.model.materials import ZoneLoads
from wirerun.model.row_work import RowWork
from wirerun.result.material_tables import programme_table
from wirerun.rules.order_of_work import TASKS
from wirerun.settings import Catalogue, WorkSettings
from wirerun.settings.catalogue import PostItem, WireEndItem
from wirerun.stages.work.programme import list_tasks

from tests.unit.stages.written_down import nothing

SOURCED = {"source": "made up for a test", "date": dt.date(2025, 1, 31)}
POST_SIZES = {
    "material": "steel",
    "length_m": 2.5,
    "depth_m": 0.6,
    "width_mm": 80.0,
    "pull_out_n": 900.0,
    "minutes": 1.0,
}
CATALOGUE = Catalogue(
    posts=(
        PostItem.model_validate({"id": "end post", "kind": "end", **POST_SIZES, **SOURCED}),
        PostItem.model_validate({"id": "line post", "kind": "intermediate", **POST_SIZES, **SOURCED}),
    ),
    wire_ends=(
        WireEndItem.model_validate({"id": "staple", "use": "end staple", "pieces": 1, **SOURCED}),
        WireEndItem.model_validate({"id": "sleeve", "use": "tie-off", "pieces": 1, **SOURCED}),
    ),
)
WORK = WorkSettings(people=4, day_hours=8.0)
ZONE_OF_ROW = pd.Series({"B01-R001": "B01-Z01", "B01-R002": "B01-Z01", "B01-R003": "B01-Z02"})
ROW_WORK = pd.DataFrame(
    [
        ("B01-R001", 2, "set end posts", 2.0, "post", 1.0, 1, "driver"),
        ("B01-R001", 4, "end staples", 4.0, "wire end", 0.5, 1, "hammer, pliers"),
        ("B01-R001", 5, "carry coils", 2.0, "coil", 0.1, 1, ""),
        ("B01-R001", 6, "run out", 100.5, "m", 1.5, 2, "reel"),
        ("B01-R001", 9, "tension", 3.0, "line", 0.25, 2, ""),
        ("B01-R002", 2, "set end posts", 2.0, "post", 2.0, 1, "auger, driver"),
        ("B01-R002", 3, "clips and staples", 12.0, "piece", 0.25, 1, ""),
        ("B01-R002", 6, "run out", 200.0, "m", 2.5, 2, "reel"),
        ("B01-R003", 3, "clips and staples", 6.0, "piece", 0.75, 1, "hammer"),
        ("B01-R003", 5, "carry coils", 2.0, "coil", 0.125, 1, "cart"),
        ("B01-R003", 6, "run out", 300.0, "m", 3.0, 2, "reel"),
    ],
    columns=["row_id", "step", "task", "quantity", "unit", "hours", "people", "tools"],
)
ZONE_MATERIALS = pd.DataFrame(
    [
        ("B01-Z01", "end post", "post", 4.0, "piece"),
        ("B01-Z01", "hammer", "tool", 1.0, "piece"),
        ("B01-Z01", "open clip", "clip", 12.0, "piece"),
        ("B01-Z01", "staple", "staple", 8.0, "piece"),
        ("B01-Z01", "thin wire", "wire", 250.5, "m"),
        ("B01-Z01", "5 mm wire, not in the catalogue", "wire", 50.0, "m"),
        ("B01-Z02", "staple", "staple", 6.0, "piece"),
        ("B01-Z02", "thin wire", "wire", 300.0, "m"),
    ],
    columns=["zone_id", "item", "kind", "quantity", "unit"],
)
COILS = pd.DataFrame(
    [
        ("C001", "thin wire", "B01-R001", 0.0, 100.5),
        ("C001", "thin wire", "B01-R003", 100.5, 250.5),
        ("C001", "thin wire", "B01-R003", 250.5, 300.0),
        ("C002", "thin wire", "B01-R002", 0.0, 150.0),
        ("C003", "thin wire", "B01-R003", 0.0, 100.5),
    ],
    columns=["coil_id", "wire_item", "row_id", "from_m", "to_m"],
).assign(with_line=np.nan)


def tasks_of(
    done: pd.DataFrame,
    zone_of_row: pd.Series,
    loads: pd.DataFrame,
    coils: pd.DataFrame,
    work: WorkSettings,
    catalogue: Catalogue,
) -> pd.DataFrame:
    """Return the programme of tables as a person writes them down."""
    zones = sorted(set(zone_of_row))
    rows = pd.DataFrame({"row_id": zone_of_row.index})
    step = {task.name: at for at, task in enumerate(TASKS, start=1)}
    number = {name: at for at, name in enumerate(zones)}
    value = RowWork(
        row=pd.Index(rows["row_id"]).get_indexer(done["row_id"]),
        step=np.array([step[task] for task in done["task"]], dtype=np.int64),
        **{name: done[name].to_numpy(dtype=object) for name in ("task", "unit", "tools")},
        **{name: done[name].to_numpy(dtype=np.float64) for name in ("quantity", "hours")},
        people=done["people"].to_numpy(dtype=np.int64),
    )
    taken = ZoneLoads(
        zone=np.array([number[zone] for zone in loads["zone_id"]], dtype=np.int64),
        **{name: loads[name].to_numpy(dtype=object) for name in ("kind", "item", "unit")},
        quantity=loads["quantity"].to_numpy(dtype=np.float64),
    )
    cut = replace(nothing(), rows=rows, coils=coils.assign(wire_id="lower", line=range(len(coils)))).cut()
    zone = np.array([number[zone_of_row[row]] for row in rows["row_id"]], dtype=np.int64)
    return programme_table(list_tasks(value, zone, taken, cut, work, catalogue), words(zones))


def test_two_zones_by_hand() -> None:
    """The staple serves at the wire's end and as a clip: it is loaded for the first of the tasks that the zone has."""
    got = tasks_of(ROW_WORK, ZONE_OF_ROW, ZONE_MATERIALS, COILS, WORK, CATALOGUE)
    brought = "thin wire: coils C001, C002"
    other = "50.0 m of 5 mm wire, not in the catalogue"
    clips = "12 x open clip; 8 x staple"
    loosely = "Drive staples loosely: the wire has to go through."
    into = "Into its clips, post by post."
    strain = "Strain only when the wire is in every clip."
    coils = "thin wire: coils C001 (open, 100.50 m run off), C003"
    expected = [
        ("B01-Z01", 1, "set end posts", 4.0, "post", 3.0, 1, 3.0 / 32.0, "4 x end post", "driver, auger", None),
        ("B01-Z01", 2, "clips and staples", 12.0, "piece", 0.25, 1, 0.25 / 32.0, clips, None, loosely),
        ("B01-Z01", 3, "end staples", 4.0, "wire end", 0.5, 1, 0.5 / 32.0, None, "hammer, pliers", None),
        ("B01-Z01", 4, "carry coils", 2.0, "coil", 0.1, 1, 0.1 / 32.0, brought, None, None),
        ("B01-Z01", 5, "run out", 300.5, "m", 4.0, 2, 4.0 / 32.0, other, "reel", into),
        ("B01-Z01", 6, "tension", 3.0, "line", 0.25, 2, 0.25 / 32.0, None, None, strain),
        ("B01-Z02", 1, "clips and staples", 6.0, "piece", 0.75, 1, 0.75 / 32.0, "6 x staple", "hammer", loosely),
        ("B01-Z02", 2, "carry coils", 2.0, "coil", 0.125, 1, 0.125 / 32.0, coils, "cart", None),
        ("B01-Z02", 3, "run out", 300.0, "m", 3.0, 2, 3.0 / 32.0, None, "reel", into),
    ]
    assert got.astype(object).where(got.notna(), None).to_numpy().tolist() == [list(line) for line in expected]


def test_a_zone_is_told_how_many_lines_share_a_walk() -> None:
    """Of four lines of zone 1 two pairs are run out in one walk each; zone 2 is told nothing."""
    pairs = pd.DataFrame(
        {"coil_id": "C009", "wire_item": "thin wire", "row_id": "B01-R001", "from_m": 0.0, "to_m": 1.0}, index=range(4)
    )
    coils = pd.concat([COILS, pairs.assign(with_line=[2.0, 1.0, 4.0, 3.0])], ignore_index=True)
    note = tasks_of(ROW_WORK, ZONE_OF_ROW, ZONE_MATERIALS, coils, WORK, CATALOGUE).set_index(["zone_id", "task"])[
        "note"
    ]
    assert note["B01-Z01", "run out"] == "Into its clips, post by post. 2 pairs of lines in one walk, from two coils."
    assert note["B01-Z02", "run out"] == "Into its clips, post by post."
    assert pd.isna(note["B01-Z01", "end staples"])


def test_part_coils_of_the_stock_are_told_by_their_length() -> None:
    """C002 is the first part coil of the stock; C001 comes open to the second zone, whatever it was."""
    part = COILS["coil_id"].map({"C001": 1, "C002": 0, "C003": -1})
    coils = COILS.assign(part=part, coil_m=COILS["coil_id"].map({"C001": 300.0, "C002": 212.5, "C003": 648.0}))
    got = tasks_of(ROW_WORK, ZONE_OF_ROW, ZONE_MATERIALS, coils, WORK, CATALOGUE)
    brought = got[got["task"] == "carry coils"]["materials"].tolist()
    assert brought == [
        "thin wire: coils C001P (part coil of 300.00 m), C002P (part coil of 212.50 m)",
        "thin wire: coils C001P (open, 100.50 m run off), C003",
    ]


def test_nothing_to_load_and_nothing_to_do() -> None:
    got = tasks_of(ROW_WORK, ZONE_OF_ROW, ZONE_MATERIALS[:0], COILS[:0], WORK, Catalogue())
    assert got["materials"].isna().all()
    assert len(got) == 9
    assert tasks_of(ROW_WORK[:0], ZONE_OF_ROW[:0], ZONE_MATERIALS[:0], COILS[:0], WORK, Catalogue()).empty
