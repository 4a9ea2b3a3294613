"""A weighted string over points that bear it: its length for a pull, and its pull for a length, row by row.

Between two corners of the hull the string is a parabola of curvature q = w'/H about its chord: at u from the
middle its slope is S + q u. What a piece of it weighs and stretches is taken from there:

    L0 = integral of c/(1 + H c/EA) over dx, c = sqrt(1 + slope^2)

exactly, by Gauss's rule; corners bear without rubbing. Stations count from the middle of each row.
"""

from typing import NamedTuple

import numpy as np

from wirerun.arrays import BoolArray, FloatArray, IntArray
from wirerun.errors import MechanicsError
from wirerun.mechanics.give import Give
from wirerun.mechanics.hull import upper_hull
from wirerun.mechanics.row_index import row_sums
from wirerun.mechanics.supports import Supports

_MOST_ROUNDS = 120
# Of the model of a step: powers of the pull that sag may go by, rounds, and how far it reaches in the pull's logarithm.
_POWERS = (-3.0, 0.0)
_MODEL_ROUNDS = 6
_MODEL_REACH = 3.0
# Half turn of a piece beyond which Gauss's four points are not enough and the parabola's own length is used.
_DEEP = 0.05
_TERMS = 4
_NODES, _SHARES = np.polynomial.legendre.leggauss(_TERMS)


class Pieces(NamedTuple):
    """Pieces of string between neighbouring corners, arrays of shape (n_pieces,).

    Attributes
    ----------
    start, end : IntArray
        Points they hang between.
    dx : FloatArray
        Horizontal length. [m]
    slope : FloatArray
        Slope of the chord. [-]
    owner : IntArray
        Row of each.
    """

    start: IntArray
    end: IntArray
    dx: FloatArray
    slope: FloatArray
    owner: IntArray


def hull_of(x: FloatArray, y: FloatArray, curvature: FloatArray, fixed: BoolArray, least_q: FloatArray) -> BoolArray:
    """Points the string bends over, shape (n_points,): corners of the hull of y - q x^2/2.

    Parameters
    ----------
    x : shape (n_points,), from the middle of each row
        Stations. [m]
    y : shape (n_points,)
        Heights that bear the string. [m]
    curvature : shape (n_points,), >= 0
        q of each point's row. [1/m]
    fixed : shape (n_points,)
        Points known to be corners, among them both ends of every row.
    least_q : shape (n_points,)
        Curvature up to which each point is none. [1/m]

    Returns
    -------
    BoolArray
        Shape (n_points,).
    """
    return upper_hull(x, y - 0.5 * curvature * x * x, fixed, least_q < curvature)


def pieces(x: FloatArray, y: FloatArray, corner: BoolArray, ordinal: IntArray) -> Pieces:
    """Pieces of string between the corners.

    Parameters
    ----------
    x, y : shape (n_points,)
        Stations and heights. [m]
    corner : shape (n_points,)
        From `hull_of`.
    ordinal : shape (n_points,)
        Row of each point, counted from 0.

    Returns
    -------
    Pieces
        Row after row, from the first point of each to its last.
    """
    at = np.flatnonzero(corner)
    same = ordinal[at[1:]] == ordinal[at[:-1]]
    start, end = at[:-1][same], at[1:][same]
    dx = x[end] - x[start]
    return Pieces(start, end, dx, (y[end] - y[start]) / dx, ordinal[start])


