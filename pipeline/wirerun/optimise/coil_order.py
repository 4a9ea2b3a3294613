"""Lines of wire cut from coils in the order in which a crew runs them out, with few coils open at once.

Part coils come first: so long as there is one, no whole coil is begun. Only a line that they cannot be cut for, whether
it may not be joined or a piece would be too short, is cut from whole ones while they wait.

A state is what is left on the coils that are open, which of them have been carried into the zone, which one gave the
whole of the line before, how many part coils have been begun, and what was spent so far. For every line it goes on in
one of these ways: the line is cut whole from an open coil; from a new coil, for which the shortest remainder is put
aside; begun on an open coil to its end and joined to the next open one or to a new one. A line longer than a coil has
whole coils in between. A line beside the one before it, both whole and from two coils, saves a walk. Longer remainders
for less money are never worse, so other states are struck out; of the rest the best are kept, by what they cost less
what their remainders are worth (a beam search). With one coil open few states are left, and none is cut off: the result
is then exact.
"""

from functools import lru_cache
from itertools import permutations
from typing import Final, NamedTuple

import numpy as np

from wirerun.errors import MechanicsError
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

    New coils are the part coils in their order, then whole ones; a part coil shorter than `end_piece_mm` is refused. Of
    a joined line no piece is shorter than `end_piece_mm`; half a coil is taken
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
        The pieces; exact where one coil is open, there are no part coils, and no state was cut off.

    Raises
    ------
    MechanicsError
        If a length is not positive, a part coil is longer than a whole one or shorter than the shortest piece.
    """
    as_float = np.asarray(lines.length_mm, dtype=np.float64)
    require_positive(
        "Cutting", length_mm=as_float, coil_mm=np.array(coil.length_mm + 0.0), open=np.array(most_open + 0.0)
    )
    require_non_negative("Cutting", end_piece_mm=np.array(end_piece_mm + 0.0), coil_price=np.array(coil.price))
    if len(lines) == 0:
        none = np.zeros(0, dtype=np.int64)
        return InOrder(Pieces(none, none, none, none, none), exact=True)
    kept = keep or (_KEPT if len(lines) <= _MANY_LINES else _KEPT_OF_MANY)
    rules = _Rules(most_open, joins, shortest_piece_mm(end_piece_mm, coil.length_mm))
    if not all(rules.end_piece <= part <= coil.length_mm for part in coil.parts_mm):
        message = f"Cutting in order: a part coil is not within {rules.end_piece} and {coil.length_mm} mm"
        raise MechanicsError(message)
    beam = _Beam(lines, _Store.of(lines, coil), rules, kept)
    chosen = beam.run()
    pieces = _replay(chosen, lines, beam.store, beam.rules)
    refuse_bad_pieces(pieces, lines.length_mm, coil, beam.rules.end_piece)
    # A part coil is used to its end where it lies between two others; now and then it were cheaper to leave some of it.
    return InOrder(pieces, exact=most_open == 1 and not beam.cut_off and not coil.parts_mm)


class _Rules(NamedTuple):
    """Coils open at once, whether lines may be joined, and the shortest piece of a joined line [mm]."""

    open: int
    joins: bool
    end_piece: int


def shortest_piece_mm(end_piece_mm: int, coil_mm: int) -> int:
    """Return the shortest piece that a joined line may have: half a coil at most, for a longer one has no room."""
    return max(1, min(end_piece_mm, coil_mm // 2))


class _Store(NamedTuple):
    """New coils in the order in which they are begun: part coils, then as many whole ones as any line takes.

    end_mm: where each of them would end, were they one behind the other, from 0.
    """

    coil: Coil
    size_mm: IntArray
    end_mm: IntArray

    @classmethod
    def of(cls, lines: Lines, coil: Coil) -> "_Store":
        whole = -(-int(lines.length_mm.max()) // coil.length_mm) + 2
        size = np.array([*coil.parts_mm, *[coil.length_mm] * whole], dtype=np.int64)
        return cls(coil, size, np.concatenate([[0], np.cumsum(size)]))

    @property
    def parts(self) -> int:
        return len(self.coil.parts_mm)

    def next(self, length: int, begun: IntArray, *, joins: bool) -> IntArray:
        """Place of the next new coil for a line, from how many part coils have been begun, [state]."""
        if joins:
            return begun
        fits = (begun < self.parts) & (self.size_mm[begun] >= length)
        return np.where(fits, begun, self.parts)


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

    taken: from the first coil [mm]; new: place of the first new coil in the store; whole: new coils in between; tail:
    from the last coil [mm]; possible.
    """

    taken: IntArray
    new: IntArray
    whole: IntArray
    tail: IntArray
    possible: BoolArray

    def or_else(self, other: "_Cut") -> "_Cut":
        """Return the same, and where that is not possible the other."""
        return _Cut(*(np.where(self.possible, mine, its) for mine, its in zip(self, other, strict=True)))


