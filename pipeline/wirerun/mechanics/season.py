"""The same wire in another state: colder, hotter, or lifted to other heights.

Between two states of a season nobody cuts the wire: what stays is its unstretched length, row by row, and
that length alone fixes the new tension. Heat makes the unstretched length longer (`warmed`), so a hot wire is
slacker. The wire slides in its clips without friction (:mod:`.chain`), so one number per row is unknown: the
tension at its lowest support, from which every other follows by height.

A row that cannot be solved must not stop a block: it comes out NaN and is marked, see `WireState`.
"""

from dataclasses import dataclass

import numpy as np

from wirerun.arrays import BoolArray, FloatArray, FloatLike, IntArray
from wirerun.errors import MechanicsError
from wirerun.mechanics.batches import Batch, batches
from wirerun.mechanics.chain import Chain, solve_chain, unstretched_totals
from wirerun.mechanics.give import Give, rigid
from wirerun.mechanics.refusals import require_finite, require_positive
from wirerun.mechanics.roots import sinh_cosh, solve_end_tension
from wirerun.mechanics.row_index import row_sums
from wirerun.mechanics.supports import Supports
from wirerun.mechanics.taut_string import pull_cubic
from wirerun.mechanics.wire import Wire

#: Largest relative residual of a row's unstretched length: choice. A taut row of 100 m of 2.5 mm wire is then
#: good to 1e-5 N. Found in tests: 3e-14 at most.
LENGTH_LIMIT = 1e-11

# Supports worked on at a time: measured.
_BATCH = 32768
_MOST_ROUNDS = 120
# Rows closer than this to the least tension they can have count as too long: there no digit of it is left.
_AT_THE_TOP = 1e-9
# A wire this near a length, as a share of it, may be on either side of it.
_HAIR = 1e-10


@dataclass(frozen=True, slots=True)
class WireState:
    """Wires of given unstretched length in equilibrium; rows that have none are NaN throughout.

    Attributes
    ----------
    chain : Chain
        State of spans and supports, NaN in rows not solved.
    start_tension_n : FloatArray
        Tension at the first support of each row, shape (n_rows,); NaN where not solved. [N]
    solved : BoolArray
        Which rows have a solution; shape (n_rows,).
    too_long : BoolArray
        Rows whose wire is longer than their spans can share: however it is moved, one span draws the wire
        out of all others and sags to the ground. Shape (n_rows,). The other rows that are not solved have
        a height or length missing, or no span.
    residual : float
        Largest relative residual of a row's unstretched length, at most `LENGTH_LIMIT`. [-]
    """

    chain: Chain
    start_tension_n: FloatArray
    solved: BoolArray
    too_long: BoolArray
    residual: float


def warmed(wire: Wire, unstretched_m: FloatLike, change_k: FloatLike) -> FloatArray:
    """Unstretched length after a change of temperature, shape of the inputs broadcast [m].

    Warming lengthens. 100 m of steel from 15 to 40 degrees C:

    >>> round(float(warmed(Wire.from_diameter(2.5), 100.0, 25.0)), 2)
    100.03

    Taut between the same supports it loses 12e-6 EA newtons per kelvin, 11.8 N for 2.5 mm wire. The weight per metre,
    which falls by the same 0.03 %, is left as it is.

    Parameters
    ----------
    wire : Wire
        Its expansion broadcasts.
    unstretched_m : any shape, > 0, NaN passes through
        Length without pull before the change. [m]
    change_k : broadcasts
        New temperature less old: positive when the wire warms. [K]

    Returns
    -------
    FloatArray
        Length without pull after it. [m]

    Raises
    ------
    MechanicsError
        If a change is not finite.
    """
    length, change = np.asarray(unstretched_m, dtype=np.float64), np.asarray(change_k, dtype=np.float64)
    require_finite("Wire of another temperature", change_k=change)
    return np.asarray(length * (1.0 + wire.expansion_per_k * change))


