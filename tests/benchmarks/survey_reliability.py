"""Said and true need of two-way clips where ground and accuracy come from a survey.

Run ``python tests/benchmarks/survey_reliability.py`` (ten minutes; ``--quick``: two). Many surveys are drawn of grounds
whose truth is known, four made ones, gentle waves and six places of a real lidar raster: noise of 2, 3 and 4 cm that
is alike over 2.6 m, 1.5 cm from cell to cell, grass of 4 cm, slow waves of 3 cm (60 to 200 m long), vines, gaps, trees,
all drawn before the filter. The filter makes ground; posts stand every 6 m on the rows; `accuracy_of` tells how good it
is, without check points, with 14 and with 40 (2 cm, one sigma, on bare ground between the rows); and the plan's own
functions tell the probability. Grass is drawn twice: with tufts of half a metre alone, and with patches of 6 m, 2 cm
high or low, besides, as `survey.grass_m` has it. True is what a taut wire does over the ground without any of that.

Printed for each class of probability: said and true share and how many posts; then how many posts are planned
needlessly and missed, and the mean log score. Chance is two standard errors; the same post of the same real ground is
surveyed several times, and its truth is always the same, so that places are counted, not posts. "By the noise alone"
leaves `survey.unseen_m` out.
"""

import argparse
from collections.abc import Callable, Iterator
from dataclasses import replace
from itertools import pairwise
from typing import NamedTuple

import numpy as np
from bench_survey import CELL_M, TOLD  # type: ignore[import-not-found]
from clip_need_truth import HOLD_N, RANGE_M, SMOOTHING_M, SPAN_M, TENSION_N, WIRE  # type: ignore[import-not-found]
from known_grounds import GROUNDS  # type: ignore[import-not-found]
from numpy.typing import NDArray
from reliability import EDGES  # type: ignore[import-not-found]
from scipy.ndimage import map_coordinates
from scipy.special import ndtr
from survey_cases import real_ground
from survey_scenes import Rows, Scene, correlated, made_ground, make_scene
from wirerun.mechanics.height_errors import HeightErrors
from wirerun.mechanics.load_posterior import load_posterior
from wirerun.mechanics.supports import Supports
from wirerun.mechanics.undulation import height_covariance, taut_clip_load
from wirerun.settings import SurveySettings
from wirerun.surface.accuracy import accuracy_of
from wirerun.surface.ground_filter import ground_of, noise_of

Array = NDArray[np.float64]

NOISES_M = (0.02, 0.03, 0.04)
SLOW_M, PATCH_M, PATCH_WIDE_M, POINT_M = 0.03, 0.02, 6.0, 0.02
_ALLEY_M = 0.6
_MOST_POINTS = 40
_LEAST_ROW_M = 20.0
_QUICK = ["made, 16 %", "real 1"]
SETTINGS = SurveySettings()


class Surveyed(NamedTuple):
    """Posts of a surveyed scene: places, heights seen and true; check points: places, and the ground less the point.

    `smoothed_m` are the heights seen with other lengths of the average along the row [m].
    """

    xy: Array
    feet: Supports
    true_m: Array
    check_xy: Array
    off_m: Array
    smoothed_m: dict[float, Array]


def grounds(*, second: bool = False) -> dict[str, Callable[[Array, Array], Array]]:
    """Return the grounds, or those of a second set that has none of them."""
    corners = ((20, 250), (280, 40), (150, 280)) if second else ((60, 80), (230, 200), (150, 120))
    real = {f"real {n}": real_ground(corner) for n, corner in enumerate(corners, 1)}
    if second:
        return {"made, 16 %": made_ground(0.16, 11), "made, 40 %": made_ground(0.4, 12), **real}
    return {"made, 16 %": made_ground(0.16, 1), "made, 40 %": made_ground(0.4, 2), "gentle": GROUNDS["gentle"], **real}


def slow(scene: Scene, rng: np.random.Generator) -> Array:
    """Long smooth waves, as those of a lens that is not quite known."""
    down, right = np.indices(scene.surface_m.shape) * scene.cell_m
    made = np.zeros(scene.surface_m.shape)
    for _ in range(6):
        turn, start = rng.uniform(0.0, 2.0 * np.pi, 2)
        made += np.sin(2.0 * np.pi / rng.uniform(60.0, 200.0) * (right * np.cos(turn) + down * np.sin(turn)) + start)
    return np.asarray(SLOW_M * made / np.sqrt(3.0))


