"""What a survey reads: blocks, a surface or a point cloud, check points; tile by tile, on cells of its own."""

import math
from collections.abc import Callable, Collection, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from functools import partial
from typing import Final, NamedTuple, Protocol

import numpy as np
import rasterio
import shapely
from affine import Affine
from pyproj import Transformer
from rasterio.features import rasterize
from rasterio.windows import Window
from shapely.geometry.base import BaseGeometry

from wirerun.arrays import BoolArray, FloatArray
from wirerun.errors import Faults
from wirerun.findings import Finding
from wirerun.geometry.bad_cells import step_of
from wirerun.geometry.shapes import points_at
from wirerun.read.blocks import read_blocks
from wirerun.read.cover import tell_miss
from wirerun.read.crs import WGS84
from wirerun.read.geotiff import SEALED
from wirerun.read.height_unit import Says
from wirerun.read.heights import cell_sides_m, on_raster, to_cells
from wirerun.read.plain_file import source
from wirerun.read.point_cloud import read_cloud, to_grid_cells
from wirerun.read.points import GivenPoints, Stated, read_points
from wirerun.read.raster import HeightRaster, open_raster, read_window
from wirerun.read.survey_check import refuse_far_points
from wirerun.read.survey_photo import SurveyPhoto, grid_of_photo, open_photo, refuse_elsewhere
from wirerun.records import Block, Source
from wirerun.settings import Config
from wirerun.settings.section import name_of_files
from wirerun.surface.ground_filter import WORK_CELL_M, join_cells
from wirerun.surface.work_grid import STEP, Cells, WorkGrid

#: Ground is made so far beyond each block: choice, room for interpolation and smoothing.
BEYOND_M: Final = 10.0
# Vines are not seen in cells larger than this: choice, a third of a narrow canopy's alley.
_COARSEST_M: Final = 0.5
_MOST_OFF_SQUARE: Final = 0.01
_STRIP_ROWS: Final = 100
# Blocks that the raster library keeps in memory: by itself it keeps a twentieth of the machine's memory, and of rasters
# that are written tile by tile all that fits in there. Choice: a row of blocks across a survey of 2 km takes 100 MB.
_CACHE_MB: Final = 128


class Surface(Protocol):
    """What a survey saw, on its working cells."""

    @property
    def grid(self) -> WorkGrid:
        """Return the cells."""

    @property
    def undeclared(self) -> Collection[str]:
        """Return which of the usual no-data numbers were met so far that the file does not declare, in words."""

    def read(self, cells: Cells) -> tuple[FloatArray, BoolArray]:
        """Return heights [m] and which are any, shape of the cells; cells beyond the survey have none."""

    def seen(self, cells: Cells) -> BoolArray:
        """Return in which cells the survey saw anything, if only in a part of them."""

    def read_fine(self, cells: Cells) -> tuple[FloatArray, BoolArray] | None:
        """Return the same before cells were joined, a whole number to a side; None where a survey has no such.

        Of a point cloud they are the highest points.
        """

    def read_top(self, cells: Cells) -> tuple[FloatArray, BoolArray] | None:
        """Return what stands highest in cells, as `read`; None where that is what `read` returns."""


