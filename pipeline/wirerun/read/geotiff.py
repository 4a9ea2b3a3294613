"""GeoTIFFs, opened so that the library reads this one file and nothing else, here or on the network.

Left alone it would follow what a file, or one beside it, names as its overviews, its mask or its position: to any path
and to any address.
"""

import math
import re
import warnings
from collections.abc import Callable, Mapping
from html import unescape
from pathlib import Path, PurePath
from typing import Any, Final

import numpy as np
import rasterio
from affine import Affine
from numpy.typing import NDArray
from pyproj import CRS
from pyproj.exceptions import ProjError
from rasterio.errors import NotGeoreferencedWarning
from rasterio.windows import Window

from wirerun.read.plain_file import Part, part

#: Options of the library for as long as a GeoTIFF is open.
SEALED: Final = {
    # Files beside it are as good as not there ...
    "GDAL_DISABLE_READDIR_ON_OPEN": "EMPTY_DIR",
    "GDAL_PAM_ENABLED": "NO",
    # ... and no address is good enough.
    "CPL_VSIL_CURL_ALLOWED_FILENAME": "none",
    # Vertical CRSs of old GeoTIFFs are passed over unless asked for.
    "GTIFF_REPORT_COMPD_CS": True,
}

_MAGIC: Final = (b"II*\0", b"MM\0*", b"II+\0", b"MM\0+")
_POINTERS: Final = "OVERVIEWS"
_WORLD_FILES: Final = (".tfw", ".tifw", ".wld")
_MOST_BYTES: Final = 1_000_000
# Choice: a millimetre in degrees, and wide of all cells that anybody measures in metres or feet.
_LEAST_SIDE, _MOST_SIDE = 1e-8, 1e5


def is_tiff(real: Path) -> bool:
    """Return whether a file starts as a TIFF does."""
    with real.open("rb") as stream:
        return stream.read(4) in _MAGIC


def open_geotiff(real: Path) -> Any:  # noqa: ANN401 - rasterio has no types
    """Open a GeoTIFF; only within `rasterio.Env(**SEALED)`.

    Raises
    ------
    rasterio.errors.RasterioError
        If it cannot be opened.
    """
    with warnings.catch_warnings():
        # A raster without a position is a fault, told by those who open it.
        warnings.simplefilter("ignore", NotGeoreferencedWarning)
        return rasterio.open(real, driver="GTiff", num_threads="all_cpus")


def holds_nothing(source: Any, window: Window) -> bool:  # noqa: ANN401 - rasterio has no types
    """Whether a file holds not one of the tiles of a window: some kilobytes may promise billions of cells."""
    if source.driver != "GTiff":
        return False
    sides = zip(*ends_of(window), source.block_shapes[0], strict=True)
    (_, rows), (_, columns) = (tiles_under(start, stop, size) for start, stop, size in sides)
    items = (f"BLOCK_OFFSET_{column}_{row}" for row in rows for column in columns)
    return all(source.get_tag_item(item, "TIFF", bidx=1) is None for item in items)


def ends_of(window: Window) -> tuple[tuple[int, int], tuple[int, int]]:
    """Return first row and column of a window, and those behind its last."""
    return (window.row_off, window.col_off), (window.row_off + window.height, window.col_off + window.width)


