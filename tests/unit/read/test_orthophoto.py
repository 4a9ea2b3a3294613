"""A photo of the ground is read where the blocks are, at the size that was asked for, the right way up."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely
from affine import Affine
from numpy.typing import NDArray
from pyproj import Transformer
from shapely import MultiPolygon, Polygon
from wirerun.errors import Faults
from wirerun.read.orthophoto import read_orthophoto
from wirerun.records import Block, Orthophoto
from wirerun.settings import MapSettings

EAST, NORTH = 617_400.0, 4_562_000.0
UTM = "EPSG:32629"
SHAPE = (500, 550)  # cells of 0.2 m: 110 by 100 m
CELL_M = 0.2
PLACE = Affine(CELL_M, 0.0, EAST, 0.0, -CELL_M, NORTH + 100.0)
BLOCK = Polygon([(EAST + x, NORTH + y) for x, y in [(20.0, 15.0), (82.0, 18.0), (77.0, 61.0), (31.0, 55.0)]])
Writer = Callable[..., Path]
Photo = Callable[..., Orthophoto]


def painted() -> NDArray[np.uint8]:
    """Return a photo whose red tells the easting and whose green tells the northing, two metres a step."""
    row, column = np.mgrid[0 : SHAPE[0], 0 : SHAPE[1]]
    red = 20 + (column + 0.5) * CELL_M * 2.0
    green = 20 + (100.0 - (row + 0.5) * CELL_M) * 2.0
    return np.stack([red, green, np.full(SHAPE, 90.0)]).astype(np.uint8)


def lonlat(area: Polygon, crs: str = UTM) -> Polygon:
    """Return a polygon in longitude and latitude."""
    back = Transformer.from_crs(crs, "EPSG:4326", always_xy=True)
    return shapely.transform(area, lambda at: np.column_stack(back.transform(*at.T)))


@pytest.fixture
def photo(tmp_path: Path, write_raster: Writer) -> Photo:
    """Return the reader of a photo written for the test."""

    def read(
        data: NDArray[np.uint8] | None = None,
        *,
        px: int = 400,
        area: Polygon = BLOCK,
        **profile: Any,  # noqa: ANN401 - the library's own options
    ) -> Orthophoto:
        write_raster(painted() if data is None else data, "photo.tif", **{"transform": PLACE, **profile})
        faults = Faults()
        block = Block("B01", "", lonlat(area), MultiPolygon())
        found, sources = read_orthophoto(
            MapSettings(orthophoto="photo.tif", orthophoto_px=px), tmp_path, [block], faults
        )
        faults.stop_if_any()
        assert found is not None
        assert {source.role for source in sources} <= {"orthophoto", "orthophoto-sidecar"}
        assert sources[0].role == "orthophoto"
        return found

    return read


def shown_at(found: Orthophoto, east: float, north: float) -> tuple[int, int, int]:
    """Return the colour at a place of the block's CRS, stretched evenly in web Mercator as a browser does."""
    lon, lat = Transformer.from_crs(UTM, "EPSG:4326", always_xy=True).transform(east, north)
    there = Transformer.from_crs("EPSG:4326", "EPSG:3857", always_xy=True)
    west, south, right, top = found.edges
    (x0, x1, x), (y0, y1, y) = there.transform([west, right, lon], [south, top, lat])
    rows, columns = found.covered.shape
    red, green, blue = found.rgb[:, int((y1 - y) / (y1 - y0) * rows), int((x - x0) / (x1 - x0) * columns)]
    return int(red), int(green), int(blue)


@pytest.mark.parametrize("px", [200, 400, 3000])
def test_every_place_shows_what_lies_there(photo: Photo, px: int) -> None:
    found = photo(px=px)
    assert max(found.covered.shape) <= px
    for x, y in ((30.0, 20.0), (75.0, 25.0), (40.0, 50.0), (70.0, 58.0)):
        red, green, blue = shown_at(found, EAST + x, NORTH + y)
        assert red == pytest.approx(20 + 2.0 * x, abs=2.5)  # a metre and a quarter
        assert green == pytest.approx(20 + 2.0 * y, abs=2.5)
        assert blue == 90


def test_the_photo_reaches_round_the_block_and_no_further(photo: Photo) -> None:
    west, south, east, north = photo().edges
    left, bottom, right, top = lonlat(BLOCK).bounds
    assert west < left < right < east
    assert south < bottom < top < north
    assert (east - west) / (right - left) == pytest.approx(1.08, abs=0.01)


def test_it_is_never_finer_than_it_was(photo: Photo) -> None:
    """66 m of ground in 0.2 m cells are some 330 pixels, however many are allowed."""
    assert max(photo(px=8000).covered.shape) < 400


def test_a_mask_and_a_hole_show_nothing(photo: Photo) -> None:
    alpha = np.full(SHAPE, 255, dtype=np.uint8)
    alpha[:, :250] = 0  # west of 50 m
    found = photo(np.concatenate([painted(), alpha[None]]), photometric="RGB", alpha="YES")
    assert not found.covered[:, 0].any()
    assert found.covered[:, -1].all()
    holed = painted()
    holed[:, :, :250] = 0
    assert not photo(holed, nodata=0).covered[:, 0].any()


def test_a_mask_beside_the_photo_counts(photo: Photo, write_raster: Writer) -> None:
    mask = np.full(SHAPE, 255, dtype=np.uint8)
    mask[:, :250] = 0  # west of 50 m
    write_raster(mask, "photo.tif.msk", driver="GTiff")
    found = photo()
    assert not found.covered[:, 0].any()
    assert found.covered[:, -1].all()
    # Web Mercator is stretched by 1 / cos(latitude): the share is that of the ground.
    left, _, right, _ = found.edges
    west = Transformer.from_crs(UTM, "EPSG:4326", always_xy=True).transform(EAST + 50.0, NORTH + 40.0)[0]
    assert found.covered[found.covered.shape[0] // 2].mean() == pytest.approx((right - west) / (right - left), abs=0.01)


def test_a_fourth_band_that_is_no_mask_is_left_out(photo: Photo) -> None:
    infrared = np.zeros((1, *SHAPE), dtype=np.uint8)
    found = photo(np.concatenate([painted(), infrared]), photometric="RGB", alpha="NO")
    assert found.covered.all()
    assert found.rgb.shape[0] == 3


def test_a_photo_in_degrees_and_one_that_covers_a_part(photo: Photo) -> None:
    west, south, east, north = lonlat(shapely.box(EAST, NORTH, EAST + 110.0, NORTH + 100.0)).bounds
    place = Affine((east - west) / SHAPE[1], 0.0, west, 0.0, -(north - south) / SHAPE[0], north)
    found = photo(crs="EPSG:4326", transform=place)
    assert found.covered.all()
    red, green, _ = shown_at(found, EAST + 55.0, NORTH + 50.0)
    assert (red, green) == pytest.approx((130, 120), abs=4)
    wide = shapely.box(EAST + 60.0, NORTH + 20.0, EAST + 200.0, NORTH + 60.0)
    part = photo(area=wide)
    assert part.covered[:, 0].all()
    assert not part.covered[:, -1].any()


def test_no_photo_is_no_fault(tmp_path: Path) -> None:
    faults = Faults()
    assert read_orthophoto(MapSettings(), tmp_path, [], faults) == (None, ())
    assert not faults
