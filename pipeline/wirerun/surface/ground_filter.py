"""Ground from a surface with vines in it: a masked local plane on a surface that was detrended twice.

By trials on made-up canopies over made and real ground, the one way that held on all of them, slopes to 60 % among them
(`tests/benchmarks/bench_survey.py`): openings leave a plane alone, it is curvature that costs them, hence the trends.
Low cells weigh more than high ones, which keeps what grows there from lifting the ground, and lowers bare ground by a
known share of the noise; that share is given back. Grass as such cannot be told from ground: its mean height is taken
off as it is told.

A tile is worked with a margin of `MARGIN_M` round it, and comes out as the whole survey would: nothing in here hangs on
a tile's own statistics, and everything coarse is anchored to the survey's cells.
"""

from typing import Final, NamedTuple

import numpy as np
from scipy.ndimage import (
    binary_dilation,
    convolve,
    gaussian_filter,
    maximum_filter,
    minimum_filter,
    zoom,
)

from wirerun.arrays import BoolArray, FloatArray
from wirerun.surface.local_plane import Planes, local_planes

#: Cells of the work, about: finer ones are joined to this side. [m]
WORK_CELL_M: Final = 0.1
#: So much of the neighbourhood decides on a cell. [m]
MARGIN_M: Final = 30.0
# Of the fine cells that make one of the work, this quantile: the least of many is low by several sigma of noise.
_QUANTILE: Final = 0.2
# Choices by trials; the errors hardly move with any of them (half a centimetre within a factor of 1.5).
_TRENDS_M: Final = (4.0, 2.0)
# An opening is so much wider than the canopy: it reaches across an alley in which a cover crop stands as well.
_WIDER_M: Final = 2.4
_OPENED_SIGMA_M: Final = 0.3
_PLANT_M: Final = 0.2
_GROWN_M: Final = 0.15
_TALL_M: Final = 1.0  # above an opening as wide as trees
_SIGMA_M: Final = 0.5
# Where the plane has too little to stand on it is looked for farther off, in these steps; beyond, there is a void.
_FARTHER_M: Final = (1.2, 2.4, 4.8)
#: Support below which a height is looked for farther off.
LEAST_SUPPORT: Final = 0.05
# Weights of a cell by its residual: low ground is more likely ground.
_HIGH_WEIGHT, _ABOVE_WEIGHT, _HIGH_SIGMAS = 0.1, 0.6, 1.5
_ROUNDS: Final = 3
# So far below the mean of normal residuals, in sigmas, these weights settle in so many rounds: computed, and so tested.
_SETTLES_SIGMAS: Final = 0.372
# Cells that are joined where nothing fine is asked for, and how wide they may become; wider ones are not joined.
_COARSE: Final = 5
_COARSEST_M: Final = 1.0


class FilterSettings(NamedTuple):
    """What the filter is told: side of a cell, widest canopy across a row, widest tree, mean height of the grass [m].

    `bare` is whether plants were taken out already: then every cell is ground, weighs the same, and has no grass on it.
    """

    cell_m: float
    canopy_m: float
    tree_m: float
    bare: bool = False
    grass_m: float = 0.0

    @property
    def sigma_cells(self) -> float:
        """Return the width of the local plane in cells, at least one."""
        return max(_SIGMA_M / self.cell_m, 1.0)

    @property
    def coarse(self) -> int:
        """Return how many cells are joined where nothing fine is asked for."""
        return _COARSE if _COARSE * self.cell_m <= _COARSEST_M else 1


class GroundEstimate(NamedTuple):
    """Ground of a tile, shapes as given.

    Attributes
    ----------
    ground_m
        Height, 0 where there is none. [m]
    confidence
        0 to 1: how much bare ground the height stands on, within a metre or so; below `LEAST_SUPPORT` it is filled.
    reach_m
        From how far the height comes: 0.5 m where it was seen, more where it was filled, 0 where there is none. [m]
    plants
        Cells that were taken for plants.
    """

    ground_m: FloatArray
    confidence: FloatArray
    reach_m: FloatArray
    plants: BoolArray


def join_cells(surface_m: FloatArray, valid: BoolArray, count: int) -> tuple[FloatArray, BoolArray]:
    """Cells joined, count by count, to a low quantile of their heights; valid where half of them are.

    Parameters
    ----------
    surface_m, valid : shape (rows, columns)
        Heights [m], and which are any; rows and columns are whole multiples of the count.
    count : int
        How many cells make a side of one.
    """
    if count == 1:
        return surface_m, valid
    rows, columns = surface_m.shape[0] // count, surface_m.shape[1] // count
    shape = rows, count, columns, count
    blocks = np.where(valid, surface_m, np.nan).reshape(shape).swapaxes(1, 2).reshape(rows, columns, -1)
    # Missing heights sort to the end; the quantile is that of those that are there.
    ordered = np.sort(blocks, axis=-1)
    there = np.isfinite(ordered).sum(axis=-1)
    at = _QUANTILE * np.maximum(there - 1, 0)
    low = at.astype(np.intp)
    high = np.minimum(low + 1, np.maximum(there - 1, 0))
    take = [np.take_along_axis(ordered, index[..., None], axis=-1)[..., 0] for index in (low, high)]
    joined = take[0] + (at - low) * (take[1] - take[0])
    good = 2 * there >= count * count
    return np.where(good, joined, 0.0), np.asarray(good)


