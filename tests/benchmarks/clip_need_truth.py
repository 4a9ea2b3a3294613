"""Is the probability that a two-way clip is needed one? Grounds whose truth is known, with a survey's noise added.

Run it as a script; `--quick` takes fewer fields. For each ground and noise: share of posts planned needlessly and
missed, the worst bin of said against true, its two standard errors, the share to look at, the mean log score; of the
plain formula, which takes every bend seen as likely beforehand, and of the posterior, on the same heights in one run.
Then what wrong clips cost, per 1000 posts, at the demo's prices, posterior over plain: a needless post what two-way
clips cost more, a missed one what `plan_for` holds it to cost; in the second pair, to come back and change its clips.
Truth is the load of a taut wire on the ground without noise. `--lidar RASTER` takes cut-outs of a real 1 m raster as
further truths, `--held-back` other grounds, cut-outs and noise, by which nothing is chosen; `--diagram FILE` draws said
against true, all grounds and noises together.
"""

import argparse
import time
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path
from typing import NamedTuple

import numpy as np
from known_grounds import (  # type: ignore[import-not-found]
    LENGTH_M,
    ROWS,
    SPACING_M,
    add_arguments,
    seed_of,
    truths_of,
)
from numpy.typing import NDArray
from reliability import EDGES, Line, diagram  # type: ignore[import-not-found]
from scipy.ndimage import map_coordinates
from scipy.special import ndtr
from wirerun import load_config
from wirerun.errors import Faults
from wirerun.geometry.places import PlaneXY
from wirerun.geometry.station import Paths
from wirerun.mechanics.height_errors import HeightErrors
from wirerun.mechanics.load_posterior import load_posterior
from wirerun.mechanics.supports import Supports
from wirerun.mechanics.undulation import load_sigma, need_probability, taut_clip_load
from wirerun.mechanics.wire import Wire
from wirerun.model.clips import ClipPositions
from wirerun.model.layout import PostHeights, Posts, Rows
from wirerun.model.moved_wires import Lifts
from wirerun.model.wires import InState, RowEnds, WireStates
from wirerun.read.catalogue import read_catalogue
from wirerun.rules.clip_prices import ClipPrices, clip_prices
from wirerun.rules.look_on_site import LookMinutes
from wirerun.rules.post_prices import PostPrices
from wirerun.rules.sections import runs, within
from wirerun.settings import CERTAINTY, ClipSettings, UndulationSettings
from wirerun.stages.clips.levelling import level_clips
from wirerun.stages.clips.undulation import judge_need
from wirerun.state import State

Array = NDArray[np.float64]

RANGE_M, SMOOTHING_M, SPAN_M = 3.0, 1.0, 6.0
TENSION_N, WIRE, HOLD_N = 450.0, Wire.from_diameter(2.5), 5.0
LEAST_IN_BIN = 100
MARKED = 20
# Posts without need between two sections that are taken in.
JOIN = 1
# To set a post's clips off their height, at the demo's wage.
SHIFT = 0.09


def correlated(shape: tuple[int, int], cell_m: float, range_m: float, rng: np.random.Generator) -> Array:
    """Normal noise with sigma 1 and covariance exp(-3 d / range)."""
    wide = tuple(n + int(2 * range_m / cell_m) for n in shape)
    steps = [np.minimum(np.arange(n), n - np.arange(n)) * cell_m for n in wide]
    spectrum = np.fft.fft2(np.exp(-3.0 * np.hypot(steps[0][:, None], steps[1]) / range_m)).real.clip(min=0.0)
    noise = np.fft.ifft2(np.sqrt(spectrum) * np.fft.fft2(rng.standard_normal(wide))).real
    return np.asarray(noise[: shape[0], : shape[1]])


class Scene(NamedTuple):
    """Posts on true ground and on surveyed ground, and one sigma of their heights by that of the noise."""

    xy: Array
    feet: Supports
    true_m: Array
    share: Array


