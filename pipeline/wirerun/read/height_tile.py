"""One file of heights: opened, looked over, closed, and read window by window."""

from collections import Counter
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final, NamedTuple

import numpy as np
from affine import Affine
from numpy.typing import NDArray
from pyproj import CRS
from pyproj.exceptions import ProjError
from rasterio.enums import ColorInterp, MaskFlags
from rasterio.errors import RasterioError
from rasterio.windows import Window

from wirerun.arrays import BoolArray
from wirerun.errors import Faults
from wirerun.findings import Finding, name_some
from wirerun.read.ascii_grid import crs_beside, is_ascii_grid, open_ascii_grid
from wirerun.read.crs import horizontal_crs
from wirerun.read.geotiff import (
    ends_of,
    holds_nothing,
    is_tiff,
    mask_beside,
    name_beside,
    open_geotiff,
    position_of,
    said_beside,
    tiles_under,
    why_no_position,
    why_not_alone,
    world_beside,
)
from wirerun.read.height_unit import HeightUnit, Says, find_height_unit
from wirerun.read.plain_file import Part, part

_KINDS: Final = "GeoTIFF, ASCII grid or VRT of such files"

# Usual no-data numbers that files forget to declare: -9999 and -32767 as OGGM sets them for such files, -32768 beside
# them in many a program's list. -99999: from memory.
_SENTINELS: Final = (-9999.0, -32767.0, -32768.0, -99999.0)
# Choice: below, an empty window costs nothing to read.
_MANY_CELLS: Final = 10_000_000
_ABSURD: Final = 1e30
_STRIP_CELLS: Final = 1_000_000


@dataclass(frozen=True, slots=True)
class HeightTile:
    """A file of heights that passed the look-over.

    `crs` is the horizontal part; `transform` maps (column, row) of cell corners to its easting and northing. `mask` is
    a file beside it that says which cells have heights; `sidecars` are the files beside it that position, CRS and mask
    come from, by their paths as the user would give them. `no_data` are numbers that mean no height, besides the one
    that the file declares.
    """

    given: str
    file: Part
    mask: Part | None
    sidecars: tuple[tuple[str, Part], ...]
    crs: CRS
    transform: Affine
    shape: tuple[int, int]
    dtype: np.dtype[Any]
    scale: float
    offset: float
    unit: HeightUnit
    findings: tuple[Finding, ...]
    no_data: tuple[float, ...] = ()

    @property
    def plain(self) -> bool:
        """Return whether stored numbers are metres as they are."""
        return (self.scale, self.offset, self.unit.metres) == (1.0, 0.0, 1.0)

    @property
    def kept_as(self) -> np.dtype[Any]:
        """Return the type that holds the heights in metres without loss: float32 where that does, else float64."""
        return np.dtype(np.float32 if self.plain and np.can_cast(self.dtype, np.float32) else np.float64)


class TileHeights(NamedTuple):
    """Heights of a window of one file in metres, 0 where there is none.

    `absent` counts cells in tiles that the file does not hold, `undeclared` cells by the usual no-data number in them.
    """

    heights_m: NDArray[np.float32] | NDArray[np.float64]
    valid: BoolArray
    absent: int
    undeclared: dict[str, int]


class _Open(NamedTuple):
    source: Any
    mask: Any


