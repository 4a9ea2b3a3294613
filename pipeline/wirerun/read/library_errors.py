"""What the libraries raise while they read a file, told as one sentence.

One place for all readers: the libraries call each other, and a damaged file shows up as an error of any of them, from
deep below the call that names the file.
"""

import sqlite3
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Final

from fiona._err import CPLE_BaseError as FionaLibraryError
from fiona.errors import FionaError
from pyproj.exceptions import ProjError
from rasterio._err import CPLE_BaseError as RasterioLibraryError
from rasterio.errors import RasterioError
from shapely.errors import ShapelyError

from wirerun.errors import Faults

#: What the libraries that read raise where a file is to blame. Errors of GDAL reach us in two ways: as the library's
#: own kind, and as they are. The last two are what they stumble over in their own code where a file surprises them.
READ_ERRORS: Final = (
    FionaError,
    FionaLibraryError,
    RasterioError,
    RasterioLibraryError,
    ProjError,
    ShapelyError,
    sqlite3.Error,
    OSError,
    ValueError,
    ArithmeticError,
    RecursionError,
    MemoryError,
    SystemError,
    UnboundLocalError,
)


@contextmanager
def told(faults: Faults, given: str, place: str, sentence: str | Callable[[], str]) -> Iterator[None]:
    """Make whatever a library raises within the block one fault, and go on after the block.

    Parameters
    ----------
    faults : Faults
        Gets the fault.
    given : str
        The path as the user gave it.
    place : str
        The place in the file, empty for the file as a whole.
    sentence : str or callable
        What is wrong; a callable is asked when it is needed. Too little memory, and nesting too
        deep, are told as that, whatever is given.
    """
    try:
        yield
    except MemoryError:
        faults.add(given, place, "there is not enough memory to read it")
    except RecursionError:
        faults.add(given, place, "it is nested too deep to be read")
    except READ_ERRORS:
        faults.add(given, place, sentence if isinstance(sentence, str) else sentence())
