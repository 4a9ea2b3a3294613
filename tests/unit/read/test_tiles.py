"""Tiles, folders, lists, VRTs and ASCII grids give the same heights as the one raster they were cut from."""

from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
import rasterio
from affine import Affine
from numpy.typing import NDArray
from pyproj import CRS
from wirerun.errors import InputError
from wirerun.records import Grid

if TYPE_CHECKING:
    from tests.unit.read.conftest import RasterWriter, Reader

FloatGrid = NDArray[np.float32]
EAST, NORTH = 617_400.0, 4_562_000.0
ROWS, COLUMNS = 100, 110
METRE = {"height_unit": "m"}


def corner(row: int, column: int) -> Affine:
    return Affine(1.0, 0.0, EAST + column, 0.0, -1.0, NORTH + ROWS - row)


def only(read: "Reader", raster: str | list[str], **elevation: Any) -> Grid:  # noqa: ANN401
    (grid,) = read(elevation={**METRE, "raster": raster, **elevation}).grids
    return grid


@pytest.fixture
def tiles(write_raster: "RasterWriter", ground: FloatGrid, tmp_path: Path) -> list[str]:
    """Four tiles of the ground in a folder, cut off the middle of the block, one with whole numbers of centimetres."""
    (tmp_path / "tiles").mkdir()
    names = []
    for row, down in ((0, 55), (55, 45)):
        for column, wide in ((0, 48), (48, 62)):
            name = f"tiles/t_{row}_{column}.tif"
            part = ground[row : row + down, column : column + wide]
            write_raster(part, name, transform=corner(row, column))
            names.append(name)
    return names


@pytest.fixture
def whole(read: "Reader", write_raster: "RasterWriter", ground: FloatGrid) -> Grid:
    write_raster(ground)
    return only(read, "ground.tif")


def same(grid: Grid, other: Grid) -> None:
    assert grid.transform == other.transform
    np.testing.assert_array_equal(grid.valid, other.valid)
    np.testing.assert_array_equal(grid.heights_m, other.heights_m)


def test_a_list_and_a_folder_are_one_raster(read: "Reader", whole: Grid, tiles: list[str]) -> None:
    same(only(read, tiles), whole)
    same(only(read, tiles[::-1]), whole)
    same(only(read, "tiles"), whole)
    inputs = read(elevation={**METRE, "raster": "tiles"})
    assert [one.path for one in inputs.sources if one.role == "raster"] == tiles
    assert inputs.findings == ()


def test_only_the_tiles_under_a_block_go_into_the_record(
    read: "Reader", whole: Grid, tiles: list[str], write_raster: "RasterWriter", ground: FloatGrid
) -> None:
    write_raster(ground, "tiles/far.tif", transform=Affine(1, 0, EAST + 5000, 0, -1, NORTH))
    inputs = read(elevation={**METRE, "raster": "tiles"})
    same(inputs.grids[0], whole)
    assert [one.path for one in inputs.sources if one.role == "raster"] == tiles


def vrt(tmp_path: Path, tiles: list[str], order: list[int], more: str = "", source: str = "SimpleSource") -> None:
    """Write a VRT as the library's own tool does (format: GDAL's documentation of the VRT driver)."""
    sources = ""
    for name in (tiles[number] for number in order):
        with rasterio.open(tmp_path / name) as tile:
            left, top = ~corner(0, 0) * (tile.transform.c, tile.transform.f)
            size = f'xSize="{tile.width}" ySize="{tile.height}"'
        sources += (
            f'<{source}><SourceFilename relativeToVRT="1">{name}</SourceFilename><SourceBand>1</SourceBand>'
            f'<SrcRect xOff="0" yOff="0" {size}/><DstRect xOff="{left}" yOff="{top}" {size}/>{more}</{source}>'
        )
    (tmp_path / "all.vrt").write_text(
        f'<VRTDataset rasterXSize="{COLUMNS}" rasterYSize="{ROWS}"><VRTRasterBand dataType="Float32" band="1">'
        f"<NoDataValue>-9999</NoDataValue>{sources}</VRTRasterBand></VRTDataset>"
    )


def test_a_vrt_is_read_without_the_library(read: "Reader", whole: Grid, tiles: list[str], tmp_path: Path) -> None:
    vrt(tmp_path, tiles, [0, 1, 2, 3])
    same(only(read, "all.vrt"), whole)
    roles = {one.role: one.path for one in read(elevation={**METRE, "raster": "all.vrt"}).sources}
    assert roles["raster-list"] == "all.vrt"


