"""A wire that slides without friction over the supports of its row, for the rows of a whole block at once.

Friction left out, the tension is the same on both sides of a support, and along the wire
T + T^2/(2 EA) - w z is constant, across supports as well: uphill it is tighter, by the weight of the wire
the rise would hold. So one tension per row fixes every span. The horizontal pull is not the same in all
spans: it is the tension times the cosine of the wire's own slope.
"""

from dataclasses import dataclass, fields

import numpy as np

from wirerun.errors import MechanicsError
from wirerun.mechanics import BoolArray, FloatArray, FloatLike, IntArray
from wirerun.mechanics.catenary import SpanState, solve_span_tension
from wirerun.mechanics.ragged import Rows, find_rows, near_supports, refuse_bad_supports, spread
from wirerun.mechanics.refusals import refuse_unless_positive


@dataclass(frozen=True, slots=True)
class Chain:
    """Wires of many rows in equilibrium.

    Rows with a height missing have NaN in all their spans and supports: their wire is one piece.

    Attributes
    ----------
    spans : SpanState
        State of every span, arrays of shape (n_spans,).
    span_from : IntArray
        Index of the near support of each span; the far one is the next. Shape (n_spans,).
    support_tension_n : FloatArray
        Tension of the wire at each support, shape (n_supports,). [N]
    clip_load_n : FloatArray
        Load on each support's clip, positive when the wire bears down, negative when it pulls up; NaN at the
        two ends of a row. Shape (n_supports,). [N]
    """

    spans: SpanState
    span_from: IntArray
    support_tension_n: FloatArray
    clip_load_n: FloatArray


def _gaps(z: FloatArray, rows: Rows) -> BoolArray:
    """Which supports belong to a row with a missing height, shape (n_supports,)."""
    missing = np.bincount(rows.ordinal, weights=np.isnan(z), minlength=rows.first.size)
    return missing[rows.ordinal] > 0


def support_tensions(
    z_m: FloatArray,
    row: IntArray,
    start_tension_n: FloatLike,
    weight_n_per_m: FloatLike,
    stiffness_n: FloatLike,
) -> FloatArray:
    """Tension at each support of a sliding wire, shape (n_supports,) [N]; NaN in rows with a missing height.

    From T + T^2/(2 EA) - w z = its value at the row's first support, exact for an elastic wire. Uphill the
    wire is tighter: 300 N at the foot of a 10 m rise is 303.78 N at its head for 2.5 mm steel wire.

    Parameters
    ----------
    z_m : shape (n_supports,)
        Height of the wire at each support; NaN where there is none. [m]
    row : shape (n_supports,), never falling
        Row of each support.
    start_tension_n : one number or shape (n_rows,), > 0
        Tension at the first support of each row. [N]
    weight_n_per_m : one number or shape (n_rows,), > 0
        Weight per metre of unstretched wire. [N/m]
    stiffness_n : one number or shape (n_rows,), > 0
        EA. [N]

    Raises
    ------
    MechanicsError
        If an input has the wrong shape, is not above 0 or not finite, or if a row drops so far that its wire
        would be slack at a support (names the first, and the tension its row must start with).

    References
    ----------
    dT/ds = w sin(slope) and dz/ds = (1 + T/EA) sin(slope) along a hanging wire, integrated.
    """
    z, row = np.asarray(z_m, dtype=np.float64), np.asarray(row)
    rows = find_rows(row)
    count = rows.first.size
    given = {
        "start_tension_n": np.asarray(start_tension_n, dtype=np.float64),
        "weight_n_per_m": np.asarray(weight_n_per_m, dtype=np.float64),
        "stiffness_n": np.asarray(stiffness_n, dtype=np.float64),
    }
    refuse_unless_positive("Wire over supports", **given)
    start, weight, ea = (spread(name, value, count, rows.ordinal) for name, value in given.items())
    refuse_bad_supports(np.arange(float(z.size)), z, row)
    climb = np.where(_gaps(z, rows), np.nan, z - z[rows.first][rows.ordinal])
    store = start * (1.0 + 0.5 * start / ea) + weight * climb
    slack = store <= 0.0
    if slack.any():
        at = int(np.flatnonzero(slack)[0])
        drop = weight[at] * -climb[at]
        least = 1.0006 * 2.0 * drop / (1.0 + np.sqrt(1.0 + 2.0 * drop / ea[at]))  # right as printed
        message = (
            f"Support {at} (counted from 0) lies {-climb[at]:g} m below the start of its row {row[at]}:"
            f" with {start[at]:g} N there the wire is slack here. It must start with more than {least:.4g} N."
        )
        raise MechanicsError(message)
    return np.asarray(2.0 * store / (1.0 + np.sqrt(1.0 + 2.0 * store / ea)))