def _cut_line(length: int, left: IntArray, parts: IntArray, move: _Move, store: _Store, rules: _Rules) -> _Cut:
    """Cut one line in every way, from what is `left` on open coils [state, place], so many `parts` being begun [state].

    Of part coils first; where that cannot be, of whole ones.
    """
    first = _cut_from(length, left, store.next(length, parts, joins=rules.joins), move, store, rules)
    if not store.parts:
        return first
    return first.or_else(_cut_from(length, left, np.full(len(parts), store.parts), move, store, rules))


def _cut_from(length: int, left: IntArray, new: IntArray, move: _Move, store: _Store, rules: _Rules) -> _Cut:
    """Cut one line in every way, with new coils from a place in the store on, [state]."""
    begun, fresh = move.first >= 0, move.last == _NEW
    taken = np.where(begun, np.minimum(left[:, np.maximum(move.first, 0)], length - rules.end_piece), 0)
    room = np.where(fresh, 0, left[:, np.maximum(move.last, 0)])
    rest = length - taken
    start = store.end_mm[new][:, None]
    # So many new coils that what the last one has to give fits on it; of them the last is no coil in between.
    ends_in = np.searchsorted(store.end_mm, start + rest - room) - new[:, None]
    whole = np.maximum(ends_in - fresh, 0)
    tail = rest - (store.end_mm[new[:, None] + whole] - start)
    room = np.where(fresh, store.size_mm[new[:, None] + whole], room)
    # Without an open coil that is used up, whole coils would be one more than may be open, unless one is put aside.
    possible = (~begun | (taken >= rules.end_piece)) & ((whole == 0) | begun | fresh)
    joined = begun | (whole > 0)
    short = joined & (tail < rules.end_piece)
    # The last of the coils in between gives less, and what is left of it is an offcut.
    lent = np.where(short, rules.end_piece - tail, 0)
    between = store.size_mm[np.maximum(new[:, None] + whole - 1, 0)] - lent
    possible &= ~short | (fresh & ((whole == 0) | (between >= rules.end_piece)))
    at = np.broadcast_to(new[:, None], possible.shape)
    return _Cut(taken, at, whole, tail + np.where(fresh, lent, 0), possible & (tail <= room))


