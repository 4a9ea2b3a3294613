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
The capstan: dT/T = mu dtheta, integrated; named after L. Euler and J. A. Eytelwein (Handbuch der Statik fester Koerper,
1808), as the article "Capstan equation" of probsee.com tells. Beer and Johnston, Statics, belt friction.
"""

from dataclasses import dataclass

import numpy as np

from wirerun.arrays import FloatArray, FloatLike, IntArray
from wirerun.errors import MechanicsError
from wirerun.mechanics.chain import Chain
from wirerun.mechanics.refusals import require_finite, require_non_negative

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
        "middle": strained by a strainer in the middle as well as at both ends, which may still keep less.
        -1 where unknown.
    one_end_share : FloatArray
        Share kept when strained at the first support. [-]
    far_end_n : FloatArray
        Tension at the last support when strained at the first. [N]
    middle_support : IntArray
        Index of the support where straining from both ends leaves the least share: where the strainer in the
        middle belongs.
    """

    advice: IntArray
    one_end_share: FloatArray
    far_end_n: FloatArray
    middle_support: IntArray


def capstan_factor(mu: FloatLike, turn_rad: FloatLike) -> FloatArray:
    """Share of the tension left behind a turn, exp(-mu turn), shape of the inputs broadcast [-].

    Two turns round a post at mu = 0.329 leave 1.6 %, so that 80 lb hold 5000 lb:

    >>> round(5000.0 * float(capstan_factor(0.329, 2.0 * 2.0 * np.pi)))
    80

    Parameters
    ----------
    mu : any shape, >= 0
        Coefficient of friction. [-]
    turn_rad : broadcasts, >= 0, NaN passes through
        Angle by which the wire turns, all in all. [rad]

    Returns
    -------
    FloatArray
        From 1, nothing lost, down to 0. [-]

    Raises
    ------
    MechanicsError
        If a coefficient or turn is negative or infinite; names the first.

    References
    ----------
    Beer and Johnston, Statics, 11th ed., problem 8.104.
    """
    friction, turn = np.asarray(mu, dtype=np.float64), np.asarray(turn_rad, dtype=np.float64)
    require_non_negative("Friction", mu=friction, turn_rad=np.where(np.isnan(turn), 0.0, turn))
    return np.asarray(np.exp(-friction * turn))


