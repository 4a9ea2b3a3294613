"""How green a place is, from an orthophoto, and that as if it were a canopy for rows to be found in."""

from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter

from wirerun.arrays import BoolArray, FloatArray
from wirerun.surface.canopy import canopy_cm

# Choices: light and grass that change over so many metres are no rows; what is green stands so high.
_SLOW_M: Final = 6.0
_AS_HIGH_M: Final = 1.0
_MOST: Final = 1.3  # times as green as the green half on the average
_BINS: Final = 256


def index_of(bands: FloatArray) -> tuple[FloatArray, BoolArray]:
    """Greenness of places, and where it is known; shape (rows, columns).

    Parameters
    ----------
    bands : shape (3 or 4, rows, columns)
        Red, green, blue, and near infrared if there is one, in any one unit; nothing is known where all are 0.

    References
    ----------
    Without near infrared the excess green 2g - r - b of the chromatic coordinates: D. M. Woebbecke, G. E. Meyer, K. Von
    Bargen and D. A. Mortensen, Trans. ASAE 38 (1995) 259-269. With it the normalised difference (NIR - R) / (NIR + R):
    J. W. Rouse, R. H. Haas, J. A. Schell and D. W. Deering, NASA SP-351 (1974) 309-317, as the R package LSTtools
    quotes it.
    """
    red, green, blue = bands[:3]
    if len(bands) > 3:
        total = bands[3] + red
        over = bands[3] - red
    else:
        total = red + green + blue
        over = 2.0 * green - red - blue
    known = np.isfinite(total) & (total > 0.0)
    return np.where(known, over / np.where(known, total, 1.0), 0.0), known


def parting(values: FloatArray) -> float:
    """The value that parts two groups best.

    References
    ----------
    N. Otsu, IEEE Trans. Syst. Man Cybern. 9 (1979) 62-66.
    """
    low, high = np.quantile(values, [0.002, 0.998])
    if not high > low:
        return float(low)
    count, edges = np.histogram(values.clip(low, high), _BINS, (low, high))
    middle = (edges[1:] + edges[:-1]) / 2.0
    below = np.cumsum(count)
    total, weight = float(below[-1]), np.cumsum(count * middle)
    above = total - below
    apart = weight / np.maximum(below, 1) - (weight[-1] - weight) / np.maximum(above, 1)
    return float(edges[1:][np.argmax(below * above * apart**2)])


def green_canopy_cm(
    index: FloatArray, known: BoolArray, inside: BoolArray, cell_m: float, canopy_m: float
) -> NDArray[np.uint8]:
    """Green places as a canopy about a metre high [cm], wide ones (crowns, meadows) taken out; shape as given.

    Parameters
    ----------
    index, known : shape (rows, columns)
        As `index_of` returns them.
    inside : shape (rows, columns)
        Cells of the block.
    cell_m, canopy_m : float
        Side of a cell, and widest canopy across a row. [m]
    """
    within = known & inside
    if not within.any():
        return np.zeros(index.shape, dtype=np.uint8)
    sigma = _SLOW_M / cell_m
    share = gaussian_filter(within.astype(np.float64), sigma)
    slow = gaussian_filter(np.where(within, index, 0.0), sigma) / np.maximum(share, 1e-6)
    rest = np.where(within, index - slow, 0.0)
    limit = parting(rest[within])
    green = within & (rest > limit)
    if not green.any() or green.sum() == within.sum():
        return np.zeros(index.shape, dtype=np.uint8)
    low, high = float(rest[within & ~green].mean()), float(rest[green].mean())
    height = _AS_HIGH_M * np.clip((rest - low) / max(high - low, 1e-9), 0.0, _MOST)
    return canopy_cm(np.asarray(height), within, cell_m, canopy_m)
