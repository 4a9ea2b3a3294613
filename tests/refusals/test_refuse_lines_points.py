"""Every way a file of given lines, a guide or surveyed points can be wrong, and the sentence for it."""

import json
import math
import shutil
import tracemalloc
from pathlib import Path
from typing import TYPE_CHECKING, Any

import fiona
import pytest
from wirerun.errors import Exit, Faults
from wirerun.read.lines import read_guide, read_lines
from wirerun.read.points import Stated, read_points

if TYPE_CHECKING:
    from tests.refusals.conftest import Estate

A, B, C, D = (-7.6, 41.2), (-7.598, 41.202), (-7.598, 41.2), (-7.6, 41.202)
PLACE_A = "longitude -7.600000, latitude 41.200000"
HEAD = "lon,lat,height\n"


def path_of(*places: tuple[float, float]) -> dict[str, Any]:
    return {"type": "LineString", "coordinates": list(places)}


def paths_of(*parts: list[tuple[float, float]]) -> dict[str, Any]:
    return {"type": "MultiLineString", "coordinates": list(parts)}


def put(path: Path, *geometries: Any, properties: dict[str, Any] | None = None, **members: Any) -> None:  # noqa: ANN401
    features = [{"type": "Feature", "properties": properties or {}, "geometry": one} for one in geometries]
    path.write_text(json.dumps({"type": "FeatureCollection", "features": features, **members}))


def told(faults: Faults, folder: Path) -> list[str]:
    assert all(fault.exit_code == Exit.BAD_INPUT for fault in faults)
    return [str(fault).replace(f"{folder}/", "") for fault in faults]


def lines_told(folder: Path, name: str = "rows.geojson") -> list[str]:
    faults = Faults()
    read_lines(name, folder, faults)
    return told(faults, folder)


def guide_told(folder: Path) -> list[str]:
    faults = Faults()
    assert read_guide("rows.geojson", folder, faults) is None
    return told(faults, folder)


def points_told(folder: Path, content: str | bytes, name: str = "posts.csv", **stated: Any) -> list[str]:  # noqa: ANN401
    (folder / name).write_bytes(content if isinstance(content, bytes) else content.encode())
    faults = Faults()
    read_points(name, folder, faults, Stated(config="config.toml", **stated))
    return told(faults, folder)


@pytest.mark.parametrize(
    ("geometry", "sentence"),
    [
        (None, "it has no geometry"),
        (path_of(), "its geometry is empty"),
        ({"type": "Point", "coordinates": A}, "it is a Point, where a LineString or MultiLineString is wanted"),
        (
            {"type": "Polygon", "coordinates": [[A, B, C, A]]},
            "it is a Polygon, where a LineString or MultiLineString is wanted",
        ),
        (path_of(A), "a line of it has fewer than two points"),
        (paths_of([A, B], [C]), "a line of it has fewer than two points"),
        (path_of(A, A), f"a line of it has no length: all its points lie at {PLACE_A}"),
        (path_of(A, B, C, A), f"a line of it ends where it starts, at {PLACE_A}; a row needs two ends"),
        (paths_of([A, B], [B, C], [A, C]), f"a line of it ends where it starts, at {PLACE_A}; a row needs two ends"),
        (path_of(A, B, C, D), "a line of it crosses or touches itself at longitude -7.599000, latitude 41.201000"),
        (
            path_of(A, (-7.599, 41.2), (-7.5995, 41.2), (-7.59, 41.21)),
            "a line of it crosses or touches itself at longitude -7.599500, latitude 41.200000",
        ),
        (path_of(A, (float("nan"), 41.2)), "a coordinate is not a finite number"),
        (path_of(A, (float("inf"), 41.2)), "a coordinate is not a finite number"),
        (
            path_of((617400.0, 4562000.0), (617460.0, 4562000.0)),
            (
                "617400, 4562000 is no longitude and latitude (limits 180 and 90 degrees): they look like projected "
                "metres or feet, while the file says WGS 84 degrees; give it its own CRS"
            ),
        ),
        (
            path_of((41.2, -97.6), (41.3, -97.6)),
            (
                "41.2, -97.6 is no longitude and latitude (limits 180 and 90 degrees): longitude and latitude are "
                "swapped; GeoJSON and this tool put longitude first"
            ),
        ),
        (path_of((-179.9999, 41.2), (179.9999, 41.2)), "it crosses the 180th meridian, which is not handled"),
    ],
)
def test_line_that_will_not_do(tmp_path: Path, geometry: Any, sentence: str) -> None:  # noqa: ANN401
    put(tmp_path / "rows.geojson", path_of(C, D), geometry)
    assert lines_told(tmp_path) == [f"rows.geojson, feature 2: {sentence}"]


