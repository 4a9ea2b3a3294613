"""The ground under wires that are let down: rows of it, checked, with what a wire on them weighs."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from wirerun.arrays import BoolArray, FloatArray, FloatLike
from wirerun.mechanics.refusals import require_non_negative
from wirerun.mechanics.row_index import RowIndex, row_sums
from wirerun.mechanics.supports import Supports
from wirerun.mechanics.wire import Wire


@dataclass(frozen=True, eq=False)
class GroundRows:
    """Rows over the ground, checked, without those that cannot be solved; the rest stand closed up.

    Attributes
    ----------
    bearing : Supports
        What bears the wire: the ground but at the two ends of a row, where it is the post's clip. Stations count from
        the middle of each row.
    ground_m : FloatArray
        Height of the ground at each point, shape (n_points,). [m]
    path_m : FloatArray
        The way down the first post, along the ground and up the last; shape (n_rows,). [m]
    wire : Wire
        The wire of each row.
    least_q : FloatArray
        Curvature up to which the wire does not bend over each point, shape (n_points,). [1/m]
    able, point : BoolArray
        Which of the rows, and of the points, given are here.
    """

    bearing: Supports
    ground_m: FloatArray
    path_m: FloatArray
    wire: Wire
    least_q: FloatArray
    able: BoolArray
    point: BoolArray

    @property
    def rows(self) -> RowIndex:
        """Where the rows lie."""
        return self.bearing.rows

    @property
    def x_m(self) -> FloatArray:
        """Station of each point from the middle of its row, shape (n_points,) [m]."""
        return self.bearing.x_m

    @cached_property
    def dx_m(self) -> FloatArray:
        """Horizontal length of each row, shape (n_rows,) [m]."""
        return np.asarray(self.x_m[self.rows.last] - self.x_m[self.rows.first])

    def load(self, unstretched_m: FloatArray) -> FloatArray:
        """Weight of the wire per horizontal metre, `load_per_metre`, shape (n_rows,) [N/m].

        Parameters
        ----------
        unstretched_m : shape (n_rows,)
            Length of wire. [m]

        Returns
        -------
        FloatArray
            Shape (n_rows,). [N/m]
        """
        z, rows = self.bearing.z_m, self.rows
        return load_per_metre(self.wire.weight_n_per_m, unstretched_m, self.dx_m, z[rows.last] - z[rows.first])


def load_per_metre(
    weight_n_per_m: FloatLike, unstretched_m: FloatArray, dx_m: FloatArray, rise_m: FloatArray
) -> FloatArray:
    """Weight of wires per horizontal metre, shape (n_rows,) [N/m].

    w (s + 0.6 (L0/dx - s)), s the secant of the chord from post to post. A level catenary of length L0
    has the pull of a parabola of that length with 1 + 0.6 (L0/dx - 1) of its weight, but for
    terms of the fourth order in the sag: sinh d/d = 1 + d^2/6 + d^4/120 against the parabola's
    1 + u^2/6 - u^4/40 gives u = d (1 + d^2/10).

    Parameters
    ----------
    weight_n_per_m : broadcasts
        Weight of the wire. [N/m]
    unstretched_m : shape (n_rows,)
        Length of wire. [m]
    dx_m, rise_m : shape (n_rows,)
        From end to end, at the wire's height. [m]
    """
    secant = np.hypot(1.0, rise_m / dx_m)
    return np.asarray(weight_n_per_m * (secant + 0.6 * (unstretched_m / dx_m - secant)))


def ground_rows(
    ground: Supports, wire: Wire, end_heights_m: tuple[FloatLike, FloatLike], needed: FloatLike
) -> GroundRows:
    """Rows over the ground, checked and closed up.

    Parameters
    ----------
    ground, wire, end_heights_m
        As for `rest_on_ground`.
    needed : one number or shape (n_rows,)
        A value without which a row cannot be solved: NaN takes it out.

    Returns
    -------
    GroundRows
        The rows that can be solved.

    Raises
    ------
    MechanicsError
        As `rest_on_ground`.
    """
    rows, of_row = ground.rows, wire.per_row(ground.rows)
    start, far = rows.per_row("start_height_m", end_heights_m[0]), rows.per_row("far_height_m", end_heights_m[1])
    require_non_negative("Wire on the ground", start_height_m=start, far_height_m=far)
    able = ~(ground.gaps | (rows.last == rows.first) | np.isnan(rows.per_row("needed", needed)))
    bearing = ground.z_m.copy()
    bearing[rows.first] += start
    long = rows.last > rows.first
    bearing[rows.last[long]] += far[long]
    here, height, rise, least_q = ground.from_middle(bearing), ground.z_m, ground.rise_m, ground.least_curvature
    point = able[rows.ordinal]
    if not able.all():
        here = Supports(here.x_m[point], here.z_m[point], rows.number[point])
        height, rise, least_q = height[point], rise[able[rows.of_span]], least_q[point]
    # The ends stand higher than the ground there, so that the chords from them do.
    steps = np.hypot(here.dx_m, rise)
    path = row_sums(here.rows.of_span, steps, here.rows.count) + (start + far)[able]
    return GroundRows(here, height, path, of_row.of(np.flatnonzero(able)), least_q, able, point)
