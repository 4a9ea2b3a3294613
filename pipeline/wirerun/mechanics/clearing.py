"""The least curvature at which a freed wire leaves enough of its row clear.

The lower the wire the looser it is, everywhere along the row: it is the lower of all shapes that its curvature q and
the ground allow. So the metres of a row that are not clear fall as q grows, and what is decided at two curvatures is
decided between them: a point that bears the wire at the smaller bears it, one that does not at the greater does not,
and a span all clear at the smaller or nowhere clear at the greater stays so. Only the rest is looked at again, and it
soon is next to nothing.
"""

from dataclasses import dataclass

import numpy as np

from wirerun.arrays import BoolArray, FloatArray, IntArray
from wirerun.errors import MechanicsError
from wirerun.mechanics.ground_rows import GroundRows
from wirerun.mechanics.hull import neighbours, upper_hull
from wirerun.mechanics.row_index import RowIndex, row_sums

#: Share of a row that is looked at, about its middle: choice.
MIDDLE = 0.8
#: Curvature that is as good as none, so that no division by it overflows. [1/m]
STRAIGHT = 1e-12

_MOST_ROUNDS = 200
# The curvature is found to this part of itself: a length to some nanometres in 100 m.
_CLOSE = 1e-8
# As good as the length that is asked for, by that of the middle.
_EVEN = 1e-10
# Where no curvature is known to be enough a greater one is tried, by this factor: measured.
_WIDER = 2.0
# The next curvature is this far from both bounds, by their distance: measured.
_OFF_BOUNDS = 1e-3
# Rounds after which bounds are halved.
_PATIENCE = 20


