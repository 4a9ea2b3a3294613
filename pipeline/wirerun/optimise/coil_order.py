"""Lines of wire cut from coils in the order in which a crew runs them out, with few coils open at once.

A state is what is left on the coils that are open, which of them have been carried into the zone, which one gave the
whole of the line before, and what was spent so far. For every line it goes on in one of these ways: the line is cut
whole from an open coil; from a new coil, for which the shortest remainder is put aside; begun on an open coil to its
end and joined to the next open one or to a new one. A line longer than a coil has whole coils in between. A line beside
the one before it, both whole and from two coils, saves a walk. Longer remainders for less money are never worse, so
other states are struck out; of the rest the best are kept, by what they cost less what their remainders are worth (a
beam search). With one coil open few states are left, and none is cut off: the result is then exact.
"""

from itertools import permutations
from typing import Final, NamedTuple

import numpy as np

from wirerun.mechanics import BoolArray, FloatArray, IntArray
from wirerun.mechanics.refusals import require_non_negative, require_positive
from wirerun.optimise.coil_pieces import Coil, Lines, Pieces, refuse_bad_pieces

# States that are kept after each line, of few lines and of many. Choices, by measurement: twice as many save one join
# of 160.
_KEPT: Final = 128
_KEPT_OF_MANY: Final = 64
_MANY_LINES: Final = 5000
# So many times as many are looked at before states that are never better are struck out. Choice.
_LOOKED_AT: Final = 2
# A remainder of so much of the mean line is worth half its wire. Choice, by measurement.
_HALF_WORTH: Final = 0.05
_NEW: Final = -1
_NONE: Final = -2
# An open coil is one number: what is left on it, and two marks in its lowest bits.
_CARRIED: Final = 1  # into the zone of the line
_GAVE: Final = 2  # the whole of the line before, where the next may be run out in the same walk
_BITS: Final = 2


class InOrder(NamedTuple):
    """Pieces, and whether it is proven that nothing in this order costs less."""

    pieces: Pieces
    exact: bool


