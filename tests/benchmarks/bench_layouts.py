"""Seconds for 10 ha of each way to lay rows and set posts, and their ratio to straight rows with equal spans.

Run: ``python tests/benchmarks/bench_layouts.py``. One block of 400 m by 250 m on rolling ground, all in memory.
"""

import time
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import shapely
from affine import Affine
from numpy.typing import NDArray
from pyproj import CRS
from wirerun.findings import Findings
from wirerun.geometry.frame import Frame
from wirerun.geometry.places import PlaneXY
from wirerun.geometry.row_ground import RowGround, holes_along
from wirerun.geometry.sampling import Ground
from wirerun.model.site import Site
from wirerun.records import Drawn, Grid
from wirerun.settings import Catalogue, Config, RowSettings
from wirerun.stages.layout.fitted import place_fitted
from wirerun.stages.layout.placing import place_equal, place_on_baseline, place_on_vines, vine_places
from wirerun.stages.layout.posts import set_posts
from wirerun.stages.layout.rows import lay_parallel
from wirerun.stages.layout.rows_from_lines import lay_follow, lay_given

FRAME = Frame(-7.6, 41.2, 300.0)
AREA = shapely.box(-200.0, -125.0, 200.0, 125.0)
CONFIG = Config.model_validate(
    {
        "name": "bench",
        "block": {"boundary": "-"},
        "elevation": {"raster": "-"},
        "rows": {"bearing_deg": 90.0, "spacing_m": 2.4},
    }
)
ROUNDS = 5


def ground() -> Ground:
    """Rolling ground over the block."""
    row, column = np.mgrid[0:560, 0:860] + 0.5
    x, y = column / 2.0 - 215.0, 140.0 - row / 2.0
    heights = 300.0 + 0.1 * x - 0.2 * y + 2.0 * np.sin(x / 25.0 + y / 70.0) + 1.2 * np.cos(y / 19.0)
    transform = Affine.translation(-215.0, 140.0) * Affine.scale(0.5, -0.5)
    return Ground(
        Grid(heights, np.ones_like(heights, bool), transform, CRS.from_proj4(FRAME.proj).to_wkt(), ""), FRAME, 1.0
    )


def _holed(valid: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """The same cells with 200 holes of 2 m."""
    rng, out = np.random.default_rng(1), valid.copy()
    for row, column in zip(rng.integers(0, 550, 200), rng.integers(0, 850, 200), strict=True):
        out[row : row + 4, column : column + 4] = False
    return out


def median_seconds(job: Callable[[], object]) -> float:
    """Median of a few rounds."""
    times = []
    for _ in range(ROUNDS):
        start = time.perf_counter()
        job()
        times.append(time.perf_counter() - start)
    return float(np.median(times))


def main() -> None:
    """Time every layout and placing on the same block."""
    here, rows_of, posts_of = ground(), CONFIG.rows, CONFIG.posts
    site = Site(FRAME, AREA, AREA, here, (0.1, -0.2))
    along = np.linspace(-230.0, 230.0, 100)
    guide = FRAME.to_lonlat(PlaneXY(along, 20.0 * np.sin(along / 80.0))).stacked()
    drawn = [
        FRAME.to_lonlat(PlaneXY(along, offset + 0.5 * np.sin(along / 60.0))).stacked()
        for offset in np.arange(-120.0, 121.0, 2.4)
    ]
    lines = Drawn(lines=tuple(drawn), attributes=("{}",) * len(drawn))
    follow = RowSettings(layout="follow", guide="-", spacing_m=2.4)
    given = RowSettings(layout="given", lines="-", spacing_m=2.4)
    layouts: dict[str, Callable[[], object]] = {
        "parallel": lambda: lay_parallel(site, "B01", rows_of, Findings()),
        "follow": lambda: lay_follow(site, Drawn(guide=guide), "B01", follow, Findings()),
        "given": lambda: lay_given(site, lines, "B01", given, Findings()),
    }
    rows = lay_parallel(site, "B01", rows_of, Findings()).rows
    paths = rows.paths
    start_along = paths.x_m[paths.first]

    land = RowGround(here, paths)

    def fitted() -> object:
        vines = vine_places(land, posts_of)
        return place_fitted(rows, land, vines, place_equal(land, posts_of), CONFIG, Catalogue(), Findings())

    placings: dict[str, Callable[[], object]] = {
        "equal": lambda: place_equal(land, posts_of),
        "baseline": lambda: place_on_baseline(land, posts_of, start_along),
        "vine_grid": lambda: place_on_vines(land, vine_places(land, posts_of), posts_of),
        "fitted": fitted,
    }
    cut = Ground(replace(here.grid, valid=_holed(here.grid.valid)), FRAME, 1.0)
    holes: dict[str, Callable[[], object]] = {
        "none": lambda: holes_along(here, paths),
        "200": lambda: holes_along(cut, paths),
    }
    posts = set_posts(rows, land, place_equal(land, posts_of), posts_of, Findings())
    print(f"10 ha: {len(rows)} rows, {paths.length_m.sum():.0f} m, {len(posts)} posts; median of {ROUNDS} rounds")
    for title, ways in (("layout", layouts), ("placing", placings), ("holes", holes)):
        seconds = {name: median_seconds(way) for name, way in ways.items()}
        first = next(iter(seconds.values()))
        for name, took in seconds.items():
            print(f"{title:8} {name:10} {took:7.3f} s   ratio {took / first:6.1f}")


if __name__ == "__main__":
    main()