def middle_of_spans(rows: RowIndex, x_m: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Where the part of each span that is looked at begins and ends behind its near point, shape (n_spans,) each [m].

    Parameters
    ----------
    rows : RowIndex
        Where the rows lie.
    x_m : shape (n_points,)
        Station of each point from the middle of its row. [m]
    """
    near, half = rows.near, 0.5 * MIDDLE * (x_m[rows.last] - x_m[rows.first])[rows.of_span]
    start, long = x_m[near], x_m[near + 1] - x_m[near]
    return np.clip(-half - start, 0.0, long), np.clip(half - start, 0.0, long)


def not_clear(
    above_m: tuple[FloatArray, FloatArray],
    long_m: FloatArray,
    q: FloatArray,
    height_m: FloatArray,
    part_m: tuple[FloatArray, FloatArray],
) -> FloatArray:
    """Length of the part of each span over which the wire is not out of the way, shape (n_spans,) [m].

    Parameters
    ----------
    above_m : near and far, shape (n_spans,) each
        Height of the wire above the ground at the points; NaN where not known. [m]
    long_m : shape (n_spans,), > 0
        From the near to the far point. [m]
    q : shape (n_spans,)
        Curvature of the wire. [1/m]
    height_m : shape (n_spans,)
        Height up to which it is out of the way. [m]
    part_m : begin and end, shape (n_spans,) each
        The part that is looked at. [m]

    Returns
    -------
    FloatArray
        Exactly 0 where all is clear.
    """
    # Height above the ground at t behind the near point: u = above + lean t + bend t^2.
    u, bend = above_m[0], np.maximum(0.5 * q, STRAIGHT)
    lean = (above_m[1] - u) / long_m - bend * long_m
    spread = lean**2 - 4.0 * bend * (u - height_m)
    far = -0.5 * (lean + np.copysign(np.sqrt(np.maximum(spread, 0.0)), lean))
    crossing = far / bend, np.divide(u - height_m, far, out=np.zeros_like(far), where=far != 0.0)
    low, high = np.minimum(*crossing), np.maximum(*crossing)
    begin, end = part_m
    clear = np.where(spread < 0.0, 0.0, np.maximum(np.minimum(high, end) - np.maximum(low, begin), 0.0))
    return np.where(np.isnan(spread), np.nan, end - begin - clear)


@dataclass
class _Open:
    """What is not decided yet: points and spans of all rows, fewer every round; `row` counts as it did at first.

    Attributes
    ----------
    x, z, ground, least_q : FloatArray
        Of the points: station, what bears the wire, the ground, curvature up to which it does not. [m, 1/m]
    row : IntArray
        Row of each point.
    known, may : BoolArray
        Points that bear the wire at all curvatures left, and that may at one.
    near, owner : IntArray
        Of the spans: the near point, the far one being the next; and the row.
    begin, end : FloatArray
        Part that is looked at. [m]
    most, least : FloatArray
        Length that is not clear at the least and at the greatest curvature left. [m]
    done : FloatArray
        Length that is not clear at any curvature left, shape (n_rows,). [m]
    """

    x: FloatArray
    z: FloatArray
    ground: FloatArray
    least_q: FloatArray
    row: IntArray
    known: BoolArray
    may: BoolArray
    near: IntArray
    owner: IntArray
    begin: FloatArray
    end: FloatArray
    most: FloatArray
    least: FloatArray
    done: FloatArray

    @classmethod
    def of(cls, land: GroundRows) -> "_Open":
        """All of it."""
        rows = land.rows
        begin, end = middle_of_spans(rows, land.x_m)
        some = end > begin
        return cls(
            x=land.x_m,
            z=land.bearing.z_m,
            ground=land.ground_m,
            least_q=land.least_q,
            row=rows.ordinal,
            known=rows.ends,
            may=np.ones(rows.size, dtype=np.bool_),
            near=rows.near[some],
            owner=rows.of_span[some],
            begin=begin[some],
            end=end[some],
            most=(end - begin)[some],
            least=np.zeros(int(some.sum())),
            done=np.zeros(rows.count),
        )

    def at(self, q: FloatArray, height_m: FloatArray) -> tuple[BoolArray, FloatArray]:
        """Points that bear the wire at a curvature of each row, and length of each span that is not clear [m]."""
        of_point = q[self.row]
        may = self.may & (self.least_q < of_point)
        corner = upper_hull(self.x, self.z - 0.5 * of_point * self.x**2, self.known, may)
        left, right = neighbours(corner)
        above = []
        for point in (self.near, self.near + 1):
            a, b, x = left[point], right[point], self.x[point]
            rise = np.where(b > a, self.z[b] - self.z[a], 0.0) / np.where(b > a, self.x[b] - self.x[a], 1.0)
            sag = 0.5 * of_point[point] * (self.x[b] - x)
            above.append(self.z[a] + (rise - sag) * (x - self.x[a]) - self.ground[point])
        long = self.x[self.near + 1] - self.x[self.near]
        up = not_clear((above[0], above[1]), long, q[self.owner], height_m[self.owner], (self.begin, self.end))
        return corner, up

    def learn(self, corner: BoolArray, up: FloatArray, short: BoolArray, settled: BoolArray) -> None:
        """Take in what was found at a curvature of each row, and drop what that decides.

        Parameters
        ----------
        corner : [point]
            Points that bear the wire there.
        up : [span]
            Length that is not clear there. [m]
        short, settled : [row]
            Rows that need a greater curvature; rows that need no more.
        """
        of_point, of_span = short[self.row], short[self.owner]
        self.known = self.known | (corner & of_point)
        self.may = self.may & (corner | of_point)
        self.most, self.least = np.where(of_span, up, self.most), np.where(of_span, self.least, up)
        full = self.least >= self.end - self.begin
        self.done = self.done + row_sums(self.owner, np.where(full, self.least, 0.0), self.done.size)
        self._keep(~settled[self.owner] & (self.most > 0.0) & ~full)

    def _keep(self, spans: BoolArray) -> None:
        """Keep these spans, and of the points those that may bear the wire over them."""
        near = self.near[spans]
        gap = np.cumsum(self.known) - 1
        wanted = np.zeros(int(self.known.sum()) + 1, dtype=np.bool_)
        wanted[gap[near]] = True
        needed = self.may.copy()
        needed[near] = needed[near + 1] = True
        # A gap reaches from the point that bears the wire before it to the one behind it.
        kept = (wanted[gap] & needed) | (self.known & wanted[gap - 1] & (gap > 0))
        self.x, self.z, self.ground, self.least_q = (part[kept] for part in (self.x, self.z, self.ground, self.least_q))
        self.row, self.known, self.may = self.row[kept], self.known[kept], self.may[kept]
        self.near, self.owner = (np.cumsum(kept) - 1)[near], self.owner[spans]
        self.begin, self.end, self.most, self.least = (
            part[spans] for part in (self.begin, self.end, self.most, self.least)
        )


def least_to_clear(land: GroundRows, height_m: FloatArray, share: FloatArray, first_q: FloatArray) -> FloatArray:
    """Least q at which the wanted share of each row's middle is clear, shape (n_rows,) [1/m].

    Parameters
    ----------
    land : GroundRows
        The ground.
    height_m : shape (n_rows,), > 0
        Height above the ground up to which the wire is out of the way. [m]
    share : shape (n_rows,), above 0 and at most 1
        What is wanted.
    first_q : shape (n_rows,), >= `STRAIGHT`
        Curvature that is tried first: `STRAIGHT`, or the greatest at which too little is known to be clear. [1/m]

    Returns
    -------
    FloatArray
        `STRAIGHT` where enough is clear of a taut wire too.

    Raises
    ------
    MechanicsError
        If a row is left without.

    References
    ----------
    Bounds that hold the root, and a secant whose standing end counts for less each time it stands: M. Dowell and P.
    Jarratt, The "Pegasus" method for computing the root of an equation, BIT 12 (1972) 503-508 (not seen; cited by
    the mathematics library of Apache Commons for the same step).
    """
    rows = land.rows
    middle = MIDDLE * land.dx_m
    allowed = (1.0 - share) * middle
    left = _Open.of(land)
    low, high = np.zeros(rows.count), np.full(rows.count, np.inf)
    over, under = np.full(rows.count, np.nan), np.full(rows.count, np.nan)  # length too much at the bounds
    was_short, settled = np.zeros(rows.count, dtype=np.bool_), np.zeros(rows.count, dtype=np.bool_)
    q = first_q
    for number in range(_MOST_ROUNDS):
        corner, up = left.at(q, height_m)
        length = left.done + row_sums(left.owner, up, rows.count)
        excess = length - allowed
        short = excess > 0.0
        moved = np.where(short, over, under)
        both = (short == was_short) & (moved != 0.0)
        stands = np.divide(moved, moved + excess, out=np.ones_like(moved), where=both)
        over, under = np.where(short, excess, over * stands), np.where(short, under * stands, excess)
        even = (np.abs(excess) <= _EVEN * middle) & (length > 0.0)
        low, high = np.where(short & ~settled, q, low), np.where((~short | even) & ~settled, q, high)
        settled |= even | (high <= np.maximum((1.0 + _CLOSE) * low, STRAIGHT))
        if settled.all():
            return high
        left.learn(corner, up, short, settled)
        was_short = short
        bounded = np.isfinite(high)
        part = np.clip(over / (over - under), _OFF_BOUNDS, 1.0 - _OFF_BOUNDS)
        # Without a lower bound, or where all is clear at the upper however far from the root, the secant says nothing.
        halved = ~bounded | (low == 0.0) | (under == 0.0) | (number > _PATIENCE)
        part = np.where(halved, 0.5, part)
        wider = np.where(low > STRAIGHT, _WIDER * low, np.maximum(16.0 * height_m, 1e-3) / land.dx_m**2)
        q = np.where(settled, high, np.where(bounded, low + part * (np.where(bounded, high, 0.0) - low), wider))
    bad = int(np.flatnonzero(land.able)[np.flatnonzero(~settled)[0]])
    message = f"Length to drop: no curvature found for row number {bad} (counted from 0)."
    raise MechanicsError(message)