def _share(
    dx: FloatArray, height: FloatArray, upper: FloatArray, weight: FloatArray, ea: FloatArray
) -> tuple[FloatArray, FloatArray, BoolArray]:
    """L0 of spans, its derivative to the upper tension, and which spans cannot hang; shapes (n,) [m, m/N].

    The derivative is taken along the curve of fixed dx and rise: both stay when H, m and d change
    together, which gives d' and m' per relative change of H from two linear equations, and dL0/dT from them.
    """
    d, h, rootless = solve_end_tension(0.5 * weight * dx / upper, height / dx, upper / ea)
    sh, ch = sinh_cosh(d)
    c = np.sqrt(1.0 + h * h)
    end, grown = c * ch + h * sh, h * ch + c * sh
    pull = upper / end
    k = pull / ea
    c_sh, h_sh, k_c_ch = c * sh, h * sh, k * c * ch
    dx_d, dx_m, dx_h = 1.0 + k_c_ch, k * h_sh, d + 2.0 * k * c_sh
    rise_d = h * ch + k * h * c * (ch * ch + sh * sh)
    rise_m = sh * (c + k * (c * c + h * h) * ch)
    rise_h = h_sh * (1.0 + 2.0 * k_c_ch)
    per_det = 1.0 / (dx_d * rise_m - dx_m * rise_d)
    d_h = (dx_m * rise_h - dx_h * rise_m) * per_det
    m_h = (rise_d * dx_h - dx_d * rise_h) * per_det
    slope = (c_sh + c * ch * d_h + h_sh * m_h) / (end + grown * (d_h + m_h))
    return 2.0 * pull / weight * c_sh, 2.0 / weight * slope, rootless


def _tension_of(store: FloatArray, ea: FloatArray) -> FloatArray:
    # Root of T + T^2/(2 EA) = store, without loss of digits.
    return 2.0 * store / (1.0 + np.sqrt(1.0 + 2.0 * store / ea))


class _Spans:
    """Spans of a batch of rows, the rows numbered from 0; shrinks as rows are done."""

    def __init__(self, owner: IntArray, columns: FloatArray) -> None:
        self.owner, self.columns = owner, columns  # columns: dx, height, climb of the upper end, weight, EA

    def keep(self, rest: BoolArray) -> "_Spans":
        kept = rest[self.owner]
        return _Spans((np.cumsum(rest) - 1)[self.owner[kept]], self.columns[:, kept])

    def lengths(self, low: FloatArray, ea: FloatArray) -> tuple[FloatArray, FloatArray, BoolArray]:
        """Total length, derivative, and rows of which a span cannot hang, at the tension of the lowest support."""
        dx, height, climb, weight, stiff = self.columns
        store = low * (1.0 + 0.5 * low / ea)
        upper = _tension_of(store[self.owner] + weight * climb, stiff)
        length, slope, rootless = _share(dx, height, upper, weight, stiff)
        count = low.size
        total = row_sums(self.owner, length, count)
        grade = row_sums(self.owner, slope / (1.0 + upper / stiff), count)
        lost = row_sums(self.owner, rootless, count) > 0
        return total, grade * (1.0 + low / ea), lost


def _spans_of(
    supports: Supports, wire: Wire, lowest: FloatArray, part: Batch, able: BoolArray
) -> tuple[_Spans, FloatArray, FloatArray]:
    """Spans of a batch's rows that are able, above the lowest support of each; horizontal length and rise [m]."""
    rows, z = supports.rows, supports.z_m
    span = np.arange(*np.searchsorted(rows.near, (part.points.start, part.points.stop)))
    span = span[able[rows.of_span[span] - part.rows.start]]
    near, dx, rise, row = rows.near[span], supports.dx_m[span], supports.rise_m[span], rows.of_span[span]
    climb = np.maximum(z[near], z[near + 1]) - lowest[row]
    weight, ea = np.asarray(wire.weight_n_per_m)[row], np.asarray(wire.axial_stiffness_n)[row]
    owner = (np.cumsum(able) - 1)[row - part.rows.start]
    return _Spans(owner, np.stack((dx, np.abs(rise), climb, weight, ea))), dx, rise


def _next(here: FloatArray, step: FloatArray, low: FloatArray, high: FloatArray, lost: BoolArray) -> FloatArray:
    """Next trial tension, shape (n,) [N]: Newton's, or half-way between the bounds where that leaves them."""
    moved = here - step
    between = np.where(np.isfinite(high), 0.5 * (low + np.where(np.isfinite(high), high, 0.0)), 2.0 * here)
    bad = lost | ~(moved > low) | ~(moved < high)
    return np.where(bad, between, moved)


