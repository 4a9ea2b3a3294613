"""Which block of an estate is built in which year."""

from dataclasses import dataclass

from wirerun.arrays import FloatArray, IntArray, TextArray
from wirerun.model.checks import require_shape


@dataclass(frozen=True, slots=True, eq=False)
class Phases:
    """Years of the blocks. Axis part is a block, or one of the years of a block that is too large for one.

    Attributes
    ----------
    block_id : [part]
    part, parts : [part]
        Which of how many years of its block it is, from 1.
    year : [part]
        From 0, never falling.
    hours, cash : [part]
        What it takes in that year; cash NaN where the block's is not known. [h], [currency]
    proven : bool
        Whether no fewer years are possible.
    """

    block_id: TextArray
    part: IntArray
    parts: IntArray
    year: IntArray
    hours: FloatArray
    cash: FloatArray
    proven: bool

    def __post_init__(self) -> None:
        require_shape(
            self,
            self.block_id.shape,
            part=self.part,
            parts=self.parts,
            year=self.year,
            hours=self.hours,
            cash=self.cash,
        )

    @property
    def years(self) -> int:
        """Return how many years it takes."""
        return int(self.year.max(initial=-1)) + 1
