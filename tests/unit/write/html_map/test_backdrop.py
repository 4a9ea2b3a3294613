"""The ground under the map lies where it is, and tells no tales."""

import numpy as np
import pytest
import rasterio
from affine import Affine
from numpy.typing import NDArray
from pyproj import CRS, Transformer
from rasterio.io import MemoryFile
from wirerun.records import Grid
from wirerun.write.colours import rgb, slope_colours
from wirerun.write.html_map.backdrop import contour_step, make_backdrop
from wirerun.write.html_map.frames import MOST_PIXELS, make_frames

UTM = "EPSG:25829"
EAST, NORTH = 617_000.0, 4_562_000.0  # near 41.2 N, 7.6 W
FloatArray = NDArray[np.float64]


def slope_at(east: FloatArray, north: FloatArray) -> FloatArray:
    """Lopsided plane [m]: 0.2 up to the east, 0.05 up to the north."""
    return 300.0 + 0.2 * (east - EAST) + 0.05 * (north - NORTH)


def grid_of(
    transform: Affine = Affine(0.5, 0.0, EAST, 0.0, -0.5, NORTH),  # noqa: B008 - frozen
    shape: tuple[int, int] = (160, 240),
    crs: str = UTM,
) -> Grid:
    """Return a grid of the plane, whatever its CRS and however its rows and columns are turned."""
    row, column = np.mgrid[0 : shape[0], 0 : shape[1]] + 0.5
    x, y = transform * (column, row)
    east, north = Transformer.from_crs(crs, UTM, always_xy=True).transform(x, y)
    heights = slope_at(np.asarray(east), np.asarray(north))
    return Grid(heights, np.ones(shape, dtype=bool), transform, CRS.from_user_input(crs).to_wkt(), "ground.tif")


def pixels(png: bytes) -> NDArray[np.uint8]:
    """Return grey and alpha, shape (2, rows, columns)."""
    with (
        pytest.warns(rasterio.errors.NotGeoreferencedWarning),
        MemoryFile(png) as memory,
        memory.open() as image,
    ):
        read: NDArray[np.uint8] = image.read()
    return read


TURNED = Affine.translation(EAST, NORTH) * Affine.rotation(25.0) * Affine.scale(0.5, -0.5)
SOUTH_UP = Affine(0.5, 0.0, EAST, 0.0, 0.5, NORTH - 80.0)
IN_DEGREES = Affine(6e-6, 0.0, -7.605, 0.0, -4.5e-6, 41.203)


@pytest.mark.parametrize(
    "grid",
    [grid_of(), grid_of(TURNED), grid_of(SOUTH_UP), grid_of(IN_DEGREES, crs="EPSG:4326")],
    ids=["plain", "turned", "south-up", "degrees"],
)
def test_contours_lie_at_their_height(grid: Grid) -> None:
    backdrop = make_backdrop((grid,))
    assert len(backdrop.contours) > 4
    for line in backdrop.contours:
        east, north = Transformer.from_crs("EPSG:4326", UTM, always_xy=True).transform(*line.lonlat.T)
        # 0.2 m of height are a metre on the ground; smoothing bends the lines' ends at the edge.
        inner = slice(1, -1) if len(line.lonlat) > 2 else slice(None)
        assert np.median(np.abs(slope_at(east, north)[inner] - line.height_m)) < 0.15
        assert line.height_m % backdrop.contour_step_m == pytest.approx(0.0, abs=1e-9)


def test_the_picture_covers_the_grid_to_a_pixel() -> None:
    (shade,) = make_backdrop((grid_of(),)).shades
    south, west, north, east = shade.edges
    x, y = Transformer.from_crs("EPSG:4326", UTM, always_xy=True).transform([west, east], [south, north])
    # UTM and Mercator are turned against each other by 0.9 degrees: the frame is a little larger than the grid.
    assert x == pytest.approx([EAST, EAST + 120.0], abs=2.0)
    assert y == pytest.approx([NORTH - 80.0, NORTH], abs=2.5)
    assert pixels(shade.png).shape[0] == 2


def test_the_slope_picture_has_the_class_of_the_plane() -> None:
    """The plane climbs by 0.2 to the east and 0.05 to the north: 20.6 % in all."""
    for limits, code in (((10.0, 20.0, 30.0), 2), ((10.0, 21.0), 1), ((), 0)):
        (slope,) = make_backdrop((grid_of(),), limits).slopes
        red, green, blue, alpha = pixels(slope.png)
        wanted = rgb(slope_colours(len(limits) + 1)[code])
        inner = (slice(30, -30), slice(30, -30))
        assert alpha[inner].all()
        for band, value in zip((red, green, blue), wanted, strict=True):
            assert (band[inner] == value).all()
    assert slope.edges == make_backdrop((grid_of(),)).shades[0].edges


