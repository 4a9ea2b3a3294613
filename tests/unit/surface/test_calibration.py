"""What is said of a need of two-way clips holds where the ground came from a survey; a small one of many.

The tables are those of `tests/benchmarks/survey_reliability.py`.
"""

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import map_coordinates
from scipy.special import ndtr
from wirerun.mechanics.height_errors import HeightErrors
from wirerun.mechanics.load_posterior import load_posterior
from wirerun.mechanics.supports import Supports
from wirerun.mechanics.undulation import height_covariance, taut_clip_load
from wirerun.mechanics.wire import Wire
from wirerun.settings import SurveySettings
from wirerun.surface.accuracy import accuracy_of
from wirerun.surface.ground_filter import FilterSettings, ground_of, noise_of

from tests.unit.surface.scenes import CELL_M, vineyard

FloatArray = NDArray[np.float64]
HIGH_M, WIDE_M, SPACING_M, SPAN_M, RANGE_M = 50.0, 60.0, 2.4, 6.0, 3.0
# Clips that hold so much upwards: by one limit alone, what one ground has just beyond it decides.
HOLDS_N = np.array([2.0, 5.0, 8.0, 11.0, 14.0])
TENSION_N, WIRE = 300.0, Wire.from_diameter(2.5)


def surveyed(seed: int) -> tuple[FloatArray, Supports, FloatArray]:
    """Places of posts on the rows of a made-up vineyard, with the heights that a survey has there, and the true ones.

    The scene's folds would leave no doubt anywhere: they are lowered to half.
    """
    scene = vineyard(HIGH_M, WIDE_M, seed=seed)
    down, right = np.indices(scene.ground_m.shape) * CELL_M
    lower = 0.5 * (scene.ground_m - 0.35 * right + 0.1 * (HIGH_M - down))
    scene = scene._replace(surface_m=scene.surface_m - lower, ground_m=scene.ground_m - lower)
    valid = np.ones(scene.surface_m.shape, dtype=bool)
    told = FilterSettings(CELL_M, 1.2, 8.0)
    ground = ground_of(scene.surface_m, valid, told, noise_of(scene.surface_m, valid, told)).ground_m
    turn = np.radians(62.0)
    along, row = np.meshgrid(np.arange(0.0, 80.0, SPAN_M), np.arange(-20, 20))
    x, y = (
        row * SPACING_M * np.cos(turn) + along * np.sin(turn),
        -row * SPACING_M * np.sin(turn) + along * np.cos(turn),
    )
    inside = (x > 5.0) & (x < WIDE_M - 6.0) & (y > 5.0) & (y < HIGH_M - 4.0)
    inside &= (inside.sum(axis=1) > 2)[:, None]
    at = np.stack([(HIGH_M - y[inside]) / CELL_M - 0.5, x[inside] / CELL_M - 0.5])
    seen, true = (map_coordinates(heights, at, order=1) for heights in (ground, scene.ground_m))
    return np.column_stack([x[inside], y[inside]]), Supports(along[inside], seen, row[inside]), true


def tell(xy: FloatArray, feet: Supports, accuracy_m: float, unseen_m: float) -> FloatArray:
    """Probability that each inner post needs a two-way clip, by the plan's own functions, for each limit in turn."""
    one, inner = np.ones(len(xy)), feet.rows.inner
    shared = np.sqrt(height_covariance(0.0, accuracy_m, RANGE_M, 1.0)) * one
    known = load_posterior(xy, feet, HeightErrors(shared, 0.0 * one, RANGE_M, 1.0, unseen_m * one))
    expected = taut_clip_load(feet, WIRE, TENSION_N)[inner][:, None] - TENSION_N * known.error[inner]
    of_kind = ndtr((-HOLDS_N[:, None, None] - expected) / np.maximum(TENSION_N * known.left[inner], 1e-9))
    return np.asarray((known.weight[inner] * of_kind).sum(axis=-1)).clip(1e-4, 1.0 - 1e-4).ravel()


def test_said_is_true_and_neither_less_nor_more_sure() -> None:
    told = SurveySettings()
    good = accuracy_of(np.zeros(0), np.zeros((0, 2)), told).accuracy_m
    ways = {"as said": (good, told.unseen_m), "too sure": (good / 8.0, 0.0), "too unsure": (8.0 * good, 0.1)}
    said: dict[str, list[FloatArray]] = {name: [] for name in ways}
    need = []
    for seed in (5, 6):
        xy, feet, true = surveyed(seed)
        load = taut_clip_load(feet.at_heights(true), WIRE, TENSION_N)[feet.rows.inner]
        need.append((load < -HOLDS_N[:, None]).ravel())
        for name, way in ways.items():
            said[name].append(tell(xy, feet, *way))
    true = np.concatenate(need)
    told_of = {name: np.concatenate(each) for name, each in said.items()}
    assert 0.1 < true.mean() < 0.9
    # The limits share their posts: their chances add up as they are, not as squares.
    chance = 3.0 * np.sqrt(len(HOLDS_N) * (told_of["as said"] * (1.0 - told_of["as said"])).sum())
    assert abs(told_of["as said"].sum() - true.sum()) < chance
    score = {name: -np.where(true, np.log(p), np.log1p(-p)).mean() for name, p in told_of.items()}
    assert min(score, key=lambda name: score[name]) == "as said", score
