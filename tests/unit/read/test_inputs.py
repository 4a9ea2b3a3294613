"""What goes with the blocks and heights: fingerprints, the output CRS, and how well datums are tied."""

import hashlib
import os
import shutil
import warnings
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pytest
from affine import Affine
from numpy.typing import NDArray
from pyproj import CRS, Transformer
from rasterio.errors import NotGeoreferencedWarning
from shapely import Polygon
from wirerun.errors import InputError
from wirerun.read import inputs, plain_file
from wirerun.read.crs import crs_name, horizontal_crs, loose_steps, utm_crs
from wirerun.settings import Catalogue
from wirerun.settings.catalogue import FILES

if TYPE_CHECKING:
    from tests.unit.read.conftest import RasterWriter, Reader, VectorWriter

FloatGrid = NDArray[np.float32]
EAST, NORTH = 617_400.0, 4_562_000.0
BLOCK = Polygon([(EAST + x, NORTH + y) for x, y in [(20.0, 15.0), (82.0, 18.0), (77.0, 61.0), (31.0, 55.0)]])
METRE = {"height_unit": "m"}
CATALOGUE = Path(__file__).parents[3] / "configs" / "catalogue"


def test_fingerprints(
    read: "Reader", write_vector: "VectorWriter", write_raster: "RasterWriter", ground: FloatGrid, tmp_path: Path
) -> None:
    write_raster(ground)
    write_vector("block.shp", [BLOCK], driver="ESRI Shapefile")
    write_vector("out.gpkg", [BLOCK.buffer(-20.0)])
    inputs = read(elevation=METRE, block={"boundary": "block.shp", "exclusions": "out.gpkg"})
    parts = b"".join((tmp_path / f"block.{end}").read_bytes() for end in ("cpg", "dbf", "prj", "shp", "shx"))
    assert [(source.role, source.path, source.sha256) for source in inputs.sources] == [
        ("boundary", "block.shp", hashlib.sha256(parts).hexdigest()),
        ("exclusions", "out.gpkg", hashlib.sha256((tmp_path / "out.gpkg").read_bytes()).hexdigest()),
        ("raster", "ground.tif", hashlib.sha256((tmp_path / "ground.tif").read_bytes()).hexdigest()),
        *(
            ("catalogue", f"catalogue of the program/{path.name}", hashlib.sha256(path.read_bytes()).hexdigest())
            for path in (CATALOGUE / f"{name}.csv" for name in FILES)
        ),
    ]


def test_reading_leaves_the_folder_as_it_was(
    read: "Reader", write_vector: "VectorWriter", write_raster: "RasterWriter", ground: FloatGrid, tmp_path: Path
) -> None:
    write_raster(ground)
    write_vector("block.gpkg", [BLOCK])
    before = {path.name: path.read_bytes() for path in tmp_path.iterdir()}
    read(elevation=METRE)
    assert {path.name: path.read_bytes() for path in tmp_path.iterdir()} == before


def _replace(path: Path) -> None:
    """Put another file of the same length, and as old, in a file's place."""
    other, before = path.with_name("other"), path.stat()
    other.write_bytes(path.read_bytes()[::-1])
    os.utime(other, ns=(before.st_atime_ns, before.st_mtime_ns))
    other.replace(path)


