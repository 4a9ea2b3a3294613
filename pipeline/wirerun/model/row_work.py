"""The work in every row and zone, task by task."""

from dataclasses import dataclass

from wirerun.arrays import FloatArray, IntArray, TextArray
from wirerun.model.checks import require_finite, require_shape


@dataclass(frozen=True, slots=True, eq=False)
class RowWork:
    """Tasks of every row, rows in their order, tasks in working order. Axis task: of a row.

    Attributes
    ----------
    row : [task]
        Never falling.
    step : [task]
        Place in the working order, from 1.
    task, unit : [task]
    quantity : [task]
        How much of it.
    hours : [task]
        Of one person. [h]
    people : [task]
        Whom it needs at once.
    tools : [task]
        In words, parted by commas.
    """

    row: IntArray
    step: IntArray
    task: TextArray
    quantity: FloatArray
    unit: TextArray
    hours: FloatArray
    people: IntArray
    tools: TextArray

    def __post_init__(self) -> None:
        each = {name: getattr(self, name) for name in self.__dataclass_fields__}
        require_shape(self, self.row.shape, **each)
        require_finite(self, quantity=self.quantity, hours=self.hours)

    def __len__(self) -> int:
        return len(self.row)


@dataclass(frozen=True, slots=True, eq=False)
class ZoneTasks:
    """Tasks of every zone in working order. Axis task: of a zone.

    Attributes
    ----------
    zone : [task]
        Number of the zone.
    step : [task]
        From 1 in every zone.
    task, unit : [task]
    quantity : [task]
    hours : [task]
        Of one person. [h]
    days : [task]
        Of the whole crew. [d]
    people : [task]
        Whom it needs at once.
    materials, tools, note : [task]
        What to load for it, which tools, what to mind; None where there is nothing.
    """

    zone: IntArray
    step: IntArray
    task: TextArray
    quantity: FloatArray
    unit: TextArray
    hours: FloatArray
    people: IntArray
    days: FloatArray
    materials: TextArray
    tools: TextArray
    note: TextArray

    def __post_init__(self) -> None:
        each = {name: getattr(self, name) for name in self.__dataclass_fields__}
        require_shape(self, self.zone.shape, **each)
        require_finite(self, quantity=self.quantity, hours=self.hours)

    def __len__(self) -> int:
        return len(self.zone)