def clip_loads(spans: SpanState, span_from: IntArray, support_count: int) -> FloatArray:
    """Load on the clip of each support, shape (support_count,) [N]; NaN where a span is missing on one side.

    The vertical force of the span before, less that of the span after: H sinh q - H sinh p. Positive when
    the wire bears down on the clip, negative when it pulls up. Relative heights 0.3, 0, 0.5 m (a hollow),
    spans of 6 m, 1000 N, 2.5 mm steel wire: -130.7 N at the middle support.

    Parameters
    ----------
    spans : SpanState
        Arrays of shape (n_spans,).
    span_from : shape (n_spans,)
        Index of the near support of each span; the far one is the next.
    support_count : int
        Number of supports.
    """
    before: FloatArray = np.full(support_count, np.nan)
    after = before.copy()
    before[span_from + 1] = spans.vertical_end_n
    after[span_from] = spans.vertical_start_n
    return before - after


def solve_chain(
    x_m: FloatArray,
    z_m: FloatArray,
    row: IntArray,
    start_tension_n: FloatLike,
    weight_n_per_m: FloatLike,
    stiffness_n: FloatLike,
) -> Chain:
    """State of the wires of many rows, each sliding over its supports without friction.

    Parameters
    ----------
    x_m : shape (n_supports,)
        Station of each support along its row, growing within the row. [m]
    z_m : shape (n_supports,)
        Height of the wire at each support; NaN where there is none. [m]
    row : shape (n_supports,), never falling
        Row of each support.
    start_tension_n : one number or shape (n_rows,), > 0
        Tension at the first support of each row. [N]
    weight_n_per_m : one number or shape (n_rows,), > 0
        Weight per metre of unstretched wire. [N/m]
    stiffness_n : one number or shape (n_rows,), > 0
        EA. [N]

    Raises
    ------
    MechanicsError
        As `support_tensions` and `solve_span_tension`; spans are counted over all rows, from 0.

    References
    ----------
    Irvine 1981 for the spans; see `support_tensions` for the tension from span to span.
    """
    x, z, row = np.asarray(x_m, dtype=np.float64), np.asarray(z_m, dtype=np.float64), np.asarray(row)
    refuse_bad_supports(x, z, row)
    tension = support_tensions(z, row, start_tension_n, weight_n_per_m, stiffness_n)
    rows = find_rows(row)
    count = rows.first.size
    near = near_supports(row)
    weight = spread("weight_n_per_m", np.asarray(weight_n_per_m, dtype=np.float64), count, rows.ordinal)[near]
    ea = spread("stiffness_n", np.asarray(stiffness_n, dtype=np.float64), count, rows.ordinal)[near]
    run, rise, start = x[near + 1] - x[near], z[near + 1] - z[near], tension[near]
    gap = np.isnan(start)
    if gap.any():
        # Level stand-ins that can be solved keep the count of spans, so that a message names the right one.
        rise, start = np.where(gap, 0.0, rise), np.where(gap, weight * run, start)
    spans = solve_span_tension(run, rise, start, weight, ea)
    if gap.any():
        names = [field.name for field in fields(SpanState) if field.name != "residual"]
        blanked = {name: np.where(gap, np.nan, getattr(spans, name)) for name in names}
        spans = SpanState(**blanked, residual=spans.residual)
    return Chain(spans, near, tension, clip_loads(spans, near, x.size))