def test_the_library_reads_the_same_vrt_alike(
    read: "Reader", tiles: list[str], ground: FloatGrid, tmp_path: Path
) -> None:
    """GDAL's own reading of the VRT, with tiles that overlap and differ: the last lies on top."""
    with rasterio.open(
        tmp_path / "tiles/over.tif", "w", **profile(tmp_path / tiles[0], corner(20, 30), (40, 40))
    ) as out:
        out.write(ground[20:60, 30:70] + np.float32(3.0), 1)
    vrt(tmp_path, [*tiles, "tiles/over.tif"], [0, 1, 4, 2, 3])
    grid = only(read, "all.vrt")
    with rasterio.open(tmp_path / "all.vrt") as library:
        column, row = ~corner(0, 0) * (grid.transform.c, grid.transform.f)
        rows, columns = grid.heights_m.shape
        expected = library.read(1)[int(row) : int(row) + rows, int(column) : int(column) + columns]
    np.testing.assert_array_equal(grid.heights_m, expected)


def profile(like: Path, transform: Affine, shape: tuple[int, int]) -> dict[str, Any]:
    with rasterio.open(like) as tile:
        return {**tile.profile, "transform": transform, "height": shape[0], "width": shape[1]}


def test_a_vrt_takes_part_of_a_file(read: "Reader", whole: Grid, tmp_path: Path) -> None:
    (tmp_path / "part.vrt").write_text(
        '<VRTDataset rasterXSize="40" rasterYSize="100"><VRTRasterBand dataType="Float32" band="1"><SimpleSource>'
        '<SourceFilename relativeToVRT="1">ground.tif</SourceFilename>'
        '<SrcRect xOff="20" yOff="0" xSize="60" ySize="100"/><DstRect xOff="0" yOff="0" xSize="60" ySize="100"/>'
        "</SimpleSource></VRTRasterBand></VRTDataset>"
    )
    grid = only(read, "part.vrt", least_cover_pct=50.0)
    assert grid.transform.c == EAST + 20
    np.testing.assert_array_equal(grid.heights_m, whole.heights_m[:, 4:64])


@pytest.mark.parametrize(
    ("old", "new", "sentence"),
    [
        ("<VRTDataset", '<VRTDataset subClass="VRTWarpedDataset"', "is of another kind (VRTWarpedDataset)"),
        ('band="1"', 'band="1" subClass="VRTDerivedRasterBand"', "computes its heights (VRTDerivedRasterBand)"),
        ("<NoDataValue>", "<Scale>2</Scale><NoDataValue>", "does more than that (Scale)"),
        ("<SourceBand>1", "<SourceBand>2", "takes another band than the first"),
        ('xSize="48"', 'xSize="24"', None),
        ("tiles/t_0_0.tif", "/vsicurl/http://127.0.0.1/t.tif", "only plain local files are read"),
        ("tiles/t_0_0.tif", "http://127.0.0.1/t.tif", "only plain local files are read"),
        ("tiles/t_0_0.tif", "tiles/t_0_1.vrt", "there is no such file"),
        ("</VRTDataset>", "", "the VRT is no valid XML"),
        ("<VRTRasterBand ", "<!DOCTYPE a><VRTRasterBand ", "declares entities"),
    ],
)
def test_vrts_that_are_refused(
    read: "Reader", tiles: list[str], tmp_path: Path, old: str, new: str, sentence: str | None
) -> None:
    vrt(tmp_path, tiles, [0, 1, 2, 3])
    path = tmp_path / "all.vrt"
    text = path.read_text()
    # One of the two rectangles alone would stretch the tile.
    path.write_text(text.replace(old, new, 1) if sentence is None else text.replace(old, new))
    with pytest.raises(InputError, match=r"all\.vrt|t_0_1") as caught:
        only(read, "all.vrt")
    assert (sentence or "stretches tiles/t_0_0.tif") in str(caught.value)


def test_an_ascii_grid_keeps_its_decimals(read: "Reader", ground: FloatGrid, tmp_path: Path) -> None:
    """Whole numbers for the first thousand lines; the library alone would take all of it for whole numbers."""
    whole_first = np.floor(ground)
    whole_first[60:] = ground[60:]
    lines = [" ".join(f"{z:g}" if row < 60 else f"{z:.6f}" for z in line) for row, line in enumerate(whole_first)]
    header = f"ncols {COLUMNS}\nnrows {ROWS}\nxllcorner {EAST}\nyllcorner {NORTH}\ncellsize 1\nNODATA_value -9999\n"
    (tmp_path / "ground.asc").write_text(header + "\n".join(lines) + "\n")
    grid = only(read, "ground.asc", raster_crs="EPSG:32629")
    assert (grid.transform.c, grid.transform.f) == (EAST + 16, NORTH + 65)
    np.testing.assert_array_equal(grid.heights_m, whole_first[35:89, 16:86])
    with pytest.raises(
        InputError, match=r"names no CRS that ties it to the earth; say which it is in elevation\.raster_crs"
    ):
        only(read, "ground.asc")
    (tmp_path / "ground.prj").write_text(CRS(32629).to_wkt("WKT1_ESRI"))
    inputs = read(elevation={**METRE, "raster": "ground.asc"})
    np.testing.assert_array_equal(inputs.grids[0].heights_m, grid.heights_m)
    assert ("raster-sidecar", "ground.prj") in {(one.role, one.path) for one in inputs.sources}
    with pytest.raises(InputError, match=r"but elevation\.raster_crs is WGS 84 / UTM zone 30N"):
        only(read, "ground.asc", raster_crs="EPSG:32630")


