"""Blocks with wires of their own: each is planned as it would be alone, and every total is the sum of the two.

B01 has three wires, B02 two others; one name they share stands for a wire at another height and of other thickness.
"""

import re
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import geopandas as gpd
import pandas as pd
import pytest
from pandas.testing import assert_frame_equal
from pypdf import PdfReader
from wirerun import Plan, plan_config
from wirerun.write.html_map.backdrop import Backdrop
from wirerun.write.html_map.classes import ROW_CLASSES
from wirerun.write.html_map.data import map_data

if TYPE_CHECKING:
    from tests.conftest import Estate

LEFT = [(-70.0, -14.0), (-8.0, -17.0), (-5.0, 15.0), (-66.0, 18.0)]
RIGHT = [(6.0, -15.0), (58.0, -12.0), (55.0, 21.0), (8.0, 17.0)]
THREE: list[dict[str, Any]] = [
    {"id": "fruiting", "kind": "fixed", "height_m": 0.9, "diameter_mm": 3.15, "tension_n": 1000.0},
    {"id": "lower", "kind": "foliage", "height_m": 1.2, "lines": 2},
    {"id": "upper", "kind": "foliage", "height_m": 1.5, "lines": 2},
]
TWO: list[dict[str, Any]] = [
    {"id": "cordon", "kind": "fixed", "height_m": 1.4, "held_by": "clip", "tension_n": 800.0},
    {"id": "lower", "kind": "fixed", "height_m": 0.45, "diameter_mm": 2.0, "tension_n": 200.0},
]
OWN = """
[[wires]]
id = "fruiting"
kind = "fixed"
height_m = 0.9
diameter_mm = 3.15
tension_n = 1000.0
[[wires]]
id = "lower"
kind = "foliage"
height_m = 1.2
lines = 2
[[wires]]
id = "upper"
kind = "foliage"
height_m = 1.5
lines = 2
[[blocks.B02.wires]]
id = "cordon"
kind = "fixed"
held_by = "clip"
height_m = 1.4
tension_n = 800.0
[[blocks.B02.wires]]
id = "lower"
kind = "fixed"
height_m = 0.45
diameter_mm = 2.0
tension_n = 200.0
"""


@pytest.fixture
def both(make_estate: Callable[..., "Estate"]) -> "Estate":
    return make_estate(B01=LEFT, B02=RIGHT)


@pytest.fixture
def plan(both: "Estate") -> Plan:
    return plan_config(both.config(wires=THREE, blocks={"B02": {"wires": TWO}}))


def of_block(plan: Plan, name: str, block_id: str) -> pd.DataFrame:
    """Return what a table says of one block's rows."""
    table = plan.tables[name]
    rows = plan.rows.loc[plan.rows["block_id"] == block_id, "row_id"]
    return table[table["row_id"].isin(rows)].reset_index(drop=True)


def test_each_block_is_planned_as_it_would_be_alone(make_estate: Callable[..., "Estate"], plan: Plan) -> None:
    for block_id, corners, wires in (("B01", LEFT, THREE), ("B02", RIGHT, TWO)):
        alone = plan_config(make_estate(**{block_id: corners}).config(wires=wires))
        for name in ("posts", "spans", "clips", "sections", "wires", "lifts", "adjusters", "tension_check"):
            assert_frame_equal(of_block(plan, name, block_id), getattr(alone, name).reset_index(drop=True))
        assert set(of_block(plan, "wires", block_id)["wire_id"]) == {wire["id"] for wire in wires}


def test_what_is_ordered_is_the_sum_of_the_two(make_estate: Callable[..., "Estate"], plan: Plan) -> None:
    """Posts, clips, fixings, ends and adjusters to the piece, wire to the millimetre; coils are shared."""
    alone = [
        plan_config(make_estate(**{block_id: corners}).config(wires=wires)).materials
        for block_id, corners, wires in (("B01", LEFT, THREE), ("B02", RIGHT, TWO))
    ]
    kinds = ("post", "clip", "staple", "fastener", "wire end", "adjuster")
    added = pd.concat(alone)
    for column, of in (("quantity", added["kind"].isin(kinds)), ("length_m", added["kind"] == "wire")):
        wanted = added[of].groupby(["kind", "item"])[column].sum()
        lines = plan.materials.set_index(["kind", "item"])[column].reindex(wanted.index)
        assert lines.to_numpy() == pytest.approx(wanted.to_numpy(), abs=1e-9)
    assert not set(plan.materials["item"]) ^ set(added["item"])


def test_every_metre_is_in_every_total(plan: Plan) -> None:
    run_out = plan.wires["run_out_m"].sum()
    runs = int(plan.wires["lines"].sum())
    coils = plan.coils
    assert (coils["to_m"] - coils["from_m"]).sum() == pytest.approx(run_out, abs=0.001 * runs)
    ends = plan.materials[plan.materials["kind"].isin(["staple", "wire end"])].set_index("item")["quantity"]
    assert ends["crimp sleeve"] == 2 * runs - plan.adjusters["kind"].notna().sum()
    programme = plan.programme.groupby("task")["quantity"].sum()
    assert programme["run out"] == pytest.approx(run_out, abs=0.01)
    assert programme["tension"] == runs
    by_zone = plan.zone_materials[plan.zone_materials["kind"] == "wire"]["quantity"].sum()
    assert by_zone == pytest.approx(plan.materials["length_m"].sum(), abs=1e-6)
    wires = plan.wires_of_blocks()
    assert [(one.wire_id, one.wire.height_m, one.block_ids) for one in wires] == [
        ("lower", 0.45, ("B02",)),
        ("fruiting", 0.9, ("B01",)),
        ("lower", 1.2, ("B01",)),
        ("cordon", 1.4, ("B02",)),
        ("upper", 1.5, ("B01",)),
    ]
    assert sum(plan.lines_of(plan.wires, one)["run_out_m"].sum() for one in wires) == pytest.approx(run_out)


