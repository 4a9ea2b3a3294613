"""The data dictionary against the schedule and the GeoPackage that go with it."""

import csv
import sqlite3
from contextlib import closing
from pathlib import Path

import fiona
import pytest
from wirerun.findings import CODES
from wirerun.records import Plan
from wirerun.write.dictionary import write_dictionary
from wirerun.write.gis import LAYERS, write_formats, write_gis
from wirerun.write.schedule import write_schedule


@pytest.fixture(scope="module")
def folder(plan: Plan, tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = tmp_path_factory.mktemp("result")
    write_schedule(plan, place / "schedule")
    write_gis(plan, place / "gis" / "plan.gpkg")
    write_formats(plan, place / "gis", ["shapefile", "staking"])
    write_dictionary(place)
    return place


@pytest.fixture(scope="module")
def lines(folder: Path) -> list[dict[str, str]]:
    with (folder / "data_dictionary.csv").open(encoding="utf-8-sig", newline="") as file:
        return list(csv.DictReader(file))


def _columns(lines: list[dict[str, str]], where: str, table: str, name: str = "column") -> list[str]:
    return [line[name] for line in lines if (line["where"], line["table"]) == (where, table)]


def test_every_column_of_every_csv_is_explained(folder: Path, lines: list[dict[str, str]]) -> None:
    files = sorted((folder / "schedule").glob("*.csv"))
    assert len(files) >= 16
    for file in files:
        header = file.read_text(encoding="utf-8-sig").splitlines()[0].split(",")
        assert _columns(lines, "schedule", file.stem) == header
    header = (folder / "gis" / "staking.csv").read_text(encoding="utf-8").splitlines()[0].split(",")
    # One more column where clips are set off their heights.
    assert _columns(lines, "staking file", "staking") == [*header, "clips_cm"]


def test_every_column_of_every_layer_is_explained(folder: Path, lines: list[dict[str, str]]) -> None:
    layers = [layer.name for layer in LAYERS]
    assert {line["table"] for line in lines if line["where"] == "GIS layer"} == set(layers)
    more = set(fiona.listlayers(folder / "gis" / "plan.gpkg")) - {*layers, "layer_styles", "all_findings"}
    assert more <= {line["table"] for line in lines if line["where"] == "schedule"}
    for layer in layers:
        with fiona.open(folder / "gis" / "plan.gpkg", layer=layer) as made:
            assert _columns(lines, "GIS layer", layer) == list(made.schema["properties"])
        with fiona.open(folder / "gis" / "shapefile" / f"{layer}.shp") as made:
            assert _columns(lines, "GIS layer", layer, "short_name") == list(made.schema["properties"])


def test_meaning_and_unit_are_those_of_the_field_comments(folder: Path, lines: list[dict[str, str]]) -> None:
    with closing(sqlite3.connect(folder / "gis" / "plan.gpkg")) as base:
        comments = base.execute("SELECT table_name, column_name, description FROM gpkg_data_columns").fetchall()
    layers = {layer.name for layer in LAYERS}
    for table, column, said in comments:
        called = "findings" if table == "all_findings" else table
        where = "GIS layer" if table in layers else "schedule"
        (line,) = [one for one in lines if (one["where"], one["table"], one["column"]) == (where, called, column)]
        assert said == line["meaning"] + (f" [{line['unit']}]" if line["unit"] else "")
    assert {table for table, _, _ in comments} >= layers | {"clips", "materials"}


def test_every_finding_code_has_its_level_and_meaning(lines: list[dict[str, str]]) -> None:
    codes = [(line["column"], line["kind"], line["meaning"]) for line in lines if line["where"] == "finding code"]
    assert codes == [(code, *said) for code, said in CODES.items()]


def test_what_may_be_empty_is_what_is_empty(plan: Plan, lines: list[dict[str, str]]) -> None:
    may = {(line["table"], line["column"]): line["may_be_empty"] for line in lines if line["where"] == "schedule"}
    empty = [("posts", name) for name in plan.posts.columns if name != "geometry" and plan.posts[name].isna().any()]
    assert len(empty) > 3
    assert all(may[place] == "yes" for place in empty)
    assert may["posts", "post_id"] == "no"


def test_the_page_says_the_same_as_the_table(folder: Path, lines: list[dict[str, str]]) -> None:
    page = (folder / "data_dictionary.md").read_text(encoding="utf-8")
    for line in lines:
        assert f"| `{line['column']}` |" in page
        assert line["meaning"].replace("|", "\\|") in page
    assert "One of: end, two-way, look, post." in page
    rows = [line for line in page.splitlines() if line.startswith("|")]
    widths = {line.replace("\\|", "").count("|") for line in rows}
    assert widths == {4, 5, 6, 7}, "codes, formats, tables, layers: no cell is torn apart"


def test_the_dictionary_has_the_same_bytes_again(folder: Path, tmp_path: Path) -> None:
    write_dictionary(tmp_path)
    for name in ("data_dictionary.csv", "data_dictionary.md"):
        assert (tmp_path / name).read_bytes() == (folder / name).read_bytes()