def survey(scene: Scene, seed: int) -> Surveyed:
    """Filter a scene, and read posts and check points off it."""
    valid = np.ones(scene.surface_m.shape, dtype=bool)
    seen = ground_of(scene.surface_m, valid, TOLD, noise_of(scene.surface_m, valid, TOLD)).ground_m
    row, along, xy, heading = _posts(scene)
    rng = np.random.default_rng(seed)
    off = np.abs(scene.row - np.round(scene.row)) * scene.rows.spacing_m
    bare = np.argwhere(scene.planted & ~scene.trees & (off > _ALLEY_M))
    at = bare[rng.choice(len(bare), _MOST_POINTS, replace=False)]
    points = (seen - scene.ground_m)[tuple(at.T)] + rng.normal(0.0, POINT_M, len(at))
    seen_m, true_m = (_read(heights, xy, heading) for heights in (seen, scene.ground_m))
    smoothed = {length: _read(seen, xy, heading, length) for length in (0.5, 2.0, 4.0)}
    return Surveyed(xy, Supports(along, seen_m, row), true_m, at * scene.cell_m, points, smoothed)


def _posts(scene: Scene) -> tuple[NDArray[np.intp], Array, Array, Array]:
    """Row, distance along it and place of posts every span on straight rows, and the rows' direction."""
    turn = np.radians(scene.rows.bearing_deg)
    heading, across = np.array([np.sin(turn), np.cos(turn)]), np.array([np.cos(turn), -np.sin(turn)])
    high = scene.surface_m.shape[0] * scene.cell_m
    step = np.arange(-200.0, 200.0, 0.25)
    rows, alongs = [], []
    for number in range(int(np.floor(scene.row.min())), int(np.ceil(scene.row.max())) + 1):
        x, y = (number * scene.rows.spacing_m * across + step[:, None] * heading).T
        column, line = np.floor(x / scene.cell_m).astype(int), np.floor((high - y) / scene.cell_m).astype(int)
        there = (column >= 0) & (line >= 0) & (column < scene.row.shape[1]) & (line < scene.row.shape[0])
        there[there] = (scene.planted & ~scene.trees)[line[there], column[there]]
        if there.sum() * 0.25 < _LEAST_ROW_M:
            continue
        first, last = step[there][[0, -1]]
        along = np.arange(first + 1.0, last - 1.0, SPAN_M)
        rows.append(np.full(len(along), number))
        alongs.append(along)
    row, along = np.concatenate(rows), np.concatenate(alongs)
    place = row[:, None] * scene.rows.spacing_m * across + along[:, None] * heading
    return row, along - along.min(), np.column_stack([place[:, 0], high - place[:, 1]]), heading * (1.0, -1.0)


def _read(heights: Array, xy: Array, heading: Array, smoothing_m: float = SMOOTHING_M) -> Array:
    """Heights at posts, averaged along the row, as a plan has them; y runs down."""
    offset = ((np.arange(8) + 0.5) / 8.0 - 0.5) * smoothing_m
    places = xy[:, None, :] + offset[:, None] * heading
    return np.asarray(map_coordinates(heights, (places / CELL_M - 0.5).T[::-1], order=1).T.mean(axis=1))


def tell(
    case: Surveyed, accuracy_m: float, unseen_m: float, smoothing_m: float = SMOOTHING_M
) -> tuple[Array, NDArray[np.bool_]]:
    """Probability that each intermediate post needs a two-way clip, and whether it does."""
    inner = case.feet.rows.inner
    load = taut_clip_load(case.feet, WIRE, TENSION_N)[inner]
    true = taut_clip_load(case.feet.at_heights(case.true_m), WIRE, TENSION_N)[inner] < -HOLD_N
    one = np.ones(len(case.true_m))
    shared = np.sqrt(height_covariance(0.0, accuracy_m, RANGE_M, smoothing_m)) * one
    known = load_posterior(case.xy, case.feet, HeightErrors(shared, 0.0 * one, RANGE_M, smoothing_m, unseen_m * one))
    expected = load[:, None] - TENSION_N * known.error[inner]
    of_kind = known.weight[inner] * ndtr((-HOLD_N - expected) / np.maximum(TENSION_N * known.left[inner], 1e-9))
    return of_kind.sum(axis=1), true


def cases(
    names: list[str], noises_m: tuple[float, ...], seeds: int, *, second: bool = False
) -> Iterator[tuple[str, str, Surveyed]]:
    """Go through ground, grass and survey."""
    of_name = grounds(second=second)
    for number, name in enumerate(names):
        for noise in noises_m:
            for draw in range(seeds):
                seed = 1000 * number + round(1000.0 * noise) + 100 * draw + (50_000 if second else 0)
                scene = make_scene(of_name[name], Rows(), noise_m=noise, seed=seed)
                whole = scene.surface_m + slow(scene, np.random.default_rng(seed + 50))
                patches = correlated(whole.shape, PATCH_M, PATCH_WIDE_M, CELL_M, seed + 9)
                yield name, "tufts", survey(replace(scene, surface_m=whole), seed)
                yield name, "patches", survey(replace(scene, surface_m=whole + patches), seed)


