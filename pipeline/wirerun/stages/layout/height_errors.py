"""How far off the ground height of each post may be: as the raster's cells and the average along the row make it."""

import numpy as np

from wirerun.arrays import BoolArray, FloatArray, IntArray
from wirerun.geometry.places import PlaneXY
from wirerun.geometry.row_ground import RowGround
from wirerun.geometry.sampling import Ground
from wirerun.mechanics.height_errors import HeightErrors
from wirerun.mechanics.undulation import height_covariance
from wirerun.model.layout import Bridges, Posts
from wirerun.settings import ElevationSettings, PostSettings

# Pairs of cells looked at together: bounds the memory. Choice.
_PAIRS_AT_ONCE = 4_000_000


def errors_of_heights(
    posts: Posts,
    row_ground: RowGround,
    bridges: Bridges,
    surveyed: BoolArray,
    elevation: ElevationSettings,
    settings: PostSettings,
) -> HeightErrors:
    """One-sigma errors of the ground heights of all posts.

    A height read off the raster is a weighted mean of cells: bilinear between four, averaged along the row. Its error
    is that of the mean, sum_ij w_i w_j C(d_ij) over its cells, with the config's accuracy for one cell. What a bridged
    height has beyond that, and all of a surveyed height's error, goes with no other post's.

    Parameters
    ----------
    posts : Posts
        Where the heights are.
    row_ground : RowGround
        The raster, and how it is averaged.
    bridges : Bridges
        Where the ground was bridged over a hole, and how far off it may be.
    surveyed : [row]
        Rows whose posts all have surveyed heights.
    elevation : ElevationSettings
        Accuracy and correlation of the raster's heights, and what of the ground it does not show.
    settings : PostSettings
        Accuracy of surveyed heights.
    """
    by_hand = surveyed[posts.row]
    shared = np.where(by_hand, 0.0, _of_cells(posts, row_ground, elevation))
    beyond = np.sqrt(np.maximum(np.nan_to_num(bridges.error_m) ** 2 - shared**2, 0.0))
    of_points = elevation.accuracy_m if settings.points_accuracy_m is None else settings.points_accuracy_m
    own = np.where(by_hand, of_points, beyond)
    unseen = np.where(by_hand, 0.0, elevation.unseen_m) if elevation.unseen_m else None
    return HeightErrors(shared, own, elevation.correlation_m, row_ground.ground.smoothing_m, unseen)


def _of_cells(posts: Posts, row_ground: RowGround, elevation: ElevationSettings) -> FloatArray:
    """One sigma of the weighted mean of cells that each post's height is, [post] [m]."""
    ground, offset = row_ground.ground, row_ground.ground.offsets_m
    east, north = row_ground.paths.heading(posts.row, posts.station_m)
    places = PlaneXY(
        posts.place.x_m[:, None] + offset * east[:, None], posts.place.y_m[:, None] + offset * north[:, None]
    )
    column, row = (cells - 0.5 for cells in ground.cells(places))
    variance = np.empty(len(posts))
    step = max(1, _PAIRS_AT_ONCE // (4 * len(offset)) ** 2)
    for at in range(0, len(posts), step):
        here = slice(at, at + step)
        variance[here] = _of_mean(*_each_once(*_four_cells(column[here], row[here])), ground, elevation)
    return np.sqrt(variance)


def _four_cells(column: FloatArray, row: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Weights, columns and rows of the four cells about each place averaged for a post, [post, 4 x place]."""
    corner_c, corner_r = np.array([0, 1, 0, 1]), np.array([0, 0, 1, 1])
    cell_c, cell_r = np.floor(column)[..., None] + corner_c, np.floor(row)[..., None] + corner_r
    weight = (1.0 - np.abs(column[..., None] - cell_c)) * (1.0 - np.abs(row[..., None] - cell_r)) / column.shape[1]
    flat = len(column), -1
    return weight.reshape(flat), cell_c.reshape(flat), cell_r.reshape(flat)


def _each_once(weight: FloatArray, column: FloatArray, row: FloatArray) -> tuple[FloatArray, IntArray, IntArray]:
    """Cells of each post, each once with all its weight; [post, cell], cells without weight where there are fewer.

    Columns and rows count from the first of the post's cells. On fine cells many places along the row share a cell.
    """
    across, down = ((part - part.min(axis=1, keepdims=True)).astype(np.int64) for part in (column, row))
    wide = int(across.max(initial=0)) + 1
    cell = down * wide + across
    order = np.argsort(cell, axis=1, kind="stable")
    cell, weight = np.take_along_axis(cell, order, axis=1), np.take_along_axis(weight, order, axis=1)
    place = np.cumsum(np.diff(cell, axis=1, prepend=cell[:, :1]) != 0, axis=1)
    shape = len(cell), int(place.max(initial=0)) + 1
    flat = (np.arange(len(cell))[:, None] * shape[1] + place).ravel()
    once, whole = np.zeros(shape, dtype=np.int64), np.zeros(shape)
    once.ravel()[flat] = cell.ravel()
    np.add.at(whole.ravel(), flat, weight.ravel())
    return whole, once % wide, once // wide


def _of_mean(
    weight: FloatArray, column: IntArray, row: IntArray, ground: Ground, elevation: ElevationSettings
) -> FloatArray:
    # Cells lie whole steps apart: the covariance of each pair of steps is worked out once and looked up.
    wide, high = int(column.max()) + 1, int(row.max()) + 1
    apart = np.hypot(np.arange(wide) * ground.cell_sides_m[0], np.arange(high)[:, None] * ground.cell_sides_m[1])
    cov = height_covariance(apart, elevation.accuracy_m, elevation.correlation_m, 0.0).ravel()
    across, down = (np.abs(part[:, :, None] - part[:, None, :]) for part in (column, row))
    return np.asarray(np.einsum("pi,pij,pj->p", weight, cov[down * wide + across], weight))
