"""What friction in the clips takes off the tension along a row, and from where to strain it.

A wire that slides over a clip and turns there by theta has exp(-mu theta) of its tension left behind it
(capstan). On the span to the next clip only height changes it, as in the wire without friction. So the
shortfall D = T - T0 against the tension T0 of the frictionless chain stays as it is along a span, and becomes
f D + (f - 1) T0 over a clip with f = exp(-mu theta). With mu = 0 nothing is added: T is T0 to the last bit.

Along a span it is T + T^2/(2 EA) - w z that stays, so D is held too long by the share w z/EA, 4e-6 for ten
metres of height. The turns are those of the frictionless chain: where tension is lost the wire sags more
and turns more. The loss from this is of second order, 0.1 % of the tension where 5 % has been lost.

References
----------
L. Euler, 1762, for the capstan (from memory); Beer and Johnston, Statics, belt friction.
"""

from dataclasses import dataclass

import numpy as np

from wirerun.errors import MechanicsError
from wirerun.mechanics import BoolArray, FloatArray, FloatLike, IntArray
from wirerun.mechanics.batches import last_points, per_row
from wirerun.mechanics.chain import Chain
from wirerun.mechanics.ragged import Rows, find_rows
from wirerun.mechanics.refusals import refuse_unless_finite, refuse_unless_not_negative

#: What `StrainAdvice.advice` can say.
ADVICE = ("one end", "both ends", "middle")


@dataclass(frozen=True, slots=True)
class ClipTension:
    """Tension on the two sides of every clip; at the ends of a row both are the same.

    Attributes
    ----------
    near_n : FloatArray
        Tension in the span towards the row's first support, shape (n_supports,). [N]
    far_n : FloatArray
        Tension in the span towards its last support, shape (n_supports,). [N]
    """

    near_n: FloatArray
    far_n: FloatArray


@dataclass(frozen=True, slots=True)
class StrainAdvice:
    """From where to strain each row; all arrays of shape (n_rows,), NaN and -1 in rows without heights.

    A share is the least tension found at any support over the tension the wire would have there without
    friction: height, which no way of straining changes, is not held against a row. 1 where nothing is lost.

    Attributes
    ----------
    advice : IntArray
        Index into `ADVICE`: the first way, in its order, that keeps the share asked for. "one end": strained
        at the first support. "both ends": strained at either end in turn; the least is then in the middle.
        "middle": strained by a strainer in the middle as well as at both ends. -1 where unknown.
    enough : BoolArray
        Whether the way advised keeps the share asked for; only "middle" may fail to.
    one_end_share, both_ends_share, middle_share : FloatArray
        Share kept by each way. [-]
    far_end_n : FloatArray
        Tension at the last support when strained at the first. [N]
    both_ends_least_n : FloatArray
        Tension where the share is least when strained at both ends. [N]
    middle_least_n : FloatArray
        The same when strained in the middle as well. [N]
    middle_support : IntArray
        Index of the support where straining from both ends leaves the least share: where the strainer in the
        middle belongs.
    """

    advice: IntArray
    enough: BoolArray
    one_end_share: FloatArray
    both_ends_share: FloatArray
    middle_share: FloatArray
    far_end_n: FloatArray
    both_ends_least_n: FloatArray
    middle_least_n: FloatArray
    middle_support: IntArray


def capstan_factor(mu: FloatLike, turn_rad: FloatLike) -> FloatArray:
    """Share of the tension left behind a turn, exp(-mu turn), shape of the inputs broadcast [-].

    Two turns round a post at mu = 0.329 leave 1.6 %: 80 lb hold 5000 lb.

    Parameters
    ----------
    mu : any shape, >= 0
        Coefficient of friction. [-]
    turn_rad : broadcasts, >= 0, NaN passes through
        Angle by which the wire turns, all in all. [rad]

    Raises
    ------
    MechanicsError
        If a coefficient or turn is negative or infinite; names the first.

    References
    ----------
    Beer and Johnston, Statics, 11th ed., problem 8.104.
    """
    friction, turn = np.asarray(mu, dtype=np.float64), np.asarray(turn_rad, dtype=np.float64)
    refuse_unless_not_negative("Friction", mu=friction, turn_rad=np.where(np.isnan(turn), 0.0, turn))
    return np.asarray(np.exp(-friction * turn))


