"""The map of blocks with wires of their own, and of a plan from which a block is missing."""

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from wirerun import plan_config
from wirerun.records import Plan
from wirerun.write.html_map import write_map

if TYPE_CHECKING:
    from tests.browser.conftest import Sheet
    from tests.conftest import Estate

LEFT = [(-70.0, -14.0), (-8.0, -17.0), (-5.0, 15.0), (-66.0, 18.0)]
RIGHT = [(6.0, -15.0), (58.0, -12.0), (55.0, 21.0), (8.0, 17.0)]
FAR = [(300.0, -15.0), (350.0, -12.0), (345.0, 16.0), (302.0, 14.0)]
THREE: list[dict[str, Any]] = [
    {"id": "fruiting", "kind": "fixed", "height_m": 0.9, "diameter_mm": 3.15, "tension_n": 1000.0},
    {"id": "lower", "kind": "foliage", "height_m": 1.2, "lines": 2},
    {"id": "upper", "kind": "foliage", "height_m": 1.5, "lines": 2},
]
TWO: list[dict[str, Any]] = [
    {"id": "cordon", "kind": "fixed", "height_m": 1.4, "held_by": "clip", "tension_n": 800.0},
    {"id": "lower", "kind": "fixed", "height_m": 0.45, "tension_n": 200.0},
]
OWN = {"B01": ["fruiting", "lower", "upper"], "B02": ["lower", "cordon"]}


@pytest.fixture
def plan(make_estate: Callable[..., "Estate"]) -> Plan:
    three = make_estate(B01=LEFT, B02=RIGHT, B03=FAR)
    return plan_config(three.config(wires=THREE, blocks={"B02": {"wires": TWO}}))


@pytest.fixture
def sheet(plan: Plan, tmp_path: Path, open_map: Callable[..., "Sheet"]) -> "Sheet":
    write_map(plan, tmp_path / "map.html")
    return open_map(tmp_path / "map.html")


def heads(sheet: "Sheet", table: str) -> list[str]:
    return [head.strip() for head in sheet.page.locator(f"#card table.{table} thead th").all_inner_texts()]


@pytest.mark.parametrize("block_id", ["B01", "B02"])
def test_cards_have_the_wires_of_their_block(sheet: "Sheet", plan: Plan, block_id: str) -> None:
    row = plan.rows.loc[plan.rows["block_id"] == block_id, "row_id"].iloc[1]
    wires = plan.wires[plan.wires["row_id"] == row].set_index("wire_id")
    sheet.find(row)
    assert heads(sheet, "wires") == ["Wire", *OWN[block_id]]
    run_out = next(line for line in sheet.lines("wires") if line[0].startswith("Run out"))
    assert [float(cell) for cell in run_out[1:]] == [round(wires.loc[wire, "run_out_m"], 2) for wire in OWN[block_id]]
    # A line for each wire in the profile, and the legend of its bars.
    assert sheet.page.locator("#profile-drawing path[stroke-dasharray]").count() == len(OWN[block_id])
    assert f"from left: {', '.join(OWN[block_id])}." in sheet.page.inner_text("#profile-note")
    sheet.page.click("#card details.every-post summary")
    assert [head.split(",")[0] for head in heads(sheet, "profile")[4:]] == OWN[block_id]
    posts = plan.posts[(plan.posts["row_id"] == row) & (plan.posts["kind"] == "intermediate")]
    sheet.find(posts["post_id"].iloc[2])
    for table in ("planned", "states", "held"):
        assert [line[0] for line in sheet.lines(table)] == OWN[block_id]
    assert sheet.trouble() == []


def test_the_page_knows_each_wires_height_in_that_block(
    sheet: "Sheet", plan: Plan, inside: Callable[[str], dict[str, Any]]
) -> None:
    """The wire called lower is at 1.2 m in one block and at 0.45 m in the other."""
    wires = inside(sheet.page.content())["wires"]
    for number, height in enumerate((1.2, 0.45)):
        assert plan.blocks["block_id"].iloc[number] == f"B0{number + 1}"
        mine = [wire["height_m"] for wire in wires if wire["id"] == "lower" and number in wire["blocks"]]
        assert mine == [height]


def test_totals_tell_two_wires_of_one_name_apart_and_add_up(sheet: "Sheet", plan: Plan) -> None:
    wires = plan.wires.assign(block_id=plan.wires["row_id"].str[:3])
    by_block = wires.groupby(["block_id", "wire_id"])["run_out_m"].sum()
    told = {label: int(value.strip("m")) for label, value in sheet.facts("#totals").items() if label.startswith("Wire")}
    assert told == {
        "Wirelower(0.45m)inB02": round(by_block["B02", "lower"]),
        "Wirefruiting(0.90m)": round(by_block["B01", "fruiting"]),
        "Wirelower(1.20m,2lines)inB01": round(by_block["B01", "lower"]),
        "Wirecordon(1.40m)": round(by_block["B02", "cordon"]),
        "Wireupper(1.50m,2lines)": round(by_block["B01", "upper"]),
    }
    here = {label: value for label, value in sheet.facts("#in-view").items() if label.startswith("Wire")}
    assert [int(value.strip("m")) for value in here.values()] == list(told.values())
    sheet.find("B02")
    block = {label: value for label, value in sheet.facts("#card .facts").items() if label.startswith("Wire")}
    assert block == {
        "Wirelower": f"{round(by_block['B02', 'lower'])}m",
        "Wirecordon": f"{round(by_block['B02', 'cordon'])}m",
    }


def test_the_panel_names_the_missing_block_and_why(
    sheet: "Sheet", estate_map: Path, open_map: Callable[..., "Sheet"]
) -> None:
    assert sheet.page.is_visible("#missing")
    told = sheet.page.inner_text("#missing-list")
    assert told.startswith("B03")
    assert "ground.tif: the block lies off the raster" in told
    assert sheet.facts("#totals")["Blocks"] == "2"
    assert not open_map(estate_map).page.is_visible("#missing")
