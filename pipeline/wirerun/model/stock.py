"""What lies in the store already."""

from dataclasses import dataclass

import numpy as np

from wirerun.arrays import IntArray, TextArray, words
from wirerun.errors import ModelError
from wirerun.model.checks import require_shape


@dataclass(frozen=True, slots=True, eq=False)
class Stock:
    """Items in the store, whole coils of wire among them; and part coils.

    Attributes
    ----------
    item : [item]
        As named in the catalogue, each once.
    pieces : [item], >= 0
        Pieces, or whole coils.
    part_item : [part]
        The wire of each part coil.
    part_mm : [part], > 0
        What is left on it. [mm]
    """

    item: TextArray
    pieces: IntArray
    part_item: TextArray
    part_mm: IntArray

    def __post_init__(self) -> None:
        require_shape(self, self.item.shape, pieces=self.pieces)
        require_shape(self, self.part_item.shape, part_mm=self.part_mm)
        if len(set(self.item.tolist())) < len(self.item):
            msg = "Stock.item has an item twice"
            raise ModelError(msg)
        if (self.pieces < 0).any() or (self.part_mm <= 0).any():
            msg = "Stock counts less than nothing"
            raise ModelError(msg)

    @classmethod
    def nothing(cls) -> "Stock":
        """An empty store."""
        none = np.zeros(0, dtype=np.int64)
        return cls(words([]), none, words([]), none)

    def __len__(self) -> int:
        return len(self.item) + len(self.part_item)

    def pieces_of(self, item: str) -> int:
        """Pieces of an item, or whole coils of a wire."""
        return int(self.pieces[self.item == item].sum())
