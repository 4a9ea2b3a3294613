"""What the sample estate does not have: hostile names, curved rows, plans without rows, a missing library."""

import csv
import importlib.util
import json
import string
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any
from xml.etree import ElementTree as ET

import ezdxf
import ezdxf.recover
import fiona
import geopandas as gpd
import gpxpy
import numpy as np
import pandas as pd
import pytest
import shapefile
import shapely
from ezdxf.entities import LWPolyline, Text
from fastkml.validator import validate
from isoxml.util.isoxml_io import isoxml_from_path
from wirerun.errors import TableError, TargetError
from wirerun.findings import Finding
from wirerun.records import Plan, finding_table
from wirerun.settings.ground import FORMATS, OutputSettings
from wirerun.tables import Column, Table
from wirerun.write.gis import LAYERS, check_formats, write_formats, write_gis
from wirerun.write.gis.gpx import short_names
from wirerun.write.gis.shapefile_names import SHORT
from wirerun.write.gis.shapefile_names import short_names as shapefile_names

# What a printable block id may be, and what a name may be that is not an id.
BLOCK_ID = "=</script>&\"'`${x}%%d^J,é"
HOSTILE = "a\x0b\x00b\ud800\u202e<]]>&\"'\n\t" + "ü" * 5000
SAFE = "a\ufffd\ufffdb\\ud800\u202e<]]>&\"'\n\t" + "ü" * 5000


def _renamed(plan: Plan, block_id: str) -> Plan:
    """Return the plan with another block id, in all ids."""
    tables: dict[str, Any] = {}
    for name in ("blocks", "exclusions", "rows", "posts", "spans", "clips", "sections", "zones"):
        frame = getattr(plan, name).copy()
        for column in frame.columns[frame.columns.str.contains("_id|_post|_row")]:
            if column not in ("wire_id", "two_way_posts"):
                frame[column] = frame[column].str.replace("B01", block_id, regex=False)
        tables[name] = frame
    return replace(plan, **tables)


@pytest.fixture(scope="module")
def hostile(plan: Plan) -> Plan:
    renamed = _renamed(plan, BLOCK_ID)
    # As objects: where pyarrow is installed, pandas keeps text in it, which refuses a lone surrogate.
    twice = pd.Series([HOSTILE] * 2, dtype=object)
    return replace(
        renamed,
        blocks=renamed.blocks.assign(name=twice[:1]),
        rows=renamed.rows.assign(given_attributes=twice),
        findings=finding_table([Finding("relief", BLOCK_ID, "High.")]).assign(message=twice[:1]),
    )


