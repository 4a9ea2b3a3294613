"""Whether a freed foliage wire is out of the way along its row, and how much wire it takes where it is not.

A row is walked, so it counts how much of it is clear: near the posts the wire must be high, and what lies between
10 and 90 % of the row is looked at, `MIDDLE`. Between two ground points the wire is one parabola and the ground a
straight line, so that the height between them is known at every place, not only at the points.

How loose a wire must be for that is :mod:`.clearing`'s; pull and length follow from its curvature q.
"""

from typing import NamedTuple

import numpy as np

from wirerun.arrays import FloatArray, FloatLike
from wirerun.errors import MechanicsError
from wirerun.mechanics.clearing import MIDDLE, STRAIGHT, least_to_clear, middle_of_spans, not_clear
from wirerun.mechanics.ground_rows import ground_rows
from wirerun.mechanics.refusals import require_non_negative, require_positive
from wirerun.mechanics.rest import RestState, corners
from wirerun.mechanics.row_index import RowIndex, row_sums
from wirerun.mechanics.supports import Supports
from wirerun.mechanics.taut_string import length_of, pieces
from wirerun.mechanics.wire import Wire

#: Largest change of a row's unstretched length in the last round, relative to it: choice.
LENGTH_LIMIT = 1e-12

_MOST_ROUNDS = 100


class Clear(NamedTuple):
    """How freed wires lie along the middle of their rows; arrays of shape (n_rows,), NaN where not known.

    Attributes
    ----------
    share : FloatArray
        Share of the middle on which the wire is out of the way. [-]
    greatest_m : FloatArray
        Greatest height of the wire above the ground there. [m]
    """

    share: FloatArray
    greatest_m: FloatArray


def clear_along(ground: Supports, freed: RestState, height_m: FloatLike) -> Clear:
    """How much of the middle of each row a freed wire leaves clear, and how high it is there at most.

    Level ground, a wire at 1.2 m strung at 300 N over a row of 120 m, which lies on the ground half-way:

    >>> x_m = np.linspace(0.0, 120.0, 241)
    >>> level = Supports(x_m, np.zeros(241), np.zeros(241, dtype=int))
    >>> wire = Wire.from_diameter(2.5)
    >>> freed = rest_on_ground(level, wire, (1.2, 1.2), 120.0 / (1.0 + 300.0 / wire.axial_stiffness_n))
    >>> clear = clear_along(level, freed, 0.5)
    >>> round(float(clear.share[0]), 2), round(float(clear.greatest_m[0]), 2)
    (0.81, 0.77)

    Parameters
    ----------
    ground : Supports
        As for `rest_on_ground`.
    freed : RestState
        What it gave.
    height_m : one number or shape (n_rows,), >= 0
        Height above the ground up to which a wire is out of the way. [m]

    Returns
    -------
    Clear
        Exact for ground that is straight between its points.

    Raises
    ------
    MechanicsError
        If a height has the wrong shape or is negative.
    """
    height = ground.rows.per_row("height_m", height_m)
    require_non_negative("Wire out of the way", height_m=height)
    rows = ground.rows
    middle = 0.5 * (ground.x_m[rows.first] + ground.x_m[rows.last])
    above = np.where(freed.solved[rows.ordinal], freed.wire_m - ground.z_m, np.nan)
    found = _along(rows, ground.x_m - middle[rows.ordinal], above, freed.curvature_per_m, height)
    # A loose wire lies along all the ground, also where no point of it is known between the posts.
    return Clear(np.where(freed.loose, 1.0, found.share), np.where(freed.loose, 0.0, found.greatest_m))


def level_share(end_height_m: float, height_m: float, clearance_m: float = 0.0) -> float:
    """Share of the middle of a level row that is clear when the wire is just down half-way [-].

    A parabola that hangs from 1.2 m and touches the ground in the middle is at most 0.5 m high over 65 % of the row,
    which is 81 % of its middle, however long the row:

    >>> round(level_share(1.2, 0.5), 3)
    0.807

    Parameters
    ----------
    end_height_m : float, > 0
        Height of the wire at the end posts. [m]
    height_m : float, > clearance_m
        Height up to which it is out of the way. [m]
    clearance_m : float
        Its height above the ground half-way. [m]

    Returns
    -------
    float
        At most 1.
    """
    if end_height_m <= height_m:
        return 1.0
    return min(float(np.sqrt((height_m - clearance_m) / (end_height_m - clearance_m))) / MIDDLE, 1.0)