def tiles_under(start: int, stop: int, size: int) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Return where the tiles of a stretch of cells begin, from its start, and their numbers."""
    numbers = np.arange(start // size, (stop - 1) // size + 1)
    return np.maximum(numbers * size - start, 0), numbers


def why_not_alone(source: Any, mask: Any) -> str | None:  # noqa: ANN401 - rasterio has no types
    """Return why an open GeoTIFF and the mask beside it (or None) cannot be read by themselves, None where they can.

    Asking a file that names another one as its overviews for anything about them would fetch that one.
    """
    if _POINTERS in source.tag_namespaces():
        return "it names another file as its overviews, which is not read; write it anew without them"
    if mask is None:
        return None
    if _POINTERS in mask.tag_namespaces() or (mask.count, mask.shape) != (1, source.shape):
        return "the mask in the file beside it (.msk) does not fit it; make it anew, or take it away"
    return None


def why_no_position(transform: Affine) -> str | None:
    """Return why cells that lie so cannot be used, None where they can."""
    corner = (transform.c, transform.f)
    sides = (math.hypot(transform.a, transform.d), math.hypot(transform.b, transform.e))
    if transform == Affine.identity() or not transform.determinant or not all(map(math.isfinite, (*corner, *sides))):
        return "no position: no corner and cell size (geotransform) that can be used"
    if not _LEAST_SIDE <= min(sides) <= max(sides) <= _MOST_SIDE:
        limits = f"limits {_LEAST_SIDE:g} and {_MOST_SIDE:g} in the units of its CRS"
        return f"cells of {sides[0]:g} by {sides[1]:g} ({limits})"
    return None


def mask_beside(real: Path) -> Part | None:
    """Return the file of a mask beside a raster, None where there is none."""
    path = real.with_name(real.name + ".msk")
    return part(path) if path.is_file() and is_tiff(path) else None


def world_beside(real: Path) -> Part | None:
    """Return the file beside a raster that says where it lies, None where there is none."""
    beside = (real.with_suffix(end) for end in _WORLD_FILES)
    return next((part(path) for path in beside if path.is_file() and path.stat().st_size <= _MOST_BYTES), None)


def position_of(world: Path) -> Affine:
    """Return the position of a raster's cells as its world file has it; none at all (identity) where it has no numbers.

    Six numbers: the steps in x and y from column to column and from row to row, and the middle of the first cell.
    """
    try:
        a, d, b, e, x, y = (float(word) for word in world.read_text(encoding="ascii").split())
    except ValueError:
        return Affine.identity()
    return Affine(a, b, x, d, e, y) * Affine.translation(-0.5, -0.5)


def name_beside(given: str, beside: Part) -> str:
    """Return the path of a file beside a raster, by the raster's as the user gave it."""
    return str(PurePath(given).with_name(beside.path.name))


def said_beside(real: Path, source: Any) -> tuple[str, list[str]]:  # noqa: ANN401 - rasterio has no types
    """Return the name of the file of notes (.aux.xml) beside a raster, and what it says otherwise than the raster.

    The file is not read for use: it may point anywhere. Most hold statistics and say nothing that matters.
    """
    path = real.with_name(real.name + ".aux.xml")
    if not path.is_file() or path.stat().st_size > _MOST_BYTES:
        return path.name, []
    text = path.read_bytes().decode("utf-8", errors="replace")
    said = ((words, found, same) for tag, (words, same) in _NOTES.items() if (found := _between(tag, text)) is not None)
    return path.name, [words for words, found, same in said if not same(found, source)]


def _between(tag: str, text: str) -> str | None:
    found = re.search(rf"<{tag}\b[^>]*>([^<]*)</{tag}>", text)
    return unescape(found[1]).strip() if found else None


def _same_number(text: str, number: float | None) -> bool:
    try:
        told = float(text)
    except ValueError:
        return False
    return number is not None and (told == number or (math.isnan(told) and math.isnan(number)))


def _same_place(text: str, source: Any) -> bool:  # noqa: ANN401 - rasterio has no types
    numbers = text.split(",")
    own = source.transform.to_gdal()
    return len(numbers) == len(own) and all(map(_same_number, numbers, own))


def _same_crs(text: str, source: Any) -> bool:  # noqa: ANN401 - rasterio has no types
    try:
        return bool(source.crs) and CRS.from_wkt(text).equals(source.crs.to_wkt(), ignore_axis_order=True)
    except ProjError:
        return False


# Elements of the notes that could change a height or its place; in words; whether the raster says the same.
_NOTES: Final[Mapping[str, tuple[str, Callable[[str, Any], bool]]]] = {
    "SRS": ("a CRS", _same_crs),
    "GeoTransform": ("a position", _same_place),
    "NoDataValue": ("a no-data number", lambda text, source: _same_number(text, source.nodata)),
    "UnitType": ("a height unit", lambda text, source: text == (source.units[0] or "")),
    "Scale": ("a scale", lambda text, source: _same_number(text, source.scales[0])),
    "Offset": ("an offset", lambda text, source: _same_number(text, source.offsets[0])),
}
