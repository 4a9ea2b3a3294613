"""A wire let down: freed from its intermediate clips, it hangs from the end posts and lies where it touches.

A string of horizontal pull H and weight w' per horizontal metre over an obstacle: with w' x^2/(2 H) taken off
the ground and off the two end points, the wire is the upper convex hull of the points. Its curvature
q = w'/H is all that shapes it; H follows from the wire's unstretched length.

What the string leaves out, and how much it is:

- w' is one number along the row (`GroundRows.load`). Where the wire is steeper than it is on average its weight
  is spread over less run, by the ratio of the secants: 1 % between level and a grade of 14 %. A free span has the
  tension of the elastic catenary within 0.1 %, up to a sag of a thirtieth and a grade of 40 %.
- H is one number along the row. On a free stretch that is exact. Lying on smooth ground it would be T - w z
  that stays: the tension at the posts is off by about w times the height of the ground between, 3.8 N for 10 m.
- Soil and grass hold a wire; here the ground bears, but does not rub.
- Between two ground points the wire is taken as free: it may be w' dx^2/(8 H) below the line between them,
  0.16 mm for points 1 m apart at 300 N.
"""

from dataclasses import dataclass

import numpy as np

from wirerun.errors import MechanicsError
from wirerun.mechanics import BoolArray, FloatArray, FloatLike, IntArray
from wirerun.mechanics.batches import batch, batch_bounds, last_points, per_row, row_sums, rows_with
from wirerun.mechanics.hull import neighbours
from wirerun.mechanics.ragged import Rows, find_rows, refuse_bad_supports
from wirerun.mechanics.refusals import refuse_unless_not_negative, refuse_unless_positive
from wirerun.mechanics.taut_string import Pieces, hull_of, length_of, pieces, pull_at_length

#: Largest relative residual of a row's unstretched length: choice, 1e-4 N in 2.5 mm wire. Found in
#: tests on hostile ground: 1e-12 at most; on ground as it is: 2e-15.
LENGTH_LIMIT = 1e-10

# Points worked on at a time: measured.
_BATCH = 32768


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
        Height of the wire above the ground half-way along the row's run. [m]
    greatest_above_m : FloatArray
        Greatest height of the wire above the ground at the middle and at any ground point of the middle half
        of the run: nearer the posts it must be high. [m]
    ground_share : FloatArray
        Share of the row's run on which the wire lies on the ground. [-]
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
    greatest_above_m: FloatArray
    ground_share: FloatArray
    wire_m: FloatArray
    solved: BoolArray
    loose: BoolArray
    residual: float


@dataclass(frozen=True, slots=True)
class GroundRows:
    """Rows over the ground, checked, without those that cannot be solved; the rest stand closed up.

    Attributes
    ----------
    x : FloatArray
        Station from the middle of the row's run, shape (n_points,). [m]
    ground, bearing : FloatArray
        Ground, and what bears the wire: the ground but at the two ends, where it is the post's clip. [m]
    rows : Rows
        Where the rows lie.
    last : IntArray
        Last point of each row.
    run, path : FloatArray
        Run of each row, and the way down the first post, along the ground and up the last; shape (n_rows,). [m]
    weight, ea : FloatArray
        Weight per metre [N/m] and EA [N] of each row's wire.
    able, point : BoolArray
        Which of the rows, and of the points, given are here.
    """

    x: FloatArray
    ground: FloatArray
    bearing: FloatArray
    rows: Rows
    last: IntArray
    run: FloatArray
    path: FloatArray
    weight: FloatArray
    ea: FloatArray
    able: BoolArray
    point: BoolArray

    def load(self, unstretched_m: FloatArray) -> FloatArray:
        """Weight of the wire per metre of run, shape (n_rows,) [N/m].

        w (s + 0.6 (L0/run - s)), s the secant of the chord from post to post. A level catenary of length L0
        has the pull of a parabola of that length with 1 + 0.6 (L0/run - 1) of its weight, but for
        terms of the fourth order in the sag: sinh d/d = 1 + d^2/6 + d^4/120 against the parabola's
        1 + u^2/6 - u^4/40 gives u = d (1 + d^2/10).

        Parameters
        ----------
        unstretched_m : shape (n_rows,)
            Length of wire. [m]
        """
        secant = np.hypot(1.0, (self.bearing[self.last] - self.bearing[self.rows.first]) / self.run)
        return np.asarray(self.weight * (secant + 0.6 * (unstretched_m / self.run - secant)))


