"""Every hostile case by its number: the same number makes the same files, whatever was made before."""

from pathlib import Path
from random import Random
from typing import Final

from tests.hostile import configs, drawings, polygons, rasters, tables
from tests.hostile.case import Commands, Estate, Way

WAYS: Final[tuple[Way, ...]] = (*configs.WAYS, *polygons.WAYS, *rasters.WAYS, *drawings.WAYS, *tables.WAYS)


def way_of(number: int) -> Way:
    """Return the way of a case: all ways take their turns."""
    return WAYS[number % len(WAYS)]


def name_of(number: int) -> str:
    """Return what a case is called: where its way stands, and the way."""
    way = way_of(number)
    return f"{way.__module__.rsplit('.', 1)[-1]}.{way.__name__}"


def make(number: int, seed: int, folder: Path) -> Commands | None:
    """Make the files of a case in a folder, and return its commands where they are not `check` and `plan`."""
    estate = Estate(folder)
    before = estate.folder / "config.toml"
    commands = way_of(number)(estate, Random(f"{seed}/{number}"))
    if not before.exists():
        estate.config()
    return commands
