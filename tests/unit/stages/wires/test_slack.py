"""Slack to move foliage wires: the lengths alone are those that come with the tensions."""

from collections.abc import Callable

import numpy as np
import pytest
from wirerun.mechanics.chain import solve_chain, unstretched_totals
from wirerun.model.layout import Posts
from wirerun.rules.clip_positions import clip_positions
from wirerun.rules.wire import hung, wire_of
from wirerun.settings import Config
from wirerun.stages.wires.end_give import end_give
from wirerun.stages.wires.slack import lengths_to_move, slack_to_move


@pytest.mark.parametrize("limit_n", [300.0, 420.0, 480.0, 600.0, 2000.0])
def test_lengths_alone_are_those_found_with_the_tensions(stand: Callable[..., Posts], limit_n: float) -> None:
    """Rows of two to thirty spans over waves; wires lifted to two places and parked below."""
    draw = np.random.default_rng(3)
    posts = stand(*(300.0 + np.cumsum(draw.normal(0.0, 0.25, draw.integers(2, 31))) for _ in range(40)))
    config = Config.model_validate(
        {
            "name": "x",
            "block": {"boundary": "b"},
            "elevation": {"raster": "r"},
            "rows": {"bearing_deg": 0.0, "spacing_m": 2.4},
            "wires": [
                {"id": "fruiting", "kind": "fixed", "height_m": 0.9, "tension_n": 900.0},
                {"id": "lower", "kind": "foliage", "height_m": 1.2, "tension_n": 300.0},
                {"id": "upper", "kind": "foliage", "height_m": 1.45, "tension_n": 450.0},
            ],
            "clips": {"winter_m": 0.7},
            "states": {"lift_limit_n": limit_n, "winter_c": -5.0},
        }
    )
    cut = np.stack(
        [unstretched_totals(solve_chain(hung(posts, wire), wire_of(wire), wire.tension_n)) for wire in config.wires]
    )
    places = clip_positions(np.full(len(posts), 1.9), config.clips, config.wires, posts.row, ~posts.is_end)
    given = posts, cut, end_give(posts, config.wires, config.posts), config.wires, config.states, places
    whole, alone = slack_to_move(*given), lengths_to_move(*given)
    np.testing.assert_array_equal(alone.lift_mm, whole.lift_mm)
    np.testing.assert_array_equal(alone.park_mm, whole.park_mm)
    some = np.nan_to_num(whole.lift_mm) > 0.0
    assert some.any() == (limit_n < 1000.0)
