"""Good boundaries are read alike from every format, and blocks get the right names."""

import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
import shapely
from numpy.typing import NDArray
from pyproj import Transformer
from shapely import MultiLineString, MultiPolygon, Polygon
from shapely.geometry import mapping
from shapely.geometry.base import BaseGeometry
from wirerun.errors import Faults, InputError
from wirerun.geometry.shapes import projected
from wirerun.read.blocks import feature_name, read_blocks
from wirerun.read.polygons import area_m2, drawn
from wirerun.read.vector import VectorFile, read_polygons
from wirerun.settings import BlockSettings

if TYPE_CHECKING:
    from tests.unit.read.conftest import RasterWriter, Reader, VectorWriter

EAST, NORTH = 617_400.0, 4_562_000.0
FloatGrid = NDArray[np.float32]
TO_UTM = Transformer.from_crs("EPSG:4326", "EPSG:32629", always_xy=True)
FROM_UTM = Transformer.from_crs("EPSG:32629", "EPSG:4326", always_xy=True)
DRIVERS = [("GeoJSON", "geojson"), ("GPKG", "gpkg"), ("ESRI Shapefile", "shp"), ("FlatGeobuf", "fgb")]


def at(*corners: tuple[float, float]) -> list[tuple[float, float]]:
    return [(EAST + x, NORTH + y) for x, y in corners]


OUTER = at((20, 15), (82, 18), (77, 61), (31, 55))
HOLE = at((40, 30), (50, 31), (49, 40), (41, 38))
FAR = at((90, 20), (105, 22), (100, 50))
WHOLE = MultiPolygon([Polygon(OUTER, [HOLE]), Polygon(FAR)])


def polygons(path: Path, **options: Any) -> VectorFile:  # noqa: ANN401
    faults = Faults()
    file = read_polygons(path, path.name, faults, several="name one", **options)
    faults.stop_if_any()
    assert file is not None
    return file


def in_utm(area: BaseGeometry) -> BaseGeometry:
    return projected(area, TO_UTM)


@pytest.mark.parametrize(("driver", "end"), DRIVERS)
def test_multipolygon_with_a_hole_in_every_format(write_vector: "VectorWriter", driver: str, end: str) -> None:
    crs = "EPSG:4326" if driver == "GeoJSON" else "EPSG:32629"
    drawn = WHOLE
    if driver == "GeoJSON":
        drawn = projected(WHOLE, FROM_UTM)
    (feature,) = polygons(write_vector(f"block.{end}", [drawn], driver=driver, crs=crs)).features
    assert isinstance(feature.area, MultiPolygon)
    # Formats and drivers may turn rings round and start them elsewhere; GeoJSON is written to 7 decimals.
    difference = in_utm(feature.area).symmetric_difference(WHOLE)
    assert difference.area < (3.0 if driver == "GeoJSON" else 1e-3)
    # The ellipsoid's area against that of the plane over its areal scale.
    assert area_m2(feature.area) == pytest.approx(WHOLE.area / 0.99954, rel=1e-3 if driver == "GeoJSON" else 1e-5)


def test_heights_are_dropped_and_a_single_part_is_a_polygon(write_vector: "VectorWriter") -> None:
    raised = shapely.force_3d(MultiPolygon([Polygon(OUTER)]), 371.5)
    (feature,) = polygons(write_vector("block.gpkg", [raised])).features
    assert isinstance(feature.area, Polygon)
    assert not feature.area.has_z


def test_longitude_and_latitude_are_kept_to_the_last_digit(tmp_path: Path) -> None:
    corners = [[-7.599835803, 41.200035339], [-7.598955909, 41.200205085], [-7.598205431, 41.20057786]]
    geometry = {"type": "Polygon", "coordinates": [[*corners, corners[0]]]}
    path = tmp_path / "block.geojson"
    path.write_text(json.dumps({"type": "Feature", "properties": {}, "geometry": geometry}))
    (feature,) = polygons(path).features
    np.testing.assert_array_equal(shapely.get_coordinates(feature.area)[:3], corners)


@pytest.mark.parametrize("name", ["urn:ogc:def:crs:EPSG::32629", "EPSG:32629"])
def test_old_style_geojson_in_metres(tmp_path: Path, name: str) -> None:
    document = {
        "type": "FeatureCollection",
        "crs": {"type": "name", "properties": {"name": name}},
        "features": [{"type": "Feature", "properties": {}, "geometry": mapping(Polygon(OUTER))}],
    }
    path = tmp_path / "block.geojson"
    path.write_text(json.dumps(document))
    file = polygons(path)
    assert file.crs.to_epsg() == 32629
    assert in_utm(file.features[0].area).symmetric_difference(Polygon(OUTER)).area < 1e-3


