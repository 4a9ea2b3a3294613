"""Heights averaged along rows: fitted cells against projecting every place, and against scipy's map_coordinates.

Run: ``python tests/benchmarks/bench_heights.py``. Cells of 5 cm, 41 places averaged for each height, with and without
holes. Processor time; the largest difference of the heights says that all ways do the same.
"""

import time
from collections.abc import Callable

import numpy as np
from affine import Affine
from numpy.typing import NDArray
from pyproj import CRS
from scipy.ndimage import map_coordinates
from wirerun.geometry import cell_fit
from wirerun.geometry.frame import Frame, direction
from wirerun.geometry.places import PlaneXY
from wirerun.geometry.sampling import Ground
from wirerun.records import Grid

SIDE, CELL_M, HEIGHTS = 4000, 0.05, 40_000
EAST, NORTH = 617_000.0, 4_562_000.0


def grid(holes: float) -> Grid:
    """Rough ground on cells of 5 cm, a share of it missing."""
    rng = np.random.default_rng(1)
    heights = (300.0 + rng.normal(0.0, 0.02, (SIDE, SIDE)) + 0.005 * np.arange(SIDE)).astype(np.float32)
    valid = rng.random((SIDE, SIDE)) >= holes
    heights[~valid] = 0.0
    return Grid(heights, valid, Affine(CELL_M, 0.0, EAST, 0.0, -CELL_M, NORTH), CRS.from_epsg(25829).to_wkt(), "bench")


def timed(work: Callable[[], NDArray[np.float64]]) -> tuple[float, NDArray[np.float64]]:
    """Return seconds and what came out."""
    start = time.process_time()
    found = work()
    return time.process_time() - start, found


def compared(holes: float) -> str:
    """Return a line of the table."""
    frame, heading = Frame(-7.602, 41.202, 310.0), direction(62.0)
    ground = Ground(grid(holes), frame, 1.0)
    there = ground._from_raster  # noqa: SLF001 - the exact way, to compare with
    cells = np.random.default_rng(2).uniform(2.0, CELL_M * SIDE - 2.0, (2, HEIGHTS))
    places = PlaneXY(*map(np.asarray, there.transform(EAST + cells[0], NORTH - cells[1])))
    ours, fitted = timed(lambda: ground.height_along(places, heading))
    x, y = (part[:, None] + ground.offsets_m * way for part, way in zip((places.x_m, places.y_m), heading, strict=True))
    least, cell_fit._LEAST_PLACES = cell_fit._LEAST_PLACES, x.size + 1  # type: ignore[misc]  # noqa: SLF001
    theirs, exact = timed(lambda: ground.height(PlaneXY(x, y)).mean(axis=1))
    column, row = ground.cells(PlaneXY(x, y))
    cell_fit._LEAST_PLACES = least  # type: ignore[misc]  # noqa: SLF001
    picked, _ = timed(lambda: map_coordinates(ground.grid.heights_m, [row - 0.5, column - 0.5], order=1))
    assert np.array_equal(np.isnan(fitted), np.isnan(exact))
    off = 1000.0 * float(np.nanmax(np.abs(fitted - exact)))
    each = 1e9 * ours / x.size
    return f"{holes:6.3%} {each:18.0f} {theirs / ours:15.1f} x {picked / ours:20.1f} x {off:30.6f}"


def main() -> None:
    """Print the ratios."""
    print("holes     fitted, ns a place   each projected   map_coordinates, places ready   largest difference, mm")
    for holes in (0.0, 1e-5):
        print(compared(holes))


if __name__ == "__main__":
    main()