def test_the_map_knows_which_wires_a_row_has(plan: Plan) -> None:
    data = map_data(plan, Backdrop((), (), (), 0.0))
    wires = plan.wires.assign(block_id=plan.wires["row_id"].str[:3])
    by_block = wires.groupby(["block_id", "wire_id"])["run_out_m"].sum()
    assert [(one["id"], one["blocks"], one["run_out_m"]) for one in data["wires"]] == [
        ("lower", [1], round(by_block["B02", "lower"], 1)),
        ("fruiting", [0], round(by_block["B01", "fruiting"], 1)),
        ("lower", [0], round(by_block["B01", "lower"], 1)),
        ("cordon", [1], round(by_block["B02", "cordon"], 1)),
        ("upper", [0], round(by_block["B01", "upper"], 1)),
    ]
    # Nothing is let down where there is no foliage wire, though one of the other block has the name.
    classes = {block["id"]: block["row_classes"] for block in data["blocks"]}
    count = (plan.rows["block_id"] == "B02").sum()
    assert classes["B02"] == {name: count if name == "fixed" else 0 for name in ROW_CLASSES}
    assert classes["B01"]["fixed"] == 0


def test_a_wire_of_one_block_that_the_catalogue_has_not(both: "Estate") -> None:
    odd = [{"id": "thick", "kind": "fixed", "height_m": 1.0, "diameter_mm": 5.5}]
    plan = plan_config(both.config(wires=THREE, blocks={"B02": {"wires": odd}}))
    told = plan.findings[plan.findings["code"] == "not-in-catalogue"]
    assert told["place"].tolist() == ["thick"]
    line = plan.materials.set_index("item").loc["5.5 mm wire, not in the catalogue"]
    assert line["length_m"] == pytest.approx(of_block(plan, "wires", "B02")["run_out_m"].sum(), abs=0.05)


def test_a_wire_that_no_block_has_is_in_no_total(make_estate: Callable[..., "Estate"]) -> None:
    plan = plan_config(make_estate(B02=RIGHT).config(wires=THREE, blocks={"B02": {"wires": TWO}}))
    assert {one.wire_id for one in plan.wires_of_blocks()} == {"lower", "cordon"}


def test_all_of_it_by_the_command(both: "Estate", plan: Plan, inside: Callable[[str], dict[str, Any]]) -> None:
    done = both.command("plan", more=OWN)
    assert done.exit_code == 0, done.stderr
    # The sum of what the schedule says of each row, to the millimetre.
    by_id = plan.wires["run_out_m"].round(3).groupby(plan.wires["wire_id"]).sum()
    assert both.record["counts"]["wire_m"] == {name: pytest.approx(metres, abs=1e-6) for name, metres in by_id.items()}
    assert [wire["id"] for wire in both.record["config"]["blocks"]["B02"]["wires"]] == ["cordon", "lower"]
    # The terminal tells two wires of one name apart.
    said = re.findall(r"^ *([\d,]+) +m of wire (.*?) *$", done.stderr, re.MULTILINE)
    words = {words: int(metres.replace(",", "")) for metres, words in said}
    in_block = {block: of_block(plan, "wires", block).groupby("wire_id")["run_out_m"].sum() for block in ("B01", "B02")}
    assert words == {
        "'lower' at 0.45 m in B02 (1 line of 2 mm)": round(in_block["B02"]["lower"]),
        "'fruiting' (1 line of 3.15 mm)": round(by_id["fruiting"]),
        "'lower' at 1.20 m in B01 (2 lines of 2.5 mm)": round(in_block["B01"]["lower"]),
        "'cordon' (1 line of 2.5 mm)": round(by_id["cordon"]),
        "'upper' (2 lines of 2.5 mm)": round(by_id["upper"]),
    }
    out = both.folder / "out"
    spans = gpd.read_file(out / "gis" / "plan.gpkg", layer="spans")
    assert set(spans.groupby(spans["row_id"].str[:3])["wire_id"].unique().map(lambda ids: tuple(sorted(ids)))) == {
        ("fruiting", "lower", "upper"),
        ("cordon", "lower"),
    }
    # Each zone's sheet has its block's wires at their own heights.
    told: dict[str, set[str]] = {"B01": set(), "B02": set()}
    for page in PdfReader(out / "cards" / "field_cards.pdf").pages:
        text = page.extract_text()
        found = re.search(r"Zone (B0\d)-Z\d+", text)
        if found:
            told[found[1]] |= set(re.findall(r"^\w+, [\d.]+ mm\W+\d\.\d\d", text, re.MULTILINE))
    heights = {block: {line.split()[-1] for line in lines} for block, lines in told.items()}
    assert {"1.40", "0.45"} <= heights["B02"]
    assert "1.20" in heights["B01"] - heights["B02"]
    assert "1.40" not in heights["B01"]
    page = (out / "map.html").read_text()
    assert len(inside(page)["wires"]) == 5
