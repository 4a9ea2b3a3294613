"""What is kept for the repairs of a year."""

from dataclasses import dataclass

from wirerun.arrays import FloatArray, IntArray, TextArray
from wirerun.model.checks import require_shape


@dataclass(frozen=True, slots=True, eq=False)
class SpareParts:
    """Spare parts, each of them once. Axis part.

    Attributes
    ----------
    kind, item : [part]
        Of `tables.MATERIAL_KINDS`, and the name.
    quantity : [part], > 0
        Whole pieces, or whole metres of wire.
    unit : [part]
        "piece" or "m".
    unit_price : [part]
        Of a piece; NaN where none is known, and of wire, which is bought by the coil. [currency]
    total : [part]
        NaN likewise. [currency]
    reason : [part]
        How the quantity comes about, in words.
    """

    kind: TextArray
    item: TextArray
    quantity: IntArray
    unit: TextArray
    unit_price: FloatArray
    total: FloatArray
    reason: TextArray

    def __post_init__(self) -> None:
        require_shape(self, self.item.shape, **{name: getattr(self, name) for name in self.__dataclass_fields__})

    def __len__(self) -> int:
        return len(self.item)