def test_the_first_that_has_a_height_counts(
    read: "Reader", whole: Grid, write_raster: "RasterWriter", ground: FloatGrid
) -> None:
    holed = ground.copy()
    holed[60:70, 40:50] = -1.0
    write_raster(holed, "first.tif", nodata=-1.0)
    write_raster(ground + np.float32(2.0), "second.tif")
    grid = only(read, ["first.tif", "second.tif"])
    expected = whole.heights_m.copy()
    expected[25:35, 24:34] += 2.0
    assert grid.valid.all()
    np.testing.assert_array_equal(grid.heights_m, expected)


@pytest.mark.parametrize(("step_m", "told"), [(0.02, False), (0.12, True)])
def test_tiles_that_differ_where_they_overlap(
    read: "Reader", write_raster: "RasterWriter", ground: FloatGrid, step_m: float, *, told: bool
) -> None:
    write_raster(ground[:, :60], "west.tif")
    write_raster(ground[:, 50:] + np.float32(step_m), "east.tif", transform=corner(0, 50))
    findings = read(elevation={**METRE, "raster": ["west.tif", "east.tif"]}).findings
    overlaps = [one.message for one in findings if "where they overlap" in one.message]
    assert bool(overlaps) is told
    if told:
        assert "east.tif lies +0.12 m off west.tif in the middle of 540 cells" in overlaps[0]


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        (
            {"crs": "EPSG:32630"},
            "it is in WGS 84 / UTM zone 30N, a.tif in WGS 84 / UTM zone 29N; give tiles of one CRS",
        ),
        ({"transform": Affine(1, 0, EAST + 0.4, 0, -1, NORTH + ROWS)}, "off by 0.40 of a cell; give tiles of one grid"),
        ({"transform": Affine(0.5, 0, EAST, 0, -0.5, NORTH + ROWS)}, "cells of 0.5 by 0.5 against cells of 1 by 1"),
        ({"tags": {"units": ["ft"]}}, "its heights are in another unit than those of a.tif"),
    ],
)
def test_tiles_that_do_not_go_together(
    read: "Reader", write_raster: "RasterWriter", ground: FloatGrid, change: dict[str, Any], sentence: str
) -> None:
    write_raster(ground, "a.tif", tags={"units": ["m"]})
    write_raster(ground, "b.tif", **{"tags": {"units": ["m"]}, **change})
    with pytest.raises(InputError) as caught:
        read(elevation={"raster": ["a.tif", "b.tif"]})
    assert str(caught.value).startswith("b.tif: ")
    assert sentence in str(caught.value)


def test_what_holds_of_many_tiles_is_told_once(read: "Reader", tiles: list[str]) -> None:
    (finding,) = read(elevation={"raster": tiles}).findings
    assert finding.code == "height-unit-assumed"
    assert finding.place == "tiles/t_0_0.tif and 3 more"
    assert finding.message.endswith("So in 4 of 4 files.")


def test_a_tile_alone_says_how_to_join(read: "Reader", tiles: list[str]) -> None:
    with pytest.raises(InputError) as caught:
        only(read, tiles[0])
    assert "only " in str(caught.value)
    assert (
        "; beside it are other rasters, t_0_48.tif, t_55_0.tif, t_55_48.tif: if they are tiles of the same survey, "
        "give them all, elevation.raster takes a list of files, or the folder"
    ) in str(caught.value)


def test_an_empty_folder_and_a_missing_tile(read: "Reader", tiles: list[str], tmp_path: Path) -> None:
    (tmp_path / "empty").mkdir()
    (tmp_path / "empty" / "._t.tif").write_text("x")
    with pytest.raises(InputError, match=r"empty: the folder holds no file of heights \(\.tif, \.tiff, \.asc\)"):
        only(read, "empty")
    with pytest.raises(InputError, match=r"tiles/nine\.tif: there is no such file"):
        only(read, [*tiles, "tiles/nine.tif"])


def test_ellipsoidal_heights_are_told(read: "Reader", write_raster: "RasterWriter", ground: FloatGrid) -> None:
    """EPSG:4979 is WGS 84 with heights above the ellipsoid, 5773 the EGM96 geoid."""
    west, north, step = -7.6055, 41.2035, 1e-4
    write_raster(ground, crs="EPSG:4979", transform=Affine(step, 0, west, 0, -step, north), GEOTIFF_VERSION="1.1")
    findings = read(elevation={"raster": "ground.tif"}).findings
    assert "ellipsoidal-heights" in [one.code for one in findings]
    write_raster(ground, crs=CRS("EPSG:32629+5773").to_wkt("WKT1_GDAL"))
    assert read(elevation={"raster": "ground.tif"}).findings == ()
