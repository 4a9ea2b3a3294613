"""The run record `run.json`: what went in, what was made of it, and what came out, with hashes.

It is written last. A folder without a valid one is no finished result.
"""

import hashlib
import json
import platform
from functools import cache
from importlib import metadata
from pathlib import Path, PurePosixPath
from typing import Any, Final

import pyogrio
import pyproj
import shapely

from wirerun.errors import Fault, InputError
from wirerun.findings import LEVELS
from wirerun.measurements import Learned
from wirerun.records import RECORD, RECORD_FORMAT, Plan
from wirerun.rounding import rounded
from wirerun.write.mark import plan_mark

# The libraries whose version can change a number or a byte of the result.
_LIBRARIES: Final = (
    "wirerun",
    "affine",
    "ezdxf",
    "fiona",
    "geopandas",
    "gpxpy",
    "numpy",
    "pandas",
    "pydantic",
    "pyogrio",
    "pyproj",
    "rasterio",
    "reportlab",
    "scipy",
    "shapely",
    "xlsxwriter",
)


def write_record(plan: Plan, folder: Path) -> Path:
    """Write `run.json` into a folder that holds all the other outputs, and return its path.

    No time, no machine and no absolute path of ours goes in: the same plan and outputs give the same bytes.
    """
    record = {
        "format": RECORD_FORMAT,
        "name": plan.config.name,
        "plan_mark": plan_mark(plan),
        **({"inputs_mark": plan.inputs_mark} if plan.inputs_mark else {}),
        "inputs": [{"role": s.role, "path": s.path, "sha256": s.sha256} for s in plan.sources],
        "config": _config(plan),
        "crs": _crs(plan),
        "versions": versions(),
        "counts": _counts(plan),
        **({"measured": [_learned(one) for one in plan.measured]} if plan.measured else {}),
        "missing": [
            {"block_id": block.block_id, "reason": block.reason, "exit_code": int(block.exit_code)}
            for block in plan.missing
        ],
    }
    return save_record(record, folder)


def save_record(record: dict[str, Any], folder: Path) -> Path:
    """Write a record into a folder that holds all the other outputs, those listed in it, and return its path."""
    whole = {**record, "outputs": outputs_of(folder)}
    text = json.dumps(whole, indent=2, sort_keys=True, ensure_ascii=False, allow_nan=False) + "\n"
    path = folder / RECORD
    # A file name that is no text becomes \udc.., which is also how JSON spells it.
    path.write_bytes(text.encode("utf-8", errors="backslashreplace"))
    return path


def read_record(folder: Path) -> dict[str, Any]:
    """Return the run record of a finished plan.

    Raises
    ------
    InputError
        If there is none, or it cannot be read, or it is not of this format; says which.
    """
    path = folder / RECORD
    try:
        record = json.loads(path.read_bytes())
    except OSError as reason:
        raise _no_record(path, f"cannot be read ({reason.strerror}), so the folder is no finished plan") from reason
    except ValueError as reason:
        raise _no_record(path, f"is not valid JSON ({reason})") from reason
    if not isinstance(record, dict) or record.get("format") != RECORD_FORMAT:
        found = record.get("format") if isinstance(record, dict) else None
        raise _no_record(path, f"has the format {found!r}; this version reads format {RECORD_FORMAT}")
    if not _well_formed(record):
        raise _no_record(path, "does not have the name and the outputs of a finished plan")
    return record


def result_faults(folder: Path, *, verify: bool = False) -> tuple[str, ...]:
    """Return what keeps a folder from being a finished result, one sentence each; empty where nothing does.

    Parameters
    ----------
    folder : Path
        The folder to look at.
    verify : bool
        Whether to compare the hash of every output as well; else its presence and size only.
    """
    try:
        record = read_record(folder)
    except InputError as error:
        return (str(error),)
    faults = []
    for name, wanted in record["outputs"].items():
        path = folder / name
        if not path.is_file():
            faults.append(f"{path}: is missing")
        elif path.stat().st_size != wanted["bytes"]:
            faults.append(f"{path}: has {path.stat().st_size} bytes, {wanted['bytes']} when it was written")
        elif verify and _print_of(path)["sha256"] != wanted["sha256"]:
            faults.append(f"{path}: has been changed since it was written")
    return tuple(faults)


def is_result(folder: Path, *, verify: bool = False) -> bool:
    """Return whether a folder is a finished result: a valid record, and every output present with its size.

    With `verify` the hash of every output is compared as well.
    """
    return not result_faults(folder, verify=verify)


