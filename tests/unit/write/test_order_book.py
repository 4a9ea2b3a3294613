"""The workbook of the order: read by another library than the one that writes it, and reckoned by a third."""

import zipfile
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import openpyxl
import pandas as pd
import pytest
from openpyxl import Workbook
from openpyxl.cell import Cell
from openpyxl.worksheet.worksheet import Worksheet
from wirerun.errors import Fault
from wirerun.missing import MissingBlock
from wirerun.records import Plan
from wirerun.write.order_book import write_order

Reckon = Callable[..., dict[str, Any]]
SHEETS = ["Notes", "Order", "Costs", "Blocks", "Ends", "Coils"]
RECKONED = ["Order", "Costs", "Blocks"]
NASTY = ("=1+1", "+1", "-1", "@SUM(A1)", '=HYPERLINK("http://x","y")', "https://x", "12", "A\x07B\ud800")


@pytest.fixture(scope="module")
def path(plan: Plan, tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("order") / "schedule" / "order.xlsx"
    write_order(plan, path)
    return path


@pytest.fixture(scope="module")
def book(path: Path) -> Workbook:
    """Return the workbook with what the writer says that its formulas come to."""
    return openpyxl.load_workbook(path, data_only=True)


def cells(sheet: Worksheet) -> Iterator[Cell]:
    return (cell for row in sheet.iter_rows() for cell in row if cell.value is not None)


def line(sheet: Worksheet, first: str) -> dict[str, Any]:
    """Return the line that starts with some text, by the heads of its columns, and "row"."""
    heads: list[Any] = []
    for row in sheet.iter_rows():
        values = [cell.value for cell in row]
        if values[0] == first:
            return dict(zip(heads, values, strict=False)) | {"row": row[0].row}
        if values[0] and values[1] and row[0].font.bold:
            heads = values
    raise AssertionError(first)


def test_every_sheet_prints_on_a4_across_with_its_heads_on_each_page(book: Workbook) -> None:
    assert book.sheetnames == SHEETS
    for sheet in book:
        setup = sheet.page_setup
        assert (int(setup.paperSize), setup.orientation, int(setup.fitToHeight)) == (9, "landscape", 0)
        assert sheet.sheet_properties.pageSetUpPr.fitToPage
        assert sheet.print_area
        assert "encosta-nova, plan" in sheet.oddFooter.left.text
        # A width of 1 is seven pixels, 96 to the inch; fitted to 277 mm, letters of 10 points keep 7 or more.
        wide_mm = sum(dimension.width * 7.0 * 25.4 / 96.0 for dimension in sheet.column_dimensions.values())
        assert 10.0 * 277.0 / wide_mm >= 7.0, sheet.title
    for name in ("Order", "Costs", "Ends", "Coils"):
        sheet = book[name]
        head = int(str(sheet.print_title_rows).replace("$", "").split(":")[0])
        assert sheet.cell(head, 1).font.bold
        assert sheet.freeze_panes == f"B{head + 1}"


def test_an_item_has_all_that_a_merchant_is_asked(book: Workbook) -> None:
    clip = line(book["Order"], "screw-fixed clip")
    row = clip.pop("row")
    assert {str(head): value for head, value in clip.items()} == {
        "Item": "screw-fixed clip",
        "Kind": "clip",
        "For": "foliage wires",
        "Unit": "piece",
        "Needed": 40,
        "Spare": 2,
        "On hand (fill in)": None,
        "In a pack": 50,
        "Quoted: in a pack (fill in)": None,
        "Packs to order": 1,
        "Price of one": 0.35,
        "Quoted: price of a pack (fill in)": None,
        "Total": 17.5,
    }
    for column in "GIL":
        assert book["Order"][f"{column}{row}"].fill.fgColor.rgb != "00000000"
        assert book["Order"][f"{column}{row}"].border.left.style
    assert line(book["Order"], "2.5 mm wire")["For"] == "lower; 112 m, 4 kg"
    assert line(book["Order"], "hammer")["Total"] == "your own"


def test_suppliers_stand_in_the_order_of_their_kinds_each_with_its_sum(book: Workbook) -> None:
    first = [cell.value for cell in book["Order"]["A"] if cell.value]
    groups = [first.index(name) for name in ("Ana & Sons", "fittings", "tools")]
    assert groups == sorted(groups)
    sums = {name: line(book["Order"], name)["Total"] for name in ("Sum of Ana & Sons", "Sum of fittings", "All")}
    assert sums == {"Sum of Ana & Sons": 95.0, "Sum of fittings": 17.5, "All": 112.5}


def test_the_formulas_come_to_what_is_written_beside_them(path: Path, book: Workbook, reckon: Reckon) -> None:
    found = reckon(path, RECKONED)
    formulas = openpyxl.load_workbook(path)
    counted = 0
    for name in RECKONED:
        for cell in cells(formulas[name]):
            if cell.data_type == "f":
                written = book[name][cell.coordinate].value
                value = found[f"{name}!{cell.coordinate}"]
                assert value == (written if isinstance(written, str) else pytest.approx(written, abs=1e-9)), cell
                counted += 1
    assert counted > 30


def test_the_sheet_of_costs_says_what_costs_csv_says(plan: Plan, book: Workbook) -> None:
    costs = plan.costs.set_index("part")["total"]
    for part, total in costs.drop("sum").items():
        shown = line(book["Costs"], str(part))["Total"]
        assert shown == ("not priced" if np.isnan(total) else total), part
    assert line(book["Costs"], "Sum of all that is priced")["Total"] == costs["sum"]
    assert line(book["Costs"], "tool hire")["Unit"] == "in all"
    assert line(book["Costs"], "For each ha")["Total"] == pytest.approx(costs["sum"] / 0.432)


def test_a_quote_takes_the_place_of_the_catalogue(path: Path, book: Workbook, reckon: Reckon) -> None:
    """Clips: 42 wanted, 5 on hand, boxes of 20 at 6.40: two boxes. Wire: the coil at 90. An hour at 20; tax of 10 %."""
    clip, wire, hammer = (line(book["Order"], item)["row"] for item in ("screw-fixed clip", "2.5 mm wire", "hammer"))
    costs = {part: line(book["Costs"], part)["row"] for part in ("labour", "tool hire", "freight", "Tax on all, in %")}
    filled = {f"Order!G{clip}": 5, f"Order!I{clip}": 20, f"Order!L{clip}": 6.4, f"Order!L{wire}": 90.0}
    filled |= {f"Order!L{hammer}": 12.0, f"Costs!E{costs['labour']}": 20.0, f"Costs!E{costs['tool hire']}": 7.5}
    filled |= {f"Costs!E{costs['Tax on all, in %']}": 10.0}
    found = reckon(path, RECKONED, filled)
    assert found[f"Order!J{clip}"] == 2.0
    assert found[f"Order!M{clip}"] == pytest.approx(12.8)
    assert found[f"Order!M{wire}"] == pytest.approx(90.0)
    total = {part: found[f"Costs!F{line(book['Costs'], part)['row']}"] for part in ("wire", "clip", "labour")}
    assert total == {"wire": pytest.approx(90.0), "clip": pytest.approx(12.8), "labour": pytest.approx(10.0)}
    # The sample plan has no line for tools, so that the hammer is in the order only; freight is 2.5 % of 102.80.
    assert found[f"Costs!F{costs['freight']}"] == pytest.approx(2.57)
    priced = 90.0 + 12.8 + 10.0 + 3.0 + 7.5 + 2.57
    whole = priced + round(0.05 * priced, 2)
    assert found[f"Costs!F{line(book['Costs'], 'Sum of all that is priced')['row']}"] == pytest.approx(whole, abs=0.011)
    taxed = found[f"Costs!F{line(book['Costs'], 'Sum with tax')['row']}"]
    assert taxed == pytest.approx(1.1 * whole, abs=0.02)


def test_a_pack_price_alone_or_a_pack_size_alone_will_do(path: Path, book: Workbook, reckon: Reckon) -> None:
    row = line(book["Order"], "screw-fixed clip")["row"]
    by_price = reckon(path, ["Order"], {f"Order!L{row}": 15.0})
    assert (by_price[f"Order!J{row}"], by_price[f"Order!M{row}"]) == (1.0, 15.0)
    by_size = reckon(path, ["Order"], {f"Order!I{row}": 20.0})  # three boxes at 0.35 a piece
    assert (by_size[f"Order!J{row}"], by_size[f"Order!M{row}"]) == (3.0, pytest.approx(21.0))
    enough = reckon(path, ["Order"], {f"Order!G{row}": 60.0})
    assert (enough[f"Order!J{row}"], enough[f"Order!M{row}"]) == (0.0, 0.0)


def test_blocks_add_up(plan: Plan, book: Workbook) -> None:
    block, order, whole = (line(book["Blocks"], name) for name in ("B01", "whole order", "All"))
    assert [block["Materials"], block["Labour"], block["All else"]] == [30.47, 0.0, 5.47]
    assert (block["Sum"], order["Sum"], whole["Sum"]) == (35.94, 88.29, 124.23)
    assert block["Sum by ha"] == pytest.approx(35.94 / 0.432)
    assert block["Hours a year for the foliage wires"] == whole["Hours a year for the foliage wires"] == 0.15
    assert (whole["Rows"], whole["Posts"]) == (len(plan.rows), len(plan.posts))


def test_text_of_users_stays_text(plan: Plan, tmp_path: Path) -> None:
    """An item, a supplier or a block may be called anything."""
    plan = replace(
        plan,
        materials=plan.materials.assign(item=NASTY[:3], supplier=NASTY[3:6]),
        coils=plan.coils.assign(wire_item=pd.Series(NASTY[-1:] * len(plan.coils), dtype="object")),
        block_costs=plan.block_costs.assign(block_id=plan.block_costs["block_id"].replace("B01", NASTY[0])),
        blocks=plan.blocks.assign(block_id=NASTY[0]),
        missing=(MissingBlock(NASTY[0], (Fault("a.toml", "", "no ground"),)),),
    )
    path = tmp_path / "order.xlsx"
    write_order(plan, path)
    book = openpyxl.load_workbook(path)
    order = {str(cell.value) for cell in book["Order"]["A"] if cell.value}
    assert set(NASTY[:6]) <= order
    for name, column in (("Order", "A"), ("Blocks", "A"), ("Coils", "B"), ("Notes", "A")):
        for cell in book[name][column]:
            assert cell.data_type in ("s", "n"), cell
            if isinstance(cell.value, str) and cell.value.startswith(("=", "+", "-", "@")):
                assert cell.quotePrefix, cell
    with zipfile.ZipFile(path) as parts:
        assert "hyperlink" not in "".join(parts.read(name).decode() for name in parts.namelist())


def test_notes_say_what_is_missing_unpriced_and_invented(plan: Plan, book: Workbook, tmp_path: Path) -> None:
    said = [str(cell.value) for cell in cells(book["Notes"])]
    assert "0.50 h of labour" in said
    assert "tool hire" in said
    assert any(words.startswith("1 row, 21.3 m, which could not be planned") for words in said)
    assert "Nothing that the order is made from is marked as invented." in said
    lost = replace(plan, missing=(MissingBlock("B07", (Fault("a.toml", "", "no ground"),)),))
    write_order(lost, tmp_path / "order.xlsx")
    notes = openpyxl.load_workbook(tmp_path / "order.xlsx")["Notes"]
    assert "Block B07, which could not be planned: a.toml: no ground" in [cell.value for cell in cells(notes)]


def test_ends_and_coils_are_lists_to_work_through(plan: Plan, book: Workbook) -> None:
    ends = [row for row in book["Ends"].iter_rows(values_only=True) if str(row[0]).startswith("B01-R")]
    posts = plan.posts[plan.posts["kind"] == "end"]
    assert [row[2] for row in ends] == posts["post_id"].tolist()
    assert [row[1] for row in ends] == ["start", "far"] * len(plan.rows)
    assert any("competent person" in str(cell.value) for cell in cells(book["Ends"]))
    coil = line(book["Coils"], "C001")
    assert (coil["On it, m"], coil["Begun in zone"], coil["Lengths"], coil["Keep it"]) == (648.1, "B01-Z01", 4, "yes")


def test_the_same_plan_gives_the_same_bytes(plan: Plan, path: Path, tmp_path: Path) -> None:
    write_order(plan, tmp_path / "again.xlsx")
    assert (tmp_path / "again.xlsx").read_bytes() == path.read_bytes()
    with zipfile.ZipFile(path) as parts:
        assert {info.date_time for info in parts.infolist()} == {(1980, 1, 1, 0, 0, 0)}
        core = parts.read("docProps/core.xml").decode()
    assert core.count("2000-01-01T00:00:00Z") == 2


def test_a_plan_without_rows_makes_sheets_without_lines(bare_plan: Plan, tmp_path: Path, reckon: Reckon) -> None:
    path = tmp_path / "order.xlsx"
    write_order(bare_plan, path)
    book = openpyxl.load_workbook(path, data_only=True)
    assert book.sheetnames == SHEETS
    assert line(book["Order"], "All")["Total"] == 0
    found = reckon(path, RECKONED)
    assert not [cell for cell, value in found.items() if str(value).startswith("#")]


def test_an_american_order_speaks_american(plan: Plan, tmp_path: Path) -> None:
    output = plan.config.output.model_copy(update={"terms": "us"})
    write_order(replace(plan, config=plan.config.model_copy(update={"output": output})), tmp_path / "order.xlsx")
    said = " ".join(
        str(cell.value) for sheet in openpyxl.load_workbook(tmp_path / "order.xlsx") for cell in cells(sheet)
    )
    assert "Labor" in said
    assert "catch wires" in said
    for word in ("labour", "foliage wire"):
        assert word not in said.lower()
