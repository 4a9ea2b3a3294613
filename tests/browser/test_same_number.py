"""One number is one number: the map, the schedule, the GeoPackage and the field cards of one result, from the files."""

import re
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Any

import geopandas as gpd
import pandas as pd
import pypdfium2 as pdfium
import pytest
from wirerun.records import Plan
from wirerun.rounding import rounded
from wirerun.wording import number
from wirerun.write.result import write_result

Opener = Callable[..., Any]


@pytest.fixture(scope="module")
def result(estate: Plan, tmp_path_factory: pytest.TempPathFactory) -> Path:
    return write_result(estate, tmp_path_factory.mktemp("same") / "encosta-nova", overwrite=False)


@pytest.fixture(scope="module")
def csv(result: Path) -> dict[str, pd.DataFrame]:
    return {path.stem: pd.read_csv(path, encoding="utf-8-sig") for path in (result / "schedule").glob("*.csv")}


@pytest.fixture(scope="module")
def cards(result: Path) -> list[str]:
    with closing(pdfium.PdfDocument(result / "cards" / "field_cards.pdf")) as document:
        return [page.get_textpage().get_text_range() for page in document]


def test_totals(result: Path, csv: dict[str, pd.DataFrame], cards: list[str], open_map: Opener) -> None:
    rows, zones = csv["rows"], csv["zones"]
    layers = {name: gpd.read_file(result / "gis" / "plan.gpkg", layer=name) for name in ("rows", "posts", "zones")}
    sheet = open_map(result / "map.html")
    assert sheet.count("rows") == len(rows) == len(layers["rows"])
    assert rows["posts"].sum() == len(csv["posts"]) == len(layers["posts"])
    assert sheet.count("two-way") == rows["two_way_posts"].sum() == (layers["posts"]["clip_need"] == "two-way").sum()
    assert len(zones) == len(layers["zones"]) == sheet.count("zones")
    for count in (len(rows), len(csv["posts"]), rows["two_way_posts"].sum(), len(zones)):
        shown = f"{count:,}".replace(",", " ")
        assert re.search(rf"^{shown}\r?$", cards[0], re.MULTILINE), count
    assert f"labour hours {round(zones['hours'].sum()):,}.".replace(",", " ") in cards[0]


def test_a_row_and_its_wires(result: Path, csv: dict[str, pd.DataFrame], cards: list[str], open_map: Opener) -> None:
    """The row with the longest way up over a post, in every hand that it goes through."""
    wires, rows = csv["wires"], csv["rows"].set_index("row_id")
    row_id = csv["sections"].sort_values("greatest_pull_up_n")["row_id"].iloc[-1]
    row, mine = rows.loc[row_id], wires[wires["row_id"] == row_id].set_index("wire_id")
    layer = gpd.read_file(result / "gis" / "plan.gpkg", layer="rows").set_index("row_id").loc[row_id]
    for name in (
        "length_m",
        "slope_length_m",
        "max_grade_pct",
        "slope_pct",
        "hours",
        "posts",
        "two_way_posts",
        "zone_id",
    ):
        assert layer[name] == row[name], name
    card = next(text for text in cards if re.search(rf"^{row_id} ", text, re.MULTILINE) and "Tape" in text)
    assert f"{rounded(row['length_m'], 1):.1f} m \N{MIDDLE DOT} {row['posts']} posts" in card
    sheet = open_map(result / "map.html", f"#{row_id}")
    assert sheet.title() == row_id
    told = re.sub(r"[^\S\n]", "", sheet.page.inner_text("#card"))
    assert f"{row['length_m']:.2f}m" in told
    for wire in mine.itertuples():
        each = wire.run_out_m / wire.lines
        assert f"{wire.lines} \N{MULTIPLICATION SIGN} {rounded(each, 1):.1f}" in card
        # The card of the map writes metres to the centimetre.
        assert f"{each:.2f}" in told or f"{wire.run_out_m:.2f}" in told, wire
    for cut in csv["coils"][csv["coils"]["row_id"] == row_id].itertuples():
        # Lines that follow each other on a coil stand together.
        assert f"{rounded(cut.from_m, 1):.1f}\N{EN DASH}{rounded(cut.to_m, 1):.1f}" in card
        assert f"{cut.coil_id} " in card


def test_a_post_and_its_loads(result: Path, csv: dict[str, pd.DataFrame], open_map: Opener) -> None:
    clips = csv["clips"]
    worst = clips[clips["clip"] == "two-way"].sort_values("load_min_n").iloc[0]
    post = csv["posts"].set_index("post_id").loc[worst["post_id"]]
    layer = gpd.read_file(result / "gis" / "plan.gpkg", layer="posts").set_index("post_id").loc[worst["post_id"]]
    for name in (
        "station_m",
        "ground_m",
        "grade_change_pct",
        "uplift_n",
        "height_out_m",
        "grade_pct",
        "cross_slope_pct",
    ):
        assert layer[name] == post[name], name
    sheet = open_map(result / "map.html", f"#{worst['post_id']}")
    facts = sheet.facts("#card .facts")
    assert facts["Fromrowstart"] == f"{post['station_m']:.2f}m"
    assert facts["Groundheight"] == f"{post['ground_m']:.2f}m"
    assert facts["Uplift,allwires"] == f"{post['uplift_n']:.1f}N"
    assert f"{worst['load_min_n']:.1f}" in sheet.page.inner_text("#card").replace("\N{MINUS SIGN}", "-")


def test_a_zone_and_its_hours(result: Path, csv: dict[str, pd.DataFrame], cards: list[str], open_map: Opener) -> None:
    zone = csv["zones"].iloc[9]
    layer = gpd.read_file(result / "gis" / "plan.gpkg", layer="zones").set_index("zone_id").loc[zone["zone_id"]]
    for name in ("rows", "row_length_m", "hours", "days", "posts", "two_way_posts", "first_row", "last_row"):
        assert layer[name] == zone[name], name
    rows = csv["rows"]
    assert rows.loc[rows["zone_id"] == zone["zone_id"], "posts"].sum() == zone["posts"]
    sheet = open_map(result / "map.html")
    sheet.page.click(f'#zone-list button:text-is("{zone["zone_id"]}")')
    facts = sheet.facts("#card .facts")
    assert facts["Labourhours"] == f"{number(zone['hours'], 1)}h"
    assert facts["Posts"] == str(zone["posts"])
    page = "".join(text for text in cards if f"Zone {zone['zone_id']} page" in text)  # two sheets where it is long
    for task in csv["programme"][csv["programme"]["zone_id"] == zone["zone_id"]].itertuples():
        assert task.task in page
        assert number(task.hours, 1) in page
    take = csv["zone_materials"][csv["zone_materials"]["zone_id"] == zone["zone_id"]]
    for line in take[take["unit"] == "piece"].itertuples():
        assert re.search(rf"\b{line.quantity:.0f}\b", page), line