def _solve_batch(
    spans: _Spans, guess: FloatArray, wanted: FloatArray, ea: FloatArray, give: Give
) -> tuple[FloatArray, BoolArray]:
    """Tension at the lowest support, NaN where there is none, and which rows are too long; shapes (n_rows,).

    The length falls as the tension grows, all along the shallow branch. Its lower end is where the first
    span cannot hang any more: rows that are still too short there are too long for any tension.
    """
    found, long = np.full(wanted.size, np.nan), np.zeros(wanted.size, dtype=np.bool_)
    todo = np.arange(wanted.size)
    here, low, high = guess, np.zeros(wanted.size), np.full(wanted.size, np.inf)
    floor_lost = np.ones(wanted.size, dtype=np.bool_)  # at tension 0 no span hangs
    for _ in range(_MOST_ROUNDS):
        if todo.size == 0:
            return found, long
        total, grade, lost = spans.lengths(here, ea)
        miss = total - wanted - give.at(here)
        grade = grade - give.m_per_n
        too_low = lost | (miss > 0.0)
        floor_lost = np.where(too_low, lost, floor_lost)
        low, high = np.where(too_low, here, low), np.where(too_low, high, here)
        step = np.where(lost, 0.0, miss / np.where(lost, 1.0, grade))
        # Newton's step squares the error: after one as short as this nothing is left but rounding.
        settled = ~lost & (np.abs(step) <= 1e-8 * here) & (np.abs(miss) <= 1e-11 * wanted)
        topped = ~settled & floor_lost & (high - low <= _AT_THE_TOP * here)
        moved = _next(here, step, low, high, lost)
        found[todo[settled]] = np.clip(here - step, low, high)[settled]
        long[todo[topped]] = True
        rest = ~(settled | topped)
        if not rest.all():
            spans = spans.keep(rest)
        todo, here, low, high = todo[rest], moved[rest], low[rest], high[rest]
        wanted, ea, floor_lost, give = wanted[rest], ea[rest], floor_lost[rest], give.of(rest)
    message = f"Wire of given length: {todo.size} rows left unsolved, the first is number {todo[0]} of its batch."
    raise MechanicsError(message)


def _solve_rows(supports: Supports, wire: Wire, wanted: FloatArray, give: Give) -> tuple[FloatArray, BoolArray]:
    """Tension at the lowest support of each row, NaN where there is none, and which rows are too long.

    `give` is from the tension there, too.
    """
    rows, count = supports.rows, wanted.size
    weight, ea = np.asarray(wire.weight_n_per_m), np.asarray(wire.axial_stiffness_n)
    found, long = np.full(count, np.nan), np.zeros(count, dtype=np.bool_)
    lowest = np.minimum.reduceat(supports.z_m, rows.first)
    for part in batches(rows, _BATCH):
        able = ~np.isnan(wanted[part.rows])
        if not able.any():
            continue
        place = np.flatnonzero(able) + part.rows.start
        spans, dx, rise = _spans_of(supports, wire, lowest, part, able)
        owner, w, stiff = spans.owner, weight[place], ea[place]
        chord = np.hypot(dx, rise)
        slackness = row_sums(owner, w[owner] ** 2 * dx**2 * chord / 24.0, place.size)
        chords = row_sums(owner, chord, place.size)
        guess = pull_cubic(chords / stiff, chords * (chords / wanted[place] - 1.0), slackness)
        # The guess is for the middle of the row's heights; its lowest support has less.
        climb = row_sums(owner, spans.columns[2] * chord, place.size) / chords
        guess = np.maximum(guess - w * climb, 0.2 * guess)
        found[place], long[place] = _solve_batch(spans, guess, wanted[place], stiff, give.of(place))
    return found, long


def _along_wire(from_n: FloatArray, climb_m: FloatArray, wire: Wire) -> FloatArray:
    """Tension of each row's wire so much higher up, shape (n_rows,) [N]."""
    ea = np.asarray(wire.axial_stiffness_n)
    return _tension_of(from_n * (1.0 + 0.5 * from_n / ea) + wire.weight_n_per_m * climb_m, ea)


