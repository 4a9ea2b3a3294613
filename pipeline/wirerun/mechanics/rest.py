"""A wire let down: freed from its intermediate clips, it hangs from the end posts and lies where it touches.

A string of horizontal pull H and weight w' per horizontal metre over an obstacle: with w' x^2/(2 H) taken off
the ground and off the two end points, the wire is the upper convex hull of the points. Its curvature
q = w'/H is all that shapes it; H follows from the wire's unstretched length.

What the string leaves out, and how much it is:

- w' is one number along the row (`GroundRows.load`). Where the wire is steeper than it is on average its weight
  is spread over less in plan, by the ratio of the secants: 1 % between level and a grade of 14 %. A free span has the
  tension of the elastic catenary within 0.1 %, up to a sag of a thirtieth and a grade of 40 %.
- H is one number along the row. On a free stretch that is exact. Lying on smooth ground it would be T - w z
  that stays: the tension at the posts is off by about w times the height of the ground between, 3.8 N for 10 m.
- Soil and grass hold a wire; here the ground bears, but does not rub.
- Between two ground points the wire is taken as free: it may be w' dx^2/(8 H) below the line between them,
  0.16 mm for points 1 m apart at 300 N.
"""

from dataclasses import dataclass

import numpy as np

from wirerun.arrays import BoolArray, FloatArray, FloatLike
from wirerun.errors import MechanicsError
from wirerun.mechanics.batches import batches
from wirerun.mechanics.give import Give, rigid
from wirerun.mechanics.ground_rows import GroundRows, ground_rows
from wirerun.mechanics.hull import neighbours
from wirerun.mechanics.refusals import require_positive
from wirerun.mechanics.row_index import row_sums
from wirerun.mechanics.supports import Supports
from wirerun.mechanics.taut_string import Pieces, hull_of, length_of, pieces, pull_at_length
from wirerun.mechanics.wire import Wire

#: Largest relative residual of a row's unstretched length: choice, 1e-4 N in 2.5 mm wire. Found in
#: tests on hostile ground: 1e-12 at most; on ground as it is: 2e-15.
LENGTH_LIMIT = 1e-10

# Points worked on at a time: measured.
_BATCH = 131072


@dataclass(frozen=True, slots=True)
class RestState:
    """Wires let down; arrays of shape (n_rows,) but for ``wire_m``. NaN in rows not solved.

    Attributes
    ----------
    horizontal_n : FloatArray
        Horizontal pull H; 0 where the wire lies loose. [N]
    tension_start_n, tension_far_n, tension_greatest_n : FloatArray
        Tension at the first end post, at the last, and the greatest anywhere. [N]
    middle_above_m : FloatArray
        Height of the wire above the ground half-way along the row. [m]
    curvature_per_m : FloatArray
        Curvature q of the wire between the points that bear it; 0 where it lies loose. [1/m]
    ground_share : FloatArray
        Share of the row, in plan, on which the wire lies on the ground. [-]
    wire_m : FloatArray
        Height of the wire at each ground point, in the ground's own heights; shape (n_points,). [m]
    solved : BoolArray
        Rows that have heights, a length and at least two points.
    loose : BoolArray
        Rows whose wire is so long that it hangs plumb at the posts and lies along all the ground without
        pull. Close to that the pull given is small, but no better than the spacing of the points.
    residual : float
        Largest relative residual of a row's unstretched length, at most `LENGTH_LIMIT`. [-]
    """

    horizontal_n: FloatArray
    tension_start_n: FloatArray
    tension_far_n: FloatArray
    tension_greatest_n: FloatArray
    middle_above_m: FloatArray
    curvature_per_m: FloatArray
    ground_share: FloatArray
    wire_m: FloatArray
    solved: BoolArray
    loose: BoolArray
    residual: float


def corners(land: GroundRows, curvature: FloatArray, known: BoolArray | None = None) -> BoolArray:
    """Points the wire bends over at a curvature per row, shape (n_points,).

    Parameters
    ----------
    land : GroundRows
        The ground.
    curvature : shape (n_rows,), > 0
        Weight per horizontal metre over horizontal pull. [1/m]
    known : shape (n_points,), optional
        Corners at a smaller curvature, which are corners at this one too; both ends of every row among them.

    Returns
    -------
    BoolArray
        Shape (n_points,).
    """
    fixed = land.rows.ends if known is None else known
    corner = np.empty(land.rows.size, dtype=np.bool_)
    for _, part in batches(land.rows, _BATCH):
        q = curvature[land.rows.ordinal[part]]
        corner[part] = hull_of(land.x_m[part], land.bearing.z_m[part], q, fixed[part], land.least_q[part])
    return corner


