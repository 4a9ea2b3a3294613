"""One span of wire between two supports: the elastic catenary, for many spans at once.

With p, q the asinh of the wire's slope at the near and far end, m = (p + q)/2, d = (q - p)/2, k = H/EA and
the weight w per metre of unstretched wire, the equations of equilibrium integrate to

    L0   = 2 (H/w) cosh m sinh d
    dx   = 2 (H/w) (d + k cosh m sinh d)
    rise = 2 (H/w) sinh m sinh d (1 + k cosh m cosh d)
    T    = H cosh(m - d) at the near end, H cosh(m + d) at the far end

which is Irvine's x(H, V), z(H, V) in products instead of differences, so that a taut wire, whose slack is
micrometres in metres, keeps its digits. Along one wire T + T^2/(2 EA) - w z is constant, exactly: with it
the tension at the upper end follows from that at the lower, and a span is always solved from above.

References
----------
H. M. Irvine, Cable Structures, MIT Press, 1981 (not read; derived here). The same equations,
x and z over the unstretched length, in Physics Stack Exchange 69840, "Closed form for shape/tension of an elastic cable
slung between two points". That both ends of an elastic wire ask for two unknowns at once: C. Boergers, Hanging cables
and spider threads, arXiv 2302.09054.
"""

from dataclasses import dataclass

import numpy as np

from wirerun.arrays import BoolArray, FloatArray, FloatLike
from wirerun.errors import MechanicsError
from wirerun.mechanics.batches import chunks
from wirerun.mechanics.refusals import require_finite, require_non_negative, require_positive
from wirerun.mechanics.roots import sinh_cosh, solve_end_tension, solve_length
from wirerun.mechanics.wire import Wire

#: Largest relative residual of dx, rise and the given tension or length that a result may have: choice.
RESIDUAL_LIMIT = 1e-9

# Spans worked on at a time, so that the fifty working arrays stay in the processor's cache: measured.
_CHUNK = 16384


@dataclass(frozen=True, slots=True)
class SpanState:
    """Wire in equilibrium in its spans; arrays of one shape, the inputs broadcast.

    Example for the signs: a span that rises 1 m over 6 m at 300 N has vertical_start_n = 48.2 and
    vertical_end_n = 50.5, both positive because the wire climbs at both ends; walked the other way they
    are -50.5 and -48.2. The near support of the first is pulled up by 48.2 N, its far one down by 50.5 N.

    Attributes
    ----------
    horizontal_n : FloatArray
        Horizontal tension H, the same all along a span. [N]
    vertical_start_n : FloatArray
        H times the slope of the wire at the near end, positive where it rises towards the far end. [N]
    vertical_end_n : FloatArray
        The same at the far end. [N]
    tension_start_n : FloatArray
        Tension at the near end. [N]
    tension_end_n : FloatArray
        Tension at the far end. [N]
    unstretched_m : FloatArray
        Length of the wire without pull. [m]
    stretched_m : FloatArray
        Length of the wire under its tension. [m]
    sag_m : FloatArray
        Vertical gap between the chord and the wire below it, half-way in plan. [m]
    residual : float
        Largest relative residual found: of dx and rise as a share of dx, and of the given tension or
        length. Never above `RESIDUAL_LIMIT`. [-]
    """

    horizontal_n: FloatArray
    vertical_start_n: FloatArray
    vertical_end_n: FloatArray
    tension_start_n: FloatArray
    tension_end_n: FloatArray
    unstretched_m: FloatArray
    stretched_m: FloatArray
    sag_m: FloatArray
    residual: float


def _middle(d: FloatArray, h: FloatArray, c: FloatArray, bow: FloatArray, k: FloatArray) -> FloatArray:
    """Asinh of the wire's slope half-way in plan, less m, shape (n,) [-]; 0 where k or m is 0.

    Root e of e + k (sinh m (cosh e - cosh d) + cosh m sinh e) = 0, whose left side only rises.
    """
    k_h, k_c = k * h, k * c
    e = k_h * bow / (1.0 + k_c)
    step = e
    for _ in range(20):
        # What is left after a Newton step is about k h step^2/2; the sag goes with d^2.
        if (k_h * step * step <= 1e-14 * d * d).all():
            break
        she, che = np.sinh(e), np.cosh(e)
        step = (e + k_h * (2.0 * np.sinh(0.5 * e) ** 2 - bow) + k_c * she) / (1.0 + k_h * she + k_c * che)
        e = e - step
    return e


