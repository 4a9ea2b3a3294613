"""A wire that slides without friction over the supports of its row, for the rows of a whole block at once.

Friction left out, the tension is the same on both sides of a support, and along the wire
T + T^2/(2 EA) - w z is constant, across supports as well: uphill it is tighter, by the weight of the wire
the rise would hold. So one tension per row fixes every span. The horizontal pull is not the same in all
spans: it is the tension times the cosine of the wire's own slope.
"""

from dataclasses import dataclass, fields

import numpy as np

from wirerun.arrays import FloatArray, FloatLike, IntArray
from wirerun.errors import MechanicsError
from wirerun.mechanics.catenary import SpanState, solve_span_tension
from wirerun.mechanics.refusals import require_positive
from wirerun.mechanics.row_index import RowIndex, row_sums
from wirerun.mechanics.supports import Supports
from wirerun.mechanics.wire import Wire


@dataclass(frozen=True, slots=True)
class Chain:
    """Wires of many rows in equilibrium.

    Rows with a height missing have NaN in all their spans and supports: their wire is one piece.

    Attributes
    ----------
    spans : SpanState
        State of every span, arrays of shape (n_spans,).
    rows : RowIndex
        Where the rows lie among the supports.
    support_tension_n : FloatArray
        Tension of the wire at each support, shape (n_supports,). [N]
    clip_load_n : FloatArray
        Load on each support's clip, positive when the wire bears down, negative when it pulls up; NaN at the
        two ends of a row. Shape (n_supports,). [N]
    """

    spans: SpanState
    rows: RowIndex
    support_tension_n: FloatArray
    clip_load_n: FloatArray

    @property
    def span_from(self) -> IntArray:
        """Index of the near support of each span; the far one is the next. Shape (n_spans,)."""
        return self.rows.near


def support_tensions(supports: Supports, wire: Wire, start_tension_n: FloatLike) -> FloatArray:
    """Tension at each support of a sliding wire, shape (n_supports,) [N]; NaN in rows with a missing height.

    From T + T^2/(2 EA) - w z = its value at the row's first support, exact for an elastic wire. Uphill the
    wire is tighter; 2.5 mm steel wire from the foot of a 10 m rise to its head:

    >>> slope = Supports(np.array([0.0, 40.0]), np.array([0.0, 10.0]), np.array([0, 0]))
    >>> support_tensions(slope, Wire.from_diameter(2.5), 300.0).round(2).tolist()
    [300.0, 303.78]

    Parameters
    ----------
    supports : Supports
        Of all rows; stations are of no matter.
    wire : Wire
        One wire, or one for each row.
    start_tension_n : one number or shape (n_rows,), > 0
        Tension at the first support of each row. [N]

    Returns
    -------
    FloatArray
        Shape (n_supports,). [N]

    Raises
    ------
    MechanicsError
        If an input has the wrong shape, is not above 0 or not finite, or if a row drops so far that its wire
        would be slack at a support (names the first, and the tension its row must start with).

    References
    ----------
    dT/ds = w sin(slope) and dz/ds = (1 + T/EA) sin(slope) along a hanging wire, integrated.
    """
    rows = supports.rows
    given = np.asarray(start_tension_n, dtype=np.float64)
    require_positive("Wire over supports", start_tension_n=given)
    of_support = wire.per_row(rows).of(rows.ordinal)
    start = rows.per_row("start_tension_n", given)[rows.ordinal]
    weight, ea = np.asarray(of_support.weight_n_per_m), np.asarray(of_support.axial_stiffness_n)
    z = supports.z_m
    climb = np.where(supports.gaps[rows.ordinal], np.nan, z - z[rows.first][rows.ordinal])
    store = start * (1.0 + 0.5 * start / ea) + weight * climb
    slack = store <= 0.0
    if slack.any():
        at = int(np.flatnonzero(slack)[0])
        drop = weight[at] * -climb[at]
        least = 1.0006 * 2.0 * drop / (1.0 + np.sqrt(1.0 + 2.0 * drop / ea[at]))  # right as printed
        message = (
            f"Support {at} (counted from 0) lies {-climb[at]:g} m below the start of its row {rows.number[at]}:"
            f" with {start[at]:g} N there the wire is slack here. It must start with more than {least:.4g} N."
        )
        raise MechanicsError(message)
    return np.asarray(2.0 * store / (1.0 + np.sqrt(1.0 + 2.0 * store / ea)))


