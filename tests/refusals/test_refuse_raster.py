"""Every way a height raster can be wrong or not suffice, and the sentence for it."""

import re
import tracemalloc
import warnings
from typing import TYPE_CHECKING

import numpy as np
import pytest
import rasterio
import shapely
from affine import Affine
from pyproj import Transformer
from rasterio.errors import NotGeoreferencedWarning
from wirerun import load_config, plan_config
from wirerun.errors import Exit

if TYPE_CHECKING:
    from tests.refusals.conftest import Estate

EAST, NORTH = 617_400.0, 4_562_000.0
SIZE = (100, 110)
TO_UTM = Transformer.from_crs("EPSG:4326", "EPSG:32629", always_xy=True)


def place(x: float, y: float) -> str:
    """Return a place given in metres from the corner, as a sentence has it."""
    lon, lat = TO_UTM.transform(EAST + x, NORTH + y, direction="INVERSE")
    return f"longitude {lon:.6f}, latitude {lat:.6f}"


def ground() -> np.ndarray:
    row, column = np.mgrid[0 : SIZE[0], 0 : SIZE[1]]
    return np.asarray(300.0 + 0.05 * column - 0.11 * row, dtype=np.float32)


def only(estate: "Estate", code: Exit = Exit.BAD_INPUT) -> str:
    sentences, found = estate.refusal()
    (sentence,) = sentences
    assert found == code
    return sentence