def outputs_of(folder: Path) -> dict[str, dict[str, Any]]:
    """Return hash and size of every file of a result but its record, by its name within the folder."""
    return {_name(path, folder): _print_of(path) for path in _files(folder)}


def versions() -> dict[str, str]:
    """Return the version of this package, of Python and of every library that can change a result."""
    found = {name: _version(name) for name in _LIBRARIES}
    return found | {
        "python": platform.python_version(),
        "gdal": str(pyogrio.__gdal_version_string__),
        "geos": str(shapely.geos_version_string),
        "proj": str(pyproj.proj_version_str),
    }


@cache
def _version(name: str) -> str:
    try:
        return metadata.version(name)
    except metadata.PackageNotFoundError:
        return "not installed as a package"


def _config(plan: Plan) -> dict[str, Any]:
    """Return the config with every default filled, those that follow from another setting too."""
    config = plan.config.model_dump(mode="json")
    for written, wire in zip(config["wires"], plan.config.wires, strict=True):
        written["held_by"] = wire.holder
    config["output"]["crs"] = plan.output_crs
    return config


def _learned(one: Learned) -> dict[str, Any]:
    """Return what was measured, and what it changed."""
    numbers = {"was": one.was, "value": one.value, "sd": one.sd}
    return {
        "what": one.what,
        "place": one.place,
        "unit": one.unit,
        **{name: None if value is None else rounded(value, 6) for name, value in numbers.items()},
        "readings": one.count,
        "taken": one.taken,
        "off": one.off,
        "sentence": one.sentence,
    }


def _crs(plan: Plan) -> dict[str, Any]:
    frames = {
        note.block_id: {"proj": note.proj, "mean_height_m": rounded(note.mean_height_m, 3)} for note in plan.frames
    }
    return {"output": plan.output_crs, "geometry": "EPSG:4326", "frames": frames}


def _counts(plan: Plan) -> dict[str, Any]:
    two_way = plan.clips.loc[plan.clips["clip"] == "two-way", "post_id"]
    run_out_m = plan.wires.groupby("wire_id")["run_out_m"].sum()
    wire_ids = dict.fromkeys(one.wire_id for one in plan.wires_of_blocks())
    levels = plan.findings["level"].value_counts()
    whole = plan.costs.loc[plan.costs["part"] == "sum", "total"]
    return {
        "blocks": len(plan.blocks),
        "exclusions": len(plan.exclusions),
        "rows": len(plan.rows),
        "posts": len(plan.posts),
        "two_way_posts": int(two_way.nunique()),
        "spans": int(plan.spans["span_id"].nunique()),
        "sections": len(plan.sections),
        "zones": len(plan.zones),
        "coils": int(plan.coils["coil_id"].nunique()),
        "rows_left_out": len(plan.left_out),
        "left_out_m": rounded(plan.left_out["length_m"].sum(), 3),
        "wire_m": {wire_id: rounded(run_out_m.get(wire_id, 0.0), 3) for wire_id in wire_ids},
        "hours": rounded(plan.zones["hours"].sum(), 2),
        "season_hours": rounded(plan.season["hours_a_year"].sum(), 2),
        "cost": next((rounded(total, 2) for total in whole.dropna()), None),
        "findings": {level: int(levels.get(level, 0)) for level in LEVELS},
    }


def _files(folder: Path) -> list[Path]:
    return sorted(path for path in folder.rglob("*") if path.is_file() and path != folder / RECORD)


def _name(path: Path, folder: Path) -> str:
    return path.relative_to(folder).as_posix()


def _print_of(path: Path) -> dict[str, Any]:
    """Return the hash and size of a file."""
    with path.open("rb") as stream:
        return {"sha256": hashlib.file_digest(stream, "sha256").hexdigest(), "bytes": path.stat().st_size}


def _well_formed(record: dict[str, Any]) -> bool:
    """Return whether the parts that are relied on are there, and no output lies outside the folder."""
    outputs = record.get("outputs")
    return (
        isinstance(record.get("name"), str)
        and isinstance(outputs, dict)
        and all(
            isinstance(entry, dict)
            and isinstance(entry.get("sha256"), str)
            and isinstance(entry.get("bytes"), int)
            and not PurePosixPath(name).is_absolute()
            and ".." not in PurePosixPath(name).parts
            for name, entry in outputs.items()
        )
    )


def _no_record(path: Path, message: str) -> InputError:
    return InputError((Fault(str(path), "", message),))