def test_every_bad_line_is_told(tmp_path: Path) -> None:
    put(tmp_path / "rows.geojson", None, path_of(A, B), path_of(A, A))
    assert len(lines_told(tmp_path)) == 2


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("", "the file is empty (0 bytes)"),
        ('{"type": "FeatureCollection", "features": [', "not valid JSON: Expecting value at line 1, column 44"),
        ('{"type": "FeatureCollection", "features": []}', "the file has no features"),
        ("lon,lat\n1,2\n", "the file is no GeoJSON, GeoPackage, shapefile or FlatGeobuf"),
    ],
)
def test_file_of_another_kind(tmp_path: Path, text: str, sentence: str) -> None:
    (tmp_path / "rows.geojson").write_text(text)
    assert lines_told(tmp_path) == [f"rows.geojson: {sentence}"]


def test_missing_file_names_the_near_one(tmp_path: Path) -> None:
    put(tmp_path / "rows.geojson", path_of(A, B))
    assert lines_told(tmp_path, "row.geojson") == [
        "row.geojson: there is no such file; looked for row.geojson; did you mean rows.geojson?"
    ]


def test_no_crs_in_any_form(tmp_path: Path) -> None:
    put(tmp_path / "rows.geojson", path_of(A, B), crs=None)
    assert lines_told(tmp_path) == [
        "rows.geojson, crs: it names no CRS, so the place on earth is unknown; without the member it is WGS 84"
    ]
    schema = {"geometry": "LineString", "properties": {"n": "int"}}
    feature = {"type": "Feature", "geometry": path_of(A, B), "properties": {"n": 1}}
    for name, driver in (("rows.fgb", "FlatGeobuf"), ("rows.shp", "ESRI Shapefile")):
        with fiona.open(tmp_path / name, "w", driver=driver, crs=None, schema=schema) as file:
            file.write(feature)
    assert lines_told(tmp_path, "rows.fgb") == ["rows.fgb: the file names no CRS that ties it to the earth"]
    assert lines_told(tmp_path, "rows.shp") == [
        "rows.shp: the file names no CRS that ties it to the earth (the part that ends in .prj is missing)"
    ]
    assert lines_told(tmp_path, "rows.dbf") == [
        "rows.dbf: this is one part of a shapefile; give the part that ends in .shp"
    ]


def test_line_beyond_the_reach_of_its_crs(tmp_path: Path) -> None:
    far = path_of((1e30, 4562000.0), (1e31, 4562000.0))
    put(tmp_path / "rows.geojson", far, crs={"type": "name", "properties": {"name": "EPSG:32629"}})
    assert lines_told(tmp_path) == [
        "rows.geojson, feature 1: its coordinates lie where WGS 84 / UTM zone 29N has no place on earth"
    ]


def test_several_layers(tmp_path: Path) -> None:
    schema = {"geometry": "LineString", "properties": {}}
    for layer in ("old", "new"):
        with fiona.open(
            tmp_path / "rows.gpkg", "w", driver="GPKG", crs="EPSG:4326", layer=layer, schema=schema
        ) as file:
            file.write({"type": "Feature", "geometry": path_of(A, B), "properties": {}})
    sentence = "rows.gpkg: the file has 2 layers (old, new); keep the lines in a file of one layer"
    assert lines_told(tmp_path, "rows.gpkg") == [sentence]
    shutil.copy(tmp_path / "rows.gpkg", tmp_path / "posts.gpkg")
    content = (tmp_path / "posts.gpkg").read_bytes()
    assert points_told(tmp_path, content, "posts.gpkg") == [
        sentence.replace("rows", "posts").replace("lines", "points")
    ]


@pytest.mark.parametrize(
    ("geometries", "sentence"),
    [
        ([path_of(A, B), path_of(C, D)], "the file holds 2 lines, where one guide is wanted"),
        (
            [paths_of([A, B], [C, D])],
            "the file holds 2 lines, where one guide is wanted; parts that do not touch count each",
        ),
    ],
)
def test_more_than_one_guide(tmp_path: Path, geometries: list[Any], sentence: str) -> None:
    put(tmp_path / "rows.geojson", *geometries)
    assert guide_told(tmp_path) == [f"rows.geojson: {sentence}"]