def clip_turns(chain: Chain, plan_turn_rad: FloatLike = 0.0) -> FloatArray:
    """Angle in space by which the wire turns at each support, shape (n_supports,) [rad]; NaN at row ends.

    The angle between the arriving and the leaving direction, each from the wire's own end slopes. Up or
    down, left or right make no difference: the turn is never negative. Over a crest of 0.3 m, of which 0.0023 is sag:

    >>> crest = Supports(np.array([0.0, 6.0, 12.0]), np.array([0.0, 0.3, 0.0]), np.zeros(3, dtype=int))
    >>> clip_turns(solve_chain(crest, Wire.from_diameter(2.5), 1000.0)).round(4).tolist()
    [nan, 0.1022, nan]

    Parameters
    ----------
    chain : Chain
        The wire.
    plan_turn_rad : one number or shape (n_supports,), within half a circle
        Angle by which the row itself turns at each support, seen from above; 0 in a straight row. [rad]

    Returns
    -------
    FloatArray
        Shape (n_supports,). [rad]

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
    require_finite("Turn at the clips", plan_turn_rad=phi)
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

    def __init__(self, chain: Chain, factor: FloatArray) -> None:
        self.rows = rows = chain.rows
        self.place = np.arange(rows.size) - rows.first[rows.ordinal]
        self.longest = int(self.place.max(initial=-1)) + 1
        self.size = (self.longest, rows.count)
        # Beyond the end of a shorter row nothing turns and nothing is lost.
        self.free = self.fill(chain.support_tension_n, 0.0)
        self.factor = self.fill(factor, 1.0)
        self.last = rows.last - rows.first

    def fill(self, values: FloatArray, rest: float) -> FloatArray:
        table = np.full(self.size, rest)
        table[self.place, self.rows.ordinal] = values
        return table

    def flat(self, table: FloatArray) -> FloatArray:
        return np.asarray(table[self.place, self.rows.ordinal])

    def walk(self, source: IntArray, *, back: bool) -> tuple[FloatArray, FloatArray]:
        """Shortfall on arriving at and on leaving each support, walking away from each row's source.

        Minus infinity on the other side of the source: no pull comes from there. A round for each support of the
        longest row, in which all rows take a step.
        """
        arriving, leaving = np.full(self.size, -np.inf), np.full(self.size, -np.inf)
        short: FloatArray = np.full(self.size[1], -np.inf)
        for step in range(self.longest):
            place = self.longest - 1 - step if back else step
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


def _table(chain: Chain, mu: FloatLike, plan_turn_rad: FloatLike) -> _Table:
    turn = clip_turns(chain, plan_turn_rad)
    factor = capstan_factor(chain.rows.per_row("mu", mu)[chain.rows.ordinal], turn)
    # The ends are tied, not slid over; the gaps of rows without heights show in the tension already.
    return _Table(chain, np.where(np.isnan(factor), 1.0, factor))


def _least(tension: ClipTension, chain: Chain) -> tuple[FloatArray, IntArray]:
    """Least share of each row, and its support; shapes (n_rows,)."""
    rows = chain.rows
    share = np.minimum(tension.near_n, tension.far_n) / chain.support_tension_n
    least = np.minimum.reduceat(share, rows.first) if rows.count else np.empty(0)
    at = np.flatnonzero(share == least[rows.ordinal])[::-1]
    support = np.full(rows.count, -1, dtype=np.int64)
    support[rows.ordinal[at]] = at  # of equals the first stays
    return least, support


def tension_with_friction(
    chain: Chain, mu: FloatLike, *, from_far_end: bool = False, plan_turn_rad: FloatLike = 0.0
) -> ClipTension:
    """Tension on both sides of every clip of rows strained at one end, shapes (n_supports,) [N].

    The chain says what the wire would be without friction; at the strained end it is that. Strained at the first
    support the near side of a clip is the tighter. 96 m of level 6 m spans, 2.5 mm wire at 300 N: each clip turns the
    wire by 0.00756 rad, so that mu = 0.3 takes 0.68 N off at each.

    >>> level = Supports(6.0 * np.arange(17.0), np.zeros(17), np.zeros(17, dtype=int))
    >>> tension = tension_with_friction(solve_chain(level, Wire.from_diameter(2.5), 300.0), 0.3)
    >>> round(300.0 - float(tension.far_n[1]), 2), round(300.0 - float(tension.far_n[-1]), 1)
    (0.68, 10.0)

    Parameters
    ----------
    chain : Chain
        The wire without friction, from `solve_chain` or `chain_at_length`.
    mu : one number or shape (n_rows,), >= 0
        Coefficient of friction between wire and clip. [-]
    from_far_end : bool
        Strained at the last support of each row instead of the first.
    plan_turn_rad : one number or shape (n_supports,)
        As for `clip_turns`. [rad]

    Returns
    -------
    ClipTension
        Tension in the span before and in the span after each clip.

    Raises
    ------
    MechanicsError
        If a coefficient or turn cannot be; names the place.

    References
    ----------
    The module's docstring, for the recurrence and its two errors.
    """
    table = _table(chain, mu, plan_turn_rad)
    if table.longest == 0:
        return ClipTension(chain.support_tension_n.copy(), chain.support_tension_n.copy())
    source = table.last if from_far_end else np.zeros_like(table.last)
    arriving, leaving = table.walk(source, back=from_far_end)
    near, far = (leaving, arriving) if from_far_end else (arriving, leaving)
    return ClipTension(table.flat(table.free + near), table.flat(table.free + far))


def strain_advice(chain: Chain, mu: FloatLike, least_share: float, *, plan_turn_rad: FloatLike = 0.0) -> StrainAdvice:
    """From where to strain each row so that friction leaves enough; arrays (n_rows,).

    The first of "one end", "both ends", "middle" that keeps ``least_share``. A row that keeps 0.80 strained
    at one end keeps about the square root of it, 0.89, from both ends, and the fourth root, 0.95, with a
    strainer in the middle besides. 240 m of 6 m spans, every other post 0.3 m up:

    >>> zigzag = Supports(6.0 * np.arange(41.0), 0.3 * (np.arange(41) % 2), np.zeros(41, dtype=int))
    >>> told = strain_advice(solve_chain(zigzag, Wire.from_diameter(2.5), 300.0), 0.2, 0.8)
    >>> ADVICE[told.advice[0]], int(told.middle_support[0]), round(float(told.one_end_share[0]), 2)
    ('middle', 20, 0.46)

    Parameters
    ----------
    chain : Chain
        The wire without friction, at the tension to be set.
    mu : one number or shape (n_rows,), >= 0
        Coefficient of friction between wire and clip. [-]
    least_share : float, from 0 to 1
        Least share of the tension without friction that must be left everywhere. [-]
    plan_turn_rad : one number or shape (n_supports,)
        As for `clip_turns`. [rad]

    Returns
    -------
    StrainAdvice
        The way, what straining at one end leaves, and where a strainer in the middle belongs.

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
    table = _table(chain, mu, plan_turn_rad)
    ahead, back = table.walk(np.zeros_like(table.last), back=False), table.walk(table.last, back=True)
    none = np.full(table.size, -np.inf)
    one, _ = _least(table.tensions(ahead, (none, none)), chain)
    both, middle = _least(table.tensions(ahead, back), chain)
    advice = np.where(one >= least_share, 0, np.where(both >= least_share, 1, 2))
    far_end = (table.free + ahead[0])[table.last, np.arange(table.last.size)]
    return StrainAdvice(np.where(np.isnan(one), -1, advice), one, far_end, middle)
