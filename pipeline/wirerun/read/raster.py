"""A height raster: opened, looked over, and read window by window."""

from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np
import rasterio
from affine import Affine
from numpy.typing import NDArray
from pyproj import CRS, Transformer
from pyproj.exceptions import ProjError
from rasterio.enums import ColorInterp, MaskFlags
from rasterio.errors import RasterioError
from rasterio.windows import Window

from wirerun.errors import Faults
from wirerun.findings import Finding, name_some
from wirerun.read.crs import WGS84, horizontal_crs
from wirerun.read.geotiff import (
    SEALED,
    is_tiff,
    mask_beside,
    name_beside,
    open_geotiff,
    position_of,
    said_beside,
    why_no_position,
    why_not_alone,
    world_beside,
)
from wirerun.read.height_unit import HeightUnit, Unit, find_height_unit
from wirerun.read.library_errors import told
from wirerun.read.plain_file import Part, part, plain_file

_DAMAGED: Final = "the GeoTIFF is damaged"


@dataclass(frozen=True, slots=True)
class HeightRaster:
    """An open raster that passed the look-over.

    `crs` is the horizontal part; `transform` maps (column, row) of cell corners to its easting and northing. `mask` is
    open where a file beside the raster has one. `sidecars` are the files beside it that position and mask come from, by
    their paths as the user would give them.
    """

    source: Any
    mask: Any
    given: str
    crs: CRS
    transform: Affine
    unit: HeightUnit
    file: Part
    sidecars: tuple[tuple[str, Part], ...]
    findings: tuple[Finding, ...]

    @property
    def shape(self) -> tuple[int, int]:
        """Return the number of rows and columns."""
        return self.source.height, self.source.width

    @property
    def from_lonlat(self) -> Transformer:
        """Return the way from WGS 84 longitude and latitude [deg] to the raster's easting and northing."""
        return Transformer.from_crs(WGS84, self.crs, always_xy=True)


@contextmanager
def open_raster(path: Path, given: str, height_unit: Unit | None, faults: Faults) -> Iterator[HeightRaster | None]:
    """Open a height raster for a while; None, with every fault of it told, where it will not do.

    Parameters
    ----------
    path : Path
        A plain local file.
    given : str
        The path as the user gave it.
    height_unit : str or None
        `elevation.height_unit`.
    faults : Faults
        Gets the faults.
    """
    real = plain_file(path, given, faults)
    raster = None
    with rasterio.Env(**SEALED), ExitStack() as files:
        if real is not None:
            with told(faults, given, "", _DAMAGED):
                raster = _open(real, given, height_unit, files, faults)
        yield raster


def _open(real: Path, given: str, height_unit: Unit | None, files: ExitStack, faults: Faults) -> HeightRaster | None:
    """Return the open raster; None, with every fault told, where it will not do."""
    file = part(real)
    try:
        source = files.enter_context(open_geotiff(real))
    except RasterioError:
        faults.add(given, "", _DAMAGED if is_tiff(real) else "the file is no GeoTIFF")
        return None
    masked, world = mask_beside(real), world_beside(real) if source.transform == Affine.identity() else None
    mask = files.enter_context(open_geotiff(masked.path)) if masked else None
    transform = position_of(world.path) if world else source.transform
    before = len(faults.found)
    _check_cells(source, mask, transform, given, faults)
    notes, unread = said_beside(real, source)
    whole, flat = _crs_of(source)
    if flat is None:
        advice = f"; {notes} beside it is not read: write the CRS into the GeoTIFF" if "a CRS" in unread else ""
        faults.add(given, "", f"the raster names no CRS that ties it to the earth{advice}")
    unit = find_height_unit(source.units[0], whole, height_unit, given, faults)
    if flat is None or len(faults.found) > before:
        return None
    findings = [unit.finding] if unit.finding else []
    if unread:
        sentence = (
            f"{notes} beside the raster is not read, but names {name_some(unread)} that the GeoTIFF itself does not; "
            "write that into the GeoTIFF."
        )
        findings.append(Finding("sidecar-unread", given, sentence))
    sidecars = tuple((name_beside(given, one), one) for one in (world, masked) if one)
    return HeightRaster(source, mask, given, flat, transform, unit, file, sidecars, tuple(findings))


