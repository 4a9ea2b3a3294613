"""The ground that a survey found, read again from where it was just written."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import rasterio
from rasterio.windows import Window

from wirerun.arrays import FloatArray
from wirerun.surface.work_grid import Cells


@dataclass(frozen=True, slots=True)
class FoundGround:
    """An open ground.tif."""

    raster: Any

    def read(self, cells: Cells) -> FloatArray:
        """Return heights of cells of its grid [m], NaN where there is none or the cells lie beyond."""
        window = Window(cells.left, cells.top, cells.shape[1], cells.shape[0])
        got = self.raster.read(1, window=window, boundless=True, fill_value=self.raster.nodata)
        return np.where(got == self.raster.nodata, np.nan, got.astype(np.float64))


@contextmanager
def open_ground(path: Path) -> Iterator[FoundGround]:
    """Open the ground of a survey, for as long as it is read."""
    with rasterio.open(path) as raster:
        yield FoundGround(raster)