def _fill(
    out: FloatArray, d: FloatArray, h: FloatArray, pull_n: FloatArray, weight: FloatArray, ea: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Write the columns of `SpanState` for spans seen from below; hand back dx and rise, shapes (n,) [m]."""
    sh, ch = sinh_cosh(d)
    c = np.sqrt(1.0 + h * h)
    k = pull_n / ea
    scale = 2.0 * pull_n / weight
    k_c, h_sh, c_sh = k * c, h * sh, c * sh
    middle_v, middle_t = pull_n * (h * ch), pull_n * (c * ch)
    half_v, half_t = pull_n * c_sh, pull_n * h_sh
    double = 1.0 + 2.0 * h * h  # cosh 2m
    bow = sh * (sh / (1.0 + ch))  # cosh d - 1, not as a difference
    e = _middle(d, h, c, bow, k)
    she, che = np.sinh(e), np.cosh(e)
    dip = c * (bow - she * (she / (1.0 + che))) - h * she
    dip += 0.5 * k * (double * (sh - she) * (sh + she) - 2.0 * h * c * she * che)
    out[0] = pull_n
    out[1] = middle_v - half_v
    out[2] = middle_v + half_v
    out[3] = middle_t - half_t
    out[4] = middle_t + half_t
    out[5] = scale * c_sh
    out[6] = scale * (c_sh + 0.5 * k * (d + double * sh * ch))
    out[7] = 0.5 * scale * dip
    return scale * (d + k_c * sh), scale * h_sh * (1.0 + k_c * ch)


def _turn(out: FloatArray, falling: BoolArray) -> None:
    """Swap near and far end of the columns where the span falls: it was solved from below upwards."""
    if falling.any():
        out[1:3] = np.where(falling, -out[2:0:-1], out[1:3])
        out[3:5] = np.where(falling, out[4:2:-1], out[3:5])


def _state(out: FloatArray, misses: FloatArray, shape: tuple[int, ...], job: str) -> SpanState:
    """Test the residuals, shape (n,), and shape the columns into the result."""
    worst = float(misses.max()) if misses.size else 0.0
    if not worst <= RESIDUAL_LIMIT:
        bad = int(np.flatnonzero(~(misses <= RESIDUAL_LIMIT))[0])
        message = (
            f"{job}: the solution for span {bad} (counted from 0) misses its equations by {misses[bad]:.2g}"
            f" of the span, more than the {RESIDUAL_LIMIT:g} allowed."
        )
        raise MechanicsError(message)
    columns = out.reshape((8, *shape))
    return SpanState(
        horizontal_n=columns[0, ...],
        vertical_start_n=columns[1, ...],
        vertical_end_n=columns[2, ...],
        tension_start_n=columns[3, ...],
        tension_end_n=columns[4, ...],
        unstretched_m=columns[5, ...],
        stretched_m=columns[6, ...],
        sag_m=columns[7, ...],
        residual=worst,
    )


def _upper_tension(tension: FloatArray, climb: FloatArray, weight: FloatArray, ea: FloatArray) -> FloatArray:
    # B = T + T^2/(2 EA) is what the invariant speaks of; T = 2 B/(1 + sqrt(1 + 2 B/EA)) loses no digits.
    store = tension * (1.0 + 0.5 * tension / ea) + weight * climb
    return 2.0 * store / (1.0 + np.sqrt(1.0 + 2.0 * store / ea))


def _least_tension(dx: float, rise: float, weight: float, ea: float) -> float:
    """Smallest tension at the near end with which one span can hang at all [N], found by halving."""
    slope = np.array([abs(rise) / dx])

    def hangs(tension: float) -> bool:
        reach, strain = np.array([0.5 * weight * dx / tension]), np.array([tension / ea])
        return not solve_end_tension(reach, slope, strain)[2][0]

    high = weight * (dx + abs(rise))
    while not hangs(high):
        high *= 2.0
    low = 0.0
    for _ in range(60):
        middle = 0.5 * (low + high)
        low, high = (low, middle) if hangs(middle) else (middle, high)
    climb = np.array(-max(rise, 0.0))
    return float(_upper_tension(np.array(high), climb, np.array(weight), np.array(ea)))


def _refuse_slack(first: int, dx: float, rise: float, tension: float, weight: float, ea: float) -> None:
    # A hair more than the least, so that the number printed with four digits is one that works.
    least = _least_tension(dx, rise, weight, ea) * 1.0006
    message = (
        f"Span {first} (counted from 0), {dx:g} m in plan, rise {rise:g} m, wire {weight:g} N/m, cannot hang at"
        f" a tension of {tension:g} N at its start: its own weight needs at least {least:.4g} N there."
    )
    raise MechanicsError(message)


def _spread(wire: Wire, *values: FloatArray) -> tuple[tuple[int, ...], list[FloatArray]]:
    """Shape of the values and the wire's broadcast; the values, weight and EA flat, in that size."""
    columns = [*values, np.asarray(wire.weight_n_per_m), np.asarray(wire.axial_stiffness_n)]
    shape = np.broadcast_shapes(*(column.shape for column in columns))
    return shape, [np.broadcast_to(column, shape).reshape(-1) for column in columns]


def solve_span_tension(dx_m: FloatLike, rise_m: FloatLike, wire: Wire, tension_start_n: FloatLike) -> SpanState:
    """State of each span whose tension at the near end is given; arrays of the inputs broadcast.

    Two states carry the same end tension: a shallow one and a deep bight. The shallow one is returned. Level, 6 m of
    2.5 mm steel wire at 300 N sags by 5.67 mm and takes 1.8 mm less wire than the span:

    >>> span = solve_span_tension(6.0, 0.0, Wire.from_diameter(2.5), 300.0)
    >>> round(1000.0 * float(span.sag_m), 2), round(1000.0 * float(6.0 - span.unstretched_m), 2)
    (5.67, 1.82)

    Parameters
    ----------
    dx_m : any shape, > 0
        Horizontal distance between the supports. [m]
    rise_m : broadcasts
        Height of the far support above the near one. [m]
    wire : Wire
        Its weight and stiffness broadcast.
    tension_start_n : broadcasts, > 0
        Tension of the wire at the near support. [N]

    Returns
    -------
    SpanState
        Forces at both ends, lengths and sag, arrays of the shape broadcast.

    Raises
    ------
    MechanicsError
        If an input is not finite or not above 0 where it must be; if a span cannot hang at its tension
        (names the first, and the least tension that would do); if a residual is above `RESIDUAL_LIMIT`.

    References
    ----------
    As the module. The residual is tested on dx, rise and tension as the module states them.
    """
    job = "Wire of given tension"
    dx, rise, tension = (np.asarray(v, dtype=np.float64) for v in (dx_m, rise_m, tension_start_n))
    require_positive(job, dx_m=dx, tension_start_n=tension)
    require_finite(job, rise_m=rise)
    shape, (dx, rise, tension, weight, ea) = _spread(wire, dx, rise, tension)
    out, misses = np.empty((8, dx.size)), np.empty(dx.size)
    for part in chunks(dx.size, _CHUNK):
        dx_c, rise_c, tension_c = dx[part], rise[part], tension[part]
        weight_c, ea_c = weight[part], ea[part]
        height = np.abs(rise_c)
        upper = _upper_tension(tension_c, np.maximum(rise_c, 0.0), weight_c, ea_c)
        d, h, rootless = solve_end_tension(0.5 * weight_c * dx_c / upper, height / dx_c, upper / ea_c)
        if rootless.any():
            first = part.start + int(np.flatnonzero(rootless)[0])
            _refuse_slack(first, *(float(v[first]) for v in (dx, rise, tension, weight, ea)))
        sh, ch = sinh_cosh(d)
        pull = upper / (np.sqrt(1.0 + h * h) * ch + h * sh)
        columns = out[:, part]
        dx_out, rise_out = _fill(columns, d, h, pull, weight_c, ea_c)
        _turn(columns, rise_c < 0.0)
        miss = np.maximum(np.abs(dx_out - dx_c), np.abs(rise_out - height)) / dx_c
        misses[part] = np.maximum(miss, np.abs(columns[3] - tension_c) / tension_c)
    return _state(out, misses, shape, job)


def solve_span_length(dx_m: FloatLike, rise_m: FloatLike, wire: Wire, unstretched_m: FloatLike) -> SpanState:
    """State of each span whose unstretched length of wire is given; arrays of the inputs broadcast.

    The wire may be longer than the chord (it hangs) or shorter (it is stretched): there is always one state.
    A taut wire answers to its length with EA: a length good to one part in 1e16 gives the pull to about
    1e-16 EA newtons and no better. 140 m of all but inextensible cable over 120 m:

    >>> span = solve_span_length(120.0, 0.0, Wire(1.0, 1e12), 140.0)
    >>> round(float(span.horizontal_n), 2), round(float(span.sag_m), 2)
    (61.45, 31.7)

    Parameters
    ----------
    dx_m : any shape, > 0
        Horizontal distance between the supports. [m]
    rise_m : broadcasts
        Height of the far support above the near one. [m]
    wire : Wire
        Its weight and stiffness broadcast.
    unstretched_m : broadcasts, > 0
        Length of the wire without pull. [m]

    Returns
    -------
    SpanState
        Forces at both ends, lengths and sag, arrays of the shape broadcast.

    Raises
    ------
    MechanicsError
        If an input is not finite or not above 0 where it must be; if a residual is above `RESIDUAL_LIMIT`.

    References
    ----------
    As the module. The residual is tested on dx, rise and length as the module states them.
    """
    job = "Wire of given length"
    dx, rise, length = (np.asarray(v, dtype=np.float64) for v in (dx_m, rise_m, unstretched_m))
    require_positive(job, dx_m=dx, unstretched_m=length)
    require_finite(job, rise_m=rise)
    shape, (dx, rise, length, weight, ea) = _spread(wire, dx, rise, length)
    out, misses = np.empty((8, dx.size)), np.empty(dx.size)
    for part in chunks(dx.size, _CHUNK):
        dx_c, rise_c, length_c, weight_c, ea_c = dx[part], rise[part], length[part], weight[part], ea[part]
        height = np.abs(rise_c)
        d, h = solve_length(dx_c / length_c, height / length_c, 0.5 * weight_c * length_c / ea_c)
        pull = 0.5 * weight_c * length_c / (np.sqrt(1.0 + h * h) * sinh_cosh(d)[0])
        columns = out[:, part]
        dx_out, rise_out = _fill(columns, d, h, pull, weight_c, ea_c)
        _turn(columns, rise_c < 0.0)
        miss = np.maximum(np.abs(dx_out - dx_c), np.abs(rise_out - height)) / dx_c
        misses[part] = np.maximum(miss, np.abs(columns[5] - length_c) / length_c)
    return _state(out, misses, shape, job)


def sag_level(span_m: FloatLike, tension_n: FloatLike, load_n_per_m: FloatLike) -> FloatArray:
    """Mid-span sag of a wire between two supports at equal height, shape of the inputs broadcast [m].

    Exact for the inextensible catenary, 2 c sinh^2(l/(4 c)) with c = H/w, which keeps its digits when the
    sag is micrometres. 6 m of 2.5 mm wire:

    >>> round(1000.0 * float(sag_level(6.0, 300.0, 0.3779)), 2)
    5.67

    Parameters
    ----------
    span_m : any shape, > 0
        Horizontal distance between the supports. [m]
    tension_n : broadcasts, > 0
        Horizontal tension. [N]
    load_n_per_m : broadcasts, >= 0
        Weight of the wire per metre; without weight the sag is 0. [N/m]

    Returns
    -------
    FloatArray
        Vertical gap between chord and wire at mid-span. [m]

    Raises
    ------
    MechanicsError
        If a span or tension is not above 0, a load is negative, or one is not finite; names the first.

    References
    ----------
    As the module; that of y = c cosh(x/c) with c = H/w, from the middle to a support.
    """
    span, tension, load = (np.asarray(v, dtype=np.float64) for v in (span_m, tension_n, load_n_per_m))
    require_positive("Sag of a level span", span_m=span, tension_n=tension)
    require_non_negative("Sag of a level span", load_n_per_m=load)
    turn = 0.25 * load * span / tension
    sinh = np.sinh(turn)
    # sinh(u)/u is 1 for no load: the sag is then 0 by its other factor.
    ratio = np.divide(sinh, turn, out=np.ones_like(turn), where=turn > 0.0)
    return np.asarray(0.5 * span * sinh * ratio)