def clip_turns(chain: Chain, plan_turn_rad: FloatLike = 0.0) -> FloatArray:
    """Angle in space by which the wire turns at each support, shape (n_supports,) [rad]; NaN at row ends.

    The angle between the arriving and the leaving direction, each from the wire's own end slopes: at the
    middle of three supports at 0, 0.3, 0 m and 6 m it is 0.1022 rad at 1000 N, of which 0.0023 is sag. Up or
    down, left or right make no difference: the turn is never negative.

    Parameters
    ----------
    chain : Chain
        The wire.
    plan_turn_rad : one number or shape (n_supports,), within half a circle
        Angle by which the row itself turns at each support, seen from above; 0 in a straight row. [rad]

    Raises
    ------
    MechanicsError
        If a plan turn is not finite or more than half a circle.

    References
    ----------
    Spherical trigonometry: sin^2(theta/2) = sin^2((a - b)/2) + cos a cos b sin^2(phi/2), which keeps the
    digits of small angles.
    """
    count = chain.support_tension_n.size
    phi = np.broadcast_to(np.asarray(plan_turn_rad, dtype=np.float64), (count,))
    refuse_unless_finite("Turn at the clips", plan_turn_rad=phi)
    if (np.abs(phi) > np.pi).any():
        at = int(np.flatnonzero(np.abs(phi) > np.pi)[0])
        message = f"Turn at the clips: plan_turn_rad must be within half a circle, but is {phi[at]:g} at index {at}."
        raise MechanicsError(message)
    spans = chain.spans
    before, after = np.full(count, np.nan), np.full(count, np.nan)
    before[chain.span_from + 1] = np.arctan2(spans.vertical_end_n, spans.horizontal_n)
    after[chain.span_from] = np.arctan2(spans.vertical_start_n, spans.horizontal_n)
    half = np.sin(0.5 * (before - after)) ** 2 + np.cos(before) * np.cos(after) * np.sin(0.5 * phi) ** 2
    return np.asarray(2.0 * np.arcsin(np.sqrt(np.minimum(half, 1.0))))


class _Table:
    """Supports as a table, one column per row of wire, so that all rows are walked side by side."""

    def __init__(self, chain: Chain, rows: Rows, factor: FloatArray) -> None:
        self.rows = rows
        self.place = np.arange(rows.ordinal.size) - rows.first[rows.ordinal]
        self.size = (int(self.place.max(initial=-1)) + 1, rows.first.size)
        # Beyond the end of a shorter row nothing turns and nothing is lost.
        self.free = self.fill(chain.support_tension_n, 0.0)
        self.factor = self.fill(factor, 1.0)
        self.last = last_points(rows) - rows.first

    def fill(self, values: FloatArray, rest: float) -> FloatArray:
        table = np.full(self.size, rest)
        table[self.place, self.rows.ordinal] = values
        return table

    def flat(self, table: FloatArray) -> FloatArray:
        return np.asarray(table[self.place, self.rows.ordinal])

    def walk(self, source: IntArray, *, back: bool) -> tuple[FloatArray, FloatArray]:
        """Shortfall on arriving at and on leaving each support, walking away from each row's source.

        Minus infinity on the other side of the source: no pull comes from there.
        """
        arriving, leaving = np.full(self.size, -np.inf), np.full(self.size, -np.inf)
        short: FloatArray = np.full(self.size[1], -np.inf)
        for step in range(self.size[0]):
            place = self.size[0] - 1 - step if back else step
            at_source = source == place
            arriving[place] = np.where(at_source, 0.0, short)
            factor = self.factor[place]
            short = np.where(at_source, 0.0, factor * short + (factor - 1.0) * self.free[place])
            leaving[place] = short
        return arriving, leaving

    def tensions(self, ahead: tuple[FloatArray, FloatArray], back: tuple[FloatArray, FloatArray]) -> ClipTension:
        """Both sides of every clip when both walks pull: the greater of the two holds."""
        near, far = np.maximum(ahead[0], back[1]), np.maximum(ahead[1], back[0])
        return ClipTension(self.flat(self.free + near), self.flat(self.free + far))


def _table(chain: Chain, row: IntArray, mu: FloatLike, plan_turn_rad: FloatLike) -> _Table:
    row = np.asarray(row)
    if row.shape != chain.support_tension_n.shape:
        message = f"row has shape {row.shape}, but the chain {chain.support_tension_n.shape[0]} supports."
        raise MechanicsError(message)
    rows = find_rows(row)
    turn = clip_turns(chain, plan_turn_rad)
    factor = capstan_factor(per_row("mu", mu, rows)[rows.ordinal], turn)
    # The ends are tied, not slid over; the gaps of rows without heights show in the tension already.
    return _Table(chain, rows, np.where(np.isnan(factor), 1.0, factor))


def _least(tension: ClipTension, chain: Chain, rows: Rows) -> tuple[FloatArray, FloatArray, IntArray]:
    """Least share of each row, the tension there, and its support; shapes (n_rows,)."""
    lower = np.minimum(tension.near_n, tension.far_n)
    share = lower / chain.support_tension_n
    least = np.minimum.reduceat(share, rows.first) if rows.first.size else np.empty(0)
    at = np.flatnonzero(share == least[rows.ordinal])[::-1]
    support = np.full(rows.first.size, -1, dtype=np.int64)
    support[rows.ordinal[at]] = at  # of equals the first stays
    return least, np.where(support < 0, np.nan, lower[support]), support


