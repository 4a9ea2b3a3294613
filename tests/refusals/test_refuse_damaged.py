"""Damaged files and files that only one library can read: a sentence each, never what the library raises."""

import json
import random
import shutil
import sqlite3
import subprocess
import sys
import warnings
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import fiona
import numpy as np
import pytest
from affine import Affine
from pyproj import CRS
from pyproj.database import query_crs_info
from pyproj.enums import PJType
from rasterio.errors import NotGeoreferencedWarning
from wirerun.errors import Exit
from wirerun.read.crs import horizontal_crs

if TYPE_CHECKING:
    from tests.refusals.conftest import Estate

SQUARE = [(-7.6, 41.2), (-7.599, 41.2), (-7.599, 41.201), (-7.6, 41.201), (-7.6, 41.2)]
EAST, NORTH = 617_400.0, 4_562_000.0
MOON = "IAU_2015:30100"


def write(path: Path, driver: str, *, layer: str | None = None, count: int = 1) -> None:
    schema = {"geometry": "Polygon", "properties": {"plot": "str"}}
    with fiona.open(path, "w", driver=driver, crs="EPSG:4326", layer=layer, schema=schema) as file:
        for number in range(count):
            geometry = {"type": "Polygon", "coordinates": [[(lon + 0.01 * number, lat) for lon, lat in SQUARE]]}
            file.write({"type": "Feature", "geometry": geometry, "properties": {"plot": f"näme {number}"}})


def only(estate: "Estate", code: Exit = Exit.BAD_INPUT) -> str:
    sentences, found = estate.refusal()
    (sentence,) = sentences
    assert found == code
    return sentence


