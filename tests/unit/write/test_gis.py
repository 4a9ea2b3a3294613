"""The GeoPackage, read back by fiona (which brings its own GDAL) and by plain SQLite."""

import csv
import hashlib
import os
import sqlite3
import subprocess
import sys
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Any
from xml.etree import ElementTree as ET

import fiona
import fiona.transform
import numpy as np
import pandas as pd
import pyogrio
import pytest
import shapely
from wirerun import tables
from wirerun.errors import TargetError
from wirerun.findings import Finding
from wirerun.records import Plan, finding_table
from wirerun.tables import POSTS
from wirerun.write.colours import COLOURS, rgb
from wirerun.write.gis import LAYERS, write_gis
from wirerun.write.gis.layers import ATTRIBUTES, placed_findings
from wirerun.write.gis.qml import layer_qml
from wirerun.write.gis.sld import layer_sld
from wirerun.write.schedule import write_schedule

NAMES = ["block", "exclusions", "rows", "posts", "spans", "sections", "zones", "left_out", "findings"]
SHAPES = [
    "MultiPolygon",
    "MultiPolygon",
    "LineString",
    "Point",
    "LineString",
    "LineString",
    "MultiPolygon",
    "LineString",
    "Point",
]
# Of the three findings of the plan, the one about a file has no place on the ground.
PLACED = [("B01-R001-P003", "look-on-site"), ("B01", "relief")]


