"""How likely each post needs a two-way clip by how its clips are set, against the normal distribution."""

from itertools import product

import numpy as np
import pytest
from scipy.special import ndtr
from wirerun.mechanics.load_posterior import LoadPosterior
from wirerun.mechanics.supports import Supports
from wirerun.rules.levelling import _EACH_CM as EACH_CM
from wirerun.rules.levelling import Hung, room_for_steps
from wirerun.rules.post_prices import PostPrices

FEET = Supports(np.array([0.0, 6.0, 12.0, 18.0, 24.0]), np.zeros(5), np.zeros(5, dtype=np.int64))
SPARE = np.array([np.nan, 0.02, 0.01, -0.01, np.nan])
ERROR, SIGMA = 0.004, 0.01


def known() -> LoadPosterior:
    """One kind of ground: the same error of each load, and the same spread of it."""
    one = np.array([np.nan, 1.0, 1.0, 1.0, np.nan])[:, None]
    return LoadPosterior(one, ERROR * one, SIGMA * one, SIGMA * one, SIGMA * one[:, 0], 1.0, 0.0)


@pytest.mark.parametrize(("level_m", "most"), [(0.05, 5), (0.03, 3), (0.055, 5), (0.29, 29), (0.07, 7), (0.0, 0)])
def test_clips_are_set_off_in_whole_centimetres_up_to_what_is_allowed(level_m: float, most: int) -> None:
    assert Hung.on(FEET, SPARE, level_m, 0.0).most == most
    room = room_for_steps(np.array([1.2, 1.2, 1.2]), np.array([1.2 + level_m, 1.2, 1.1999]))
    assert room.tolist() == [most, 0, -1]


@pytest.mark.parametrize(
    "steps", [[0, 0, 0, 0, 0], [0, 5, -5, 5, 0], [0, -5, 5, -5, 0], [0, 0, 3, 0, 0], [0, 1, 2, 4, 0]]
)
def test_the_chance_at_steps_is_that_of_the_normal_distribution(steps: list[int]) -> None:
    """By hand: a step up of h turns the wire by h/6 in each span, so that h (2 - 0 - 0)/6 of the tension is added."""
    hung = Hung.on(FEET, SPARE, 0.05, 0.0)
    found = hung.at_steps(hung.chance(known()), np.array(steps))
    set_off = np.array(steps, dtype=np.float64)
    eased = 0.01 * (2.0 * set_off[1:-1] - set_off[:-2] - set_off[2:]) / 6.0
    expected = ndtr((ERROR - SPARE[1:-1] - eased) / SIGMA)
    # Between the places at which it is reckoned the probability is a straight line.
    assert found[1:-1] == pytest.approx(expected, abs=3e-3)
    assert found[[0, -1]].tolist() == [0.0, 0.0]


def test_at_the_farthest_steps_it_is_reckoned_and_not_read_between() -> None:
    hung = Hung.on(FEET, SPARE, 0.05, 0.0)
    found = hung.at_steps(hung.chance(known()), np.array([-5, 5, -5, 5, -5]))
    eased = 0.01 * 20.0 / 6.0 * np.array([1.0, -1.0, 1.0])
    assert found[1:-1] == pytest.approx(ndtr((ERROR - SPARE[1:-1] - eased) / SIGMA), rel=1e-9)


def test_the_error_with_which_clips_are_set_adds_to_the_surveys() -> None:
    """A centimetre at each of three clips: sqrt(2^2 + 1 + 1)/6 hundredths of the tension."""
    hung = Hung.on(FEET, SPARE, 0.0, 0.01)
    sigma = np.hypot(SIGMA, 0.01 * np.sqrt(6.0) / 6.0)
    found = hung.at_steps(hung.chance(known()), np.zeros(5, dtype=np.int64))
    assert found[1:-1] == pytest.approx(ndtr((ERROR - SPARE[1:-1]) / sigma), rel=1e-9)


@pytest.mark.parametrize("missed", [0.4, 1.5, 6.0])
def test_steps_are_those_that_cost_least_of_all_there_are(missed: float) -> None:
    """Every way to set three posts off by up to 2 cm is priced by hand; two-way clips cost too much to be taken."""
    hung = Hung.on(FEET, SPARE, 0.02, 0.0)
    chance = hung.chance(known())
    prices = PostPrices(post=6.0, two_way=1e3, missed=missed, shift=0.1, change=0.0)

    def cost(steps: tuple[int, ...]) -> float:
        work = sum(0.1 * (1.0 + EACH_CM * abs(step)) for step in steps if step)
        return 2.0 * missed * float(hung.at_steps(chance, np.array([0, *steps, 0])).sum()) + work

    every = list(product(range(-2, 3), repeat=3))
    room = np.full(5, 2.0)
    made = hung.level(FEET, chance, room, prices)
    assert cost(tuple(made[1:-1])) == pytest.approx(min(map(cost, every)), abs=1e-4)
    assert made[[0, -1]].tolist() == [0, 0]
    if missed > 1.0:
        assert made.any()
    low = hung.level(FEET, chance, np.full(5, 0.0), prices)
    assert low.max() <= 0
    assert cost(tuple(low[1:-1])) == pytest.approx(min(cost(steps) for steps in every if max(steps) <= 0), abs=1e-4)
