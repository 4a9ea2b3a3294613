"""A height raster: one file or many tiles on one grid of cells, looked over, and read as if it were one.

Where tiles overlap, a cell has the height of the first that has one there, in the order given: a list's own, a folder's
by name, a VRT's from the last (which lies on top). Nothing is blended, moved or resampled.
"""

import math
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Final, NamedTuple

import numpy as np
import rasterio
from affine import Affine
from numpy.typing import NDArray
from pyproj import CRS, Transformer
from pyproj.exceptions import ProjError
from rasterio.windows import Window

from wirerun.arrays import BoolArray
from wirerun.errors import Faults
from wirerun.findings import Finding, name_some
from wirerun.read.crs import WGS84, horizontal_crs
from wirerun.read.geotiff import SEALED
from wirerun.read.height_tile import HeightTile, damaged, look_over, read_tile
from wirerun.read.height_unit import HeightUnit, Says
from wirerun.read.library_errors import told
from wirerun.read.plain_file import Part
from wirerun.read.raster_files import RasterFile, beside, find_raster_files
from wirerun.settings.section import name_of_files

# Choice: cells of two tiles lie on each other to this share of a cell; headers of ASCII grids are rounded.
_OFF_GRID: Final = 0.02
# So much of what it read the library keeps [MB]; unless told, most of it. No cell is asked for twice. Choice.
_CACHE_MB: Final = 64
# Of the overlaps this many cells are compared: choice.
_MOST_COMPARED: Final = 200_000


@dataclass(frozen=True, slots=True)
class Placed:
    """A tile on the raster's cells: its first column and row there, and the part of it that counts.

    `part` is first column, first row, columns, rows in the tile's own cells.
    """

    tile: HeightTile
    column: int
    row: int
    part: tuple[int, int, int, int]

    @property
    def box(self) -> tuple[int, int, int, int]:
        """Return first column and row of the part that counts, and those behind its last, on the raster."""
        left, top = self.column + self.part[0], self.row + self.part[1]
        return left, top, left + self.part[2], top + self.part[3]


@dataclass(frozen=True, slots=True)
class HeightRaster:
    """A raster whose files passed the look-over.

    `crs` is horizontal; `transform` maps (column, row) of cell corners to its easting and northing; `shape` is rows and
    columns of all tiles together. `listed_in` is the VRT that names them, `setting` how the config calls them.
    """

    tiles: tuple[Placed, ...]
    given: str
    crs: CRS
    transform: Affine
    shape: tuple[int, int]
    unit: HeightUnit
    findings: tuple[Finding, ...]
    listed_in: tuple[tuple[str, Part], ...] = ()
    setting: str = "elevation.raster"

    @property
    def from_lonlat(self) -> Transformer:
        """Return the way from WGS 84 longitude and latitude [deg] to the raster's easting and northing."""
        return Transformer.from_crs(WGS84, self.crs, always_xy=True)

    @property
    def kept_as(self) -> np.dtype[Any]:
        """Return the type that holds all heights without loss."""
        return np.dtype(np.result_type(*(placed.tile.kept_as for placed in self.tiles)))

    def under(self, window: Window) -> list[Placed]:
        """Return the tiles that have cells in a window, in the order in which they count."""
        return [placed for placed in self.tiles if _shared(placed, window) is not None]


def how_to_join(raster: HeightRaster) -> str:
    """What to do where more tiles of a survey may be at hand, as the end of a sentence."""
    known = {placed.tile.file.path.name for placed in raster.tiles}
    others = [name for name in beside(raster.tiles[0].tile.file.path) if name not in known]
    if not others:
        return f"; of a survey in tiles, give them all: {raster.setting} takes a list of files, or a folder"
    are = "is another raster" if len(others) == 1 else "are other rasters"
    return (
        f"; beside it {are}, {name_some(others, 3)}: if they are tiles of the same survey, give them all, "
        f"{raster.setting} takes a list of files, or the folder"
    )


class Overlap(NamedTuple):
    """Two tiles that both have heights in the same cells: how much the second is above the first there [m]."""

    first: str
    second: str
    cells: int
    median_m: float
    p95_m: float


