"""The plants of one block, as rows are looked for in them: a byte a cell, whatever is worked out of it."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from wirerun.arrays import BoolArray, FloatArray, IntArray

# Cells that are looked at at once: choice, some ten megabytes on the way.
_AT_ONCE: Final = 1_000_000
#: Stands for a height where the survey saw nothing; heights in centimetres stay below it.
UNKNOWN_CM: Final = 255


def stature_of(canopy_m: FloatArray) -> FloatArray:
    """How much of a vine stands in a cell, by its height [m]: a cover crop is wide, but low."""
    return np.asarray(np.where(canopy_m > 0.2, np.minimum(canopy_m, 1.5), 0.0))


def presence_of(canopy_m: FloatArray) -> FloatArray:
    """How surely a plant stands in a cell by its height, 0 to 1: grass does not, a vine of 0.55 m does."""
    return np.asarray(np.clip((canopy_m - 0.2) / 0.35, 0.0, 1.0))


@dataclass(frozen=True, slots=True)
class BlockCanopy:
    """Height of plants over the ground in the cells round a block.

    All that is worked out of a height is looked up among the 256 there can be, where it is wanted: of a large block
    nothing stands in memory but these bytes.

    Attributes
    ----------
    height_cm : shape (rows, columns)
        0 where there are no plants, or trees; `UNKNOWN_CM` where nothing was seen. [cm]
    inside : shape (rows, columns)
        Cells of the block; plants elsewhere do not count.
    lift : float
        So many times higher than they are plants are taken to be.

    Raises
    ------
    ValueError
        If the two have not one shape.
    """

    height_cm: NDArray[np.uint8]
    inside: BoolArray
    lift: float = 1.0

    def __post_init__(self) -> None:
        """Check the shapes."""
        if self.height_cm.shape != self.inside.shape:
            msg = f"heights of shape {self.height_cm.shape} for cells of shape {self.inside.shape}"
            raise ValueError(msg)

    @property
    def shape(self) -> tuple[int, int]:
        """Return how many rows and columns."""
        return self.inside.shape[0], self.inside.shape[1]

    @property
    def count(self) -> int:
        """Return how many cells lie in the block."""
        return int(np.count_nonzero(self.inside))

    @property
    def heights_m(self) -> FloatArray:
        """Return the height that each number of centimetres is taken for, shape (256,) [m]."""
        heights = np.arange(256) / 100.0 * self.lift
        heights[UNKNOWN_CM] = 0.0
        return heights

    @property
    def seen(self) -> "BlockCanopy":
        """Return the same for those cells of the block that the survey saw."""
        return replace(self, inside=self.inside & (self.height_cm != UNKNOWN_CM))

    def unknown(self, x: FloatArray, y: FloatArray) -> BoolArray:
        """Whether places lie in cells of the block that the survey did not see, shape as given.

        Parameters
        ----------
        x, y : same shape
            Column and row, the middle of the first cell at 0.
        """
        column, row = np.rint(x).astype(np.intp), np.rint(y).astype(np.intp)
        there = (row >= 0) & (column >= 0) & (row < self.shape[0]) & (column < self.shape[1])
        at = row[there], column[there]
        there[there] = self.inside[at] & (self.height_cm[at] == UNKNOWN_CM)
        return np.asarray(there)

    def stature(self, rows: slice | IntArray, columns: slice | IntArray) -> FloatArray:
        """How much of a vine stands in cells, 0 outside the block; shape of the index."""
        there = self.inside[rows, columns]
        return np.where(there, stature_of(self.heights_m)[self.height_cm[rows, columns]], 0.0)

    def strips(self, multiple: int = 1) -> Iterator[slice]:
        """Go through strips of rows that memory holds easily, whole multiples of some number of rows."""
        rows, columns = self.shape
        high = max(1, _AT_ONCE // max(1, columns * multiple)) * multiple
        for top in range(0, rows, high):
            yield slice(top, min(top + high, rows))

    def thinned(self, step: int) -> tuple[IntArray, IntArray]:
        """Row and column of every so many-th cell of the block, counted along its rows."""
        found, before = [np.zeros(0, dtype=np.int64)], 0
        for strip in self.strips():
            at = np.flatnonzero(self.inside[strip])
            found.append(at[-before % step :: step] + strip.start * self.shape[1])
            before += len(at)
        row, column = np.divmod(np.concatenate(found), max(1, self.shape[1]))
        return row, column

    def sampled(self, x: FloatArray, y: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Presence and stature at places, straight between the middles of cells; 0 beyond them and outside the block.

        Parameters
        ----------
        x, y : same shape
            Column and row, the middle of the first cell at 0.
        """
        rows, columns = self.shape
        there = (x >= 0.0) & (y >= 0.0) & (x <= columns - 1.0) & (y <= rows - 1.0)
        left = np.clip(x, 0.0, max(columns - 2, 0)).astype(np.intp)
        top = np.clip(y, 0.0, max(rows - 2, 0)).astype(np.intp)
        right, below = np.minimum(left + 1, columns - 1), np.minimum(top + 1, rows - 1)
        u, v = np.where(there, x - left, 0.0), np.where(there, y - top, 0.0)
        tables = presence_of(self.heights_m), stature_of(self.heights_m)
        presence, stature = np.zeros(x.shape), np.zeros(x.shape)
        for row, column, weight in (
            (top, left, (1.0 - u) * (1.0 - v)),
            (top, right, u * (1.0 - v)),
            (below, left, (1.0 - u) * v),
            (below, right, u * v),
        ):
            counted = weight * (there & self.inside[row, column])
            height = self.height_cm[row, column]
            presence += counted * tables[0][height]
            stature += counted * tables[1][height]
        return presence, stature
