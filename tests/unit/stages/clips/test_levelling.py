"""Clips set off their heights: which way, how far, never on a hard limit, and what is said of it."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from scipy.special import ndtr
from wirerun.mechanics.load_posterior import BETTER, LoadPosterior
from wirerun.mechanics.undulation import taut_clip_load
from wirerun.mechanics.wire import Wire
from wirerun.model.clips import ClipPositions
from wirerun.model.layout import PostHeights, Posts
from wirerun.model.wires import WireStates
from wirerun.rules.post_prices import PostPrices
from wirerun.settings import ClipSettings, UndulationSettings
from wirerun.stages.clips.levelling import Levelling, level_clips

TENSION_N, HOLD_N = 300.0, 5.0
WIRE = Wire.from_diameter(2.5)
PRICES = PostPrices(post=6.0, two_way=1.0, missed=2.0, shift=0.1)
# The pull that makes a clip's load one newton less for each centimetre that it goes down between two level spans.
PER_CM = TENSION_N * 2.0 / 6.0 / 100.0

Level = Callable[..., Levelling]


@pytest.fixture
def level(stand: Callable[..., Posts], year: Callable[..., WireStates]) -> Level:
    """Levelling of one row of posts on given ground, one wire in clips, its loads those of a taut wire."""

    def run(
        ground_m: list[float], level_m: float = 0.05, sigma_n: float = 2.0, top_m: float = 1.2, **more: float
    ) -> Levelling:
        posts = stand(ground_m)
        load = taut_clip_load(posts.feet, WIRE, TENSION_N)[None, posts.middle]
        one = np.where(posts.is_end, np.nan, 1.0)[:, None]
        sigma = sigma_n / TENSION_N * one
        known = LoadPosterior(one, 0.0 * one, sigma, BETTER * sigma, sigma[:, 0], more.get("ratio", np.nan), 0.0)
        there = np.ones((1, len(posts), 1), dtype=np.bool_)
        places = ClipPositions(np.array([top_m]), there, ~there, ~there, ~there, np.empty(0))
        heights = PostHeights(np.full(len(posts), 1.25), np.full(len(posts), None, dtype=object))
        clips = ClipSettings(level_m=level_m, marking_m=more.get("marking_m", 0.0))
        prices = replace(PRICES, shift=more["shift"]) if "shift" in more else PRICES
        return level_clips(
            posts,
            known,
            year(posts, strung=load, strung_tension=TENSION_N),
            (heights, places),
            np.array([True]),
            prices,
            (clips, UndulationSettings(hold_down_n=HOLD_N)),
        )

    return run


def cm(levelling: Levelling) -> list[int]:
    return [round(100.0 * shift) for shift in levelling.shift_m]


def test_clips_over_a_dip_go_up_and_not_just_to_the_limit(level: Level) -> None:
    """A hollow of 9 cm pulls up by 9 N less the weight of 2.3 N: 1.7 N beyond a clip's 5, by hand.

    Two centimetres would put it just inside; with an error of 2 N it goes on until what is left to fear costs less than
    the next centimetre.
    """
    found = level([0.0, 0.0, 0.0, -0.09, 0.0, 0.0, 0.0])
    assert found.before.asked == 1
    shift = cm(found)
    assert shift[3] >= 4
    assert [shift[end] for end in (0, -1)] == [0, 0]
    # Without error what is just inside is as good as any.
    assert cm(level([0.0, 0.0, 0.0, -0.09, 0.0, 0.0, 0.0], sigma_n=0.0)) == [0, 0, 0, 2, 0, 0, 0]
    # Errors with which clips are set count like those of the ground.
    assert cm(level([0.0, 0.0, 0.0, -0.09, 0.0, 0.0, 0.0], sigma_n=0.0, marking_m=0.01))[3] >= 4


def test_level_ground_stays_as_it_is_and_so_does_what_no_shift_mends(level: Level) -> None:
    assert cm(level([0.0] * 8)) == [0] * 8
    assert cm(level([0.0, 0.0, -0.8, 0.0, 0.0])) == [0] * 5
    assert tuple(level([0.0, 0.0, -0.8, 0.0, 0.0]).before) == pytest.approx((1, 0.0, 0.0), abs=1e-6)


def test_a_shift_is_never_more_than_is_allowed_nor_above_the_post(level: Level) -> None:
    dip = [0.0, 0.0, 0.0, -0.12, 0.0, 0.0, 0.0]
    assert np.abs(cm(level(dip, level_m=0.02))).max() <= 2
    assert np.abs(cm(level(dip, level_m=0.1))).max() > 2
    # Posts of 1.25 m with clips at 1.24 m have room for one centimetre.
    assert max(cm(level(dip, top_m=1.24))) <= 1


def test_a_shift_that_costs_more_than_the_clip_is_left(level: Level) -> None:
    dip = [0.0, 0.0, 0.0, -0.09, 0.0, 0.0, 0.0]
    assert cm(level(dip, shift=1.01)) == [0] * 7


def test_what_is_expected_without_is_the_normal_distribution(level: Level) -> None:
    """Three alike dips far apart, loads 1.0 N short of the limit, errors of 2 N: P = Phi(-0.5) = 0.309 each."""
    weight = float(WIRE.weight_n_per_m) * 6.0
    depth = (HOLD_N - 1.0 + weight) / PER_CM / 100.0
    ground = [0.0] * 4 + [-depth] + [0.0] * 6 + [-depth] + [0.0] * 6 + [-depth] + [0.0] * 4
    found = level(ground)
    assert found.before.asked == 0
    posts_beside = 6 * float(ndtr((-HOLD_N - weight - depth * 100.0 * PER_CM / 2.0) / 2.0))
    assert found.before.missed == pytest.approx(3 * float(ndtr(-0.5)) + posts_beside, rel=0.02)
    assert found.better is None
    # A better survey would have less to even out.
    better = level(ground, ratio=1.0).better
    assert better is not None
    assert better.missed < 0.2
