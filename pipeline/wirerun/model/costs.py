"""What is bought and done for a plan, and what that costs. Money is in the config's currency."""

from dataclasses import dataclass

import numpy as np

from wirerun.arrays import FloatArray, IntArray, TextArray
from wirerun.model.checks import require_shape


@dataclass(frozen=True, slots=True, eq=False)
class Bought:
    """What is ordered. Axis item.

    Attributes
    ----------
    item, kind : [item]
        As in the materials.
    total : [item]
        What the order of it costs; NaN where it has no price. [currency]
    worth : [block, item]
        What the pieces that a block uses cost at the price of one, wire by its share of a coil; NaN where it has no
        price. [currency]
    """

    item: TextArray
    kind: TextArray
    total: FloatArray
    worth: FloatArray

    def __post_init__(self) -> None:
        require_shape(self, self.total.shape, item=self.item, kind=self.kind)
        require_shape(self, (len(self.worth), len(self.total)), worth=self.worth)


@dataclass(frozen=True, slots=True, eq=False)
class Sizes:
    """What else a plan is priced by. Axis block, rows that could not be planned left out.

    Attributes
    ----------
    block_id : [block]
    area_ha : [block]
        Exclusions taken off. [ha]
    row_m : [block]
        In plan. [m]
    posts : [block]
        Posts to be set; those that stand are none.
    hours : [block]
        Of one person. [h]
    set_share, set_row_m, set_hours : [block]
        Share of the row metres in rows that get posts, those metres, and the hours in them: what goes with posts is
        priced by these. [-, m, h]
    crew_day_h : float
        Hours that all people of the crew make in a day. [h]
    """

    block_id: TextArray
    area_ha: FloatArray
    row_m: FloatArray
    posts: IntArray
    hours: FloatArray
    set_share: FloatArray
    set_row_m: FloatArray
    set_hours: FloatArray
    crew_day_h: float

    def __post_init__(self) -> None:
        shape = self.block_id.shape
        require_shape(self, shape, area_ha=self.area_ha, row_m=self.row_m, posts=self.posts, hours=self.hours)
        require_shape(self, shape, set_share=self.set_share, set_row_m=self.set_row_m, set_hours=self.set_hours)


@dataclass(frozen=True, slots=True, eq=False)
class Costs:
    """What a plan costs. Axis line: kinds of material, "labour", charges; the last is "sum".

    Attributes
    ----------
    part : [line]
    quantity, unit, unit_price : [line]
        What labour and charges are priced by: how much of what, at which price; NaN and None of materials and the sum.
        Of a share the quantity is money and the price a percentage.
    total : [line]
        NaN where nothing of it has a price. [currency]
    unpriced : [line]
        What of it has no price; None where all has.
    of_block : [block, line]
        What of the total belongs to each block, and in the last row to the whole order. Adds up to it. [currency]
    """

    part: TextArray
    quantity: FloatArray
    unit: TextArray
    unit_price: FloatArray
    total: FloatArray
    unpriced: TextArray
    of_block: FloatArray

    def __post_init__(self) -> None:
        require_shape(
            self,
            self.part.shape,
            quantity=self.quantity,
            unit=self.unit,
            unit_price=self.unit_price,
            total=self.total,
            unpriced=self.unpriced,
        )
        require_shape(self, (len(self.of_block), len(self.part)), of_block=self.of_block)

    @property
    def is_share(self) -> np.ndarray:
        """Return which lines are a percentage of others, [line]."""
        return np.array([unit is not None and unit.startswith("%") for unit in self.unit], dtype=np.bool_)
