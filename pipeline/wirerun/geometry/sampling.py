"""Heights of the ground at any place of a block, from a raster with holes."""

from typing import Final

import numpy as np
from numpy.typing import NDArray
from pyproj import CRS, Transformer

from wirerun.arrays import BoolArray, FloatArray
from wirerun.geometry.cell_fit import CellFit
from wirerun.geometry.frame import Frame
from wirerun.geometry.places import PlaneXY
from wirerun.records import Grid

# Cells this far outside the outermost cell centres are rounding, not a place without data.
_EDGE_CELLS: Final = 1e-7
# A corner with less weight than this does not take part: it is rounding of a position on a cell centre.
_LEAST_WEIGHT: Final = 1e-9
_MOST_SMOOTHING_POINTS: Final = 41
# Places at a time: what is in hand stays in the processor's own memory.
_BATCH: Final = 8192

Heights = NDArray[np.float32] | NDArray[np.float64]


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
    shape = np.shape(column)
    columns, rows = (np.asarray(part, dtype=np.float64).ravel() for part in (column, row))
    height = np.empty(columns.shape)
    cells = grid.heights_m.ravel(), grid.valid.ravel()
    for start in range(0, len(height), _BATCH):
        batch = slice(start, start + _BATCH)
        height[batch] = _between(*cells, grid.heights_m.shape, columns[batch] - 0.5, rows[batch] - 0.5)
    return height.reshape(shape)


def _between(heights: Heights, valid: BoolArray, shape: tuple[int, int], c: FloatArray, r: FloatArray) -> FloatArray:
    """Heights at places counted from the first cell's centre; cells flat."""
    wide = shape[1]
    with np.errstate(invalid="ignore"):
        inside = bool((c.min() >= 0.0) & (r.min() >= 0.0) & (c.max() < wide - 1) & (r.max() < shape[0] - 1))
    if not inside:
        return _between_some(heights, valid, shape, c, r)
    c0, r0 = c.astype(np.intp), r.astype(np.intp)
    part_c, part_r = c - c0, r - r0
    rest_c, rest_r = 1.0 - part_c, 1.0 - part_r
    first = r0 * wide + c0
    known = valid[first] & valid[first + 1] & valid[first + wide] & valid[first + wide + 1]
    height: FloatArray = rest_r * rest_c * heights[first]
    height += rest_r * part_c * heights[first + 1]
    height += part_r * rest_c * heights[first + wide]
    height += part_r * part_c * heights[first + wide + 1]
    lost = ~known
    if lost.any():
        height[lost] = _between_some(heights, valid, shape, c[lost], r[lost])
    return height


def _between_some(
    heights: Heights, valid: BoolArray, shape: tuple[int, int], c: FloatArray, r: FloatArray
) -> FloatArray:
    """The same where a cell that has no height, or none that is there, may take no part: its weight is rounding."""
    count_r, count_c = shape
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
        at = at_r * count_c + at_c
        height += np.where(takes_part, weight, 0.0) * heights[at]
        good = good & (valid[at] | ~takes_part)
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
        self._from_raster = Transformer.from_crs(CRS.from_wkt(grid.crs_wkt), frame.crs, always_xy=True)
        #: Sides of a cell on the ground at the block's middle, along the raster's rows and columns [m].
        self.cell_sides_m = self._cell_sides_m()
        self.cell_m = min(self.cell_sides_m)
        self._fit = CellFit(
            self._from_raster, grid.transform, (len(grid.heights_m), grid.heights_m.shape[1]), self.cell_m
        )
        #: Places along the row, as distances from a post, whose heights are averaged, shape (places,) [m].
        self.offsets_m = _smoothing_offsets(smoothing_m, self.cell_m)
        self.smoothing_m = smoothing_m

    def cells(self, places: PlaneXY) -> tuple[FloatArray, FloatArray]:
        """Column and row of the grid at places, as `bilinear` takes them, same shape as given."""
        return self._fit.cells(places)

    def height(self, places: PlaneXY) -> FloatArray:
        """Ground height at places, NaN where there is none [m], same shape as given."""
        return bilinear(self.grid, *self.cells(places))

    def height_along(self, places: PlaneXY, heading: tuple[FloatArray | float, FloatArray | float]) -> FloatArray:
        """Ground height averaged along a row of the given heading (east, north), as a post feels it [m], same shape.

        NaN where any part of the average has no height: a mean over what is left would lean to one side.
        """
        if not self.smoothing_m:
            return self.height(places)
        first, last = (self._moved(places, heading, self.offsets_m[end]) for end in (0, -1))
        # The averaged places lie on a straight line, and so do their cells: it is a metre long.
        shape = places.x_m.shape
        begin, way = (
            [np.broadcast_to(part, shape).ravel() for part in parts]
            for parts in (first, [there - here for here, there in zip(first, last, strict=True)])
        )
        share = (self.offsets_m - self.offsets_m[0]) / (self.offsets_m[-1] - self.offsets_m[0])
        height = np.empty(begin[0].shape)
        step = max(1, _BATCH // len(share))
        for start in range(0, len(height), step):
            batch = slice(start, start + step)
            cells = (here[batch, None] + share * on[batch, None] for here, on in zip(begin, way, strict=True))
            height[batch] = bilinear(self.grid, *cells).mean(axis=-1)
        return height.reshape(shape)

    def _moved(
        self, places: PlaneXY, heading: tuple[FloatArray | float, FloatArray | float], by_m: float
    ) -> tuple[FloatArray, FloatArray]:
        """Column and row of places a little way along a row."""
        east, north = heading
        return self.cells(PlaneXY(places.x_m + by_m * np.asarray(east), places.y_m + by_m * np.asarray(north)))

    def _cell_sides_m(self) -> tuple[float, float]:
        transform = self.grid.transform
        count_r, count_c = self.grid.heights_m.shape
        corners = [transform * (count_c / 2.0 + dc, count_r / 2.0 + dr) for dc, dr in ((0, 0), (1, 0), (0, 1))]
        east, north = np.transpose(corners)
        x, y = self._from_raster.transform(east, north)
        return float(np.hypot(x[1] - x[0], y[1] - y[0])), float(np.hypot(x[2] - x[0], y[2] - y[0]))


def _smoothing_offsets(smoothing_m: float, cell_m: float) -> FloatArray:
    """Offsets of the points that are averaged: midpoints of equal parts, no longer than half a cell [m]."""
    if smoothing_m <= 0.0:
        return np.zeros(1)
    parts = int(np.clip(np.ceil(2.0 * smoothing_m / cell_m), 3, _MOST_SMOOTHING_POINTS))
    return (np.arange(parts) + 0.5) / parts * smoothing_m - smoothing_m / 2.0
