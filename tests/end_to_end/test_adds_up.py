"""Every total of the sample estate, wherever a person may read it: schedule, workbook, map, cards, layers, record."""

import json
from collections.abc import Callable
from decimal import Decimal
from pathlib import Path
from typing import Any

import geopandas as gpd
import openpyxl
import pandas as pd
import pytest
from wirerun import load_config, plan_config
from wirerun.api import Plan
from wirerun.records import as_written
from wirerun.tables import as_lines
from wirerun.wording import number
from wirerun.write.cards.facts import take_apart

ROOT = Path(__file__).parents[2]
CSV = dict[str, pd.DataFrame]
Unpacked = Callable[[str], dict[str, Any]]
Sheets = dict[str, list[tuple[Any, ...]]]


@pytest.fixture(scope="module")
def plan() -> Plan:
    return plan_config(load_config(ROOT / "configs" / "encosta_nova.toml"))


@pytest.fixture(scope="module")
def folder(plan: Plan, tmp_path_factory: pytest.TempPathFactory) -> Path:
    return plan.write(tmp_path_factory.mktemp("sums") / "plan", only=("schedule", "gis", "map"))


@pytest.fixture(scope="module")
def csv(folder: Path) -> CSV:
    return {path.stem: pd.read_csv(path, encoding="utf-8-sig") for path in (folder / "schedule").glob("*.csv")}


@pytest.fixture(scope="module")
def book(folder: Path) -> Sheets:
    """Return the lines of each sheet, as a program sees them that does not reckon."""
    read = openpyxl.load_workbook(folder / "schedule" / "order.xlsx", data_only=True)
    return {sheet.title: list(sheet.iter_rows(values_only=True)) for sheet in read}


def hundredths(values: pd.Series) -> int:
    """Return the sum of a column that is written with two decimals, exactly."""
    return int(sum(Decimal(f"{value:.2f}") for value in values.dropna()) * 100)


def test_hours_by_row_task_zone_and_block(csv: CSV, folder: Path) -> None:
    """Exactly: they are counted in hundredths. The map shows them to a tenth, rounded as everything is."""
    rows, zones, programme = csv["rows"], csv["zones"], csv["programme"]
    whole = hundredths(rows["hours"])
    assert whole == hundredths(zones["hours"]) == hundredths(programme["hours"])
    by_zone = {zone: hundredths(tasks) for zone, tasks in programme.groupby("zone_id")["hours"]}
    assert by_zone == {zone: hundredths(hours) for zone, hours in zones.groupby("zone_id")["hours"]}
    assert by_zone == {zone: hundredths(hours) for zone, hours in rows.groupby("zone_id")["hours"]}
    layer = gpd.read_file(folder / "gis" / "plan.gpkg", layer="zones")
    assert layer["hours"].tolist() == zones["hours"].tolist()
    labour = csv["costs"].set_index("part").loc["labour"]
    assert Decimal(f"{labour['quantity']:.3f}") == Decimal(whole) / 100
    assert json.loads((folder / "run.json").read_bytes())["counts"]["hours"] == whole / 100


def test_the_map_and_the_cards_round_the_same_hours_alike(csv: CSV, plan: Plan, folder: Path, inside: Unpacked) -> None:
    data = inside((folder / "map.html").read_text("utf-8"))
    shown = next(one for one in data["zones"]["lines"] if one["name"] == "hours")
    cards = take_apart(as_written(plan))
    hours = csv["zones"].set_index("zone_id")["hours"]
    for zone, on_map, facts in zip(data["zones"]["id"], shown["values"], cards, strict=True):
        assert f"{on_map:.1f}" == number(facts.zone["hours"], 1) == number(hours[zone], 1)
    tasks = pd.Series(data["zones"]["tasks"]["hours"]["values"])
    assert tasks.map("{:.1f}".format).tolist() == [number(value, 1) for value in csv["programme"]["hours"]]


def test_money_by_item_kind_and_block_in_schedule_and_workbook(csv: CSV, book: Sheets) -> None:
    materials, costs, blocks = csv["materials"], csv["costs"].set_index("part"), csv["block_costs"]
    for kind, lines in materials.groupby("kind"):
        assert hundredths(lines["total"]) == hundredths(costs["total"][costs.index == kind]), kind
    assert hundredths(costs["total"].drop("sum")) == hundredths(costs["total"].loc[["sum"]])
    for part, lines in blocks.groupby("part"):
        assert hundredths(lines["total"]) == hundredths(costs["total"][costs.index == part]), part
    for _, lines in blocks.groupby("block_id", dropna=False):
        mine = lines.set_index("part")["total"]
        assert hundredths(mine.drop("sum")) == hundredths(mine[["sum"]])

    ordered = {line[0]: line for line in book["Order"] if line[1]}
    for item in as_lines(materials):
        line = ordered[item["item"]]
        assert (*line[4:6], line[7], line[9]) == (item["quantity"], item["spare_quantity"], item["pack"], item["packs"])
        assert line[12] == ("your own" if pd.isna(item["total"]) else item["total"])
    every = next(line for line in book["Order"] if line[0] == "All")
    assert hundredths(pd.Series([every[12]])) == hundredths(materials["total"])
    priced = {line[0]: line[5] for line in book["Costs"]}
    for name, total in costs["total"].drop("sum").to_dict().items():
        assert priced[str(name)] == ("not priced" if pd.isna(total) else total), name
    assert priced["Sum of all that is priced"] == costs.loc["sum", "total"]
    sums = (
        blocks[blocks["part"] == "sum"]
        .assign(block_id=blocks["block_id"].fillna("whole order"))
        .set_index("block_id")["total"]
    )
    told = {line[0]: line[8] for line in book["Blocks"] if line[0] in sums.index and isinstance(line[8], float)}
    assert told == sums.to_dict()


