"""Height of plants over the ground, as rows are looked for in it: trees and roofs taken out."""

from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import maximum_filter, minimum_filter

from wirerun.arrays import BoolArray, FloatArray
from wirerun.surface.row_waves import RowWave

# Choices by trials. What stands so high over so wide a square is a crown or a roof, and what is higher still is one.
_CROWN_M, _CROWN_WIDE_M, _WIDER_M = 1.0, 1.9, 0.7
_TREE_M: Final = 2.6
_GROWN_M: Final = 0.6
#: Canopies are kept in whole centimetres, up to this. [cm]
MOST_CM: Final = 250
#: Rows are looked for in cells of about this side. [m]
ROW_CELL_M: Final = 0.2
# Plants lower than this are looked at as if they were so high, up to so many times: dormant arms, young vines. How high
# they are: a share of all cells is lower; of those in the middle of a row, within a share of the spacing, another is.
_AS_HIGH_M, _MOST_LIFT = 0.8, 6.0
_HIGH_OF_ALL, _CREST, _HIGH_OF_ROWS = 0.95, 0.06, 0.6


def lift_of_block(canopy_m: FloatArray, inside: BoolArray) -> float:
    """How many times low plants have to be lifted for their rows to be looked for; 1 where they are high.

    Parameters
    ----------
    canopy_m, inside : shape (rows, columns)
        Height of plants over the ground [m], and the cells of the block.
    """
    return _lift(canopy_m[inside], _HIGH_OF_ALL)


def lift_of_rows(canopy_m: FloatArray, inside: BoolArray, wave: RowWave) -> float:
    """How many times low rows have to be lifted to be traced as rows in leaf are; 1 where they are high.

    Parameters
    ----------
    canopy_m, inside : shape (rows, columns)
        Height of plants over the ground [m], and the cells of the block.
    wave : RowWave
        Where the rows are.
    """
    row, column = (index[::7] for index in np.nonzero(inside))
    phase = wave.phase(column.astype(np.float64), row.astype(np.float64))
    return _lift(canopy_m[row, column][np.abs(phase - np.round(phase)) <= _CREST], _HIGH_OF_ROWS)


def _lift(heights_m: FloatArray, share: float) -> float:
    high = float(np.quantile(heights_m, share)) if heights_m.size else _AS_HIGH_M
    return float(np.clip(_AS_HIGH_M / max(high, 1e-3), 1.0, _MOST_LIFT))


def canopy_cm(height_m: FloatArray, known: BoolArray, cell_m: float, canopy_m: float) -> NDArray[np.uint8]:
    """Height of plants [cm], 0 where there are none, trees, or nothing is known; shape as given.

    Parameters
    ----------
    height_m, known : shape (rows, columns)
        Surface less ground [m], and where that is known.
    cell_m : float
        Side of a cell. [m]
    canopy_m : float
        Widest canopy across a row: what is wider is a crown. [m]
    """
    height = np.where(known, height_m, 0.0)
    wide = max(3, round(max(_CROWN_WIDE_M, canopy_m + _WIDER_M) / cell_m))
    crown = maximum_filter(minimum_filter((height > _CROWN_M).astype(np.uint8), wide), wide) > 0
    trees = crown | (height > _TREE_M)
    grow = 2 * max(1, round(_GROWN_M / cell_m)) + 1
    near = maximum_filter(trees.astype(np.uint8), grow) > 0
    return np.where(near, 0.0, np.clip(np.rint(100.0 * height), 0, MOST_CM)).astype(np.uint8)