def scenes(truth: Array, sigma_m: float, fields: int, seed: int, cell_m: float) -> Iterator[Scene]:
    """Posts at heights read off a raster of cells, averaged along the row: without noise, and with several fields."""
    rng = np.random.default_rng(seed)
    at = np.arange(0.0, LENGTH_M + 0.1, SPAN_M)
    row, u = np.repeat(np.arange(ROWS), len(at)), np.tile(at, ROWS) + 4.0
    u = u + rng.uniform(0.0, SPAN_M, ROWS)[row] * 0.5
    w = 4.0 + SPACING_M * row
    offsets = (np.arange(4) + 0.5) / 4.0 * SMOOTHING_M - SMOOTHING_M / 2.0

    def read(heights: Array) -> Array:
        places = [np.repeat(w[:, None], 4, axis=1) / cell_m - 0.5, (u[:, None] + offsets) / cell_m - 0.5]
        return np.asarray(map_coordinates(heights, places, order=1).mean(axis=1))

    true, share = read(truth), share_of_noise(u[:, None] + offsets, w[:, None] + 0.0 * offsets, cell_m)
    for _ in range(fields):
        seen = read(truth + sigma_m * correlated(truth.shape, cell_m, RANGE_M, rng))
        yield Scene(np.stack((u, w), axis=-1), Supports(u, seen, row), true, share)


def share_of_noise(u: Array, w: Array, cell_m: float) -> Array:
    """One sigma of the mean of heights at a few places, each bilinear between four cells, by that of a cell, [post].

    As a plan reckons it: at cells of 1 m a tenth less than of an average along the row of the ground itself.
    """
    at = np.stack((u, w), axis=-1)[:, :, None] / cell_m - 0.5
    cells = np.floor(at) + np.array([[0, 0], [0, 1], [1, 0], [1, 1]])
    weight = (1.0 - np.abs(at - cells)).prod(axis=-1).reshape(len(u), -1) / u.shape[1]
    cells = cell_m * cells.reshape(len(u), -1, 2)
    apart = np.hypot(*np.moveaxis(cells[:, :, None] - cells[:, None], -1, 0))
    return np.asarray(np.sqrt(np.einsum("pi,pij,pj->p", weight, np.exp(-3.0 * apart / RANGE_M), weight)))


def demo_prices() -> ClipPrices:
    """Return what clips of a post cost by the demo's config and catalogue."""
    config = load_config(Path(__file__).parents[2] / "configs" / "encosta_nova.toml")
    return clip_prices(config, read_catalogue(None, Path(), Faults())[0], None)


class Wrong(NamedTuple):
    """What wrong clips of a post cost: needless two-way ones; missed ones, by `plan_for` and by a visit [currency]."""

    needless: float
    missed: float
    visit: float

    @classmethod
    def demo(cls) -> "Wrong":
        """Return the demo's. A visit: to come back, take the open clips off, and set closing ones."""
        prices = demo_prices()
        return cls(prices.two_way, (prices.two_way + prices.change_kind) / CERTAINTY["likely"], prices.missed)


