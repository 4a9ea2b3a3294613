"""Clips where heights have an error: the chance that they are missed, by hand and by throwing the heights anew."""

import numpy as np
import pytest
from wirerun.optimise.post_costs import PARTS_PER_UNIT, PartPrices, clip_cost, load_spread

PRICES = PartPrices(0, 10 * PARTS_PER_UNIT, 0, 0, 20 * PARTS_PER_UNIT)
LIMITS = np.array([5.0, 1e4])


def cost_of(load_n: float, spread: float) -> float:
    """Of one clipped wire of 1000 N that a clip holds down with 5 N; to miss it costs 20, two-way clips 10."""
    load, tension = np.array([[load_n], [load_n]]), np.full((2, 1), 1000.0)
    return float(clip_cost(load, tension, LIMITS, np.array([spread]), PRICES)[0]) / PARTS_PER_UNIT


# A standard normal falls below -1 in 15.866 %, below 0 in half of all cases: tables of the normal distribution.
@pytest.mark.parametrize(
    ("load_n", "cost"), [(95.0, 20 * 0.15866), (295.0, 20 * 0.00135), (-5.0, 10.0), (-105.0, 10.0)]
)
def test_missing_a_clip_costs_its_chance_and_never_more_than_the_clip(load_n: float, cost: float) -> None:
    """100 N above the limit are one sigma of 0.1 N a newton at 1000 N; at the limit the chance is a half."""
    assert cost_of(load_n, 0.1) == pytest.approx(cost, abs=1e-4)


def test_where_heights_are_sure_a_load_beyond_its_limit_needs_the_clip_and_one_at_it_does_not() -> None:
    assert [cost_of(load, 0.0) for load in (-5.001, -5.0, -4.999)] == [10.0, 0.0, 0.0]


def test_the_spread_of_a_load_is_that_of_heights_thrown_anew() -> None:
    """Heights off by 0.1 m, each by itself: T (dz/4 + dz/5) of spans of 4 and 5 m; and of one span only at an end."""
    before, own, after = np.random.default_rng(1).normal(0.0, 0.1, (3, 200_000))
    thrown = np.std((own - before) / 4.0 + (own - after) / 5.0)
    spread = load_spread(np.array(0.1), np.array(4.0), np.array(5.0))
    assert float(spread) == pytest.approx(0.1 * np.sqrt(1 / 16 + 1 / 25 + 0.45**2), rel=1e-12)
    assert float(spread) == pytest.approx(float(thrown), rel=0.01)
    assert float(load_spread(np.array(0.1), np.array(np.inf), np.array(5.0))) == pytest.approx(0.1 * np.sqrt(2 / 25))