@pytest.mark.parametrize(
    "change",
    [
        lambda text: text[: len(text) // 2],
        lambda text: text[:-1],
        lambda text: text.replace(b"6378137", b"a\xff\xfe"),
        lambda text: text.replace(b"GEOGCS", b"GEOGGS"),
        lambda _: b"\xff" * 300,
    ],
)
def test_shapefile_with_a_damaged_prj(estate: "Estate", change: Callable[[bytes], bytes]) -> None:
    write(estate.folder / "block.shp", "ESRI Shapefile")
    prj = estate.folder / "block.prj"
    prj.write_bytes(change(prj.read_bytes()))
    estate.settings["block"]["boundary"] = "block.shp"
    assert only(estate) == (
        "block.shp: the file names no CRS that ties it to the earth (the part that ends in .prj is damaged or names "
        "none)"
    )


def test_shapefile_with_a_day_that_is_none(estate: "Estate") -> None:
    """The library hands the digits to Python's calendar."""
    schema = {"geometry": "Polygon", "properties": {"day": "date"}}
    path = estate.folder / "block.shp"
    with fiona.open(path, "w", driver="ESRI Shapefile", crs="EPSG:4326", schema=schema) as file:
        geometry = {"type": "Polygon", "coordinates": [SQUARE]}
        file.write({"type": "Feature", "geometry": geometry, "properties": {"day": "1998-03-21"}})
    table = path.with_suffix(".dbf")
    table.write_bytes(table.read_bytes().replace(b"19980321", b"00010321").replace(b"00010321", b"19989921"))
    estate.settings["block"]["boundary"] = "block.shp"
    assert only(estate) == "block.shp: the file is damaged and cannot be read"


def test_a_tab_in_a_name_is_read_with_a_crs_member_and_without(estate: "Estate") -> None:
    text = (estate.folder / "block.geojson").read_text()
    for member in ("", '"crs": {"type": "name", "properties": {"name": "EPSG:4326"}}, '):
        estate.write("block.geojson", text.replace('"n1"', '"n\t1"').replace("{", "{" + member, 1))
        assert len(estate.read().blocks) == 1


@pytest.mark.parametrize("crs", [True, False])
def test_a_trailing_comma(estate: "Estate", crs: bool) -> None:  # noqa: FBT001 - with the member or without
    text = (estate.folder / "block.geojson").read_text()
    member = '"crs": {"type": "name", "properties": {"name": "EPSG:4326"}}, ' if crs else ""
    estate.write("block.geojson", text.replace("{", "{" + member, 1).replace('"plot": "n1"', '"plot": "n1",'))
    assert only(estate).startswith("block.geojson: not valid JSON: Expecting property name enclosed in double quotes")


@pytest.mark.parametrize("deep", [990, 1000, 1010, 5000])
@pytest.mark.parametrize("crs", [True, False])
def test_nested_too_deep(estate: "Estate", deep: int, crs: bool) -> None:  # noqa: FBT001 - with the member or without
    text = (estate.folder / "block.geojson").read_text()
    member = '"crs": {"type": "name", "properties": {"name": "EPSG:4326"}}, ' if crs else ""
    nested = '{"a": ' * deep + "1" + "}" * deep
    estate.write("block.geojson", text.replace("{", "{" + member, 1).replace('"n1"', nested))
    assert "nested too deep" in only(estate)


def test_a_line_with_an_attribute_nested_too_deep(estate: "Estate") -> None:
    nested: dict[str, Any] = {}
    for _ in range(400):
        nested = {"a": nested}
    feature = {"type": "Feature", "properties": nested, "geometry": {"type": "LineString", "coordinates": SQUARE[:2]}}
    estate.write("rows.geojson", json.dumps({"type": "FeatureCollection", "features": [feature]}))
    estate.settings["rows"] = {"layout": "given", "lines": "rows.geojson", "spacing_m": 2.4}
    assert only(estate) == "rows.geojson: it is nested too deep to be read"


def test_a_number_too_long(estate: "Estate") -> None:
    text = (estate.folder / "block.geojson").read_text()
    estate.write("block.geojson", text.replace('"n1"', "7" * 5000))
    assert only(estate) == "block.geojson: this is no GeoJSON: a number is too long"


@pytest.mark.parametrize("name", [MOON, "IAU_2015:49900", "ESRI:104905"])
def test_crs_of_another_body(estate: "Estate", name: str) -> None:
    """The Moon, and Mars in two registries."""
    estate.boundary({"type": "Polygon", "coordinates": [SQUARE]}, crs={"type": "name", "properties": {"name": name}})
    assert only(estate) == (
        f'block.geojson, crs: "{name}" is no CRS that ties it to the earth; without the member it is WGS 84'
    )


def test_raster_and_output_of_another_body(estate: "Estate") -> None:
    moon = CRS.from_authority("IAU_2015", "30110")  # equirectangular, in metres
    estate.ground(crs=moon.to_wkt())
    assert only(estate) == "ground.tif: the raster names no CRS that ties it to the earth"
    estate.ground()
    estate.settings["output"] = {"crs": "IAU_2015:30110"}
    path = estate.config()
    with pytest.raises(Exception, match=r"is no CRS of the earth; wanted is one such as EPSG:32629"):
        estate.read()
    assert path.exists()


def test_every_datum_of_the_registry_is_of_the_earth() -> None:
    """The registry of EPSG holds nothing else; ESRI's has other bodies too, by their names."""
    for info in query_crs_info(auth_name="EPSG", pj_types=PJType.GEOGRAPHIC_2D_CRS):
        crs = CRS.from_authority("EPSG", info.code)
        assert crs.name.lower().startswith(("undefined", "unknown")) or horizontal_crs(crs.to_wkt()) is not None
    for info in query_crs_info(auth_name="ESRI", pj_types=PJType.GEOGRAPHIC_2D_CRS):
        if any(body in info.name for body in ("_Moon_", "_Mars_", "_Venus_", "_Mercury_", "_Titan_", "_Jupiter_")):
            assert horizontal_crs(CRS.from_authority("ESRI", info.code).to_wkt()) is None


@pytest.mark.parametrize("latitude", [90.0, -89.0, 85.5])
def test_block_at_a_pole(estate: "Estate", latitude: float) -> None:
    ring = [
        (10.0, latitude),
        (10.01, latitude),
        (10.01, latitude - 0.0001),
        (10.0, latitude - 0.0001),
        (10.0, latitude),
    ]
    estate.boundary({"type": "Polygon", "coordinates": [ring]})
    found = only(estate)
    assert found.startswith(f"block.geojson, feature 1: it reaches latitude {latitude:g}"[:55])
    assert found.endswith("beyond 85 degrees is too near a pole")


@pytest.mark.parametrize(
    "crs", ["+proj=tmerc +k=1e-300 +lat_0=41 +lon_0=-7", "+proj=tmerc +k=1e300", "+proj=geos +h=35785831 +lon_0=170"]
)
def test_output_crs_that_leads_nowhere(estate: "Estate", crs: str) -> None:
    estate.settings["output"] = {"crs": crs}
    sentences, code = estate.refusal()
    assert code == Exit.BAD_INPUT
    assert [sentence.split(":")[0] for sentence in sentences] == ["config.toml, output.crs"]


@pytest.mark.parametrize(
    ("cells", "sentence"),
    [
        ((1e300, 1e300), "the raster has cells of 1e+300 by 1e+300 (limits 1e-08 and 100000 in the units of its CRS)"),
        ((1e-12, 1.0), "the raster has cells of 1e-12 by 1 (limits 1e-08 and 100000 in the units of its CRS)"),
        (
            (float("inf"), 1.0),
            "the raster has no position: no corner and cell size (geotransform) that can be used",
        ),
        (
            (float("nan"), 1.0),
            "the raster has no position: no corner and cell size (geotransform) that can be used",
        ),
    ],
)
def test_cells_that_are_none(estate: "Estate", cells: tuple[float, float], sentence: str) -> None:
    estate.ground(transform=Affine(cells[0], 0.0, EAST, 0.0, -cells[1], NORTH + 100.0))
    assert only(estate) == f"ground.tif: {sentence}"


@pytest.mark.parametrize(
    ("tags", "words"),
    [
        ({"scales": (float("nan"),)}, "scale is nan"),
        ({"scales": (float("inf"),)}, "scale is inf"),
        ({"scales": (0.0,)}, "scale is 0"),
        ({"offsets": (float("nan"),)}, "offset is nan"),
    ],
)
def test_scale_and_offset_that_make_no_heights(estate: "Estate", tags: dict[str, Any], words: str) -> None:
    import rasterio  # noqa: PLC0415 - to write a tag

    with rasterio.open(estate.folder / "ground.tif", "r+") as raster:
        for name, value in tags.items():
            setattr(raster, name, value)
    assert only(estate) == f"ground.tif: the band's {words}: no heights can be made with it"


def test_scale_that_makes_heights_infinite(estate: "Estate") -> None:
    import rasterio  # noqa: PLC0415 - to write a tag

    with rasterio.open(estate.folder / "ground.tif", "r+") as raster:
        raster.scales = (1e308,)
    assert "cells are no heights of land, such as inf m at" in only(estate)


def test_photo_with_a_position_that_is_none(estate: "Estate") -> None:
    estate.settings["map"] = {"orthophoto": "photo.tif"}
    photo = np.full((3, 100, 110), 120, dtype=np.uint8)
    nan = float("nan")
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", NotGeoreferencedWarning)
        for transform in (Affine(nan, 0.0, EAST, 0.0, -1.0, NORTH), Affine(1.0, 0.0, nan, 0.0, -1.0, NORTH)):
            estate.ground(photo, name="photo.tif", photometric="RGB", transform=transform)
            assert only(estate) == (
                "photo.tif: it has no position: no corner and cell size (geotransform) that can be used"
            )
    estate.ground(photo, name="photo.tif", photometric="RGB", transform=Affine(1e300, 0.0, EAST, 0.0, -1e300, NORTH))
    assert only(estate) == (
        "photo.tif: it has cells of 1e+300 by 1e+300 (limits 1e-08 and 100000 in the units of its CRS)"
    )


def test_geopackage_whose_layer_is_a_view(estate: "Estate") -> None:
    """A view that never ends, one that fills the memory, and one that would load a library."""
    for query in (
        "WITH RECURSIVE n(i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n) SELECT i AS fid, geom FROM n, block",
        "SELECT fid, zeroblob(900000000) AS geom FROM block",
        "SELECT fid, load_extension('/nowhere/evil') AS geom FROM block",
    ):
        (estate.folder / "block.gpkg").unlink(missing_ok=True)
        write(estate.folder / "block.gpkg", "GPKG")
        with sqlite3.connect(estate.folder / "block.gpkg") as base:
            base.execute(f"CREATE VIEW trap AS {query}")
            base.execute("UPDATE gpkg_geometry_columns SET table_name = 'trap'")
            base.execute("UPDATE gpkg_contents SET table_name = 'trap'")
        base.close()
        estate.settings["block"]["boundary"] = "block.gpkg"
        assert only(estate) == (
            "block.gpkg: the file has no layer with geometry; views are not read, save trap as a table"
        )


def test_sqlite_file_that_is_no_geopackage(estate: "Estate") -> None:
    with sqlite3.connect(estate.folder / "block.gpkg") as base:
        base.execute("CREATE TABLE notes (words TEXT)")
    base.close()
    estate.settings["block"]["boundary"] = "block.gpkg"
    assert only(estate) == "block.gpkg: the file is damaged and cannot be read"


def test_geopackage_that_another_program_writes_to(estate: "Estate", monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("wirerun.read.geopackage._WAIT_SECONDS", 0.1)
    write(estate.folder / "block.gpkg", "GPKG")
    estate.settings["block"]["boundary"] = "block.gpkg"
    base = sqlite3.connect(estate.folder / "block.gpkg", isolation_level=None)
    base.execute("PRAGMA cache_spill = 1")
    base.execute("BEGIN EXCLUSIVE")
    base.execute("UPDATE gpkg_contents SET description = 'new'")
    assert only(estate) == "block.gpkg: another program is writing to it; close it there, and run again"
    base.execute("ROLLBACK")
    base.close()
    estate.settings["elevation"]["least_cover_pct"] = 0.0
    assert len(estate.read().blocks) == 1


CHILD = """
import sys
from wirerun.errors import InputError
from wirerun.read.config import load_config
from wirerun.read.inputs import read_inputs
for path in sys.argv[1:]:
    try:
        read_inputs(load_config(path))
        print("read", flush=True)
    except InputError as error:
        print(int(error.exit_code), flush=True)
"""


@pytest.mark.parametrize(
    ("name", "driver", "count"),
    [("b.gpkg", "GPKG", 60), ("b.shp", "ESRI Shapefile", 20), ("b.fgb", "FlatGeobuf", 20), ("g.tif", "GTiff", 40)],
)
def test_randomly_damaged_files(
    estate: "Estate", tmp_path_factory: pytest.TempPathFactory, name: str, driver: str, count: int
) -> None:
    """In a process of their own: a library that falls over must not take the tests along."""
    chance = random.Random(20260731)  # noqa: S311 - no secret
    if driver == "GTiff":
        estate.ground(name=name, compress="deflate", unit="metre", tiled=True, blockxsize=32, blockysize=32)
        estate.settings["elevation"]["raster"] = name
    else:
        write(estate.folder / name, driver, count=3)
        estate.settings["block"].update(boundary=name, id_field="plot")
    estate.config()
    configs = []
    for _ in range(count):
        folder = shutil.copytree(estate.folder, tmp_path_factory.mktemp("damaged") / "estate")
        path = chance.choice([path for path in sorted(folder.iterdir()) if path.stem == Path(name).stem])
        raw = bytearray(path.read_bytes())
        head = len(raw) if driver != "GTiff" or chance.random() < 0.3 else 1200
        if chance.random() < 0.2:
            del raw[chance.randrange(1, len(raw)) :]
        for _ in range(chance.choice([1, 3, 10, 50, 200, 1000])):
            raw[chance.randrange(min(head, len(raw)))] = chance.randrange(256)
        path.write_bytes(raw)
        configs.append(str(folder / "config.toml"))
    command = [sys.executable, "-c", CHILD, *configs]
    done = subprocess.run(command, capture_output=True, text=True, errors="replace", check=False)  # noqa: S603
    assert done.returncode == 0, done.stderr
    told = done.stdout.split()
    assert len(told) == count
    # Some come through whole, some are refused, none falls.
    assert {"3"} < set(told) <= {"read", "3", "4"}
