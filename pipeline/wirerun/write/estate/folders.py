"""Where the plan of each block of an estate lies."""

import hashlib
import re
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from shapely import MultiPolygon, Polygon

BLOCKS: Final = "blocks"
ROLL_UP: Final = "all"

# What every file system keeps as it is, upper and lower case told apart or not.
_PLAIN: Final = re.compile(r"[A-Z0-9][A-Z0-9_-]{0,39}|[a-z0-9][a-z0-9_-]{0,39}")
# Names that a device has on some systems.
_DEVICE: Final = re.compile(r"(CON|PRN|AUX|NUL|COM\d|LPT\d)", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class EstateBlock:
    """A block of an estate as it stands after a run: its plan's folder, what became of it, and why it is missing.

    `year` is the one in which it is built, or begun; None where that was not asked.
    """

    block_id: str
    place: Path
    state: str
    reason: str
    area_ha: float | None = None
    area: Polygon | MultiPolygon | None = None
    year: int | None = None

    @property
    def is_there(self) -> bool:
        """Return whether there is a plan of it."""
        return self.state != "missing"


def folder_of(block_id: str) -> str:
    """Name of a block's folder: its id, or a mark of it where the id is no good name for a folder.

    >>> folder_of("B01"), folder_of("Home/Block"), folder_of("b01")
    ('B01', 'block-31c45630', 'b01')
    """
    if _PLAIN.fullmatch(block_id) and not _DEVICE.fullmatch(block_id):
        return block_id
    return f"block-{hashlib.sha256(block_id.encode()).hexdigest()[:8]}"
