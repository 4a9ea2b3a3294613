"""Heights come out of a raster with the right value at the right place, and holes stay holes."""

import re
import warnings
from html import escape
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
import rasterio
import rasterio.enums
import rasterio.errors
from affine import Affine
from numpy.typing import NDArray
from pyproj import CRS, Transformer
from pyproj.database import get_units_map
from rasterio.windows import Window
from wirerun.errors import InputError
from wirerun.read.height_tile import holds
from wirerun.read.height_unit import METRES
from wirerun.records import Grid

if TYPE_CHECKING:
    from tests.unit.read.conftest import RasterWriter, Reader

FloatGrid = NDArray[np.float32]
EAST, NORTH = 617_400.0, 4_562_000.0
METRE = {"height_unit": "m"}


def cell(grid: Grid, x: float, y: float) -> tuple[int, int]:
    """Row and column of the cell that holds a place, in metres from the corner."""
    column, row = ~grid.transform * (EAST + x, NORTH + y)
    return int(np.floor(row)), int(np.floor(column))


def at(grid: Grid, x: float, y: float) -> float:
    row, column = cell(grid, x, y)
    assert grid.valid[row, column]
    return float(grid.heights_m[row, column])


def only(read: "Reader", **sections: dict[str, Any]) -> Grid:
    sections.setdefault("elevation", METRE)
    (grid,) = read(**sections).grids
    assert grid.heights_m.shape == grid.valid.shape
    assert np.isfinite(grid.heights_m).all()
    assert (grid.heights_m[~grid.valid] == 0.0).all()
    return grid


def test_window_is_the_block_and_a_margin(read: "Reader", write_raster: "RasterWriter", ground: FloatGrid) -> None:
    write_raster(ground)
    grid = only(read)
    # Block x 20 to 82, y 15 to 61; margin 3 cells and 1 m of smoothing, rounded outwards.
    assert grid.heights_m.shape == (54, 70)
    assert (grid.transform.c, grid.transform.f) == (EAST + 16, NORTH + 65)
    np.testing.assert_array_equal(grid.heights_m, ground[35:89, 16:86])
    assert grid.heights_m.dtype == np.float32
    assert CRS.from_wkt(grid.crs_wkt).to_epsg() == 32629
    wide = only(read, elevation={**METRE, "smoothing_m": 10.0})
    assert wide.heights_m.shape == (46 + 2 * 13, 62 + 2 * 13)


def test_window_ends_where_the_raster_ends(read: "Reader", write_raster: "RasterWriter", ground: FloatGrid) -> None:
    write_raster(ground[36:87, 19:84], transform=Affine(1, 0, EAST + 19, 0, -1, NORTH + 64))
    grid = only(read)
    assert grid.heights_m.shape == (51, 65)
    assert at(grid, 30.5, 40.5) == ground[59, 30]


@pytest.mark.parametrize(
    ("dtype", "kept"),
    [
        ("int8", "float32"),
        ("uint8", "float32"),
        ("int16", "float32"),
        ("uint16", "float32"),
        ("int32", "float64"),
        ("uint32", "float64"),
        ("float32", "float32"),
        ("float64", "float64"),
    ],
)
def test_number_types(read: "Reader", write_raster: "RasterWriter", ground: FloatGrid, dtype: str, kept: str) -> None:
    data = (ground / 4.0).astype(dtype)
    write_raster(data)
    grid = only(read)
    assert grid.heights_m.dtype == kept
    assert at(grid, 50.5, 30.5) == data[69, 50]


def test_declared_nodata_nan_and_infinity(read: "Reader", write_raster: "RasterWriter", ground: FloatGrid) -> None:
    ground[69, 50], ground[69, 52], ground[69, 54] = -5.0, np.nan, np.inf
    write_raster(ground, nodata=-5.0)
    grid = only(read)
    assert [grid.valid[cell(grid, x + 0.5, 30.5)] for x in range(50, 55)] == [False, True, False, True, False]


@pytest.mark.parametrize("nodata", [np.nan, 3.4028234663852886e38, -3.4028234663852886e38])
def test_nodata_numbers_at_the_edge(
    read: "Reader", write_raster: "RasterWriter", ground: FloatGrid, nodata: float
) -> None:
    ground[69, 50] = nodata
    write_raster(ground, nodata=nodata)
    inputs = read(elevation=METRE)
    assert [finding.code for finding in inputs.findings] == ["cover-gap"]
    assert not inputs.grids[0].valid[cell(inputs.grids[0], 50.5, 30.5)]