def ground_rows(
    points: tuple[FloatArray, FloatArray, IntArray],
    heights_m: tuple[FloatLike, FloatLike],
    wire: tuple[FloatLike, FloatLike],
    needed: FloatLike,
) -> GroundRows:
    """Rows over the ground, checked and closed up.

    Parameters
    ----------
    points : x_m, ground_m, row, each of shape (n_points,)
        As for `rest_on_ground`.
    heights_m : two numbers, or arrays of shape (n_rows,)
        Wire above ground at the first and at the last point of each row. [m]
    wire : two numbers, or arrays of shape (n_rows,)
        Weight per metre [N/m] and EA [N].
    needed : one number or shape (n_rows,)
        A value without which a row cannot be solved: NaN takes it out.

    Raises
    ------
    MechanicsError
        As `rest_on_ground`.
    """
    x, ground = (np.asarray(v, dtype=np.float64) for v in points[:2])
    row = np.asarray(points[2])
    rows = find_rows(row)
    refuse_bad_supports(x, ground, row)
    start, far = per_row("start_height_m", heights_m[0], rows), per_row("far_height_m", heights_m[1], rows)
    weight, ea = per_row("weight_n_per_m", wire[0], rows), per_row("stiffness_n", wire[1], rows)
    job = "Wire on the ground"
    refuse_unless_not_negative(job, start_height_m=start, far_height_m=far)
    refuse_unless_positive(job, weight_n_per_m=weight, stiffness_n=ea)
    last = last_points(rows)
    able = ~(rows_with(np.isnan(ground), rows) | (last == rows.first) | np.isnan(per_row("needed", needed, rows)))
    bearing = ground.copy()
    bearing[rows.first] += start
    bearing[last[last > rows.first]] += far[last > rows.first]
    middle = 0.5 * (x[rows.first] + x[last])
    point = able[rows.ordinal]
    here = find_rows(row[point])
    x, ground, bearing = (x - middle[rows.ordinal])[point], ground[point], bearing[point]
    last = last_points(here)
    inner = np.flatnonzero(here.ordinal[1:] == here.ordinal[:-1])
    steps = np.hypot(np.diff(x)[inner], np.diff(ground)[inner])
    path = row_sums(here.ordinal[inner], steps, here.first.size) + (start + far)[able]
    run = x[last] - x[here.first]
    return GroundRows(x, ground, bearing, here, last, run, path, weight[able], ea[able], able, point)


def _ends(rows: Rows, last: IntArray) -> BoolArray:
    ends = np.zeros(rows.ordinal.size, dtype=np.bool_)
    ends[rows.first] = ends[last] = True
    return ends


def corners(land: GroundRows, curvature: FloatArray) -> BoolArray:
    """Points the wire bends over at a curvature per row, shape (n_points,).

    Parameters
    ----------
    land : GroundRows
        The ground.
    curvature : shape (n_rows,), > 0
        Weight per horizontal metre over horizontal pull. [1/m]
    """
    ends = _ends(land.rows, land.last)
    bounds = batch_bounds(land.rows, _BATCH)
    corner = np.empty(land.x.size, dtype=np.bool_)
    for number in range(bounds.size - 1):
        part = batch(land.rows, bounds, number).points
        q = curvature[land.rows.ordinal[part]]
        corner[part] = hull_of(land.x[part], land.bearing[part], q, ends[part])
    return corner


def _pulls(land: GroundRows, wanted: FloatArray) -> FloatArray:
    """Horizontal pull of each row's wire, shape (n_rows,) [N]."""
    ends = _ends(land.rows, land.last)
    bounds = batch_bounds(land.rows, _BATCH)
    pull, load = np.empty(wanted.size), land.load(wanted)
    for number in range(bounds.size - 1):
        part = batch(land.rows, bounds, number)
        ordinal = land.rows.ordinal[part.points] - part.rows.start
        pull[part.rows] = pull_at_length(
            land.x[part.points],
            land.bearing[part.points],
            ordinal,
            ends[part.points],
            wanted[part.rows],
            load[part.rows],
            land.ea[part.rows],
        )
    return pull


