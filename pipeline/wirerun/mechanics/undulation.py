"""Crests and hollows: grade changes, what the wire does to a clip there, and how sure one can be of it."""

import numpy as np
from scipy.special import ndtr

from wirerun.arrays import FloatArray, FloatLike, IntArray
from wirerun.mechanics.refusals import require_non_negative, require_positive
from wirerun.mechanics.supports import Supports
from wirerun.mechanics.wire import Wire

# Decay of an exponential correlation that has fallen to 5 % at its range: exp(-3) = 0.0498. Common practice.
_RANGES_PER_DECAY = 3.0


def _pull(tension_n: FloatLike, size: int) -> FloatArray:
    tension = np.asarray(tension_n, dtype=np.float64)
    require_positive("Load on a clip", tension_n=np.where(np.isnan(tension), 1.0, tension))
    return np.broadcast_to(tension, (size,))


def _beside(supports: Supports, of_span: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Values of the spans before and after each inner support, shape (n_inner,) each."""
    after = np.searchsorted(supports.rows.near, supports.rows.inner)
    return of_span[after - 1], of_span[after]


def _at(size: int, inner: IntArray, values: FloatArray) -> FloatArray:
    full = np.full((size, *values.shape[1:]), np.nan)
    full[inner] = values
    return full


def grade_changes(supports: Supports) -> FloatArray:
    """Grade change at each support, shape (n_supports,) [-]; NaN at row ends and beside missing heights.

    Negative at a crest, positive in a hollow:

    >>> x_m, row = np.array([0.0, 6.0, 12.0] * 2), np.array([1, 1, 1, 2, 2, 2])
    >>> grade_changes(Supports(x_m, np.array([0.0, 0.3, 0.0, 0.3, 0.0, 0.5]), row)).round(4).tolist()
    [nan, -0.1, nan, nan, 0.1333, nan]

    Parameters
    ----------
    supports : Supports
        Of all rows.

    Returns
    -------
    FloatArray
        Grade of the span after the support less that of the span before it, shape (n_supports,). [-]
    """
    grade = supports.rise_m / supports.dx_m
    before, after = _beside(supports, grade)
    return _at(supports.rows.size, supports.rows.inner, after - before)


def lifting_dip(span_m: FloatLike, tension_n: FloatLike, weight_n_per_m: FloatLike, hold_n: FloatLike) -> FloatArray:
    """How far a clip lies below the line of its two neighbours where the wire pulls up by `hold_n` [m].

    For a taut wire between two spans of one length, as in `taut_clip_load`: load = w L - 2 T d / L. What a person on
    site can see with a string from clip to clip. A foliage wire of 2.5 mm at its coldest, on spans of 6 m:

    >>> round(float(lifting_dip(6.0, 534.0, 0.378, 5.0)), 3)
    0.041

    Parameters
    ----------
    span_m : number or array, > 0
        Length of either span. [m]
    tension_n : number or array, > 0
        Tension of the wire; NaN where it is not known. [N]
    weight_n_per_m : number or array, >= 0
        Weight of the wire per metre. [N/m]
    hold_n : number or array, >= 0
        Pull upwards that the clip bears. [N]

    Returns
    -------
    FloatArray
        Same shape as the arguments together, NaN where the tension is not known. [m]

    References
    ----------
    Statics of a light taut wire; `taut_clip_load` is the same with unlike spans.
    """
    span = np.asarray(span_m, dtype=np.float64)
    tension = np.asarray(tension_n, dtype=np.float64)
    require_positive("Dip", span_m=span, tension_n=np.where(np.isnan(tension), 1.0, tension))
    return np.asarray((hold_n + np.asarray(weight_n_per_m) * span) * span / (2.0 * tension))


def taut_clip_load(supports: Supports, wire: Wire, tension_n: FloatLike) -> FloatArray:
    """Load on each clip by the closed form for a taut light wire, shape (n_supports,) [N]; NaN at row ends.

    load = -T (sin a + sin b) + w (l1 cos a + l2 cos b)/2, with a and b the rises from the support to its
    neighbours and l1, l2 the horizontal distances. Positive when the wire bears down, negative when it pulls up. For
    checks by hand: `solve_chain` is exact. A hollow and a crest of spans of 6 m, 1000 N, 2.5 mm steel wire:

    >>> x_m, row = np.array([0.0, 6.0, 12.0] * 2), np.array([1, 1, 1, 2, 2, 2])
    >>> supports = Supports(x_m, np.array([0.3, 0.0, 0.5, 0.0, 0.3, 0.0]), row)
    >>> taut_clip_load(supports, Wire.from_diameter(2.5), 1000.0).round(1).tolist()
    [nan, -130.7, nan, nan, 102.1, nan]

    The cosines matter on steep ground only. A sliding wire presses at right angles to a slope, with
    w (chord) cos a, of which cos a is vertical; the rest of its weight hangs on the wire further up.

    Parameters
    ----------
    supports : Supports
        Of all rows, with the heights of the wire.
    wire : Wire
        One wire, or one for each row; its stiffness is of no matter.
    tension_n : one number or shape (n_supports,), > 0
        Tension of the wire at each support; NaN where there is none. [N]

    Returns
    -------
    FloatArray
        Shape (n_supports,). [N]

    Raises
    ------
    MechanicsError
        If a tension cannot be, or there is neither one wire nor one per row; names the place.

    References
    ----------
    Equilibrium of a support between two ties of pull T, each of which arrives steeper than its chord by
    w l/(2 T).
    """
    size, inner = supports.rows.size, supports.rows.inner
    pull = _pull(tension_n, size)[inner]
    weight = np.asarray(wire.per_row(supports.rows).weight_n_per_m)[supports.rows.ordinal[inner]]
    chord = np.hypot(supports.dx_m, supports.rise_m)
    sine_1, sine_2 = _beside(supports, supports.rise_m / chord)
    pressed_1, pressed_2 = _beside(supports, supports.dx_m * (supports.dx_m / chord))
    return _at(size, inner, -pull * (sine_2 - sine_1) + 0.5 * weight * (pressed_1 + pressed_2))


def load_sensitivity(supports: Supports, tension_n: FloatLike) -> FloatArray:
    """Change of each clip's load with three heights, shape (n_supports, 3) [N/m].

    The heights are those of the previous, the own and the next support, the changes -T cos^3 a/l1, the
    negated sum, and -T cos^3 b/l2, with l the horizontal distances: raising a neighbour lifts the wire off the clip,
    raising the support itself presses it on. They add up to 0: raising all three changes nothing. On level ground
    with 6 m spans:

    >>> level = Supports(np.array([0.0, 6.0, 12.0]), np.zeros(3), np.zeros(3, dtype=int))
    >>> load_sensitivity(level, 300.0)[1].tolist()
    [-50.0, 100.0, -50.0]

    The tension is held; the weight of the wire, which changes it by w per metre of height, is left out.

    Parameters
    ----------
    supports : Supports
        Of all rows, with the heights of the wire.
    tension_n : one number or shape (n_supports,), > 0
        Tension of the wire at each support; NaN where there is none. [N]

    Returns
    -------
    FloatArray
        Shape (n_supports, 3), NaN at row ends. [N/m]

    Raises
    ------
    MechanicsError
        If a tension cannot be; names the place.

    References
    ----------
    d(sin a)/dz = cos^3 a/l, from `taut_clip_load`.
    """
    size, inner = supports.rows.size, supports.rows.inner
    pull = _pull(tension_n, size)[inner]
    cos = supports.dx_m / np.hypot(supports.dx_m, supports.rise_m)
    (dx_1, dx_2), (cos_1, cos_2) = _beside(supports, supports.dx_m), _beside(supports, cos)
    before, after = -pull * cos_1**3 / dx_1, -pull * cos_2**3 / dx_2
    return _at(size, inner, np.stack((before, -(before + after), after), axis=-1))


def _beyond_line(u: FloatArray) -> FloatArray:
    """exp(-u) - 1 + u for u >= 0, with full relative accuracy: the second antiderivative of exp(-u)."""
    small = np.minimum(u, 1.0)
    series = np.zeros_like(small)
    for order in range(20, 1, -1):
        # Horner's scheme for u^2/2! - u^3/3! + ...; 20 terms are beyond double precision at u = 1.
        series = 1.0 - small / (order + 1.0) * series
    return np.where(u < 1.0, 0.5 * small * small * series, np.expm1(-u) + u)


def height_covariance(
    distance_m: FloatLike,
    accuracy_m: float,
    correlation_m: float,
    smoothing_m: float,
) -> FloatArray:
    """Covariance of the errors of two ground heights, shape of the distance [m2].

    Exponential model, accuracy^2 exp(-3 d/range): at the range the correlation has fallen to 5 %. Each height
    is the mean of the ground over ``smoothing_m`` along the row, which averages the error as well:
    with a = 3/range and F(d) = exp(-a d)/a^2 + d/a it is accuracy^2 (F(d + s) - 2 F(d) + F(d - s))/s^2.
    1 m of smoothing takes a standard deviation of 0.030 m at a range of 3 m to

    >>> round(float(np.sqrt(height_covariance(0.0, 0.03, 3.0, 1.0))), 3)
    0.026

    Range 0 means errors without correlation: accuracy^2 at distance 0 and nothing elsewhere. Averaging would
    then leave no error at all, however short, which no survey has: smoothing is taken to reduce nothing.

    Parameters
    ----------
    distance_m : any shape, sign of no matter
        Horizontal distance of the two positions. [m]
    accuracy_m : float, >= 0
        Standard deviation of the height of a single point. [m]
    correlation_m : float, >= 0
        Range of the correlation. [m]
    smoothing_m : float, >= 0
        Length over which each height is averaged; 0 for none. [m]

    Returns
    -------
    FloatArray
        Shape of the distance. [m2]

    Raises
    ------
    MechanicsError
        If an accuracy, range or smoothing is negative or not finite.

    References
    ----------
    Exponential variogram with its practical range: common practice in geostatistics. The average is the
    double integral of the model over two windows, done by hand.
    """
    require_non_negative(
        "Error of the heights",
        accuracy_m=np.asarray(accuracy_m, dtype=np.float64),
        correlation_m=np.asarray(correlation_m, dtype=np.float64),
        smoothing_m=np.asarray(smoothing_m, dtype=np.float64),
    )
    distance = np.abs(np.asarray(distance_m, dtype=np.float64))
    if correlation_m == 0.0:
        return np.asarray(accuracy_m**2 * (distance == 0.0))
    decay = _RANGES_PER_DECAY / correlation_m
    v, t = decay * distance, decay * smoothing_m
    if t < 1e-20:  # shorter changes no digit, and its square would vanish
        return np.asarray(accuracy_m**2 * np.exp(-v))
    # Windows apart: the straight parts of F cancel by hand. Windows that overlap: differences of
    # exp(-u) - 1 + u, all of the size of t^2, so that short windows keep their digits.
    share = np.exp(-np.maximum(v - t, 0.0)) * (-np.expm1(-t) / t) ** 2
    overlap = v < t
    near = v[overlap]
    after, at, before = _beyond_line(np.stack((near + t, near, t - near)))
    second = after - 2.0 * at + before
    share = np.asarray(share)
    share[overlap] = second / (t * t)
    return np.asarray(accuracy_m**2 * share)


def load_sigma(
    supports: Supports,
    tension_n: FloatLike,
    accuracy_m: float,
    correlation_m: float,
    smoothing_m: float,
    sigma_m: FloatArray | None = None,
) -> FloatArray:
    """One-sigma error of each clip's load from the error of the heights, shape (n_supports,) [N].

    The square root of g C g, with g from `load_sensitivity` and C from `height_covariance` for the support
    and its two neighbours. An error common to all three, or a tilt common to equal spans, moves no load. NaN at row
    ends. Uncorrelated heights good to 0.03 m, 6 m spans, 300 N:

    >>> level = Supports(np.array([0.0, 6.0, 12.0]), np.zeros(3), np.zeros(3, dtype=int))
    >>> round(float(load_sigma(level, 300.0, 0.03, 0.0, 0.0)[1]), 2)
    3.67

    A height that is less sure than the rest, such as one bridged over a hole, has a standard deviation of its own. What
    it has beyond the rest adds its square times g squared, for it is taken to go with no other height's error.

    Parameters
    ----------
    supports : Supports
        Of all rows, with the heights of the wire.
    tension_n : one number or shape (n_supports,), > 0
        Tension of the wire at each support; NaN where there is none. [N]
    accuracy_m : float, >= 0
        Standard deviation of the height of a single point. [m]
    correlation_m : float, >= 0
        Range of the correlation. [m]
    smoothing_m : float, >= 0
        Length over which each height is averaged; 0 for none. [m]
    sigma_m : shape (n_supports,), optional
        Standard deviation of heights that are less sure than the rest; NaN where a height is as sure. [m]

    Returns
    -------
    FloatArray
        Shape (n_supports,). [N]

    Raises
    ------
    MechanicsError
        As `load_sensitivity` and `height_covariance`.

    References
    ----------
    First-order propagation of error: JCGM 100:2008, 5.1.2 and, for quantities that are correlated, 5.2 with its
    equation (13).
    """
    x, inner = supports.x_m, supports.rows.inner
    grad = load_sensitivity(supports, tension_n)[inner]
    distance = np.stack((x[inner] - x[inner - 1], x[inner + 1] - x[inner], x[inner + 1] - x[inner - 1]))
    variance = height_covariance(0.0, accuracy_m, correlation_m, smoothing_m)
    # The three derivatives add up to 0, so only differences of heights count: g C g = -2 sum of
    # g_i g_j (variance - covariance). Common errors are then never subtracted from each other.
    apart = variance - height_covariance(distance, accuracy_m, correlation_m, smoothing_m)
    before, own, after = grad.T
    square = -2.0 * (before * own * apart[0] + own * after * apart[1] + before * after * apart[2])
    if sigma_m is not None:
        sigma = np.nan_to_num(np.asarray(sigma_m, dtype=np.float64))
        require_non_negative("Error of the heights", sigma_m=sigma)
        beyond = np.maximum(sigma**2 - variance, 0.0)
        square += before**2 * beyond[inner - 1] + own**2 * beyond[inner] + after**2 * beyond[inner + 1]
    return _at(x.size, inner, np.sqrt(np.maximum(square, 0.0)))


def need_probability(load_n: FloatLike, sigma_n: FloatLike, hold_down_n: FloatLike) -> FloatArray:
    """Probability that the true load is below -hold_down, shape of the inputs broadcast [-].

    For a normal error of the load. Without error it is 1 beyond the limit, 0 short of it, and 0.5 on it. NaN stays
    NaN. A load of -10 N good to 5 N against a clip that holds 5 N down:

    >>> round(float(need_probability(-10.0, 5.0, 5.0)), 3)
    0.841

    Parameters
    ----------
    load_n : any shape
        Load on the clip, positive when the wire bears down. [N]
    sigma_n : broadcasts, >= 0
        Its standard deviation. [N]
    hold_down_n : broadcasts, >= 0
        Pull a plain clip withstands. [N]

    Returns
    -------
    FloatArray
        From 0 to 1. [-]

    Raises
    ------
    MechanicsError
        If a standard deviation or hold-down is negative or infinite; names the first.

    References
    ----------
    Normal distribution function.
    """
    load, sigma, hold = (np.asarray(v, dtype=np.float64) for v in (load_n, sigma_n, hold_down_n))
    require_non_negative("Need of a two-way clip", sigma_n=np.where(np.isnan(sigma), 0.0, sigma), hold_down_n=hold)
    over = -hold - load
    spread = sigma > 0.0
    probability = ndtr(np.divide(over, sigma, out=np.zeros(np.broadcast(over, sigma).shape), where=spread))
    if spread.all():
        return np.asarray(probability)
    exact = np.where(np.isnan(over) | np.isnan(sigma), np.nan, 0.5 * (1.0 + np.sign(over)))
    return np.asarray(np.where(spread, probability, exact))
