"""Lines of wire to cut, and the coils they are cut from."""

from dataclasses import dataclass

import numpy as np

from wirerun.arrays import BoolArray, FloatArray, IntArray, TextArray, words
from wirerun.ids import coil_ids
from wirerun.model.checks import require_rows, require_shape


@dataclass(frozen=True, slots=True, eq=False)
class WireLines:
    """Every line of wire of the plan, in working order: zone by zone, row by row, wire by wire. Axis line.

    Attributes
    ----------
    item : [line]
        Wire, as named in the catalogue.
    row : [line], never falling
        Place of its row in working order.
    row_id, wire_id : [line]
    number : [line]
        Which of the lines side by side, from 1.
    length_mm : [line]
        Length to cut, knots and adjuster included. [mm]
    tail_m : [line]
        How much of it is not in the spans, at both ends together. [m]
    block, zone : [line]
        Numbers of the block and of the zone, from 0; lines of each follow one another.
    slope_factor : [line]
        What the slope of the row makes of hours. [-]
    """

    item: TextArray
    row: IntArray
    row_id: TextArray
    wire_id: TextArray
    number: IntArray
    length_mm: IntArray
    tail_m: FloatArray
    block: IntArray
    zone: IntArray
    slope_factor: FloatArray

    def __post_init__(self) -> None:
        require_shape(
            self,
            self.length_mm.shape,
            item=self.item,
            row=self.row,
            row_id=self.row_id,
            wire_id=self.wire_id,
            number=self.number,
            tail_m=self.tail_m,
            block=self.block,
            zone=self.zone,
            slope_factor=self.slope_factor,
        )

    def __len__(self) -> int:
        return len(self.length_mm)


@dataclass(frozen=True, slots=True, eq=False)
class WireSpans:
    """Spans of one line of each wire of each row. Axis span, along the row, row by row and wire by wire.

    Attributes
    ----------
    row : [span]
        Number of the wire of the row, from 0, rising.
    row_id, wire_id : [wire of a row]
    span_id : [span]
    horizontal_m : [span]
        In plan. [m]
    cut_m : [span]
        Wire in it, as it is cut. [m]
    """

    row: IntArray
    row_id: TextArray
    wire_id: TextArray
    span_id: TextArray
    horizontal_m: FloatArray
    cut_m: FloatArray

    def __post_init__(self) -> None:
        require_shape(self, self.row.shape, span_id=self.span_id, horizontal_m=self.horizontal_m, cut_m=self.cut_m)
        require_shape(self, self.row_id.shape, wire_id=self.wire_id)
        require_rows(self, self.row, len(self.row_id))


@dataclass(frozen=True, slots=True, eq=False)
class CoilPieces:
    """Lengths of wire in the order in which they are cut, kind of wire by kind of wire. Axis piece.

    Attributes
    ----------
    line : [piece]
        Place on the axis of `WireLines`; pieces of a line follow one another from the row's first post.
    coil : [piece]
        Number of the coil, from 0, in the order in which coils are begun.
    from_mm, to_mm : [piece]
        How much has been run off the coil before and after. [mm]
    carried : [piece]
        Whether the coil is carried into the zone for it.
    with_line : [piece]
        Number of the line of the same wire that is run out in the same walk; 0 where none is.
    join_m : [piece]
        Where the next piece of the line is joined on: from the row's first post, in plan; NaN at the last. [m]
    join_span : [piece]
        Span in which that is; None at the last.
    """

    line: IntArray
    coil: IntArray
    from_mm: IntArray
    to_mm: IntArray
    carried: BoolArray
    with_line: IntArray
    join_m: FloatArray
    join_span: TextArray

    def __post_init__(self) -> None:
        require_shape(
            self,
            self.line.shape,
            coil=self.coil,
            from_mm=self.from_mm,
            to_mm=self.to_mm,
            carried=self.carried,
            with_line=self.with_line,
            join_m=self.join_m,
            join_span=self.join_span,
        )

    def __len__(self) -> int:
        return len(self.line)

    @property
    def joins_on(self) -> BoolArray:
        """Return whether another piece of the line follows, [piece]."""
        return np.asarray(np.append(self.line[1:] == self.line[:-1], False)[: len(self)])


@dataclass(frozen=True, slots=True, eq=False)
class CoilOptions:
    """Ways to cut each kind of wire, and what they come to. Axis option.

    Attributes
    ----------
    item, way : [option]
        Wire, and the way in words.
    coils, joins, most_open, most_in_a_zone, trips : [option]
        How many; coils open at once, coils that one zone is cut from, and times that a coil is carried into a zone.
    cost : [option]
        Of coils, joins and carrying; NaN where coils have no price. [currency]
    least_cost : [option]
        What this way costs at least, however cleverly it is done; NaN where that was not worked out. [currency]
    chosen : [option]
    """

    item: TextArray
    way: TextArray
    coils: IntArray
    joins: IntArray
    most_open: IntArray
    most_in_a_zone: IntArray
    trips: IntArray
    cost: FloatArray
    least_cost: FloatArray
    chosen: BoolArray

    def __post_init__(self) -> None:
        require_shape(
            self,
            self.item.shape,
            way=self.way,
            coils=self.coils,
            joins=self.joins,
            most_open=self.most_open,
            most_in_a_zone=self.most_in_a_zone,
            trips=self.trips,
            cost=self.cost,
            least_cost=self.least_cost,
            chosen=self.chosen,
        )


@dataclass(frozen=True, slots=True, eq=False)
class CoilPlan:
    """What is cut from what. Coils are numbered wire by wire, in the order in which they are begun.

    Attributes
    ----------
    lines : WireLines
    pieces : CoilPieces
    item : [coil]
        Its wire, as named in the catalogue.
    coil_mm : [coil]
        What is on it when it is begun. [mm]
    whole_mm : [coil]
        What is on a whole one. [mm]
    part : [coil]
        Which part coil of the stock it is; -1 where it is a whole one.
    kept : [coil]
        Whether what is left of it is worth keeping.
    options : CoilOptions
    """

    lines: WireLines
    pieces: CoilPieces
    item: TextArray
    coil_mm: IntArray
    whole_mm: IntArray
    part: IntArray
    kept: BoolArray
    options: CoilOptions

    def __post_init__(self) -> None:
        require_shape(self, self.coil_mm.shape, item=self.item, whole_mm=self.whole_mm, part=self.part, kept=self.kept)

    @property
    def left_mm(self) -> IntArray:
        """Return what is left on each coil, [coil] [mm]."""
        used = np.zeros(len(self.coil_mm), dtype=np.int64)
        np.maximum.at(used, self.pieces.coil, self.pieces.to_mm)
        return self.coil_mm - used

    @property
    def in_pairs(self) -> tuple[IntArray, IntArray]:
        """Return the rows of lines that are run out two in one walk, [such a line], and one for each of them."""
        at = self.pieces.line[self.pieces.with_line > 0]
        return self.lines.row[at], np.ones(len(at), dtype=np.int64)

    @property
    def coil_id(self) -> TextArray:
        """Return the id of each coil, [coil]."""
        return words(coil_ids(self.part >= 0))
