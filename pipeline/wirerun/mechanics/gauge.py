"""Checking a wire's tension in the field: how far a span gives when it is pushed sideways at its middle.

A span l under the pull T0, pushed by d, becomes longer by 2 sqrt(l^2/4 + d^2) - l. How much the pull grows
depends on how much wire shares that: ``shared_m``.

- infinite (the default): the wire slides in its clips and the row is long, so the pull stays as it was. Then
  P = 4 T d/sqrt(l^2 + 4 d^2), and for small d the rule d = P l/(4 T). This is what a gauge on short legs
  reads, which pushes a few centimetres of a long wire.
- the length of the row: the wire slides, and all of it shares the stretch. This is the one for a check in the
  middle of a span: 6 m of 2.5 mm wire at 300 N pushed by 5 cm is pulled up to 308 N in a row of 100 m.
- the span itself: the wire is tied at both posts, as by staples driven home. The same push finds 436 N.

A wire that sticks in its clips lies between the last two: the truth of a doubtful check is between them.

The weight of the wire is left out. It acts across the push and, at the same tension, changes nothing; but a tied
span must first be pulled out of its sag, which holds back some of the stretch, w^2 l^3/(24 T^2) of
2 d^2/l: 2 % in the example.
"""

import numpy as np

from wirerun.arrays import BoolArray, FloatArray, FloatLike
from wirerun.errors import MechanicsError
from wirerun.mechanics.refusals import require_non_negative, require_positive

#: Largest residual of the force a deflection is found for, relative to it: choice.
FORCE_LIMIT = 1e-11

# Slope of the half spans up to which a push is looked for: far beyond what a wire bears.
_STEEPEST = 10.0


def _force(u: FloatArray, tension: FloatArray, gain: FloatArray) -> FloatArray:
    """Side force for the slope u = 2 d/l of the half spans, shape (n,) [N]; gain = (EA + T0) l/shared."""
    root = np.sqrt(1.0 + u * u)
    return np.asarray(2.0 * (tension + gain * (u * u / (1.0 + root))) * (u / root))


def _inputs(job: str, **values: FloatLike) -> tuple[FloatArray, ...]:
    arrays = {name: np.asarray(value, dtype=np.float64) for name, value in values.items()}
    shared = arrays["shared_m"]
    endless = np.isposinf(shared)  # infinite is meant here, and only here
    must = {name: array for name, array in arrays.items() if name not in {"shared_m", "deflection_m", "side_force_n"}}
    require_positive(job, **must, shared_m=np.where(endless, 1.0, shared))
    span, sharing = np.broadcast_arrays(arrays["span_m"], shared)
    if (sharing < span).any():
        at = int(np.flatnonzero(sharing.ravel() < span.ravel())[0])
        message = (
            f"{job}: shared_m must be at least the span, but is {sharing.ravel()[at]:g} m for a span of"
            f" {span.ravel()[at]:g} m at index {at}."
        )
        raise MechanicsError(message)
    return tuple(np.broadcast_arrays(*arrays.values()))


def side_force_for(
    span_m: FloatLike,
    tension_n: FloatLike,
    deflection_m: FloatLike,
    axial_stiffness_n: FloatLike,
    shared_m: FloatLike = np.inf,
) -> FloatArray:
    """Side force that pushes the middle of a span out by a deflection, shape of the inputs broadcast [N].

    6 m at 300 N, 5 cm out: where the tension stays, in a row of 100 m, and tied at both posts.

    >>> side_force_for(6.0, 300.0, 0.05, axial_stiffness(2.5), np.array([np.inf, 100.0, 6.0])).round(1).tolist()
    [10.0, 10.3, 14.5]

    Parameters
    ----------
    span_m : any shape, > 0
        Distance between the supports. [m]
    tension_n : broadcasts, > 0
        Tension before the push. [N]
    deflection_m : broadcasts, >= 0
        How far the middle is pushed out. [m]
    axial_stiffness_n : broadcasts, > 0
        EA. [N]
    shared_m : broadcasts, >= the span, infinite by default
        Length of wire that shares the stretch: see the module. [m]

    Returns
    -------
    FloatArray
        The push. [N]

    Raises
    ------
    MechanicsError
        If an input is not above 0 and finite (the deflection may be 0, ``shared_m`` infinite), or
        ``shared_m`` is less than the span; names the first.

    References
    ----------
    Balance of the push with two straight half spans. Iowa State University, Iowa Decanted, 28 February 2014:
    supports 40 in apart, deflection 0.5 in: T is 20 times the force.
    """
    job = "Side force"
    push = np.asarray(deflection_m, dtype=np.float64)
    require_non_negative(job, deflection_m=push)
    span, tension, push, ea, shared = _inputs(
        job,
        span_m=span_m,
        tension_n=tension_n,
        deflection_m=push,
        axial_stiffness_n=axial_stiffness_n,
        shared_m=shared_m,
    )
    return _force(2.0 * push / span, tension, (ea + tension) * (span / shared))