@pytest.mark.parametrize(("tile", "window"), [(16, (32, 32)), (48, (48, 48))])
def test_tiles_that_were_never_written_have_no_heights(
    read: "Reader", write_raster: "RasterWriter", ground: FloatGrid, tile: int, window: tuple[int, int]
) -> None:
    """The library hands them out as 0; a tile that was written full of zeros is in the file, and stays."""
    path = write_raster(ground)
    layout = {"tiled": True, "blockxsize": tile, "blockysize": tile}
    with rasterio.open(path) as raster:
        profile = raster.profile | layout
    row, column = window
    with rasterio.open(path, "w", **profile, SPARSE_OK="TRUE") as raster:
        for top in range(0, ground.shape[0], tile):
            for left in range(0, ground.shape[1], tile):
                part = ground[top : top + tile, left : left + tile]
                if (top, left) != (row, column):
                    raster.write(part, 1, window=Window(left, top, part.shape[1], part.shape[0]))
    inputs = read(elevation=METRE | {"least_cover_pct": 0.0})
    (grid,) = inputs.grids
    expected = np.ones(ground.shape, dtype=bool)
    expected[row : row + tile, column : column + tile] = False
    shown = expected[35:89, 16:86]
    np.testing.assert_array_equal(grid.valid, shown)
    np.testing.assert_array_equal(grid.heights_m[shown], ground[35:89, 16:86][shown])
    told = next(finding for finding in inputs.findings if finding.code == "absent-tiles")
    assert told.message == (
        f"Of the cells read from ground.tif, {(~shown).sum()} lie in tiles that the file does not hold; they were "
        "taken as empty."
    )
    assert {finding.code for finding in inputs.findings} == {"absent-tiles", "cover-gap"}


def test_a_raster_without_any_tile_has_no_heights(read: "Reader", write_raster: "RasterWriter") -> None:
    write_raster(np.zeros((100, 110), dtype=np.float32), SPARSE_OK="TRUE")
    with pytest.raises(InputError, match=r"block B01: the block has no heights at all"):
        read(elevation=METRE)


@pytest.mark.parametrize("notes", ["NoDataValue", "UnitType", "Scale", "Offset", "SRS", "GeoTransform"])
def test_notes_beside_a_raster_are_told_not_read(
    read: "Reader", write_raster: "RasterWriter", ground: FloatGrid, notes: str
) -> None:
    """What says the same as the raster, and statistics, are nothing to tell."""
    path = write_raster(ground, nodata=-9999.0, tags={"units": ("metre",)})
    band = {"NoDataValue": "300", "UnitType": "foot", "Scale": "2", "Offset": "7"}.get(notes)
    whole = {"SRS": CRS.from_epsg(32630).to_wkt(), "GeoTransform": "1, 2, 0, 3, 0, -4"}.get(notes)
    text = f"<{notes}>{escape(band or whole or '')}</{notes}>"
    inner = f'<PAMRasterBand band="1">{text}</PAMRasterBand>' if band else text
    path.with_name("ground.tif.aux.xml").write_text(f"<PAMDataset>{inner}</PAMDataset>")
    inputs = read()
    words = {
        "NoDataValue": "a no-data number",
        "UnitType": "a height unit",
        "Scale": "a scale",
        "Offset": "an offset",
        "SRS": "a CRS",
        "GeoTransform": "a position",
    }[notes]
    (finding,) = inputs.findings
    assert (finding.code, finding.place) == ("sidecar-unread", "ground.tif")
    assert finding.message == (
        f"ground.tif.aux.xml beside the raster is not read, but names {words} that the GeoTIFF itself does not; write "
        "that into the GeoTIFF."
    )
    np.testing.assert_array_equal(inputs.grids[0].heights_m, ground[35:89, 16:86])
    same = {"NoDataValue": "-9999", "UnitType": "metre", "Scale": "1", "Offset": "0"} | {
        "SRS": CRS.from_epsg(32629).to_wkt(),
        "GeoTransform": f"{EAST}, 1, 0, {NORTH + 100}, 0, -1",
    }
    statistics = '<Metadata><MDI key="STATISTICS_MAXIMUM">9</MDI></Metadata>'
    text = f"<{notes}>{escape(same[notes])}</{notes}>{statistics}"
    path.with_name("ground.tif.aux.xml").write_text(f"<PAMDataset>{text}</PAMDataset>")
    assert read().findings == ()


