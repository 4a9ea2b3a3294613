"""How fast a million spans are solved, beside scipy's root finders and a single pass over memory.

The loop over `root` solves the same two equations. `brentq` in a loop and `newton` on whole arrays have less to do: a
wire that does not stretch has one unknown, its pull.

Run it as a script. Everything is measured in one run, so that the ratio holds on any machine; rates alone
do not.
"""

import math
import time
from collections.abc import Callable

import numpy as np
from scipy.optimize import brentq, newton, root
from wirerun.arrays import FloatArray
from wirerun.mechanics.catenary import solve_span_length, solve_span_tension
from wirerun.mechanics.wire import Wire, axial_stiffness, weight_per_m

SPANS, SAMPLE, ROUNDS = 1_000_000, 2_000, 5


def scalar_pull(run: float, rise: float, tension: float, weight: float, stiffness: float) -> float:
    """Pull of one span by scipy's root, from the two equations for departure angle and length of wire."""

    def misses(unknown: FloatArray) -> FloatArray:
        angle, length = unknown.tolist()
        pull, vertical = tension * math.cos(angle), tension * math.sin(angle)
        end = vertical + weight * length
        turned = math.asinh(end / pull) - math.asinh(vertical / pull)
        up = (end * end - vertical * vertical) / (2.0 * stiffness * weight)
        up += (math.hypot(pull, end) - math.hypot(pull, vertical)) / weight
        return np.array([pull * length / stiffness + pull / weight * turned - run, up - rise])

    start = (math.atan2(rise, run) - 0.5 * weight * run / tension, math.hypot(run, rise))
    return tension * math.cos(root(misses, start, tol=1e-12).x[0])


def missed(pull: FloatArray, run: FloatArray, rise: FloatArray, tension: FloatArray, weight: float) -> FloatArray:
    """Tension at the start of a catenary of given pull, less the one that is wanted."""
    a = pull / weight
    lowest = run / 2.0 - a * np.arcsinh(rise / (2.0 * a * np.sinh(run / (2.0 * a))))
    return np.asarray(pull * np.cosh(lowest / a) - tension)


def missed_by_one(pull: float, run: float, rise: float, tension: float, weight: float) -> float:
    """The same of one span, without arrays."""
    a = pull / weight
    lowest = run / 2.0 - a * math.asinh(rise / (2.0 * a * math.sinh(run / (2.0 * a))))
    return pull * math.cosh(lowest / a) - tension


def seconds(work: Callable[[], object], rounds: int) -> float:
    """Shortest time of several rounds: the one least disturbed by others."""
    times = []
    for _ in range(rounds):
        start = time.process_time()
        work()
        times.append(time.process_time() - start)
    return min(times)


def main() -> None:
    """Measure and print."""
    rng = np.random.default_rng(1)
    run = rng.uniform(4.0, 8.0, SPANS)
    rise = run * rng.uniform(-0.5, 0.5, SPANS)
    tension = rng.uniform(200.0, 1200.0, SPANS)
    weight, stiffness = float(weight_per_m(2.5)), float(axial_stiffness(2.5))
    wire = Wire.from_diameter(2.5)

    spans = solve_span_tension(run, rise, wire, tension)
    whole = seconds(lambda: solve_span_tension(run, rise, wire, tension), ROUNDS)
    by_length = seconds(lambda: solve_span_length(run, rise, wire, spans.unstretched_m), 2)
    one_pass = seconds(lambda: run * rise + tension, ROUNDS)

    sample = list(zip(run[:SAMPLE].tolist(), rise[:SAMPLE].tolist(), tension[:SAMPLE].tolist(), strict=True))
    scalar = seconds(lambda: [scalar_pull(*span, weight, stiffness) for span in sample], 2)
    pulls = np.array([scalar_pull(*span, weight, stiffness) for span in sample])
    apart = np.abs(pulls / spans.horizontal_n[:SAMPLE] - 1.0).max()

    bracketed = seconds(
        lambda: [
            brentq(missed_by_one, 0.5 * span[2], span[2], args=(*span, weight), xtol=1e-9, rtol=1e-12)
            for span in sample
        ],
        2,
    )
    guess, known = tension * run / np.hypot(run, rise), (run, rise, tension, weight)
    by_newton = seconds(lambda: newton(missed, guess, args=known, tol=1e-6), 2)
    assert np.abs(newton(missed, guess, args=known, tol=1e-6) / spans.horizontal_n - 1.0).max() < 1e-2

    whole_rate, scalar_rate = SPANS / whole, SAMPLE / scalar
    print(f"{SPANS} spans whole-array, {SAMPLE} in the scalar loop; million spans a second:")
    print(f"  whole arrays, given tension  {whole_rate / 1e6:8.2f}")
    print(f"  whole arrays, given length   {SPANS / by_length / 1e6:8.2f}")
    print(f"  scalar loop, scipy root      {scalar_rate / 1e6:8.4f}")
    print(f"ratio, given tension           {whole_rate / scalar_rate:8.0f}")
    print(f"  of brentq in a loop          {whole_rate / (SAMPLE / bracketed):8.0f}")
    print(f"  of newton on whole arrays    {by_newton / whole:8.1f}")
    print(f"one numpy pass, a * b + c      {one_pass * 1e3:8.2f} ms")
    print(f"passes in one solve            {whole / one_pass:8.0f}")
    print(f"largest residual               {spans.residual:8.1e}")
    print(f"largest difference of pulls    {apart:8.1e}")


if __name__ == "__main__":
    main()
