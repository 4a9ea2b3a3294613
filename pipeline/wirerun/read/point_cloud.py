"""Point clouds (LAS, LAZ) on working cells: the ground of classified ones, the lowest points of others; the highest.

Ground is made of what lies lowest in a cell. Plants and posts are what stands highest in it, on finer cells where the
points are dense.
"""

import logging
import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np
import shapely
from affine import Affine
from numpy.typing import NDArray
from pyproj import CRS, Transformer
from pyproj.exceptions import ProjError
from scipy.ndimage import maximum_filter
from shapely.geometry.base import BaseGeometry

from wirerun.arrays import BoolArray, FloatArray
from wirerun.errors import Faults
from wirerun.findings import Finding
from wirerun.read.crs import WGS84, horizontal_crs
from wirerun.read.height_unit import Says, find_height_unit
from wirerun.read.library_errors import told
from wirerun.read.plain_file import part, plain_file, source
from wirerun.read.polygons import GEOD
from wirerun.read.raster import horizontal_crs_of
from wirerun.records import Block, Source
from wirerun.settings import Config
from wirerun.surface.work_grid import STEP, Cells, WorkGrid

# ASPRS classes (LAS 1.4 R15, table 17): ground; low noise, high noise.
_GROUND, _NOISE = 2, (7, 18)
# Choices: so many points a cell on the average; cells from fine to coarse; most of them in memory; least share of
# points that makes a cloud a classified one.
_POINTS_A_CELL: Final = 2.0
_FINEST_M, _COARSEST_M = 0.1, 1.0
_MOST_CELLS: Final = 150_000_000
# Of the highest points: so many a cell at least (empty ones are filled from beside), on cells no finer than this. By
# trials and choice.
_POINTS_A_FINE_CELL: Final = 0.5
_FINE_M: Final = 0.025
_LEAST_GROUND: Final = 0.02
_CHUNK: Final = 2_000_000


@dataclass(frozen=True, slots=True)
class CloudCells:
    """A cloud on working cells; `bare` where its points were classified and only ground is in `heights_m`.

    `top_m` are the highest points in cells of which `join` make a side of one of the grid's, NaN where there is none.
    """

    grid: WorkGrid
    heights_m: FloatArray
    known: BoolArray
    top_m: NDArray[np.float32]
    join: int
    bare: bool
    to_crs: Transformer
    findings: tuple[Finding, ...]
    sources: tuple[Source, ...]
    undeclared: tuple[str, ...] = ()

    def read(self, cells: Cells) -> tuple[FloatArray, BoolArray]:
        """Return heights [m] and which are any; cells beyond the cloud have none."""
        rows, columns = self.grid.shape
        heights, known = np.zeros(cells.shape), np.zeros(cells.shape, dtype=bool)
        there = Cells(max(cells.top, 0), max(cells.left, 0), min(cells.bottom, rows), min(cells.right, columns))
        if there.top < there.bottom and there.left < there.right:
            place, own = there.inside(cells), there.inside(Cells(0, 0, rows, columns))
            heights[place], known[place] = self.heights_m[own], self.known[own]
        return heights, known

    def seen(self, cells: Cells) -> BoolArray:
        """Return in which cells there are points of any kind."""
        return self.read_top(cells)[1]

    def read_top(self, cells: Cells) -> tuple[FloatArray, BoolArray]:
        """Return the highest points of cells [m], and which have any."""
        heights, known = self._top(cells)
        rows, columns = cells.shape
        blocks = np.where(known, heights, -np.inf).reshape(rows, self.join, columns, self.join)
        top = blocks.max(axis=(1, 3))
        there = np.isfinite(top)
        return np.where(there, top, 0.0), there

    def read_fine(self, cells: Cells) -> tuple[FloatArray, BoolArray]:
        """Return the highest points of finer cells [m], and which have any; one without has that of those beside it."""
        heights, known = self._top(cells.grown(1))
        beside = maximum_filter(np.where(known, heights, -np.inf), 3)
        inner = slice(self.join, -self.join), slice(self.join, -self.join)
        filled = np.where(known, heights, beside)[inner]
        there = np.isfinite(filled)
        return np.where(there, filled, 0.0), there

    def _top(self, cells: Cells) -> tuple[FloatArray, BoolArray]:
        rows, columns = self.top_m.shape
        fine = Cells(*(self.join * edge for edge in cells))
        heights = np.full(fine.shape, np.nan)
        there = Cells(max(fine.top, 0), max(fine.left, 0), min(fine.bottom, rows), min(fine.right, columns))
        if there.top < there.bottom and there.left < there.right:
            heights[there.inside(fine)] = self.top_m[there.inside(Cells(0, 0, rows, columns))]
        known = np.isfinite(heights)
        return np.where(known, heights, 0.0), known

    def to_cells(self, area: BaseGeometry) -> BaseGeometry:
        """Return a shape in (column, row) of the grid, from longitude and latitude."""
        return to_grid_cells(area, self.to_crs, self.grid.transform)


