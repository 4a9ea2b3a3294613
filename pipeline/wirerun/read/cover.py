"""Whether the raster covers a block, and where it does not."""

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray
from rasterio.features import rasterize
from rasterio.windows import Window
from scipy.ndimage import label
from shapely import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from wirerun.errors import Exit, Faults
from wirerun.findings import Finding
from wirerun.read.heights import on_raster, to_cells
from wirerun.read.polygons import GEOD, area_m2, place_words
from wirerun.read.raster import HeightRaster, how_to_join
from wirerun.records import Block, Grid

_SIDES: Final = ("north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west")
# Choices: less than this share of a cell off the raster is rounding; more cells than that are looked at coarsely.
_LEAST_OFF_CELLS: Final = 0.01
_MOST_LABELLED: Final = 4_000_000


@dataclass(frozen=True, slots=True)
class BlockCells:
    """The workable ground of a block in the cells of its window: which lie in it, and what of it lies off the raster.

    `inside` has the shape of the window; `off_raster` is in (column, row) from the window's corner.
    """

    inside: NDArray[np.bool_]
    off_raster: BaseGeometry


@dataclass(frozen=True, slots=True)
class Gap:
    """What is missing: the share of the block that has heights, and the middle of the biggest missing part."""

    covered_pct: float
    lon: float
    lat: float
    side: str

    @property
    def words(self) -> str:
        """Return the gap in words."""
        # Rounded down, so that a fault never says that 95.0 % is below 95 %.
        share = math.floor(self.covered_pct * 10.0) / 10.0
        return (
            f"{share:.1f} % of the block has heights; the biggest part without lies {self.side}, "
            f"round {place_words(self.lon, self.lat)}"
        )


def check_cover(
    raster: HeightRaster, cells: BlockCells, grid: Grid, block: Block, least_pct: float, faults: Faults
) -> list[Finding]:
    """Refuse a block of which too little has heights; a finding where anything at all is missing.

    Counted are the cells whose centre lies in the block and outside its exclusions: nothing stands elsewhere.

    Parameters
    ----------
    raster, cells, grid : HeightRaster, BlockCells, Grid
        The raster, the block's cells on it, and what was read.
    block : Block
        The block with its exclusions.
    least_pct : float
        `elevation.least_cover_pct`. [%]
    faults : Faults
        Gets the fault, with the exit code of missing elevation.
    """
    off = cells.off_raster.area >= _LEAST_OFF_CELLS
    gap = _find_gap(raster, cells, grid, block) if grid.valid.any() else None
    if gap is None and grid.valid.any():
        return []
    if gap is None or gap.covered_pct == 0.0:
        join = how_to_join(raster) if off else ""
        faults.add(raster.given, f"block {block.block_id}", f"the block has no heights at all{join}", Exit.ELEVATION)
        return []
    if gap.covered_pct < least_pct:
        join = how_to_join(raster) if off else ""
        faults.add(
            raster.given,
            f"block {block.block_id}",
            f"only {gap.words} (least cover {least_pct:g} %){join}",
            Exit.ELEVATION,
        )
        return []
    return [Finding("cover-gap", block.block_id, f"{gap.words[:1].upper()}{gap.words[1:]}.")]


def tell_miss(raster: HeightRaster, block: Block, boundary: str, faults: Faults) -> None:
    """Refuse a block that lies off the raster; say so where swapping longitude and latitude would bring it there."""
    place, box, middle = f"block {block.block_id}", block.area.bounds, block.area.centroid
    swapped = shapely.transform(block.area, lambda lonlat: lonlat[:, ::-1])
    can_swap = max(abs(box[0]), abs(box[2])) <= 90.0
    if can_swap and on_raster(raster, swapped) is not None:
        faults.add(
            boundary,
            place,
            f"longitude and latitude are swapped: as written it lies at {place_words(middle.x, middle.y)}, off the "
            f"raster {raster.given}; the other way round it lies on it; put longitude first in the file",
        )
        return
    faults.add(
        raster.given,
        place,
        f"the block lies off the raster: it spans {_span(box)}, the raster {_span(_lonlat_bounds(raster))}"
        f"{how_to_join(raster)}",
        Exit.ELEVATION,
    )


