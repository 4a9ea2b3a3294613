"""How fast a block goes through its season, beside a loop over rows with scipy, and beside one pass over memory.

Run it as a script. 20 000 rows of 60 spans with two wires each, ground every metre: strung, made warmer, let down.
Everything is measured in one run, so that the ratios hold on any machine; rates alone do not. Rows are taken
a thousand at a time, which keeps the memory below half a gigabyte.
"""

import time
from collections.abc import Iterator
from contextlib import contextmanager

import numpy as np
from scipy.optimize import brentq
from scipy.spatial import ConvexHull
from wirerun.mechanics import FloatArray, IntArray
from wirerun.mechanics.chain import solve_chain, unstretched_totals
from wirerun.mechanics.drop import length_to_drop, level_share
from wirerun.mechanics.rest import rest_on_ground
from wirerun.mechanics.season import chain_at_length, warmed
from wirerun.mechanics.supports import Supports
from wirerun.mechanics.wire import Wire, axial_stiffness, weight_per_m

ROWS, AT_A_TIME, SPANS, SPAN_M = 20_000, 1_000, 60, 6
HEIGHTS_M, TENSION_N, WARMER_K = (1.2, 1.5), 300.0, 15.0
CLEAR_M = 0.5
SAMPLE = 20
WIRE = Wire.from_diameter(2.5)
WEIGHT, EA = float(weight_per_m(2.5)), float(axial_stiffness(2.5))

NODES, SHARES = np.polynomial.legendre.leggauss(8)
Ragged = tuple[FloatArray, FloatArray, IntArray]


def rolling_ground(rng: np.random.Generator, rows: int) -> FloatArray:
    """Heights of a batch of rows at every metre, shape (rows, points): waves of 15 to 120 m, 1 cm of noise, a tilt."""
    x = np.arange(SPANS * SPAN_M + 1.0)
    wave = rng.uniform(15.0, 120.0, (rows, 4, 1))
    high = 0.008 * wave * rng.uniform(0.0, 1.0, wave.shape)
    phase = rng.uniform(0.0, 2.0 * np.pi, wave.shape)
    waves = (high * np.sin(2.0 * np.pi * x / wave + phase)).sum(axis=1)
    return np.asarray(waves + rng.uniform(-0.25, 0.25, (rows, 1)) * x + rng.normal(0.0, 0.01, (rows, x.size)))


def ragged(heights: FloatArray, step_m: float) -> Ragged:
    """Stations, heights and rows, one after another."""
    rows, points = heights.shape
    return np.tile(step_m * np.arange(points), rows), heights.ravel(), np.repeat(np.arange(rows), points)


class Clock:
    """Seconds by name, added up."""

    def __init__(self) -> None:
        self.seconds: dict[str, float] = {}

    @contextmanager
    def of(self, name: str) -> Iterator[None]:
        """Add the time of what is done within."""
        start = time.perf_counter()
        yield
        self.seconds[name] = self.seconds.get(name, 0.0) + time.perf_counter() - start


def scalar_tension(x: FloatArray, z: FloatArray, length: float) -> float:
    """Tension of one row of given length by brentq, every span by the formulas of one row at a time."""
    row = np.zeros(x.size, dtype=np.int64)
    low = 5.0 + WEIGHT * float(z[0] - z.min())
    return float(
        brentq(
            lambda t: float(unstretched_totals(solve_chain(Supports(x, z, row), WIRE, t))[0]) - length,
            low,
            3000.0,
            xtol=1e-7,
        )
    )


def scalar_pull(x: FloatArray, y: FloatArray, length: float) -> float:
    """Pull of one row on the ground by brentq over scipy's convex hull."""
    run = float(x[-1] - x[0])
    secant = float(np.hypot(1.0, (y[-1] - y[0]) / run))
    load = WEIGHT * (secant + 0.6 * (length / run - secant))
    middle = x - 0.5 * (x[0] + x[-1])

    def miss(pull: float) -> float:
        q = load / pull
        bent = y - 0.5 * q * middle * middle
        closed = np.vstack((np.column_stack((x, bent)), [[x[0], bent.min() - 5.0], [x[-1], bent.min() - 5.0]]))
        corner = np.sort([v for v in ConvexHull(closed).vertices if v < x.size])
        dx, slope = np.diff(x[corner]), np.diff(y[corner]) / np.diff(x[corner])
        lean = slope + 0.5 * q * dx * NODES[:, None]
        c = np.sqrt(1.0 + lean * lean)
        return float((0.5 * dx * SHARES[:, None] * c / (1.0 + pull / EA * c)).sum()) - length

    return float(brentq(miss, 2.0, 5000.0, xtol=1e-6))


