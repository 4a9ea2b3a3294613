"""How fast posts are fitted to the ground, beside the same choice by a plain loop, and beside one pass over memory.

Run it as a script. Rows of 250 m with a place every 1.2 m, five wires, spans of 3 to 6 m: 170 rows, which is about
10 ha, and a hundred times as many. Loop and whole arrays run in the same minutes, so that the ratio holds on any
machine; rates alone do not.
"""

import math
import time

import numpy as np
from wirerun.mechanics.clearance import Clearance, low_spans
from wirerun.mechanics.supports import Supports
from wirerun.optimise.placing import SpanLimits, fit_posts
from wirerun.optimise.post_costs import FitPrices, PostLimits, RowCosts, WireLoad, row_costs

ROWS, TIMES, LOOPED, LENGTH_M = 170, 100, 20, 250.0
SPANS = SpanLimits(3.0, 6.0)
WIRES = (
    WireLoad(1000.0, 0.378, lines=1, clipped=False),
    WireLoad(360.0, 0.378, lines=2, clipped=True),
    WireLoad(355.0, 0.378, lines=2, clipped=True),
)
LIMITS = PostLimits(5.0, 441.0)
PRICES = FitPrices(post=9.5, two_way_clip=1.15, hold_down=14.0, breach=30.0)
LOW_WIRE = Clearance(0.4, 0.75, 700.0, 0.378)


def rolling_ground(rng: np.random.Generator, rows: int) -> Supports:
    """Vine places of many rows: waves of 15 to 120 m, 1 cm of noise, a tilt."""
    line = np.append(np.arange(0.0, LENGTH_M - 0.2, 1.2), LENGTH_M)
    x, row = np.tile(line, rows), np.repeat(np.arange(rows), len(line))
    z = rng.normal(0.0, 0.01, x.size) + rng.uniform(-0.25, 0.25, rows)[row] * x
    for _ in range(4):
        wave, phase = rng.uniform(15.0, 120.0, rows)[row], rng.uniform(0.0, 2.0 * np.pi, rows)[row]
        z += 0.008 * wave * rng.uniform(0.0, 1.0, rows)[row] * np.sin(2.0 * np.pi * x / wave + phase)
    return Supports(x, z, row)


class Loop:
    """The same least cost of one row, place by place and span by span."""

    def __init__(self, x: list[float], z: list[float]) -> None:
        self._x, self._z, self._last = x, z, len(x) - 1
        self._known: dict[tuple[int, int], float] = {}
        self._near = [[k for k in range(i) if self._allowed(k, i)] for i in range(len(x))]

    def _allowed(self, near: int, far: int) -> bool:
        chord = math.hypot(self._x[far] - self._x[near], self._z[far] - self._z[near])
        return chord <= SPANS.max_m + 1e-3 and (chord >= SPANS.min_m - 1e-3 or far == self._last)

    def _side(self, tension: float, weight: float, at: int, beside: int) -> float:
        run, rise = self._x[beside] - self._x[at], self._z[beside] - self._z[at]
        chord = math.hypot(run, rise)
        return 0.5 * weight * run * run / chord - tension * rise / chord

    def _post(self, before: int, at: int, after: int) -> float:
        net, two_way, lines = 0.0, False, 0
        for wire in WIRES:
            tension = float(wire.tension_n) + wire.weight_n_per_m * (self._z[at] - self._z[0])
            load = sum(self._side(tension, wire.weight_n_per_m, at, beside) for beside in (before, after))
            net += wire.lines * load
            two_way |= wire.clipped and load < -LIMITS.hold_down_n
            lines += wire.lines * wire.clipped
        held = net < -LIMITS.uplift_limit_n
        return PRICES.post + PRICES.two_way_clip * lines * two_way + PRICES.hold_down * held

    def _span(self, near: int, far: int) -> float:
        run, rise = self._x[far] - self._x[near], self._z[far] - self._z[near]
        bend = LOW_WIRE.weight_n_per_m * (run * run + rise * rise) / (run * run) / (2.0 * float(LOW_WIRE.tension_n))
        for at in range(near + 1, far):
            d = self._x[at] - self._x[near]
            wire = self._z[near] + LOW_WIRE.height_m + rise * d / run - bend * d * (run - d)
            if wire - self._z[at] < LOW_WIRE.least_m:
                return PRICES.breach
        return 0.0

    def cost(self) -> float:
        """Least cost of the row."""
        for far in range(1, self._last + 1):
            for at in self._near[far]:
                span = self._span(at, far)
                ways = [self._known.get((k, at), math.inf) + self._post(k, at, far) for k in self._near[at]]
                self._known[at, far] = span + min(ways, default=0.0 if at == 0 else math.inf)
        return min(self._known.get((at, self._last), math.inf) for at in self._near[self._last])


