"""Ground between plants: local planes through the cells that are no plants, whole arrays at a time.

A plane is fitted round each cell by Gaussian-weighted least squares; its height in the middle is the ground. All sums
are separable filters, so the work grows with the number of cells alone.
"""

from typing import Final, NamedTuple

import numpy as np
from scipy.ndimage import correlate1d

from wirerun.arrays import FloatArray

_TRUNCATE: Final = 4.0
# Strips of rows that are worked on at once: choice, for memory's sake; all of a row's neighbours go along with it.
_AT_ONCE, _LEAST_ROWS = 500_000, 64
# Below this the sums are rounding.
_LEAST_WEIGHT: Final = 1e-6


class Planes(NamedTuple):
    """Height of the local plane at each cell [m], and its support; shapes as given.

    `support` is 1 where all cells round about take part with weight 1, and less where few do, or all on one side: the
    variance of the height is that of a full neighbourhood over the support. 0 where no plane can be had.
    """

    height_m: FloatArray
    support: FloatArray


def local_planes(height_m: FloatArray, weight: FloatArray, sigma_cells: float) -> Planes:
    """Weighted least-squares plane round each cell, at the cell.

    Parameters
    ----------
    height_m : shape (rows, columns)
        Heights, anything finite where the weight is 0. [m]
    weight : shape (rows, columns), >= 0
        How much each cell counts.
    sigma_cells : float
        Standard deviation of the Gaussian. [cells]

    References
    ----------
    Locally weighted regression: W. S. Cleveland and S. J. Devlin, J. Am. Stat. Assoc. 83 (1988) 596-610.
    """
    reach = int(np.ceil(_TRUNCATE * sigma_cells))
    step = np.arange(-reach, reach + 1, dtype=np.float64)
    bell = np.exp(-0.5 * (step / sigma_cells) ** 2)
    bell /= bell.sum()
    unit = step / sigma_cells
    # Heights from a level of their own: their squares would cost digits.
    level = float(np.sum(weight * height_m) / max(float(weight.sum()), _LEAST_WEIGHT))
    made = Planes(np.empty(height_m.shape), np.empty(height_m.shape))
    rows = height_m.shape[0]
    high = max(_LEAST_ROWS, _AT_ONCE // max(1, height_m.shape[1]))
    for top in range(0, rows, high):
        bottom = min(top + high, rows)
        first, behind = max(0, top - reach), min(rows, bottom + reach)
        inner = slice(top - first, bottom - first)
        near = weight[first:behind]
        planes = _strip(near, near * (height_m[first:behind] - level), (bell, bell * unit, bell * unit * unit), inner)
        good = planes.support > 0.0
        made.height_m[top:bottom] = np.where(good, level + planes.height_m, 0.0)
        made.support[top:bottom] = planes.support
    return made


def _strip(weight: FloatArray, z: FloatArray, bells: tuple[FloatArray, FloatArray, FloatArray], inner: slice) -> Planes:
    """Planes in some rows of a strip, by the weights and weighted heights of all of it."""
    one, first, second = bells

    def down(values: FloatArray, by: FloatArray) -> FloatArray:
        return np.asarray(correlate1d(values, by, axis=0, mode="constant")[inner])

    def along(values: FloatArray, *each: FloatArray) -> list[FloatArray]:
        return [np.asarray(correlate1d(values, by, axis=1, mode="constant")) for by in each]

    w, wx, wxx = along(down(weight, one), one, first, second)
    wy, wxy = along(down(weight, first), one, first)
    (wyy,) = along(down(weight, second), one)
    z0, zx = along(down(z, one), one, first)
    (zy,) = along(down(z, first), one)
    # First row of the inverse of [[w, wx, wy], [wx, wxx, wxy], [wy, wxy, wyy]], by cofactors.
    c0 = wxx * wyy - wxy * wxy
    c1 = wxy * wy - wx * wyy
    c2 = wx * wxy - wxx * wy
    determinant = w * c0 + wx * c1 + wy * c2
    good = (w > _LEAST_WEIGHT) & (determinant > _LEAST_WEIGHT * w**3) & (c0 > 0.0)
    safe = np.where(good, determinant, 1.0)
    height = np.where(good, (c0 * z0 + c1 * zx + c2 * zy) / safe, 0.0)
    return Planes(height, np.where(good, safe / np.where(good, c0, 1.0), 0.0))
