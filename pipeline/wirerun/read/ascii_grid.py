"""ASCII grids of heights (the header `ncols, nrows, xllcorner ...`): opened so that numbers stay as written."""

import warnings
from pathlib import Path
from typing import Any, Final

import rasterio
from rasterio.errors import NotGeoreferencedWarning

from wirerun.read.plain_file import Part, part

_FIRST_WORD: Final = b"ncols"
_MOST_BYTES: Final = 100_000  # of a file beside it that names its CRS


def is_ascii_grid(real: Path) -> bool:
    """Return whether a file starts as an ASCII grid does."""
    with real.open("rb") as stream:
        return stream.read(64).lstrip(b"\xef\xbb\xbf \t\r\n").lower().startswith(_FIRST_WORD)


def open_ascii_grid(real: Path) -> Any:  # noqa: ANN401 - rasterio has no types
    """Open an ASCII grid; only within `rasterio.Env(**SEALED)`.

    The library guesses a type from how the file begins: of heights that begin with whole numbers the decimals would
    be lost. So the type is said.

    Raises
    ------
    rasterio.errors.RasterioError
        If it cannot be opened.
    """
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", NotGeoreferencedWarning)
        return rasterio.open(real, driver="AAIGrid", DATATYPE="Float64")


def crs_beside(real: Path) -> Part | None:
    """Return the file beside a grid that names its CRS (.prj), which the library reads; None where there is none."""
    for end in (".prj", ".PRJ"):
        path = real.with_suffix(end)
        if path.is_file() and path.stat().st_size <= _MOST_BYTES:
            return part(path)
    return None