def test_crs_with_northing_first(write_vector: "VectorWriter") -> None:
    """EPSG:2193 names northing before easting; files hold easting first all the same."""
    block = Polygon([(1_600_000, 5_350_000), (1_600_060, 5_350_000), (1_600_060, 5_350_040)])
    (feature,) = polygons(write_vector("block.gpkg", [block], crs="EPSG:2193")).features
    assert feature.area.centroid.x == pytest.approx(173.0, abs=0.01)
    assert feature.area.centroid.y == pytest.approx(-42.0, abs=0.01)


def test_file_names_that_a_library_might_read_into(write_vector: "VectorWriter", tmp_path: Path) -> None:
    path = write_vector("block.gpkg", [Polygon(OUTER)]).rename(tmp_path / "a b#c?d!e%20.gpkg")
    assert len(polygons(path).features) == 1


def test_layer_is_chosen_by_name_and_tables_are_passed_over(write_vector: "VectorWriter", tmp_path: Path) -> None:
    import fiona  # noqa: PLC0415

    path = write_vector("all.gpkg", [Polygon(OUTER)], layer="upper")
    with fiona.open(
        path, "w", driver="GPKG", layer="styles", schema={"geometry": "None", "properties": {"qml": "str"}}
    ) as f:
        f.write({"type": "Feature", "geometry": None, "properties": {"qml": "-"}})
    assert len(polygons(path).features) == 1
    write_vector("all.gpkg", [Polygon(FAR), Polygon(HOLE)], layer="lower")
    assert len(polygons(path, layer="lower").features) == 2
    assert len(polygons(path, layer="upper").features) == 1
    assert sorted(p.name for p in tmp_path.iterdir()) == ["all.gpkg"]


def test_parts_of_a_shapefile(write_vector: "VectorWriter", tmp_path: Path) -> None:
    path = write_vector("block.shp", [Polygon(OUTER)], driver="ESRI Shapefile")
    (tmp_path / "block.qpj").write_text("not read")
    assert {part.path.suffix for part in polygons(path).parts} == {".shp", ".shx", ".dbf", ".prj", ".cpg"}


@pytest.mark.parametrize(
    ("value", "name"),
    [
        ("Talho de Cima", "Talho de Cima"),
        ("  B7 ", "B7"),
        ("Vinha\u0303o", "Vinh\u00e3o"),
        ("Α-1", "Α-1"),  # noqa: RUF001 - a Greek letter on purpose
        (7, "7"),
        (7.0, "7"),
        (7.5, None),
        (True, None),
        (None, None),
        ("", None),
        ("   ", None),
        ("x" * 40, "x" * 40),
        ("x" * 41, None),
        ("B\u200f7", None),
        ("B\u202e7", None),
        ("B\n7", None),
        ("B\x007", None),
    ],
)
def test_which_values_can_name_a_block(value: object, name: str | None) -> None:
    assert feature_name(value) == name


def test_blocks_are_named_by_number_without_an_attribute(
    read: "Reader", write_vector: "VectorWriter", write_raster: "RasterWriter", ground: FloatGrid
) -> None:
    write_raster(ground)
    write_vector("block.gpkg", [Polygon(OUTER), Polygon(FAR)])
    inputs = read(elevation={"height_unit": "m"})
    assert [(block.block_id, block.name) for block in inputs.blocks] == [("B01", "B01"), ("B02", "B02")]
    assert inputs.findings == ()


def test_a_number_of_ours_never_meets_a_name_of_theirs(
    read: "Reader", write_vector: "VectorWriter", write_raster: "RasterWriter", ground: FloatGrid
) -> None:
    write_raster(ground)
    write_vector("block.gpkg", [Polygon(OUTER), Polygon(FAR)], values=["\u202e", "B01"])
    inputs = read(elevation={"height_unit": "m"}, block={"id_field": "plot"})
    assert [block.block_id for block in inputs.blocks] == ["B02", "B01"]
    (finding,) = inputs.findings
    assert finding.code == "block-named-by-us"
    assert finding.message == (
        "The plot of feature 1 is no whole number and no text of 1 to 40 printable characters; it is called B02."
    )


@pytest.mark.parametrize(("driver", "end"), DRIVERS[1:])
def test_whole_numbers_name_blocks(
    read: "Reader", write_vector: "VectorWriter", write_raster: "RasterWriter", ground: FloatGrid, driver: str, end: str
) -> None:
    write_raster(ground)
    write_vector(f"named.{end}", [Polygon(OUTER)], driver=driver, values=[17], kind="int")
    inputs = read(elevation={"height_unit": "m"}, block={"boundary": f"named.{end}", "id_field": "plot"})
    assert [block.block_id for block in inputs.blocks] == ["17"]


