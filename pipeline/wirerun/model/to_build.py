"""What all blocks together ask to be built: what hours, orders and loads are counted from.

Axes are short: not a post and not a clip, but all that are alike in a row.
"""

from dataclasses import dataclass

import numpy as np

from wirerun.arrays import BoolArray, FloatArray, IntArray, TextArray
from wirerun.errors import ModelError
from wirerun.model.checks import require_finite, require_shape


@dataclass(frozen=True, slots=True, eq=False)
class BuiltRows:
    """Rows in working order, blocks one after another. Axis row.

    Attributes
    ----------
    row_id : [row]
    walk_m : [row], >= 0
        Way along the row: its length on the slope, where that is not known the one in plan. [m]
    slope_factor : [row]
        What its slope makes of hours. [-]
    """

    row_id: TextArray
    walk_m: FloatArray
    slope_factor: FloatArray

    def __post_init__(self) -> None:
        require_shape(self, self.row_id.shape, walk_m=self.walk_m, slope_factor=self.slope_factor)
        require_finite(self, walk_m=self.walk_m, slope_factor=self.slope_factor)

    def __len__(self) -> int:
        return len(self.row_id)


@dataclass(frozen=True, slots=True, eq=False)
class BuiltPosts:
    """Posts to set, alike in a row. Axis sort.

    Attributes
    ----------
    row : [sort]
    is_end : [sort]
    item, end_item : [sort]
        Post and end assembly, as named in the catalogue; None where it has none.
    posts : [sort], > 0
        How many.
    """

    row: IntArray
    is_end: BoolArray
    item: TextArray
    end_item: TextArray
    posts: IntArray

    def __post_init__(self) -> None:
        _require_some(self, self.row, self.posts)
        require_shape(self, self.row.shape, is_end=self.is_end, item=self.item, end_item=self.end_item)


@dataclass(frozen=True, slots=True, eq=False)
class BuiltClips:
    """Clips and staples to fix, alike in a row. Axis sort.

    Attributes
    ----------
    row, wire_id : [sort]
    clip, seat : [sort]
        Of `tables.CLIP_KINDS` and `SEATS`; None where not known.
    item : [sort]
        The fixing, as named in the catalogue; None where none suits.
    pieces : [sort], > 0
        How many.
    """

    row: IntArray
    wire_id: TextArray
    clip: TextArray
    seat: TextArray
    item: TextArray
    pieces: IntArray

    def __post_init__(self) -> None:
        _require_some(self, self.row, self.pieces)
        require_shape(self, self.row.shape, wire_id=self.wire_id, clip=self.clip, seat=self.seat, item=self.item)


@dataclass(frozen=True, slots=True, eq=False)
class BuiltWires:
    """Wires to string whose length is known, ends and all. Axis wire of a row.

    Attributes
    ----------
    row, wire_id : [wire]
    lines : [wire], > 0
        Lines side by side.
    line_m : [wire]
        Length to cut for one of them, tails included. [m]
    run_out_m : [wire]
        Of all of them. [m]
    item : [wire]
        As named in the catalogue; None where it has none.
    diameter_mm : [wire]
        [mm]
    ends_move : [wire]
        Whether its ends are lifted too.
    """

    row: IntArray
    wire_id: TextArray
    lines: IntArray
    line_m: FloatArray
    run_out_m: FloatArray
    item: TextArray
    diameter_mm: FloatArray
    ends_move: BoolArray

    def __post_init__(self) -> None:
        _require_some(self, self.row, self.lines)
        shape = self.row.shape
        require_shape(self, shape, wire_id=self.wire_id, item=self.item, ends_move=self.ends_move)
        lengths = {"line_m": self.line_m, "run_out_m": self.run_out_m, "diameter_mm": self.diameter_mm}
        require_shape(self, shape, **lengths)
        require_finite(self, **lengths)


@dataclass(frozen=True, slots=True, eq=False)
class BuiltAdjusters:
    """Adjusters to fit, alike on a wire of a row. Axis sort.

    Attributes
    ----------
    row, wire_id, item : [sort]
        Of these the last as named in the catalogue.
    adjusters : [sort], > 0
        How many.
    """

    row: IntArray
    wire_id: TextArray
    item: TextArray
    adjusters: IntArray

    def __post_init__(self) -> None:
        _require_some(self, self.row, self.adjusters)
        require_shape(self, self.row.shape, wire_id=self.wire_id, item=self.item)


@dataclass(frozen=True, slots=True, eq=False)
class ToBuild:
    """What is to be built, row by row. What stands already is not in it."""

    rows: BuiltRows
    posts: BuiltPosts
    clips: BuiltClips
    wires: BuiltWires
    adjusters: BuiltAdjusters

    def __post_init__(self) -> None:
        for part in (self.posts, self.clips, self.wires, self.adjusters):
            if len(part.row) and not 0 <= int(part.row.min()) <= int(part.row.max()) < len(self.rows):
                reach = f"{part.row.min()} to {part.row.max()}"
                msg = f"{type(part).__name__}.row reaches from {reach}; there are {len(self.rows)} rows"
                raise ModelError(msg)

    def per_row(self, row: IntArray, many: IntArray | FloatArray) -> FloatArray:
        """How many there are in each row, [row], of what stands on an axis of its own."""
        return np.asarray(np.bincount(row, weights=many, minlength=len(self.rows)), dtype=np.float64)


def _require_some(owner: object, row: IntArray, many: IntArray) -> None:
    """Refuse counts that do not go with the rows, and sorts of which there is none."""
    require_shape(owner, row.shape, many=many)
    if len(many) and int(many.min()) < 1:
        msg = f"{type(owner).__name__} counts {int(many.min())} of what is there"
        raise ModelError(msg)
