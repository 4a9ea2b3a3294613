"""What was measured in the field, as read, and what the plan takes from it."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from wirerun.settings.measured import ClipTest, FreedHeight, PullOutTest, TensionReading, TimedWork

What = Literal["friction", "end give", "hold-down", "pull-out", "minutes", "freed wires", "built posts"]


@dataclass(frozen=True, slots=True)
class Measured:
    """Rows of the files, each with the line it stands in. `files` has the name of each by its setting."""

    tensions: tuple[tuple[int, TensionReading], ...] = ()
    clip_tests: tuple[tuple[int, ClipTest], ...] = ()
    pull_out_tests: tuple[tuple[int, PullOutTest], ...] = ()
    minutes: tuple[tuple[int, TimedWork], ...] = ()
    freed_heights: tuple[tuple[int, FreedHeight], ...] = ()
    files: Mapping[str, str] = field(default_factory=dict)

    def __bool__(self) -> bool:
        return bool(self.files)


#: Where nothing was measured.
NOTHING = Measured()


@dataclass(frozen=True, slots=True)
class Change:
    """A value that takes another's place: of a setting (`file` empty, `place` "states.friction"), or of the catalogue.

    Of the catalogue `file` is one of `Catalogue`, `place` the item and its column, parted by a bar.
    """

    file: str
    place: str
    value: float | str


@dataclass(frozen=True, slots=True)
class Learned:
    """What one kind of measurement says of one assumption.

    Attributes
    ----------
    what : str
        Kind of measurement.
    place : str
        The assumption: a setting, or an item of the catalogue and its column.
    unit : str
    was, value, sd : float or None
        As assumed, as measured, and its standard deviation; None where there is none.
    count : int
        Readings.
    taken : bool
        Whether the plan takes it.
    sentence : str
        All that in words, and what would help most.
    changes : tuple of Change
        What it changes where it is taken.
    off : bool
        Whether the readings do not go together, or with the plan.
    """

    what: What
    place: str
    unit: str
    was: float | None
    value: float | None
    sd: float | None
    count: int
    taken: bool
    sentence: str
    changes: tuple[Change, ...] = ()
    off: bool = False


@dataclass(frozen=True, slots=True)
class Difference:
    """What one total changes by: what it is of, its unit, before and after; `ordered` where it is bought."""

    what: str
    unit: str
    before: float
    after: float
    ordered: bool


@dataclass(frozen=True, slots=True)
class Weighed:
    """A measurement, None for all of them together, and what it changes; None where that was not asked or not taken."""

    learned: Learned | None
    differences: tuple[Difference, ...] | None
