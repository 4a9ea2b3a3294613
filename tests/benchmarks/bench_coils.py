"""Time to cut a block's runs from coils, beside plain first-fit-decreasing, and how near to the proven bounds.

Run it as a script. Five lines of wire in each row, 60 to 220 m long, coils of 648 m: 700 runs are a block of about
10 ha. Hard runs, of 0.25 to 0.45 of a coil, stand beside them: three seldom fit on one. Both ways run in the same
minutes, so that the ratio holds on any machine.
"""

import time

import numpy as np
from wirerun.mechanics import FloatArray
from wirerun.optimise.cutting import cut_runs

COIL_M = 648.0


def block_runs(rng: np.random.Generator, runs: int) -> FloatArray:
    """Runs of rows with five lines each, which differ by up to 0.2 %."""
    rows = rng.uniform(60.0, 220.0, (runs // 5, 1))
    return (rows * (1.0 + rng.uniform(0.0, 0.002, (runs // 5, 5)))).ravel()


def hard_runs(rng: np.random.Generator, runs: int) -> FloatArray:
    """Runs of which two leave much of a coil and three seldom fit."""
    return rng.uniform(0.25, 0.45, runs) * COIL_M


def first_fit_decreasing(lengths_m: FloatArray) -> int:
    """Coils, each run put on the first coil that still takes it."""
    rooms: list[float] = []
    for length in sorted(lengths_m.tolist(), reverse=True):
        at = next((number for number, room in enumerate(rooms) if room >= length), None)
        if at is None:
            rooms.append(COIL_M - length)
        else:
            rooms[at] -= length
    return len(rooms)


def main() -> None:
    """Measure and print."""
    print("runs        seed  joins  first fit  coils  proven  joins made  proven   gap, %  time, s  x first fit")
    cases = [(block_runs, 100), (block_runs, 700), (block_runs, 3000), (hard_runs, 200)]
    for make, runs in cases:
        for seed in range(3):
            lengths = make(np.random.default_rng(seed), runs)
            start = time.perf_counter()
            plain = first_fit_decreasing(lengths)
            plain_s = time.perf_counter() - start
            for joins in (False, True):
                start = time.perf_counter()
                cuts = cut_runs(lengths, COIL_M, joins=joins, least_piece_m=15.0)
                took = time.perf_counter() - start
                gap = 100.0 * (cuts.coils / cuts.least_coils - 1.0)
                print(
                    f"{runs:5d} {make.__name__[:5]} {seed:4d} {joins!s:>6} {plain:10d} {cuts.coils:6d}"
                    f" {cuts.least_coils:7d} {cuts.joins:11d} {cuts.least_joins:7d}"
                    f" {gap:8.2f} {took:8.2f} {took / plain_s:12.0f}"
                )


if __name__ == "__main__":
    main()