def _check_cells(source: Any, mask: Any, transform: Affine, given: str, faults: Faults) -> None:  # noqa: ANN401
    """Refuse a raster that is none of heights, whose numbers make no heights, or that has no position."""
    why = why_not_alone(source, mask)
    if why:
        faults.add(given, "", why)
        return
    bands = [i for i, meaning in enumerate(source.colorinterp, start=1) if meaning != ColorInterp.alpha]
    if bands != [1]:
        faults.add(given, "", f"the raster has {len(bands)} bands; a height raster has one")
    elif np.dtype(source.dtypes[0]).kind not in "iuf":
        faults.add(given, "", f"its values are of type {source.dtypes[0]}; heights are whole numbers or floats")
    for name, number, worst in (("scale", source.scales[0], 0.0), ("offset", source.offsets[0], None)):
        if not np.isfinite(number) or number == worst:
            faults.add(given, "", f"the band's {name} is {number:g}: no heights can be made with it")
    why = why_no_position(transform)
    if why:
        faults.add(given, "", f"the raster has {why}")


def _crs_of(source: Any) -> tuple[CRS | None, CRS | None]:  # noqa: ANN401 - rasterio has no types
    """Return the CRS with its vertical part, and its horizontal part."""
    if not source.crs:
        return None, None
    wkt = source.crs.to_wkt(version="WKT2_2019")
    try:
        return CRS.from_wkt(wkt), horizontal_crs(wkt)
    except ProjError:
        return None, None


def holds(raw: NDArray[Any], number: float) -> NDArray[np.bool_]:
    """Where stored numbers equal a given one, shape as given; nowhere, if their type cannot hold it.

    The comparison stays in the type of `raw`: a copy as float64 could be gigabytes.
    """
    if raw.dtype.kind == "f":
        # A number too large for the type compares as infinite.
        with np.errstate(over="ignore"):
            return np.asarray(raw == raw.dtype.type(number))
    limits = np.iinfo(raw.dtype)
    if not (float(number).is_integer() and limits.min <= number <= limits.max):
        return np.zeros(raw.shape, dtype=bool)
    return np.asarray(raw == int(number))


def read_raw(raster: HeightRaster, window: Window) -> tuple[NDArray[Any], NDArray[np.bool_]]:
    """Numbers of a window as stored, and which of them the raster itself declares to be heights, shape (rows, columns).

    Full resolution: overviews are averages.

    Raises
    ------
    rasterio.errors.RasterioError
        If the file is damaged there.
    """
    source = raster.source
    raw = source.read(1, window=window)
    valid = np.ones(raw.shape, dtype=bool)
    # Of a declared no-data number, a mask and an alpha band the library heeds only one; here each counts. A mask made
    # from the no-data number alone would cost a second reading of the cells.
    if MaskFlags.per_dataset in source.mask_flag_enums[0]:
        valid &= source.read_masks(1, window=window) != 0
    if source.count > 1:
        valid &= source.read(source.count, window=window) != 0
    if raster.mask is not None:
        valid &= raster.mask.read(1, window=window) != 0
    nodata = source.nodata
    if nodata is not None:
        valid &= ~holds(raw, nodata)
    if raw.dtype.kind == "f":
        valid &= np.isfinite(raw)
    return raw, valid


def absent_cells(raster: HeightRaster, raw: NDArray[Any], window: Window) -> NDArray[np.bool_] | None:
    """Cells of a window whose tile the file does not hold, shape as `raw`; None where there are none.

    The library hands them out as 0, like any other height. With a declared no-data number they come as that number, and
    need no looking for.
    """
    source = raster.source
    if source.nodata is not None:
        return None
    height, width = source.block_shapes[0]
    rows, columns = (
        _tiles(start, stop, size) for start, stop, size in zip(*_ends(window), (height, width), strict=True)
    )
    # Only tiles without any height can be absent: asking for each of millions would take long.
    level = np.logical_or.reduceat(np.logical_or.reduceat(raw != 0, rows[0], axis=0), columns[0], axis=1)
    absent = np.zeros(level.shape, dtype=bool)
    for row, column in np.argwhere(~level):
        item = f"BLOCK_OFFSET_{columns[1][column]}_{rows[1][row]}"
        absent[row, column] = source.get_tag_item(item, "TIFF", bidx=1) is None
    if not absent.any():
        return None
    wide = np.repeat(absent, np.diff([*columns[0], raw.shape[1]]), axis=1)
    return np.asarray(np.repeat(wide, np.diff([*rows[0], raw.shape[0]]), axis=0))


def _ends(window: Window) -> tuple[tuple[int, int], tuple[int, int]]:
    """Return first row and column of a window, and those behind its last."""
    return (window.row_off, window.col_off), (window.row_off + window.height, window.col_off + window.width)


def _tiles(start: int, stop: int, size: int) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Return where the tiles of a stretch of cells begin, from its start, and their numbers."""
    numbers = np.arange(start // size, (stop - 1) // size + 1)
    return np.maximum(numbers * size - start, 0), numbers
