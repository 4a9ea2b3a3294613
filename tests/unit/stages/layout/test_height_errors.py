"""The error of an averaged height is that of the cells that it is made of, weighted as the sampler weighs them."""

from dataclasses import replace

import numpy as np
import pytest
from affine import Affine
from pyproj import CRS
from wirerun.arrays import words
from wirerun.geometry.frame import Frame
from wirerun.geometry.row_ground import RowGround
from wirerun.geometry.sampling import Ground
from wirerun.geometry.station import Paths
from wirerun.model.layout import Bridges, Posts, Rows
from wirerun.records import Grid
from wirerun.settings import ElevationSettings, PostSettings
from wirerun.stages.layout.height_errors import errors_of_heights

FRAME, SIDE = Frame(-7.6, 41.2, 300.0), 31


@pytest.mark.parametrize(("cell_m", "range_m"), [(0.1, 3.0), (0.1, 0.5), (0.4, 3.0)])
def test_the_error_is_that_of_a_weighted_mean_of_cells(cell_m: float, range_m: float) -> None:
    half = SIDE * cell_m / 2.0
    place = Affine.translation(-half, half) * Affine.scale(cell_m, -cell_m)
    grid = Grid(
        np.zeros((SIDE, SIDE)), np.ones((SIDE, SIDE), dtype=np.bool_), place, CRS.from_proj4(FRAME.proj).to_wkt(), ""
    )
    ground = Ground(grid, FRAME, 1.0)
    paths = Paths.straight(np.array([[-0.7, -0.5]]), np.array([[0.7, 0.35]]))
    rows = Rows("B01", words(["B01-R001"]), np.array([60.0]), paths.length_m, paths)
    of_row, station = np.zeros(3, dtype=np.int64), np.array([0.4, 0.83, 1.11])
    row_ground = RowGround(ground, paths)
    where, height = row_ground.stand(of_row, station)
    posts = Posts(rows, of_row, words(["P0", "P1", "P2"]), station, where, height, station, np.zeros(3))
    # A height is linear in the cells: what one cell of 1 m makes of it is that cell's weight.
    weight = np.empty((3, SIDE * SIDE))
    for cell in range(SIDE * SIDE):
        ground.grid = replace(grid, heights_m=np.eye(1, SIDE * SIDE, cell).reshape(SIDE, SIDE))
        weight[:, cell] = ground.height_along(where, paths.heading(of_row, station))
    assert weight.sum(axis=1) == pytest.approx(1.0)
    x, y = np.meshgrid(*[np.arange(SIDE) * cell_m] * 2)
    apart = np.hypot(x.ravel() - x.ravel()[:, None], y.ravel() - y.ravel()[:, None])
    # Exponential variogram with its practical range: common practice in geostatistics.
    wanted = 0.03 * np.sqrt(np.einsum("pi,ij,pj->p", weight, np.exp(-3.0 * apart / range_m), weight))

    elevation = ElevationSettings(raster="ground.tif", accuracy_m=0.03, correlation_m=range_m)
    none = np.full(3, np.nan)
    errors = errors_of_heights(
        posts, row_ground, Bridges(none, none, np.zeros(1)), np.zeros(1, dtype=np.bool_), elevation, PostSettings()
    )
    assert errors.shared_m == pytest.approx(wanted, rel=1e-5)
