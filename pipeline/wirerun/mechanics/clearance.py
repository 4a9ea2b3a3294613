"""How close the lowest wire of each span comes to the ground, at points of the ground between the posts."""

from dataclasses import dataclass

import numpy as np

from wirerun.mechanics import BoolArray, FloatArray, FloatLike, IntArray
from wirerun.mechanics.batches import per_row
from wirerun.mechanics.ragged import Rows, find_rows, near_supports, refuse_bad_supports
from wirerun.mechanics.refusals import refuse_unless_not_negative, refuse_unless_positive


@dataclass(frozen=True, slots=True, eq=False)
class Clearance:
    """The lowest wire, in the state in which it sags most, and how far it must stay off the ground.

    Attributes
    ----------
    least_m : float
        Least height above the ground. [m]
    height_m : float
        Height of the wire on its posts. [m]
    tension_n : FloatLike
        Its least tension, > 0; one number or one per row. [N]
    weight_n_per_m : float
        Its weight per metre, >= 0. [N/m]
    """

    least_m: float
    height_m: float
    tension_n: FloatLike
    weight_n_per_m: float


def wire_gap(
    clearance: Clearance, sag_factor: FloatArray, along: tuple[FloatArray, FloatArray], span: tuple[FloatArray, ...]
) -> FloatArray:
    """Height of the lowest wire above a point of the ground within a span, shape of the inputs broadcast [m].

    The chord less the sag w d (run - d) (chord/run)^2/(2 T), which is w chord^2/(8 T) at mid-span.

    Parameters
    ----------
    clearance : Clearance
        The wire.
    sag_factor : any shape
        w/(2 T), from `sag_factors`. [1/m]
    along : two arrays that broadcast
        Distance d of the point from the first post, and its height above that post's foot. [m]
    span : two arrays that broadcast
        Run and rise from foot to foot. [m]
    """
    (d, up), (run, rise) = along, span
    slope = rise / run
    return np.asarray(clearance.height_m + slope * d - sag_factor * d * (run - d) * (1.0 + slope * slope) - up)


def sag_factors(clearance: Clearance, rows: Rows) -> FloatArray:
    """w/(2 T) of the lowest wire in each row, shape (n_rows,) [1/m].

    Raises
    ------
    MechanicsError
        If there is neither one tension nor one per row, or tension or weight cannot be.
    """
    tension = per_row("tension_n", clearance.tension_n, rows)
    refuse_unless_positive("Clearance", tension_n=tension)
    refuse_unless_not_negative("Clearance", weight_n_per_m=np.asarray(clearance.weight_n_per_m, dtype=np.float64))
    return np.asarray(0.5 * clearance.weight_n_per_m / tension)


def low_spans(
    posts: tuple[FloatArray, FloatArray, IntArray],
    ground: tuple[FloatArray, FloatArray, IntArray],
    clearance: Clearance,
) -> BoolArray:
    """Which spans come too close to the ground, shape (n_spans,), in the order of the posts.

    Only ground points strictly between two posts of the same row count; those without height are passed over.

    Parameters
    ----------
    posts : station [m], height of the foot [m] and row, shape (n_supports,) each
        The posts, any placing.
    ground : station [m], height [m] and row, shape (n_points,) each
        Points of the ground, stations growing within the row and rows numbered as those of the posts.
    clearance : Clearance
        The lowest wire; a tension per row goes by the rows of the posts.

    Raises
    ------
    MechanicsError
        If posts or points make no rows, or the wire cannot be.
    """
    x, z, row = np.asarray(posts[0], dtype=np.float64), np.asarray(posts[1], dtype=np.float64), np.asarray(posts[2])
    gx, gz, g_row = (
        np.asarray(ground[0], dtype=np.float64),
        np.asarray(ground[1], dtype=np.float64),
        np.asarray(ground[2]),
    )
    rows = find_rows(row)
    find_rows(g_row)
    refuse_bad_supports(x, z, row)
    refuse_bad_supports(gx, gz, g_row)
    # Both lists in one order by row, then station: the posts passed so far tell a point's span.
    order = np.lexsort((np.concatenate((x, gx)), np.concatenate((row, g_row))))
    is_post = order < x.size
    near = np.cumsum(is_post)[~is_post] - 1
    point = order[~is_post] - x.size
    inside = (near >= 0) & (near < x.size - 1)
    near, point = near[inside], point[inside]
    inside = (row[near] == g_row[point]) & (row[near + 1] == g_row[point]) & (gx[point] > x[near])
    inside &= gx[point] < x[near + 1]
    near, point = near[inside], point[inside]
    factor = sag_factors(clearance, rows)[rows.ordinal[near]]
    along = gx[point] - x[near], gz[point] - z[near]
    gap = wire_gap(clearance, factor, along, (x[near + 1] - x[near], z[near + 1] - z[near]))
    low = np.bincount(near, weights=gap < clearance.least_m, minlength=x.size) > 0
    return np.asarray(low[near_supports(row)])