def _heights(land: GroundRows, string: Pieces, corner: BoolArray, q: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Wire at each point, shape (n_points,), and above the ground half-way, shape (n_rows,) [m]."""
    left, right = neighbours(corner)
    a, b = land.x[left], land.x[right]
    rise = np.where(right > left, land.bearing[right] - land.bearing[left], 0.0)
    slope = rise / np.where(right > left, b - a, 1.0)
    wire = land.bearing[left] + (slope - 0.5 * q[land.rows.ordinal] * (b - land.x)) * (land.x - a)
    # The piece half-way is the last that starts at or before it; so is the stretch of ground.
    before = row_sums(land.rows.ordinal, land.x <= 0.0, q.size).astype(np.int64)
    near = land.rows.first + before - 1
    far = near + 1
    begin = row_sums(string.owner, land.x[string.start] <= 0.0, q.size).astype(np.int64)
    piece = np.searchsorted(string.owner, np.arange(q.size)) + begin - 1
    start, end = land.x[string.start[piece]], land.x[string.end[piece]]
    hung = land.bearing[string.start[piece]] - start * string.slope[piece] + 0.5 * q * start * end
    part = -land.x[near] / (land.x[far] - land.x[near])
    ground = land.ground[near] + part * (land.ground[far] - land.ground[near])
    return wire, np.maximum(hung - ground, 0.0)


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


def _per_row_state(land: GroundRows, wanted: FloatArray, loose: BoolArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Seven numbers of each row, shape (7, n_rows), the wire at each point, and the residuals of the rows."""
    # Loose rows are carried along at a length they can be solved for, then overwritten.
    length = np.where(loose, 0.999 * land.path, wanted)
    pull = _pulls(land, length)
    q = land.load(length) / pull
    corner = corners(land, q)
    string = pieces(land.x, land.bearing, corner, land.rows.ordinal)
    total, _ = length_of(string, q, pull, land.ea)
    wire, middle = _heights(land, string, corner, q)

    half = 0.5 * q[string.owner] * string.run
    h = pull[string.owner]
    leaving, arriving = h * np.hypot(1.0, string.slope - half), h * np.hypot(1.0, string.slope + half)
    begin = np.searchsorted(string.owner, np.arange(pull.size))
    end = np.append(begin[1:], string.owner.size) - 1
    greatest = np.maximum.reduceat(np.maximum(leaving, arriving), begin)

    quarter = np.abs(land.x) <= 0.25 * land.run[land.rows.ordinal]
    above = np.where(quarter, wire - land.ground, 0.0)
    highest = np.maximum(np.maximum.reduceat(above, land.rows.first), middle)
    lying = corner & (land.bearing == land.ground)
    down = lying[1:] & lying[:-1] & (land.rows.ordinal[1:] == land.rows.ordinal[:-1])
    covered = row_sums(land.rows.ordinal[:-1], np.where(down, np.diff(land.x), 0.0), pull.size)
    state = np.stack((pull, leaving[begin], arriving[end], greatest, middle, highest, covered / land.run))

    hung = land.weight * (land.bearing - land.ground)[[land.rows.first, land.last]]
    zero = np.zeros_like(pull)
    slack = np.stack((zero, hung[0], hung[1], hung.max(axis=0), zero, zero, zero + 1.0))
    wire = np.where(loose[land.rows.ordinal], land.bearing, wire)
    return np.where(loose, slack, state), wire, np.abs(total - length) / length


def rest_on_ground(
    x_m: FloatArray,
    ground_m: FloatArray,
    row: IntArray,
    start_height_m: FloatLike,
    far_height_m: FloatLike,
    unstretched_m: FloatLike,
    weight_n_per_m: FloatLike,
    stiffness_n: FloatLike,
) -> RestState:
    """State of wires freed from all intermediate clips, row by row.

    Level ground, 2.5 mm wire strung at 300 N at 1.2 m, then freed: a row of 30 m sags by 0.12 m (tension 343 N),
    100 m by 0.91 m (517 N); at 130 m it lies on the ground in the middle.

    Parameters
    ----------
    x_m : shape (n_points,)
        Station of each ground point along its row, growing; the first and last are at the end posts. [m]
    ground_m : shape (n_points,)
        Height of the ground; NaN where there is none, which takes out its row. [m]
    row : shape (n_points,), never falling
        Row of each point.
    start_height_m, far_height_m : one number or shape (n_rows,), >= 0
        Height of the wire above the ground at the first and at the last point. [m]
    unstretched_m : one number or shape (n_rows,), > 0
        Length of wire without pull between the end posts; NaN where unknown. [m]
    weight_n_per_m : one number or shape (n_rows,), > 0
        Weight per metre of unstretched wire. [N/m]
    stiffness_n : one number or shape (n_rows,), > 0
        EA. [N]

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
    points = (np.asarray(x_m, dtype=np.float64), np.asarray(ground_m, dtype=np.float64), np.asarray(row))
    land = ground_rows(points, (start_height_m, far_height_m), (weight_n_per_m, stiffness_n), unstretched_m)
    wanted = per_row("unstretched_m", unstretched_m, find_rows(points[2]))
    refuse_unless_positive("Wire on the ground", unstretched_m=np.where(np.isnan(wanted), 1.0, wanted))
    wanted = wanted[land.able]
    loose = wanted >= land.path
    state = np.full((7, land.able.size), np.nan)
    wire, slack, worst = np.full(points[0].size, np.nan), np.zeros(land.able.size, dtype=np.bool_), 0.0
    if wanted.size:
        state[:, land.able], wire[land.point], miss = _per_row_state(land, wanted, loose)
        worst = _refuse_missed(miss, land.able)
        slack[land.able] = loose
    return RestState(
        horizontal_n=state[0],
        tension_start_n=state[1],
        tension_far_n=state[2],
        tension_greatest_n=state[3],
        middle_above_m=state[4],
        greatest_above_m=state[5],
        ground_share=state[6],
        wire_m=wire,
        solved=land.able,
        loose=slack,
        residual=worst,
    )