def _pulls(land: GroundRows, wanted: FloatArray, give: Give) -> FloatArray:
    """Horizontal pull of each row's wire, shape (n_rows,) [N]."""
    pull, load, ea = np.empty(wanted.size), land.load(wanted), np.asarray(land.wire.axial_stiffness_n)
    for part in batches(land.rows, _BATCH):
        here = Supports(land.x_m[part.points], land.bearing.z_m[part.points], land.rows.number[part.points])
        least_q, some = land.least_q[part.points], part.rows
        pull[some] = pull_at_length(here, least_q, load[some], ea[some], wanted[some], give.of(some))
    return pull


def wire_heights(land: GroundRows, corner: BoolArray, curvature: FloatArray) -> FloatArray:
    """Height of the wire at each point, shape (n_points,) [m].

    Parameters
    ----------
    land : GroundRows
        The ground.
    corner : shape (n_points,)
        From `corners`.
    curvature : shape (n_rows,), > 0
        As for `corners`. [1/m]

    Returns
    -------
    FloatArray
        In the ground's own heights.
    """
    x, z = land.x_m, land.bearing.z_m
    left, right = neighbours(corner)
    a, b = x[left], x[right]
    rise = np.where(right > left, z[right] - z[left], 0.0)
    slope = rise / np.where(right > left, b - a, 1.0)
    return np.asarray(z[left] + (slope - 0.5 * curvature[land.rows.ordinal] * (b - x)) * (x - a))


def _half_way(land: GroundRows, string: Pieces, q: FloatArray) -> FloatArray:
    """Height of the wire above the ground half-way, shape (n_rows,) [m]."""
    x, z, rows = land.x_m, land.bearing.z_m, land.rows
    # The piece half-way is the last that starts at or before it; so is the stretch of ground.
    before = row_sums(rows.ordinal, x <= 0.0, q.size).astype(np.int64)
    near = rows.first + before - 1
    far = near + 1
    begin = row_sums(string.owner, x[string.start] <= 0.0, q.size).astype(np.int64)
    piece = np.searchsorted(string.owner, np.arange(q.size)) + begin - 1
    start, end = x[string.start[piece]], x[string.end[piece]]
    hung = z[string.start[piece]] - start * string.slope[piece] + 0.5 * q * start * end
    part = -x[near] / (x[far] - x[near])
    ground = land.ground_m[near] + part * (land.ground_m[far] - land.ground_m[near])
    return np.asarray(np.maximum(hung - ground, 0.0))


def _refuse_missed(miss: FloatArray, able: BoolArray) -> float:
    worst = float(miss.max(initial=0.0))
    if not worst <= LENGTH_LIMIT:
        bad = int(np.flatnonzero(able)[np.flatnonzero(~(miss <= LENGTH_LIMIT))[0]])
        message = (
            f"Wire on the ground: row number {bad} (counted from 0) misses its length by {worst:.2g} of it, more"
            f" than the {LENGTH_LIMIT:g} allowed."
        )
        raise MechanicsError(message)
    return worst


