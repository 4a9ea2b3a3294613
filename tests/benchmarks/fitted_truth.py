"""Does `fitted` save what it says? Grounds whose truth is known, a survey's noise added, equal spans against fitted.

Run it as a script, from its folder or by path; `--level 0.05` lets clips be levelled. For each ground and noise, in the
catalogue's currency for each field: what the finding says is saved, what is saved on the true ground, with its standard
error over the fields. On the true ground a post costs its price, planned two-way clips theirs, a missed one its own;
clips are set to a centimetre. One clipped pair of wires, taut, on the coldest day.
"""

import argparse
import re
from pathlib import Path
from typing import NamedTuple

import numpy as np
from affine import Affine
from clip_need_truth import RANGE_M, SMOOTHING_M, correlated  # type: ignore[import-not-found]
from known_grounds import (  # type: ignore[import-not-found]
    LENGTH_M,
    ROWS,
    SPACING_M,
    add_arguments,
    seed_of,
    truths_of,
)
from numpy.typing import NDArray
from pyproj import CRS
from wirerun.arrays import words
from wirerun.errors import Faults
from wirerun.findings import Findings
from wirerun.geometry.frame import Frame
from wirerun.geometry.row_ground import RowGround, holes_along
from wirerun.geometry.sampling import Ground
from wirerun.geometry.station import Paths
from wirerun.mechanics.load_posterior import LoadPosterior
from wirerun.mechanics.undulation import taut_clip_load
from wirerun.model.layout import Posts, Rows
from wirerun.read.catalogue import read_catalogue
from wirerun.records import Grid
from wirerun.rules.from_catalogue import take_from_catalogue
from wirerun.rules.levelling import STEP_M, Hung
from wirerun.rules.post_prices import post_prices
from wirerun.rules.sections import runs, within
from wirerun.rules.wire import wire_of
from wirerun.settings import Catalogue, Config
from wirerun.stages.layout.fitted import _cold_tension, place_fitted
from wirerun.stages.layout.placing import place_equal, vine_places
from wirerun.stages.layout.two_placings import beside, known_of, stand

Array = NDArray[np.float64]
FRAME = Frame(-7.6, 41.2, 300.0)
MARKED = 20


def config(sigma_m: float, level_m: float, plan_for: str) -> Config:
    return Config.model_validate(
        {
            "name": "truth",
            "block": {"boundary": "-"},
            "elevation": {"raster": "-", "accuracy_m": sigma_m, "correlation_m": RANGE_M, "smoothing_m": SMOOTHING_M},
            "rows": {"bearing_deg": 90.0, "spacing_m": SPACING_M},
            "clips": {"level_m": level_m},
            "undulation": {"plan_for": plan_for},
            "posts": {"placing": "fitted"},
            "work": {"labour_per_hour": 18.0},
            "wires": [{"id": "pair", "kind": "foliage", "height_m": 1.2, "lines": 2}],
        }
    )


def ground(heights: Array, cell_m: float) -> Ground:
    """The raster, row 0 in the north: across the rows it counts from there."""
    transform = Affine.translation(0.0, heights.shape[0] * cell_m) * Affine.scale(cell_m, -cell_m)
    grid = Grid(heights, np.ones(heights.shape, bool), transform, CRS.from_proj4(FRAME.proj).to_wkt(), "")
    return Ground(grid, FRAME, SMOOTHING_M)


def rows(deep_m: float, rng: np.random.Generator) -> Rows:
    """Rows that run east, of unlike lengths."""
    start = np.stack((4.0 + rng.uniform(0.0, 3.0, ROWS), deep_m - 4.0 - SPACING_M * np.arange(ROWS)), axis=-1)
    paths = Paths.straight(start, start + np.stack((LENGTH_M - rng.uniform(0.0, 12.0, ROWS), np.zeros(ROWS)), axis=-1))
    row_id = words(f"B01-R{number:03d}" for number in range(ROWS))
    return Rows("B01", row_id, np.full(ROWS, 90.0), paths.length_m, paths)


class Cost(NamedTuple):
    """Cost of all rows: what is ordered, and clips missed, truly and as expected."""

    ordered: float
    missed: float
    expected: float


