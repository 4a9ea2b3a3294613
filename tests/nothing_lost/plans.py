"""Two small plans of one estate, and how a result stands on the disk."""

import hashlib
import json
from dataclasses import dataclass
from pathlib import Path

from tests.refusals.conftest import Estate

#: By SHA-256, every file of a result.
Print = dict[str, str]


@dataclass(frozen=True)
class TwoPlans:
    """An estate with two configs whose plans differ in every table."""

    folder: Path
    configs: tuple[Path, Path]


def two_plans(folder: Path) -> TwoPlans:
    """Write an estate and its configs."""
    estate = Estate(folder)
    configs = []
    for name, bearing in (("a", 62.0), ("b", 64.0)):
        estate.settings["rows"]["bearing_deg"] = bearing
        path = folder / f"{name}.toml"
        path.write_text(estate.config().read_text())
        configs.append(path)
    return TwoPlans(folder, (configs[0], configs[1]))


def print_of(place: Path) -> Print:
    """Return the print of a result; empty where there is none."""
    files = sorted(path for path in place.rglob("*") if path.is_file())
    return {path.relative_to(place).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest() for path in files}


def beside(place: Path) -> list[str]:
    """Return what lies hidden beside a result."""
    return sorted(path.name for path in place.parent.iterdir() if path.name.startswith(f".{place.name}."))


def as_json(**what: object) -> str:
    """Return what was seen, as a process tells it to another."""
    return json.dumps(what)