def mid_span_deflection(
    span_m: FloatLike,
    tension_n: FloatLike,
    side_force_n: FloatLike,
    axial_stiffness_n: FloatLike,
    shared_m: FloatLike = np.inf,
) -> FloatArray:
    """Deflection of the middle of a span under a side force, shape of the inputs broadcast [m].

    The inverse of `side_force_for`. 6 m at 300 N pushed by 10 N, in millimetres: where the tension stays (the rule
    P l/(4 T) gives 50.0), in a row of 100 m, and tied at both posts.

    >>> give_m = mid_span_deflection(6.0, 300.0, 10.0, axial_stiffness(2.5), np.array([np.inf, 100.0, 6.0]))
    >>> (1000.0 * give_m).round(1).tolist()
    [50.0, 48.7, 39.1]

    Parameters
    ----------
    span_m : any shape, > 0
        Distance between the supports. [m]
    tension_n : broadcasts, > 0
        Tension before the push. [N]
    side_force_n : broadcasts, >= 0
        The push; where the tension stays, a wire bears less than twice the tension. [N]
    axial_stiffness_n : broadcasts, > 0
        EA. [N]
    shared_m : broadcasts, >= the span, infinite by default
        Length of wire that shares the stretch: see the module. [m]

    Returns
    -------
    FloatArray
        How far the middle is pushed out. [m]

    Raises
    ------
    MechanicsError
        As `side_force_for`; if the span would give by more than five spans; if the force found
        back misses by more than `FORCE_LIMIT`; names the first.

    References
    ----------
    As `side_force_for`.
    """
    job = "Deflection by a side force"
    push = np.asarray(side_force_n, dtype=np.float64)
    require_non_negative(job, side_force_n=push)
    span, tension, push, ea, shared = _inputs(
        job,
        span_m=span_m,
        tension_n=tension_n,
        side_force_n=push,
        axial_stiffness_n=axial_stiffness_n,
        shared_m=shared_m,
    )
    gain = (ea + tension) * (span / shared)
    hopeless = push >= _force(np.full_like(push, _STEEPEST), tension, gain)
    if hopeless.any():
        at = int(np.flatnonzero(hopeless.ravel())[0])
        message = (
            f"{job}: side_force_n of {push.ravel()[at]:g} at index {at} is more than a span of"
            f" {tension.ravel()[at]:g} N can bear: it would give by over {0.5 * _STEEPEST:g} spans."
        )
        raise MechanicsError(message)
    u = _slope_for(push, tension, gain)
    miss = np.abs(_force(u, tension, gain) - push)
    bad: BoolArray = ~(miss <= FORCE_LIMIT * push)
    if bad.any():
        at = int(np.flatnonzero(bad.ravel())[0])
        message = f"{job}: the force found back misses by {miss.ravel()[at]:.2g} N at index {at}."
        raise MechanicsError(message)
    return np.asarray(0.5 * span * u)


