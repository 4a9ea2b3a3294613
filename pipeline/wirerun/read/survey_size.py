"""How large a survey is, told before it starts: memory, disk and time; and whether that is there."""

from dataclasses import dataclass
from typing import Final

import shapely

from wirerun.errors import Faults
from wirerun.read.job_size import memory_there
from wirerun.read.survey_source import BEYOND_M, SurveySource
from wirerun.surface.canopy import ROW_CELL_M
from wirerun.wording import number

# Measured (`tests/benchmarks/bench_survey_size.py`), to a third or so: the program with a tile on the way, whatever the
# survey's size; a byte for each cell in which rows are looked for, all of them kept, and those of one block at work
# (140 in two million cells of heights; an orthophoto's are reckoned by its arrays).
_BYTES_BEFORE: Final = 1_500_000_000
_BYTES_KEPT: Final = 1.0
_BYTES_OF_BLOCK: Final = 250.0
# Rasters of a cell near a block, as drafts and as results, packed.
_DISK_PER_CELL: Final = 14.0
_SECONDS_BEFORE: Final = 30.0
_SECONDS_PER_CELL: Final = 4e-6


@dataclass(frozen=True, slots=True)
class SurveySize:
    """What a survey comes to, roughly: cells near blocks, the largest block; bytes of memory and disk; seconds."""

    cells: float
    block_cells: float
    block_id: str
    memory: float
    disk: float
    seconds: float

    @classmethod
    def of(cls, source: SurveySource) -> "SurveySize":
        """Size of a survey that was opened."""
        reach = BEYOND_M / source.grid.cell_m
        cells = float(shapely.union_all([area.buffer(reach) for area in source.areas]).area)
        largest = max(range(len(source.areas)), key=lambda at: float(source.areas[at].area))
        west, south, east, north = source.areas[largest].bounds
        joined = (source.grid.cell_m / ROW_CELL_M) ** 2 if source.grid.cell_m < 0.75 * ROW_CELL_M else 1.0
        all_cells = float(source.grid.shape[0]) * source.grid.shape[1]
        of_block = (east - west) * (north - south) * joined
        memory = _BYTES_BEFORE + _BYTES_KEPT * all_cells * joined + _BYTES_OF_BLOCK * of_block
        return cls(
            cells,
            of_block,
            source.blocks[largest].block_id,
            memory,
            _DISK_PER_CELL * cells,
            _SECONDS_BEFORE + _SECONDS_PER_CELL * cells,
        )

    @property
    def words(self) -> str:
        """Return the size in words."""
        return (
            f"about {number(round(self.cells, -5))} cells of ground, {self.memory / 1e9:.1f} GB of memory, "
            f"{self.disk / 1e9:.1f} GB of disk and {number(max(1.0, self.seconds / 60.0))} minutes of one processor"
        )


def refuse_too_large(source: SurveySource, disk_there: float) -> None:
    """Refuse a survey that cannot end well on this machine, before it starts.

    Parameters
    ----------
    source : SurveySource
        What is to be read.
    disk_there : float
        Room where the result goes. [bytes]

    Raises
    ------
    InputError
        With the numbers, and how to go on.
    """
    size, there = SurveySize.of(source), memory_there()
    faults = Faults()
    boundary = source.config.block.boundary
    if size.memory > there:
        faults.add(
            boundary,
            "",
            f"the survey needs {size.words}; this machine has {there / 1e9:.1f} GB of memory; survey fewer blocks at "
            f"once, or divide the largest ({size.block_id})",
        )
    if size.disk > disk_there:
        faults.add(
            boundary,
            "",
            f"the survey needs {size.words}; {disk_there / 1e9:.1f} GB are free where the result goes; survey fewer "
            "blocks at once, or write to another disk (--out)",
        )
    faults.stop_if_any()