def test_ground_without_height_is_clear_and_stays_so() -> None:
    grid = grid_of()
    valid = grid.valid.copy()
    valid[:80, :120] = False  # the north-west quarter
    holed = Grid(np.where(valid, grid.heights_m, 0.0), valid, grid.transform, grid.crs_wkt, grid.file)
    backdrop = make_backdrop((holed,))
    alpha = pixels(backdrop.shades[0].png)[1]
    rows, columns = alpha.shape
    assert not alpha[rows // 4, columns // 4]
    assert alpha[rows // 4, 3 * columns // 4]
    assert alpha[3 * rows // 4, columns // 4]
    # The zeros under the mask are no ground: no contour comes down to them.
    assert min(line.height_m for line in backdrop.contours) > 290.0


def test_noise_on_level_ground_is_no_landscape() -> None:
    grid = grid_of()
    noise = np.random.default_rng(3).normal(300.0, 0.03, grid.heights_m.shape)
    (shade,) = make_backdrop((Grid(noise, grid.valid, grid.transform, grid.crs_wkt, ""),)).shades
    grey, alpha = pixels(shade.png)
    assert grey[alpha > 0].std() < 8.0


def test_grids_that_overlap_share_a_picture_and_others_do_not() -> None:
    near = grid_of(Affine(0.5, 0.0, EAST + 60.0, 0.0, -0.5, NORTH - 30.0))
    far = grid_of(Affine(0.5, 0.0, EAST + 900.0, 0.0, -0.5, NORTH))
    assert len(make_backdrop((grid_of(), near)).shades) == 1
    assert len(make_backdrop((grid_of(), far, near)).shades) == 2


def test_many_grids_stay_within_the_budget() -> None:
    grids = tuple(grid_of(Affine(0.5, 0.0, EAST + 500.0 * k, 0.0, -0.5, NORTH), (800, 800)) for k in range(3))
    shades = make_backdrop(grids).shades
    assert len(shades) == 3
    assert sum(pixels(shade.png)[0].size for shade in shades) <= 1.01 * MOST_PIXELS


def test_the_same_ground_gives_the_same_bytes() -> None:
    assert make_backdrop((grid_of(),)).shades == make_backdrop((grid_of(),)).shades


def test_no_height_no_ground() -> None:
    grid = grid_of(shape=(5, 5))
    nothing = Grid(grid.heights_m, np.zeros((5, 5), dtype=bool), grid.transform, grid.crs_wkt, "")
    for grids in ((), (nothing,)):
        assert make_backdrop(grids).shades == ()
        assert make_backdrop(grids).contours == ()


@pytest.mark.parametrize(("relief", "step"), [(3.0, 0.5), (90.0, 5.0), (600.0, 50.0), (9000.0, 100.0)])
def test_contours_are_as_dense_as_can_be_read(relief: float, step: float) -> None:
    assert contour_step(relief) == step


@pytest.mark.parametrize("transform", [grid_of().transform, TURNED], ids=["plain", "turned"])
def test_small_cells_are_averaged_not_picked(monkeypatch: pytest.MonkeyPatch, transform: Affine) -> None:
    """Ten cells a pixel: noise of a metre is centimetres in the picture, the plane is the plane, a hole a hole."""
    monkeypatch.setattr("wirerun.write.html_map.frames.MOST_PIXELS", 3_000)
    monkeypatch.setattr("wirerun.write.html_map.frames._STRIP_CELLS", 50_000)
    plane = grid_of(transform, (603, 907))
    valid = np.ones(plane.valid.shape, dtype=bool)
    valid[100:200, 300:420] = False
    noisy = plane.heights_m + np.random.default_rng(1).normal(0.0, 1.0, valid.shape)
    grid = Grid(np.where(valid, noisy, 0.0).astype(np.float32), valid, transform, plane.crs_wkt, "ground.tif")
    (frame,) = make_frames((grid,))
    assert frame.pixel_m > 4.0
    row, column = np.nonzero(frame.known)
    x, y = frame.transform * (column + 0.5, row + 0.5)
    east, north = Transformer.from_crs("EPSG:3857", UTM, always_xy=True).transform(x, y)
    off = frame.heights[row, column] - slope_at(np.asarray(east), np.asarray(north))
    assert abs(off.mean()) < 0.05
    assert off.std() < 0.35
    x, y = Transformer.from_crs(UTM, "EPSG:3857", always_xy=True).transform(*(transform * (360.0, 150.0)))
    hole_column, hole_row = (int(part) for part in ~frame.transform * (x, y))
    assert not frame.known[hole_row, hole_column]