def test_exclusions_go_to_the_blocks_they_touch(
    read: "Reader", write_vector: "VectorWriter", write_raster: "RasterWriter", ground: FloatGrid
) -> None:
    write_raster(ground)
    write_vector("block.gpkg", [Polygon(OUTER), Polygon(FAR)])
    rock, track = Polygon(HOLE), Polygon(at((45, 35), (110, 35), (110, 38), (45, 38)))
    apart = Polygon(at((1, 1), (3, 1), (3, 3)))  # smaller than a block may be, which an exclusion may
    write_vector("out.gpkg", [rock, apart, track])
    inputs = read(elevation={"height_unit": "m"}, block={"exclusions": "out.gpkg"})
    first, second = inputs.blocks
    assert in_utm(first.exclusions).area == pytest.approx(rock.union(track).area, rel=1e-6)
    assert in_utm(second.exclusions).area == pytest.approx(track.area, rel=1e-6)
    assert [(f.code, f.place) for f in inputs.findings] == [("exclusion-apart", "out.gpkg, feature 2")]


def test_neighbours_that_share_an_edge_do_not_overlap(
    read: "Reader", write_vector: "VectorWriter", write_raster: "RasterWriter", ground: FloatGrid
) -> None:
    write_raster(ground)
    beside = Polygon([OUTER[1], (EAST + 100, NORTH + 20), (EAST + 100, NORTH + 60), OUTER[2]])
    write_vector("block.gpkg", [Polygon(OUTER), beside])
    assert len(read(elevation={"height_unit": "m"}).blocks) == 2
    write_vector("block.gpkg", [Polygon(OUTER), shapely.transform(beside, lambda xy: xy - (0.1, 0.0))])
    with pytest.raises(InputError, match=r"feature 1: it overlaps feature 2 by 4 m2"):
        read(elevation={"height_unit": "m"})


@pytest.mark.parametrize(
    ("values", "names"),
    [
        # Numbers for some blocks and text for others: "4" and "4A".
        ([4, "4A"], ["4", "4A"]),
        # What a spreadsheet leaves where nothing was typed.
        (["", 7], ["B01", "7"]),
        (["north", True], ["north", "true"]),
    ],
)
def test_an_attribute_of_several_kinds_is_read(tmp_path: Path, values: list[object], names: list[str]) -> None:
    squares = [[[x, 0.0], [x + 0.002, 0.0], [x + 0.002, 0.002], [x, 0.002], [x, 0.0]] for x in (0.0, 0.01)]
    features = [
        {"type": "Feature", "properties": {"id": value}, "geometry": {"type": "Polygon", "coordinates": [square]}}
        for value, square in zip(values, squares, strict=True)
    ]
    (tmp_path / "blocks.geojson").write_text(json.dumps({"type": "FeatureCollection", "features": features}))
    faults = Faults()
    settings = BlockSettings(boundary="blocks.geojson", id_field="id", layer="blocks")
    _, blocks, _ = read_blocks(settings, tmp_path, faults)
    assert not faults
    assert [block.block_id for block in blocks] == names


@pytest.mark.parametrize(
    ("record", "wanted"),
    [
        ({"type": "Polygon", "coordinates": [OUTER, []]}, Polygon(OUTER)),
        ({"type": "Polygon", "coordinates": [OUTER, [], HOLE]}, Polygon(OUTER, [HOLE])),
        ({"type": "MultiPolygon", "coordinates": [[OUTER, []], [FAR]]}, MultiPolygon([Polygon(OUTER), Polygon(FAR)])),
        (shapely.to_wkb(MultiPolygon([Polygon(OUTER), Polygon()])), MultiPolygon([Polygon(OUTER)])),
        (shapely.to_wkb(shapely.from_wkt("MULTILINESTRING ((0 0, 1 1), EMPTY)")), MultiLineString([[(0, 0), (1, 1)]])),
    ],
)
def test_parts_and_holes_of_no_corners_are_left_out(record: Any, wanted: BaseGeometry) -> None:  # noqa: ANN401
    """The geometry library falls over on one, taking the process along, where it puts corners between corners."""
    made = drawn(record)
    assert made.equals_exact(wanted)
    assert shapely.get_num_geometries(made) == shapely.get_num_geometries(wanted)
    assert shapely.segmentize(made, 1e3).is_valid