class Truth:
    """What posts truly cost."""

    def __init__(self, made: Config, catalogue: Catalogue, true: RowGround) -> None:
        self._config, self._true = made, true
        self._prices = post_prices(made, catalogue)
        self._wire = made.wires[0]

    def cost(self, posts: Posts, known: LoadPosterior) -> Cost:
        """Cost of all rows."""
        wire, tension = wire_of(self._wire), _cold_tension(self._wire, self._config)
        load = taut_clip_load(posts.feet, wire, tension)
        hold, clips = self._config.undulation.hold_down_n, self._config.clips
        hung = Hung.on(posts.feet, (hold + load) / tension, clips.level_m, clips.marking_m)
        chance, steps = hung.chance(known), np.zeros(len(posts), dtype=np.int64)
        if hung.most:
            steps = hung.level(posts.feet, chance, np.full(len(posts), np.inf), self._prices)
        need = hung.at_steps(chance, steps)
        asks = (need >= self._config.undulation.planned_from) & ~posts.is_end
        planned = within(*runs(asks, posts.row, self._config.undulation.join_posts), len(posts))
        height = self._true.stand(posts.row, posts.station_m)[1]
        rng, missed = np.random.default_rng(1), 0.0
        for _ in range(MARKED):
            set_at = height + STEP_M * steps + clips.marking_m * ~posts.is_end * rng.standard_normal(len(posts))
            true = taut_clip_load(posts.feet.at_heights(set_at), wire, tension) < -hold
            missed += float((true & ~planned).sum()) / MARKED
        two_way, shifts = float(planned.sum()), float((steps != 0).sum())
        of_posts = self._prices.post * len(posts.middle) + self._prices.two_way * two_way
        expected = float(need[~planned & ~posts.is_end].sum())
        price = self._prices.missed
        return Cost(of_posts + self._prices.shift * shifts, price * missed, price * expected)


def compare(truth: Array, cell_m: float, sigma_m: float, asked: argparse.Namespace) -> Array:
    """Said and truly saved, cost of equal spans, saved in what is ordered; missed clips: expected, true; [field, 8]."""
    catalogue, _ = read_catalogue(None, Path(), Faults())
    made = take_from_catalogue(config(sigma_m, asked.level, asked.plan_for), catalogue)
    rng = np.random.default_rng(seed_of(asked))
    out = []
    for _ in range(asked.fields):
        block = rows(truth.shape[0] * cell_m, rng)
        noise = sigma_m * correlated(truth.shape, cell_m, RANGE_M, rng)
        seen, true = (
            RowGround(land, block.paths, holes_along(land, block.paths))
            for land in (ground(truth + noise, cell_m), ground(truth, cell_m))
        )
        notes, equal = Findings(), place_equal(seen, made.posts)
        fitted = place_fitted(block, seen, vine_places(seen, made.posts), equal, made, catalogue, notes)
        said = float(re.search(r"cost [0-9.]+, (-?[0-9.]+) or", notes[0].message)[1])  # type: ignore[index]
        judge = Truth(made, catalogue, true)
        even, ours = (stand(block, seen, each, made) for each in (equal, fitted.stations))
        known = known_of(even, beside(ours, equal)), known_of(ours, fitted.more)
        costs = [judge.cost(each.posts, told) for each, told in zip((even, ours), known, strict=True)]
        before, after = costs
        saved = before.ordered + before.missed - after.ordered - after.missed
        parts = before.ordered - after.ordered, before.expected, after.expected, before.missed, after.missed
        out.append((said, saved, before.ordered + before.missed, *parts))
    return np.array(out)


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--level", type=float, default=0.0)
    add_arguments(parser)
    parser.add_argument("--plan-for", default="price")
    parser.add_argument("--sigma", type=float, nargs="*", default=[0.01, 0.03, 0.06])
    parser.add_argument("--fields", type=int, default=3)
    asked = parser.parse_args()
    truths = truths_of(asked)
    print(
        "a field: said to be saved | truly saved (standard error) | equal spans cost | saved in what is ordered | "
        "missed clips of equal spans, of fitted: expected/true"
    )
    for sigma in asked.sigma:
        print(f"\nsigma {100 * sigma:g} cm")
        total = []
        for name, (truth, cell) in truths.items():
            found = compare(truth, cell, sigma, asked)
            total.append(found)
            print(_line(name, found), flush=True)
        print(_line("all", np.concatenate(total)))


def _line(name: str, found: Array) -> str:
    said, true, whole, ordered, *missed = found.mean(axis=0)
    error = found[:, 1].std(ddof=1) / np.sqrt(len(found)) if len(found) > 1 else np.nan
    return (
        f"{name:10}{said:8.2f} | {true:8.2f} ({error:.2f}) | {whole:10.2f} | {ordered:6.2f} | "
        f"{missed[0]:6.2f}/{missed[2]:6.2f}, {missed[1]:6.2f}/{missed[3]:6.2f}"
    )


if __name__ == "__main__":
    main()