@pytest.fixture(scope="module")
def package(plan: Plan, tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("result") / "gis" / "plan.gpkg"
    write_gis(plan, path)
    return path


def _rows(path: Path, question: str) -> list[Any]:
    with closing(sqlite3.connect(path)) as base:
        return base.execute(question).fetchall()


def _features(path: Path, layer: str) -> list[Any]:
    with fiona.open(path, layer=layer) as source:
        return list(source)


def _sha256(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()


def test_layers_have_their_names_shapes_crs_and_counts(plan: Plan, package: Path) -> None:
    assert fiona.listlayers(package)[: len(NAMES)] == NAMES
    for layer, shape in zip(LAYERS, SHAPES, strict=True):
        with fiona.open(package, layer=layer.table.name) as source:
            assert source.schema["geometry"] == shape
            assert source.crs.to_epsg() == 25829
            count = len(PLACED) if layer.name == "findings" else len(getattr(plan, layer.source))
            assert len(list(source)) == count > 0


@pytest.mark.parametrize("layer", LAYERS, ids=NAMES)
def test_a_layer_has_the_columns_of_its_table_and_every_value(plan: Plan, package: Path, layer: Any) -> None:  # noqa: ANN401 - private type
    wanted = getattr(plan, layer.source)
    if layer.name == "findings":
        wanted = wanted[wanted["place"].isin([place for place, _ in PLACED])]
    features = _features(package, layer.table.name)
    for column in layer.table.columns:
        back = [feature.properties[column.name] for feature in features]
        if column.kind == "text":
            assert back == [None if pd.isna(text) else text for text in wanted[column.name]]
        else:
            half_a_step = 0.5001 * 10.0**-column.decimals
            numbers = np.array(back, dtype=float)
            np.testing.assert_allclose(numbers, wanted[column.name].to_numpy(float), rtol=0, atol=half_a_step)
    assert list(features[0].properties) == layer.table.names


def test_nothing_is_null_not_a_text(package: Path) -> None:
    assert _rows(package, "SELECT count(*) FROM posts WHERE section_id IS NULL") == [(8,)]
    assert _rows(package, "SELECT count(*) FROM posts WHERE grade_change_pct IS NULL") == [(4,)]
    assert _rows(package, "SELECT typeof(ground_m) FROM posts WHERE post_id = 'B01-R002-P004'") == [("null",)]


def test_no_attribute_is_named_like_the_id_or_the_geometry() -> None:
    assert not {"fid", "id", "geom", "geometry"} & {name.lower() for layer in LAYERS for name in layer.table.names}


def test_posts_stand_within_a_millimetre_of_where_another_library_puts_them(plan: Plan, package: Path) -> None:
    east, north = fiona.transform.transform("EPSG:4326", "EPSG:25829", [*plan.posts["lon"]], [*plan.posts["lat"]])
    back = np.array([feature.geometry["coordinates"] for feature in _features(package, "posts")])
    np.testing.assert_allclose(back, np.column_stack([east, north]), rtol=0, atol=0.001)
    assert 600_000 < back[0, 0] < 700_000, "easting comes first"


def test_the_second_row_lies_north_of_the_first_and_rows_run_east(package: Path) -> None:
    first, second = (shapely.geometry.shape(feature.geometry) for feature in _features(package, "rows"))
    assert second.centroid.y > first.centroid.y
    assert first.coords[1][0] - first.coords[0][0] == pytest.approx(24.0, abs=0.5)


def test_findings_lie_where_they_were_found(plan: Plan, package: Path) -> None:
    posts = {f.properties["post_id"]: f.geometry["coordinates"] for f in _features(package, "posts")}
    (block,) = (shapely.geometry.shape(f.geometry) for f in _features(package, "block"))
    found = {f.properties["place"]: f for f in _features(package, "findings")}
    assert {(place, f.properties["code"]) for place, f in found.items()} == set(PLACED)
    assert found["B01-R001-P003"].geometry["coordinates"] == posts["B01-R001-P003"]
    assert block.contains(shapely.geometry.shape(found["B01"].geometry))
    (said,) = _rows(package, "SELECT description FROM gpkg_contents WHERE table_name = 'findings'")
    assert said[0].endswith(f"Here: 2 of {len(plan.findings)}.")


@pytest.mark.parametrize("layer", ["rows", "spans", "sections", "zones"])
def test_a_finding_lies_amid_its_line_or_inside_its_area(plan_maker: Callable[..., Plan], layer: str) -> None:
    plan = plan_maker()
    features = getattr(plan, layer)
    name = f"{layer.removesuffix('s')}_id"
    here = Finding("relief", features[name].iloc[-1], "Here.")
    found = placed_findings(plan_maker(findings=finding_table([here])))
    (place,) = found.to_crs("EPSG:25829").geometry
    shape = features.to_crs("EPSG:25829").geometry.iloc[-1]
    assert shape.distance(place) < 0.001
    if layer != "zones":
        first, last = shape.coords[0], shape.coords[-1]
        assert place.distance(shapely.Point(first)) == pytest.approx(place.distance(shapely.Point(last)), abs=0.001)


def test_each_post_carries_the_most_that_any_wire_asks_for(package: Path) -> None:
    needs = {f.properties["post_id"]: f.properties["clip_need"] for f in _features(package, "posts")}
    assert list(needs.values()) == [
        "none",
        "two-way",
        "look-on-site",
        "one-way",
        "none",
        "none",
        "one-way",
        "one-way",
        "none",
    ]


def test_empty_layers_exist_with_their_columns(bare_plan: Plan, tmp_path: Path) -> None:
    path = tmp_path / "plan.gpkg"
    write_gis(bare_plan, path)
    for layer, shape in zip(LAYERS, SHAPES, strict=True):
        with fiona.open(path, layer=layer.table.name) as source:
            assert len(source) == (1 if layer.table.name == "block" else 0)
            assert source.schema["geometry"] == shape
            assert list(source.schema["properties"]) == layer.table.names
            kinds = {"text": "str", "integer": "int", "number": "float"}
            types = [str(kind).split(":")[0].rstrip("0123456789") for kind in source.schema["properties"].values()]
            assert types == [kinds[column.kind] for column in layer.table.columns]


def test_every_column_has_its_comment(package: Path) -> None:
    found = {
        (t, c): d for t, c, d in _rows(package, "SELECT table_name, column_name, description FROM gpkg_data_columns")
    }
    told = [*(layer.table for layer in LAYERS), *ATTRIBUTES.values()]
    assert set(found) == {(table.name, name) for table in told for name in table.names}
    assert found["clips", "load_min_n"].endswith(" [N]")
    assert found["spans", "sag_mm"] == "Sag below the chord at mid-span. [mm]"
    assert found["posts", "post_id"] == "Post, such as B01-R012-P007."
    registered = _rows(package, "SELECT table_name FROM gpkg_extensions WHERE extension_name = 'gpkg_schema'")
    assert sorted(registered) == [("gpkg_data_column_constraints",), ("gpkg_data_columns",)]


def test_the_file_is_a_sound_geopackage(plan: Plan, package: Path) -> None:
    assert _rows(package, "PRAGMA application_id") == [(int.from_bytes(b"GPKG"),)]
    assert _rows(package, "PRAGMA user_version") == [(10300,)]
    assert _rows(package, "PRAGMA integrity_check") == [("ok",)]
    assert _rows(package, "PRAGMA foreign_key_check") == []
    listed = _rows(package, "SELECT table_name, data_type FROM gpkg_contents")
    tables_beside = [table.name for table in ATTRIBUTES.values()]
    assert listed == [
        *((name, "features") for name in NAMES),
        *((name, "attributes") for name in tables_beside),
        ("layer_styles", "attributes"),
    ]
    counted = dict(_rows(package, "SELECT table_name, feature_count FROM gpkg_ogr_contents"))
    assert [counted[table] for table in tables_beside] == [len(getattr(plan, name)) for name in ATTRIBUTES]
    srs = _rows(package, "SELECT DISTINCT organization, organization_coordsys_id FROM gpkg_contents JOIN "
                "gpkg_spatial_ref_sys USING (srs_id) WHERE data_type = 'features'")  # fmt: skip
    assert srs == [("EPSG", 25829)]


def test_every_table_of_the_schedule_is_there_as_the_csv_has_it(plan: Plan, package: Path, tmp_path: Path) -> None:
    """Read by a GIS library on one side, as text on the other."""
    write_schedule(plan, tmp_path)
    called = {"findings": "all_findings"}
    for name, table in tables.TABLES.items():
        with (tmp_path / f"{name}.csv").open(encoding="utf-8-sig", newline="") as stream:
            wanted = list(csv.DictReader(stream))
        found = pyogrio.read_dataframe(package, layer=called.get(name, name), read_geometry=False)
        assert list(found.columns) == table.names
        assert len(found) == len(wanted)
        for column in table.columns:
            texts = [line[column.name] for line in wanted]
            if column.kind == "text":
                # The CSV keeps a spreadsheet from running a cell; a GIS runs none, and needs no such mark.
                assert [text.removeprefix("'") for text in texts] == found[column.name].fillna("").tolist()
            else:
                numbers = [float(text) if text else np.nan for text in texts]
                np.testing.assert_array_equal(found[column.name].to_numpy(float), numbers)


def test_tables_join_the_layers_by_id(package: Path) -> None:
    joined = "SELECT count(*) FROM clips JOIN posts USING (post_id)"
    assert _rows(package, joined) == _rows(package, "SELECT count(*) FROM clips") != [(0,)]
    assert _rows(package, "SELECT count(*) FROM wires JOIN rows USING (row_id)") == _rows(
        package, "SELECT count(*) FROM wires"
    )


def test_every_layer_has_a_default_style_where_gis_programs_look(package: Path) -> None:
    found = _rows(
        package,
        "SELECT f_table_name, styleQML, styleSLD FROM layer_styles WHERE f_table_schema = '' "
        "AND f_geometry_column = 'geom' AND useAsDefault",
    )
    assert [name for name, _, _ in found] == NAMES
    with fiona.open(package, layer="layer_styles") as table:
        assert len(table) == len(NAMES)
    for name, style, descriptor in found:
        assert descriptor == layer_sld(name)
        assert ET.fromstring(style).find("renderer-v2/symbols/symbol/layer") is not None  # noqa: S314 - our own


def _looks(layer: str) -> list[dict[str, str]]:
    symbols = ET.fromstring(layer_qml(layer)).iter("symbol")  # noqa: S314 - our own
    return [
        {o.attrib["name"]: o.attrib["value"] for o in symbol.iter("Option") if "name" in o.attrib} for symbol in symbols
    ]


def test_posts_differ_by_shape_as_well_as_colour() -> None:
    looks = _looks("posts")
    assert [look["name"] for look in looks] == ["square", "triangle", "diamond", "cross2", "circle"]
    marks = COLOURS["screen"]["posts"]
    edge = marks["end"]["fill"]
    colours = [edge, marks["two-way"]["fill"], marks["look"]["fill"], edge, marks["plain"]["fill"]]
    assert [look["color"] for look in looks] == [",".join(map(str, (*rgb(colour), 255))) for colour in colours]


def test_lines_and_areas_have_a_second_cue() -> None:
    (section,), (row,), (span,), (block,), (out,), (zone,) = map(
        _looks, ["sections", "rows", "spans", "block", "exclusions", "zones"]
    )
    assert (section["use_custom_dash"], section["line_color"]) == (
        "1",
        ",".join(map(str, (*rgb(COLOURS["screen"]["section"]), 255))),
    )
    assert float(section["line_width"]) > 3 * float(row["line_width"])
    assert "customdash" not in row
    assert span["customdash"] != section["customdash"]
    assert (block["style"], out["style"]) == ("no", "b_diagonal")
    assert (zone["style"], zone["outline_style"], block["outline_style"]) == ("no", "dash dot", "solid")


def test_zones_are_labelled_by_a_column_that_exists() -> None:
    root = ET.fromstring(layer_qml("zones"))  # noqa: S314 - our own
    style = root.find("labeling/settings/text-style")
    assert style is not None
    assert root.attrib["labelsEnabled"] == "1"
    assert style.attrib["fieldName"] in tables.ZONES.names
    assert ET.fromstring(layer_qml("rows")).attrib["labelsEnabled"] == "0"  # noqa: S314 - our own


def test_findings_differ_by_shape_and_size() -> None:
    looks = [(look["name"], look["size"]) for look in _looks("findings")]
    assert looks == [("star", "5"), ("pentagon", "3.6"), ("pentagon", "2.4")]


def test_the_rules_of_the_post_style_ask_for_columns_and_values_that_exist() -> None:
    rules = list(ET.fromstring(layer_qml("posts")).iter("rule"))  # noqa: S314 - our own
    needs = [f"\"clip_need\" = '{need}'" for need in ("two-way", "look-on-site", "unknown")]
    assert [rule.attrib["filter"] for rule in rules] == ["\"kind\" = 'end'", *needs, "ELSE"]
    choices = {column.name: column.choices for column in POSTS.columns}
    assert "end" in choices["kind"]
    assert {"two-way", "look-on-site", "unknown"} <= set(choices["clip_need"])


def test_the_same_plan_gives_the_same_bytes(plan: Plan, package: Path, tmp_path: Path) -> None:
    again = tmp_path / "elsewhere" / "other_name.gpkg"
    write_gis(plan, again)
    assert _sha256(again) == _sha256(package)


def test_another_process_gives_the_same_bytes(package: Path, tmp_path: Path) -> None:
    again = tmp_path / "again.gpkg"
    words = (
        "import pathlib, runpy, sys; from wirerun.write.gis import write_gis; "
        "write_gis(runpy.run_path(sys.argv[1])['make_plan'](), pathlib.Path(sys.argv[2]))"
    )
    maker = Path(__file__).with_name("conftest.py")
    root = Path(__file__).parents[3]
    there = os.environ | {"PYTHONHASHSEED": "77", "TZ": "Asia/Tokyo", "PYTHONPATH": str(root / "pipeline")}
    subprocess.run([sys.executable, "-c", words, maker, again], check=True, env=there)  # noqa: S603 - our own words
    assert _sha256(again) == _sha256(package)


def test_a_local_crs_without_a_number_is_kept(plan_maker: Callable[..., Plan], tmp_path: Path) -> None:
    local = "+proj=tmerc +lat_0=41.17 +lon_0=-7.51 +k=1.00006 +x_0=1000 +y_0=2000 +ellps=GRS80 +units=m"
    paths = [tmp_path / "a.gpkg", tmp_path / "b.gpkg"]
    for path in paths:
        write_gis(plan_maker(output_crs=local), path)
    assert _sha256(paths[0]) == _sha256(paths[1])
    first = _features(paths[0], "posts")[0]
    assert first.geometry["coordinates"] == pytest.approx((1000.0, 2000.0), abs=0.001)


def test_the_writers_setting_is_put_back(plan: Plan, tmp_path: Path) -> None:
    pyogrio.set_gdal_config_options({"OGR_CURRENT_DATE": "2011-11-11T11:11:11Z"})
    try:
        write_gis(plan, tmp_path / "plan.gpkg")
        assert pyogrio.get_gdal_config_option("OGR_CURRENT_DATE") == "2011-11-11T11:11:11Z"
    finally:
        pyogrio.set_gdal_config_options({"OGR_CURRENT_DATE": None})
    write_gis(plan, tmp_path / "plan.gpkg")
    assert pyogrio.get_gdal_config_option("OGR_CURRENT_DATE") is None


def test_a_crs_that_cannot_show_the_place_is_refused(plan_maker: Callable[..., Plan], tmp_path: Path) -> None:
    antipodes = plan_maker(output_crs="+proj=gnom +lat_0=-41 +lon_0=172")
    with pytest.raises(TargetError, match=r"output\.crs = \+proj=gnom .* cannot express the place"):
        write_gis(antipodes, tmp_path / "plan.gpkg")
    assert list(tmp_path.iterdir()) == []


def test_a_file_that_lost_features_is_noticed_and_the_old_one_stays(
    plan: Plan, package: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = _sha256(package)
    write = pyogrio.write_dataframe
    monkeypatch.setattr(pyogrio, "write_dataframe", lambda frame, *a, **k: write(frame.iloc[1:], *a, **k))
    with pytest.raises(OSError, match="not written whole: layer block does not read as it was written"):
        write_gis(plan, package)
    assert _sha256(package) == before
    assert [path.name for path in package.parent.iterdir()] == [package.name]