def block_cells(raster: HeightRaster, window: Window, block: Block) -> BlockCells:
    """Return the cells of a window whose centre lies in the workable ground; those it touches where none does."""
    shape = (window.height, window.width)
    if block.workable.is_empty:  # told elsewhere
        return BlockCells(np.zeros(shape, dtype=bool), Polygon())
    corner = (window.col_off, window.row_off)
    local = shapely.transform(to_cells(raster, block.workable), lambda cells: cells - corner)
    inside = rasterize([local], out_shape=shape, dtype=np.uint8)
    if not inside.any():
        inside = rasterize([local], out_shape=shape, all_touched=True, dtype=np.uint8)
    # A cell whose centre is missing begins half a cell off the raster.
    reach = shapely.box(-0.5, -0.5, window.width + 0.5, window.height + 0.5)
    return BlockCells(np.asarray(inside.view(np.bool_)), local.difference(reach))


def _find_gap(raster: HeightRaster, cells: BlockCells, grid: Grid, block: Block) -> Gap | None:
    """Return what is missing, or None where every cell of the block has a height."""
    missing = cells.inside > grid.valid  # in, and no height: a pass less over all cells than by & and ~
    lost, within, off = np.count_nonzero(missing), np.count_nonzero(cells.inside), cells.off_raster.area
    if not lost and off < _LEAST_OFF_CELLS:
        return None
    column, row = _middle_of_biggest(missing, cells.off_raster)
    x, y = grid.transform * (column, row)
    lon, lat = raster.from_lonlat.transform(x, y, direction="INVERSE")
    covered = 100.0 * (within - lost) / (within + off)
    return Gap(covered, lon, lat, side_of(block.area, lon, lat))


def _middle_of_biggest(missing: NDArray[np.bool_], off_raster: BaseGeometry) -> tuple[float, float]:
    """Return column and row of the middle of the biggest part that is missing: a place in it, near its mean."""
    away = max(shapely.get_parts(off_raster), key=shapely.area, default=Polygon())
    if missing.any():
        size, middle = biggest_part(missing)
        if size >= away.area:
            return middle
    inner = away.centroid if away.contains(away.centroid) else away.representative_point()
    return float(inner.x), float(inner.y)


def biggest_part(missing: NDArray[np.bool_]) -> tuple[float, tuple[float, float]]:
    """Return how many cells the biggest connected part has, and column and row of its most central cell."""
    # Mostly little is missing: look no further than round it, nor at every cell where much is.
    rows, columns = np.flatnonzero(missing.any(axis=1)), np.flatnonzero(missing.any(axis=0))
    top, left = int(rows[0]), int(columns[0])
    near = missing[top : rows[-1] + 1, left : columns[-1] + 1]
    step = math.ceil(math.sqrt(near.size / _MOST_LABELLED))
    parts, _ = label(near[::step, ::step])
    if not parts.any():  # too small for the coarse look
        step = 1
        parts, _ = label(near)
    sizes = np.bincount(parts.ravel())[1:]
    at_rows, at_columns = np.nonzero(parts == int(sizes.argmax()) + 1)
    middle = at_rows.mean(), at_columns.mean()
    nearest = int(((at_rows - middle[0]) ** 2 + (at_columns - middle[1]) ** 2).argmin())
    place = (left + step * float(at_columns[nearest]) + 0.5, top + step * float(at_rows[nearest]) + 0.5)
    return float(sizes.max()) * step**2, place


def side_of(area: Polygon | MultiPolygon, lon: float, lat: float) -> str:
    """Return on which side of a block a place lies, in words."""
    middle = area.centroid
    azimuth, _, distance = GEOD.inv(middle.x, middle.y, lon, lat)
    if distance < 0.1 * math.sqrt(area_m2(area)):
        return "in the middle"
    return f"in the {_SIDES[round(azimuth / 45.0) % 8]}"


def _lonlat_bounds(raster: HeightRaster) -> tuple[float, float, float, float]:
    """Return west, south, east and north of the raster's outline [deg]."""
    rows, columns = raster.shape
    outline = shapely.segmentize(shapely.box(0, 0, columns, rows), max(rows, columns) / 20.0)
    x, y = raster.transform * shapely.get_coordinates(outline).T
    lon, lat = raster.from_lonlat.transform(x, y, direction="INVERSE")
    return float(np.min(lon)), float(np.min(lat)), float(np.max(lon)), float(np.max(lat))


def _span(box: tuple[float, float, float, float]) -> str:
    west, south, east, north = box
    return f"longitude {west:.4f} to {east:.4f}, latitude {south:.4f} to {north:.4f}"