def length_of(
    string: Pieces, curvature: FloatArray, pull_n: FloatArray, axial_stiffness_n: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Unstretched length of each row's string and its derivative to the pull, shapes (n_rows,) [m, m/N].

    The corners are held for the derivative: where a new one is about to form the length does not jump.

    Parameters
    ----------
    string : Pieces
        Of all rows.
    curvature, pull_n, axial_stiffness_n : shape (n_rows,)
        q [1/m], H [N] and EA [N]; q H is the weight per horizontal metre.

    Returns
    -------
    length : FloatArray
        Shape (n_rows,). [m]
    per_pull : FloatArray
        Its derivative to the pull, negative; shape (n_rows,). [m/N]
    """
    owner = string.owner
    q = curvature[owner]
    half = 0.5 * q * string.dx
    strain, per_h = (pull_n / axial_stiffness_n)[owner], (1.0 / pull_n)[owner]
    length, grade = np.zeros_like(half), np.zeros_like(half)
    for number in range(_TERMS):
        lean = half * _NODES[number]
        slope = string.slope + lean
        c2 = 1.0 + slope * slope
        c = np.sqrt(c2)
        thin = 1.0 / (1.0 + strain * c)
        length += _SHARES[number] * c * thin
        # dc/dH = -slope lean/(c H), and the stretch itself grows with c/EA.
        grade -= _SHARES[number] * (slope * lean / c + strain * c2) * per_h * thin * thin
    length += _beyond_gauss(string.slope, half)
    count = curvature.size
    total = row_sums(owner, 0.5 * string.dx * length, count)
    return total, row_sums(owner, 0.5 * string.dx * grade, count)


def _beyond_gauss(slope: FloatArray, half: FloatArray) -> FloatArray:
    """What Gauss's rule misses of twice the mean of sqrt(1 + slope^2) in deep pieces, shape (n_pieces,)."""
    missed = np.zeros_like(half)
    deep = np.flatnonzero(half > _DEEP)
    if deep.size:
        middle, u = slope[deep], half[deep]
        low, high = middle - u, middle + u
        arc = high * np.sqrt(1.0 + high * high) + np.arcsinh(high)
        arc -= low * np.sqrt(1.0 + low * low) + np.arcsinh(low)
        rule = np.sqrt(1.0 + (middle + u * _NODES[:, None]) ** 2)
        missed[deep] = 0.5 * arc / u - (_SHARES[:, None] * rule).sum(axis=0)
    return missed


def pull_cubic(stretch: FloatArray, excess: FloatArray, slackness: FloatArray) -> FloatArray:
    """Positive root of stretch T^3 - excess T^2 - slackness = 0 to three digits, shape (n,) [N].

    The pull of a taut wire whose geometry is longer than the wire by ``excess``: stretch T is the length it
    gains by its pull, slackness/T^2 what sag adds to its path.

    Parameters
    ----------
    stretch : shape (n,), > 0
        Length gained per newton. [m/N]
    excess : shape (n,)
        Straight path less unstretched length, negative where the wire is longer. [m]
    slackness : shape (n,), > 0
        Weight squared times dx cubed over 24, summed over the spans. [m N2]

    Returns
    -------
    FloatArray
        Shape (n,). [N]
    """
    # Above the root, where the cubic is convex and rises: Newton comes down without overshooting.
    slack = np.where(excess < 0.0, np.sqrt(slackness / np.maximum(-excess, 1e-30)), np.inf)
    pull = np.maximum(2.0 * np.maximum(excess, 0.0) / stretch, np.minimum(np.cbrt(2.0 * slackness / stretch), slack))
    for _ in range(_MOST_ROUNDS):
        step = (pull * pull * (stretch * pull - excess) - slackness) / (pull * (3.0 * stretch * pull - 2.0 * excess))
        pull = pull - step
        if (np.abs(step) <= 1e-3 * pull).all():
            break
    return pull


def taut_guess(string: Pieces, wanted: FloatArray, weight: FloatArray, ea: FloatArray) -> FloatArray:
    """Pull of the string if it bent over no other points than it does when taut, shape (n_rows,) [N].

    Parameters
    ----------
    string : Pieces
        The taut string's.
    wanted, weight, ea : shape (n_rows,)
        Unstretched length [m], weight per horizontal metre [N/m], EA [N].
    """
    count = wanted.size
    c = np.sqrt(1.0 + string.slope**2)
    path = row_sums(string.owner, string.dx * c, count)
    gain = row_sums(string.owner, string.dx * c * c, count) / ea
    sag = row_sums(string.owner, string.dx**3 / c**3, count) / 24.0
    return pull_cubic(gain, path * (path / wanted - 1.0), weight**2 * sag)


def _next(here: FloatArray, step: FloatArray, low: FloatArray, high: FloatArray) -> FloatArray:
    """Next trial pull, shape (n,) [N]: Newton's, or between the bounds where that leaves them."""
    moved = here - step
    bounded = np.isfinite(high)
    between = np.where(bounded, np.sqrt(np.maximum(low, 1e-3 * here) * np.where(bounded, high, 1.0)), 2.0 * here)
    between = np.clip(between, low, high)
    return np.where((moved > low) & (moved < high), moved, between)


class StraightPart(NamedTuple):
    """What of a row's length is a straight line in the pull, arrays of shape (n_rows,).

    Attributes
    ----------
    path : FloatArray
        Length of the taut string without weight or stretch. [m]
    own, per_pull : FloatArray
        What the string gains by a newton, and what it and the ends do. [m/N]
    """

    path: FloatArray
    own: FloatArray
    per_pull: FloatArray

    @classmethod
    def of(cls, taut: Pieces, ea: FloatArray, give: Give) -> "StraightPart":
        """That of taut strings, of their EA [N] and of how the ends give way."""
        c2 = 1.0 + taut.slope**2
        own = row_sums(taut.owner, taut.dx * c2, ea.size) / ea
        return cls(row_sums(taut.owner, taut.dx * np.sqrt(c2), ea.size), own, own + give.m_per_n)

    def only(self, row: BoolArray) -> "StraightPart":
        """Those of some rows."""
        return StraightPart(self.path[row], self.own[row], self.per_pull[row])


def power_step(
    here: FloatArray, total: FloatArray, grade: FloatArray, miss: FloatArray, line: StraightPart
) -> FloatArray:
    """Change of pull by which the length comes right, if what sag adds to it were a power of the pull, shape (n,) [N].

    It is the power -2 as long as the string bends over the same points, and about -1/2 where it lifts off level ground;
    Newton's straight line takes many more rounds. Where there is next to no sag it is Newton's step.

    Parameters
    ----------
    here, total : shape (n,)
        Pull [N], and the length it makes [m].
    grade, miss : shape (n,)
        Of the length less what the ends give: its derivative to the pull [m/N], and by how much it is too long [m].
    line : StraightPart
        What of it is straight.
    """
    sag = np.maximum(total + line.own * here - line.path, 1e-12 * line.path)
    power = np.clip(here * (grade + line.per_pull) / sag, *_POWERS)
    pull = line.per_pull * here
    t = np.zeros_like(here)
    for _ in range(_MODEL_ROUNDS):
        grown, thinned = np.exp(t), np.exp(power * t)
        left = miss - pull * (grown - 1.0) + sag * (thinned - 1.0)
        t = np.clip(t - left / (sag * power * thinned - pull * grown), -_MODEL_REACH, _MODEL_REACH)
    return np.asarray(-here * np.expm1(t))


def pull_at_length(
    bearing: Supports,
    least_q: FloatArray,
    load_n_per_m: FloatArray,
    axial_stiffness_n: FloatArray,
    unstretched_m: FloatArray,
    give: Give,
) -> FloatArray:
    """Horizontal pull at which each row's string has its unstretched length, shape (n_rows,) [N].

    The length falls as the pull grows. A point that bears at some pull bears at every smaller one: corners
    found where the pull was too great stay corners, and points that were none where it was too small are
    never looked at again, so that each round has less to do.

    Parameters
    ----------
    bearing : Supports
        Points that bear, no height missing; stations from the middle of each row.
    least_q : shape (n_points,)
        Curvature up to which the string does not bend over each point. [1/m]
    load_n_per_m, axial_stiffness_n, unstretched_m : shape (n_rows,)
        Weight per horizontal metre [N/m], EA [N], length [m].
    give : Give
        How the ends give way, from a horizontal pull.

    Returns
    -------
    FloatArray
        H of each row, shape (n_rows,). [N]

    Raises
    ------
    MechanicsError
        If rows are left unsolved after the most rounds allowed: a fault of the solver, not of the input.
    """
    x, y, ordinal = bearing.x_m, bearing.z_m, bearing.rows.ordinal
    wanted, load, ea = unstretched_m, load_n_per_m, axial_stiffness_n
    found = np.full(wanted.size, np.nan)
    todo = np.arange(wanted.size)
    fixed = upper_hull(x, y, bearing.rows.ends, least_q < 0.0)
    taut = pieces(x, y, fixed, ordinal)
    here, line = taut_guess(taut, wanted, load, ea), StraightPart.of(taut, ea, give)
    low, high = np.zeros(wanted.size), np.full(wanted.size, np.inf)
    for _ in range(_MOST_ROUNDS):
        q = load / here
        corner = hull_of(x, y, q[ordinal], fixed, least_q)
        total, grade = length_of(pieces(x, y, corner, ordinal), q, here, ea)
        miss = total - wanted - give.at(here)
        grade = grade - give.m_per_n
        small = miss > 0.0
        low, high = np.where(small, here, low), np.where(small, high, here)
        step = miss / grade
        settled = (np.abs(step) <= 1e-8 * here) & (np.abs(miss) <= 3e-12 * wanted)
        settled |= high - low <= 4e-16 * here
        found[todo[settled]] = np.clip(here - step, low, high)[settled]
        rest = ~settled
        if not rest.any():
            return found
        step = power_step(here, total, grade, miss, line)
        too_small = small[ordinal]
        kept = rest[ordinal] & (corner | ~too_small)
        fixed = (fixed | (corner & ~too_small))[kept]
        x, y, least_q, ordinal = x[kept], y[kept], least_q[kept], (np.cumsum(rest) - 1)[ordinal[kept]]
        here = _next(here, step, low, high)[rest]
        todo, low, high, line = todo[rest], low[rest], high[rest], line.only(rest)
        wanted, load, ea, give = wanted[rest], load[rest], ea[rest], give.of(rest)
    message = f"Wire on the ground: {todo.size} rows left unsolved, the first is number {todo[0]} of its batch."
    raise MechanicsError(message)