def test_notes_that_have_the_only_crs_are_named(
    read: "Reader", write_raster: "RasterWriter", ground: FloatGrid
) -> None:
    path = write_raster(ground, crs=None)
    wkt = escape(CRS.from_epsg(32629).to_wkt())
    path.with_name("ground.tif.aux.xml").write_text(f"<PAMDataset><SRS>{wkt}</SRS></PAMDataset>")
    sentence = (
        "ground.tif: the raster names no CRS that ties it to the earth; ground.tif.aux.xml beside it is not read: "
        "write the CRS into the GeoTIFF"
    )
    with pytest.raises(InputError, match=sentence):
        read(elevation=METRE)


def test_a_mask_beside_that_does_not_fit(read: "Reader", write_raster: "RasterWriter", ground: FloatGrid) -> None:
    write_raster(ground)
    write_raster(np.full((50, 50), 255, dtype=np.uint8), "ground.tif.msk", driver="GTiff")
    with pytest.raises(InputError, match=r"the mask in the file beside it \(\.msk\) does not fit it"):
        read(elevation=METRE)


@pytest.mark.parametrize("kept", ["inside", "beside"])
def test_mask_band_and_a_nodata_number(
    read: "Reader", write_raster: "RasterWriter", ground: FloatGrid, kept: str
) -> None:
    mask = np.full(ground.shape, 255, dtype=np.uint8)
    mask[69, 50] = 0
    ground[69, 52] = -9999.0
    with rasterio.Env(GDAL_TIFF_INTERNAL_MASK=kept == "inside"):
        write_raster(ground, mask=mask, nodata=-9999.0)
    inputs = read(elevation=METRE)
    (grid,) = inputs.grids
    assert [bool(grid.valid[cell(grid, x + 0.5, 30.5)]) for x in (50, 51, 52)] == [False, True, False]
    roles = [source.role for source in inputs.sources if source.role != "catalogue"]
    assert roles == ["boundary", "raster"] if kept == "inside" else ["boundary", "raster", "raster-sidecar"]


@pytest.mark.parametrize("nodata", [None, -9999.0])
def test_alpha_band_is_a_mask(
    read: "Reader", write_raster: "RasterWriter", ground: FloatGrid, nodata: float | None
) -> None:
    alpha = np.full(ground.shape, 255.0, dtype=np.float32)
    alpha[69, 50] = 0.0
    ground[69, 52] = -9999.0
    write_raster(np.stack([ground, alpha]), alpha="YES", nodata=nodata)
    inputs = read(elevation=METRE)
    (grid,) = inputs.grids
    assert [bool(grid.valid[cell(grid, x + 0.5, 30.5)]) for x in (50, 51, 52)] == [False, True, False]
    codes = {finding.code for finding in inputs.findings}
    assert codes == ({"cover-gap"} if nodata else {"cover-gap", "undeclared-nodata"})


@pytest.mark.parametrize(
    ("number", "words"),
    [
        (-9999.0, "3 hold -9999"),
        (-32767.0, "3 hold -32767"),
        (-32768.0, "3 hold -32768"),
        (-99999.0, "3 hold -99999"),
        (-3.4028234663852886e38, "3 lie beyond 1e+30"),
        (3.4028234663852886e38, "3 lie beyond 1e+30"),
    ],
)
def test_undeclared_nodata_is_masked_and_told(
    read: "Reader", write_raster: "RasterWriter", ground: FloatGrid, number: float, words: str
) -> None:
    ground[69, 50:53] = number
    write_raster(ground)
    inputs = read(elevation=METRE)
    (grid,) = inputs.grids
    assert [bool(grid.valid[cell(grid, x + 0.5, 30.5)]) for x in (49, 50, 51, 52, 53)] == [
        True,
        False,
        False,
        False,
        True,
    ]
    told = next(finding for finding in inputs.findings if finding.code == "undeclared-nodata")
    assert told.place == "B01"
    assert told.message == (
        f"Of the cells read from ground.tif, {words}, not declared as no-data; they were taken as empty."
    )


def test_scale_and_offset_come_after_nodata(read: "Reader", write_raster: "RasterWriter") -> None:
    row, column = np.mgrid[0:100, 0:110]
    data = (1000 + 7 * column - 3 * row).astype(np.int16)
    data[69, 52] = -32768
    write_raster(data, nodata=-32768, tags={"scales": (0.01,), "offsets": (250.0,)})
    grid = only(read)
    assert grid.heights_m.dtype == np.float64
    assert at(grid, 50.5, 30.5) == pytest.approx(250.0 + 0.01 * data[69, 50], rel=1e-15)
    assert not grid.valid[cell(grid, 52.5, 30.5)]


