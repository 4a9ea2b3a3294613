"""The heights that one block needs: a window of the raster, in metres, with its holes known."""

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely
from affine import Affine
from numpy.typing import NDArray
from rasterio.windows import Window
from shapely import MultiPolygon, Polygon

from wirerun.errors import Faults
from wirerun.findings import Finding
from wirerun.geometry.seams import seam_limit_m
from wirerun.geometry.shapes import Shape
from wirerun.read.polygons import GEOD, place_words
from wirerun.read.raster import HeightRaster, Overlap, read_window
from wirerun.records import Block, Grid

_LEAST_MARGIN_CELLS: Final = 3
# Choice: about 2 GB with the mask, half as many cells where each takes twice the room.
_MOST_BYTES: Final = 1_600_000_000
# Choice: wide of all land, narrow enough for a forgotten no-data number or a wrong unit.
_LOWEST_M, _HIGHEST_M = -1000.0, 10_000.0
_SEGMENT_DEG: Final = 0.001
_EDGE_DIGITS: Final = 6  # of a cell: what lies beyond is the noise of projecting there and back


@dataclass(frozen=True, slots=True)
class BlockWindow:
    """The cells round a block, from the raster's first cell; part of them may lie off the raster."""

    column: int
    row: int
    columns: int
    rows: int

    def clipped(self, raster: HeightRaster) -> Window:
        """Return the part of the window that lies on the raster."""
        rows, columns = raster.shape
        left, top = max(self.column, 0), max(self.row, 0)
        right, bottom = min(self.column + self.columns, columns), min(self.row + self.rows, rows)
        return Window(left, top, right - left, bottom - top)


def cell_sides_m(raster: HeightRaster, lon: float, lat: float) -> tuple[float, float]:
    """Lengths of a cell's two sides on the ground at a place [m]."""
    transformer = raster.from_lonlat
    column, row = ~raster.transform * transformer.transform(lon, lat)
    corners = [raster.transform * (column + dc, row + dr) for dc, dr in ((0.0, 0.0), (1.0, 0.0), (0.0, 1.0))]
    x, y = np.transpose(corners)
    lons, lats = transformer.transform(x, y, direction="INVERSE")
    sides = GEOD.inv([lons[0]] * 2, [lats[0]] * 2, lons[1:], lats[1:])[2]
    return float(sides[0]), float(sides[1])


def to_cells(raster: HeightRaster, area: Shape) -> Shape:
    """Ground in (column, row) of the raster, from longitude and latitude [deg]; not finite where the CRS ends."""
    # Edges straight in degrees are curves on the raster: short pieces follow them to a millimetre.
    fine = shapely.segmentize(area, _SEGMENT_DEG)
    to_raster, inverse = raster.from_lonlat, ~raster.transform

    def cells(lonlat: NDArray[np.float64]) -> NDArray[np.float64]:
        east, north = to_raster.transform(lonlat[:, 0], lonlat[:, 1])
        return np.column_stack(inverse * (east, north))

    return shapely.transform(fine, cells)


def on_raster(raster: HeightRaster, area: Polygon | MultiPolygon) -> Polygon | MultiPolygon | None:
    """Ground in (column, row) of the raster, from longitude and latitude [deg]; None where it misses the raster."""
    ground = to_cells(raster, area)
    if not np.isfinite(shapely.get_coordinates(ground)).all():
        return None
    rows, columns = raster.shape
    return ground if ground.intersects(shapely.box(0, 0, columns, rows)) else None


def window_of(raster: HeightRaster, ground: Polygon | MultiPolygon, block: Block, smoothing_m: float) -> BlockWindow:
    """Window with room around the block for interpolation and for the moving average.

    Parameters
    ----------
    raster : HeightRaster
        The open raster.
    ground : Polygon or MultiPolygon
        The block in (column, row), as `on_raster` returns it.
    block : Block
        The block.
    smoothing_m : float
        Length of the moving average. [m]
    """
    middle = block.area.centroid
    margin = _LEAST_MARGIN_CELLS + math.ceil(smoothing_m / min(cell_sides_m(raster, middle.x, middle.y)))
    left, top, right, bottom = (round(edge, _EDGE_DIGITS) for edge in ground.bounds)
    column, row = math.floor(left) - margin, math.floor(top) - margin
    return BlockWindow(column, row, math.ceil(right) + margin - column, math.ceil(bottom) + margin - row)