def chain_at_length(supports: Supports, wire: Wire, unstretched_m: FloatLike, give: Give | None = None) -> WireState:
    """State of the wires of many rows whose unstretched length is given, sliding without friction.

    For cold and hot, the length comes from `warmed`; for a lift, the length stays and the heights change. A
    level row of ten 6 m spans of 2.5 mm wire, strung at 300 N, then 10 K warmer and 10 K colder:

    >>> level = Supports(6.0 * np.arange(11.0), np.zeros(11), np.zeros(11, dtype=int))
    >>> wire = Wire.from_diameter(2.5)
    >>> strung = unstretched_totals(solve_chain(level, wire, 300.0))
    >>> [round(float(chain_at_length(level, wire, warmed(wire, strung, t)).start_tension_n[0])) for t in (10.0, -10.0)]
    [186, 417]

    Too short a wire is only tighter: compare the tension with what the wire bears. Too long a wire has no
    equilibrium over its supports, and rows without heights or length have none to look for: all these
    come out NaN and are told apart by `WireState.solved` and `WireState.too_long`. Other rows do not notice.

    Parameters
    ----------
    supports : Supports
        Of all rows, with the heights of the wire.
    wire : Wire
        One wire, or one for each row.
    unstretched_m : one number or shape (n_rows,), > 0
        Length of wire without pull from a row's first support to its last; NaN where unknown. [m]
    give : Give, optional
        How the ends give way, from the tension at a row's first support. Default: they stand.

    Returns
    -------
    WireState
        The chain, the tension at each row's first support, and which rows have none.

    Raises
    ------
    MechanicsError
        If an input has the wrong shape, is not finite or not above 0; if a row misses its length by more
        than `LENGTH_LIMIT` (names the first).

    References
    ----------
    As `solve_span_tension` for the spans; `support_tensions` for what holds them together.
    """
    rows = supports.rows
    wanted, of_row = rows.per_row("unstretched_m", unstretched_m), wire.per_row(rows)
    job = "Wire of given length over supports"
    require_positive(job, unstretched_m=np.where(np.isnan(wanted), 1.0, wanted))
    wanted = np.where(supports.gaps | (rows.last == rows.first), np.nan, wanted)
    climb = (supports.z_m - np.minimum.reduceat(supports.z_m, rows.first)[rows.ordinal])[rows.first]
    ends = rigid(rows.count) if give is None else Give(give.m_per_n, _along_wire(give.from_n, -climb, of_row))
    low, long = _solve_rows(supports, of_row, wanted, ends)
    start, solved = _along_wire(low, climb, of_row), ~np.isnan(low)

    # Rows without an answer stand in the chain as rows without heights: NaN, and no others touched.
    heights = np.where(solved[rows.ordinal], supports.z_m, np.nan)
    chain = solve_chain(supports.at_heights(heights), of_row, np.where(solved, start, 1.0))
    miss = np.abs(unstretched_totals(chain) - wanted - ends.at(low))[solved] / wanted[solved]
    worst = float(miss.max(initial=0.0))
    if not worst <= LENGTH_LIMIT:
        bad = int(np.flatnonzero(solved)[np.flatnonzero(~(miss <= LENGTH_LIMIT))[0]])
        message = (
            f"{job}: row number {bad} (counted from 0) misses its length by {worst:.2g} of it, more than the"
            f" {LENGTH_LIMIT:g} allowed."
        )
        raise MechanicsError(message)
    return WireState(chain, start, solved, long, worst)


def tighter_than(
    tension_n: FloatArray, supports: Supports, wire: Wire, unstretched_m: FloatArray, give: Give
) -> tuple[BoolArray, BoolArray]:
    """Whether wires of given length are tighter than a tension at an end of their row, and whether that is sure.

    What `chain_at_length` would say, without looking for their tension: tighter is the one that is shorter than a wire
    that has the tension there. The doctest's wire of `chain_at_length`, 10 K warmer and 10 K colder:

    >>> level = Supports(6.0 * np.arange(11.0), np.zeros(11), np.zeros(11, dtype=int))
    >>> wire = Wire.from_diameter(2.5)
    >>> strung = unstretched_totals(solve_chain(level, wire, 300.0))
    >>> [
    ...     tighter_than(np.array([300.0]), level, wire, warmed(wire, strung, change), rigid(1))[0].tolist()
    ...     for change in (10.0, -10.0)
    ... ]
    [[False], [True]]

    Parameters
    ----------
    tension_n : shape (n_rows,), > 0
        Tension at the higher end of each row, which is the greater one. [N]
    supports, wire, give
        As for `chain_at_length`.
    unstretched_m : shape (n_rows,), > 0
        Length of wire; NaN where unknown: no tighter. [m]

    Returns
    -------
    tighter, sure : BoolArray
        Shape (n_rows,). Not sure is one within a hair of the tension, or where none can have it.
    """
    rows, of_row = supports.rows, wire.per_row(supports.rows)
    wanted = np.where(supports.gaps | (rows.last == rows.first), np.nan, unstretched_m)
    tighter, sure = np.zeros((2, rows.count), dtype=np.bool_)
    sure |= np.isnan(wanted)
    lowest = np.minimum.reduceat(supports.z_m, rows.first)
    climb = supports.z_m[rows.first] - lowest
    low = _along_wire(tension_n, -np.maximum(climb, supports.z_m[rows.last] - lowest), of_row)
    ends = Give(give.m_per_n, _along_wire(give.from_n, -climb, of_row))
    stiffness = np.asarray(of_row.axial_stiffness_n)
    for part in batches(rows, _BATCH):
        able = ~np.isnan(wanted[part.rows]) & (low[part.rows] > 0.0)
        if able.any():
            place = np.flatnonzero(able) + part.rows.start
            spans, _, _ = _spans_of(supports, of_row, lowest, part, able)
            total, _, lost = spans.lengths(low[place], stiffness[place])
            miss = total - ends.of(place).at(low[place]) - wanted[place]
            tighter[place], sure[place] = miss > 0.0, ~lost & (np.abs(miss) > _HAIR * wanted[place])
    return tighter, sure