def test_point_and_area_rasters_have_the_same_heights_at_the_same_places(
    read: "Reader", write_raster: "RasterWriter", ground: FloatGrid
) -> None:
    """A Point raster is tied by the middle of its first cell: half a cell off in the file, not on the ground."""
    tie_point = np.float64(EAST + 0.5).tobytes()
    assert tie_point not in write_raster(ground).read_bytes()
    area = only(read)
    path = write_raster(ground, tags={"AREA_OR_POINT": "Point"})
    # The tie point in the file moved by half a cell, or this would test nothing.
    assert tie_point in path.read_bytes()
    point = only(read)
    np.testing.assert_array_equal(point.heights_m, area.heights_m)
    assert point.transform == area.transform


def test_rotated_raster(read: "Reader", write_raster: "RasterWriter") -> None:
    """A plane is a plane however the cells lie."""
    turned = Affine.translation(EAST - 40.0, NORTH + 70.0) * Affine.rotation(23.0) * Affine.scale(0.8, -1.1)
    row, column = np.mgrid[0:160, 0:220] + 0.5
    x, y = turned * (column, row)
    write_raster(300.0 + 0.3 * (x - EAST) - 0.2 * (y - NORTH), transform=turned)
    grid = only(read)
    assert grid.valid.all()
    row, column = np.mgrid[0 : grid.heights_m.shape[0], 0 : grid.heights_m.shape[1]] + 0.5
    x, y = grid.transform * (column, row)
    np.testing.assert_allclose(grid.heights_m, 300.0 + 0.3 * (x - EAST) - 0.2 * (y - NORTH), atol=1e-9)


def test_rows_from_the_south(read: "Reader", write_raster: "RasterWriter", ground: FloatGrid) -> None:
    write_raster(ground[::-1], transform=Affine(1, 0, EAST, 0, 1, NORTH))
    assert at(only(read), 50.5, 30.5) == ground[69, 50]


def test_raster_in_degrees(read: "Reader", write_raster: "RasterWriter") -> None:
    lon, lat = Transformer.from_crs("EPSG:32629", "EPSG:4326", always_xy=True).transform(EAST, NORTH)
    step = 1e-5
    transform = Affine(step, 0, lon - 10 * step, 0, -step, lat + 90 * step)
    row, column = np.mgrid[0:110, 0:130] + 0.5
    x, y = transform * (column, row)
    write_raster(300.0 + 1e4 * (x - lon) + 2e4 * (y - lat), crs="EPSG:4326", transform=transform)
    inputs = read(elevation=METRE)
    (grid,) = inputs.grids
    row, column = np.mgrid[0 : grid.heights_m.shape[0], 0 : grid.heights_m.shape[1]] + 0.5
    x, y = grid.transform * (column, row)
    np.testing.assert_allclose(grid.heights_m, 300.0 + 1e4 * (x - lon) + 2e4 * (y - lat), atol=1e-6)
    assert inputs.output_crs == "EPSG:32629"
    # Margin: 1 m is 1.2 cells of 0.84 m, so 2, and 3 more.
    x_span = np.array([20.0, 82.0])
    assert grid.heights_m.shape[1] == pytest.approx(np.ptp(x_span) / 0.838 + 10, abs=2)


def test_a_crs_that_stretches_the_layers_is_told(
    read: "Reader", write_raster: "RasterWriter", ground: FloatGrid
) -> None:
    """Mercator stretches by the secant of the latitude (J. P. Snyder, Map Projections, USGS PP 1395, 1987, eq. 7-3)."""
    write_raster(ground)
    assert "distorting-crs" not in [finding.code for finding in read().findings]
    (told,) = (one for one in read(output={"crs": "EPSG:3857"}).findings if one.code == "distorting-crs")
    _, latitude = Transformer.from_crs("EPSG:32629", "EPSG:4326", always_xy=True).transform(EAST, NORTH)
    longer = float(re.search(r"up to ([\d.]+)% longer", told.message)[1])  # type: ignore[index]
    assert longer == pytest.approx(100.0 * (1.0 / np.cos(np.radians(latitude)) - 1.0), abs=0.5)
    assert told.level == "warning"


def test_overviews_are_never_read(read: "Reader", write_raster: "RasterWriter", ground: FloatGrid) -> None:
    path = write_raster(ground, tiled=True, blockxsize=16, blockysize=16)
    with rasterio.open(path, "r+") as raster:
        raster.build_overviews([2, 4], rasterio.enums.Resampling.average)
    np.testing.assert_array_equal(only(read).heights_m, ground[35:89, 16:86])


