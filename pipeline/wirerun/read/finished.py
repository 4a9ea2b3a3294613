"""A finished plan's folder, read back: its record and its tables, each as its record says it was written."""

import hashlib
import io
import json
from collections.abc import Sequence
from pathlib import Path, PurePath
from typing import Any, Final

import pandas as pd
from pydantic import BaseModel, ValidationError

from wirerun.errors import Faults
from wirerun.read.plain_file import plain_file
from wirerun.records import RECORD, RECORD_FORMAT, FinishedPlan
from wirerun.settings import Config
from wirerun.tables import ALL_TABLES, CLIPS, POSTS, ROWS

# Choice: some ten thousand rows of curves; a plan of that many takes longer than a day.
_MOST_BYTES: Final = 100_000_000
# The widest table has some eighty. Choice.
_MOST_COLUMNS: Final = 500
#: What a folder should have been, for sentences.
FINISHED: Final = "the folder of a finished plan is wanted"
# Without these there is nothing to compare.
_LEAST: Final = (ROWS.name, POSTS.name, CLIPS.name)


class _Input(BaseModel):
    """A file that a plan was made from, as its record has it."""

    role: str
    path: str
    sha256: str


class _Frame(BaseModel):
    proj: str


class _Crs(BaseModel):
    frames: dict[str, _Frame] = {}


class _Config(BaseModel):
    catalogue: dict[str, Any] = {}


class _Record(BaseModel):
    """What is read of a record without asking twice."""

    outputs: dict[str, Any]
    config: _Config = _Config()
    inputs: list[_Input] = []
    crs: _Crs = _Crs()


def read_finished(given: str, faults: Faults) -> FinishedPlan | None:
    """A plan as its folder has it; None, with faults, where the folder is none, is damaged or was changed since.

    Cells are text, as they were written. A table that an older version did not write is not among the tables.

    Parameters
    ----------
    given : str
        The folder, as the user gave it.
    faults : Faults
        Gets the faults.
    """
    place, before = Path(given), len(faults.found)
    record = plan_record(place, given, FINISHED, faults)
    if record is None:
        return None
    lacking = [name for name in _LEAST if not isinstance(record["outputs"].get(table_file(name)), dict)]
    if lacking:
        sentence = f"the plan there has no {table_file(lacking[0])}: it was made without its schedule; make it anew"
        faults.add(given, "", sentence)
        return None
    tables = {}
    for name in ALL_TABLES:
        if isinstance(record["outputs"].get(table_file(name)), dict):
            raw = plan_file(place, given, record, table_file(name), faults)
            frame = None if raw is None else _frame(raw, ALL_TABLES[name].key, f"{given}/{table_file(name)}", faults)
            if frame is not None:
                tables[name] = frame
    return FinishedPlan(given, record, tables) if len(faults.found) == before else None


def planned_config(plan: FinishedPlan, faults: Faults) -> Config | None:
    """Config of a finished plan as its record has it; None, with a fault, where another version wrote it."""
    frames = plan.record.get("crs", {}).get("frames", {})
    lost = sorted(set(plan.tables[ROWS.name]["block_id"]) - set(frames))
    if lost:
        faults.add(f"{plan.folder}/{RECORD}", "crs.frames", f"it has none of block {lost[0]}; make the plan anew")
    try:
        config = Config.model_validate_json(json.dumps(plan.record.get("config")))
    except ValidationError:
        sentence = "its config is not as this version writes it; make the plan anew"
        faults.add(f"{plan.folder}/{RECORD}", "config", sentence)
        return None
    return None if lost else config


def table_file(name: str) -> str:
    """Return the file of a table, as a record calls it."""
    return f"schedule/{name}.csv"


