"""Height of plants over the ground, as rows are looked for in it: trees and roofs taken out."""

import math
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import maximum_filter, minimum_filter

from wirerun.arrays import BoolArray, FloatArray
from wirerun.surface.block_canopy import UNKNOWN_CM, BlockCanopy
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
# Cells that the height of rows is told by: choice.
_MOST_LOOKED_AT: Final = 2_000_000


def lift_of_block(canopy: BlockCanopy) -> float:
    """How many times low plants have to be lifted for their rows to be looked for; 1 where they are high.

    Parameters
    ----------
    canopy : BlockCanopy
        What stands in the block, not lifted.
    """
    count, canopy = np.zeros(256, dtype=np.int64), canopy.seen
    for strip in canopy.strips():
        count += np.bincount(canopy.height_cm[strip][canopy.inside[strip]], minlength=256)
    return _lift(count, _HIGH_OF_ALL)


def lift_of_rows(canopy: BlockCanopy, wave: RowWave) -> float:
    """How many times low rows have to be lifted to be traced as rows in leaf are; 1 where they are high.

    Parameters
    ----------
    canopy : BlockCanopy
        What stands in the block, not lifted.
    wave : RowWave
        Where the rows are.
    """
    canopy = canopy.seen
    row, column = canopy.thinned(max(7, canopy.count // _MOST_LOOKED_AT))
    phase = wave.phase(column.astype(np.float64), row.astype(np.float64))
    crest = np.abs(phase - np.round(phase)) <= _CREST
    return _lift(np.bincount(canopy.height_cm[row, column][crest], minlength=256), _HIGH_OF_ROWS)


def _lift(count: NDArray[np.int64], share: float) -> float:
    """By how many plants have each height, in centimetres."""
    below, places = np.cumsum(count), share * (count.sum() - 1.0)
    if not below[-1]:
        return 1.0
    # The usual quantile: straight between the two heights beside the place.
    low, high = np.searchsorted(below, [math.floor(places), math.ceil(places)], side="right") / 100.0
    height = low + (places - math.floor(places)) * (high - low)
    return float(np.clip(_AS_HIGH_M / max(height, 1e-3), 1.0, _MOST_LIFT))


def canopy_cm(height_m: FloatArray, known: BoolArray, cell_m: float, canopy_m: float) -> NDArray[np.uint8]:
    """Height of plants [cm], 0 where there are none or trees, `UNKNOWN_CM` where nothing is known; shape as given.

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
    kept = np.where(near, 0.0, np.clip(np.rint(100.0 * height), 0, MOST_CM)).astype(np.uint8)
    return np.where(known, kept, np.uint8(UNKNOWN_CM))
