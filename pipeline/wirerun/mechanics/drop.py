"""How much wire a row needs so that its foliage wire, let down, is out of the way at mid-length.

Whether the wire is low enough in the middle depends on its curvature q alone, and the least q that does is found
without any hull: a curve of curvature q through the height wanted in the middle must find a slope there at which
it passes above every point to the left and every point to the right. The pull and the length follow from q.
"""

import numpy as np

from wirerun.errors import MechanicsError
from wirerun.mechanics import FloatArray, FloatLike, IntArray
from wirerun.mechanics.batches import per_row, row_sums
from wirerun.mechanics.ragged import find_rows
from wirerun.mechanics.refusals import refuse_unless_not_negative, refuse_unless_positive
from wirerun.mechanics.rest import GroundRows, corners, ground_rows
from wirerun.mechanics.taut_string import length_of, pieces

#: Largest change of a row's unstretched length in the last round, relative to it: choice.
LENGTH_LIMIT = 1e-12

_MOST_ROUNDS = 100


def _needed_curvature(land: GroundRows, clearance: FloatArray) -> FloatArray:
    """Least q at which the wire is low enough half-way, shape (n_rows,) [1/m]; 0 where even a taut one is.

    With t the distance of a point from the middle and D the height wanted there less the point's, the
    slopes left and right leave room when G(q) = min of (D/t + q t/2) over the left + the same over the right is
    not negative. G is concave and rises, in straight pieces: Newton reaches its root exactly, from below.
    """
    rows, count = land.rows, clearance.size
    t = np.abs(land.x)
    near = rows.first + row_sums(rows.ordinal, land.x <= 0.0, count).astype(np.int64) - 1
    part = -land.x[near] / (land.x[near + 1] - land.x[near])
    wanted = land.ground[near] + part * (land.ground[near + 1] - land.ground[near]) + clearance
    # A point half-way bears the wire only at its own height, which is never above what is wanted.
    aside = t > 1e-9 * land.run[rows.ordinal]
    per_t = 1.0 / np.where(aside, t, 1.0)
    base = np.where(aside, (wanted[rows.ordinal] - land.bearing) * per_t, np.inf)
    side = 2 * rows.ordinal + (land.x > 0.0)
    begin = np.searchsorted(side, np.arange(2 * count))
    q = np.zeros(count)
    for _ in range(_MOST_ROUNDS):
        room = base + 0.5 * q[rows.ordinal] * t
        least = np.minimum.reduceat(room, begin)
        at = np.flatnonzero(room == least[side])[::-1]
        point = np.empty(2 * count, dtype=np.int64)
        point[side[at]] = at
        grade = 0.5 * t[point].reshape(count, 2).sum(axis=1)
        gap = least.reshape(count, 2).sum(axis=1)
        scale = 1e-14 * (np.abs(base[point]).reshape(count, 2).sum(axis=1) + q * grade)
        if (gap >= -scale).all():
            return q
        q = np.where(gap < -scale, q - gap / grade, q)
    bad = int(np.flatnonzero(land.able)[np.flatnonzero(gap < -scale)[0]])
    message = f"Length to drop: no curvature found for row number {bad} (counted from 0)."
    raise MechanicsError(message)