def to_grid_cells(area: BaseGeometry, to_crs: Transformer, transform: Affine) -> BaseGeometry:
    """Shape in (column, row) of a grid, from longitude and latitude [deg]."""

    def cells(lonlat: FloatArray) -> FloatArray:
        east, north = to_crs.transform(lonlat[:, 0], lonlat[:, 1])
        return np.column_stack(~transform * (east, north))

    return shapely.transform(area, cells)


def read_cloud(config: Config, blocks: Sequence[Block], beyond_m: float, faults: Faults) -> CloudCells | None:
    """The points round all blocks on cells; None, with every fault told, where the cloud will not do.

    Parameters
    ----------
    config : Config
        `survey.points` and what it says of them.
    blocks : sequence of Block
        What is wanted.
    beyond_m : float
        How far beyond them. [m]
    faults : Faults
        Gets the faults.
    """
    given = str(config.survey.points)
    try:
        import laspy  # noqa: PLC0415 - an extra
        import lazrs  # noqa: PLC0415
    except ImportError:
        faults.add(given, "", "point clouds need the extra `clouds`: pip install 'wirerun[clouds]'")
        return None
    # Its errors come back as sentences; nobody needs them twice.
    logging.getLogger("laspy").addHandler(logging.NullHandler())
    real = plain_file(config.path(given), given, faults)
    if real is None or not blocks:
        return None
    made = None
    with told(faults, given, "", "the point cloud is damaged, or no LAS or LAZ"):
        try:
            made = _read(laspy, real, given, config, blocks, beyond_m, faults)
        except (laspy.errors.LaspyException, lazrs.LazrsError) as error:
            faults.add(given, "", f"the point cloud is damaged, or no LAS or LAZ: {error}")
    return made


def _read(
    laspy: Any,  # noqa: ANN401 - an extra
    real: Path,
    given: str,
    config: Config,
    blocks: Sequence[Block],
    beyond_m: float,
    faults: Faults,
) -> CloudCells | None:
    file = part(real)
    with laspy.open(real) as cloud:
        if (there := real.stat().st_size) < (least := _least_bytes(cloud.header)):
            faults.add(given, "", f"the point cloud is cut short: it has {there} of at least {least} bytes")
            return None
        crs = _crs_of(cloud, config, given, faults)
        if crs is None:
            return None
        whole, flat = crs
        unit = find_height_unit(None, whole, Says(config.survey.height_unit, files="survey.points"), given, faults)
        metre = flat.axis_info[0].unit_conversion_factor
        if not flat.is_projected:
            faults.add(given, "", f"a survey wants points in a projected CRS, not in {flat.name}")
        if faults:
            return None
        to_crs = Transformer.from_crs(WGS84, flat, always_xy=True)
        area = shapely.union_all([to_grid_cells(block.area, to_crs, Affine.identity()) for block in blocks])
        area = area.buffer(beyond_m / metre)
        ground = _share_of_ground(cloud, area)
        if ground is None:
            faults.add(given, "", "no point of the cloud lies in a block")
            return None
        points, share = ground
        bare = share >= _LEAST_GROUND
        density = points * (share if bare else 1.0) / max(shapely.box(*area.bounds).area, 1e-9)
        side = float(np.clip(math.sqrt(_POINTS_A_CELL / density), _FINEST_M / metre, _COARSEST_M / metre))
        west, south, east, north = area.bounds
        whole_step = side * STEP
        left, top = math.floor(west / whole_step) * whole_step, math.ceil(north / whole_step) * whole_step
        shape = math.ceil((top - south) / whole_step) * STEP, math.ceil((east - left) / whole_step) * STEP
        if math.prod(shape) > _MOST_CELLS:
            faults.add(given, "", f"{math.prod(shape)} cells are too many; at most {_MOST_CELLS} are kept")
            return None
        transform = Affine(side, 0.0, left, 0.0, -side, top)
        every = points / max(shapely.box(*area.bounds).area, 1e-9)
        join = _fine_join(side, every, _FINE_M / metre, math.prod(shape))
        heights, known, highest = _gridded(cloud, transform, shape, join, bare=bare)
    middle = blocks[0].area.representative_point()
    grid = WorkGrid(transform, flat.to_wkt(), shape, _side_m(transform, to_crs, middle))
    kind = (
        f"{100.0 * share:.0f} % of the points in the blocks are classified as ground (class 2), and make it"
        if bare
        else "the points are not classified: the lowest of each cell is taken for the surface"
    )
    sentence = f"{points} points lie in and near the blocks, on cells of {grid.cell_m:.2f} m; {kind}."
    findings = [Finding("point-cloud", given, sentence), *([unit.finding] if unit.finding else [])]
    return CloudCells(
        grid,
        heights * unit.metres,
        known,
        highest * np.float32(unit.metres),
        join,
        bare,
        to_crs,
        tuple(findings),
        (source("points", given, [file], faults),),
    )