def _along(rows: RowIndex, x: FloatArray, above: FloatArray, q: FloatArray, height: FloatArray) -> Clear:
    """As `clear_along`, for stations from the middle of each row and heights above the ground at the points."""
    near, owner = rows.near, rows.of_span
    begin, end = middle_of_spans(rows, x)
    long, ends = x[near + 1] - x[near], (above[near], above[near + 1])
    up = not_clear(ends, long, q[owner], height[owner], (begin, end))
    bend = np.maximum(0.5 * q[owner], STRAIGHT)
    lean = (ends[1] - ends[0]) / long - bend * long
    top = np.maximum(ends[0] + (lean + bend * begin) * begin, ends[0] + (lean + bend * end) * end)
    greatest, with_spans = np.full(rows.count, np.nan), rows.last > rows.first
    if len(owner):
        begins = np.searchsorted(owner, np.flatnonzero(with_spans))
        greatest[with_spans] = np.maximum.reduceat(np.where(end > begin, top, -np.inf), begins)
    middle = MIDDLE * (x[rows.last] - x[rows.first])
    up = np.divide(row_sums(owner, up, rows.count), middle, out=np.full(rows.count, np.nan), where=with_spans)
    # A sum of parts may be longer than the whole by its last digit.
    return Clear(np.maximum(1.0 - up, 0.0), np.where(np.isnan(up), np.nan, np.maximum(greatest, 0.0)))


def length_to_drop(
    ground: Supports,
    wire: Wire,
    end_heights_m: tuple[FloatLike, FloatLike],
    height_m: FloatLike,
    share: FloatLike,
    tried: RestState | None = None,
) -> tuple[FloatArray, FloatArray]:
    """Least unstretched length at which so much of the middle of a row is clear, and the pull it then has.

    The take-up of an adjuster is this length less that of the wire strung: on level ground, 2.5 mm at 1.2 m strung at
    300 N, 136 mm for a row of 30 m.

    >>> level = Supports(np.linspace(0.0, 30.0, 31), np.zeros(31), np.zeros(31, dtype=int))
    >>> wire = Wire.from_diameter(2.5)
    >>> needed, _ = length_to_drop(level, wire, (1.2, 1.2), 0.5, level_share(1.2, 0.5))
    >>> round(1000.0 * float(needed[0] - 30.0 / (1.0 + 300.0 / wire.axial_stiffness_n)))
    136

    A take-up not above 0: the row drops by itself. A length of 0 is returned where enough is clear under any wire,
    however tight, as on a hump; NaN for rows with heights or what is wanted missing, or of one point.

    Parameters
    ----------
    ground, wire, end_heights_m
        As for `rest_on_ground`.
    height_m : one number or shape (n_rows,), > 0
        Height above the ground up to which the wire is out of the way; NaN where nothing is asked. [m]
    share : one number or shape (n_rows,), above 0 and at most 1
        Least share of the middle on which it must be. [-]
    tried : RestState, optional
        The same wires hung tighter than is wanted, which saves looking for a curvature to begin with.

    Returns
    -------
    length : FloatArray
        Shape (n_rows,). [m]
    pull_n : FloatArray
        Horizontal pull, shape (n_rows,); infinite where any wire will do. [N]

    Raises
    ------
    MechanicsError
        As `rest_on_ground`; if a height is not above 0 or a share not between 0 and 1; if a curvature or length is not
        found.

    References
    ----------
    As `rest_on_ground`, of which this is the inverse.
    """
    job = "Length to drop"
    height, wanted = ground.rows.per_row("height_m", height_m), ground.rows.per_row("share", share)
    require_positive(job, height_m=np.where(np.isnan(height), 1.0, height), share=wanted)
    require_non_negative(job, one_less_share=1.0 - wanted)
    land = ground_rows(ground, wire, end_heights_m, height)
    result, pulls = np.full((2, land.able.size), np.nan)
    if not land.able.any():
        return result, pulls
    first_q = np.full(land.rows.count, STRAIGHT)
    if tried is not None:
        first_q = np.fmax(first_q, tried.curvature_per_m[land.able])
    q = least_to_clear(land, height[land.able], wanted[land.able], first_q)
    hangs = q > STRAIGHT
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
        message = f"{job}: row number {bad} (counted from 0) found no length."
        raise MechanicsError(message)
    result[land.able] = np.where(hangs, np.minimum(length, land.path_m), 0.0)
    pulls[land.able] = np.where(hangs, pull, np.inf)
    return result, pulls


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
