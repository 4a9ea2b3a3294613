"""The block in its local frame: its area in plane metres, and its ground."""

from typing import Final

import numpy as np
import shapely
from pyproj import CRS, Transformer

from wirerun.arrays import FloatArray
from wirerun.findings import Findings
from wirerun.geometry.frame import Frame, mean_radius
from wirerun.geometry.places import PlaneXY
from wirerun.geometry.sampling import Ground
from wirerun.model.site import Area, Site
from wirerun.records import Block, Grid

# Enough to know a block's mean height to a metre or so; 64 m of height are a millimetre in 100 m.
_LATTICE: Final = 60
_RELIEF_M: Final = 60.0


def set_out(block: Block, grid: Grid, smoothing_m: float, notes: Findings) -> Site:
    """Frame, area and ground of a block, scaled to the block's mean height.

    Parameters
    ----------
    block : Block
        As read, in longitude and latitude.
    grid : Grid
        The raster window that covers it.
    smoothing_m : float
        Moving average along a row. [m]
    notes : Findings
        Hears of so much relief that lengths lose a millimetre.
    """
    x, y, heights = _lattice_over(block.area, grid)
    frame = Frame.over(block.area, float(heights.mean()))
    _, east, north = np.linalg.lstsq(np.column_stack([np.ones_like(x), x, y]), heights, rcond=None)[0]
    _note_relief(frame, heights, notes)
    return Site(
        frame,
        frame.flatten(block.area),
        frame.flatten(block.workable),
        Ground(grid, frame, smoothing_m),
        (float(east), float(north)),
    )


def _lattice_over(area: Area, grid: Grid) -> tuple[FloatArray, FloatArray, FloatArray]:
    """East, north and ground height of a lattice over an area in longitude and latitude [m]."""
    frame = Frame.over(area, 0.0)
    flat = frame.flatten(area)
    west, south, east, north = flat.bounds
    x, y = np.meshgrid(np.linspace(west, east, _LATTICE), np.linspace(south, north, _LATTICE))
    inside = shapely.contains_xy(flat, x, y)
    x, y = x[inside], y[inside]
    heights = Ground(grid, frame).height(PlaneXY(x, y))
    known = np.isfinite(heights)
    if not known.any():  # a sliver that the lattice misses, or heights in a corner only
        return _cells(grid, frame)
    return x[known], y[known], heights[known]


def _cells(grid: Grid, frame: Frame) -> tuple[FloatArray, FloatArray, FloatArray]:
    """East, north and ground height of a share of a grid's cells that have one [m]."""
    row, column = np.nonzero(grid.valid)
    some = slice(None, None, max(1, len(row) // _LATTICE**2))
    x, y = grid.transform * (column[some] + 0.5, row[some] + 0.5)
    to_frame = Transformer.from_crs(CRS.from_wkt(grid.crs_wkt), frame.crs, always_xy=True)
    east, north = to_frame.transform(x, y)
    return east, north, grid.heights_m[row[some], column[some]].astype(np.float64)


def _note_relief(frame: Frame, heights: FloatArray, notes: Findings) -> None:
    far = max(heights.max() - frame.height_m, frame.height_m - heights.min())
    if far > _RELIEF_M:
        notes.note(
            "relief",
            f"Ground lies up to {far:.0f} m above or below the block's mean height, {frame.height_m:.0f} m; lengths "
            f"are off by up to {far / mean_radius(frame.lat) * 1e5:.1f} mm in 100 m. Split the block to avoid it.",
        )
