"""Where places of a block's frame lie on its raster: the projection fitted once, not done again for each place.

Over a few kilometres the way from a frame to a raster's columns and rows is so smooth that a cubic holds it to a
thousandth of a millimetre. A plane would not: it is a metre off over 4 km of a raster in degrees.
"""

from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np
from affine import Affine
from pyproj import Transformer

from wirerun.arrays import FloatArray
from wirerun.geometry.places import PlaneXY

# A fit that is off by more anywhere is not used (choice): a tenth of a millimetre is nothing on the ground.
_MOST_OFF_M: Final = 1e-4
_FITTED, _CHECKED = 9, 19  # places on a side: of the fit, at Chebyshev's, and of the check, edges included
# Fewer places are projected themselves: that takes no longer than the fit.
_LEAST_PLACES: Final = 2_000


@dataclass(frozen=True, slots=True)
class _Cubic:
    """Column and row as cubics of (x - middle) / half, terms of shape (10, 2); within a box of the frame."""

    middle: tuple[float, float]
    half: tuple[float, float]
    terms: FloatArray

    def scaled(self, x: FloatArray, y: FloatArray) -> tuple[FloatArray, FloatArray]:
        return (x - self.middle[0]) / self.half[0], (y - self.middle[1]) / self.half[1]

    def at(self, u: FloatArray, v: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Column and row; nested, so that each term costs one product and one sum."""
        column, row = (
            c[0]
            + v * (c[2] + v * (c[5] + v * c[9]))
            + u * (c[1] + v * (c[4] + v * c[8]) + u * (c[3] + v * c[7] + u * c[6]))
            for c in self.terms.T
        )
        return column, row


class CellFit:
    """Column and row of a raster at places of a plane frame.

    Parameters
    ----------
    from_raster : Transformer
        From the raster's CRS to the frame. The library takes up to fifteen times as long to find the other way.
    transform : Affine
        From (column, row) of cell corners to the raster's CRS.
    shape : tuple of int
        Rows and columns of the raster.
    cell_m : float
        Side of a cell on the ground. [m]
    """

    def __init__(self, from_raster: Transformer, transform: Affine, shape: tuple[int, int], cell_m: float) -> None:
        self._from_raster, self._transform, self._shape, self._cell_m = from_raster, transform, shape, cell_m

    def cells(self, places: PlaneXY) -> tuple[FloatArray, FloatArray]:
        """Column and row at places, in cells from the raster's corner, same shape as given.

        Where there are many, from the fit if that is good enough, else each projected by itself; so are places far off
        the raster.
        """
        x, y = np.asarray(places.x_m), np.asarray(places.y_m)
        cubic = self._cubic if x.size >= _LEAST_PLACES else None
        if cubic is None:
            return self._exact(x, y)
        u, v = cubic.scaled(x, y)
        column, row = cubic.at(u, v)
        far = ~((np.abs(u) <= 1.0) & (np.abs(v) <= 1.0))
        if far.any():
            column[far], row[far] = self._exact(x[far], y[far])
        return column, row

    def _exact(self, x: FloatArray, y: FloatArray) -> tuple[FloatArray, FloatArray]:
        column, row = ~self._transform * np.asarray(self._from_raster.transform(x, y, direction="INVERSE"))
        return np.asarray(column), np.asarray(row)

    @cached_property
    def _cubic(self) -> _Cubic | None:
        """The fit over the raster's box in the frame; None where it is not good enough there."""
        rows, columns = self._shape
        edge = np.linspace(-1.0, columns + 1.0, _CHECKED), np.linspace(-1.0, rows + 1.0, _CHECKED)
        east, north = self._transform * np.meshgrid(*edge)
        x, y = self._from_raster.transform(east, north)
        if not (np.isfinite(x).all() and np.isfinite(y).all()):
            return None
        middle = (float(np.max(x) + np.min(x)) / 2.0, float(np.max(y) + np.min(y)) / 2.0)
        half = (float(np.ptp(x)) / 2.0, float(np.ptp(y)) / 2.0)
        cubic = _Cubic(middle, half, np.zeros((10, 2)))
        knots = np.cos(np.pi * (np.arange(_FITTED) + 0.5) / _FITTED)
        u, v, wanted = self._lattice(cubic, knots)
        if not np.isfinite(wanted).all():
            return None
        powers = [np.ones_like(u), u, v, u * u, u * v, v * v, u**3, u * u * v, u * v * v, v**3]
        terms = np.asarray(np.linalg.lstsq(np.stack(powers, axis=1), wanted, rcond=None)[0], dtype=np.float64)
        cubic = _Cubic(middle, half, terms)
        u, v, wanted = self._lattice(cubic, np.linspace(-1.0, 1.0, _CHECKED))
        off = np.abs(np.stack(cubic.at(u, v), axis=1) - wanted).max() * self._cell_m
        return cubic if off <= _MOST_OFF_M else None

    def _lattice(self, cubic: _Cubic, knots: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Places of a lattice over the box of a fit, and their column and row, shape (places, 2)."""
        u, v = (part.ravel() for part in np.meshgrid(knots, knots))
        cells = self._exact(cubic.middle[0] + cubic.half[0] * u, cubic.middle[1] + cubic.half[1] * v)
        return u, v, np.stack(cells, axis=1)