def read_heights(
    raster: HeightRaster, window: Window, block: Block, accuracy_m: float, faults: Faults
) -> tuple[Grid | None, list[Finding]]:
    """Heights of a block's window in metres, with what was noticed; None, with a fault, where they cannot be had.

    float32 where that loses nothing, else float64.
    """
    place = f"block {block.block_id}"
    cells, most = window.width * window.height, _MOST_BYTES // max(4, *(p.tile.dtype.itemsize for p in raster.tiles))
    if cells > most:
        sentence = f"{cells} cells of the raster lie round it, at most {most} are read; take larger cells"
        faults.add(raster.given, place, sentence)
        return None, []
    got = read_window(raster, window)
    findings = [
        *_absent(got.absent, raster.given, block),
        *_undeclared(got.undeclared, raster.given, block),
        *_differing(got.overlaps, raster.given, block, accuracy_m),
    ]
    transform = raster.transform * Affine.translation(window.col_off, window.row_off)
    grid = Grid(got.heights_m, got.valid, transform, raster.crs.to_wkt(), raster.given)
    return (grid if _plausible(grid, raster, place, faults) else None), findings


def _absent(cells: int, given: str, block: Block) -> list[Finding]:
    """Tell of cells that the file does not hold."""
    if not cells:
        return []
    sentence = (
        f"Of the cells read from {given}, {cells} lie in tiles that the file does not hold; they were taken as empty."
    )
    return [Finding("absent-tiles", block.block_id, sentence)]


def _undeclared(cells: dict[str, int], given: str, block: Block) -> list[Finding]:
    """Tell of cells with a usual no-data number."""
    if not cells:
        return []
    told = " and ".join(f"{count} {what}" for what, count in cells.items())
    sentence = f"Of the cells read from {given}, {told}, not declared as no-data; they were taken as empty."
    return [Finding("undeclared-nodata", block.block_id, sentence)]


def _differing(overlaps: tuple[Overlap, ...], given: str, block: Block, accuracy_m: float) -> list[Finding]:
    """Tell of tiles that do not agree where they overlap."""
    limit = seam_limit_m(accuracy_m)
    bad = [one for one in overlaps if abs(one.median_m) > limit or one.p95_m > 3.0 * limit]
    if not bad:
        return []
    worst = max(bad, key=lambda one: max(abs(one.median_m), one.p95_m / 3.0))
    more = f", and so do {len(bad) - 1} more pairs" if len(bad) > 1 else ""
    sentence = (
        f"Tiles of {given} do not agree where they overlap{more}: {worst.second} lies {worst.median_m:+.2f} m off "
        f"{worst.first} in the middle of {worst.cells} cells, 95 % of them within {worst.p95_m:.2f} m (limit of the "
        f"middle {limit:.2f} m); the height of the first counts, and where it ends the ground has a step that is not "
        "there. Have the tiles made from one survey, adjusted in one go."
    )
    return [Finding("ground-seam", block.block_id, sentence)]


def _plausible(grid: Grid, raster: HeightRaster, place: str, faults: Faults) -> bool:
    """Refuse numbers that are no heights of land: a no-data number nobody knows, or a wrong unit."""
    # What has no height is 0; a raster without any is told by the cover.
    if grid.heights_m.min() >= _LOWEST_M and grid.heights_m.max() <= _HIGHEST_M:
        return True
    wild = grid.valid & ~((grid.heights_m >= _LOWEST_M) & (grid.heights_m <= _HIGHEST_M))
    if not wild.any():
        return True
    row, column = (int(index) for index in np.argwhere(wild)[0])
    x, y = grid.transform * (column + 0.5, row + 0.5)
    lon, lat = raster.from_lonlat.transform(x, y, direction="INVERSE")
    faults.add(
        raster.given,
        place,
        f"{int(wild.sum())} cells are no heights of land, such as {float(grid.heights_m[row, column]):g} m at "
        f"{place_words(lon, lat)} (limits {_LOWEST_M:g} and {_HIGHEST_M:g} m); declare the no-data number, or the unit",
    )
    return False
