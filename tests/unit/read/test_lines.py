"""Good line files are read alike from every format, joined where their parts touch, with all they say."""

import datetime as dt
import json
from pathlib import Path
from typing import Any

import fiona
import numpy as np
import pytest
import shapely
from numpy.typing import NDArray
from pyproj import Transformer
from shapely import LineString, MultiLineString
from shapely.geometry import mapping
from wirerun.errors import Faults
from wirerun.geometry.shapes import projected
from wirerun.read.lines import GivenLines, plain_attributes, read_guide, read_lines

FloatArray = NDArray[np.float64]

EAST, NORTH = 617_400.0, 4_562_000.0
TO_UTM = Transformer.from_crs("EPSG:4326", "EPSG:32629", always_xy=True)
FROM_UTM = Transformer.from_crs("EPSG:32629", "EPSG:4326", always_xy=True)
DRIVERS = [("GeoJSON", "geojson"), ("GPKG", "gpkg"), ("ESRI Shapefile", "shp"), ("FlatGeobuf", "fgb")]


def at(*places: tuple[float, float]) -> list[tuple[float, float]]:
    return [(EAST + x, NORTH + y) for x, y in places]


FIRST = LineString(at((20, 15), (50, 18), (82, 24)))
APART = MultiLineString([at((20, 25), (40, 26)), at((45, 26), (80, 30))])


def write(path: Path, drawn: list[Any], driver: str = "GPKG", crs: str = "EPSG:32629") -> Path:
    schema = {"geometry": "Unknown", "properties": {"vine": "str", "age": "int", "note": "str"}}
    if driver == "ESRI Shapefile":
        schema["geometry"] = drawn[0].geom_type
    # FlatGeobuf would sort the features for its index.
    options = {"SPATIAL_INDEX": "NO"} if driver == "FlatGeobuf" else {}
    with fiona.open(path, "w", driver=driver, crs=crs, schema=schema, **options) as file:
        for number, geometry in enumerate(drawn):
            properties = {"vine": f"sort {number}", "age": 7 + number, "note": None}
            file.write({"type": "Feature", "geometry": mapping(geometry), "properties": properties})
    return path


def read(path: Path) -> GivenLines:
    faults = Faults()
    lines = read_lines(path.name, path.parent, faults)
    faults.stop_if_any()
    assert lines is not None
    return lines


def in_utm(lonlat: FloatArray) -> FloatArray:
    return np.column_stack(TO_UTM.transform(lonlat[:, 0], lonlat[:, 1]))


@pytest.mark.parametrize(("driver", "end"), DRIVERS)
def test_lines_and_their_attributes_in_every_format(tmp_path: Path, driver: str, end: str) -> None:
    drawn, crs = [FIRST, APART], "EPSG:32629"
    if driver == "GeoJSON":
        crs = "EPSG:4326"
        drawn = [projected(line, FROM_UTM) for line in drawn]
    lines = read(write(tmp_path / f"rows.{end}", drawn, driver, crs))
    assert lines.feature == (1, 2, 2)
    assert [one["vine"] for one in lines.attributes] == ["sort 0", "sort 1", "sort 1"]
    assert [one["age"] for one in lines.attributes] == [7, 8, 8]
    assert json.loads(json.dumps(lines.attributes)) == list(lines.attributes)
    # GeoJSON is written to 7 decimals.
    atol = 0.02 if driver == "GeoJSON" else 1e-4
    wanted = [FIRST, *APART.geoms]
    for line, whole in zip(lines.lines, wanted, strict=True):
        np.testing.assert_allclose(in_utm(line), shapely.get_coordinates(whole), atol=atol)
    assert {part.path.name for part in lines.file.parts} >= {f"rows.{end}"}
    assert lines.file.given == f"rows.{end}"
    assert lines.file.features == ()


def test_parts_are_joined_where_they_touch_whichever_way_they_run(tmp_path: Path) -> None:
    parts = [at((40, 26), (20, 25)), at((40, 26), (60, 28)), at((80, 30), (60, 28))]
    (line,) = read(write(tmp_path / "rows.gpkg", [MultiLineString(parts)])).lines
    wanted = np.array(at((20, 25), (40, 26), (60, 28), (80, 30)))
    drawn = in_utm(line)
    np.testing.assert_allclose(drawn if drawn[0, 0] < drawn[-1, 0] else drawn[::-1], wanted, atol=1e-4)


def test_parts_that_fork_stay_apart(tmp_path: Path) -> None:
    parts = [at((20, 25), (40, 26)), at((40, 26), (60, 28)), at((40, 26), (60, 40))]
    assert read(write(tmp_path / "rows.gpkg", [MultiLineString(parts)])).feature == (1, 1, 1)


def test_heights_are_dropped_and_a_point_drawn_twice_counts_once(tmp_path: Path) -> None:
    places = at((20, 15), (50, 18), (50, 18), (82, 24))
    raised = LineString([(x, y, 300.0 + i) for i, (x, y) in enumerate(places)])
    (line,) = read(write(tmp_path / "rows.gpkg", [raised])).lines
    assert line.shape == (3, 2)


def test_longitude_and_latitude_are_kept_to_the_last_digit(tmp_path: Path) -> None:
    places = [[-7.599835803, 41.200035339], [-7.598955909, 41.200205085]]
    feature = {"type": "Feature", "properties": None, "geometry": {"type": "LineString", "coordinates": places}}
    (tmp_path / "rows.geojson").write_text(json.dumps(feature))
    (line,) = read(tmp_path / "rows.geojson").lines
    np.testing.assert_array_equal(line, places)


def test_attributes_are_made_of_what_json_knows() -> None:
    day = dt.date(1998, 3, 21)
    given = {
        "day": day,
        "raw": b"\x00\xff",
        "odd": float("nan"),
        "list": [1, (2.5, day)],
        "in": {"a": None},
        "yes": True,
    }
    assert plain_attributes(given) == {
        "day": "1998-03-21",
        "raw": "00ff",
        "odd": None,
        "list": [1, [2.5, "1998-03-21"]],
        "in": {"a": None},
        "yes": True,
    }


def test_a_guide_is_one_line(tmp_path: Path) -> None:
    faults = Faults()
    path = write(tmp_path / "key.gpkg", [FIRST])
    guide = read_guide(path.name, tmp_path, faults)
    assert not faults
    assert guide is not None
    assert len(guide.lines) == 1