def length_to_drop(
    x_m: FloatArray,
    ground_m: FloatArray,
    row: IntArray,
    start_height_m: FloatLike,
    far_height_m: FloatLike,
    clearance_m: FloatLike,
    weight_n_per_m: FloatLike,
    stiffness_n: FloatLike,
) -> FloatArray:
    """Least unstretched length at which a freed wire is low enough half-way along, shape (n_rows,) [m].

    Low enough is a height above the ground of at most ``clearance_m``. The take-up of an adjuster is
    this length less that of the wire strung: on level ground, 2.5 mm at 1.2 m strung at 300 N, 136 mm for a
    row of 30 m. Not above 0: the row drops by itself. 0 is returned where any wire lies on the ground there,
    however tight, as on a hump; NaN for rows with heights missing or of one point. A ditch that only a
    loose wire would follow asks for the length that lies along all the ground.

    Parameters
    ----------
    x_m, ground_m, row, start_height_m, far_height_m, weight_n_per_m, stiffness_n
        As for `rest_on_ground`.
    clearance_m : one number or shape (n_rows,), >= 0
        Greatest height of the wire above the ground half-way along the row's run. [m]

    Raises
    ------
    MechanicsError
        As `rest_on_ground`; if a clearance is negative; if a curvature or length is not found.

    References
    ----------
    As `rest_on_ground`, of which this is the inverse.
    """
    points = (np.asarray(x_m, dtype=np.float64), np.asarray(ground_m, dtype=np.float64), np.asarray(row))
    land = ground_rows(points, (start_height_m, far_height_m), (weight_n_per_m, stiffness_n), 1.0)
    clearance = per_row("clearance_m", clearance_m, find_rows(points[2]))
    refuse_unless_not_negative("Length to drop", clearance_m=clearance)
    result = np.full(land.able.size, np.nan)
    if not land.able.any():
        return result
    q = _needed_curvature(land, clearance[land.able])
    hangs = q > 0.0
    q = np.where(hangs, q, 1.0)
    string = pieces(land.x, land.bearing, corners(land, q), land.rows.ordinal)
    length = land.path
    for _ in range(_MOST_ROUNDS):
        # The pull that goes with q depends on the wire's weight, which depends on its length: by a hair.
        before, pull = length, land.load(length) / q
        length, _grade = length_of(string, q, pull, land.ea)
        change = np.abs(length - before) / before
        if (change <= LENGTH_LIMIT)[hangs].all():
            break
    else:
        bad = int(np.flatnonzero(land.able)[np.flatnonzero(hangs & (change > LENGTH_LIMIT))[0]])
        message = f"Length to drop: row number {bad} (counted from 0) found no length."
        raise MechanicsError(message)
    result[land.able] = np.where(hangs, np.minimum(length, land.path), 0.0)
    return result


def level_drop_span(
    height_m: FloatLike,
    tension_n: FloatLike,
    weight_n_per_m: FloatLike,
    stiffness_n: FloatLike,
    clearance_m: FloatLike = 0.0,
) -> FloatArray:
    """Run of a level row from which a wire drops by itself when freed, shape of the inputs broadcast [m].

    2.5 mm steel strung at 300 N at 1.2 m: 119.6 m, which is where the trade's rule of short and long rows
    comes from. Longer rows drop, shorter ones need an adjuster.

    Strung straight over the posts, run R needs R/(1 + T/EA) of wire. Freed and sagging by f it has the pull
    w R^2/(8 f) and a path of R + 8 f^2/(3 R); that the wire is the same gives a quadratic in R^2. Left out: the sag
    between the posts (w^2 l^2/(24 T^2) of the length, 1 % of the stretch for 6 m at 300 N, which makes the
    answer 0.2 % too long) and the parabola's next term, (f/R)^2.

    Parameters
    ----------
    height_m : any shape, > clearance
        Height of the wire above the ground. [m]
    tension_n : broadcasts, > 0
        Tension at which it was strung. [N]
    weight_n_per_m : broadcasts, > 0
        Weight per metre. [N/m]
    stiffness_n : broadcasts, > 0
        EA. [N]
    clearance_m : broadcasts, >= 0
        Height above the ground half-way that counts as dropped. [m]

    Raises
    ------
    MechanicsError
        If an input is not above 0 and finite, or the clearance is negative or not below the height.

    References
    ----------
    Parabola of a level span; the equation is derived above.
    """
    job = "Row that drops by itself"
    height, tension, weight, ea, clearance = (
        np.asarray(v, dtype=np.float64) for v in (height_m, tension_n, weight_n_per_m, stiffness_n, clearance_m)
    )
    refuse_unless_not_negative(job, clearance_m=clearance)
    refuse_unless_positive(job, height_m=height, tension_n=tension, weight_n_per_m=weight, stiffness_n=ea)
    sag = np.asarray(height - clearance)
    refuse_unless_positive(job, height_less_clearance_m=sag)
    strain = tension / ea
    grown = weight / (8.0 * sag * ea)
    path = 8.0 * sag * sag / 3.0 * (1.0 + strain)
    return np.sqrt((strain + np.sqrt(strain * strain + 4.0 * grown * path)) / (2.0 * grown))
