"""The foliage wires that are moved every year, and the work of it."""

from dataclasses import dataclass

from wirerun.arrays import FloatArray, IntArray, TextArray
from wirerun.model.checks import require_shape


@dataclass(frozen=True, slots=True, eq=False)
class MovedWires:
    """Foliage wires of every row. Axis wire: wire of a row.

    Attributes
    ----------
    block_id, wire_id : [wire]
    lines : [wire]
        Lines side by side.
    run_out_m : [wire]
        Length of all its lines together. [m]
    adjusters : [wire]
        How many it has.
    slope_factor : [wire]
        What the slope of the row makes of hours. [-]
    """

    block_id: TextArray
    wire_id: TextArray
    lines: IntArray
    run_out_m: FloatArray
    adjusters: IntArray
    slope_factor: FloatArray

    def __post_init__(self) -> None:
        require_shape(
            self,
            self.block_id.shape,
            wire_id=self.wire_id,
            lines=self.lines,
            run_out_m=self.run_out_m,
            adjusters=self.adjusters,
            slope_factor=self.slope_factor,
        )


@dataclass(frozen=True, slots=True, eq=False)
class SeasonWork:
    """What is done with the foliage wires in a year. Axis task: block by block, wire by wire.

    Attributes
    ----------
    block_id, wire_id, task : [task]
    quantity, unit : [task]
        How much of it, once.
    once_h : [task]
        Hours of one person to do it once; NaN where the catalogue has no minutes. [h]
    times : [task]
        How often in a year.
    """

    block_id: TextArray
    wire_id: TextArray
    task: TextArray
    quantity: FloatArray
    unit: TextArray
    once_h: FloatArray
    times: IntArray

    def __post_init__(self) -> None:
        require_shape(
            self,
            self.block_id.shape,
            wire_id=self.wire_id,
            task=self.task,
            quantity=self.quantity,
            unit=self.unit,
            once_h=self.once_h,
            times=self.times,
        )
