"""Heights of the ground at any place of a block, from a raster with holes."""

from typing import Final

import numpy as np
from numpy.typing import NDArray
from pyproj import CRS, Transformer

from wirerun.arrays import FloatArray
from wirerun.geometry.frame import Frame
from wirerun.geometry.places import PlaneXY
from wirerun.records import Grid

# Cells this far outside the outermost cell centres are rounding, not a place without data.
_EDGE_CELLS: Final = 1e-7
# A corner with less weight than this does not take part: it is rounding of a position on a cell centre.
_LEAST_WEIGHT: Final = 1e-9
_MOST_SMOOTHING_POINTS: Final = 41


def bilinear(grid: Grid, column: FloatArray, row: FloatArray) -> FloatArray:
    """Heights between the four nearest cell centres, NaN where one that takes part has none [m].

    Parameters
    ----------
    grid : Grid
        The raster window.
    column, row : shape (...)
        Position in cells from the window's corner: the centre of the first cell is (0.5, 0.5). A place outside the
        outermost centres has no height, since a cell that is not there would take part.

    References
    ----------
    Bilinear interpolation; checked in the tests against GDAL's and a published worked example.
    """
    count_r, count_c = grid.heights_m.shape
    c = np.asarray(column, dtype=np.float64) - 0.5
    r = np.asarray(row, dtype=np.float64) - 0.5
    with np.errstate(invalid="ignore"):
        inside = (
            (c >= -_EDGE_CELLS)
            & (c <= count_c - 1 + _EDGE_CELLS)
            & (r >= -_EDGE_CELLS)
            & (r <= count_r - 1 + _EDGE_CELLS)
        )
    c = np.clip(np.where(inside, c, 0.0), 0.0, count_c - 1)
    r = np.clip(np.where(inside, r, 0.0), 0.0, count_r - 1)
    c0, r0 = c.astype(np.intp), r.astype(np.intp)
    c1, r1 = np.minimum(c0 + 1, count_c - 1), np.minimum(r0 + 1, count_r - 1)
    part_c, part_r = c - c0, r - r0
    height = np.zeros_like(c)
    good = inside
    corners: tuple[tuple[NDArray[np.intp], NDArray[np.intp], FloatArray], ...] = (
        (r0, c0, (1.0 - part_r) * (1.0 - part_c)),
        (r0, c1, (1.0 - part_r) * part_c),
        (r1, c0, part_r * (1.0 - part_c)),
        (r1, c1, part_r * part_c),
    )
    for at_r, at_c, weight in corners:
        takes_part = weight > _LEAST_WEIGHT
        height += np.where(takes_part, weight, 0.0) * grid.heights_m[at_r, at_c]
        good = good & (grid.valid[at_r, at_c] | ~takes_part)
    return np.where(good, height, np.nan)


class Ground:
    """The ground of one block in its local frame: ask for heights at plane positions.

    Parameters
    ----------
    grid : Grid
        The raster window that covers the block.
    frame : Frame
        The block's local frame.
    smoothing_m : float
        Length of the moving average along a row; 0 for none. [m]
    """

    def __init__(self, grid: Grid, frame: Frame, smoothing_m: float = 0.0) -> None:
        self.grid = grid
        self._to_raster = Transformer.from_crs(frame.crs, CRS.from_wkt(grid.crs_wkt), always_xy=True)
        #: Sides of a cell on the ground at the block's middle, along the raster's rows and columns [m].
        self.cell_sides_m = self._cell_sides_m()
        self.cell_m = min(self.cell_sides_m)
        #: Places along the row, as distances from a post, whose heights are averaged, shape (places,) [m].
        self.offsets_m = _smoothing_offsets(smoothing_m, self.cell_m)
        self.smoothing_m = smoothing_m

    def cells(self, places: PlaneXY) -> tuple[FloatArray, FloatArray]:
        """Column and row of the grid at places, as `bilinear` takes them, same shape as given."""
        east, north = self._to_raster.transform(places.x_m, places.y_m)
        column, row = ~self.grid.transform * (np.asarray(east), np.asarray(north))
        return column, row

    def height(self, places: PlaneXY) -> FloatArray:
        """Ground height at places, NaN where there is none [m], same shape as given."""
        return bilinear(self.grid, *self.cells(places))

    def height_along(self, places: PlaneXY, heading: tuple[FloatArray | float, FloatArray | float]) -> FloatArray:
        """Ground height averaged along a row of the given heading (east, north), as a post feels it [m], same shape.

        NaN where any part of the average has no height: a mean over what is left would lean to one side.
        """
        east, north = (np.asarray(part)[..., None] for part in heading)
        x = places.x_m[..., None] + self.offsets_m * east
        y = places.y_m[..., None] + self.offsets_m * north
        return np.asarray(self.height(PlaneXY(x, y)).mean(axis=-1))

    def _cell_sides_m(self) -> tuple[float, float]:
        transform = self.grid.transform
        count_r, count_c = self.grid.heights_m.shape
        corners = [transform * (count_c / 2.0 + dc, count_r / 2.0 + dr) for dc, dr in ((0, 0), (1, 0), (0, 1))]
        east, north = np.transpose(corners)
        x, y = self._to_raster.transform(east, north, direction="INVERSE")
        return float(np.hypot(x[1] - x[0], y[1] - y[0])), float(np.hypot(x[2] - x[0], y[2] - y[0]))


def _smoothing_offsets(smoothing_m: float, cell_m: float) -> FloatArray:
    """Offsets of the points that are averaged: midpoints of equal parts, no longer than half a cell [m]."""
    if smoothing_m <= 0.0:
        return np.zeros(1)
    parts = int(np.clip(np.ceil(2.0 * smoothing_m / cell_m), 3, _MOST_SMOOTHING_POINTS))
    return (np.arange(parts) + 0.5) / parts * smoothing_m - smoothing_m / 2.0