def test_no_guide_is_left_where_a_line_has_a_fault(tmp_path: Path) -> None:
    put(tmp_path / "rows.geojson", None, path_of(A, B))
    assert guide_told(tmp_path) == ["rows.geojson, feature 1: it has no geometry"]


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("", ": the file is empty (0 bytes)"),
        ("\n  \n", ": the file holds nothing but blank lines"),
        ("\ufeff", ": the file holds nothing but blank lines"),
        (HEAD, ": there are no points below the header"),
        (
            "-7.6,41.2\n-7.5,41.3\n",
            ", line 1: there is no header; the first line must name the columns: lon and lat, or E and N",
        ),
        ("\na,b\n1,2\n", ", line 2: the columns are a, b; wanted are lon and lat, or E and N"),
        ("lon,height\n1,2\n", ", line 1: the columns are lon, height; wanted are lon and lat, or E and N"),
        ("lon,lat,LAT\n1,2,3\n", ", line 1: the header has the column lat more than once"),
        ("lon,long,lat\n1,2,3\n", ", line 1: the columns lon and long mean the same (lon); keep one"),
        ("lon,lat,Z,height\n1,2,3,4\n", ", line 1: the columns height and Z mean the same (height); keep one"),
        (HEAD + "-7.6\n", ", line 2, lat: it is empty"),
        (HEAD + "\nabc,41.2,3\n", ', line 3, lon: "abc" is no number'),
        (HEAD + "nan,41.2,3\n", ', line 2, lon: "nan" is no number'),
        (HEAD + "1_0,41.2,3\n", ', line 2, lon: "1_0" is no number'),
        (HEAD + "-7.6,41.2,high\n", ', line 2, height: "high" is no number'),
        ("lon;Lat\n-7.6;41,2\n", ', line 2, Lat: "41,2" has a decimal comma; a decimal point is wanted'),
        (HEAD + "-7.6,41.2,3,4\n", ", line 2: it has 4 values, where the header has 3"),
        (HEAD + "-7.6,41.2,-9999\n", ", line 2: a height of -9999 m is outside the limits -1000 and 10000 m"),
        (
            HEAD + "617400,4562000,3\n",
            (
                ", line 2: 617400, 4562000 is no longitude and latitude (limits 180 and 90 degrees); they look like "
                "projected metres or feet: call the columns E and N and set posts.points_crs"
            ),
        ),
        (
            HEAD + "41.2,-107.6,3\n",
            ", line 2: 41.2, -107.6 is no longitude and latitude (limits 180 and 90 degrees); they look swapped",
        ),
        (HEAD + "-7.6,412,3\n", ", line 2: -7.6, 412 is no longitude and latitude (limits 180 and 90 degrees)"),
        (HEAD + '"-7.6,41.2\n', ", line 2: not valid CSV: unexpected end of data"),
        (HEAD + '"-7.6"1,41.2\n', ", line 2: not valid CSV: ',' expected after '\"'"),
        (f"lon,lat\n{'7' * 140_000},2\n", ", line 2: not valid CSV: field larger than field limit (131072)"),
        (f"lon,{'a' * 140_000}\n7,2\n", ", line 1: not valid CSV: field larger than field limit (131072)"),
        (
            "<kml></kml>",
            (
                ": this is XML, such as KML or GML; save it as GeoPackage or GeoJSON; wanted is GeoJSON, GeoPackage, "
                "shapefile or FlatGeobuf"
            ),
        ),
    ],
)
def test_table_that_will_not_do(tmp_path: Path, text: str, sentence: str) -> None:
    assert points_told(tmp_path, text) == [f"posts.csv{sentence}"]


def test_table_in_another_encoding(tmp_path: Path) -> None:
    sentence = "this is no UTF-8 text; save the table as CSV in UTF-8"
    text = "lon,lat,id\n-7.6,41.2,a\n-7.6,41.3,Vinh\u00e3o\n"
    assert points_told(tmp_path, text.encode("latin-1")) == [f"posts.csv, line 3: {sentence}"]
    assert points_told(tmp_path, text.encode("utf-16")) == [f"posts.csv: {sentence}"]
    assert points_told(tmp_path, b"lon,lat\n\0\1\2\n") == [f"posts.csv: {sentence}"]


def test_every_bad_value_of_a_line_is_told_and_the_rest_counted(tmp_path: Path) -> None:
    assert points_told(tmp_path, HEAD + "a,,c\n") == [
        'posts.csv, line 2, lon: "a" is no number',
        "posts.csv, line 2, lat: it is empty",
        'posts.csv, line 2, height: "c" is no number',
    ]
    sentences = points_told(tmp_path, HEAD + "a,41.2,3\n" * 50)
    assert len(sentences) == 21
    assert sentences[19:] == [
        'posts.csv, line 21, lon: "a" is no number',
        "posts.csv: 30 more faults like these are not listed",
    ]


