"""Surveyed points are read alike from tables and from every vector format."""

import csv
import io
import json
from pathlib import Path
from typing import Any

import fiona
import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from pyproj import Transformer
from shapely import MultiPoint, Point
from shapely.geometry import mapping
from wirerun.errors import Faults
from wirerun.read.points import GivenPoints, Stated, read_points

EAST, NORTH = 617_400.0, 4_562_000.0
TO_LONLAT = Transformer.from_crs("EPSG:32629", "EPSG:4326", always_xy=True)
DRIVERS = [("GeoJSON", "geojson"), ("GPKG", "gpkg"), ("ESRI Shapefile", "shp"), ("FlatGeobuf", "fgb")]


def read(path: Path, stated: Stated | None = None) -> GivenPoints:
    faults = Faults()
    points = read_points(path.name, path.parent, faults, stated or Stated())
    faults.stop_if_any()
    assert points is not None
    return points


def table(tmp_path: Path, text: str, **stated: Any) -> GivenPoints:  # noqa: ANN401
    path = tmp_path / "posts.csv"
    path.write_bytes(text.encode())
    return read(path, Stated(**stated))


def write(path: Path, drawn: list[Any], driver: str = "GPKG", crs: str = "EPSG:32629", **values: list[Any]) -> Path:
    kinds = {name: "str" if isinstance(value[0], str) else "float" for name, value in values.items()}
    kind = ("3D " if drawn[0].has_z else "") + drawn[0].geom_type
    schema = {"geometry": kind, "properties": kinds}
    # FlatGeobuf would sort the features for its index.
    options = {"SPATIAL_INDEX": "NO"} if driver == "FlatGeobuf" else {}
    with fiona.open(path, "w", driver=driver, crs=crs, schema=schema, **options) as file:
        for number, geometry in enumerate(drawn):
            properties = {name: value[number] for name, value in values.items()}
            file.write({"type": "Feature", "geometry": mapping(geometry), "properties": properties})
    return path


def test_table_in_degrees(tmp_path: Path) -> None:
    points = table(tmp_path, "lon,lat,height,id\n-7.6,41.2,301.25,P1\n-7.599,41.201,,P2\n")
    assert points.lonlat.tolist() == [[-7.6, 41.2], [-7.599, 41.201]]
    assert points.height_m[0] == 301.25
    assert np.isnan(points.height_m[1])
    assert points.names == ("P1", "P2")
    assert points.places == ("line 2", "line 3")
    assert points.file.crs.to_epsg() == 4326
    assert [part.path.name for part in points.file.parts] == ["posts.csv"]


@pytest.mark.parametrize(
    "text",
    [
        "\ufeffLON;Lat;Z\r\n-7.6;41.2;301.25\r\n",
        "\n name ,Longitude , latitude,elevation\n\n'x', -7.6 , +41.2,3.0125e2\n\n",
        '"lat"\t"long"\t"height_m"\n41.2\t"-7.6"\t301.25',
        "lon,lat,ground_m,,\n-7.6,41.2,301.25,,,\n",
        "lat,lon,x,y,h\r41.2,-7.6,5,6,301.25\r",
    ],
    ids=["semicolon-bom-crlf", "blank-lines-and-spaces", "tab-and-quotes", "empty-columns", "old-line-ends"],
)
def test_ways_to_write_a_table(tmp_path: Path, text: str) -> None:
    points = table(tmp_path, text)
    assert points.lonlat.tolist() == [[-7.6, 41.2]]
    assert points.height_m.tolist() == [301.25]


@pytest.mark.parametrize("heads", ["E,N,Z", "x,y,z", "Easting,Northing,Height"])
def test_table_in_metres_with_the_crs_of_the_config(tmp_path: Path, heads: str) -> None:
    points = table(tmp_path, f"{heads}\n{EAST + 20},{NORTH + 15},301.25\n", crs="EPSG:32629")
    np.testing.assert_allclose(points.lonlat[0], TO_LONLAT.transform(EAST + 20, NORTH + 15), atol=1e-12)
    assert points.height_m.tolist() == [301.25]
    assert points.file.crs.to_epsg() == 32629


def test_with_both_pairs_of_columns_the_stated_crs_decides(tmp_path: Path) -> None:
    text = f"lon,lat,E,N\n-7.6,41.2,{EAST},{NORTH}\n"
    assert table(tmp_path, text).lonlat[0, 0] == -7.6
    assert table(tmp_path, text, crs="EPSG:32629").lonlat[0, 0] == pytest.approx(TO_LONLAT.transform(EAST, NORTH)[0])


def test_table_in_degrees_of_another_datum(tmp_path: Path) -> None:
    """ETRS89 differs from WGS 84 by nothing that is known: the same numbers, another name."""
    points = table(tmp_path, "lon,lat\n-7.6,41.2\n", crs="EPSG:4258")
    np.testing.assert_allclose(points.lonlat, [[-7.6, 41.2]], atol=1e-9)
    assert points.file.crs.to_epsg() == 4258


