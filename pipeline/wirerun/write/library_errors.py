"""What the libraries raise while they write a file, told with the file and the room that is left."""

import errno
import os
import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Final

from pyogrio.errors import CRSError, DataLayerError, DataSourceError, FeatureError, FieldError, GeometryError

#: What the libraries that write raise beside `OSError`. They seldom say that the disk is full.
WRITE_ERRORS: Final = (
    sqlite3.Error,
    CRSError,
    DataLayerError,
    DataSourceError,
    FeatureError,
    FieldError,
    GeometryError,
)


@contextmanager
def writing(path: Path) -> Iterator[None]:
    """Make whatever is raised while a file is written an `OSError` that names the file.

    Parameters
    ----------
    path : Path
        The file, or the folder of several.

    Raises
    ------
    OSError
        With the path, and what the library said.
    """
    try:
        yield
    except OSError as reason:
        if reason.filename is not None:
            raise
        raise OSError(reason.errno or errno.EIO, reason.strerror or str(reason), str(path)) from reason
    except WRITE_ERRORS as reason:
        raise not_written(path, str(reason).replace(f"{path.parent}{os.sep}", "")) from reason


def not_written(path: Path, words: str) -> OSError:
    """Return the error for a file that was not written whole, with the room that is left where it lies."""
    folder = next(folder for folder in path.parents if folder.is_dir())
    free_mb = shutil.disk_usage(folder).free / 1e6
    return OSError(errno.EIO, f"{words}; {free_mb:.1f} MB are free there", str(path))