@pytest.mark.parametrize(
    ("text", "crs", "sentence"),
    [
        (
            "X,Y\n1,2\n",
            None,
            "config.toml, posts.points_crs: posts.csv has the columns X and Y; name their CRS, such as EPSG:32629",
        ),
        (
            "E,N\n1,2\n",
            "EPSG:99999",
            (
                'config.toml, posts.points_crs: "EPSG:99999" names no known CRS that is tied to the earth; wanted is '
                "one such as EPSG:32629"
            ),
        ),
        (
            "lon,lat\n1,2\n",
            "EPSG:32629",
            (
                'config.toml, posts.points_crs: "EPSG:32629" (WGS 84 / UTM zone 29N) is a projected CRS, but posts.csv '
                "has the columns lon and lat, in degrees; take the setting out"
            ),
        ),
        (
            "E,N\n1e30,2\n",
            "EPSG:32629",
            "posts.csv, line 2: 1e+30, 2 lies where WGS 84 / UTM zone 29N has no place on earth",
        ),
        (
            "E,N,Z\n6000000,2000000,1000\n",
            "EPSG:2229",
            (
                "posts.csv: the ground is measured in feet (US survey foot) and the heights name no unit; set "
                'posts.points_height_unit to "m", "ft", "us-ft" or "ind-ft"'
            ),
        ),
    ],
)
def test_crs_of_a_table(tmp_path: Path, text: str, crs: str | None, sentence: str) -> None:
    assert points_told(tmp_path, text, crs=crs) == [sentence]


def test_spreadsheet(tmp_path: Path) -> None:
    assert points_told(tmp_path, "PK", "posts.xlsx") == ["posts.xlsx: this is a spreadsheet; save the sheet as CSV"]


@pytest.mark.parametrize(
    ("geometry", "properties", "sentence"),
    [
        (path_of(A, B), {}, "feature 1: it is a LineString, where a Point or MultiPoint is wanted"),
        (None, {}, "feature 1: it has no geometry"),
        (
            {"type": "Point", "coordinates": A},
            {"Z": "1,5", "id": "P4"},
            'feature 1 (P4): Z: "1,5" has a decimal comma; a decimal point is wanted',
        ),
        (
            {"type": "Point", "coordinates": [*A, -9999.0]},
            {"id": "P4"},
            "feature 1 (P4): a height of -9999 m is outside the limits -1000 and 10000 m",
        ),
    ],
)
def test_point_feature_that_will_not_do(
    tmp_path: Path,
    geometry: Any,  # noqa: ANN401
    properties: dict[str, Any],
    sentence: str,
) -> None:
    put(tmp_path / "posts.geojson", geometry, properties=properties)
    content = (tmp_path / "posts.geojson").read_bytes()
    assert points_told(tmp_path, content, "posts.geojson") == [f"posts.geojson, {sentence}"]


def test_crs_stated_for_a_file_that_has_its_own(tmp_path: Path) -> None:
    put(tmp_path / "posts.geojson", {"type": "Point", "coordinates": A})
    content = (tmp_path / "posts.geojson").read_bytes()
    (sentence,) = points_told(tmp_path, content, "posts.geojson", crs="EPSG:32629")
    assert sentence == (
        "config.toml, posts.points_crs: it is for tables; posts.geojson names its own CRS (WGS 84); "
        "take the setting out"
    )


def test_a_line_that_winds_about_one_place_takes_little_memory(tmp_path: Path) -> None:
    """Each of its 4000 pieces meets nearly all others: eight million meetings, of which one is told."""
    spokes = [(-7.6 + 0.01 * math.cos(1.9 * i), 41.2 + 0.01 * math.sin(1.9 * i)) for i in range(4000)]
    put(tmp_path / "rows.geojson", path_of(*spokes))
    tracemalloc.start()
    (sentence,) = lines_told(tmp_path)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert "a line of it crosses or touches itself at longitude" in sentence
    assert peak < 60e6


@pytest.mark.parametrize(("start", "end"), [((0.0, 0.0), (1.0, 1.0)), ((-7.57, 41.2), (-7.56, 41.2))])
def test_a_guide_in_the_next_valley(estate: "Estate", start: tuple[float, float], end: tuple[float, float]) -> None:
    put(estate.folder / "line.geojson", path_of(start, end))
    estate.settings["rows"] = {"layout": "follow", "guide": "line.geojson", "spacing_m": 2.4}
    sentences, code = estate.refusal()
    assert code == Exit.BAD_INPUT
    assert sentences == ["line.geojson: the guide lies more than 2000 m from block B01, too far to follow"]


def test_a_guide_on_the_other_side_of_the_road_is_followed(estate: "Estate") -> None:
    put(estate.folder / "line.geojson", path_of((-7.581, 41.2), (-7.581, 41.21)))
    estate.settings["rows"] = {"layout": "follow", "guide": "line.geojson", "spacing_m": 2.4}
    assert estate.read().drawn[0].guide is not None