@pytest.mark.parametrize("name", ["block.shp", "block.dbf", "ground.tif", "ground.tfw", "photo.tif", "wire.csv"])
@pytest.mark.parametrize(
    "change",
    [_replace, Path.unlink, lambda path: path.write_bytes(path.read_bytes() + b" ")],
    ids=["new", "gone", "in"],
)
def test_a_file_that_changes_while_it_is_read(
    read: "Reader",
    write_vector: "VectorWriter",
    write_raster: "RasterWriter",
    ground: FloatGrid,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    name: str,
    change: Callable[[Path], object],
) -> None:
    """Once everything was read and before anything is fingerprinted: the record must not name another file's."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", NotGeoreferencedWarning)
        write_raster(ground, transform=None)
    (tmp_path / "ground.tfw").write_text(f"1\n0\n0\n-1\n{EAST + 0.5}\n{NORTH + 99.5}\n")
    write_raster(np.full((3, *ground.shape), 120, dtype=np.uint8), "photo.tif", photometric="RGB")
    write_vector("block.shp", [BLOCK], driver="ESRI Shapefile")
    shutil.copytree(CATALOGUE, tmp_path / "mine")
    sections = {"block": {"boundary": "block.shp"}, "catalogue": {"folder": "mine"}, "map": {"orthophoto": "photo.tif"}}
    read(elevation=METRE, **sections)
    plain_file._digest.cache_clear()  # noqa: SLF001 - the reading above took them already
    fingerprint = hashlib.sha256
    changed: list[str] = []

    def late() -> object:
        if not changed:
            changed.append(name)
            change(tmp_path / "mine" / name if name == "wire.csv" else tmp_path / name)
        return fingerprint()

    # Of the photo and the catalogue the fingerprint is taken as soon as they are read, of the others at the end.
    monkeypatch.setattr(hashlib, "sha256", late)
    if name != "wire.csv":
        monkeypatch.setattr(inputs, "read_catalogue", lambda *_: (Catalogue(), ()))
    if name not in {"wire.csv", "photo.tif"}:
        monkeypatch.setattr(inputs, "read_orthophoto", lambda *_: (None, ()))
    with pytest.raises(InputError) as caught:
        read(elevation=METRE, **sections)
    given = {"block.dbf": "block.shp", "wire.csv": "mine/wire.csv"}.get(name, name)
    assert str(caught.value) == f"{given}: the file was changed while it was read; run again when nothing writes to it"


def test_world_file_is_a_sidecar(
    read: "Reader", write_raster: "RasterWriter", ground: FloatGrid, tmp_path: Path
) -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", NotGeoreferencedWarning)
        write_raster(ground, transform=None)
    (tmp_path / "ground.tfw").write_text(f"1\n0\n0\n-1\n{EAST + 0.5}\n{NORTH + 99.5}\n")
    inputs = read(elevation=METRE)
    assert [(source.role, source.path) for source in inputs.sources if source.role.startswith("raster")] == [
        ("raster", "ground.tif"),
        ("raster-sidecar", "ground.tfw"),
    ]


@pytest.mark.parametrize(
    ("raster_crs", "wanted", "output"),
    [
        ("EPSG:32629", None, "EPSG:32629"),
        ("EPSG:25829", None, "EPSG:25829"),
        ("EPSG:32629", "EPSG:3763", "EPSG:3763"),
        ("EPSG:32629+5703", None, "EPSG:32629"),
    ],
)
def test_output_crs(
    read: "Reader",
    write_raster: "RasterWriter",
    ground: FloatGrid,
    raster_crs: str,
    wanted: str | None,
    output: str,
) -> None:
    write_raster(ground, crs=raster_crs)
    assert read(elevation=METRE, output={"crs": wanted}).output_crs == output


def test_output_crs_without_a_code_is_wkt(read: "Reader", write_raster: "RasterWriter", ground: FloatGrid) -> None:
    own = CRS.from_proj4("+proj=tmerc +lat_0=41.2 +lon_0=-7.6 +datum=WGS84 +units=m")
    x, y = Transformer.from_crs("EPSG:32629", own, always_xy=True).transform(EAST, NORTH)
    write_raster(ground, crs=own.to_wkt(), transform=Affine(1, 0, x, 0, -1, y + 100))
    assert CRS.from_wkt(read(elevation=METRE).output_crs).equals(own)


def test_output_crs_that_will_not_do_for_a_config_made_in_python(
    read: "Reader", write_raster: "RasterWriter", ground: FloatGrid
) -> None:
    write_raster(ground)
    with pytest.raises(InputError, match=r'^config, output\.crs: "EPSG:4326" \(WGS 84\) is no projected CRS'):
        read(elevation=METRE, output={"crs": "EPSG:4326"})


@pytest.mark.parametrize(
    ("lon", "lat", "code"), [(-7.6, 41.2, 32629), (-180.0, -1.0, 32701), (180.0, 1.0, 32660), (173.8, -41.5, 32759)]
)
def test_utm_zone(lon: float, lat: float, code: int) -> None:
    assert utm_crs(lon, lat).to_epsg() == code


@pytest.mark.parametrize("code", [25829, 2193, 3067, 31468, 4326, 26910])
@pytest.mark.parametrize("version", ["WKT2_2019", "WKT1_GDAL"])
def test_crs_is_known_again_from_the_words_of_a_file(code: int, version: str) -> None:
    crs = horizontal_crs(CRS.from_epsg(code).to_wkt(version))
    assert crs is not None
    assert crs_name(crs) == f"EPSG:{code}"


def test_vertical_parts_are_dropped() -> None:
    compound = horizontal_crs(CRS.from_user_input("EPSG:25829+5782").to_wkt())
    assert compound is not None
    assert crs_name(compound) == "EPSG:25829"
    raised = horizontal_crs(CRS.from_epsg(4979).to_wkt())
    assert raised is not None
    assert len(raised.axis_info) == 2


def test_step_between_datums_is_what_the_transformation_says() -> None:
    wgs84, etrs89, lisbon = (CRS.from_epsg(code) for code in (4326, 25829, 20790))
    assert loose_steps(wgs84, CRS.from_epsg(32629), -7.6, 41.2) == []
    assert loose_steps(CRS.from_epsg(4258), etrs89, -7.6, 41.2) == []
    (step,) = loose_steps(wgs84, etrs89, -7.6, 41.2)
    # The registry's "ETRS89 to WGS 84 (1)", EPSG:1149, states 1 m.
    assert (step.accuracy_m, step.carried_over) == (1.0, False)
    assert step.end == "European Terrestrial Reference System 1989"
    first, second = loose_steps(lisbon, etrs89, -7.6, 41.2)
    assert (first.start, first.end) == ("Lisbon 1937 (Lisbon)", "World Geodetic System 1984")
    assert (first.accuracy_m, second) == (2.0, step)


def test_step_that_nobody_knows() -> None:
    own = CRS.from_wkt(
        'PROJCRS["site",BASEGEOGCRS["site",DATUM["site datum",ELLIPSOID["GRS 1980",6378137,298.257222101]]],'
        'CONVERSION["c",METHOD["Transverse Mercator",ID["EPSG",9807]],'
        'PARAMETER["Latitude of natural origin",41.2,ANGLEUNIT["degree",0.0174532925199433]],'
        'PARAMETER["Longitude of natural origin",-7.6,ANGLEUNIT["degree",0.0174532925199433]],'
        'PARAMETER["Scale factor at natural origin",1,SCALEUNIT["unity",1]],'
        'PARAMETER["False easting",0,LENGTHUNIT["metre",1]],PARAMETER["False northing",0,LENGTHUNIT["metre",1]]],'
        'CS[Cartesian,2],AXIS["e",east],AXIS["n",north],LENGTHUNIT["metre",1]]'
    )
    (step,) = loose_steps(CRS.from_epsg(4326), own, -7.6, 41.2)
    assert (step.accuracy_m, step.carried_over, step.end) == (None, True, "site datum")


def test_datum_step_is_told_once(
    read: "Reader", write_vector: "VectorWriter", write_raster: "RasterWriter", ground: FloatGrid
) -> None:
    write_raster(ground, crs="EPSG:25829")
    write_vector("out.gpkg", [BLOCK.buffer(-20.0)])
    (finding,) = read(elevation=METRE, block={"exclusions": "out.gpkg"}).findings
    assert (finding.code, finding.place) == ("crs-shift", "block.gpkg")
    assert finding.message == (
        "The step from World Geodetic System 1984 to European Terrestrial Reference System 1989 is known to 1 m only; "
        "block.gpkg may lie that far off on the raster."
    )