def pushed_tension(
    span_m: FloatLike,
    tension_n: FloatLike,
    deflection_m: FloatLike,
    axial_stiffness_n: FloatLike,
    shared_m: FloatLike = np.inf,
) -> FloatArray:
    """Tension of a wire whose span is pushed out at its middle, shape of the inputs broadcast [N].

    The 6 m of the module, in a row of 100 m and tied at both posts:

    >>> pushed_tension(6.0, 300.0, 0.05, axial_stiffness(2.5), np.array([100.0, 6.0])).round().tolist()
    [308.0, 436.0]

    Parameters
    ----------
    span_m, tension_n, deflection_m, axial_stiffness_n, shared_m
        As for `side_force_for`.

    Returns
    -------
    FloatArray
        Tension with the push on. [N]

    Raises
    ------
    MechanicsError
        As `side_force_for`.
    """
    push = np.asarray(deflection_m, dtype=np.float64)
    require_non_negative("Tension of a pushed wire", deflection_m=push)
    span, tension, push, ea, shared = _inputs(
        "Tension of a pushed wire",
        span_m=span_m,
        tension_n=tension_n,
        deflection_m=push,
        axial_stiffness_n=axial_stiffness_n,
        shared_m=shared_m,
    )
    u = 2.0 * push / span
    return np.asarray(tension + (ea + tension) * (span / shared) * (u * u / (1.0 + np.sqrt(1.0 + u * u))))


def _slope_for(push: FloatArray, tension: FloatArray, gain: FloatArray) -> FloatArray:
    """Slope u = 2 d/l of the half spans at which `_force` is the push, any shape [-].

    Looked for as s = u/sqrt(1 + u^2), the sine, which the tension alone, without stretch, would have at P/(2 T) and the
    wire has below that.
    """

    def excess(s: FloatArray, push: FloatArray, tension: FloatArray, gain: FloatArray) -> FloatArray:
        cos = np.sqrt((1.0 - s) * (1.0 + s))
        return np.asarray(2.0 * s * (tension + gain * (s * s / (cos * (1.0 + cos)))) - push)

    # A hair more, so that rounding does not put the bound below the root where there is no stretch.
    most = np.minimum(0.5 * push / tension * (1.0 + 1e-15), _STEEPEST / np.hypot(1.0, _STEEPEST))
    from scipy.optimize.elementwise import find_root  # noqa: PLC0415 - slow to import, and seldom wanted

    s = find_root(excess, (np.zeros_like(most), most), args=(push, tension, gain)).x
    return np.asarray(s / np.sqrt((1.0 - s) * (1.0 + s)))


def tension_for(
    side_force_n: FloatLike,
    span_m: FloatLike,
    deflection_m: FloatLike,
    axial_stiffness_n: FloatLike,
    shared_m: FloatLike = np.inf,
) -> FloatArray:
    """Tension before the push of a span that gives by a deflection under a side force, shape broadcast [N].

    The inverse of `side_force_for` in the tension; not above 0 where the force is less than the stretch alone asks for.
    A gauge on rests 1 m apart that draws a wire of 100 m out by 10 mm and reads 12.1 N:

    >>> round(float(tension_for(12.1, 1.0, 0.01, axial_stiffness(2.5), 100.0)))
    301

    Parameters
    ----------
    side_force_n : any shape, >= 0
        The push. [N]
    span_m, deflection_m : broadcast, > 0
        Distance between the supports, and how far the middle is pushed out. [m]
    axial_stiffness_n : broadcasts, > 0
        EA. [N]
    shared_m : broadcasts, >= the span, infinite by default
        Length of wire that shares the stretch: see the module. [m]

    Returns
    -------
    FloatArray
        Tension. [N]

    Raises
    ------
    MechanicsError
        If an input cannot be; names the first.

    References
    ----------
    As `side_force_for`, whose force is linear in the tension: P = 2 s (T + (EA + T) g), with s the sine of the half
    spans and g their stretch by the length that shares it.
    """
    job = "Tension by a side force"
    push = np.asarray(side_force_n, dtype=np.float64)
    require_non_negative(job, side_force_n=push)
    require_positive(job, deflection_m=np.asarray(deflection_m, dtype=np.float64))
    span, out, push, ea, shared = _inputs(
        job,
        span_m=span_m,
        deflection_m=deflection_m,
        side_force_n=push,
        axial_stiffness_n=axial_stiffness_n,
        shared_m=shared_m,
    )
    u = 2.0 * out / span
    root = np.sqrt(1.0 + u * u)
    stretch = u * u / (1.0 + root) * (span / shared)
    return np.asarray((0.5 * push * root / u - ea * stretch) / (1.0 + stretch))