def tension_with_friction(
    chain: Chain, row: IntArray, mu: FloatLike, *, from_far_end: bool = False, plan_turn_rad: FloatLike = 0.0
) -> ClipTension:
    """Tension on both sides of every clip of rows strained at one end, shapes (n_supports,) [N].

    The chain says what the wire would be without friction; at the strained end it is that. Level spans of
    6 m, 2.5 mm wire at 300 N: each clip turns the wire by 0.00756 rad, so that mu = 0.3 takes 0.68 N off at
    each, 11 N on the way through 100 m. Strained at the first support the near side of a clip is the tighter.

    Parameters
    ----------
    chain : Chain
        The wire without friction, from `solve_chain` or `chain_at_length`.
    row : shape (n_supports,), never falling
        Row of each support, as the chain was made with.
    mu : one number or shape (n_rows,), >= 0
        Coefficient of friction between wire and clip. [-]
    from_far_end : bool
        Strained at the last support of each row instead of the first.
    plan_turn_rad : one number or shape (n_supports,)
        As for `clip_turns`. [rad]

    Raises
    ------
    MechanicsError
        If ``row`` falls or does not fit the chain, or a coefficient or turn cannot be; names the place.

    References
    ----------
    The module's docstring, for the recurrence and its two errors.
    """
    table = _table(chain, row, mu, plan_turn_rad)
    if table.size[0] == 0:
        return ClipTension(chain.support_tension_n.copy(), chain.support_tension_n.copy())
    source = table.last if from_far_end else np.zeros_like(table.last)
    arriving, leaving = table.walk(source, back=from_far_end)
    near, far = (leaving, arriving) if from_far_end else (arriving, leaving)
    return ClipTension(table.flat(table.free + near), table.flat(table.free + far))


def strain_advice(
    chain: Chain, row: IntArray, mu: FloatLike, least_share: float, *, plan_turn_rad: FloatLike = 0.0
) -> StrainAdvice:
    """From where to strain each row so that friction leaves enough, with the numbers; arrays (n_rows,).

    The first of "one end", "both ends", "middle" that keeps ``least_share``. A row that keeps 0.80 strained
    at one end keeps about the square root of it, 0.89, from both ends, and the fourth root, 0.95, with a
    strainer in the middle besides.

    Parameters
    ----------
    chain : Chain
        The wire without friction, at the tension to be set.
    row : shape (n_supports,), never falling
        Row of each support, as the chain was made with.
    mu : one number or shape (n_rows,), >= 0
        Coefficient of friction between wire and clip. [-]
    least_share : float, from 0 to 1
        Least share of the tension without friction that must be left everywhere. [-]
    plan_turn_rad : one number or shape (n_supports,)
        As for `clip_turns`. [rad]

    Raises
    ------
    MechanicsError
        As `tension_with_friction`, or if the share is not from 0 to 1.

    References
    ----------
    Order of the ways by what they cost to do: choice.
    """
    if not 0.0 <= least_share <= 1.0:
        message = f"Advice on straining: least_share must be from 0 to 1, but is {least_share:g}."
        raise MechanicsError(message)
    table = _table(chain, row, mu, plan_turn_rad)
    rows = table.rows
    ahead, back = table.walk(np.zeros_like(table.last), back=False), table.walk(table.last, back=True)
    none = np.full(table.size, -np.inf)
    one, _, _ = _least(table.tensions(ahead, (none, none)), chain, rows)
    both, both_n, middle = _least(table.tensions(ahead, back), chain, rows)
    source = middle - rows.first
    onward, homeward = table.walk(source, back=False), table.walk(source, back=True)
    pulled = table.tensions(
        (np.maximum(ahead[0], onward[0]), np.maximum(ahead[1], onward[1])),
        (np.maximum(back[0], homeward[0]), np.maximum(back[1], homeward[1])),
    )
    three, three_n, _ = _least(pulled, chain, rows)
    kept = np.stack((one, both, three)) >= least_share
    known = ~np.isnan(one)
    advice = np.where(kept[0], 0, np.where(kept[1], 1, 2))
    far_end = (table.free + ahead[0])[table.last, np.arange(table.last.size)]
    return StrainAdvice(
        advice=np.where(known, advice, -1),
        enough=kept[0] | kept[1] | kept[2],
        one_end_share=one,
        both_ends_share=both,
        middle_share=three,
        far_end_n=far_end,
        both_ends_least_n=both_n,
        middle_least_n=three_n,
        middle_support=middle,
    )