def find_plants(surface_m: FloatArray, valid: BoolArray, told: FilterSettings) -> BoolArray:
    """Cells that stand off the ground: plants, posts, people, trees; grown a little, shape as given.

    Parameters
    ----------
    surface_m, valid : shape (rows, columns)
        Heights [m], and which are any.
    told : FilterSettings
        Cell, canopy and trees.
    """
    if told.bare:
        return np.zeros(surface_m.shape, dtype=bool)
    wide = _odd(told.canopy_m + _WIDER_M, told.cell_m)
    rest: FloatArray = np.where(valid, surface_m, 0.0)
    for sigma in _TRENDS_M:
        rest = rest - _trend(_opened(rest, valid, wide), valid, sigma / told.cell_m, told.coarse)
    opened = _smooth(_opened(rest, valid, wide), valid, _OPENED_SIGMA_M / told.cell_m)
    plants: BoolArray = valid & (rest - opened > _PLANT_M)
    # A cell alone is noise.
    plants &= convolve(plants.astype(np.uint8), np.ones((3, 3), dtype=np.uint8), mode="constant") >= 2
    plants |= valid & _tall(surface_m, valid, told)
    grow = max(1, round(_GROWN_M / told.cell_m))
    return np.asarray(binary_dilation(plants, np.ones((2 * grow + 1, 2 * grow + 1), dtype=bool)))


def noise_of(surface_m: FloatArray, valid: BoolArray, told: FilterSettings) -> float:
    """Robust sigma of the cells round their local planes, plants left out; NaN where there are none [m].

    It sets the weights of all tiles alike, so that a result does not hang on how the survey was cut.
    """
    bare = valid & ~find_plants(surface_m, valid, told)
    planes = local_planes(np.where(bare, surface_m, 0.0), bare.astype(np.float64), told.sigma_cells)
    off = (surface_m - planes.height_m)[bare & (planes.support > 0.5)]
    return float(1.4826 * np.median(np.abs(off - np.median(off)))) if off.size else float("nan")


def ground_of(surface_m: FloatArray, valid: BoolArray, told: FilterSettings, noise_m: float) -> GroundEstimate:
    """Ground below a surface; see the module.

    Parameters
    ----------
    surface_m, valid : shape (rows, columns)
        Heights [m], and which are any, with a margin of `MARGIN_M` round what is wanted; rows and columns are whole
        multiples of 5, counted from the survey's first cell.
    told : FilterSettings
        Cell, canopy and trees.
    noise_m : float
        From `noise_of`, one for the whole survey. [m]
    """
    plants = find_plants(surface_m, valid, told)
    bare = valid & ~plants
    surface = np.where(valid, surface_m, 0.0)
    weight = bare.astype(np.float64)
    planes = local_planes(surface, weight, told.sigma_cells)
    support = planes.support
    for _ in range(0 if told.bare else _ROUNDS):
        weight = _trusted(surface - planes.height_m, planes.support, bare, noise_m)
        planes = local_planes(surface, weight, told.sigma_cells)
    seen = (support >= LEAST_SUPPORT) & (planes.support > 0.0)
    ground, reach = np.where(seen, planes.height_m, 0.0), np.where(seen, _SIGMA_M, 0.0)
    del planes  # for memory's sake
    if not seen.all():
        _fill(ground, reach, surface, weight, told)
    if not told.bare:
        ground[reach > 0.0] += _SETTLES_SIGMAS * noise_m - told.grass_m
    return GroundEstimate(ground, np.clip(support, 0.0, 1.0), reach, plants)


def _trusted(off_m: FloatArray, support: FloatArray, bare: BoolArray, noise_m: float) -> FloatArray:
    """How much cells count by what they are over their planes: low ones more."""
    weight: FloatArray = np.where(
        off_m > _HIGH_SIGMAS * noise_m, _HIGH_WEIGHT, np.where(off_m > 0.0, _ABOVE_WEIGHT, 1.0)
    )
    return np.where(bare, np.where(support > LEAST_SUPPORT, weight, 1.0), 0.0)