def clip_loads(spans: SpanState, rows: RowIndex) -> FloatArray:
    """Load on the clip of each support, shape (n_supports,) [N]; NaN at both ends of a row.

    The vertical force of the span before, less that of the span after: H sinh q - H sinh p. Positive when
    the wire bears down on the clip, negative when it pulls up. A span that climbs 0.3 m and one that falls as much, on
    both sides of one clip:

    >>> spans = solve_span_tension(6.0, np.array([0.3, -0.3]), Wire.from_diameter(2.5), 1000.0)
    >>> clip_loads(spans, RowIndex.of(np.array([0, 0, 0]))).round(1).tolist()
    [nan, 102.1, nan]

    Parameters
    ----------
    spans : SpanState
        Arrays of shape (n_spans,).
    rows : RowIndex
        Where the rows lie among the supports.

    Returns
    -------
    FloatArray
        Shape (n_supports,). [N]
    """
    before: FloatArray = np.full(rows.size, np.nan)
    after = before.copy()
    before[rows.near + 1] = spans.vertical_end_n
    after[rows.near] = spans.vertical_start_n
    return before - after


def solve_chain(supports: Supports, wire: Wire, start_tension_n: FloatLike) -> Chain:
    """State of the wires of many rows, each sliding over its supports without friction.

    Relative heights 0.3, 0, 0.5 m (a hollow) and 0, 0.3, 0 m (a crest), spans of 6 m, 1000 N, 2.5 mm steel wire: the
    first pulls its clip up, the second bears down on it.

    >>> x_m, row = np.array([0.0, 6.0, 12.0] * 2), np.array([1, 1, 1, 2, 2, 2])
    >>> supports = Supports(x_m, np.array([0.3, 0.0, 0.5, 0.0, 0.3, 0.0]), row)
    >>> solve_chain(supports, Wire.from_diameter(2.5), 1000.0).clip_load_n.round(1).tolist()
    [nan, -130.7, nan, nan, 102.1, nan]

    Parameters
    ----------
    supports : Supports
        Of all rows, with the heights of the wire.
    wire : Wire
        One wire, or one for each row.
    start_tension_n : one number or shape (n_rows,), > 0
        Tension at the first support of each row. [N]

    Returns
    -------
    Chain
        State of every span, and tension and load at every support.

    Raises
    ------
    MechanicsError
        As `support_tensions` and `solve_span_tension`; spans are counted over all rows, from 0.

    References
    ----------
    As `solve_span_tension` for the spans; see `support_tensions` for the tension from span to span.
    """
    tension = support_tensions(supports, wire, start_tension_n)
    rows = supports.rows
    of_span = wire.per_row(rows).of(rows.of_span)
    dx, rise, start = supports.dx_m, supports.rise_m, tension[rows.near]
    gap = np.isnan(start)
    if gap.any():
        # Level stand-ins that can be solved keep the count of spans, so that a message names the right one.
        rise, start = np.where(gap, 0.0, rise), np.where(gap, of_span.weight_n_per_m * dx, start)
    spans = solve_span_tension(dx, rise, of_span, start)
    if gap.any():
        names = [field.name for field in fields(SpanState) if field.name != "residual"]
        blanked = {name: np.where(gap, np.nan, getattr(spans, name)) for name in names}
        spans = SpanState(**blanked, residual=spans.residual)
    return Chain(spans, rows, tension, clip_loads(spans, rows))


def unstretched_totals(chain: Chain) -> FloatArray:
    """Unstretched length of wire in each row, end support to end support, shape (n_rows,) [m].

    NaN in rows with a height missing, 0 in rows of one support. Ten level spans of 6 m at 300 N take 18.2 mm less
    of 2.5 mm wire than they are long:

    >>> level = Supports(6.0 * np.arange(11.0), np.zeros(11), np.zeros(11, dtype=int))
    >>> unstretched_totals(solve_chain(level, Wire.from_diameter(2.5), 300.0)).round(4).tolist()
    [59.9818]

    Parameters
    ----------
    chain : Chain
        From `solve_chain` or `chain_at_length`.

    Returns
    -------
    FloatArray
        Shape (n_rows,). [m]
    """
    return row_sums(chain.rows.of_span, chain.spans.unstretched_m, chain.rows.count)