def price_grid(places: Supports) -> RowCosts:
    """The same rows with a post every so many vines."""
    x, z, row = places.x_m, places.z_m, places.rows.number
    # Every fourth vine: 4.8 m in plan keep 6 m in space on slopes of up to 75 %.
    number = np.arange(len(x)) - np.searchsorted(row, row)
    grid = (number % 4 == 0) | (np.diff(row, append=-1) != 0)
    posts = Supports(x[grid], z[grid], row[grid])
    return row_costs(posts, low_spans(posts, places, LOW_WIRE), WIRES, LIMITS, PRICES)


def main() -> None:
    """Measure and print."""
    rng = np.random.default_rng(1)
    whole = loop = one_pass = pricing = 0.0
    apart, ten_hectares = 0.0, []
    fitted = on_grid = 0.0
    for number in range(TIMES):
        places = rolling_ground(rng, ROWS)
        start = time.perf_counter()
        fit = fit_posts(places, SPANS, WIRES, LIMITS, PRICES, LOW_WIRE)
        ten_hectares.append(time.perf_counter() - start)
        start = time.perf_counter()
        grid = price_grid(places)
        pricing += time.perf_counter() - start
        fitted, on_grid = fitted + float(fit.cost.sum()), on_grid + float(grid.cost.sum())
        if number < LOOPED:
            # One row of each of the first blocks goes through the loop, in the same minutes.
            mine = places.rows.number == number
            x, z = places.x_m[mine].tolist(), places.z_m[mine].tolist()
            start = time.perf_counter()
            cost = Loop(x, z).cost()
            loop += time.perf_counter() - start
            apart = max(apart, abs(cost - fit.cost[number]))
    places = rolling_ground(rng, ROWS * TIMES)
    start = time.perf_counter()
    fit_posts(places, SPANS, WIRES, LIMITS, PRICES, LOW_WIRE)
    whole = time.perf_counter() - start
    start = time.perf_counter()
    places.x_m * places.z_m + places.x_m
    one_pass = time.perf_counter() - start
    rows = ROWS * TIMES
    print(f"{ROWS} rows of {LENGTH_M:g} m ({places.rows.size // rows} places each): {np.median(ten_hectares):.3f} s")
    print(f"{rows} rows at once, {places.rows.size} places: {whole:.2f} s")
    print(f"rows a second, {ROWS} at a time   {rows / sum(ten_hectares):10.0f}")
    print(f"rows a second, all at once     {rows / whole:10.0f}")
    print(f"rows a second, plain loop      {LOOPED / loop:10.1f}")
    print(f"ratio, {ROWS} at a time           {rows / sum(ten_hectares) * loop / LOOPED:10.0f}")
    print(f"ratio, all at once             {rows / whole * loop / LOOPED:10.0f}")
    print(f"vine grid and its price, s     {pricing / TIMES:10.3f} for {ROWS} rows")
    print(f"passes of a * b + c in one fit {whole / one_pass:10.0f}")
    print(f"largest difference to the loop {apart:10.1e}")
    print(f"fitted costs {100.0 * (1.0 - fitted / on_grid):.1f} % less than the vine grid on this ground")


if __name__ == "__main__":
    main()