class _Beam:
    """The search: states after each line, and from which state and by which way each came."""

    def __init__(self, lines: Lines, store: _Store, rules: _Rules, keep: int) -> None:
        self._lines, self.store, self.rules, self._keep = lines, store, rules, keep
        self._move = _Move.all_of(rules)
        self._mean = max(1.0, float(lines.length_mm.mean()))
        # What the part coils are worth that have not been begun, by how many have been.
        parts = self._worth(np.array(store.coil.parts_mm, dtype=np.float64))
        self._in_store = np.append(np.cumsum(parts[::-1])[::-1], 0.0)
        self._beside = [*lines.beside.tolist(), False]
        self._came: list[tuple[IntArray, IntArray]] = []
        self.cut_off = False

    def run(self) -> list[tuple[int, int]]:
        """Return the way by which each line is cut: places of its first and its last coil."""
        # Of each open coil, the longest first: what is left, and the two marks.
        state, parts = np.zeros((1, self.rules.open), dtype=np.int64), np.zeros(1, dtype=np.int64)
        cost = np.zeros(1)
        zone = self._lines.zone.tolist()
        for line, length in enumerate(self._lines.length_mm.tolist()):
            if line and zone[line] != zone[line - 1]:
                state = state & ~_CARRIED
            state, parts, cost = self._go_on(line, length, state, parts, cost)
        # Of equal cost, the one with most wire left together.
        best = int(np.lexsort((*(-state.T[::-1]), cost))[0])
        chosen = []
        for came, way in reversed(self._came):
            move = int(way[best])
            chosen.append((int(self._move.first[move]), int(self._move.last[move])))
            best = int(came[best])
        return chosen[::-1]

    def _go_on(
        self, line: int, length: int, state: IntArray, parts: IntArray, cost: FloatArray
    ) -> tuple[IntArray, IntArray, FloatArray]:
        """States, part coils begun and costs after a line, from those before it."""
        move, store = self._move, self.store
        cut = _cut_line(length, state >> _BITS, parts, move, store, self.rules)
        at, way = np.nonzero(cut.possible)
        taken, new, whole, tail, _ = (each[at, way] for each in cut)
        first, last = move.first[way], move.last[way]
        begun, fresh = first >= 0, last == _NEW
        gave, after, every = (state[at] & _GAVE) > 0, state[at] & ~_GAVE, np.arange(len(at))
        opened = whole + fresh
        carried = opened
        for used, place, length_mm in ((begun, np.maximum(first, 0), taken), (~fresh, np.maximum(last, 0), tail)):
            there = after[every, place]
            carried = carried + (used & (there & _CARRIED == 0))
            after[every, place] = np.where(used, (there - (length_mm << _BITS)) | _CARRIED, there)
        aside = np.where(fresh, np.argmin(after, axis=1), 0)
        rest = store.size_mm[new + whole] - tail
        after[every, aside] = np.where(fresh, (rest << _BITS) | _CARRIED, after[every, aside])
        # What is used up is no coil any more, carried or not.
        after[after >> _BITS == 0] = 0
        cut_whole, ends_on = ~begun & (whole == 0), np.where(fresh, aside, last)
        if self._beside[line + 1]:
            after[every, ends_on] |= np.where(cut_whole, _GAVE, 0)
        after = -np.sort(-after, axis=1)
        of_parts = np.clip(store.parts - new, 0, opened)
        then = parts[at] + of_parts
        join_price, carry_price = self._lines.join_price[line], self._lines.carry_price[line]
        bought = store.coil.price * (opened - of_parts)
        spent = cost[at] + join_price * (begun + whole) + bought + carry_price * carried
        if self._beside[line]:
            together = cut_whole & gave.any(axis=1) & ~gave[every, ends_on]
            spent = spent + self._lines.walk_price[line] * ~together
        next_walk = float(self._lines.walk_price[line + 1]) if self._beside[line + 1] else 0.0
        kept = self._best(after, then, spent, (float(carry_price), next_walk))
        self._came.append((at[kept], way[kept]))
        return after[kept], then[kept], spent[kept]

    def _worth(self, left: FloatArray) -> FloatArray:
        """What remainders are worth, in metres of wire on a whole coil."""
        # A short remainder is worth less a metre than a long one: it is sooner put aside or joined on.
        return left * left / (left + _HALF_WORTH * self._mean)

    def _best(self, state: IntArray, parts: IntArray, cost: FloatArray, prices: tuple[float, float]) -> IntArray:
        """Places of the states to keep, the best first; prices of carrying a coil and of the next line's walk."""
        coil = self.store.coil
        worth = self._worth((state >> _BITS).astype(np.float64)).sum(axis=1) + self._in_store[parts]
        order = np.argsort(cost - coil.price / coil.length_mm * worth, kind="stable")
        if len(order) > _LOOKED_AT * self._keep:
            order = order[: _LOOKED_AT * self._keep]
            self.cut_off = True
        counted = (prices[0], 0.0) if self.rules.open == 1 else (0.0, prices[1])
        kept = order[~_never_better(state[order], parts[order], cost[order], *counted)]
        if len(kept) > self._keep:
            self.cut_off = True
        return kept[: self._keep]


