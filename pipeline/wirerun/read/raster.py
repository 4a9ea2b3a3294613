"""A height raster: opened, looked over, and read window by window."""

import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np
import rasterio
from affine import Affine
from numpy.typing import NDArray
from pyproj import CRS, Transformer
from pyproj.exceptions import CRSError
from rasterio.enums import ColorInterp, MaskFlags
from rasterio.errors import NotGeoreferencedWarning, RasterioError
from rasterio.windows import Window

from wirerun.errors import Faults
from wirerun.findings import Finding
from wirerun.read.crs import WGS84, horizontal_crs
from wirerun.read.height_unit import HeightUnit, Unit, find_height_unit
from wirerun.read.plain_file import plain_file

# Sidecars that hold other sizes of the same heights: never read, so no part of the input.
_OVERVIEWS: Final = (".ovr", ".rrd")


@dataclass(frozen=True, slots=True)
class HeightRaster:
    """An open raster that passed the look-over.

    `crs` is the horizontal part; `transform` maps (column, row) of cell corners to its easting and northing. `sidecars`
    are the files beside it that its position, unit or mask may come from.
    """

    source: Any
    given: str
    crs: CRS
    transform: Affine
    unit: HeightUnit
    file: Path
    sidecars: tuple[Path, ...]

    @property
    def shape(self) -> tuple[int, int]:
        """Return the number of rows and columns."""
        return self.source.height, self.source.width

    @property
    def from_lonlat(self) -> Transformer:
        """Return the way from WGS 84 longitude and latitude [deg] to the raster's easting and northing."""
        return Transformer.from_crs(WGS84, self.crs, always_xy=True)

    @property
    def findings(self) -> list[Finding]:
        """Return what the look-over noticed."""
        return [self.unit.finding] if self.unit.finding else []


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
    if real is None:
        yield None
        return
    # Vertical CRSs of old GeoTIFFs are passed over unless asked for.
    with rasterio.Env(GTIFF_REPORT_COMPD_CS=True):
        source = _open(real, given, faults)
        if source is None:
            yield None
            return
        with source:
            yield _looked_over(source, given, height_unit, faults)


def _open(real: Path, given: str, faults: Faults) -> Any:  # noqa: ANN401 - rasterio has no types
    with warnings.catch_warnings():
        # A raster without a position is a fault, told by `_looked_over`.
        warnings.simplefilter("ignore", NotGeoreferencedWarning)
        try:
            return rasterio.open(real, driver="GTiff", num_threads="all_cpus")
        except RasterioError:
            with real.open("rb") as stream:
                tiff = stream.read(4) in {b"II*\0", b"MM\0*", b"II+\0", b"MM\0+"}
            faults.add(given, "", "the GeoTIFF is damaged" if tiff else "the file is no GeoTIFF")
            return None


def _looked_over(source: Any, given: str, height_unit: Unit | None, faults: Faults) -> HeightRaster | None:  # noqa: ANN401
    before = len(faults.found)
    bands = [i for i, meaning in enumerate(source.colorinterp, start=1) if meaning != ColorInterp.alpha]
    if bands != [1]:
        faults.add(given, "", f"the raster has {len(bands)} bands; a height raster has one")
    elif np.dtype(source.dtypes[0]).kind not in "iuf":
        faults.add(given, "", f"its values are of type {source.dtypes[0]}; heights are whole numbers or floats")
    transform = source.transform
    if transform == Affine.identity() or not np.isfinite(1.0 / (transform.determinant or np.nan)):
        faults.add(given, "", "the raster has no position: no corner and cell size (geotransform) that can be used")
    whole, flat = _crs_of(source)
    if flat is None:
        faults.add(given, "", "the raster names no CRS that ties it to the earth")
    unit = find_height_unit(source.units[0], whole, height_unit, given, faults)
    if flat is None or len(faults.found) > before:
        return None
    sidecars = [Path(part) for part in source.files[1:] if not part.lower().endswith(_OVERVIEWS)]
    return HeightRaster(source, given, flat, transform, unit, Path(source.files[0]), tuple(sidecars))


def _crs_of(source: Any) -> tuple[CRS | None, CRS | None]:  # noqa: ANN401 - rasterio has no types
    """Return the CRS with its vertical part, and its horizontal part."""
    if not source.crs:
        return None, None
    wkt = source.crs.to_wkt(version="WKT2_2019")
    try:
        return CRS.from_wkt(wkt), horizontal_crs(wkt)
    except CRSError:
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
    nodata = source.nodata
    if nodata is not None:
        valid &= ~holds(raw, nodata)
    if raw.dtype.kind == "f":
        valid &= np.isfinite(raw)
    return raw, valid
