"""How many marks the slack passes that a freed wire lacks to be out of the way, without looking for the slack itself.

:mod:`.drop` finds the least length at which enough of a row is clear. Where lengths need only be told apart by marks
that is more than need be known. The looser a wire the longer it is, and the more is clear: so a curvature at which it
is no longer than to a mark and enough is clear says that what lacks does not pass the mark, and one at which it is no
shorter and too little is clear that it does. Most rows need one such curvature for each mark at their side, no more
than near it.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np

from wirerun.arrays import BoolArray, FloatArray, IntArray
from wirerun.mechanics.clearing import MIDDLE, middle_of_spans, not_clear
from wirerun.mechanics.give import Give
from wirerun.mechanics.ground_rows import load_per_metre
from wirerun.mechanics.hull import upper_hull
from wirerun.mechanics.supports import Supports
from wirerun.mechanics.taut_string import Pieces, StraightPart, length_of, pieces, power_step, taut_guess
from wirerun.mechanics.wire import Wire

# Curvatures tried before a row is left undecided: choice.
_MOST_ROUNDS = 12
# So near a mark, as a share of the wire's length, the side of it is not decided here.
_SURE = 1e-9
# The next curvature is to miss the mark by this share of the way to it, and by this at least, to the side on which what
# is seen now would decide: measured.
_ASIDE, _ASIDE_M = 0.05, 1e-6
# Tried first is a wire so much longer than to the first mark: most are far beyond it, or far before: measured. [m]
_BEYOND_M = 0.02
# Most that the pull changes by at once.
_REACH = 8.0
# Points are dropped where no more than this share of them is wanted still: measured.
_WORTH = 0.75
# Times that points are dropped by their neighbours before their hull is looked for: measured.
_SWEEPS = 2
# What of the points there is one of for each row.
_OF_ROWS = ("count", "low", "high")


class Freed(NamedTuple):
    """A wire over all rows, freed from its intermediate clips.

    Attributes
    ----------
    wire : Wire
        One number each.
    height_m : float, > 0
        Its height at both ends. [m]
    unstretched_m : shape (n_rows,)
        Length without pull; NaN where unknown. [m]
    give : Give
        How the end posts give way.
    share : float, above 0 and at most 1
        Least share of the middle of a row on which it must be out of the way. [-]
    """

    wire: Wire
    height_m: float
    unstretched_m: FloatArray
    give: Give
    share: float


@dataclass(frozen=True)
class _Points:
    """Points of the rows that are looked at, and spans that begin at them; shape (n_points,), of `_OF_ROWS` (n_rows,).

    Attributes
    ----------
    count : IntArray
        Points of each row, shape (n_rows,); 0 where it is not looked at.
    low, high : FloatArray
        Curvatures from which on `known` holds, and up to which `may` does, shape (n_rows,). [1/m]
    row : IntArray
        Row of each.
    x, bearing, ground, least_q : FloatArray
        As in `GroundRows`. [m, 1/m]
    known, may : BoolArray
        Points that bear the wire at greater curvatures, both ends of a row among them; those that may at lesser ones.
    begin, end, long : FloatArray
        Part of the span that is looked at, behind the point, and the span's length; all 0 at the last of a row. [m]
    """

    count: IntArray
    low: FloatArray
    high: FloatArray
    row: IntArray
    x: FloatArray
    bearing: FloatArray
    ground: FloatArray
    least_q: FloatArray
    known: BoolArray
    may: BoolArray
    begin: FloatArray
    end: FloatArray
    long: FloatArray

    @classmethod
    def of(cls, ground: Supports, heights_m: Sequence[float]) -> "_Points":
        """All of them, for one wire after another."""
        rows, times = ground.rows, len(heights_m)
        here = ground.from_middle(ground.z_m)
        part = np.zeros((3, rows.size))
        part[:, rows.near] = *middle_of_spans(rows, here.x_m), here.dx_m
        alike = (here.x_m, ground.z_m, ground.least_curvature, rows.ends, *part)
        x, z, least_q, ends, begin, end, long = (np.tile(values, times) for values in alike)
        count = np.tile(np.diff(rows.first, append=rows.size), times)
        row = np.repeat(np.arange(count.size), count)
        bearing = z.copy()
        bearing[ends] += np.repeat(heights_m, 2 * rows.count)
        low, high, may = np.zeros(count.size), np.full(count.size, np.inf), np.ones(z.size, dtype=np.bool_)
        return cls(count, low, high, row, x, bearing, z, least_q, ends, may, begin, end, long)

    def only(self, rows: BoolArray) -> "_Points":
        """Those of some rows, unless these are nearly all."""
        count = np.where(rows, self.count, 0)
        if count.sum() > _WORTH * self.row.size:
            return self
        kept = np.repeat(rows, self.count)
        of_points = {name: values[kept] for name, values in vars(self).items() if name not in _OF_ROWS}
        return replace(self, count=count, **of_points)

    def string(self, q: FloatArray) -> tuple[Pieces, IntArray]:
        """Pieces of the wire at a curvature of each row, between points counted as the second value does."""
        at = np.flatnonzero((self.may & (self.least_q < np.repeat(q, self.count))) | self.known)
        x = self.x[at]
        y = self.bearing[at] - 0.5 * q[self.row[at]] * x * x
        for _ in range(_SWEEPS):
            # What lies below the line between its neighbours bears nothing; taken off, others come to lie so.
            slope = np.diff(y) / np.diff(x)
            stands = self.known[at]
            stands[1:-1] |= slope[:-1] > slope[1:]
            at, x, y = at[stands], x[stands], y[stands]
        return pieces(x, self.bearing[at], upper_hull(x, y, self.known[at]), self.row[at]), at

    def learn(self, string: Pieces, at: IntArray, q: FloatArray, after: FloatArray) -> "_Points":
        """The same with what the pieces at one curvature say of another, without what does not hold there any more."""
        corner, ends = np.zeros((2, self.row.size), dtype=np.bool_)
        corner[at[string.start]] = corner[at[string.end]] = True
        last = np.cumsum(self.count)[self.count > 0] - 1
        ends[last] = ends[0] = True
        ends[last[:-1] + 1] = True
        looser, below, beyond = after > q, after < self.low, after > self.high
        of_looser, of_below, of_beyond = (np.repeat(which, self.count) for which in (looser, below, beyond))
        return replace(
            self,
            low=np.where(looser, q, np.where(below, 0.0, self.low)),
            high=np.where(looser, np.where(beyond, np.inf, self.high), q),
            known=ends | (self.known & ~of_below) | (corner & of_looser),
            may=(self.may | of_beyond) & (corner | of_looser),
        )

    def above(self, string: Pieces, at: IntArray, q: FloatArray) -> FloatArray:
        """Height of the wire above the ground at each point, from what `string` gives [m]."""
        # Each piece is a parabola in the station; the last of a row has the row's last point too.
        start, end, bend = at[string.start], at[string.end], 0.5 * q[string.owner]
        a, b = self.x[start], self.x[end]
        terms = bend, string.slope - bend * (a + b), self.bearing[start] - string.slope * a + bend * a * b
        points = end - start
        points[np.append(string.owner[1:] != string.owner[:-1], True)] += 1
        second, first, none = (np.repeat(term, points) for term in terms)
        return (second * self.x + first) * self.x + none - self.ground

    def not_clear(self, above: FloatArray, q: FloatArray, height_m: float) -> FloatArray:
        """Length of the middle of each row on which the wire is not out of the way, shape (n_rows,) [m]."""
        over = above - height_m
        # Between two points the wire stands no higher than at one of them, and lower than at both by this at most.
        dip = 0.125 * q.max() * self.long.max(initial=0.0) ** 2
        high, surely = over > 0.0, over > dip
        all_of_it = surely[1:] & surely[:-1]
        length = (self.end - self.begin)[:-1]
        part = np.flatnonzero((high[1:] | high[:-1]) & ~all_of_it & (length > 0.0))
        length *= all_of_it
        ends, middle = (over[part], over[part + 1]), (self.begin[part], self.end[part])
        length[part] = not_clear(ends, self.long[part], q[self.row[part]], np.zeros(len(part)), middle)
        found, here = np.zeros(self.count.size), self.count > 0
        found[here] = np.add.reduceat(length, (np.cumsum(self.count) - self.count)[here])
        return found


def marks_passed(
    ground: Supports, wires: Sequence[Freed], height_m: float, tolerance_m: float, marks_m: FloatArray
) -> IntArray:
    """How many of some marks the slack passes that each wire lacks to be out of the way, shape (n_wires, n_rows).

    A level row of 30 m, 2.5 mm wire at 1.2 m strung at 300 N, as for `length_to_drop`, which says that 136 mm are
    wanted:

    >>> level = Supports(np.linspace(0.0, 30.0, 31), np.zeros(31), np.zeros(31, dtype=int))
    >>> wire = Wire.from_diameter(2.5)
    >>> length = np.array([30.0 / (1.0 + 300.0 / wire.axial_stiffness_n)])
    >>> freed = Freed(wire, 1.2, length, rigid(1), level_share(1.2, 0.5))
    >>> marks_passed(level, [freed], 0.5, 0.0, np.array([0.1, 0.2])).tolist()
    [[1]]

    Parameters
    ----------
    ground : Supports
        As for `rest_on_ground`.
    wires : sequence of Freed
        The wires over it, at least one.
    height_m : float, > 0
        Height above the ground up to which a wire is out of the way. [m]
    tolerance_m : float, >= 0
        How much higher one may be that is left as it is. [m]
    marks_m : shape (n_marks,), at least one, rising, >= 0
        The marks. [m]

    Returns
    -------
    IntArray
        0 also for a wire that is out of the way, within the tolerance, as it is; -1 where it is not decided: what lacks
        is within a hair of a mark, or the row cannot be solved.
    """
    rows, shape = ground.rows, (len(wires), ground.rows.count)
    able = ~(ground.gaps | (rows.last == rows.first))
    if not able.all():
        point, passed = able[rows.ordinal], np.full(shape, -1)
        if able.any():
            some = Supports(ground.x_m[point], ground.z_m[point], rows.number[point])
            freed = [wire._replace(unstretched_m=wire.unstretched_m[able], give=wire.give.of(able)) for wire in wires]
            passed[:, able] = marks_passed(some, freed, height_m, tolerance_m, marks_m)
        return passed
    return _marks_passed(ground, wires, (height_m, height_m + tolerance_m), marks_m).reshape(shape)


def _marks_passed(
    ground: Supports, wires: Sequence[Freed], heights_m: tuple[float, float], marks: FloatArray
) -> IntArray:
    """As `marks_passed`, wire after wire, for rows that have heights, out of the way without and with the tolerance."""
    rows, of_wire = ground.rows, np.repeat(np.arange(len(wires)), ground.rows.count)
    high, share = (
        np.array(values)[of_wire] for values in zip(*((one.height_m, one.share) for one in wires), strict=True)
    )
    wire, give = Wire.each(one.wire for one in wires).of(of_wire), Give.joined([one.give for one in wires])
    length = np.concatenate([one.unstretched_m for one in wires])
    weight, ea, count = np.asarray(wire.weight_n_per_m), np.asarray(wire.axial_stiffness_n), length.size
    points = _Points.of(ground, [one.height_m for one in wires])
    dx, rise = (np.tile(values[rows.last] - values[rows.first], len(wires)) for values in (ground.x_m, ground.z_m))
    steps = np.sqrt(ground.dx_m**2 + ground.rise_m**2)
    path = np.tile(np.add.reduceat(steps, np.searchsorted(rows.near, rows.first)), len(wires)) + 2.0 * high
    allowed, sure = (1.0 - share) * MIDDLE * dx, _SURE * length

    def load(slack: FloatArray) -> FloatArray:
        return load_per_metre(weight, length + slack, dx, rise)

    string, at = points.string(np.zeros(count))
    line = StraightPart.of(string, ea, give)
    here = taut_guess(string, length + marks[0] + _BEYOND_M, load(np.zeros(count)), ea)
    points = points.learn(string, at, np.zeros(count), load(np.zeros(count)) / here)
    # Marks known to be passed; and the most that may be. A wire as long as the way along the ground lies on it.
    least, target = np.zeros(count, dtype=np.int64), np.zeros(count)
    most = np.minimum(np.searchsorted(marks, path - give.at(np.zeros(count)) - length), marks.size)
    not_down, as_it_is = np.zeros((2, count), dtype=np.bool_)
    left = (most > 0) & ~np.isnan(length)
    for _ in range(_MOST_ROUNDS):
        if not left.any():
            break
        points = points.only(left)
        q = load(target) / here
        string, at = points.string(q)
        total, grade = length_of(string, q, here, ea)
        slack = total - give.at(here) - length
        above = points.above(string, at, q)
        down, nearly = (points.not_clear(above, q, height) <= allowed for height in heights_m)
        not_down |= left & ~nearly & (slack >= sure)
        least = np.where(left & ~down, np.maximum(least, np.searchsorted(marks, slack - sure, side="right")), least)
        most = np.where(left & down, np.minimum(most, np.searchsorted(marks, slack + sure)), most)
        most = np.where(left & nearly & (slack <= -sure), 0, most)
        left &= (most > 0) & ~(not_down & (least == most))
        # Tried next is the next mark, which may tell too whether it is down as it is; where it does not, that.
        as_it_is = ~not_down & (as_it_is | (nearly & ~down) | (least > 0))
        target = np.where(as_it_is, 0.0, marks[np.minimum(least, marks.size - 1)])
        miss = slack - target
        aside = np.maximum(_ASIDE * np.abs(miss), _ASIDE_M)
        miss += np.where(np.where(as_it_is, nearly, down), aside, -aside)
        now = here[left]
        step = power_step(now, total[left], (grade - give.m_per_n)[left], miss[left], line.only(left))
        here[left] = np.clip(now - step, now / _REACH, now * _REACH)
        points = points.learn(string, at, q, load(target) / here)
    return np.where(left | np.isnan(length), -1, most)
