"""Bilinear heights: a published example, GDAL, scipy, planes, and holes."""

import numpy as np
import pytest
import shapely
from affine import Affine
from pyproj import CRS, Transformer
from rasterio.enums import Resampling
from rasterio.warp import reproject
from scipy.ndimage import map_coordinates
from wirerun.geometry.frame import Frame, direction
from wirerun.geometry.places import PlaneXY
from wirerun.geometry.sampling import Ground, bilinear
from wirerun.records import Grid

RNG = np.random.default_rng(7)


def grid_of(heights: np.ndarray, valid: np.ndarray | None = None, transform: Affine | None = None) -> Grid:
    everywhere = np.ones(heights.shape, dtype=bool)
    return Grid(
        heights,
        everywhere if valid is None else valid,
        transform or Affine.identity(),
        CRS.from_epsg(25829).to_wkt(),
        "test",
    )


def test_published_worked_example() -> None:
    """Source: stellingconsulting.nl, bilinear interpolation: 172.67 at (451, 75)."""
    # Corners at x 400 and 500, y 60 and 80; centres of a 2 x 2 grid, y downwards.
    grid = grid_of(np.array([[149.0, 163.0], [169.0, 187.0]]))
    column, row = (451 - 400) / 100 + 0.5, (75 - 60) / 20 + 0.5
    assert bilinear(grid, np.array([column]), np.array([row]))[0] == pytest.approx(172.67, abs=0.005)


def test_agrees_with_scipy_on_an_uneven_grid() -> None:
    heights = RNG.normal(300.0, 20.0, (23, 41))
    column, row = RNG.uniform(0.5, 40.5, 500), RNG.uniform(0.5, 22.5, 500)
    expected = map_coordinates(heights, [row - 0.5, column - 0.5], order=1)
    np.testing.assert_allclose(bilinear(grid_of(heights), column, row), expected, atol=1e-9)


def test_agrees_with_gdal() -> None:
    """GDAL's own bilinear, asked for a grid shifted by a third and a fifth of a cell."""
    heights = RNG.normal(300.0, 20.0, (30, 50))
    here = Affine(0.5, 0, 600000.0, 0, -0.5, 4560000.0)
    shifted = here * Affine.translation(1 / 3, 1 / 5)
    theirs = np.empty_like(heights)
    reproject(
        heights,
        theirs,
        src_transform=here,
        dst_transform=shifted,
        src_crs="EPSG:25829",
        dst_crs="EPSG:25829",
        resampling=Resampling.bilinear,
    )
    row, column = np.mgrid[0:29, 0:49] + 0.5
    np.testing.assert_allclose(bilinear(grid_of(heights), column + 1 / 3, row + 1 / 5), theirs[:29, :49], atol=1e-6)


def test_no_height_outside_the_outermost_centres_or_beside_a_masked_cell() -> None:
    valid = np.ones((4, 6), dtype=bool)
    valid[2, 3] = False
    grid = grid_of(np.full((4, 6), 10.0), valid)
    column = np.array([0.49, 0.5, 5.5, 5.51, 3.2, 2.5, np.nan])
    row = np.array([1.0, 1.0, 1.0, 1.0, 2.2, 2.5, 1.0])
    # (2.5, 2.5) is the centre of a good cell next to the masked one: the masked one takes no part.
    expected = [np.nan, 10.0, 10.0, np.nan, np.nan, 10.0, np.nan]
    np.testing.assert_array_equal(bilinear(grid, column, row), expected)


@pytest.mark.parametrize("smoothing_m", [0.0, 1.0, 2.7])
@pytest.mark.parametrize("rotation", [0.0, 31.0])
def test_a_plane_is_sampled_exactly(smoothing_m: float, rotation: float) -> None:
    """The plane is given in the raster's own coordinates, so frame, transform and weights all have to be right."""
    transform = Affine.translation(617300.0, 4561900.0) * Affine.rotation(rotation) * Affine.scale(0.5, -0.5)
    row, column = np.mgrid[0:400, 0:500] + 0.5
    east, north = transform * (column, row)
    plane = 300.0 + 0.31 * (east - 617300.0) - 0.17 * (north - 4561900.0)
    frame = Frame(-7.6, 41.2, 300.0)
    ground = Ground(grid_of(plane, transform=transform), frame, smoothing_m)
    middle_east, middle_north = transform * (250.0, 200.0)
    to_frame = ground._from_raster.transform(middle_east, middle_north)  # noqa: SLF001
    x, y = to_frame[0] + RNG.uniform(-40, 40, 300), to_frame[1] + RNG.uniform(-40, 40, 300)
    east, north = ground._from_raster.transform(x, y, direction="INVERSE")  # noqa: SLF001
    expected = 300.0 + 0.31 * (np.asarray(east) - 617300.0) - 0.17 * (np.asarray(north) - 4561900.0)
    np.testing.assert_allclose(ground.height_along(PlaneXY(x, y), direction(62.0)), expected, atol=1e-7)


def test_many_places_are_what_each_is_alone() -> None:
    """Holes, edges and whole ground in one question: the batches and the short way change nothing."""
    heights = RNG.normal(300.0, 20.0, (40, 60)).astype(np.float32)
    valid = RNG.random(heights.shape) > 0.1
    grid = grid_of(np.where(valid, heights, np.float32(0.0)), valid)
    column, row = RNG.uniform(-1.0, 61.0, 30_000), RNG.uniform(-1.0, 41.0, 30_000)
    column[:500], row[500:900] = np.round(column[:500]) + 0.5, np.round(row[500:900]) + 0.5
    together = bilinear(grid, column, row)
    alone = [bilinear(grid, column[at : at + 1], row[at : at + 1])[0] for at in range(2_000)]
    np.testing.assert_array_equal(together[:2_000], alone)
    assert 0.3 < np.isnan(together).mean() < 0.6
    expected = map_coordinates(np.where(valid, heights, np.nan), [row - 0.5, column - 0.5], order=1, cval=np.nan)
    both = np.isfinite(expected)
    np.testing.assert_allclose(together[both], expected[both], atol=1e-4)


def test_averages_along_a_row_are_means_of_heights() -> None:
    """The averaged places lie where they did when each was projected by itself."""
    rows, columns = np.mgrid[0:400, 0:500]
    grid = grid_of(
        300.0 + np.sin(rows / 7.0) + np.cos(columns / 5.0), transform=Affine(0.1, 0, 600000.0, 0, -0.1, 4560000.0)
    )
    frame = Frame.over(shapely.box(-7.81, 41.18, -7.80, 41.19), 300.0)
    ground = Ground(grid, frame, 1.0)
    to_frame = Transformer.from_crs("EPSG:25829", frame.crs, always_xy=True)
    x, y = to_frame.transform(*(grid.transform * RNG.uniform((50, 50), (450, 350), (3_000, 2)).T))
    east, north = direction(62.0)
    offsets = ground.offsets_m
    assert len(offsets) > 10
    each = ground.height(PlaneXY(x[:, None] + offsets * east, y[:, None] + offsets * north))
    np.testing.assert_allclose(ground.height_along(PlaneXY(x, y), (east, north)), each.mean(axis=1), atol=1e-8)
