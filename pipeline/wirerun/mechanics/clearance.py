"""How close the lowest wire of each span comes to the ground, at points of the ground between the posts."""

from dataclasses import dataclass

import numpy as np

from wirerun.arrays import BoolArray, FloatArray, FloatLike
from wirerun.mechanics.refusals import require_non_negative, require_positive
from wirerun.mechanics.row_index import RowIndex
from wirerun.mechanics.supports import Supports


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

    The chord less the sag w d (dx - d) (chord/dx)^2/(2 T), which is w chord^2/(8 T) at mid-span.

    Parameters
    ----------
    clearance : Clearance
        The wire.
    sag_factor : any shape
        w/(2 T), from `sag_factors`. [1/m]
    along : two arrays that broadcast
        Distance d of the point from the first post, and its height above that post's foot. [m]
    span : two arrays that broadcast
        Horizontal distance and rise from foot to foot. [m]

    Returns
    -------
    FloatArray
        Negative where the wire would be in the ground. [m]
    """
    (d, up), (dx, rise) = along, span
    slope = rise / dx
    return np.asarray(clearance.height_m + slope * d - sag_factor * d * (dx - d) * (1.0 + slope * slope) - up)


def sag_factors(clearance: Clearance, rows: RowIndex) -> FloatArray:
    """w/(2 T) of the lowest wire in each row, shape (n_rows,) [1/m].

    Parameters
    ----------
    clearance : Clearance
        The wire; its tension one number or one per row.
    rows : RowIndex
        Where the rows lie.

    Returns
    -------
    FloatArray
        Shape (n_rows,). [1/m]

    Raises
    ------
    MechanicsError
        If there is neither one tension nor one per row, or tension or weight cannot be.
    """
    tension = rows.per_row("tension_n", clearance.tension_n)
    require_positive("Clearance", tension_n=tension)
    require_non_negative("Clearance", weight_n_per_m=np.asarray(clearance.weight_n_per_m, dtype=np.float64))
    return np.asarray(0.5 * clearance.weight_n_per_m / tension)


def low_spans(posts: Supports, ground: Supports, clearance: Clearance) -> BoolArray:
    """Which spans come too close to the ground, shape (n_spans,), in the order of the posts.

    Only ground points strictly between two posts of the same row count; those without height are passed over. Over
    one span of 12 m a wire at 0.6 m must keep 0.3 m off the ground, which rises to 0.31 m in the middle:

    >>> posts = Supports(np.array([0.0, 12.0]), np.zeros(2), np.zeros(2, dtype=int))
    >>> ground = Supports(np.array([0.0, 6.0, 12.0]), np.array([0.0, 0.31, 0.0]), np.zeros(3, dtype=int))
    >>> low_spans(posts, ground, Clearance(0.3, 0.6, 300.0, 0.3779)).tolist()
    [True]

    Parameters
    ----------
    posts : Supports
        Stations and heights of the feet of the posts, any placing.
    ground : Supports
        Points of the ground, rows numbered as those of the posts.
    clearance : Clearance
        The lowest wire; a tension per row goes by the rows of the posts.

    Returns
    -------
    BoolArray
        Shape (n_spans,).

    Raises
    ------
    MechanicsError
        If the wire cannot be.
    """
    x, z, row, size = posts.x_m, posts.z_m, posts.rows.number, posts.rows.size
    gx, gz, g_row = ground.x_m, ground.z_m, ground.rows.number
    # Both lists in one order by row, then station: the posts passed so far tell a point's span.
    order = np.lexsort((np.concatenate((x, gx)), np.concatenate((row, g_row))))
    is_post = order < size
    near = np.cumsum(is_post)[~is_post] - 1
    point = order[~is_post] - size
    inside = (near >= 0) & (near < size - 1)
    near, point = near[inside], point[inside]
    inside = (row[near] == g_row[point]) & (row[near + 1] == g_row[point]) & (gx[point] > x[near])
    inside &= gx[point] < x[near + 1]
    near, point = near[inside], point[inside]
    factor = sag_factors(clearance, posts.rows)[posts.rows.ordinal[near]]
    along = gx[point] - x[near], gz[point] - z[near]
    gap = wire_gap(clearance, factor, along, (x[near + 1] - x[near], z[near + 1] - z[near]))
    low = np.bincount(near, weights=gap < clearance.least_m, minlength=size) > 0
    return np.asarray(low[posts.rows.near])