def plan_record(place: Path, given: str, wanted: str, faults: Faults) -> dict[str, Any] | None:
    """Return the run record of a finished plan; None, with a fault, where the folder holds none or a damaged one.

    Parameters
    ----------
    place : Path
        The folder.
    given : str
        As the user gave it.
    wanted : str
        What is wanted instead of what is there, as the sentence says it.
    faults : Faults
        Gets the fault.
    """
    try:
        there, is_folder = place.exists(), place.is_dir()
        finished = is_folder and (place / RECORD).exists()
    except (OSError, ValueError) as error:
        faults.add(given, "", f"the path cannot be followed: {getattr(error, 'strerror', None) or error}")
        return None
    if not there:
        faults.add(given, "", f"there is no such folder; looked for {place}")
    elif not is_folder:
        faults.add(given, "", f"this is a file; {wanted}")
    elif not finished:
        faults.add(given, "", f"it has no {RECORD}, so it is no finished plan; {wanted}")
    return _read_record(place, (PurePath(given) / RECORD).as_posix(), wanted, faults) if finished else None


def plan_file(place: Path, given: str, record: dict[str, Any], name: str, faults: Faults) -> bytes | None:
    """Return the bytes of a file of a plan; None, with a fault, where it is missing or not as its record has it."""
    called = (PurePath(given) / name).as_posix()
    real = plain_file(place / name, called, faults)
    if real is None or _too_large(real, called, faults):
        return None
    raw = real.read_bytes()
    if hashlib.sha256(raw).hexdigest() != record["outputs"][name].get("sha256"):
        sentence = f"it was changed since the plan wrote it: its SHA-256 is not that of {RECORD}; make the plan anew"
        faults.add(called, "", sentence)
        return None
    return raw


def _read_record(place: Path, called: str, wanted: str, faults: Faults) -> dict[str, Any] | None:
    """Return the run record; None, with a fault, where it is damaged or of another format."""
    real = plain_file(place / RECORD, called, faults)
    if real is None or _too_large(real, called, faults):
        return None
    try:
        record = json.loads(real.read_bytes())
    except (ValueError, RecursionError):
        faults.add(called, "", f"it is damaged: this is no JSON; {wanted}")
        return None
    if not isinstance(record, dict) or not isinstance(record.get("outputs"), dict):
        faults.add(called, "", f"this is not the record of a plan; {wanted}")
        return None
    if record.get("format") != RECORD_FORMAT:
        faults.add(called, "format", f"{record.get('format')!r}; this version reads format {RECORD_FORMAT}")
        return None
    try:
        _Record.model_validate(record)
    except ValidationError as error:
        at = ".".join(map(str, error.errors()[0]["loc"]))[:100]
        faults.add(called, at, f"it is damaged, or another version wrote it; {wanted}")
        return None
    return record


def _too_large(real: Path, called: str, faults: Faults) -> bool:
    size = real.stat().st_size
    if size > _MOST_BYTES:
        faults.add(called, "", f"{size} bytes are of no plan; at most {_MOST_BYTES} are read")
    return size > _MOST_BYTES


def _frame(raw: bytes, key: Sequence[str], called: str, faults: Faults) -> pd.DataFrame | None:
    """Return a table as text; None, with a fault, where it is none or has not the columns of its key."""
    columns = raw.replace(b"\r", b"\n").partition(b"\n")[0].count(b",") + 1
    if columns > _MOST_COLUMNS:
        faults.add(called, "line 1", f"{columns} columns are of no plan; at most {_MOST_COLUMNS} are read")
        return None
    try:
        frame = pd.read_csv(io.BytesIO(raw), dtype="str", keep_default_na=False, encoding="utf-8-sig")  # noqa: TID251
    except ValueError as error:  # what pandas raises of a table, and of text that is none
        faults.add(called, "", f"it is damaged: {str(error).splitlines()[0]}")
        return None
    lacking = [name for name in key if name not in frame.columns]
    if lacking:
        faults.add(called, "line 1", f"there is no column {', '.join(lacking)}; an older version wrote it")
        return None
    return frame