def by_loop(ground: FloatArray, height: float, warm: FloatArray, strung: FloatArray, clock: Clock) -> FloatArray:
    """Tensions when warmer and pulls when let down of the first rows of a batch, one after another; (2, SAMPLE)."""
    stations = np.arange(ground.shape[1], dtype=np.float64)
    bearing = ground[:SAMPLE].copy()
    bearing[:, [0, -1]] += height
    with clock.of("warmed"):
        posts = stations[::SPAN_M]
        tensions = [scalar_tension(posts, ground[k, ::SPAN_M] + height, warm[k]) for k in range(SAMPLE)]
    with clock.of("let down"):
        pulls = [scalar_pull(stations, bearing[k], strung[k]) for k in range(SAMPLE)]
    return np.array((tensions, pulls))


def one_batch(rng: np.random.Generator, clock: Clock, loop: Clock | None) -> FloatArray:
    """All work on a batch of rows; on a sample also by the loop. Two residuals, two differences to the loop."""
    ground = rolling_ground(rng, AT_A_TIME)
    points = ragged(ground, 1.0)
    land = Supports(*points)
    worst = np.zeros(4)
    for height in HEIGHTS_M:
        x, z, row = ragged(ground[:, ::SPAN_M] + height, float(SPAN_M))
        with clock.of("chain"):
            posts = Supports(x, z, row)
            strung = unstretched_totals(solve_chain(posts, WIRE, TENSION_N))
        length = warmed(WIRE, strung, WARMER_K)
        with clock.of("warmed"):
            warm = chain_at_length(posts, WIRE, length)
        with clock.of("let down"):
            freed = rest_on_ground(land, WIRE, (height, height), strung)
        with clock.of("length to drop"):
            length_to_drop(land, WIRE, (height, height), CLEAR_M, level_share(height, CLEAR_M))
        with clock.of("pass over supports"):
            x * z + x
        with clock.of("pass over points"):
            points[0] * points[1] + points[0]
        worst[:2] = np.maximum(worst[:2], (warm.residual, freed.residual))
        if loop is not None:
            slow = by_loop(ground, height, length, strung, loop)
            worst[2] = max(worst[2], float(np.abs(slow[0] - warm.start_tension_n[:SAMPLE]).max()))
            worst[3] = max(worst[3], float(np.abs(slow[1] / freed.horizontal_n[:SAMPLE] - 1.0).max()))
    return worst


def main() -> None:
    """Measure and print."""
    rng = np.random.default_rng(1)
    clock, loop, worst = Clock(), Clock(), np.zeros(4)
    one_batch(rng, Clock(), Clock())  # warm-up
    batches = ROWS // AT_A_TIME
    for number in range(batches):
        # The loop runs in the same minutes, on the first rows of every fourth batch.
        worst = np.maximum(worst, one_batch(rng, clock, loop if number % 4 == 0 else None))
    lines, looped = ROWS * len(HEIGHTS_M), SAMPLE * len(HEIGHTS_M) * ((batches + 3) // 4)
    print(
        f"{ROWS} rows of {SPANS} spans and {SPANS * SPAN_M + 1} ground points, {len(HEIGHTS_M)} wires; wires a second:"
    )
    for name in ("chain", "warmed", "let down", "length to drop"):
        print(f"  {name:20}{lines / clock.seconds[name]:10.0f}")
    for name in ("warmed", "let down"):
        ratio = lines / clock.seconds[name] / (looped / loop.seconds[name])
        print(f"  {name + ', scipy':20}{looped / loop.seconds[name]:10.0f}   ratio {ratio:6.0f}")
    for name, floor in (("warmed", "pass over supports"), ("let down", "pass over points")):
        print(f"passes of a * b + c in {name:10}{clock.seconds[name] / clock.seconds[floor]:8.0f}")
    print(f"largest residual           {worst[0]:8.1e} warmed, {worst[1]:8.1e} let down")
    print(f"largest difference to loop {worst[2]:8.1e} N warmed, {worst[3]:8.1e} of the pull let down")


if __name__ == "__main__":
    main()
