"""An earlier plan's folder: the ids of its rows and their lines, for a plan that keeps them."""

import csv
import io
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path, PurePath
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from wirerun.errors import Faults
from wirerun.ids import row_parts
from wirerun.read.finished import plan_file, plan_record, table_file
from wirerun.read.plain_file import Part, part, plain_file
from wirerun.records import EarlierRows
from wirerun.tables import ORIGINS, ROW_IDS

_TABLE: Final = table_file(ROW_IDS.name)
_WANTED: Final = "the folder of an earlier plan is wanted"


@dataclass(frozen=True, slots=True)
class EarlierFile:
    """The file that was read: its path as the config would have it, and how it stood."""

    given: str
    parts: tuple[Part, ...]


@dataclass(frozen=True, slots=True)
class EarlierPlan:
    """Rows of an earlier plan by block. `folder` as the config has it."""

    folder: str
    file: EarlierFile
    of_block: Mapping[str, EarlierRows]

    def rows_of(self, block_id: str) -> EarlierRows:
        """Return the rows of a block; none where the earlier plan does not have it."""
        return self.of_block.get(block_id) or _Rows().done(self.folder)


def read_earlier(given: str, folder: Path, faults: Faults) -> EarlierPlan | None:
    """Rows of an earlier plan; None, with faults, where the folder is none or was changed since.

    Parameters
    ----------
    given : str
        The plan's folder as the user gave it.
    folder : Path
        Where relative paths start.
    faults : Faults
        Gets the faults.
    """
    place = folder / given
    record = plan_record(place, given, _WANTED, faults)
    if record is None:
        return None
    if not isinstance(record["outputs"].get(_TABLE), dict):
        sentence = (
            f"the plan there has no {_TABLE}: it was made without its schedule, or by an older version; make it anew"
        )
        faults.add(given, "", sentence)
        return None
    called = (PurePath(given) / _TABLE).as_posix()
    real = plain_file(place / _TABLE, called, faults)
    stamped = None if real is None else part(real)
    raw = None if stamped is None else plan_file(place, given, record, _TABLE, faults)
    if stamped is None or raw is None:
        return None
    of_block = _parsed(raw, given, called, faults)
    return None if of_block is None else EarlierPlan(given, EarlierFile(called, (stamped,)), of_block)


@dataclass(slots=True)
class _Rows:
    """Rows of one block on their way in."""

    row_id: list[str] = field(default_factory=list)
    named: list[tuple[int, int]] = field(default_factory=list)
    living: list[bool] = field(default_factory=list)
    lines: list[NDArray[np.float64]] = field(default_factory=list)

    def done(self, folder: str) -> EarlierRows:
        named = np.array(self.named, dtype=np.int64).reshape(-1, 2)
        living = np.array(self.living, dtype=np.bool_)
        return EarlierRows(folder, tuple(self.row_id), named[:, 0], named[:, 1], living, tuple(self.lines))


def _parsed(raw: bytes, given: str, called: str, faults: Faults) -> dict[str, EarlierRows] | None:
    """Return the rows of each block; None, with faults, where the table is not as this version writes it."""
    before = len(faults.found)
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        faults.add(called, f"line {line}", "this is no UTF-8 text")
        return None
    lines = csv.DictReader(io.StringIO(text, newline=""))
    found: dict[str, _Rows] = {}
    seen: set[str] = set()
    try:
        missing = [name for name in ("row_id", "block_id", "origin", "line") if name not in (lines.fieldnames or ())]
        if missing:
            faults.add(called, "line 1", f"there is no column {', '.join(missing)}; an older version wrote it")
            return None
        for cells in lines:
            _take(cells, found, seen, called, f"line {lines.line_num}", faults)
    except csv.Error as error:
        faults.add(called, f"line {max(1, lines.line_num)}", f"not valid CSV: {error}")
    if len(faults.found) > before:
        return None
    return {block_id: rows.done(given) for block_id, rows in found.items()}


def _take(
    cells: Mapping[str, str | None], found: dict[str, _Rows], seen: set[str], called: str, place: str, faults: Faults
) -> None:
    """Take one line of the table, or tell what is wrong with it."""
    row_id, block_id, origin, written = (cells[name] or "" for name in ("row_id", "block_id", "origin", "line"))
    named = row_parts(row_id, block_id)
    line = shapely.from_wkt(written, on_invalid="ignore")
    if named is None:
        faults.add(called, f"{place}, row_id", f'"{row_id[:40]}" is no row of block "{block_id[:40]}"')
    elif row_id in seen:
        faults.add(called, f"{place}, row_id", f'"{row_id[:40]}" is there twice')
    elif origin not in ORIGINS:
        faults.add(called, f"{place}, origin", f'"{origin[:40]}" is not one of {", ".join(ORIGINS)}')
    elif not _is_line(line):
        faults.add(called, f"{place}, line", f'"{written[:40]}" is no line in longitude and latitude')
    else:
        seen.add(row_id)
        rows = found.setdefault(block_id, _Rows())
        rows.row_id.append(row_id)
        rows.named.append(named)
        rows.living.append(origin != "gone")
        rows.lines.append(shapely.get_coordinates(line))


def _is_line(line: BaseGeometry | None) -> bool:
    if not isinstance(line, shapely.LineString) or line.is_empty or not line.length > 0.0:
        return False
    places = np.abs(shapely.get_coordinates(line))
    return bool((places <= (180.0, 90.0)).all())
