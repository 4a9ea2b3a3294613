"""What work zones are drawn from, and what each comes to."""

from dataclasses import dataclass

from wirerun.arrays import FloatArray, IntArray, TextArray
from wirerun.model.checks import require_finite, require_shape


@dataclass(frozen=True, slots=True, eq=False)
class ZoneRows:
    """Rows as zones see them, blocks one after another. Axis row, in working order.

    Attributes
    ----------
    row_id, block_id : [row]
    length_m : [row]
        [m]
    slope_pct, slope_class : [row]
        Of the ground, and its class in words; NaN and None where it is not known. [%]
    posts, two_way_posts : [row]
    """

    row_id: TextArray
    block_id: TextArray
    length_m: FloatArray
    slope_pct: FloatArray
    slope_class: TextArray
    posts: IntArray
    two_way_posts: IntArray

    def __post_init__(self) -> None:
        each = {name: getattr(self, name) for name in self.__dataclass_fields__}
        require_shape(self, self.row_id.shape, **each)
        require_finite(self, length_m=self.length_m)

    def __len__(self) -> int:
        return len(self.row_id)


@dataclass(frozen=True, slots=True, eq=False)
class Zones:
    """Work zones: consecutive rows of a block. Axis zone, in working order.

    Attributes
    ----------
    zone_id, block_id, first_row, last_row : [zone]
    rows, posts, two_way_posts : [zone]
        How many of them.
    row_length_m : [zone]
        [m]
    slope_class : [zone]
        The class of its rows, or the flattest and the steepest; None where no slope is known.
    hours : [zone]
        Of one person. [h]
    days : [zone]
        Of the whole crew. [d]
    people : int
        The crew.
    """

    zone_id: TextArray
    block_id: TextArray
    first_row: TextArray
    last_row: TextArray
    rows: IntArray
    row_length_m: FloatArray
    slope_class: TextArray
    hours: FloatArray
    days: FloatArray
    posts: IntArray
    two_way_posts: IntArray
    people: int

    def __post_init__(self) -> None:
        each = {name: getattr(self, name) for name in self.__dataclass_fields__ if name != "people"}
        require_shape(self, self.zone_id.shape, **each)
        require_finite(self, row_length_m=self.row_length_m, hours=self.hours, days=self.days)

    def __len__(self) -> int:
        return len(self.zone_id)