def _never_better(
    state: IntArray, parts: IntArray, cost: FloatArray, carry_price: float, next_walk: float
) -> BoolArray:
    """Whether some state before it, of as many part coils begun, has no shorter remainder and costs no more, [state].

    States come by what they cost less what their remainders are worth, so a better one comes before. With a price, a
    coil that the other has not carried into the zone yet is counted as its cost; without, it is not: few states are
    worth that care where several coils are open. Where the next line may save a walk, so is that walk unless both gave
    the line before from the same place.
    """
    # Small whole numbers are compared in half the time; most of the search goes here.
    left, carried = (state >> _BITS).T.astype(np.int32), state.T & _CARRIED
    better = _before(len(cost)).copy()
    if carry_price > 0.0 or next_walk > 0.0:
        dearer = cost[:, None] - cost[None, :]  # [other, state]
        if carry_price > 0.0:
            for place in carried:
                dearer += carry_price * (place[None, :] > place[:, None])
        if next_walk > 0.0:
            gave = state & _GAVE
            dearer += next_walk * (gave[:, None] != gave[None, :]).any(axis=2)
        better &= dearer <= 0.0
    else:
        better &= cost[:, None] <= cost[None, :]
    for place in left:
        better &= place[:, None] >= place[None, :]
    if parts.any():
        better &= parts[:, None] == parts[None, :]
    return np.asarray(better.any(axis=0))


@lru_cache(maxsize=8)
def _before(count: int) -> BoolArray:
    """Whether the first of two places comes before the second, [place, place]."""
    return ~np.tri(count, dtype=bool)


def _replay(chosen: list[tuple[int, int]], lines: Lines, store: _Store, rules: _Rules) -> Pieces:
    """Pieces of the lines by the ways chosen."""
    pieces: list[tuple[int, int, int, int]] = []
    # Of each open coil what is left with its marks, and its number.
    slots = [(0, -1)] * rules.open
    beside = [*lines.beside.tolist(), False]
    size: list[int] = []
    parts: list[int] = []
    begun_parts = 0
    zone = lines.zone.tolist()
    for line, (first, last) in enumerate(chosen):
        if line and zone[line] != zone[line - 1]:
            slots = [(left & ~_CARRIED, number) for left, number in slots]
        length = int(lines.length_mm[line])
        move = _Move(np.array([first]), np.array([last]))
        left_mm = np.array([[left >> _BITS for left, _ in slots]])
        cut = _cut_line(length, left_mm, np.array([begun_parts]), move, store, rules)
        slots = [(left & ~_GAVE, number) for left, number in slots]
        taken, new, whole, tail, _ = (int(each[0, 0]) for each in cut)
        if first >= 0:
            left, number = slots[first]
            run_off = size[number] - (left >> _BITS)
            pieces.append((line, number, run_off, run_off + taken))
            slots[first] = ((left - (taken << _BITS)) | _CARRIED, number)
        between = length - taken - tail
        for place in range(new, new + whole + (last == _NEW)):
            size.append(int(store.size_mm[place]))
            parts.append(place if place < store.parts else -1)
            begun_parts += place < store.parts
        for number in range(len(size) - whole - (last == _NEW), len(size) - (last == _NEW)):
            piece = min(size[number], between)
            pieces.append((line, number, 0, piece))
            between -= piece
        if last == _NEW:
            aside = min(range(rules.open), key=lambda place: slots[place][0])
            pieces.append((line, len(size) - 1, 0, tail))
            slots[aside] = (((size[-1] - tail) << _BITS) | _CARRIED, len(size) - 1)
        else:
            aside = last
            left, number = slots[last]
            run_off = size[number] - (left >> _BITS)
            pieces.append((line, number, run_off, run_off + tail))
            slots[last] = ((left - (tail << _BITS)) | _CARRIED, number)
        slots = [slot if slot[0] >> _BITS else (0, -1) for slot in slots]
        if beside[line + 1] and first < 0 and whole == 0:
            slots[aside] = (slots[aside][0] | _GAVE, slots[aside][1])
        slots.sort(key=lambda slot: -slot[0])
    line_of, number_of, start, end = np.array(pieces, dtype=np.int64).T
    return Pieces(line_of, number_of, start, end, np.array(parts, dtype=np.int64))
