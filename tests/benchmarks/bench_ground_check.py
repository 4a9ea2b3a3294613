"""How the look at a block's heights grows with its cells: seconds per cell against those of 8 ha at 0.5 m.

Run: ``python tests/benchmarks/bench_ground_check.py``
"""

import time
import tracemalloc

import numpy as np
from wirerun.geometry.bad_cells import cliffs, rounded_to, spikes, stray_zeros
from wirerun.geometry.ridges import find_ridges

SIDES = (0.5, 0.5)


def look(cells: int) -> tuple[float, float, float]:
    """Seconds of the cells and of the ridges, and greatest memory over that of the heights themselves."""
    side = round(cells**0.5)
    noise = np.random.default_rng(1).normal(size=(side, 1)).astype(np.float32) * 0.03
    heights = np.ascontiguousarray(300.0 + 0.1 * np.arange(side, dtype=np.float32) + noise)
    every = np.ones(heights.shape, dtype=np.bool_)
    tracemalloc.start()
    start = time.perf_counter()
    stray_zeros(heights, every)
    cliffs(heights, every, SIDES)
    spikes(heights, every, every, SIDES)
    rounded_to(heights, every)
    between = time.perf_counter()
    find_ridges(heights, every, every, SIDES, 2.4)
    end = time.perf_counter()
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    return between - start, end - between, peak / heights.nbytes


def main() -> None:
    """Print the ratios."""
    first = None
    for cells in (320_000, 1_280_000, 5_120_000, 20_480_000):
        of_cells, of_ridges, memory = look(cells)
        first = first or (of_cells + of_ridges) / cells
        ratio = (of_cells + of_ridges) / cells / first
        print(
            f"{cells:>10} cells: {ratio:.2f} of the time per cell, ridges {of_ridges / of_cells:.2f} of the rest,",
            end="",
        )
        print(f" memory {memory:.1f} of the heights'")


if __name__ == "__main__":
    main()
