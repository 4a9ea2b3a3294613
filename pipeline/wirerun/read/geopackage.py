"""GeoPackages, read with SQLite alone: its reader stands damaged files, which kill the process in the GIS library.

Only tables of features are read. A view runs whatever its author wrote, and may never end.

References
----------
OGC 12-128r18, GeoPackage Encoding Standard 1.3.1, 2021: 1.1.2 (contents and reference systems), 2.1 (features; table 6
has the head of a geometry).
"""

import sqlite3
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from pyproj import CRS

HEAD: Final = b"SQLite format 3\0"

# Choices: no polygon of a block is larger, and no file of blocks takes longer.
_MOST_BYTES: Final = 100_000_000
_MOST_SECONDS: Final = 60.0
_STEPS: Final = 100_000  # of the database's machine, between two looks at the clock
_WAIT_SECONDS: Final = 10.0  # for another program that is writing
_SIDE_FILES: Final = ("-wal", "-journal")
_UNDEFINED: Final = (_NO_CRS := -1, 0)  # Cartesian and geographic, by the standard
_WHY: Final = {
    sqlite3.SQLITE_BUSY: "another program is writing to it; close it there, and run again",
    sqlite3.SQLITE_TOOBIG: f"a value of it is longer than {_MOST_BYTES / 1e6:g} MB",
    sqlite3.SQLITE_INTERRUPT: f"it takes longer than {_MOST_SECONDS:g} s to read",
}
# Bytes of the envelope that stands before a geometry, by its mark.
_ENVELOPES: Final = (0, 32, 48, 48, 64)


@dataclass(frozen=True, slots=True)
class FeatureTable:
    """A table of features: its name, the column of its geometry, and the number of its reference system."""

    name: str
    geometry: str
    srs_id: int


class GeoPackage:
    """An open GeoPackage.

    `tables` are its tables of features in the file's order, `views` the names of what is registered as features and is
    no table. What is wrong with a file is raised as `sqlite3.Error`.
    """

    def __init__(self, base: sqlite3.Connection) -> None:
        self._base = base
        registered = base.execute(
            "SELECT c.table_name, g.column_name, g.srs_id FROM gpkg_contents c JOIN gpkg_geometry_columns g "
            "ON lower(c.table_name) = lower(g.table_name) WHERE c.data_type = 'features' ORDER BY c.rowid"
        ).fetchall()
        # A virtual table has no page of its own.
        stored = {
            str(name).lower(): str(name)
            for (name,) in base.execute("SELECT name FROM sqlite_master WHERE type = 'table' AND rootpage > 0")
        }
        names = [str(name) for name, _, _ in registered]
        self.tables = tuple(
            FeatureTable(stored[name.lower()], str(geometry), srs_id if isinstance(srs_id, int) else _NO_CRS)
            for name, (_, geometry, srs_id) in zip(names, registered, strict=True)
            if name.lower() in stored
        )
        self.views = tuple(name for name in names if name.lower() not in stored)

    def columns(self, table: FeatureTable) -> dict[str, str]:
        """Return name and declared type of the attributes of a table; key, geometry and computed columns are none."""
        found = self._base.execute(f"PRAGMA table_info({_quoted(table.name)})").fetchall()
        return {
            str(name): str(kind).upper()
            for _, name, kind, _, _, key in found
            if not key and str(name).lower() != table.geometry.lower()
        }

    def crs(self, table: FeatureTable) -> CRS | None:
        """Return the CRS of a table, None where it has none.

        Raises
        ------
        pyproj.exceptions.CRSError
            If nobody knows it.
        """
        found = self._base.execute(
            "SELECT organization, organization_coordsys_id, definition FROM gpkg_spatial_ref_sys WHERE srs_id = ?",
            (table.srs_id,),
        ).fetchone()
        if found is None or table.srs_id in _UNDEFINED:
            return None
        organization, code, definition = found
        if str(organization).upper() == "EPSG":
            return CRS.from_epsg(code)
        return CRS.from_wkt(str(definition))

    def is_sound(self, table: FeatureTable) -> bool:
        """Return whether the pages of a table hang together: reading alone may miss features of a damaged one."""
        return bool(self._base.execute(f"PRAGMA quick_check({_quoted(table.name)})").fetchone() == ("ok",))

    def features(self, table: FeatureTable) -> Iterator[tuple[bytes | None, dict[str, Any]]]:
        """Go through the features: geometry as well-known binary, and attributes."""
        columns = self.columns(table)
        wanted = ", ".join(map(_quoted, (table.geometry, *columns)))
        for geometry, *values in self._base.execute(f"SELECT {wanted} FROM {_quoted(table.name)}"):  # noqa: S608
            attributes = zip(columns.items(), values, strict=True)
            yield _wkb(geometry), {name: _value(value, kind) for (name, kind), value in attributes}


@contextmanager
def open_geopackage(real: Path) -> Iterator[GeoPackage]:
    """Open a GeoPackage for reading; nothing is written beside it."""
    # A file that nobody writes to needs no lock: taking one would leave files beside it.
    still = "" if side_files(real) else "&immutable=1"
    with closing(sqlite3.connect(f"{real.as_uri()}?mode=ro{still}", uri=True, timeout=_WAIT_SECONDS)) as base:
        base.text_factory = _text
        base.setlimit(sqlite3.SQLITE_LIMIT_LENGTH, _MOST_BYTES)
        # What the file brings along is neither trusted nor run.
        for pragma in ("trusted_schema = OFF", "ignore_check_constraints = ON", "cell_size_check = ON"):
            base.execute(f"PRAGMA {pragma}")
        end = time.monotonic() + _MOST_SECONDS
        base.set_progress_handler(lambda: time.monotonic() > end, _STEPS)
        yield GeoPackage(base)


def why_broken(error: sqlite3.Error) -> str:
    """Return the sentence for what the database's reader says of a file."""
    code = getattr(error, "sqlite_errorcode", sqlite3.SQLITE_CORRUPT) & 0xFF
    return _WHY.get(code, "the file is damaged and cannot be read")


def side_files(real: Path) -> tuple[Path, ...]:
    """Return the files beside a GeoPackage that hold what another program has not yet written into it."""
    beside = (real.with_name(real.name + end) for end in _SIDE_FILES)
    return tuple(path for path in beside if path.is_file() and path.stat().st_size)


def _quoted(name: str) -> str:
    return '"' + name.replace('"', '""') + '"'


def _text(raw: bytes) -> str:
    return raw.decode("utf-8", errors="replace")


def _value(value: object, kind: str) -> object:
    return bool(value) if kind == "BOOLEAN" and isinstance(value, int) else value


def _wkb(geometry: object) -> bytes | None:
    """Return what stands behind a geometry's head; an empty text, which is no geometry, where the head is broken."""
    if geometry is None:
        return None
    if not isinstance(geometry, bytes) or len(geometry) < 8 or not geometry.startswith(b"GP"):
        return b""
    envelope = geometry[3] >> 1 & 0b111
    return geometry[8 + _ENVELOPES[envelope] :] if envelope < len(_ENVELOPES) else b""