def score(said: Array, true: NDArray[np.bool_]) -> str:
    """Return needless and missed [%], and log score."""
    clear = np.clip(said, 1e-6, 1.0 - 1e-6)
    log = -np.where(true, np.log(clear), np.log1p(-clear)).mean()
    planned = said >= 0.5
    return f"needless {100 * (planned & ~true).mean():.1f} %, missed {100 * (~planned & true).mean():.1f} %, {log:.3f}"


Told = tuple[Array, NDArray[np.bool_], NDArray[np.int64]]


def places_of(case: Surveyed, ground: int) -> NDArray[np.int64]:
    """Return the ground, and the place on it in whole metres, of each intermediate post, shape (n, 3)."""
    at = np.round(case.xy[case.feet.rows.inner]).astype(np.int64)
    return np.column_stack([np.full(len(at), ground), at])


def joined(parts: list[Told]) -> Told:
    """Return several surveys as one."""
    said, true, places = (np.concatenate(part) for part in zip(*parts, strict=True))
    return said, true, places


def print_table(title: str, parts: list[Told]) -> None:
    """Print said and true of each class."""
    said, true, places = joined(parts)
    print(f"{title}: {len(said)} posts at {len(np.unique(places, axis=0))} places; {score(said, true)}")
    for low, high in pairwise(EDGES):
        where = (said >= low) & (said < high)
        if where.any():
            which = np.unique(places[where], axis=0, return_inverse=True)[1].ravel()
            off = np.bincount(which, true[where] - said[where])
            chance = 2.0 * np.sqrt((off**2).sum()) / where.sum()
            print(
                f"   {100 * low:3.0f} to {100 * min(high, 1.0):3.0f} %: said {100 * said[where].mean():5.1f}, true "
                f"{100 * true[where].mean():5.1f} (chance {100 * chance:.1f}), {where.sum()} posts at {len(off)} places"
            )


def main() -> None:
    """Print the tables."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--quick", action="store_true")
    parser.add_argument("--seeds", type=int, default=1)
    asked = parser.parse_args()
    sets = (False,) if asked.quick else (False, True)
    noises, seeds = (NOISES_M[1:2], 1) if asked.quick else (NOISES_M, asked.seeds)
    told: dict[tuple[str, str, str], list[Told]] = {}
    accuracies: dict[tuple[str, str], list[float]] = {}
    drawn = (
        (second, *case)
        for second in sets
        for case in cases(_QUICK if asked.quick else list(grounds(second=second)), noises, seeds, second=second)
    )
    numbers: dict[tuple[bool, str, int], int] = {}
    for number, (second, name, grass, case) in enumerate(drawn):
        # Made ground is another in every survey, and the same with grass drawn twice.
        key = second, name, number // 2 if name.startswith("made") else 0
        ground = numbers.setdefault(key, len(numbers))
        kind = name.split()[0].rstrip(",")
        for way, points, unseen in (
            ("no check points", 0, SETTINGS.unseen_m),
            ("14 check points", 14, SETTINGS.unseen_m),
            ("40 check points", 40, SETTINGS.unseen_m),
            ("no check points, by the noise alone", 0, 0.0),
        ):
            good = accuracy_of(case.off_m[:points], case.check_xy[:points], SETTINGS).accuracy_m
            told.setdefault((way, grass, kind), []).append((*tell(case, good, unseen), places_of(case, ground)))
            accuracies.setdefault((way, grass), []).append(good)
    for way in dict.fromkeys(way for way, _ in accuracies):
        for grass in ("tufts", "patches"):
            low, high = np.quantile(accuracies[way, grass], [0.1, 0.9])
            print(f"\n{way}, grass in {grass}: accuracy_m {low:.3f} to {high:.3f} (80 % of surveys)")
            for (one, two, kind), made in told.items():
                if (one, two) == (way, grass):
                    print(f"   {kind}: {score(*joined(made)[:2])}")
        mine = [(kind, part) for (one, _, kind), made in told.items() if one == way for part in made]
        print_table("made and real, both", [part for kind, part in mine if kind != "gentle"])
        if gentle := [part for kind, part in mine if kind == "gentle"]:
            print_table("gentle waves, both", gentle)


if __name__ == "__main__":
    main()
