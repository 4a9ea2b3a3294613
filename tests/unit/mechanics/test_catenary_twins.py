"""One span against calculations that share nothing with it.

The twins start from Irvine's equations as he writes them, x(H, V) and z(H, V) with differences of asinh:
in forty digits, where those differences do no harm, and in plain floats with a scalar root finder that looks
for both states and takes the shorter wire. The second library is MoorPy.
"""

import math
import re

import mpmath
import numpy as np
import pytest
from moorpy.Catenary import catenary as moorpy_catenary
from scipy.optimize import brentq, minimize_scalar
from wirerun.errors import MechanicsError
from wirerun.mechanics.catenary import SpanState, solve_span_length, solve_span_tension
from wirerun.mechanics.wire import Wire, axial_stiffness, weight_per_m

Span = tuple[float, float, float, float, float]


def _random_spans(count: int, seed: int) -> list[Span]:
    """Run, rise, start tension, weight and stiffness, over the whole range; some of them cannot hang."""
    rng = np.random.default_rng(seed)
    diameter = rng.uniform(1.6, 5.0, count)
    run = np.exp(rng.uniform(np.log(0.5), np.log(500.0), count))
    rise = run * rng.uniform(-1.0, 1.0, count)
    tension = np.exp(rng.uniform(np.log(0.5), np.log(5000.0), count))
    columns = [run, rise, tension, weight_per_m(diameter), axial_stiffness(diameter)]
    return list(zip(*(column.tolist() for column in columns), strict=True))


def _solved(span: Span) -> SpanState:
    dx, rise, tension, weight, stiffness = span
    return solve_span_tension(dx, rise, Wire(weight, stiffness), tension)


def _fly(angle: float, span: Span) -> tuple[float, float]:
    """Height at the far station and length of wire, when it leaves the near support at an angle."""
    run, _, tension, weight, stiffness = span
    pull, vertical = tension * math.cos(angle), tension * math.sin(angle)

    def short(length: float) -> float:
        turned = math.asinh((vertical + weight * length) / pull) - math.asinh(vertical / pull)
        return pull * length / stiffness + pull / weight * turned - run

    longest = 2.0 * run
    while short(longest) < 0.0:
        longest *= 2.0
    length = brentq(short, 0.0, longest, xtol=1e-15 * run, rtol=1e-15)
    end = vertical + weight * length
    height = (end * end - vertical * vertical) / (2.0 * stiffness * weight)
    height += (math.hypot(pull, end) - math.hypot(pull, vertical)) / weight
    return height, length


def _lowest(span: Span) -> tuple[float, float]:
    """Departure angle with which the wire passes the far station as low as it can, and how low that is."""
    best = minimize_scalar(
        lambda angle: _fly(angle, span)[0], bounds=(-1.45, math.atan(span[1] / span[0])), method="bounded",
        options={"xatol": 1e-10},
    )  # fmt: skip
    return float(best.x), float(best.fun)


def _scalar_twin(span: Span) -> tuple[float, float, float] | None:
    """Pull, vertical force at the start and length of the shallow state, or nothing if it cannot hang."""
    turn, low = _lowest(span)
    if low > span[1]:
        return None
    # Flatter than the lowest: towards the straight line to the support the wire is ever shorter.
    chord = math.atan(span[1] / span[0])
    angle = brentq(lambda a: _fly(a, span)[0] - span[1], turn, chord, xtol=1e-16, rtol=1e-15)
    return span[2] * math.cos(angle), span[2] * math.sin(angle), _fly(angle, span)[1]


def test_scalar_twin_on_random_spans() -> None:
    hung = 0
    for span in _random_spans(150, seed=11):
        twin = _scalar_twin(span)
        if twin is None:
            with pytest.raises(MechanicsError, match="cannot hang"):
                _solved(span)
            continue
        hung += 1
        ours = _solved(span)
        # The twin loses digits to its differences, about 1e-16 c/run, and near the double root.
        assert ours.horizontal_n == pytest.approx(twin[0], rel=1e-7)
        assert ours.vertical_start_n == pytest.approx(twin[1], abs=1e-7 * span[2])
        assert ours.unstretched_m == pytest.approx(twin[2], rel=1e-8)
    assert 75 < hung < 135


def test_the_least_tension_named_is_the_least() -> None:
    checked = 0
    for run, rise, _, weight, stiffness in _random_spans(12, seed=12):
        span = (run, rise, 0.3 * weight * run, weight, stiffness)

        def lack(tension: float, span: Span = span) -> float:
            return _lowest((*span[:2], tension, *span[3:]))[1] - span[1]

        if lack(span[2]) < 0.0:
            continue
        least = brentq(lack, span[2], weight * (run + 2.0 * abs(rise)), rtol=1e-9)
        with pytest.raises(MechanicsError) as caught:
            _solved(span)
        found = re.search(r"at least (\S+) N", str(caught.value))
        assert found is not None
        assert 0.0 < float(found[1]) / least - 1.0 < 1.3e-3
        # And the solver itself turns exactly there, within what the twin can tell.
        solve_span_tension(run, rise, Wire(weight, stiffness), least * (1.0 + 1e-7))
        with pytest.raises(MechanicsError, match="cannot hang"):
            solve_span_tension(run, rise, Wire(weight, stiffness), least * (1.0 - 1e-7))
        checked += 1
    assert checked >= 8


