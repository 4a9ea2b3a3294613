"""Every hostile case by its name: the same name makes the same files, whatever was made before."""

from pathlib import Path
from random import Random
from typing import Final

from tests.hostile import configs, drawings, polygons, rasters, tables
from tests.hostile.case import Commands, Estate, Way

WAYS: Final[tuple[Way, ...]] = (*configs.WAYS, *polygons.WAYS, *rasters.WAYS, *drawings.WAYS, *tables.WAYS)


def _called(way: Way) -> str:
    return f"{way.__module__.rsplit('.', 1)[-1]}.{way.__name__}"


_BY_NAME: Final = {_called(way): way for way in WAYS}


def case_of(number: int, seed: int) -> str:
    """Return the name of a case, such as "polygons.comb:1:39": its way, for all take their turns, seed and number."""
    return f"{_called(WAYS[number % len(WAYS)])}:{seed}:{number}"


def make(case: str, folder: Path) -> Commands | None:
    """Make the files of a case in a folder, and return its commands where they are not `check` and `plan`."""
    name, seed, number = case.split(":")
    estate = Estate(folder)
    before = estate.folder / "config.toml"
    commands = _BY_NAME[name](estate, Random(f"{seed}/{number}"))
    if not before.exists():
        estate.config()
    return commands