@dataclass(frozen=True, slots=True)
class SurveySource:
    """All that a survey reads, checked.

    `bare` is whether the heights are bare ground already, as points that were classified are. `areas` are the blocks in
    (column, row) of the grid; `check_cells` the check points there, shape (n, 2).
    """

    config: Config
    surface: Surface
    bare: bool
    blocks: tuple[Block, ...]
    areas: tuple[BaseGeometry, ...]
    check: GivenPoints | None
    check_cells: FloatArray
    findings: tuple[Finding, ...]
    sources: list[Source] = field(default_factory=list)
    photo: SurveyPhoto | None = None

    @property
    def given(self) -> str:
        """Return the files of its heights, as the user gave them."""
        told = self.config.survey
        return name_of_files(told.surface if told.surface is not None else told.points or "")

    @property
    def grid(self) -> WorkGrid:
        """Return the cells of the work."""
        return self.surface.grid

    def read_grown(self, cells: Cells, margin: int) -> tuple[FloatArray, BoolArray]:
        """Heights [m] of cells and a margin round them, and which are any."""
        return self.surface.read(cells.grown(margin))

    def wanted(self, cells: Cells) -> BoolArray:
        """Cells in or near a block, shape of the cells."""
        reach = BEYOND_M / self.grid.cell_m
        return self._in([area.buffer(reach) for area in self.areas], cells, 1)

    def in_blocks(self, cells: Cells) -> BoolArray:
        """Cells in a block, shape of the cells."""
        return self._in(list(self.areas), cells, 1)

    def to_lonlat(self, place: tuple[float, float]) -> tuple[float, float]:
        """Longitude and latitude of a (column, row) of the grid [deg]."""
        x, y = self.grid.transform * place
        lon, lat = Transformer.from_crs(self.grid.crs_wkt, WGS84, always_xy=True).transform(x, y)
        return float(lon), float(lat)

    def in_block(self, number: int, step: int) -> tuple[Cells, BoolArray]:
        """Cells of the grid round one block, whole multiples of a step, and which of them joined by it lie in it."""
        left, top, right, bottom = self.areas[number].bounds
        rows, columns = self.grid.shape
        box = Cells(
            max(0, math.floor(top / step) * step),
            max(0, math.floor(left / step) * step),
            min(rows, math.ceil(bottom / step) * step),
            min(columns, math.ceil(right / step) * step),
        )
        return box, self._in([self.areas[number]], box, step)

    def _in(self, areas: list[BaseGeometry], cells: Cells, step: int) -> BoolArray:
        shape = cells.shape[0] // step, cells.shape[1] // step
        box = shapely.box(cells.left, cells.top, cells.right, cells.bottom)
        near = [area for area in areas if area.intersects(box)]
        if not near:
            return np.zeros(shape, dtype=bool)
        local = [shapely.transform(area, lambda at: (at - (cells.left, cells.top)) / step) for area in near]
        return np.asarray(rasterize(local, out_shape=shape, dtype=np.uint8).astype(bool))


@dataclass(frozen=True, slots=True)
class _NoSurface:
    """Cells of a survey without heights."""

    grid: WorkGrid
    undeclared: tuple[str, ...] = ()

    def read(self, cells: Cells) -> tuple[FloatArray, BoolArray]:
        return np.zeros(cells.shape), np.zeros(cells.shape, dtype=bool)

    def seen(self, cells: Cells) -> BoolArray:
        return np.zeros(cells.shape, dtype=bool)

    def read_fine(self, cells: Cells) -> None:  # noqa: ARG002 - asked of every surface
        return

    def read_top(self, cells: Cells) -> None:  # noqa: ARG002 - asked of every surface
        return


@dataclass(frozen=True, slots=True)
class _RasterSurface:
    """A raster on working cells: `join` of its cells make a side of one, the first lies at `column`, `row`.

    `undeclared` gathers which of the usual no-data numbers were met that the file does not declare.
    """

    raster: HeightRaster
    grid: WorkGrid
    join: int
    column: int
    row: int
    undeclared: set[str] = field(default_factory=set)

    def read(self, cells: Cells) -> tuple[FloatArray, BoolArray]:
        heights, valid = np.zeros(cells.shape), np.zeros(cells.shape, dtype=bool)
        for top in range(cells.top, cells.bottom, _STRIP_ROWS):
            strip = cells._replace(top=top, bottom=min(top + _STRIP_ROWS, cells.bottom))
            place = strip.inside(cells)
            heights[place], valid[place] = self._strip(strip)
        return heights, valid

    def _strip(self, cells: Cells) -> tuple[FloatArray, BoolArray]:
        return join_cells(*self.read_fine(cells), self.join)

    def seen(self, cells: Cells) -> BoolArray:
        valid = self.read_fine(cells)[1]
        return np.asarray(valid.reshape(cells.shape[0], self.join, cells.shape[1], self.join).any(axis=(1, 3)))

    def read_fine(self, cells: Cells) -> tuple[FloatArray, BoolArray]:
        top, left = self.row + cells.top * self.join, self.column + cells.left * self.join
        shape = cells.shape[0] * self.join, cells.shape[1] * self.join
        heights, valid = np.zeros(shape), np.zeros(shape, dtype=bool)
        rows, columns = self.raster.shape
        first, last = (max(top, 0), max(left, 0)), (min(top + shape[0], rows), min(left + shape[1], columns))
        if first[0] < last[0] and first[1] < last[1]:
            got = read_window(self.raster, Window(first[1], first[0], last[1] - first[1], last[0] - first[0]))
            here = slice(first[0] - top, last[0] - top), slice(first[1] - left, last[1] - left)
            heights[here], valid[here] = got.heights_m, got.valid
            self.undeclared.update(got.undeclared)
        return heights, valid

    def read_top(self, cells: Cells) -> None:  # noqa: ARG002 - asked of every surface
        return