@pytest.fixture(scope="module")
def folder(hostile: Plan, tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = tmp_path_factory.mktemp("hostile") / "gis"
    write_gis(hostile, place / "plan.gpkg")
    write_formats(hostile, place, FORMATS)
    return place


def test_hostile_names_come_through_a_geopackage(folder: Path) -> None:
    with fiona.open(folder / "plan.gpkg", layer="block") as made:
        assert next(iter(made)).properties["name"] == SAFE


def test_hostile_names_come_through_geojson(hostile: Plan, folder: Path) -> None:
    block, rows = (
        json.loads((folder / "geojson" / f"{n}.geojson").read_text(encoding="utf-8")) for n in ("block", "rows")
    )
    assert block["features"][0]["properties"]["name"] == SAFE
    assert [feature["id"] for feature in rows["features"]] == hostile.rows["row_id"].tolist()


def test_hostile_names_come_through_kml(hostile: Plan, folder: Path) -> None:
    assert validate(file_to_validate=folder / "plan.kml") is True
    space = {"k": "http://www.opengis.net/kml/2.2"}
    root = ET.parse(folder / "plan.kml").getroot()  # noqa: S314 - our own
    names = [name.text for name in root.findall("k:Document/k:Folder[@id='posts']/k:Placemark/k:name", space)]
    assert names == hostile.posts["post_id"].tolist()
    values = [data.text for data in root.iterfind(".//k:SimpleData[@name='name']", space)]
    assert values == [SAFE]


def test_hostile_names_come_through_gpx(hostile: Plan, folder: Path) -> None:
    made = gpxpy.parse((folder / "plan.gpx").read_text(encoding="utf-8"))
    assert [post.description for post in made.waypoints] == hostile.posts["post_id"].tolist()
    assert [row.name for row in made.tracks] == hostile.rows["row_id"].tolist()


def test_hostile_names_come_through_task_data_cut_to_32_bytes(folder: Path) -> None:
    made, _ = isoxml_from_path(folder / "TASKDATA")
    (field,) = made.partfields
    assert field.designator == BLOCK_ID
    for pattern in field.guidance_groups[0].guidance_patterns:
        assert len(pattern.designator.encode()) <= 32
        assert pattern.designator.startswith(BLOCK_ID[:-1])


def test_a_dbf_cuts_text_at_a_character(folder: Path) -> None:
    with shapefile.Reader(folder / "shapefile" / "rows.shp", encoding="utf-8") as made:
        texts = [record[SHORT["given_attributes"]] for record in made.records()]
    assert [len(text.encode()) for text in texts] == [254, 254]
    assert all(SAFE.startswith(text) and text.endswith("ü") for text in texts)


def test_a_drawing_shows_names_without_codes_of_its_own(folder: Path) -> None:
    drawing, audit = ezdxf.recover.readfile(folder / "plan.dxf")
    assert not audit.errors
    assert not audit.fixes
    texts = [text for text in drawing.modelspace() if isinstance(text, Text)]
    labels = [text.plain_text() for text in texts if text.dxf.layer == "LABELS"]
    assert BLOCK_ID.replace("%%", "% %") in labels, "the caret is written as a code that reads as a caret"


def test_a_staking_file_guards_ids_that_a_spreadsheet_would_run(hostile: Plan, folder: Path) -> None:
    lines = list(csv.DictReader((folder / "staking.csv").read_text(encoding="utf-8").splitlines()))
    assert [line["id"] for line in lines] == ("'" + hostile.posts["post_id"]).tolist()


def test_a_post_without_height_has_none_in_any_file(plan: Plan, tmp_path: Path) -> None:
    write_formats(plan, tmp_path, ["gpx", "staking"])
    made = gpxpy.parse((tmp_path / "plan.gpx").read_text(encoding="utf-8"))
    assert [post.elevation is None for post in made.waypoints] == plan.posts["ground_m"].isna().tolist()
    last = (tmp_path / "staking.csv").read_text(encoding="utf-8").splitlines()[-1]
    assert last.endswith(",,end")


@pytest.mark.parametrize(
    ("clip_of", "code"), [("B01-R001-P002", "two-way"), ("B01-R001-P003", "look"), ("B01-R001-P004", "post")]
)
def test_staking_codes(plan: Plan, tmp_path: Path, clip_of: str, code: str) -> None:
    write_formats(plan, tmp_path, ["staking"])
    lines = csv.DictReader((tmp_path / "staking.csv").read_text(encoding="utf-8").splitlines())
    assert {line["id"]: line["code"] for line in lines}[clip_of] == code


def test_clips_off_their_heights_are_staked(plan: Plan, tmp_path: Path) -> None:
    shift = np.zeros(len(plan.posts))
    shift[1:3] = 0.03, -0.02
    write_formats(replace(plan, posts=plan.posts.assign(clip_shift_m=shift)), tmp_path, ["staking"])
    lines = list(csv.DictReader((tmp_path / "staking.csv").read_text(encoding="utf-8").splitlines()))
    assert [line["clips_cm"] for line in lines[:4]] == ["0", "3 up", "2 down", "0"]
    write_formats(plan, tmp_path / "plain", ["staking"])
    head = (tmp_path / "plain" / "staking.csv").read_text(encoding="utf-8").splitlines()[0]
    assert head == "id,E,N,Z,code"


def test_a_curved_row_is_a_curve_through_all_its_points(plan: Plan, tmp_path: Path) -> None:
    (first, second) = plan.rows.geometry
    # Half a metre off the chord at its middle.
    middle = first.interpolate(0.5, normalized=True)
    bent = shapely.LineString([first.coords[0], (middle.x, middle.y + 0.5 / 111_100), first.coords[-1]])
    rows = plan.rows.set_geometry(gpd.GeoSeries([bent, second], crs="EPSG:4326"))
    write_formats(replace(plan, rows=rows), tmp_path, ["isoxml"])
    made, _ = isoxml_from_path(tmp_path / "TASKDATA")
    patterns = made.partfields[0].guidance_groups[0].guidance_patterns
    assert [pattern.type.name for pattern in patterns] == ["Curve", "AB"]
    (curve,) = patterns[0].line_strings
    assert [point.type.name for point in curve.points] == ["GuidanceReferenceA", "GuidancePoint", "GuidanceReferenceB"]
    places = [(float(point.east), float(point.north)) for point in curve.points]
    np.testing.assert_allclose(places, bent.coords, rtol=0, atol=1e-9)


def test_a_straight_row_with_points_between_is_a_line_from_a_to_b(plan: Plan, tmp_path: Path) -> None:
    lines = shapely.segmentize(plan.rows.geometry.to_numpy(), 0.0001)
    assert len(lines[0].coords) > 2
    write_formats(
        replace(plan, rows=plan.rows.set_geometry(gpd.GeoSeries(lines, crs="EPSG:4326"))), tmp_path, ["isoxml"]
    )
    made, _ = isoxml_from_path(tmp_path / "TASKDATA")
    patterns = made.partfields[0].guidance_groups[0].guidance_patterns
    assert [(pattern.type.name, len(pattern.line_strings[0].points)) for pattern in patterns] == [("AB", 2)] * 2


def test_a_block_with_a_hole_keeps_it(plan: Plan, tmp_path: Path) -> None:
    (area,) = plan.blocks.geometry
    west, south = area.bounds[:2]
    hole = shapely.box(west + 1e-4, south + 1e-4, west + 3e-4, south + 2e-4)
    pierced = area.difference(hole)
    holed = replace(plan, blocks=plan.blocks.set_geometry(gpd.GeoSeries([pierced], crs="EPSG:4326")))
    write_formats(holed, tmp_path, ["isoxml", "geojson", "kml", "dxf"])
    made, _ = isoxml_from_path(tmp_path / "TASKDATA")
    boundary = made.partfields[0].polygons[0]
    assert [line.type.name for line in boundary.line_strings] == ["PolygonExterior", "PolygonInterior"]
    text = json.loads((tmp_path / "geojson" / "block.geojson").read_text(encoding="utf-8"))
    assert shapely.geometry.shape(text["features"][0]["geometry"]).symmetric_difference(pierced).area < 1e-15
    drawing = ezdxf.readfile(tmp_path / "plan.dxf")
    lines = [line for line in drawing.modelspace() if isinstance(line, LWPolyline) and line.dxf.layer == "BLOCK"]
    assert [line.closed for line in lines] == [True, True]


def test_a_plan_without_rows_gives_whole_files(bare_plan: Plan, tmp_path: Path) -> None:
    write_formats(bare_plan, tmp_path, FORMATS)
    assert (tmp_path / "staking.csv").read_bytes() == b"id,E,N,Z,code\r\n"
    assert validate(file_to_validate=tmp_path / "plan.kml") is True
    assert gpxpy.parse((tmp_path / "plan.gpx").read_text(encoding="utf-8")).waypoints == []
    for layer in LAYERS:
        with shapefile.Reader(tmp_path / "shapefile" / f"{layer.name}.shp", encoding="utf-8") as made:
            assert len(made) == (1 if layer.name == "block" else 0)
        for kind, end in (("geojson", "geojson"), ("flatgeobuf", "fgb")):
            with fiona.open(tmp_path / kind / f"{layer.name}.{end}") as made:
                assert len(list(made)) == (1 if layer.name == "block" else 0)


def test_no_format_writes_nothing(plan: Plan, tmp_path: Path) -> None:
    write_formats(plan, tmp_path, OutputSettings().formats)
    assert list(tmp_path.iterdir()) == []


def test_a_missing_library_is_said_at_once(monkeypatch: pytest.MonkeyPatch, plan: Plan, tmp_path: Path) -> None:
    find = importlib.util.find_spec
    monkeypatch.setattr(importlib.util, "find_spec", lambda name: None if name == "pyarrow" else find(name))
    check_formats(["kml", "dxf"])
    with pytest.raises(TargetError, match=r'geoparquet needs pyarrow.*pip install "wirerun\[geoparquet\]"'):
        write_formats(plan, tmp_path, ["staking", "geoparquet"])
    assert list(tmp_path.iterdir()) == []


def test_drawing_properties_name_unit_and_crs(plan_maker: Callable[..., Plan], tmp_path: Path) -> None:
    local = "+proj=tmerc +lat_0=41.17 +lon_0=-7.51 +k=1.00006 +x_0=1000 +y_0=2000 +ellps=GRS80 +units=m"
    write_formats(plan_maker(output_crs=local), tmp_path, ["dxf"])
    drawing = ezdxf.readfile(tmp_path / "plan.dxf")
    assert drawing.header["$INSUNITS"] == 6, "metres"
    assert "+lat_0=41.17" in drawing.header.custom_vars.get("CRS")
    assert not ezdxf.options.write_fixed_meta_data_for_testing, "the setting is put back"


def test_a_drawing_opens_on_the_plan_with_a_colour_for_each_layer(plan: Plan, tmp_path: Path) -> None:
    need = ["none", "two-way", "look-on-site", *["one-way"] * (len(plan.posts) - 3)]
    write_formats(replace(plan, posts=plan.posts.assign(clip_need=need)), tmp_path, ["dxf"])
    drawing = ezdxf.readfile(tmp_path / "plan.dxf")
    west, south, east, north = plan.blocks.to_crs(plan.output_crs).total_bounds
    assert tuple(drawing.header["$EXTMIN"])[:2] == pytest.approx((west, south))
    assert tuple(drawing.header["$EXTMAX"])[:2] == pytest.approx((east, north))
    (window,) = drawing.viewports.get_config("*Active")
    assert tuple(window.dxf.center)[:2] == pytest.approx(((west + east) / 2.0, (south + north) / 2.0))
    assert window.dxf.height >= north - south
    # By number too, for programs without true colour: four kinds of post in four colours near the true ones.
    names = ("TWO-WAY", "CHECK", "INTERMEDIATE", "END")
    layers = {name: drawing.layers.get(f"POSTS-{name}") for name in names}
    assert len({layer.color for layer in layers.values()}) == len(names)
    for name in names[:3]:
        true, near = np.array(layers[name].rgb), np.array(ezdxf.colors.aci2rgb(layers[name].color))
        assert np.abs(true - near).max() < 70
    placed = [one.dxf.layer for one in drawing.modelspace().query("INSERT")]
    assert (placed.count("POSTS-CHECK"), placed.count("POSTS-TWO-WAY")) == (1, 1)
    assert all(one.dxf.color == ezdxf.colors.BYLAYER for one in drawing.modelspace())


def test_short_names_of_posts_in_three_blocks() -> None:
    rows = pd.DataFrame({"row_id": ["N-R1-R007", "S-R012b", "S-R1000z26"], "block_id": ["N-R1", "S", "S"]})
    posts = pd.DataFrame({"row_id": rows["row_id"], "post_id": rows["row_id"] + ["-P001", "-P010", "-P1000"]})
    assert short_names(posts, rows) == ["A7-1", "B12b-10", "B1000z26-1000"]
    assert short_names(posts[1:], rows) == ["12b-10", "1000z26-1000"]


def test_blocks_beyond_z_get_two_letters() -> None:
    blocks = [f"K{i}" for i in range(28)]
    rows = pd.DataFrame({"row_id": [f"{block}-R001" for block in blocks], "block_id": blocks})
    posts = pd.DataFrame({"row_id": rows["row_id"], "post_id": rows["row_id"] + "-P001"})
    letters = [name.removesuffix("1-1") for name in short_names(posts, rows)]
    assert letters == [*string.ascii_uppercase, "AA", "AB"]


def test_every_layer_has_short_and_unique_names_in_a_shapefile() -> None:
    for layer in LAYERS:
        names = shapefile_names(layer.table)
        assert list(names) == layer.table.names
        assert max(map(len, names.values())) <= 10
        assert len({name.lower() for name in names.values()}) == len(names)
    columns = {name for layer in LAYERS for name in layer.table.names}
    assert columns >= SHORT.keys(), "no entry is left over"
    assert len({*SHORT.values()}) == len(SHORT)


@pytest.mark.parametrize("names", [("a_very_long_name",), ("bearing", "bearing_deg")])
def test_a_column_without_a_short_name_is_noticed(names: tuple[str, ...]) -> None:
    table = Table("rows", "", (), tuple(Column(name, "text", "", "") for name in names))
    with pytest.raises(TableError, match="no short and unique column name"):
        shapefile_names(table)
