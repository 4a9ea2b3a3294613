"""Ground between plants: local planes through the cells that are no plants, whole arrays at a time.

A plane is fitted round each cell by Gaussian-weighted least squares; its height in the middle is the ground. All sums
are separable filters, so the work grows with the number of cells alone.
"""

from typing import Final, NamedTuple

import numpy as np
from scipy.ndimage import correlate1d

from wirerun.arrays import FloatArray

_TRUNCATE: Final = 4.0
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
    one, first, second = bell, bell * unit, bell * unit * unit

    def mean(values: FloatArray, down: FloatArray, right: FloatArray) -> FloatArray:
        along = correlate1d(values, down, axis=0, mode="constant")
        return np.asarray(correlate1d(along, right, axis=1, mode="constant"))

    # Heights from a level of their own: their squares would cost digits.
    level = float(np.sum(weight * height_m) / max(float(weight.sum()), _LEAST_WEIGHT))
    z = weight * (height_m - level)
    w, wx, wy = mean(weight, one, one), mean(weight, one, first), mean(weight, first, one)
    wxx, wyy, wxy = mean(weight, one, second), mean(weight, second, one), mean(weight, first, first)
    z0, zx, zy = mean(z, one, one), mean(z, one, first), mean(z, first, one)
    # First row of the inverse of [[w, wx, wy], [wx, wxx, wxy], [wy, wxy, wyy]], by cofactors.
    c0 = wxx * wyy - wxy * wxy
    c1 = wxy * wy - wx * wyy
    c2 = wx * wxy - wxx * wy
    determinant = w * c0 + wx * c1 + wy * c2
    good = (w > _LEAST_WEIGHT) & (determinant > _LEAST_WEIGHT * w**3) & (c0 > 0.0)
    safe = np.where(good, determinant, 1.0)
    height = np.where(good, level + (c0 * z0 + c1 * zx + c2 * zy) / safe, 0.0)
    support = np.where(good, safe / np.where(good, c0, 1.0), 0.0)
    return Planes(np.asarray(height), np.asarray(support))