class _Read(NamedTuple):
    """What every survey reads, whatever its heights come from."""

    blocks: Sequence[Block]
    check: GivenPoints | None
    findings: Sequence[Finding]
    sources: list[Source]


@contextmanager
def open_survey(config: Config) -> Iterator[SurveySource]:
    """Read what a survey is made of, for as long as it is worked on.

    Raises
    ------
    InputError
        With every fault.
    """
    faults = Faults()
    told = config.survey
    boundary, blocks, findings = read_blocks(config.block, config.folder, faults)
    sources = [source("boundary", boundary.given, boundary.parts, faults)] if boundary else []
    stated = Stated(told.check_points_crs, told.check_points_height_unit, config.file, "survey.check_points")
    check = read_points(told.check_points, config.folder, faults, stated) if told.check_points else None
    if check is not None:
        sources.append(source("check points", check.file.given, check.file.parts, faults))
        if not np.isfinite(check.height_m).all():
            faults.add(check.file.given, "", "check points need heights: a column called height, or z")
        step = step_of(check.height_m)
        if step is not None:
            sentence = f"heights are rounded to {step:.3g} m; a check point is measured to the centimetre"
            faults.add(check.file.given, "", sentence)
    with rasterio.Env(**SEALED, GDAL_CACHEMAX=_CACHE_MB), open_photo(config, faults) as photo:
        if photo is not None:
            sources.append(photo.source)
            if blocks:
                refuse_elsewhere(photo, blocks, faults)
        read = _Read(blocks, check, findings, sources)
        if told.points is not None:
            yield replace(_of_cloud(config, read, faults), photo=photo)
        elif told.surface is not None:
            with _of_raster(config, told.surface, read, faults) as made:
                yield replace(made, photo=photo)
        else:
            yield replace(_of_photo(config, photo, read, faults), photo=photo)


def _of_photo(config: Config, photo: SurveyPhoto | None, read: _Read, faults: Faults) -> SurveySource:
    faults.stop_if_any()
    if photo is None:
        msg = "the orthophoto was refused without a reason"
        raise RuntimeError(msg)
    grid = grid_of_photo(photo, read.blocks)
    to_crs = Transformer.from_crs(WGS84, grid.crs_wkt, always_xy=True)
    place = partial(to_grid_cells, to_crs=to_crs, transform=grid.transform)
    return _source(config, _NoSurface(grid), place, read._replace(check=None), bare=False)


def _of_cloud(config: Config, read: _Read, faults: Faults) -> SurveySource:
    cloud = read_cloud(config, read.blocks, BEYOND_M, faults)
    faults.stop_if_any()
    if cloud is None:
        msg = "the point cloud was refused without a reason"
        raise RuntimeError(msg)
    more = read._replace(findings=(*read.findings, *cloud.findings), sources=[*read.sources, *cloud.sources])
    return _source(config, cloud, cloud.to_cells, more, bare=cloud.bare)