def look_over(
    real: Path, given: str, says: Says, crs: CRS | None, no_data: tuple[float, ...], faults: Faults
) -> HeightTile | None:
    """A file of heights, looked over; None, with every fault told, where it will not do. Only within `SEALED`.

    Parameters
    ----------
    real : Path
        As `plain_file` returns it.
    given : str
        The path as the user gave it.
    says, crs : Says, CRS
        What the config says, and the CRS that it names for files without; None for none.
    no_data : tuple of float
        Numbers that mean no height, besides the one that the file declares.
    faults : Faults
        Gets the faults.
    """
    file = part(real)
    with ExitStack() as files:
        if not (is_tiff(real) or is_ascii_grid(real)):
            faults.add(given, "", f"the file is no {_KINDS}")
            return None
        try:
            source = files.enter_context(_opened_source(real))
        except RasterioError:
            faults.add(given, "", damaged(real))
            return None
        masked, world, beside = None, None, None
        if is_tiff(real):
            masked = mask_beside(real)
            world = world_beside(real) if source.transform == Affine.identity() else None
        else:
            beside = crs_beside(real)
        mask = files.enter_context(open_geotiff(masked.path)) if masked else None
        transform = position_of(world.path) if world else source.transform
        before = len(faults.found)
        _check_cells(source, mask, transform, given, faults)
        notes, unread = said_beside(real, source)
        whole, flat = _crs_of(source)
        if flat is None and crs is not None and not source.crs:
            whole = flat = crs
        elif flat is not None and crs is not None and not flat.equals(crs, ignore_axis_order=True):
            faults.add(given, "", f"it is in {flat.name}, but {says.crs_setting} is {crs.name}; take that out")
        if flat is None:
            advice = "" if source.crs else f"; say which it is in {says.crs_setting}"
            if "a CRS" in unread:
                advice = f"; {notes} beside it is not read: write the CRS into the GeoTIFF"
            faults.add(given, "", f"the raster names no CRS that ties it to the earth{advice}")
        unit = find_height_unit(source.units[0], whole, says, given, faults)
        if flat is None or len(faults.found) > before:
            return None
        findings = [unit.finding] if unit.finding else []
        if _above_the_ellipsoid(whole):
            sentence = (
                "The CRS has heights above the ellipsoid, not above the sea. A plan takes differences of heights only, "
                "and is as good with them; heights in it do not compare with those of maps and levels, by tens of "
                "metres."
            )
            findings.append(Finding("ellipsoidal-heights", given, sentence))
        if unread:
            sentence = (
                f"{notes} beside the raster is not read, but names {name_some(unread)} that the GeoTIFF itself does "
                "not; write that into the GeoTIFF."
            )
            findings.append(Finding("sidecar-unread", given, sentence))
        return HeightTile(
            given=given,
            file=file,
            mask=masked,
            sidecars=tuple((name_beside(given, one), one) for one in (world, masked, beside) if one),
            crs=flat,
            transform=transform,
            shape=(source.height, source.width),
            dtype=np.dtype(source.dtypes[0]),
            scale=source.scales[0],
            offset=source.offsets[0],
            unit=unit,
            findings=tuple(findings),
            no_data=no_data,
        )


def damaged(real: Path) -> str:
    """Return the sentence for a file that cannot be read."""
    return f"the {'GeoTIFF' if is_tiff(real) else 'ASCII grid'} is damaged"


def read_tile(tile: HeightTile, window: Window) -> TileHeights:
    """Heights of a window of a file in metres. Only within `SEALED`.

    Raises
    ------
    rasterio.errors.RasterioError
        If the file is damaged there.
    """
    shape = (window.height, window.width)
    with _opened(tile) as opened:
        if window.width * window.height > _MANY_CELLS and holds_nothing(opened.source, window):
            # A file of some kilobytes may promise more cells than fit into the memory.
            missing = 0 if opened.source.nodata is not None else window.height * window.width
            return TileHeights(np.zeros(shape, np.float32), np.zeros(shape, np.bool_), missing, {})
        heights, valid = np.empty(shape, tile.kept_as), np.empty(shape, np.bool_)
        missing, undeclared = 0, Counter[str]()
        for rows in _strips(opened.source, window):
            strip = Window(window.col_off, window.row_off + rows.start, window.width, rows.stop - rows.start)
            # Heights that are stored as they are kept stay where the library puts them.
            raw, known = _read_raw(opened, strip, heights[rows] if tile.dtype == heights.dtype == np.float32 else None)
            absent = _absent_cells(opened, raw, strip)
            if absent is not None:
                known &= ~absent
                missing += int(np.count_nonzero(absent))
            for number in tile.no_data:
                known &= ~holds(raw, number)
            undeclared.update(_mask_sentinels(raw, known))
            metres = _in_metres(raw, known, tile)
            if metres.base is not heights:
                heights[rows] = metres
            valid[rows] = known
        return TileHeights(heights, valid, missing, {what: count for what, count in undeclared.items() if count})