def test_the_workbook_reckons_to_the_cent(
    csv: CSV, folder: Path, book: Sheets, reckon: Callable[..., dict[str, Any]]
) -> None:
    """Formulas as another library works them out, against the schedule."""
    found = reckon(folder / "schedule" / "order.xlsx", ["Order", "Costs", "Blocks"])
    costs = csv["costs"].set_index("part")["total"]
    for row, line in enumerate(book["Costs"], start=1):
        if line[0] in costs.index:
            assert found[f"Costs!F{row}"] == (
                "not priced" if pd.isna(costs[line[0]]) else pytest.approx(costs[line[0]])
            )
    for row, line in enumerate(book["Order"], start=1):
        if line[1] and line[12] != "Total":
            assert found[f"Order!M{row}"] == (line[12] if isinstance(line[12], str) else pytest.approx(line[12]))
            assert found[f"Order!J{row}"] == line[9]
    (whole,) = (row for row, line in enumerate(book["Costs"], start=1) if line[0] == "Sum of all that is priced")
    assert found[f"Costs!F{whole}"] == pytest.approx(costs["sum"], abs=1e-6)
    every = [row for row, line in enumerate(book["Blocks"], start=1) if line[0] == "All"]
    assert found[f"Blocks!I{every[0]}"] == pytest.approx(costs["sum"], abs=1e-6)
    assert found[f"Blocks!J{every[1]}"] == pytest.approx(csv["season"]["hours_a_year"].sum(), abs=1e-6)


def test_counts_of_things_in_schedule_workbook_map_and_record(
    csv: CSV, book: Sheets, folder: Path, inside: Unpacked
) -> None:
    data = inside((folder / "map.html").read_text("utf-8"))
    counts = json.loads((folder / "run.json").read_bytes())["counts"]
    rows, posts, coils = csv["rows"], csv["posts"], csv["coils"]
    assert len(rows) == counts["rows"] == data["totals"]["rows"]
    assert (
        len(posts) == rows["posts"].sum() == csv["zones"]["posts"].sum() == counts["posts"] == data["totals"]["posts"]
    )
    assert number(rows["length_m"].sum(), 1) == number(data["totals"]["row_m"], 1)
    assert len(csv["adjusters"]) == data["totals"]["adjusters"]
    ends = [line for line in book["Ends"] if line[1] in ("start", "far")]
    assert len(ends) == 2 * len(rows)
    wire = csv["materials"][csv["materials"]["kind"] == "wire"]
    assert coils["coil_id"].nunique() == wire["quantity"].sum() == counts["coils"]
    listed = {line[0]: line for line in book["Coils"] if line[0] in set(coils["coil_id"])}
    assert len(listed) == counts["coils"]
    assert sum(line[5] for line in listed.values()) == len(coils)
    run_out = csv["wires"].groupby("wire_id")["run_out_m"].sum()
    for one in data["wires"]:
        assert number(run_out[one["id"]], 1) == number(one["run_out_m"], 1)
        assert counts["wire_m"][one["id"]] == pytest.approx(run_out[one["id"]], abs=5e-4)


def test_the_yearly_work_adds_up_and_is_of_a_size_that_is_known(csv: CSV, folder: Path, plan: Plan) -> None:
    """20 to 35 h/ha and year for all tucking in where wires are moved by hand: Heftsysteme im Rebbau, 10 March 2012."""
    season = csv["season"]
    assert (season["hours_a_year"] - season["hours_once"] * season["times_a_year"]).abs().max() < 1e-9
    assert json.loads((folder / "run.json").read_bytes())["counts"]["season_hours"] == pytest.approx(
        season["hours_a_year"].sum()
    )
    wires = csv["wires"][csv["wires"]["wire_id"] != "fruiting"]
    for task in ("lift", "let down"):
        metres = season.loc[season["task"] == task, "quantity"].sum()
        assert metres == pytest.approx(wires["run_out_m"].sum(), abs=0.03)
    adjusters = season.loc[season["task"] == "let out adjusters", "quantity"].sum()
    assert adjusters == csv["adjusters"]["kind"].notna().sum()
    assert 20.0 < season["hours_a_year"].sum() / plan.blocks["area_ha"].sum() < 35.0