class Score(NamedTuple):
    """Of one way of telling on one ground."""

    said: Array
    true: NDArray[np.bool_]
    seconds: float

    def regret(self, prices: "Wrong", planned_from: float = 0.5) -> Array:
        """What wrong clips cost per 1000 posts, a missed one at each of its prices."""
        planned, true = self.said >= planned_from, self.true
        needless, missed = (planned & ~true).mean(), (~planned & true).mean()
        return np.asarray(1000.0 * (needless * prices.needless + missed * np.array([prices.missed, prices.visit])))

    def looks(self) -> tuple[float, float]:
        """Share of the posts worth a look that need two-way clips, and posts to look at per 1000."""
        look = (LookMinutes(2.0, 6.0).saved(self.said) > 0.0) & (self.said < UndulationSettings().planned_from)
        return float(self.true[look].mean()) if look.any() else np.nan, 1000.0 * float(look.mean())

    def line(self) -> str:
        """Return needless and missed [%], worst bin, list [%], log score."""
        said, true = self.said, self.true
        planned = said >= 0.5
        clear = np.clip(said, 1e-6, 1 - 1e-6)
        log = -np.where(true, np.log(clear), np.log1p(-clear)).mean()
        worst, error = 0.0, 0.0
        for low, high in pairwise(EDGES):
            where = (said >= low) & (said < high)
            if where.sum() >= LEAST_IN_BIN:
                off = float(said[where].mean() - true[where].mean())
                if abs(off) > abs(worst):
                    worst, error = off, 2.0 * float(np.sqrt((said[where] * (1 - said[where])).mean() / where.sum()))
        return (
            f"{100 * (planned & ~true).mean():5.1f} {100 * (~planned & true).mean():5.1f} "
            f"{100 * worst:+6.1f} ({100 * error:3.1f}) {100 * ((said >= 0.05) & ~planned).mean():5.1f} {log:.3f}"
        )


def tell(scene: Scene, sigma_m: float) -> tuple[Array, Array, NDArray[np.bool_], float, float]:
    """Plain and posterior probability, truth, CPU seconds of the posterior, noise ratio."""
    feet = scene.feet
    inner = feet.rows.inner
    load = taut_clip_load(feet, WIRE, TENSION_N)[inner]
    true = taut_clip_load(feet.at_heights(scene.true_m), WIRE, TENSION_N)[inner] < -HOLD_N
    plain = load_sigma(feet, TENSION_N, sigma_m, RANGE_M, SMOOTHING_M)[inner]
    begun = time.process_time()
    known = load_posterior(scene.xy, feet, errors_of(scene, sigma_m))
    expected = load[:, None] - TENSION_N * known.error[inner]
    of_kind = known.weight[inner] * ndtr((-HOLD_N - expected) / np.maximum(TENSION_N * known.left[inner], 1e-9))
    spent = time.process_time() - begun
    return need_probability(load, plain, HOLD_N), of_kind.sum(axis=1), true, spent, known.noise_ratio


def level(scene: Scene, sigma_m: float, level_m: float, plan_for: str) -> dict[str, Array]:
    """Two-way, needless and missed posts with clips at their heights, and levelled; both on the true ground.

    Clips are set with the crew's error, some draws of it; sections are joined as a plan joins them. Levelled: also
    posts shifted, and what was expected.
    """
    feet, inner = scene.feet, scene.feet.rows.inner
    posts = _posts(scene)
    known = load_posterior(scene.xy, feet, errors_of(scene, sigma_m))
    load = np.where(posts.is_end, np.nan, taut_clip_load(feet, WIRE, TENSION_N))
    prices, clips = demo_prices(), ClipSettings(level_m=level_m)
    least = prices.two_way_from if plan_for == "price" else CERTAINTY[plan_for]
    missed = prices.missed if plan_for == "price" else (prices.two_way + prices.change_kind) / least
    undulation = UndulationSettings(hold_down_n=HOLD_N, two_way_from=least)
    places = np.ones((1, len(posts), 1), dtype=np.bool_)
    positions = ClipPositions(np.array([1.2]), places, ~places, ~places, ~places, np.empty(0))
    tall = PostHeights(np.full(len(posts), 1.9), np.full(len(posts), None, dtype=object))
    levelling = level_clips(
        posts,
        known,
        _strung(posts, load),
        (tall, positions),
        np.array([True]),
        PostPrices(6.0, prices.two_way, missed, SHIFT, prices.change_kind),
        (clips, undulation),
    )
    rng = np.random.default_rng(1)
    made = {}
    for name, shift in (("plain", np.zeros(len(posts))), ("levelled", levelling.shift_m)):
        moved = taut_clip_load(feet.at_heights(feet.z_m + shift), WIRE, TENSION_N)
        states, lifts = _strung(posts, moved), Lifts((), np.full((1, len(posts)), np.nan))
        said = judge_need(posts, known, states, lifts, clips.marking_m, HOLD_N).need[0]
        asks = np.nan_to_num(said) >= undulation.planned_from
        said, planned = said[inner], within(*runs(asks, posts.row, JOIN), len(posts))[inner]
        counts = []
        for _ in range(MARKED):
            marked = shift + clips.marking_m * ~posts.is_end * rng.standard_normal(len(posts))
            true = taut_clip_load(feet.at_heights(scene.true_m + marked), WIRE, TENSION_N)[inner] < -HOLD_N
            counts.append((true.sum(), (planned & ~true).sum(), (~planned & true).sum()))
        expected = planned.sum(), (1.0 - said)[planned].sum(), said[~planned].sum()
        made[name] = np.array([*expected, *np.mean(counts, axis=0), (shift != 0.0).sum()])
    made["better"] = np.array(levelling.better or (np.nan,) * 3)
    return made