def _per_row_state(
    land: GroundRows, wanted: FloatArray, loose: BoolArray, give: Give
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Seven numbers of each row, shape (7, n_rows), the wire at each point, and the residuals of the rows."""
    # Loose rows are carried along at a length they can be solved for, then overwritten.
    length = np.where(loose, 0.999 * land.path_m, wanted)
    ends = Give(np.where(loose, 0.0, give.m_per_n), give.from_n)
    pull = _pulls(land, length, ends)
    length = length + ends.at(pull)
    q = land.load(np.where(loose, length, wanted)) / pull
    corner = corners(land, q)
    rows, bearing = land.rows, land.bearing.z_m
    string = pieces(land.x_m, bearing, corner, rows.ordinal)
    total, _ = length_of(string, q, pull, np.asarray(land.wire.axial_stiffness_n))
    wire, middle = wire_heights(land, corner, q), _half_way(land, string, q)

    half = 0.5 * q[string.owner] * string.dx
    h = pull[string.owner]
    leaving, arriving = h * np.hypot(1.0, string.slope - half), h * np.hypot(1.0, string.slope + half)
    begin = np.searchsorted(string.owner, np.arange(pull.size))
    end = np.append(begin[1:], string.owner.size) - 1
    greatest = np.maximum.reduceat(np.maximum(leaving, arriving), begin)

    lying = corner & (bearing == land.ground_m)
    down = lying[1:] & lying[:-1] & (rows.ordinal[1:] == rows.ordinal[:-1])
    covered = row_sums(rows.ordinal[:-1], np.where(down, np.diff(land.x_m), 0.0), pull.size)
    state = np.stack((pull, leaving[begin], arriving[end], greatest, middle, q, covered / land.dx_m))

    hung = land.wire.weight_n_per_m * (bearing - land.ground_m)[[rows.first, rows.last]]
    zero = np.zeros_like(pull)
    slack = np.stack((zero, hung[0], hung[1], hung.max(axis=0), zero, zero, zero + 1.0))
    wire = np.where(loose[rows.ordinal], bearing, wire)
    return np.where(loose, slack, state), wire, np.abs(total - length) / length


def rest_on_ground(
    ground: Supports,
    wire: Wire,
    end_heights_m: tuple[FloatLike, FloatLike],
    unstretched_m: FloatLike,
    give: Give | None = None,
) -> RestState:
    """State of wires freed from all intermediate clips, row by row.

    Level ground, 2.5 mm wire strung at 300 N over posts 6 m apart at 1.2 m, then freed: a row of 30 m sags by 0.12 m,
    and its tension grows to 343 N.

    >>> posts = Supports(np.arange(0.0, 31.0, 6.0), np.zeros(6), np.zeros(6, dtype=int))
    >>> ground = Supports(np.arange(31.0), np.zeros(31), np.zeros(31, dtype=int))
    >>> wire = Wire.from_diameter(2.5)
    >>> freed = rest_on_ground(ground, wire, (1.2, 1.2), unstretched_totals(solve_chain(posts, wire, 300.0)))
    >>> round(1.2 - float(freed.middle_above_m[0]), 2), round(float(freed.tension_greatest_n[0]))
    (0.12, 343)

    One of 100 m sags by 0.91 m (517 N); at 130 m it lies on the ground in the middle.

    Parameters
    ----------
    ground : Supports
        Points of the ground along each row, the first and last at the end posts; a height missing takes out its row.
    wire : Wire
        One wire, or one for each row.
    end_heights_m : two numbers, or arrays of shape (n_rows,), >= 0
        Height of the wire above the ground at the first and at the last point of each row. [m]
    unstretched_m : one number or shape (n_rows,), > 0
        Length of wire without pull between the end posts; NaN where unknown. [m]
    give : Give, optional
        How the end posts give way, from a horizontal pull. Default: they stand.

    Returns
    -------
    RestState
        Tensions, heights above the ground and how much of the wire lies, row by row.

    Raises
    ------
    MechanicsError
        If an input has the wrong shape, is not finite, negative or 0 where it must not be; if a row misses
        its length by more than `LENGTH_LIMIT` (names the first).

    References
    ----------
    Obstacle problem of a string; the hull is derived in :mod:`.hull` and above. Pieces between corners: the
    parabola about a chord, with its exact length and stretch (:mod:`.taut_string`).
    """
    land = ground_rows(ground, wire, end_heights_m, unstretched_m)
    wanted = ground.rows.per_row("unstretched_m", unstretched_m)
    require_positive("Wire on the ground", unstretched_m=np.where(np.isnan(wanted), 1.0, wanted))
    wanted = wanted[land.able]
    ends = rigid(land.rows.count) if give is None else give.of(land.able)
    loose = wanted + ends.at(np.zeros(wanted.size)) >= land.path_m
    state = np.full((7, land.able.size), np.nan)
    height, slack, worst = np.full(ground.rows.size, np.nan), np.zeros(land.able.size, dtype=np.bool_), 0.0
    if wanted.size:
        state[:, land.able], height[land.point], miss = _per_row_state(land, wanted, loose, ends)
        worst = _refuse_missed(miss, land.able)
        slack[land.able] = loose
    return RestState(
        horizontal_n=state[0],
        tension_start_n=state[1],
        tension_far_n=state[2],
        tension_greatest_n=state[3],
        middle_above_m=state[4],
        curvature_per_m=state[5],
        ground_share=state[6],
        wire_m=height,
        solved=land.able,
        loose=slack,
        residual=worst,
    )