@contextmanager
def _of_raster(config: Config, files: str | Sequence[str], read: _Read, faults: Faults) -> Iterator[SurveySource]:
    told = config.survey
    says = Says(told.height_unit, told.surface_crs, "survey.surface")
    with open_raster(files, config.folder, says, faults) as raster:
        if raster is None:
            faults.stop_if_any()
            msg = "the surface was refused without a reason"
            raise RuntimeError(msg)
        on = [block for block in read.blocks if on_raster(raster, block.area) is not None]
        for block in read.blocks:
            if block not in on:
                tell_miss(raster, block, config.block.boundary, faults)
        surface = _on_work_cells(raster, on, faults) if on else None
        if surface is None and not faults:
            faults.add(config.block.boundary, "", "no block lies on the surface")
        faults.stop_if_any()
        if surface is None:
            return
        more = _Read(
            on,
            read.check,
            (*read.findings, *raster.findings),
            [*read.sources, *_tiles_read(surface, faults)],
        )
        yield _source(config, surface, lambda area: _to_work_cells(surface, area), more, bare=False)


def _source(
    config: Config, surface: Surface, to_grid: Callable[[BaseGeometry], BaseGeometry], read: _Read, *, bare: bool
) -> SurveySource:
    at = np.zeros((0, 2))
    if read.check is not None and len(read.check.lonlat):
        at = shapely.get_coordinates([to_grid(point) for point in points_at(read.check.lonlat)])
    areas = tuple(to_grid(block.area) for block in read.blocks)
    if read.check is not None:
        faults = Faults()
        refuse_far_points(read.check, at, areas, surface.grid, BEYOND_M, faults)
        faults.stop_if_any()
    return SurveySource(
        config, surface, bare, tuple(read.blocks), areas, read.check, at, tuple(read.findings), read.sources
    )


def _to_work_cells(surface: _RasterSurface, area: BaseGeometry) -> BaseGeometry:
    corner = np.array([surface.column, surface.row])
    return shapely.transform(to_cells(surface.raster, area), lambda at: (at - corner) / surface.join)


def _tiles_read(surface: _RasterSurface, faults: Faults) -> list[Source]:
    """Fingerprints of the files that have cells near a block."""
    raster, (rows, columns) = surface.raster, surface.grid.shape
    window = Window(surface.column, surface.row, columns * surface.join, rows * surface.join)
    found = [source("raster-list", given, [part], faults) for given, part in raster.listed_in]
    for placed in raster.under(window):
        found.append(source("surface", placed.tile.given, [placed.tile.file], faults))
        found += [source("surface-sidecar", given, [part], faults) for given, part in placed.tile.sidecars]
    return found


def _on_work_cells(raster: HeightRaster, blocks: list[Block], faults: Faults) -> _RasterSurface | None:
    """Return the raster on square cells of about 0.1 m, anchored where no cut of the survey can move them."""
    step = raster.transform
    middle = blocks[0].area.representative_point()
    sides = cell_sides_m(raster, middle.x, middle.y)
    if step.b or step.d or abs(sides[0] / sides[1] - 1.0) > _MOST_OFF_SQUARE or not raster.crs.is_projected:
        faults.add(
            raster.given,
            "",
            f"a survey wants square cells in a projected CRS, rows from the north; these are {sides[0]:.3g} by "
            f"{sides[1]:.3g} m in {raster.crs.name}",
        )
        return None
    if max(sides) > _COARSEST_M:
        faults.add(
            raster.given,
            "",
            f"cells of {max(sides):.3g} m show no vines; at most {_COARSEST_M:g} m will do, 0.1 are good",
        )
        return None
    join = max(1, round(WORK_CELL_M / sides[0]))
    whole = join * STEP
    reach = BEYOND_M / sides[0]
    box = shapely.union_all([to_cells(raster, block.area).buffer(reach) for block in blocks]).bounds
    # Where the raster's first cell lies among all cells of this size, counted from the CRS's own corner.
    first = round(step.c / step.a), round(step.f / step.e)
    left, top = (math.floor((first[axis] + box[axis]) / whole) * whole - first[axis] for axis in (0, 1))
    columns, rows = (math.ceil((box[axis + 2] - corner) / whole) * STEP for axis, corner in ((0, left), (1, top)))
    transform = step * Affine.translation(left, top) * Affine.scale(join)
    grid = WorkGrid(transform, raster.crs.to_wkt(), (rows, columns), join * sum(sides) / 2.0)
    return _RasterSurface(raster, grid, join, left, top)
