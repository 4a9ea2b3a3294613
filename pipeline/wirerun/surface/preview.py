"""A small picture of a survey, made while its tiles go by."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from affine import Affine

from wirerun.arrays import BoolArray, FloatArray
from wirerun.surface.work_grid import Cells, WorkGrid

# Choice: about what fills a screen. Steps divide a tile of 2000 cells.
_MOST_PX: Final = 1400
_STEPS: Final = (1, 2, 4, 5, 8, 10, 16, 20, 25, 40, 50, 80, 100)
#: Layers of the picture.
SURFACE, GROUND, DIFFERENCE, CONFIDENCE, REACH = range(5)


@dataclass(frozen=True, slots=True)
class Preview:
    """Means of joined cells, [layer, row, column]; NaN where nothing is known. `transform` as that of the grid."""

    layers: FloatArray
    transform: Affine
    step: int

    @classmethod
    def of(cls, grid: WorkGrid) -> "Preview":
        """Return an empty picture of a grid."""
        step = next((one for one in _STEPS if max(grid.shape) / one <= _MOST_PX), _STEPS[-1])
        shape = -(-grid.shape[0] // step), -(-grid.shape[1] // step)
        return cls(np.full((5, *shape), np.nan), grid.transform * Affine.scale(step), step)

    def put(self, cells: Cells, layers: FloatArray, where: BoolArray) -> None:
        """Take a tile in: layers of shape (5, rows, columns), and which cells count."""
        step = self.step
        rows, columns = (-(-count // step) for count in cells.shape)
        pad = ((0, rows * step - cells.shape[0]), (0, columns * step - cells.shape[1]))
        there = np.pad(where, pad)
        shape = rows, step, columns, step
        count = there.reshape(shape).sum(axis=(1, 3))
        top, left = cells.top // step, cells.left // step
        for own, layer in zip(self.layers, layers, strict=True):
            total = np.where(there, np.pad(layer, pad), 0.0).reshape(shape).sum(axis=(1, 3))
            own[top : top + rows, left : left + columns] = np.where(count > 0, total / np.maximum(count, 1), np.nan)
