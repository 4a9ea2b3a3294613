"""How far off heights are: means of cells whose errors go together, written out cell by cell."""

from dataclasses import replace
from itertools import product
from math import exp, floor, hypot, sqrt

import numpy as np
import pytest
from affine import Affine
from wirerun.arrays import FloatArray, words
from wirerun.geometry.row_ground import RowGround
from wirerun.geometry.sampling import Ground
from wirerun.geometry.station import Paths
from wirerun.mechanics.height_errors import HeightErrors
from wirerun.model.layout import Bridges, Posts, Rows
from wirerun.records import Grid
from wirerun.settings import ElevationSettings, PostSettings
from wirerun.stages.layout.height_errors import errors_of_heights

from tests.unit.stages.layout.test_rows import FRAME

# Cells half a metre wide and a metre tall: neither may be taken for the other. The corner of four lies in the middle.
WIDE_M, TALL_M, SIDE = 0.5, 1.0, 40
ACCURACY_M, RANGE_M = 0.03, 3.0
NO_BRIDGE = Bridges(np.full(2, np.nan), np.full(2, np.nan), np.zeros(1))


def errors(
    start: tuple[float, float],
    end: tuple[float, float],
    smoothing_m: float = 0.0,
    bridges: Bridges = NO_BRIDGE,
    unseen_m: float = 0.0,
    points_accuracy_m: float | None = None,
    *,
    surveyed: bool = False,
) -> HeightErrors:
    """Errors at both ends of a row of two posts."""
    corner = Affine.translation(-WIDE_M * SIDE / 2.0, TALL_M * SIDE / 2.0)
    flat, known = np.full((SIDE, SIDE), 300.0), np.ones((SIDE, SIDE), dtype=np.bool_)
    grid = Grid(flat, known, corner * Affine.scale(WIDE_M, -TALL_M), FRAME.crs.to_wkt(), "")
    ground, paths = Ground(grid, FRAME, smoothing_m), Paths.straight(np.array([start]), np.array([end]))
    rows = Rows("B01", words(["B01-R001"]), np.zeros(1), paths.length_m, paths)
    row, station = np.zeros(2, dtype=np.int64), np.array([0.0, float(paths.length_m[0])])
    posts = Posts(rows, row, words(["P1", "P2"]), station, paths.place(row, station), flat[0, :2], station, np.zeros(2))
    elevation = ElevationSettings(raster="-", accuracy_m=ACCURACY_M, correlation_m=RANGE_M, unseen_m=unseen_m)
    by_hand, settings = np.array([surveyed]), PostSettings(points_accuracy_m=points_accuracy_m)
    return errors_of_heights(posts, RowGround(ground, paths), bridges, by_hand, elevation, settings)


def going_together(apart_m: float) -> float:
    """Errors of cells fall to 5 % at the range: exp(-3 d / range), common practice in geostatistics."""
    return exp(-3.0 * apart_m / RANGE_M)


def test_amid_a_cell_a_height_is_as_good_as_the_cell_and_amid_four_better() -> None:
    """Of four cells the mean has a quarter of (1 + r(0.5) + r(1) + r(1.118)) of a cell's variance."""
    found = errors((0.25, 0.5), (5.0, 7.0))
    four = 1.0 + going_together(0.5) + going_together(1.0) + going_together(hypot(0.5, 1.0))
    assert found.shared_m == pytest.approx([ACCURACY_M, ACCURACY_M * sqrt(four / 4.0)], rel=1e-4)
    assert found.own_m.tolist() == [0.0, 0.0]
    assert (found.correlation_m, found.unseen_m) == (RANGE_M, None)


def by_cells(at: tuple[float, float], offsets_m: FloatArray, way: tuple[float, float]) -> float:
    """One sigma of a height averaged along a row, cell by cell."""
    share: dict[tuple[int, int], float] = {}
    for offset in offsets_m.tolist():
        column, row = (at[0] + offset * way[0]) / WIDE_M - 0.5, (at[1] + offset * way[1]) / TALL_M - 0.5
        for east, north in product((0, 1), repeat=2):
            cell = floor(column) + east, floor(row) + north
            weight = (1.0 - abs(column - cell[0])) * (1.0 - abs(row - cell[1])) / len(offsets_m)
            share[cell] = share.get(cell, 0.0) + weight
    variance = sum(
        one * other * going_together(hypot(WIDE_M * (a[0] - b[0]), TALL_M * (a[1] - b[1])))
        for (a, one), (b, other) in product(share.items(), repeat=2)
    )
    return ACCURACY_M * sqrt(variance)


