"""The block in its local frame: its area in plane metres, and its ground."""

from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely
from pyproj import CRS, Transformer

from wirerun.findings import Finding
from wirerun.geometry.frame import FloatArray, Frame, mean_radius
from wirerun.geometry.sampling import Ground
from wirerun.records import Block, Grid

# Enough to know a block's mean height to a metre or so; 64 m of height are a millimetre in 100 m.
_LATTICE: Final = 60
_RELIEF_M: Final = 60.0


@dataclass(frozen=True, slots=True)
class Site:
    """A block set out in its frame: whole area, workable area (exclusions and holes cut out), and ground.

    `slope` is the rise per metre eastward and northward of the plane that fits the block's ground best.
    """

    frame: Frame
    area: shapely.Geometry
    workable: shapely.Geometry
    ground: Ground
    slope: tuple[float, float]


def set_out(block: Block, grid: Grid, smoothing_m: float) -> tuple[Site, list[Finding]]:
    """Frame, area and ground of a block, scaled to the block's mean height.

    Parameters
    ----------
    block : Block
        As read, in longitude and latitude.
    grid : Grid
        The raster window that covers it.
    smoothing_m : float
        Moving average along a row. [m]
    """
    x, y, heights = _lattice_over(block.area, grid)
    frame = Frame.over(block.area, float(heights.mean()))
    _, east, north = np.linalg.lstsq(np.column_stack([np.ones_like(x), x, y]), heights, rcond=None)[0]
    site = Site(
        frame,
        frame.flatten(block.area),
        frame.flatten(block.workable),
        Ground(grid, frame, smoothing_m),
        (float(east), float(north)),
    )
    return site, _relief(block.block_id, frame, heights)


def _lattice_over(area: shapely.Geometry, grid: Grid) -> tuple[FloatArray, FloatArray, FloatArray]:
    """East, north and ground height of a lattice over an area in longitude and latitude [m]."""
    frame = Frame.over(area, 0.0)
    flat = frame.flatten(area)
    west, south, east, north = flat.bounds
    x, y = np.meshgrid(np.linspace(west, east, _LATTICE), np.linspace(south, north, _LATTICE))
    inside = shapely.contains_xy(flat, x, y)
    x, y = x[inside], y[inside]
    heights = Ground(grid, frame).height(x, y)
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


def _relief(block_id: str, frame: Frame, heights: FloatArray) -> list[Finding]:
    far = max(heights.max() - frame.height_m, frame.height_m - heights.min())
    if far <= _RELIEF_M:
        return []
    return [
        Finding(
            "relief",
            block_id,
            f"Ground lies up to {far:.0f} m above or below the block's mean height, {frame.height_m:.0f} m; lengths "
            f"are off by up to {far / mean_radius(frame.lat) * 1e5:.1f} mm in 100 m. Split the block to avoid it.",
        )
    ]