class WindowHeights(NamedTuple):
    """Heights of a window in metres, 0 where there is none, and what was seen on the way; see `TileHeights`."""

    heights_m: NDArray[np.float32] | NDArray[np.float64]
    valid: BoolArray
    absent: int
    undeclared: dict[str, int]
    overlaps: tuple[Overlap, ...]


@contextmanager
def open_raster(raster: str | Sequence[str], folder: Path, says: Says, faults: Faults) -> Iterator[HeightRaster | None]:
    """Look a height raster over, to be read within the block; None, with every fault of it told, where it will not do.

    Parameters
    ----------
    raster : str or sequence of str
        `elevation.raster`.
    folder : Path
        Where relative paths start.
    says : Says
        What the config says of it.
    faults : Faults
        Gets the faults.
    """
    with rasterio.Env(**SEALED, GDAL_CACHEMAX=_CACHE_MB):
        yield _looked_over(raster, folder, says, faults)


def _looked_over(raster: str | Sequence[str], folder: Path, says: Says, faults: Faults) -> HeightRaster | None:
    found = find_raster_files(raster, folder, faults)
    crs = None if says.crs is None else horizontal_crs_of(says.crs, name_of_files(raster), faults)
    if found is None:
        return None
    tiles: list[tuple[RasterFile, HeightTile]] = []
    before = len(faults.found)
    for file in found.files:
        with told(faults, file.given, "", damaged(file.real)):
            tile = look_over(file.real, file.given, says, crs, file.no_data, faults)
            if tile is not None:
                tiles.append((file, tile))
    if len(faults.found) > before or not tiles:
        return None
    placed = _on_one_grid(tiles, faults)
    if placed is None:
        return None
    left, top, right, bottom = (
        pick(box[side] for box in (one.box for one in placed)) for side, pick in enumerate((min, min, max, max))
    )
    moved = tuple(replace(one, column=one.column - left, row=one.row - top) for one in placed)
    first = placed[0].tile
    return HeightRaster(
        tiles=moved,
        given=found.given,
        crs=first.crs,
        transform=first.transform * Affine.translation(left, top),
        shape=(bottom - top, right - left),
        unit=first.unit,
        findings=_gathered([one.tile for one in placed], found.given),
        listed_in=found.listed_in,
        setting=says.files,
    )


def horizontal_crs_of(text: str, given: str, faults: Faults) -> CRS | None:
    """Horizontal CRS that a setting names; None, with a fault, where it is none."""
    try:
        crs = horizontal_crs(CRS.from_user_input(text).to_wkt())
    except (ValueError, ProjError):
        crs = None
    if crs is None:
        faults.add(given, "", f'"{text}" names no CRS of the earth; wanted is one such as EPSG:32629')
    return crs


def _on_one_grid(tiles: list[tuple[RasterFile, HeightTile]], faults: Faults) -> list[Placed] | None:
    """Return the tiles on the cells of the first; None, with faults, where one is not like it."""
    first = tiles[0][1]
    placed = []
    before = len(faults.found)
    for file, tile in tiles:
        rows, columns = tile.shape
        if not tile.crs.equals(first.crs, ignore_axis_order=True):
            faults.add(
                tile.given, "", f"it is in {tile.crs.name}, {first.given} in {first.crs.name}; give tiles of one CRS"
            )
            continue
        if tile.unit.metres != first.unit.metres:
            faults.add(tile.given, "", f"its heights are in another unit than those of {first.given}")
            continue
        corners = [(0, 0), (columns, 0), (0, rows), (columns, rows)]
        at = np.array([~first.transform * (tile.transform * corner) for corner in corners])
        corner = np.round(at[0])
        off = float(np.abs(at - corner - corners).max())
        if not off <= _OFF_GRID:
            faults.add(
                tile.given,
                "",
                f"its cells do not lie on those of {first.given}: {_sides(tile)} against {_sides(first)}, off by "
                f"{off:.2f} of a cell; give tiles of one grid, as the survey was exported in one go",
            )
            continue
        part = file.cells or (0, 0, columns, rows)
        if min(part) < 0 or part[0] + part[2] > columns or part[1] + part[3] > rows:
            faults.add(tile.given, "", f"it has {columns} by {rows} cells, fewer than the VRT takes of it")
            continue
        placed.append(Placed(tile, int(corner[0]), int(corner[1]), part))
    return placed if len(faults.found) == before else None