def errors_of(scene: Scene, sigma_m: float) -> HeightErrors:
    """How far off the heights of a scene are."""
    return HeightErrors(sigma_m * scene.share, 0.0 * scene.share, RANGE_M, SMOOTHING_M)


def _posts(scene: Scene) -> Posts:
    """The scene's posts, as a plan has them."""
    index = scene.feet.rows
    first, last = scene.xy[index.first], scene.xy[index.last]
    paths = Paths.straight(first, last)
    row_id = np.array([f"B01-R{number:03d}" for number in range(index.count)], dtype=object)
    rows = Rows("B01", row_id, np.zeros(index.count), paths.length_m, paths)
    along = scene.feet.x_m - scene.feet.x_m[index.first][index.ordinal]
    post_id = np.arange(index.size).astype(str).astype(object)
    place = PlaneXY(*scene.xy.T)
    return Posts(rows, index.ordinal, post_id, along, place, scene.feet.z_m, along, np.zeros(index.size))


def _strung(posts: Posts, load_n: Array) -> WireStates:
    """One wire, as strung; no other state."""
    nothing, rows = np.full((1, len(posts)), np.nan), np.full((1, len(posts.rows)), np.nan)
    loads = [load_n[None] if state is State.STRUNG else nothing for state in State]
    return WireStates.of(
        InState(state, load, np.where(np.isnan(load), np.nan, TENSION_N), RowEnds(rows, rows, rows, rows))
        for state, load in zip(State, loads, strict=True)
    )