def cut_in_order(
    lines: Lines, coil: Coil, *, most_open: int, joins: bool, end_piece_mm: int, keep: int | None = None
) -> InOrder:
    """Cut lines in the order given, at the least cost that is found, never with more than `most_open` coils open.

    Coils are whole when they are opened. Of a joined line no piece is shorter than `end_piece_mm`; half a coil is taken
    where that is less. Where joins are not allowed, a line longer than a coil is joined all the same, of whole coils
    and a rest.

    Parameters
    ----------
    lines : Lines
        What to cut.
    coil : Coil
        What to cut from.
    most_open : int, > 0
        Coils that may be open at once.
    joins : bool
        Whether a line that fits on a coil may be joined of two pieces.
    end_piece_mm : int, >= 0
        Shortest piece of a joined line, so also the least way of a join from an end. [mm]
    keep : int, optional
        States kept after each line; more find a little more and take longer. Default: 128, of many lines 64.

    Returns
    -------
    InOrder
        The pieces; exact where one coil is open and no state was cut off.

    Raises
    ------
    MechanicsError
        If a length is not positive.
    """
    as_float = np.asarray(lines.length_mm, dtype=np.float64)
    require_positive(
        "Cutting", length_mm=as_float, coil_mm=np.array(coil.length_mm + 0.0), open=np.array(most_open + 0.0)
    )
    require_non_negative("Cutting", end_piece_mm=np.array(end_piece_mm + 0.0), coil_price=np.array(coil.price))
    if len(lines) == 0:
        none = np.zeros(0, dtype=np.int64)
        return InOrder(Pieces(none, none, none, none), exact=True)
    kept = keep or (_KEPT if len(lines) <= _MANY_LINES else _KEPT_OF_MANY)
    beam = _Beam(lines, coil, _Rules(most_open, joins, max(1, min(end_piece_mm, coil.length_mm // 2))), kept)
    chosen = beam.run()
    pieces = _replay(chosen, lines, coil, beam.rules)
    refuse_bad_pieces(pieces, lines.length_mm, coil.length_mm, beam.rules.end_piece)
    return InOrder(pieces, exact=most_open == 1 and not beam.cut_off)


class _Rules(NamedTuple):
    """Coils open at once, whether lines may be joined, and the shortest piece of a joined line [mm]."""

    open: int
    joins: bool
    end_piece: int


class _Move(NamedTuple):
    """Ways to cut a line: place of the coil it begins on and of the one it ends on; _NONE, _NEW. Axis move each."""

    first: IntArray
    last: IntArray

    @classmethod
    def all_of(cls, rules: _Rules) -> "_Move":
        places = range(rules.open)
        ways = [(_NONE, last) for last in places] + [(_NONE, _NEW)]
        if rules.joins:
            ways += [*permutations(places, 2), *((first, _NEW) for first in places)]
        first, last = np.array(ways, dtype=np.int64).T
        return cls(first, last)


class _Cut(NamedTuple):
    """How a line is cut by each way in each state, [state, move]: pieces in the order along the line.

    taken: from the first coil [mm]; whole: new coils in between; tail: from the last coil [mm]; possible.
    """

    taken: IntArray
    whole: IntArray
    tail: IntArray
    possible: BoolArray


def _cut_line(length: int, left: IntArray, move: _Move, coil: int, rules: _Rules) -> _Cut:
    """Cut one line from what is `left` [state, place] on the open coils, in every way."""
    begun, fresh = move.first >= 0, move.last == _NEW
    taken = np.where(begun, np.minimum(left[:, np.maximum(move.first, 0)], length - rules.end_piece), 0)
    room = np.where(fresh, coil, left[:, np.maximum(move.last, 0)])
    rest = length - taken
    whole = np.maximum(-((room - rest) // coil), 0)
    tail = rest - whole * coil
    # Without an open coil that is used up, whole coils would be one more than may be open, unless one is put aside.
    possible = (~begun | (taken >= rules.end_piece)) & ((whole == 0) | begun | fresh)
    joined = begun | (whole > 0)
    short = joined & (tail < rules.end_piece)
    # The last of the whole coils gives less, and what is left of it is an offcut.
    tail = np.where(short & fresh, rules.end_piece, tail)
    return _Cut(taken, whole, tail, possible & (fresh | ~short) & (tail <= room))


class _Beam:
    """The search: states after each line, and from which state and by which way each came."""

    def __init__(self, lines: Lines, coil: Coil, rules: _Rules, keep: int) -> None:
        self._lines, self._coil, self.rules, self._keep = lines, coil, rules, keep
        self._move = _Move.all_of(rules)
        self._mean = max(1.0, float(lines.length_mm.mean()))
        self._beside = [*lines.beside.tolist(), False]
        self._came: list[tuple[IntArray, IntArray]] = []
        self.cut_off = False

    def run(self) -> list[tuple[int, int]]:
        """Return the way by which each line is cut: places of its first and its last coil."""
        # Of each open coil, the longest first: what is left, and the two marks.
        state = np.zeros((1, self.rules.open), dtype=np.int64)
        cost = np.zeros(1)
        zone = self._lines.zone.tolist()
        for line, length in enumerate(self._lines.length_mm.tolist()):
            if line and zone[line] != zone[line - 1]:
                state = state & ~_CARRIED
            state, cost = self._go_on(line, length, state, cost)
        # Of equal cost, the one with most wire left together.
        best = int(np.lexsort((*(-state.T[::-1]), cost))[0])
        chosen = []
        for came, way in reversed(self._came):
            move = int(way[best])
            chosen.append((int(self._move.first[move]), int(self._move.last[move])))
            best = int(came[best])
        return chosen[::-1]

    def _go_on(self, line: int, length: int, state: IntArray, cost: FloatArray) -> tuple[IntArray, FloatArray]:
        move, coil = self._move, self._coil
        cut = _cut_line(length, state >> _BITS, move, coil.length_mm, self.rules)
        at, way = np.nonzero(cut.possible)
        taken, whole, tail = cut.taken[at, way], cut.whole[at, way], cut.tail[at, way]
        first, last = move.first[way], move.last[way]
        begun, fresh = first >= 0, last == _NEW
        gave, after, every = (state[at] & _GAVE) > 0, state[at] & ~_GAVE, np.arange(len(at))
        carried = whole + fresh
        for used, place, length_mm in ((begun, np.maximum(first, 0), taken), (~fresh, np.maximum(last, 0), tail)):
            there = after[every, place]
            carried = carried + (used & (there & _CARRIED == 0))
            after[every, place] = np.where(used, (there - (length_mm << _BITS)) | _CARRIED, there)
        aside = np.where(fresh, np.argmin(after, axis=1), 0)
        after[every, aside] = np.where(fresh, ((coil.length_mm - tail) << _BITS) | _CARRIED, after[every, aside])
        # What is used up is no coil any more, carried or not.
        after[after >> _BITS == 0] = 0
        cut_whole, ends_on = ~begun & (whole == 0), np.where(fresh, aside, last)
        if self._beside[line + 1]:
            after[every, ends_on] |= np.where(cut_whole, _GAVE, 0)
        after = -np.sort(-after, axis=1)
        join_price, carry_price = self._lines.join_price[line], self._lines.carry_price[line]
        spent = cost[at] + join_price * (begun + whole) + coil.price * (whole + fresh) + carry_price * carried
        if self._beside[line]:
            together = cut_whole & gave.any(axis=1) & ~gave[every, ends_on]
            spent = spent + self._lines.walk_price[line] * ~together
        next_walk = float(self._lines.walk_price[line + 1]) if self._beside[line + 1] else 0.0
        kept = self._best(after, spent, float(carry_price), next_walk)
        self._came.append((at[kept], way[kept]))
        return after[kept], spent[kept]

    def _best(self, state: IntArray, cost: FloatArray, carry_price: float, next_walk: float) -> IntArray:
        """Places of the states to keep, the best first."""
        left = (state >> _BITS).astype(np.float64)
        # A short remainder is worth less a metre than a long one: it is sooner put aside or joined on.
        worth = (left * left / (left + _HALF_WORTH * self._mean)).sum(axis=1)
        order = np.argsort(cost - self._coil.price / self._coil.length_mm * worth, kind="stable")
        if len(order) > _LOOKED_AT * self._keep:
            order = order[: _LOOKED_AT * self._keep]
            self.cut_off = True
        prices = (carry_price, 0.0) if self.rules.open == 1 else (0.0, next_walk)
        kept = order[~_never_better(state[order], cost[order], *prices)]
        if len(kept) > self._keep:
            self.cut_off = True
        return kept[: self._keep]


def _never_better(state: IntArray, cost: FloatArray, carry_price: float, next_walk: float) -> BoolArray:
    """Whether some other state has no shorter remainder and costs no more, [state].

    With a price, a coil that the other has not carried into the zone yet is counted as its cost; without, it is not:
    few states are worth that care where several coils are open. Where the next line may save a walk, so is that walk
    unless both gave the line before from the same place.
    """
    left, carried = state >> _BITS, state & _CARRIED
    longer = np.ones((len(cost), len(cost)), dtype=bool)  # [other, state]
    dearer = cost[:, None] - cost[None, :]
    for place in range(state.shape[1]):
        longer &= left[:, None, place] >= left[None, :, place]
        if carry_price > 0.0:
            dearer += carry_price * (carried[None, :, place] > carried[:, None, place])
    if next_walk > 0.0:
        gave = state & _GAVE
        dearer += next_walk * (gave[:, None] != gave[None, :]).any(axis=2)
    better = longer & (dearer <= 0.0)
    # Of states that are alike, the first stays.
    return np.asarray((better & ~(better.T & np.tri(len(cost), dtype=bool))).any(axis=0))


def _replay(chosen: list[tuple[int, int]], lines: Lines, coil: Coil, rules: _Rules) -> Pieces:
    """Pieces of the lines by the ways chosen."""
    pieces: list[tuple[int, int, int, int]] = []
    # Of each open coil what is left with its marks, and its number.
    slots = [(0, -1)] * rules.open
    beside = [*lines.beside.tolist(), False]
    coils = 0
    zone = lines.zone.tolist()
    for line, (first, last) in enumerate(chosen):
        if line and zone[line] != zone[line - 1]:
            slots = [(left & ~_CARRIED, number) for left, number in slots]
        length = int(lines.length_mm[line])
        move = _Move(np.array([first]), np.array([last]))
        cut = _cut_line(length, np.array([[left >> _BITS for left, _ in slots]]), move, coil.length_mm, rules)
        slots = [(left & ~_GAVE, number) for left, number in slots]
        taken, whole, tail = int(cut.taken[0, 0]), int(cut.whole[0, 0]), int(cut.tail[0, 0])
        if first >= 0:
            left, number = slots[first]
            run_off = coil.length_mm - (left >> _BITS)
            pieces.append((line, number, run_off, run_off + taken))
            slots[first] = ((left - (taken << _BITS)) | _CARRIED, number)
        between = length - taken - tail
        for _ in range(whole):
            piece = min(coil.length_mm, between)
            pieces.append((line, coils, 0, piece))
            between -= piece
            coils += 1
        if last == _NEW:
            aside = min(range(rules.open), key=lambda place: slots[place][0])
            pieces.append((line, coils, 0, tail))
            slots[aside] = (((coil.length_mm - tail) << _BITS) | _CARRIED, coils)
            coils += 1
        else:
            aside = last
            left, number = slots[last]
            run_off = coil.length_mm - (left >> _BITS)
            pieces.append((line, number, run_off, run_off + tail))
            slots[last] = ((left - (tail << _BITS)) | _CARRIED, number)
        slots = [slot if slot[0] >> _BITS else (0, -1) for slot in slots]
        if beside[line + 1] and first < 0 and whole == 0:
            slots[aside] = (slots[aside][0] | _GAVE, slots[aside][1])
        slots.sort(key=lambda slot: -slot[0])
    line_of, number_of, start, end = np.array(pieces, dtype=np.int64).T
    return Pieces(line_of, number_of, start, end)