def _strips(source: Any, window: Window) -> Iterator[slice]:  # noqa: ANN401 - rasterio has no types
    """Go through the rows of a window in strips of some million cells, none of which parts a tile of the file.

    So nothing but the heights is held of all cells, and the library reads no tile twice.
    """
    high = source.block_shapes[0][0]
    step = high * max(1, _STRIP_CELLS // (high * window.width))
    for start in range(-(window.row_off % high), window.height, step):
        yield slice(max(start, 0), min(start + step, window.height))


def _opened_source(real: Path) -> Any:  # noqa: ANN401 - rasterio has no types
    return open_geotiff(real) if is_tiff(real) else open_ascii_grid(real)


@contextmanager
def _opened(tile: HeightTile) -> Iterator[_Open]:
    with ExitStack() as files:
        source = files.enter_context(_opened_source(tile.file.path))
        yield _Open(source, files.enter_context(open_geotiff(tile.mask.path)) if tile.mask else None)


def _above_the_ellipsoid(crs: CRS | None) -> bool:
    """Whether a CRS has heights above the ellipsoid: by its axis, or by what its vertical part is called."""
    if crs is None:
        return False
    names = [axis.name for axis in crs.axis_info[2:]] + [part.name for part in crs.sub_crs_list[1:]]
    return any("ellipsoid" in name.lower() for name in names)


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


def _read_raw(raster: _Open, window: Window, into: NDArray[Any] | None) -> tuple[NDArray[Any], BoolArray]:
    """Numbers of a window as stored, and which of them the raster itself declares to be heights, shape (rows, columns).

    Full resolution: overviews are averages. `into` gets the numbers, where it is given.

    Raises
    ------
    rasterio.errors.RasterioError
        If the file is damaged there.
    """
    source = raster.source
    raw = source.read(1, window=window, out=into)
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


def _absent_cells(raster: _Open, raw: NDArray[Any], window: Window) -> BoolArray | None:
    """Cells of a window whose tile the file does not hold, shape as `raw`; None where there are none.

    The library hands them out as 0, like any other height. With a declared no-data number they come as that number, and
    need no looking for.
    """
    source = raster.source
    if source.nodata is not None or source.driver != "GTiff":
        return None
    height, width = source.block_shapes[0]
    rows, columns = (
        tiles_under(start, stop, size) for start, stop, size in zip(*ends_of(window), (height, width), strict=True)
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


def _mask_sentinels(raw: NDArray[Any], valid: BoolArray) -> dict[str, int]:
    """Take cells with a usual no-data number out of `valid`; how many hold which."""
    counts: dict[str, int] = {}
    if raw.min() > max(_SENTINELS) and raw.max() < _ABSURD:  # as mostly, and then they need no looking for
        return counts
    for number in _SENTINELS:
        hit = valid & holds(raw, number)
        counts[f"hold {number:g}"] = int(np.count_nonzero(hit))
        valid &= ~hit
    if raw.dtype.kind == "f":
        # Masked cells may be no numbers at all.
        with np.errstate(invalid="ignore"):
            hit = valid & ((raw > _ABSURD) | (raw < -_ABSURD))
        counts[f"lie beyond {_ABSURD:g}"] = int(np.count_nonzero(hit))
        valid &= ~hit
    return counts


def _in_metres(raw: NDArray[Any], valid: BoolArray, tile: HeightTile) -> NDArray[np.float32] | NDArray[np.float64]:
    """Return heights with the band's scale and offset and the unit applied, 0 where there is none."""
    if tile.kept_as == np.float32:
        single = raw.astype(np.float32, copy=False)  # the reader's own array, which nobody else needs
        single[~valid] = 0.0
        return single
    heights = np.where(valid, raw, 0).astype(np.float64)
    if not tile.plain:
        with np.errstate(over="ignore"):  # told by those who ask for heights of land
            heights = (heights * tile.scale + tile.offset) * tile.unit.metres
        heights[~valid] = 0.0
    return heights
