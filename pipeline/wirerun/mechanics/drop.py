"""How much wire a row needs so that its foliage wire, let down, is out of the way at mid-length.

Whether the wire is low enough in the middle depends on its curvature q alone, and the least q that does is found
without any hull: a curve of curvature q through the height wanted in the middle must find a slope there at which
it passes above every point to the left and every point to the right. The pull and the length follow from q.
"""

import numpy as np

from wirerun.arrays import FloatArray, FloatLike
from wirerun.errors import MechanicsError
from wirerun.mechanics.refusals import require_non_negative, require_positive
from wirerun.mechanics.rest import GroundRows, corners, ground_rows
from wirerun.mechanics.row_index import row_sums
from wirerun.mechanics.supports import Supports
from wirerun.mechanics.taut_string import length_of, pieces
from wirerun.mechanics.wire import Wire

#: Largest change of a row's unstretched length in the last round, relative to it: choice.
LENGTH_LIMIT = 1e-12

_MOST_ROUNDS = 100


def _needed_curvature(land: GroundRows, clearance: FloatArray) -> FloatArray:
    """Least q at which the wire is low enough half-way, shape (n_rows,) [1/m]; 0 where even a taut one is.

    With t the distance of a point from the middle and D the height wanted there less the point's, the
    slopes left and right leave room when G(q) = min of (D/t + q t/2) over the left + the same over the right is
    not negative. G is concave and rises, in straight pieces: Newton reaches its root exactly, from below.
    """
    rows, count, x = land.rows, clearance.size, land.x_m
    t = np.abs(x)
    near = rows.first + row_sums(rows.ordinal, x <= 0.0, count).astype(np.int64) - 1
    part = -x[near] / (x[near + 1] - x[near])
    wanted = land.ground_m[near] + part * (land.ground_m[near + 1] - land.ground_m[near]) + clearance
    # A point half-way bears the wire only at its own height, which is never above what is wanted.
    aside = t > 1e-9 * land.dx_m[rows.ordinal]
    per_t = 1.0 / np.where(aside, t, 1.0)
    base = np.where(aside, (wanted[rows.ordinal] - land.bearing.z_m) * per_t, np.inf)
    side = 2 * rows.ordinal + (x > 0.0)
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
    ground: Supports, wire: Wire, end_heights_m: tuple[FloatLike, FloatLike], clearance_m: FloatLike
) -> FloatArray:
    """Least unstretched length at which a freed wire is low enough half-way along, shape (n_rows,) [m].

    Low enough is a height above the ground of at most ``clearance_m``. The take-up of an adjuster is
    this length less that of the wire strung: on level ground, 2.5 mm at 1.2 m strung at 300 N, 136 mm for a
    row of 30 m.

    >>> level = Supports(np.linspace(0.0, 30.0, 31), np.zeros(31), np.zeros(31, dtype=int))
    >>> wire = Wire.from_diameter(2.5)
    >>> take_up = length_to_drop(level, wire, (1.2, 1.2), 0.0) - 30.0 / (1.0 + 300.0 / wire.axial_stiffness_n)
    >>> round(1000.0 * float(take_up[0]))
    136

    A take-up not above 0: the row drops by itself. A length of 0 is returned where any wire lies on the ground there,
    however tight, as on a hump; NaN for rows with heights missing or of one point. A ditch that only a
    loose wire would follow asks for the length that lies along all the ground.

    Parameters
    ----------
    ground, wire, end_heights_m
        As for `rest_on_ground`.
    clearance_m : one number or shape (n_rows,), >= 0
        Greatest height of the wire above the ground half-way along the row. [m]

    Returns
    -------
    FloatArray
        Shape (n_rows,). [m]

    Raises
    ------
    MechanicsError
        As `rest_on_ground`; if a clearance is negative; if a curvature or length is not found.

    References
    ----------
    As `rest_on_ground`, of which this is the inverse.
    """
    land = ground_rows(ground, wire, end_heights_m, 1.0)
    clearance = ground.rows.per_row("clearance_m", clearance_m)
    require_non_negative("Length to drop", clearance_m=clearance)
    result = np.full(land.able.size, np.nan)
    if not land.able.any():
        return result
    q = _needed_curvature(land, clearance[land.able])
    hangs = q > 0.0
    q = np.where(hangs, q, 1.0)
    string = pieces(land.x_m, land.bearing.z_m, corners(land, q), land.rows.ordinal)
    length = land.path_m
    for _ in range(_MOST_ROUNDS):
        # The pull that goes with q depends on the wire's weight, which depends on its length: by a hair.
        before, pull = length, land.load(length) / q
        length, _grade = length_of(string, q, pull, np.asarray(land.wire.axial_stiffness_n))
        change = np.abs(length - before) / before
        if (change <= LENGTH_LIMIT)[hangs].all():
            break
    else:
        bad = int(np.flatnonzero(land.able)[np.flatnonzero(hangs & (change > LENGTH_LIMIT))[0]])
        message = f"Length to drop: row number {bad} (counted from 0) found no length."
        raise MechanicsError(message)
    result[land.able] = np.where(hangs, np.minimum(length, land.path_m), 0.0)
    return result


def level_drop_span(height_m: FloatLike, wire: Wire, tension_n: FloatLike, clearance_m: FloatLike = 0.0) -> FloatArray:
    """Length of a level row from which a wire drops by itself when freed, shape of the inputs broadcast [m].

    Longer rows drop, shorter ones need an adjuster, which is where the trade's rule of short and long rows comes from.
    2.5 mm steel strung at 300 N at 1.2 m:

    >>> round(float(level_drop_span(1.2, Wire.from_diameter(2.5), 300.0)), 1)
    119.6

    Strung straight over the posts, a row of length R needs R/(1 + T/EA) of wire. Freed and sagging by f it has the pull
    w R^2/(8 f) and a path of R + 8 f^2/(3 R); that the wire is the same gives a quadratic in R^2. Left out: the sag
    between the posts (w^2 l^2/(24 T^2) of the length, 1 % of the stretch for 6 m at 300 N, which makes the
    answer 0.2 % too long) and the parabola's next term, (f/R)^2.

    Parameters
    ----------
    height_m : any shape, > clearance
        Height of the wire above the ground. [m]
    wire : Wire
        Its weight and stiffness broadcast.
    tension_n : broadcasts, > 0
        Tension at which it was strung. [N]
    clearance_m : broadcasts, >= 0
        Height above the ground half-way that counts as dropped. [m]

    Returns
    -------
    FloatArray
        Horizontal length. [m]

    Raises
    ------
    MechanicsError
        If an input is not above 0 and finite, or the clearance is negative or not below the height.

    References
    ----------
    Parabola of a level span; the equation is derived above.
    """
    job = "Row that drops by itself"
    height, tension, clearance = (np.asarray(v, dtype=np.float64) for v in (height_m, tension_n, clearance_m))
    weight, ea = np.asarray(wire.weight_n_per_m), np.asarray(wire.axial_stiffness_n)
    require_non_negative(job, clearance_m=clearance)
    require_positive(job, height_m=height, tension_n=tension)
    sag = np.asarray(height - clearance)
    require_positive(job, height_less_clearance_m=sag)
    strain = tension / ea
    grown = weight / (8.0 * sag * ea)
    path = 8.0 * sag * sag / 3.0 * (1.0 + strain)
    return np.asarray(np.sqrt((strain + np.sqrt(strain * strain + 4.0 * grown * path)) / (2.0 * grown)))
