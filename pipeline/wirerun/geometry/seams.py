"""Straight steps along the rows or columns of a height raster, as where tiles or flights were put together."""

from typing import Final, NamedTuple

import numpy as np

from wirerun.arrays import BoolArray, FloatArray
from wirerun.geometry.bad_cells import Heights

# Choices. A step counts from so much, from twice the survey's own sigma, or from a tenth of the cell's side: on coarse
# cells the edge of a terrace that runs along the grid looks like one.
_LEAST_STEP_M: Final = 0.05
_STEP_SIGMAS: Final = 2.0
_STEP_OF_CELL: Final = 0.1
# Looked at in bands of so many cells along the line; each must have half of them, and half of the bands the step.
_BAND_CELLS: Final = 64
_LEAST_BANDS: Final = 2
_LEAST_SHARE: Final = 0.5
# The mean of a band stands out of those of all bands by so many robust sigma.
_STAND_OUT: Final = 8.0
_MAD_TO_SIGMA: Final = 1.4826  # of a normal distribution
_MOST_CELLS: Final = 4_000_000


class Seam(NamedTuple):
    """A straight step.

    Attributes
    ----------
    along_columns : bool
        Whether it runs down the raster, between two columns; else between two rows.
    at : int
        The first column, or row, behind it.
    step_m : float
        How much the ground behind it is higher. [m]
    start, stop : int
        First row, or column, in which it is seen, and the one behind the last.
    """

    along_columns: bool
    at: int
    step_m: float
    start: int
    stop: int


def seam_limit_m(accuracy_m: float, cell_m: float = 0.0) -> float:
    """Least step that is told [m]."""
    return max(_LEAST_STEP_M, _STEP_SIGMAS * accuracy_m, _STEP_OF_CELL * cell_m)


def find_seam(heights_m: Heights, ground: BoolArray, limit_m: float) -> Seam | None:
    """Highest straight step along rows or columns; None where there is none.

    Compared are the two cells on either side: the rise between the inner ones, less the mean of the rises before and
    behind. Slopes have none, nor has noise in the mean of a band.

    Parameters
    ----------
    heights_m, ground : shape (rows, columns)
        Heights [m], and which of them are looked at.
    limit_m : float
        Least step, from `seam_limit_m`. [m]
    """
    found = [_down(heights_m, ground, limit_m), _down(heights_m.T, ground.T, limit_m)]
    seams = [seam._replace(along_columns=not turned) for turned, seam in enumerate(found) if seam is not None]
    return max(seams, key=lambda seam: abs(seam.step_m), default=None)


def _down(heights_m: Heights, ground: BoolArray, limit_m: float) -> Seam | None:
    """Highest step between two columns."""
    rows, columns = heights_m.shape
    stride = max(1, heights_m.size // _MOST_CELLS)
    looked = ground[::stride]
    bands = len(looked) // _BAND_CELLS
    if columns < 4 or bands < _LEAST_BANDS:
        return None
    looked = looked[: bands * _BAND_CELLS]
    heights = np.asarray(heights_m[::stride][: len(looked)], dtype=np.float64)
    jump = 1.5 * (heights[:, 2:-1] - heights[:, 1:-2]) - 0.5 * (heights[:, 3:] - heights[:, :-3])
    all_four = looked[:, 2:-1] & looked[:, 1:-2] & looked[:, 3:] & looked[:, :-3]
    if not all_four.any():
        return None
    usual = _MAD_TO_SIGMA * float(np.median(np.abs(jump[all_four][:: max(1, all_four.sum() // 100_000)])))
    jump = np.where(all_four, jump, 0.0)
    # What stands off by far more is a wall or a tree: it shall not make the mean.
    near = np.clip(jump, -4.0 * max(usual, limit_m), 4.0 * max(usual, limit_m))
    shape = bands, _BAND_CELLS, -1
    cells = all_four.reshape(shape).sum(axis=1)
    mean = near.reshape(shape).sum(axis=1) / np.maximum(cells, 1)
    counts = cells >= _BAND_CELLS // 2
    if not counts.any():
        return None
    spread = _MAD_TO_SIGMA * float(np.median(np.abs(mean[counts])))
    steps = counts & (np.abs(mean) > max(limit_m, _STAND_OUT * spread))
    number, known = steps.sum(axis=0), counts.sum(axis=0)
    line = (number >= _LEAST_BANDS) & (number >= _LEAST_SHARE * known)
    if not line.any():
        return None
    rise = jump.reshape(shape).sum(axis=1) / np.maximum(cells, 1)
    size: FloatArray = np.where(line, np.abs(np.where(steps, rise, 0.0)).sum(axis=0) / np.maximum(number, 1), 0.0)
    at = int(size.argmax())
    seen = np.flatnonzero(steps[:, at])
    here = np.repeat(steps[:, at], _BAND_CELLS) & all_four[:, at]
    step = float(np.median(jump[here, at]))
    band = _BAND_CELLS * stride
    start, stop = int(seen[0]) * band, min(rows, (int(seen[-1]) + 1) * band)
    return Seam(along_columns=True, at=at + 2, step_m=step, start=start, stop=stop)