def _sides(tile: HeightTile) -> str:
    step = tile.transform
    return f"cells of {math.hypot(step.a, step.d):g} by {math.hypot(step.b, step.e):g}"


def _gathered(tiles: list[HeightTile], given: str) -> tuple[Finding, ...]:
    """Return what was noticed of the files; what holds of many, once."""
    count: dict[tuple[str, str], list[str]] = {}
    for tile in tiles:
        for finding in tile.findings:
            count.setdefault((finding.code, finding.message), []).append(finding.place)
    return tuple(
        Finding(code, places[0], message)
        if len(places) == 1
        else Finding(code, given, f"{message} So in {len(places)} of {len(tiles)} files.")
        for (code, message), places in count.items()
    )


def read_window(raster: HeightRaster, window: Window) -> WindowHeights:
    """Heights of a window of the raster, from all tiles that reach into it. Within `open_raster`.

    Raises
    ------
    rasterio.errors.RasterioError
        If a file is damaged there.
    """
    under = raster.under(window)
    if len(under) == 1 and _shared(under[0], window) == window:
        one = read_tile(under[0].tile, _in_tile(under[0], window))
        return WindowHeights(*one, ())
    heights = np.zeros((window.height, window.width), dtype=raster.kept_as)
    owner = np.full(heights.shape, -1, dtype=np.int16)
    absent, undeclared, overlaps = 0, dict[str, int](), list[Overlap]()
    for number, placed in enumerate(under):
        shared = _shared(placed, window)
        if shared is None:
            continue
        got = read_tile(placed.tile, _in_tile(placed, shared))
        top, left = shared.row_off - window.row_off, shared.col_off - window.col_off
        cells = slice(top, top + shared.height), slice(left, left + shared.width)
        mine, theirs = heights[cells], owner[cells]
        overlaps += _overlaps(got.heights_m, got.valid, mine, theirs, [one.tile.given for one in under], number)
        new = got.valid & (theirs < 0)
        mine[new], theirs[new] = got.heights_m[new], number
        absent += got.absent
        undeclared = {
            what: undeclared.get(what, 0) + got.undeclared.get(what, 0) for what in {**undeclared, **got.undeclared}
        }
    return WindowHeights(heights, owner >= 0, absent, undeclared, tuple(overlaps))


def _overlaps(
    heights: NDArray[Any],
    valid: BoolArray,
    mine: NDArray[Any],
    theirs: NDArray[np.int16],
    names: list[str],
    number: int,
) -> Iterator[Overlap]:
    """Go through the earlier tiles that have heights where this one has, too."""
    both = valid & (theirs >= 0)
    if not both.any():
        return
    by, whose = (heights[both] - mine[both]).astype(np.float64), theirs[both]
    for other in np.unique(whose):
        apart = by[whose == other]
        sample = apart[:: max(1, len(apart) // _MOST_COMPARED)]
        worst = float(np.quantile(np.abs(sample), 0.95))
        yield Overlap(names[int(other)], names[number], len(apart), float(np.median(sample)), worst)


def _shared(placed: Placed, window: Window) -> Window | None:
    """Return the part of a window that a tile has, in the raster's cells; None where there is none."""
    left, top, right, bottom = placed.box
    left, top = max(left, window.col_off), max(top, window.row_off)
    right, bottom = min(right, window.col_off + window.width), min(bottom, window.row_off + window.height)
    return Window(left, top, right - left, bottom - top) if left < right and top < bottom else None


def _in_tile(placed: Placed, window: Window) -> Window:
    return Window(window.col_off - placed.column, window.row_off - placed.row, window.width, window.height)