@pytest.mark.parametrize(("unit", "code"), [("m", "9001"), ("ft", "9002"), ("us-ft", "9003"), ("ind-ft", "9080")])
def test_units_are_the_registry_s(unit: Any, code: str) -> None:  # noqa: ANN401
    registered = next(u for u in get_units_map(auth_name="EPSG", category="linear").values() if u.code == code)
    assert METRES[unit] == pytest.approx(registered.conv_factor, rel=1e-13)


@pytest.mark.parametrize(
    ("band", "crs", "setting", "metres"),
    [
        ("metre", "EPSG:32629", None, 1.0),
        ("m", "EPSG:32629", "m", 1.0),
        ("[m]", "EPSG:32629", None, 1.0),
        ("feet", "EPSG:32629", None, 0.3048),
        ("ft", "EPSG:32629", "ft", 0.3048),
        ("US survey foot", "EPSG:32629", None, 0.3048006096012192),
        ("ftUS", "EPSG:32629", None, 0.3048006096012192),
        ("Indian foot", "EPSG:32629", None, 0.3047995102481469),
        (None, "EPSG:32629", "us-ft", 0.3048006096012192),
        (None, "EPSG:32629+5703", None, 1.0),
        (None, "EPSG:32629+8228", None, 0.3048),
        (None, "EPSG:32629+6360", None, 0.3048006096012192),
        ("metre", "EPSG:32629+6360", "m", 1.0),
    ],
)
def test_height_units(
    read: "Reader",
    write_raster: "RasterWriter",
    ground: FloatGrid,
    band: str | None,
    crs: str,
    setting: str | None,
    metres: float,
) -> None:
    write_raster(ground, crs=crs, tags={"units": (band,)} if band else None)
    inputs = read(elevation={"height_unit": setting} if setting else {})
    assert at(inputs.grids[0], 50.5, 30.5) == pytest.approx(float(ground[69, 50]) * metres, rel=1e-15)
    assert [finding.code for finding in inputs.findings] == ([] if metres == 1.0 else ["height-unit-converted"])
    # The vertical part is for the unit alone.
    assert len(CRS.from_wkt(inputs.grids[0].crs_wkt).axis_info) == 2


def test_no_unit_anywhere_is_told(read: "Reader", write_raster: "RasterWriter", ground: FloatGrid) -> None:
    write_raster(ground)
    (finding,) = read().findings
    assert (finding.code, finding.place) == ("height-unit-assumed", "ground.tif")


def test_coarse_cells_are_told(read: "Reader", write_raster: "RasterWriter") -> None:
    data = np.full((30, 40), 300.0, dtype=np.float32)
    write_raster(data, transform=Affine(3.5, 0, EAST, 0, -2.5, NORTH + 75))
    (finding,) = read(elevation=METRE).findings
    assert finding.code == "coarse-ground"
    assert finding.message.startswith("Cells of 3.5 m are larger than half of posts.max_span_m = 6 m")
    assert read(elevation=METRE, posts={"max_span_m": 8.0}).findings == ()


def test_block_smaller_than_a_cell_is_covered_by_what_it_touches(read: "Reader", write_raster: "RasterWriter") -> None:
    write_raster(np.full((9, 9), 300.0, dtype=np.float32), transform=Affine(150, 0, EAST - 140, 0, -150, NORTH + 740))
    inputs = read(elevation=METRE)
    assert [finding.code for finding in inputs.findings] == ["coarse-ground"]


def test_holds_compares_in_the_type_of_the_cells() -> None:
    assert holds(np.array([5, 200], dtype=np.uint8), 200.0).tolist() == [False, True]
    assert holds(np.array([5, 200], dtype=np.uint8), -56.0).tolist() == [False, False]
    assert holds(np.array([5, 200], dtype=np.uint8), 5.5).tolist() == [False, False]
    assert holds(np.array([1.1], dtype=np.float32), 1.1).tolist() == [True]
    assert holds(np.array([np.inf], dtype=np.float32), 1e300).tolist() == [True]


def test_nothing_is_said_by_the_libraries(
    read: "Reader", write_raster: "RasterWriter", ground: FloatGrid, capfd: pytest.CaptureFixture[str]
) -> None:
    """Neither a warning nor a line on a stream, also where the raster has no position."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", rasterio.errors.NotGeoreferencedWarning)
        write_raster(ground, transform=Affine.identity())
    with pytest.raises(Exception, match="the raster has no position"):
        read(elevation=METRE)
    assert capfd.readouterr() == ("", "")
