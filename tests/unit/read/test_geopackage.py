"""GeoPackages are read without the GIS library, and say what it says."""

import sqlite3
from pathlib import Path
from typing import Any

import fiona
import numpy as np
import pyogrio
import pytest
import shapely
from shapely.geometry import mapping, shape
from wirerun.errors import Faults
from wirerun.read.geopackage import open_geopackage
from wirerun.read.lines import read_lines
from wirerun.read.vector import VectorFile, read_polygons

EAST, NORTH = 617_400.0, 4_562_000.0
SQUARE = shapely.box(EAST, NORTH, EAST + 60.0, NORTH + 40.0)
SCHEMA = {
    "geometry": "Unknown",
    "properties": {"plot": "str", "age": "int", "share": "float", "grafted": "bool", "planted": "date", "raw": "bytes"},
}
VALUES = {"plot": "Talhão", "age": 7, "share": 0.25, "grafted": True, "planted": "1998-03-21", "raw": b"\x00\xff"}


def write(path: Path, drawn: list[Any], crs: Any = "EPSG:32629", **options: Any) -> Path:  # noqa: ANN401
    with fiona.open(path, "w", driver="GPKG", crs=crs, schema=SCHEMA, **options) as file:
        for geometry in drawn:
            file.write({"type": "Feature", "geometry": geometry and mapping(geometry), "properties": VALUES})
    return path


def polygons(path: Path, **options: Any) -> VectorFile:  # noqa: ANN401
    faults = Faults()
    file = read_polygons(path, path.name, faults, several="name one", **options)
    faults.stop_if_any()
    assert file is not None
    return file


@pytest.mark.parametrize("dimensions", [2, 3])
def test_geometry_and_attributes_are_those_of_the_library(tmp_path: Path, dimensions: int) -> None:
    """Against fiona: an independent reader of the format."""
    drawn = [SQUARE, shapely.MultiPolygon([SQUARE, shapely.affinity.translate(SQUARE, 100.0)]), None]
    raised = [area and (shapely.force_3d(area, 300.0) if dimensions == 3 else area) for area in drawn]
    path = write(tmp_path / "block.gpkg", raised)
    with open_geopackage(path) as file:
        (table,) = file.tables
        assert file.is_sound(table)
        ours = list(file.features(table))
    with fiona.open(path) as collection:
        theirs = [(record.geometry, dict(record.properties)) for record in collection]
    for (wkb, attributes), (geometry, properties) in zip(ours, theirs, strict=True):
        assert attributes == properties
        assert (wkb is None) == (geometry is None)
        if wkb is not None:
            assert shapely.to_wkt(shapely.from_wkb(wkb)) == shapely.to_wkt(shape(geometry))


@pytest.mark.parametrize("crs", ["EPSG:2193", "EPSG:4326", "EPSG:25829+5782", "+proj=tmerc +lat_0=41 +lon_0=-7.5"])
def test_the_crs_is_that_of_the_library(tmp_path: Path, crs: str) -> None:
    area = shapely.box(-7.6, 41.2, -7.59, 41.21) if crs == "EPSG:4326" else shapely.box(0.0, 0.0, 60.0, 40.0)
    path = write(tmp_path / "block.gpkg", [area], crs)
    with open_geopackage(path) as file, fiona.open(path) as collection:
        ours = file.crs(file.tables[0])
        assert ours is not None
        assert ours.equals(collection.crs.to_wkt(version="WKT2_2019"), ignore_axis_order=True)


def test_a_file_of_many_layers(tmp_path: Path) -> None:
    for number in range(40):
        write(tmp_path / "all.gpkg", [SQUARE], layer=f"layer {number}")
    assert len(polygons(tmp_path / "all.gpkg", layer="layer 39").features) == 1
    faults = Faults()
    read_polygons(tmp_path / "all.gpkg", "all.gpkg", faults, several="name one")
    (fault,) = faults
    assert fault.message == (
        "the file has 40 layers (layer 0, layer 1, layer 2, layer 3, layer 4, layer 5 and 34 more); name one"
    )


def test_names_that_need_quotes(tmp_path: Path) -> None:
    path = write(tmp_path / "block.gpkg", [SQUARE], layer='a "b" [c]; --')
    with sqlite3.connect(path) as base:
        base.execute('ALTER TABLE "a ""b"" [c]; --" RENAME COLUMN "plot" TO "the ""plot"""')
    base.close()
    assert polygons(path, field='the "plot"').values == {1: "Talhão"}


def test_what_the_library_wrote_in_another_way(tmp_path: Path) -> None:
    """Written by pyogrio, another library: older version of the format, no index, an envelope of another kind."""
    frame_path = tmp_path / "lines.gpkg"
    lines = np.array([shapely.to_wkb(shapely.LineString([(EAST, NORTH, 1.0), (EAST + 50.0, NORTH, 2.0)]))])
    pyogrio.raw.write(
        frame_path,
        lines,
        [np.array(["sort"], dtype=object)],
        np.array(["vine"]),
        geometry_type="LineString Z",
        crs="EPSG:32629",
        driver="GPKG",
        dataset_options={"VERSION": "1.0"},
        layer_options={"SPATIAL_INDEX": "NO", "FID": "number", "GEOMETRY_NAME": "where"},
    )
    faults = Faults()
    read = read_lines("lines.gpkg", tmp_path, faults)
    faults.stop_if_any()
    assert read is not None
    assert read.attributes == ({"vine": "sort"},)


def test_computed_columns_are_not_run(tmp_path: Path) -> None:
    path = write(tmp_path / "block.gpkg", [SQUARE])
    with sqlite3.connect(path) as base:
        base.execute("ALTER TABLE block ADD COLUMN bomb AS (zeroblob(900000000))")
    base.close()
    assert polygons(path).values == {1: None}


def test_what_another_program_has_not_written_into_the_file_yet_counts(tmp_path: Path) -> None:
    """A write-ahead log beside the file is read with it, and belongs to its fingerprint."""
    path = write(tmp_path / "block.gpkg", [SQUARE], SPATIAL_INDEX="NO")
    base = sqlite3.connect(path, isolation_level=None)
    base.execute("PRAGMA journal_mode = WAL")
    base.execute("UPDATE block SET plot = 'new'")
    file = polygons(path, field="plot")
    assert file.values == {1: "new"}
    assert [part.path.name for part in file.parts] == ["block.gpkg", "block.gpkg-wal"]
    base.close()
    assert [part.path.name for part in polygons(path).parts] == ["block.gpkg"]


def test_nothing_is_left_beside_the_file(tmp_path: Path) -> None:
    path = write(tmp_path / "block.gpkg", [SQUARE])
    with sqlite3.connect(path) as base:
        base.execute("PRAGMA journal_mode = WAL")
    base.close()
    before = path.read_bytes()
    polygons(path)
    assert [entry.name for entry in tmp_path.iterdir()] == ["block.gpkg"]
    assert path.read_bytes() == before