def test_heights_in_feet(tmp_path: Path) -> None:
    text = "E,N,z\n6000000,2000000,1000\n"
    assert table(tmp_path, text, crs="EPSG:2229", height_unit="us-ft").height_m[0] == pytest.approx(304.8006096)
    assert table(tmp_path, text, crs="EPSG:2229+6360").height_m[0] == pytest.approx(304.8006096)
    in_metres = text.replace("z", "height_m")
    assert table(tmp_path, in_metres, crs="EPSG:2229", height_unit="us-ft").height_m[0] == 1000.0


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    st.lists(
        st.tuples(
            st.floats(-180, 180), st.floats(-90, 90), st.floats(-1000, 10_000), st.text(st.characters(codec="utf-8"))
        ),
        min_size=1,
        max_size=8,
    ),
    st.sampled_from([",", ";", "\t"]),
    st.booleans(),
    st.permutations(range(4)),
)
def test_what_is_written_is_read(
    tmp_path: Path,
    rows: list[tuple[float, float, float, str]],
    delimiter: str,
    quoted: bool,  # noqa: FBT001
    order: list[int],
) -> None:
    stream = io.StringIO(newline="")
    out = csv.writer(stream, delimiter=delimiter, quoting=csv.QUOTE_ALL if quoted else csv.QUOTE_MINIMAL)
    names = [name.replace("\0", "") for *_, name in rows]
    out.writerow([("lon", "lat", "height", "name")[i] for i in order])
    for (lon, lat, height, _), name in zip(rows, names, strict=True):
        out.writerow([(repr(lon), repr(lat), repr(height), name)[i] for i in order])
    points = table(tmp_path, stream.getvalue())
    np.testing.assert_array_equal(points.lonlat, [row[:2] for row in rows])
    np.testing.assert_array_equal(points.height_m, [row[2] for row in rows])
    assert points.names == tuple("".join(c for c in name.strip() if c.isprintable()) for name in names)


@pytest.mark.parametrize(("driver", "end"), DRIVERS)
def test_points_with_heights_in_every_format(tmp_path: Path, driver: str, end: str) -> None:
    places = [(EAST + 20.0, NORTH + 15.0, 301.25), (EAST + 30.0, NORTH + 18.0, 302.5)]
    if driver == "GeoJSON":
        places = [(*TO_LONLAT.transform(x, y), z) for x, y, z in places]
    crs = "EPSG:4326" if driver == "GeoJSON" else "EPSG:32629"
    path = write(tmp_path / f"posts.{end}", [Point(p) for p in places], driver, crs, Name=["P1", "P2"])
    points = read(path)
    assert points.height_m.tolist() == [301.25, 302.5]
    assert points.names == ("P1", "P2")
    assert points.places == ("feature 1 (P1)", "feature 2 (P2)")
    wanted = places if driver == "GeoJSON" else [TO_LONLAT.transform(x, y) for x, y, _ in places]
    np.testing.assert_allclose(points.lonlat, np.array(wanted)[:, :2], atol=1e-7)


def test_an_attribute_goes_before_the_third_coordinate(tmp_path: Path) -> None:
    drawn = [Point(EAST, NORTH, 5.0), Point(EAST, NORTH + 9, 6.0)]
    points = read(write(tmp_path / "posts.gpkg", drawn, HEIGHT=[301.25, None]))
    assert points.height_m.tolist() == [301.25, 6.0]


def test_third_coordinates_that_are_all_0_were_never_measured(tmp_path: Path) -> None:
    points = read(write(tmp_path / "posts.gpkg", [Point(EAST, NORTH, 0.0), Point(EAST, NORTH + 9, 0.0)], id=[7.0, 8.0]))
    assert np.isnan(points.height_m).all()
    assert points.names == ("7", "8")


def test_every_part_of_a_multipoint_is_a_point(tmp_path: Path) -> None:
    drawn = [MultiPoint([(EAST, NORTH, 300.0), (EAST, NORTH + 9, 301.0)]), Point(EAST, NORTH + 18, 302.0)]
    features = [{"type": "Feature", "properties": {}, "geometry": mapping(one)} for one in drawn]
    crs = {"type": "name", "properties": {"name": "EPSG:32629"}}
    path = tmp_path / "posts.geojson"
    path.write_text(json.dumps({"type": "FeatureCollection", "crs": crs, "features": features}))
    points = read(path)
    assert points.height_m.tolist() == [300.0, 301.0, 302.0]
    assert points.places == ("feature 1", "feature 1", "feature 2")


def test_our_own_schedule_can_be_read_back(tmp_path: Path) -> None:
    text = "\ufeffpost_id,row_id,kind,station_m,lon,lat,ground_m\r\nB01-R001-P001,B01-R001,end,0.0,-7.6,41.2,301.25\r\n"
    points = table(tmp_path, text)
    assert points.names == ("B01-R001-P001",)
    assert points.height_m.tolist() == [301.25]