def _crs_of(cloud: Any, config: Config, given: str, faults: Faults) -> tuple[CRS | None, CRS] | None:  # noqa: ANN401
    """Return the CRS with its vertical part (None where the config had to say it), and its horizontal part."""
    try:
        whole = cloud.header.parse_crs()
    except (ProjError, ValueError):
        whole = None
    flat = horizontal_crs(whole.to_wkt("WKT2_2019")) if whole is not None else None
    said = config.survey.points_crs
    if flat is None and said is not None:
        flat = horizontal_crs_of(said, given, faults)
        return None if flat is None else (None, flat)
    if flat is None:
        faults.add(given, "", "the point cloud names no CRS that ties it to the earth; say which in survey.points_crs")
        return None
    return whole, flat


def _least_bytes(header: Any) -> int:  # noqa: ANN401 - an extra
    """Return how long a file must be by its own header; of packed points that is not known, and 0 is taken."""
    packed = header.are_points_compressed
    return int(header.offset_to_point_data + (0 if packed else header.point_count * header.point_format.size))


def _share_of_ground(cloud: Any, area: BaseGeometry) -> tuple[int, float] | None:  # noqa: ANN401
    """Return how many points lie in the box of the blocks, and which share of them is classified as ground."""
    west, south, east, north = area.bounds
    count = ground = 0
    for points in cloud.chunk_iterator(_CHUNK):
        x, y = np.asarray(points.x), np.asarray(points.y)
        near = (x >= west) & (x <= east) & (y >= south) & (y <= north)
        count += int(near.sum())
        ground += int((near & (np.asarray(points.classification) == _GROUND)).sum())
    return (count, ground / count) if count else None


def _fine_join(side: float, per_area: float, finest: float, cells: int) -> int:
    """Return into how many parts the side of a cell is cut for the highest points; lengths in the CRS's unit."""
    wanted = max(math.sqrt(_POINTS_A_FINE_CELL / max(per_area, 1e-9)), finest)
    return max(1, min(int(side / wanted + 1e-6), math.isqrt(_MOST_CELLS // max(cells, 1))))


def _gridded(
    cloud: Any,  # noqa: ANN401 - an extra
    transform: Affine,
    shape: tuple[int, int],
    join: int,
    *,
    bare: bool,
) -> tuple[FloatArray, BoolArray, NDArray[np.float32]]:
    """Return the mean of the ground points of each cell, or its lowest point; which have any; the highest of all."""
    cells = math.prod(shape)
    fine = shape[0] * join, shape[1] * join
    count = np.zeros(cells, dtype=np.uint32)
    height = np.zeros(cells) if bare else np.full(cells, np.inf)
    top = np.full(math.prod(fine), -np.inf, dtype=np.float32)
    cloud.seek(0)
    for points in cloud.chunk_iterator(_CHUNK):
        kind = np.asarray(points.classification)
        x, y = ~(transform * Affine.scale(1.0 / join)) * (np.asarray(points.x), np.asarray(points.y))
        column, row = np.floor(x).astype(np.int64), np.floor(y).astype(np.int64)
        there = (row >= 0) & (row < fine[0]) & (column >= 0) & (column < fine[1]) & ~np.isin(kind, _NOISE)
        column, row, z, kind = column[there], row[there], np.asarray(points.z)[there], kind[there]
        np.maximum.at(top, row * fine[1] + column, z.astype(np.float32))
        at = row // join * shape[1] + column // join
        if bare:
            at, z = at[kind == _GROUND], z[kind == _GROUND]
            height += np.bincount(at, weights=z, minlength=cells)
        else:
            np.minimum.at(height, at, z)
        count += np.bincount(at, minlength=cells).astype(np.uint32)
    known = count > 0
    made = height / np.maximum(count, 1) if bare else np.where(known, height, 0.0)
    top[np.isinf(top)] = np.nan
    return np.asarray(made).reshape(shape), known.reshape(shape), top.reshape(fine)


def _side_m(transform: Affine, to_crs: Transformer, middle: shapely.Point) -> float:
    """Return a cell's side on the ground [m]."""
    x, y = to_crs.transform(middle.x, middle.y)
    lon, lat = to_crs.transform(x + transform.a, y, direction="INVERSE")
    return float(GEOD.inv(middle.x, middle.y, lon, lat)[2])