def silent(estate: "Estate", **profile: object) -> None:
    """Write a raster that the library has something to say about."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", NotGeoreferencedWarning)
        estate.ground(**profile)  # type: ignore[arg-type]


def test_no_such_raster(estate: "Estate") -> None:
    estate.settings["elevation"]["raster"] = "grund.tif"
    assert only(estate) == "grund.tif: there is no such file; looked for grund.tif; did you mean ground.tif?"


def test_no_geotiff(estate: "Estate") -> None:
    estate.settings["elevation"]["raster"] = "block.geojson"
    assert only(estate) == "block.geojson: the file is no GeoTIFF, ASCII grid or VRT of such files"
    estate.settings["elevation"]["raster"] = "virtual.tif"
    estate.write(
        "virtual.tif",
        '<VRTDataset rasterXSize="1" rasterYSize="1"><VRTRasterBand dataType="Float32" band="1"><SimpleSource>'
        "<SourceFilename>/vsicurl/http://127.0.0.1/ground.tif</SourceFilename></SimpleSource></VRTRasterBand></VRTDataset>",
    )
    assert only(estate) == (
        'virtual.tif: the VRT names "/vsicurl/http://127.0.0.1/ground.tif"; only plain local files are read'
    )


def test_damaged_raster(estate: "Estate") -> None:
    noise = np.random.default_rng(3).normal(300.0, 1.0, SIZE).astype(np.float32)
    estate.ground(noise, compress="deflate")
    whole = (estate.folder / "ground.tif").read_bytes()
    (estate.folder / "ground.tif").write_bytes(whole[:12])
    assert only(estate) == "ground.tif: the GeoTIFF is damaged"
    # The head is whole, the heights are overwritten.
    (estate.folder / "ground.tif").write_bytes(whole[:2000] + bytes(len(whole) - 2000))
    assert only(estate) == "ground.tif, block B01: the raster is damaged where the block lies: its cells cannot be read"


def test_more_than_one_band(estate: "Estate") -> None:
    estate.ground(np.stack([ground()] * 3))
    assert only(estate) == "ground.tif: the raster has 3 bands; a height raster has one"


def test_complex_numbers(estate: "Estate") -> None:
    estate.ground(ground().astype(np.complex64))
    assert only(estate) == "ground.tif: its values are of type complex64; heights are whole numbers or floats"


def test_no_crs_and_no_position(estate: "Estate") -> None:
    said = "ground.tif: the raster names no CRS that ties it to the earth"
    asked = f"{said}; say which it is in elevation.raster_crs"
    estate.ground(crs=None)
    assert only(estate) == asked
    estate.ground(crs='LOCAL_CS["site grid",UNIT["metre",1]]')
    assert only(estate) == said
    silent(estate, transform=Affine.identity(), crs=None)
    assert estate.refusal()[0] == [
        "ground.tif: the raster has no position: no corner and cell size (geotransform) that can be used",
        asked,
    ]


def test_heights_that_are_none(estate: "Estate") -> None:
    data = ground()
    data[60:62, 50:53] = -3333.0
    estate.ground(data)
    assert only(estate) == (
        f"ground.tif, block B01: 6 cells are no heights of land, such as -3333 m at {place(50.5, 39.5)} "
        "(limits -1000 and 10000 m); declare the no-data number, or the unit"
    )


@pytest.mark.parametrize(
    ("unit", "crs", "setting", "sentence"),
    [
        ("fathom", None, None, 'the band\'s height unit "fathom" is not known; known are m, ft, us-ft, ind-ft'),
        ("fathom", None, "m", 'the band\'s height unit "fathom" is not known; known are m, ft, us-ft, ind-ft'),
        (
            "metre",
            None,
            "us-ft",
            'heights are in metres, but elevation.height_unit is "us-ft"; take the setting out',
        ),
        (
            None,
            "EPSG:32629+6360",
            "m",
            'heights are in US survey feet, but elevation.height_unit is "m"; take the setting out',
        ),
        (
            "metre",
            "EPSG:32629+6360",
            None,
            'the band says metres, the vertical CRS US survey feet; set elevation.height_unit to "m" or "us-ft"',
        ),
    ],
)
def test_height_unit(estate: "Estate", unit: str | None, crs: str | None, setting: str | None, sentence: str) -> None:
    estate.settings["elevation"].pop("height_unit")
    if setting:
        estate.settings["elevation"]["height_unit"] = setting
    estate.ground(unit=unit, crs=crs or "EPSG:32629")
    assert estate.refusal()[0][0] == f"ground.tif: {sentence}"


def test_no_heights_at_all_whatever_the_limit(estate: "Estate") -> None:
    estate.settings["elevation"]["least_cover_pct"] = 0.0
    estate.ground(np.full(SIZE, -9999.0, dtype=np.float32), nodata=-9999.0)
    assert only(estate, Exit.ELEVATION) == "ground.tif, block B01: the block has no heights at all"


def test_heights_in_a_corner_are_enough_where_the_limit_says_so(estate: "Estate") -> None:
    estate.settings["elevation"]["least_cover_pct"] = 0.0
    heights = np.full(SIZE, -9999.0, dtype=np.float32)
    heights[60:70, 60:70] = 300.0
    estate.ground(heights, nodata=-9999.0)
    made = plan_config(load_config(estate.config()))
    # The block passes; its rows, known in part only, are left out one by one.
    assert len(made.left_out) > 0
    assert not made.missing


def test_too_little_cover(estate: "Estate") -> None:
    data = ground()
    data[:, 70:] = -9999.0
    data[75:77, 40:42] = -9999.0  # a smaller hole elsewhere
    estate.ground(data, nodata=-9999.0)
    # Counted anew: cell centres in the ring.
    x, y = np.meshgrid(np.arange(110) + 0.5, np.arange(100) + 0.5)
    inside = shapely.contains_xy(shapely.Polygon([(20, 15), (82, 18), (77, 61), (31, 55)]), x, y)
    missing = inside & (x > 70)
    missing[23:25, 40:42] = True
    share = 100 * (1 - missing.sum() / inside.sum())
    found = re.fullmatch(
        r"ground\.tif, block B01: only (\d\d\.\d) % of the block has heights; the biggest part without lies in the "
        r"east, round longitude (\S+), latitude (\S+) \(least cover 95 %\)",
        only(estate, Exit.ELEVATION),
    )
    assert found
    assert share - 0.1 < float(found[1]) <= share
    east, north = TO_UTM.transform(float(found[2]), float(found[3]))
    # The middle of what lies east of x = 70.
    east_part = inside & (x > 70)
    assert east - EAST == pytest.approx(x[east_part].mean(), abs=0.7)
    assert north - NORTH == pytest.approx(y[east_part].mean(), abs=0.7)


def test_gap_small_enough_is_a_finding(estate: "Estate") -> None:
    data = ground()
    data[75:77, 40:42] = np.nan
    estate.ground(data)
    (finding,) = estate.read().findings
    assert (finding.code, finding.place) == ("cover-gap", "B01")
    assert re.fullmatch(
        r"99\.8 % of the block has heights; the biggest part without lies in the south-west, round longitude \S+, "
        r"latitude \S+\.",
        finding.message,
    )


def test_block_off_the_raster(estate: "Estate") -> None:
    estate.ground(transform=Affine(1.0, 0.0, EAST + 5000.0, 0.0, -1.0, NORTH + 100.0))
    assert only(estate, Exit.ELEVATION) == (
        "ground.tif, block B01: the block lies off the raster: it spans longitude -7.5996 to -7.5988, latitude "
        "41.2010 to 41.2014, the raster longitude -7.5402 to -7.5389, latitude 41.2001 to 41.2010; of a survey in "
        "tiles, give them all: elevation.raster takes a list of files, or a folder"
    )


def test_longitude_and_latitude_swapped(estate: "Estate") -> None:
    corners = [(41.2010, -7.5996), (41.2010, -7.5990), (41.2014, -7.5990), (41.2014, -7.5996), (41.2010, -7.5996)]
    estate.boundary({"type": "Polygon", "coordinates": [corners]})
    assert only(estate) == (
        "block.geojson, block B01: longitude and latitude are swapped: as written it lies at longitude 41.201200, "
        "latitude -7.599300, off the raster ground.tif; the other way round it lies on it; "
        "put longitude first in the file"
    )


@pytest.mark.parametrize(("dtype", "most"), [("float32", 400_000_000), ("float64", 200_000_000)])
def test_too_many_cells(estate: "Estate", dtype: str, most: int) -> None:
    """A file of some kilobytes that says it has millimetre cells, and holds none of them."""
    profile = {"driver": "GTiff", "count": 1, "dtype": dtype, "width": 25_000, "height": 25_000, "crs": "EPSG:32629"}
    layout = {"tiled": True, "blockxsize": 4096, "blockysize": 4096, "SPARSE_OK": "TRUE"}
    place = Affine(0.001, 0.0, EAST + 38.0, 0.0, -0.001, NORTH + 50.0)
    with rasterio.open(estate.folder / "ground.tif", "w", transform=place, **profile, **layout):
        pass
    assert (estate.folder / "ground.tif").stat().st_size < 20_000
    assert only(estate) == (
        f"ground.tif, block B01: 625000000 cells of the raster lie round it, at most {most} are read; take larger cells"
    )


def test_a_small_raster_under_a_large_block_takes_little(estate: "Estate") -> None:
    """What is missing is told from the block's outline, not from cells that are nowhere: 1000 ha are 10 million."""
    x, y = 1600.0, 1600.0
    corners = [(-x, -y), (x, -y), (x, y), (-x, y), (-x, -y)]
    ring = [list(TO_UTM.transform(EAST + e, NORTH + n, direction="INVERSE")) for e, n in corners]
    estate.boundary({"type": "Polygon", "coordinates": [[[0.9 * (lon + 7.5996) - 7.5996, lat] for lon, lat in ring]]})
    tracemalloc.start()
    found = only(estate, Exit.ELEVATION)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    # The raster's share of the block, by the areas.
    assert found.startswith("ground.tif, block B01: only 0.1 % of the block has heights; the biggest part without lies")
    assert peak < 5e6


def test_a_block_that_reaches_beyond_the_raster(estate: "Estate") -> None:
    """Half of it, by its outline: the missing half lies in the east, and its middle is that of the half."""
    estate.ground(ground()[:, :50], transform=Affine(1.0, 0.0, EAST, 0.0, -1.0, NORTH + SIZE[0]))
    found = re.fullmatch(
        r"ground\.tif, block B01: only (\d\d\.\d) % of the block has heights; the biggest part without lies in the "
        r"east, round longitude (\S+), latitude (\S+) \(least cover 95 %\); "
        r"of a survey in tiles, give them all: elevation\.raster takes a list of files, or a folder",
        only(estate, Exit.ELEVATION),
    )
    assert found
    ring = shapely.Polygon([(20, 15), (82, 18), (77, 61), (31, 55)])
    east = ring.intersection(shapely.box(50, 0, 110, 100))
    assert float(found[1]) == pytest.approx(100.0 * (1.0 - east.area / ring.area), abs=0.5)
    place_east, place_north = TO_UTM.transform(float(found[2]), float(found[3]))
    assert place_east - EAST == pytest.approx(east.centroid.x, abs=0.7)
    assert place_north - NORTH == pytest.approx(east.centroid.y, abs=0.7)
