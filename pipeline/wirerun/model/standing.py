"""What of a block stands already."""

from dataclasses import dataclass

import numpy as np

from wirerun.arrays import BoolArray, IntArray
from wirerun.errors import ModelError
from wirerun.model.checks import require_shape


@dataclass(frozen=True, slots=True, eq=False)
class Standing:
    """What stands already: it bears, but is not ordered, not priced, and in no task.

    Attributes
    ----------
    posts : [post]
        Posts, end assemblies with them.
    wires : [wire]
        Wires that hang along all rows.
    pieces : [wire, post], >= 0
        Clips and staples that hold the wire, or will.
    adjusters : bool
        Whether those that are asked for are there.
    """

    posts: BoolArray
    wires: BoolArray
    pieces: IntArray
    adjusters: bool

    def __post_init__(self) -> None:
        require_shape(self, (len(self.wires), len(self.posts)), pieces=self.pieces)
        if (self.pieces < 0).any() or self.pieces[:, ~self.posts].any():
            msg = "Standing.pieces are on posts that do not stand, or less than none"
            raise ModelError(msg)

    @property
    def nothing(self) -> bool:
        """Return whether nothing stands."""
        return not (self.posts.any() or self.wires.any() or np.any(self.pieces) or self.adjusters)