def print_levelled(
    truths: dict[str, tuple[Array, float]], asked: argparse.Namespace, fields: int, level_m: float, seed: int
) -> None:
    """Print what levelling promises and what it gives."""
    print("posts a field: asked, needless, missed (expected) | truly need, needless, missed (clips set to 1 cm)")
    for sigma in asked.sigma:
        print(f"\nsigma {100 * sigma:g} cm")
        for name, (truth, cell) in truths.items():
            made = [level(scene, sigma, level_m, asked.plan_for) for scene in scenes(truth, sigma, fields, seed, cell)]
            mean = {key: np.mean([one[key] for one in made], axis=0) for key in made[0]}
            for key in ("plain", "levelled"):
                two_way, needless, missed, true, false, lost, shifted = mean[key]
                print(
                    f"{name if key == 'plain' else '':10}{key:9}{two_way:7.1f}{needless:7.1f}{missed:7.1f} |"
                    f"{true:7.1f}{false:7.1f}{lost:7.1f} | {shifted:.0f} shifted"
                )
            two_way, missed, needless = mean["better"]
            print(f"{'':10}{'better':9}{two_way:7.1f}{needless:7.1f}{missed:7.1f} |")


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--quick", action="store_true")
    add_arguments(parser)
    parser.add_argument("--sigma", type=float, nargs="*", default=[0.01, 0.03, 0.06])
    parser.add_argument("--fields", type=int, default=3)
    parser.add_argument("--diagram", type=Path, help="draw said against true, as SVG")
    parser.add_argument("--level", type=float, help="level the clips by so much, and compare [m]")
    parser.add_argument("--plan-for", choices=["price", *CERTAINTY], default="price", help="with --level")
    asked = parser.parse_args()
    fields = 1 if asked.quick else asked.fields
    truths, seed = truths_of(asked), seed_of(asked)
    if asked.level:
        print_levelled(truths, asked, fields, asked.level, seed)
        return
    print("columns: needless %, missed %, worst bin said - true in points (two standard errors), list %, log score")
    prices, of_all = Wrong.demo(), []
    print("per 1000 posts: regret, posterior over plain, at both prices; share of those to look at that need it")
    print(f"a needless post costs {prices.needless:.2f}, a missed one {prices.missed:.2f} or {prices.visit:.2f}")
    for sigma in asked.sigma:
        print(
            f"\nsigma {100 * sigma:g} cm{'':10}needs | plain{'':32}| posterior{'':28}| s per 5000 | noise ratio | "
            "regret | look"
        )
        pooled: list[tuple[Array, Array, Array]] = []
        for name, (truth, cell) in truths.items():
            made = [tell(scene, sigma) for scene in scenes(truth, sigma, fields, seed, cell)]
            plain, said, true = (np.concatenate([one[n] for one in made]) for n in range(3))
            pooled.append((plain, said, true))
            seconds = sum(one[3] for one in made) / len(true) * 5000.0
            ratio = np.mean([one[4] for one in made])
            print(
                f"{name:10}{100 * true.mean():14.1f} % | {Score(plain, true, 0).line()} "
                f"| {Score(said, true, 0).line()} | {seconds:.2f} | {ratio:.2f} | {_regrets(plain, said, true, prices)}"
            )
        of_all += pooled
        plain, said, true = (np.concatenate([one[n] for one in pooled]) for n in range(3))
        print(
            f"{'all':10}{100 * true.mean():14.1f} % | {Score(plain, true, 0).line()} | {Score(said, true, 0).line()} |"
            f" {_regrets(plain, said, true, prices)}"
        )
        for name, least in CERTAINTY.items():
            if least > 0.0:
                costs = Score(said, true, 0.0).regret(prices, least)
                print(f"   plan_for {name} ({least:g}): {costs[0]:.1f}, {costs[1]:.1f}")
        for low, high in pairwise(EDGES):
            where, before = (said >= low) & (said < high), (plain >= low) & (plain < high)
            if where.any() and before.any():
                print(
                    f"   bin {low:.2f}-{high:.2f}: plain {plain[before].mean():.3f}/{true[before].mean():.3f}, "
                    f"posterior {said[where].mean():.3f}/{true[where].mean():.3f} ({where.sum()})"
                )
    if asked.diagram:
        plain, said, true = (np.concatenate([one[n] for one in of_all]) for n in range(3))
        lines = (Line.of("as the heights of all posts tell", said, true), Line.of("each load by itself", plain, true))
        asked.diagram.write_text(diagram(lines, "Said and true need of two-way clips, all grounds"), encoding="utf-8")


def _regrets(plain: Array, said: Array, true: NDArray[np.bool_], prices: Wrong) -> str:
    """Regret of both ways at both prices of a missed clip, and what the posts to look at come to."""
    before, after = Score(plain, true, 0.0).regret(prices), Score(said, true, 0.0).regret(prices)
    share, looks = Score(said, true, 0.0).looks()
    pairs = ", ".join(f"{mine:.1f}/{theirs:.1f}" for mine, theirs in zip(after, before, strict=True))
    return f"{pairs} | {share:.2f}, {looks:.0f}"


if __name__ == "__main__":
    main()
