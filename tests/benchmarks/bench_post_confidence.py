"""Whether a post's confidence is the share of such that are posts: counted in dormant vineyards whose posts are known.

Run ``python tests/benchmarks/bench_post_confidence.py 200 600 --seeds 2 3`` (points a square metre; rasters with
``--cells 0.05``): some ten seconds a scene. Rows and ground are the true ones, so that only posts are judged;
`bench_posts.py` goes through whole surveys. The shares in `surface/post_tops.py` were counted with seed 1.
"""

import argparse
from collections.abc import Iterator
from itertools import pairwise

import numpy as np
from dormant_scenes import PLANTINGS, make_cloud, make_dormant
from numpy.typing import NDArray
from scipy.ndimage import map_coordinates, maximum_filter
from survey_scenes import Rows, made_ground
from wirerun.surface.post_tops import ASIDE_M, FoundPosts, RowProfile, closed, find_posts, strip_top

FloatArray = NDArray[np.float64]

_WIDE_M, _HIGH_M, _EDGE_M, _NEAR_M, _LEAST_M = 60.0, 50.0, 4.5, 0.3, 6.0
_ROWS = Rows(2.4, 62.0)
_FINEST_M, _WORK_M, _A_CELL = 0.025, 0.1, 0.5  # as `read.point_cloud` has them
_STEPS = (0.0, 0.3, 0.5, 0.7, 0.9, 0.97, 1.01)


def seen_in_cloud(name: str, per_m2: float, seed: int) -> tuple[FloatArray, FloatArray, float]:
    """Return highest points over the ground in fine cells, the true posts, and a cell's side [m]."""
    planting, survey = PLANTINGS[name]
    scene = make_cloud(planting, per_m2, seed=seed, wide_m=_WIDE_M, high_m=_HIGH_M, **survey)
    cell = _WORK_M / max(1, int(_WORK_M / max((_A_CELL / per_m2) ** 0.5, _FINEST_M) + 1e-6))
    shape = round(_HIGH_M / cell), round(_WIDE_M / cell)
    x, y, z = scene.points.T
    at = (
        ((_HIGH_M - y) / cell).astype(int).clip(0, shape[0] - 1),
        (x / cell).astype(int).clip(0, shape[1] - 1),
    )
    top = np.full(shape, -np.inf)
    np.maximum.at(top, at, z)
    top = np.where(np.isfinite(top), top, maximum_filter(top, 3))
    row, column = np.indices(shape)
    ground = made_ground(survey.get("slope", 0.2), seed)((column + 0.5) * cell, _HIGH_M - (row + 0.5) * cell)
    return np.where(np.isfinite(top), top - ground, np.nan), scene.posts, cell


def seen_in_cells(name: str, cell_m: float, seed: int) -> tuple[FloatArray, FloatArray, float]:
    """Return the same of a raster."""
    planting, survey = PLANTINGS[name]
    scene = make_dormant(planting, cell_m=cell_m, seed=seed, wide_m=_WIDE_M, high_m=_HIGH_M, **survey)
    return scene.surface_m - scene.ground_m, scene.posts, cell_m


def judge(height_m: FloatArray, posts: FloatArray, cell_m: float, *, cloud: bool) -> tuple[FloatArray, FloatArray]:
    """Return the confidence of all found posts, and which are posts (1) or none (0)."""
    walked = list(_walked(height_m, cell_m, cloud=cloud))
    found = find_posts([profile for _, profile in walked])
    if found is None:
        return np.zeros(0), np.zeros(0)
    at = _places(found, [places for places, _ in walked])
    if not len(posts):
        return found.confidence, np.zeros(len(at))
    far = np.hypot(*(at[:, None] - posts[None]).transpose(2, 0, 1)).min(axis=1)
    return found.confidence, (far < _NEAR_M).astype(np.float64)


def _ways() -> tuple[FloatArray, FloatArray]:
    turn = np.radians(_ROWS.bearing_deg)
    return np.array([np.sin(turn), np.cos(turn)]), np.array([np.cos(turn), -np.sin(turn)])


def _walked(height_m: FloatArray, cell_m: float, *, cloud: bool) -> Iterator[tuple[FloatArray, RowProfile]]:
    """Go along all rows: places (x, y), and what stands there."""
    ahead, aside = _ways()
    corners = np.array([(0.0, 0.0), (_WIDE_M, 0.0), (_WIDE_M, _HIGH_M), (0.0, _HIGH_M)])
    numbers = corners @ aside / _ROWS.spacing_m
    count = round(ASIDE_M / cell_m)
    across: FloatArray = np.arange(-count, count + 1, dtype=np.float64) * cell_m
    for number in range(int(np.ceil(numbers.min())), int(numbers.max()) + 1):
        station = np.arange(-2.0 * _WIDE_M, 2.0 * _WIDE_M, cell_m)
        places = number * _ROWS.spacing_m * aside + station[:, None] * ahead
        inside = (places > _EDGE_M) & (places < np.array([_WIDE_M, _HIGH_M]) - _EDGE_M)
        places = places[inside.all(axis=1)]
        if len(places) * cell_m < _LEAST_M:
            continue
        strip = places[:, None, :] - across[:, None] * aside
        index = [(_HIGH_M - strip[..., 1]) / cell_m - 0.5, strip[..., 0] / cell_m - 0.5]
        top, off = strip_top(map_coordinates(height_m, index, order=1, cval=np.nan), across)
        yield places, RowProfile(cell_m, closed(top, cell_m) if cloud else top, off)


def _places(found: FoundPosts, walked: list[FloatArray]) -> FloatArray:
    aside = _ways()[1]
    step = float(np.hypot(*np.diff(walked[0][:2], axis=0)[0]))
    pairs = zip(found.row.tolist(), found.station_m.tolist(), strict=True)
    along = [walked[row][min(int(at / step), len(walked[row]) - 1)] for row, at in pairs]
    return np.array(along) - found.aside_m[:, None] * aside


def main() -> None:
    """Print what is said and what is true, by steps of the confidence."""
    parser = argparse.ArgumentParser()
    parser.add_argument("per_m2", type=float, nargs="*")
    parser.add_argument("--cells", type=float, nargs="*", default=[])
    parser.add_argument("--seeds", type=int, nargs="+", default=[2, 3])
    asked = parser.parse_args()
    kinds = [*((True, one) for one in asked.per_m2), *((False, one) for one in asked.cells)]
    for cloud, fine in kinds:
        print(f"clouds of {fine:g} points a square metre" if cloud else f"cells of {100.0 * fine:g} cm")
        made = [
            judge(*(seen_in_cloud if cloud else seen_in_cells)(name, fine, seed), cloud=cloud)
            for name in PLANTINGS
            for seed in asked.seeds
        ]
        said, true = (np.concatenate(part) for part in zip(*made, strict=True))
        for low, high in pairwise(_STEPS):
            here = (said >= low) & (said < high)
            if here.any():
                print(f"  {low:.2f}-{min(high, 1.0):.2f}: {here.sum():5} said {said[here].mean():.2f}", end="")
                print(f" true {true[here].mean():.2f}", flush=True)


if __name__ == "__main__":
    main()
