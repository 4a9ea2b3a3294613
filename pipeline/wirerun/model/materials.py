"""What is ordered, and what is taken to every work zone."""

from dataclasses import dataclass

import numpy as np

from wirerun.arrays import FloatArray, IntArray, TextArray
from wirerun.errors import ModelError
from wirerun.model.checks import require_finite, require_shape


@dataclass(frozen=True, slots=True, eq=False)
class Materials:
    """What the plan takes of every item, and the order for it. Axis item.

    Attributes
    ----------
    kind, item : [item]
        Of `tables.MATERIAL_KINDS`, and the name.
    unit : [item]
        "piece" or "coil".
    quantity, spare : [item], >= 0
        How many the plan uses, and how many more there should be.
    in_stock : [item], >= 0
        How many of both are there already.
    length_m, mass_kg : [item]
        Of wire; NaN of all else. [m, kg]
    used_for : [item]
        In words.
    unit_price : [item]
        Of one; NaN where none is known. [currency]
    price_source : [item]
        Where the price comes from; None likewise.
    supplier : [item]
        Who sells it, or with what it is ordered.
    pack, packs : [item]
        Pieces in a pack, and packs to order.
    total : [item]
        What the packs cost; NaN where the price is not known. [currency]
    stock_worth : [item]
        What `in_stock` would cost, part coils by their length; NaN likewise. [currency]
    """

    kind: TextArray
    item: TextArray
    unit: TextArray
    quantity: IntArray
    spare: IntArray
    in_stock: IntArray
    length_m: FloatArray
    mass_kg: FloatArray
    used_for: TextArray
    unit_price: FloatArray
    price_source: TextArray
    supplier: TextArray
    pack: IntArray
    packs: IntArray
    total: FloatArray
    stock_worth: FloatArray

    def __post_init__(self) -> None:
        each = {name: getattr(self, name) for name in self.__dataclass_fields__}
        require_shape(self, self.item.shape, **each)
        twins = len(self.item) - len(set(zip(self.kind.tolist(), self.item.tolist(), strict=True)))
        if twins:
            msg = f"Materials has {twins} items twice"
            raise ModelError(msg)
        if (self.in_stock > self.quantity + self.spare).any():
            msg = "Materials.in_stock is more than is needed"
            raise ModelError(msg)

    def __len__(self) -> int:
        return len(self.item)

    @property
    def to_order(self) -> IntArray:
        """How many are to be bought, whole packs not counted, [item]."""
        return self.quantity + self.spare - self.in_stock

    @property
    def bought_share(self) -> FloatArray:
        """What share of what the plan uses is bought for it, and not out of the stock, [item]."""
        return 1.0 - np.minimum(self.in_stock, self.quantity) / np.maximum(self.quantity, 1)


@dataclass(frozen=True, slots=True, eq=False)
class ZoneLoads:
    """What to take to each work zone. Axis load.

    Attributes
    ----------
    zone : [load]
        Number of the zone.
    kind, item, unit : [load]
        Unit is "piece" or "m".
    quantity : [load]
    """

    zone: IntArray
    kind: TextArray
    item: TextArray
    unit: TextArray
    quantity: FloatArray

    def __post_init__(self) -> None:
        require_shape(self, self.zone.shape, kind=self.kind, item=self.item, unit=self.unit, quantity=self.quantity)
        require_finite(self, quantity=self.quantity)

    def __len__(self) -> int:
        return len(self.zone)