@pytest.mark.parametrize("smoothing_m", [1.0, 3.0])
def test_averaged_along_the_row_it_is_the_mean_of_the_cells_that_take_part(smoothing_m: float) -> None:
    """By 3-4-5. A metre is averaged at four places, three metres at twelve, amid equal parts."""
    start, way = (-1.1, 0.3), (0.6, 0.8)
    end = (start[0] + 6.0 * way[0], start[1] + 6.0 * way[1])
    parts = round(4.0 * smoothing_m)
    offsets = np.asarray((np.arange(parts) + 0.5) / 4.0 - smoothing_m / 2.0, dtype=np.float64)
    found = errors(start, end, smoothing_m)
    assert found.shared_m == pytest.approx([by_cells(at, offsets, way) for at in (start, end)], rel=1e-4)
    assert found.smoothing_m == smoothing_m


def test_what_a_bridge_is_off_by_beyond_the_cells_is_its_posts_own() -> None:
    """0.05 m in all, 0.03 m of it with the others': 0.04 m by itself. What is surer than the cells has none."""
    for error_m, own_m in ((0.05, 0.04), (0.02, 0.0)):
        bridges = Bridges(np.array([2.0, np.nan]), np.array([error_m, np.nan]), np.array([2.0]))
        found = errors((0.25, 0.5), (5.25, 7.5), bridges=bridges)
        assert found.shared_m == pytest.approx([0.03, 0.03], rel=1e-4)
        assert found.own_m == pytest.approx([own_m, 0.0], abs=1e-5)


def test_a_surveyed_height_is_off_by_itself_and_hides_no_ground() -> None:
    """By as much as the config says of posts, else as the raster; what the raster does not show, the survey does."""
    for given_m, own_m in ((None, ACCURACY_M), (0.012, 0.012)):
        found = errors((0.25, 0.5), (5.0, 7.0), unseen_m=0.02, points_accuracy_m=given_m, surveyed=True)
        assert found.shared_m.tolist() == [0.0, 0.0]
        assert found.own_m.tolist() == [own_m, own_m]
        assert found.unseen_m is not None
        assert found.unseen_m.tolist() == [0.0, 0.0]
    unseen = errors((0.25, 0.5), (5.0, 7.0), unseen_m=0.02).unseen_m
    assert unseen is not None
    assert unseen.tolist() == [0.02, 0.02]


@pytest.mark.parametrize(("cell_m", "range_m"), [(0.1, 3.0), (0.1, 0.5), (0.4, 3.0)])
def test_the_error_is_that_of_a_weighted_mean_of_cells(cell_m: float, range_m: float) -> None:
    """A height is linear in the cells: what a cell of 1 m makes of it is that cell's weight, by the sampler itself."""
    side = 31
    half = side * cell_m / 2.0
    place = Affine.translation(-half, half) * Affine.scale(cell_m, -cell_m)
    grid = Grid(np.zeros((side, side)), np.ones((side, side), dtype=np.bool_), place, FRAME.crs.to_wkt(), "")
    ground = Ground(grid, FRAME, 1.0)
    paths = Paths.straight(np.array([[-0.7, -0.5]]), np.array([[0.7, 0.35]]))
    rows = Rows("B01", words(["B01-R001"]), np.array([60.0]), paths.length_m, paths)
    of_row, station = np.zeros(3, dtype=np.int64), np.array([0.4, 0.83, 1.11])
    row_ground = RowGround(ground, paths)
    where, height = row_ground.stand(of_row, station)
    posts = Posts(rows, of_row, words(["P0", "P1", "P2"]), station, where, height, station, np.zeros(3))
    weight = np.empty((3, side * side))
    for cell in range(side * side):
        ground.grid = replace(grid, heights_m=np.eye(1, side * side, cell).reshape(side, side))
        weight[:, cell] = ground.height_along(where, paths.heading(of_row, station))
    assert weight.sum(axis=1) == pytest.approx(1.0)
    x, y = np.meshgrid(*[np.arange(side) * cell_m] * 2)
    apart = np.hypot(x.ravel() - x.ravel()[:, None], y.ravel() - y.ravel()[:, None])
    # Exponential variogram with its practical range: common practice in geostatistics.
    wanted = 0.03 * np.sqrt(np.einsum("pi,ij,pj->p", weight, np.exp(-3.0 * apart / range_m), weight))

    elevation = ElevationSettings(raster="ground.tif", accuracy_m=0.03, correlation_m=range_m)
    none = np.full(3, np.nan)
    errors = errors_of_heights(
        posts, row_ground, Bridges(none, none, np.zeros(1)), np.zeros(1, dtype=np.bool_), elevation, PostSettings()
    )
    assert errors.shared_m == pytest.approx(wanted, rel=1e-5)