def _forty_digits(span: Span, ours: SpanState) -> dict[str, float]:
    """The state in forty digits from Irvine's equations; ours only says which of the two is meant."""
    start = (math.atan2(float(ours.vertical_start_n), float(ours.horizontal_n)), float(ours.unstretched_m))
    with mpmath.workdps(40):
        run, rise, tension, weight, stiffness = map(mpmath.mpf, span)

        def place(angle: mpmath.mpf, length: mpmath.mpf) -> tuple[mpmath.mpf, mpmath.mpf]:
            pull, vertical = tension * mpmath.cos(angle), tension * mpmath.sin(angle)
            end = vertical + weight * length
            turned = mpmath.asinh(end / pull) - mpmath.asinh(vertical / pull)
            across = pull * length / stiffness + pull / weight * turned
            up = (end**2 - vertical**2) / (2 * stiffness * weight)
            return across, up + (mpmath.hypot(pull, end) - mpmath.hypot(pull, vertical)) / weight

        def misses(angle: mpmath.mpf, length: mpmath.mpf) -> list[mpmath.mpf]:
            across, up = place(angle, length)
            return [across - run, up - rise]

        angle, length = mpmath.findroot(misses, start, tol=1e-60, maxsteps=60)
        half = mpmath.findroot(lambda s: place(angle, s)[0] - run / 2, length / 2)
        pull, vertical = tension * mpmath.cos(angle), tension * mpmath.sin(angle)
        pulled = mpmath.quad(lambda s: mpmath.hypot(pull, vertical + weight * s), [0, length])
        return {
            "horizontal_n": float(pull),
            "vertical_start_n": float(vertical),
            "vertical_end_n": float(vertical + weight * length),
            "tension_end_n": float(mpmath.hypot(pull, vertical + weight * length)),
            "unstretched_m": float(length),
            "stretched_m": float(length + pulled / stiffness),
            "sag_m": float(rise / 2 - place(angle, half)[1]),
        }


def test_every_number_to_twelve_digits() -> None:
    worst = 0.0
    for span in _random_spans(60, seed=13):
        if span[2] < 1.05 * span[3] * (span[0] + 2.0 * abs(span[1])):
            continue  # close to the double root digits are lost by nature, not by the solver
        ours = _solved(span)
        for name, exact in _forty_digits(span, ours).items():
            # Vertical forces pass through 0 at the wire's lowest point: what counts is their share of T.
            scale = span[2] if name.startswith("vertical") else abs(exact)
            worst = max(worst, abs(float(getattr(ours, name)) - exact) / scale)
    assert 0.0 < worst < 1e-12


def test_soft_wire_to_twelve_digits() -> None:
    # Strains up to 50 %, where every term with k counts.
    for span in ((6.0, 2.0, 300.0, 0.4, 600.0), (50.0, -40.0, 90.0, 0.4, 300.0), (6.0, 0.0, 2.5, 0.4, 10.0)):
        ours = _solved(span)
        for name, exact in _forty_digits(span, ours).items():
            scale = span[2] if name.startswith("vertical") else abs(exact)
            assert float(getattr(ours, name)) == pytest.approx(exact, abs=1e-12 * scale), name


def test_second_library_from_the_same_length() -> None:
    rng = np.random.default_rng(14)
    for _ in range(60):
        run = float(rng.uniform(3.0, 150.0))
        rise = float(run * rng.uniform(0.02, 0.9))
        length = float(math.hypot(run, rise) * rng.choice([0.9995, 1.0005, 1.02, 1.4]))
        weight, stiffness = float(weight_per_m(2.5)), float(axial_stiffness(2.5))
        theirs = moorpy_catenary(run, rise, length, stiffness, weight, CB=-1e4, Tol=1e-11)
        near_h, near_v, far_h, far_v = theirs[:4]
        ours = solve_span_length(run, rise, Wire(weight, stiffness), length)
        # MoorPy stops at displacements of 1e-11 m, which a taut wire answers with EA x 1e-11/l newtons.
        near = pytest.approx(float(ours.horizontal_n), rel=1e-7, abs=1e-5)
        assert near_h == near
        assert -far_h == near
        assert near_v == pytest.approx(float(ours.vertical_start_n), rel=1e-7, abs=1e-5)
        assert -far_v == pytest.approx(float(ours.vertical_end_n), rel=1e-7, abs=1e-5)