def _fill(ground: FloatArray, reach: FloatArray, surface: FloatArray, weight: FloatArray, told: FilterSettings) -> None:
    """Fill what has no height by wider planes, on joined cells: the nearest width that has ground to stand on."""
    side, join = told.cell_m * told.coarse, told.coarse
    # The middle of what is bare in a joined cell is not the cell's: on a slope that shows, so that comes off first.
    trend = _wide_planes(surface, weight, max(_FARTHER_M[-1] / side, 1.0), join)
    # Where there is no trend, at the survey's ends, nothing is known either.
    known = trend.support > 0.0
    rest = np.where((weight > 0.0) & known, surface - trend.height_m, 0.0)
    for sigma in _FARTHER_M:
        planes = _wide_planes(rest, weight * known, max(sigma / side, 1.0), join)
        open_ = (reach == 0.0) & (planes.support >= LEAST_SUPPORT) & known
        ground[open_], reach[open_] = (trend.height_m + planes.height_m)[open_], max(sigma, side)


def _wide_planes(height_m: FloatArray, weight: FloatArray, sigma_coarse: float, join: int) -> Planes:
    """Local planes over joined cells, on fine ones; support 0 where there is no height."""
    count = _joined(weight, join)
    mean = np.where(count > 0.0, _joined(weight * height_m, join) / np.where(count > 0.0, count, 1.0), 0.0)
    planes = local_planes(mean, count / join**2, sigma_coarse)
    # Heights from support too thin would run into their neighbours.
    good = planes.support >= LEAST_SUPPORT
    share = _spread(good.astype(np.float64), join, order=1)
    height = _spread(np.where(good, planes.height_m, 0.0), join, order=1) / np.maximum(share, 1e-6)
    there = share > 1e-6
    return Planes(np.where(there, height, 0.0), np.where(there, _spread(planes.support, join, order=0), 0.0))


def _opened(height_m: FloatArray, valid: BoolArray, cells: int) -> FloatArray:
    """Opening by a square: what no square of that side fits under is cut off. Cells without a height take no part."""
    # Room all round: a square that reaches beyond the edge fits under what is there.
    low = minimum_filter(np.pad(np.where(valid, height_m, np.inf), cells, constant_values=np.inf), cells)
    high = maximum_filter(np.where(np.isfinite(low), low, -np.inf), cells)[cells:-cells, cells:-cells]
    return np.where(valid & np.isfinite(high), high, 0.0)


def _smooth(height_m: FloatArray, valid: BoolArray, sigma_cells: float) -> FloatArray:
    """Gaussian mean of the cells that have a height."""
    share = gaussian_filter(valid.astype(np.float64), sigma_cells, mode="constant")
    total = gaussian_filter(np.where(valid, height_m, 0.0), sigma_cells, mode="constant")
    return np.where(share > 1e-6, total / np.maximum(share, 1e-6), 0.0)


def _trend(height_m: FloatArray, valid: BoolArray, sigma_cells: float, join: int) -> FloatArray:
    """Gaussian mean over joined cells, spread again: good enough for what is only taken off and forgotten."""
    count = _joined(valid.astype(np.float64), join)
    mean = np.where(count > 0.0, _joined(np.where(valid, height_m, 0.0), join) / np.maximum(count, 1.0), 0.0)
    # Edges would be level: a plane's slope is taken along by the local plane of so wide a bell.
    return _spread(local_planes(mean, count / join**2, max(sigma_cells / join, 1.0)).height_m, join, order=1)


def _tall(surface_m: FloatArray, valid: BoolArray, told: FilterSettings) -> BoolArray:
    """Cells far above an opening as wide as trees."""
    join = told.coarse
    count = _joined(valid.astype(np.float64), join)
    mean = np.where(count > 0.0, _joined(np.where(valid, surface_m, 0.0), join) / np.maximum(count, 1.0), 0.0)
    opened = _opened(mean, count > 0.0, _odd(told.tree_m, told.cell_m * join))
    return np.asarray(surface_m - _spread(opened, join, order=1) > _TALL_M)


def _joined(values: FloatArray, join: int) -> FloatArray:
    rows, columns = values.shape[0] // join, values.shape[1] // join
    return np.asarray(values.reshape(rows, join, columns, join).sum(axis=(1, 3)))


def _spread(values: FloatArray, join: int, order: int) -> FloatArray:
    """Joined cells back on fine ones: each its own (order 0), or straight between their middles (order 1)."""
    if join == 1:
        return values
    if order == 0:
        return np.repeat(np.repeat(values, join, axis=0), join, axis=1)
    return np.asarray(zoom(values, join, order=1, mode="nearest", grid_mode=True))


def _odd(length_m: float, cell_m: float) -> int:
    """Cells of a window so wide, an odd number."""
    return 2 * max(1, round(length_m / cell_m / 2.0)) + 1
