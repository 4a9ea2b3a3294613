"""What posts are expected to cost, added up by hand, and where fitted ones stand."""

from typing import Any

import numpy as np
import pytest
from wirerun.arrays import FloatArray
from wirerun.findings import Findings
from wirerun.mechanics.clearance import Clearance
from wirerun.mechanics.load_posterior import LoadPosterior
from wirerun.mechanics.supports import Supports
from wirerun.model.layout import Posts, Stations
from wirerun.optimise.post_costs import PostLimits, WireLoad
from wirerun.rules.post_prices import PostPrices
from wirerun.settings import Config
from wirerun.stages.layout import fitted as fitted_module
from wirerun.stages.layout.expected_cost import Priced, RowCost, expected_costs
from wirerun.stages.layout.fitted import Fitted, place_fitted
from wirerun.stages.layout.placing import place_equal, vine_places

from tests.unit.rules.test_joining import catalogue
from tests.unit.rules.test_joining import config as wired
from tests.unit.stages.conftest import stand_on
from tests.unit.stages.layout.test_known_ground import rows_of
from tests.unit.stages.layout.test_placing import EAST, FLAT, on_row, rows_on

PRICES = PostPrices(post=6.0, two_way=1.0, missed=3.0, shift=0.25)
WEIGHT = 0.38


def config(**changes: Any) -> Config:  # noqa: ANN401 - sections of the config
    plain: dict[str, Any] = {"undulation": {"join_posts": 0, "plan_for": "likely"}, "clips": {"marking_m": 0.0}}
    return wired(**plain | changes)


def costs(posts: Posts, sigma_n: float = 0.0, limit_n: float = 1e4, wire_m: float = 1.2, **changes: Any) -> RowCost:  # noqa: ANN401
    """One wire of 300 N in clips that hold 5 N, errors of its load of one sigma, 0.3 m to keep off the ground."""
    one = np.where(posts.is_end, np.nan, 1.0)[:, None]
    sigma = sigma_n / 300.0 * one
    known = LoadPosterior(one, 0.0 * one, sigma, sigma, sigma[:, 0], 1.0, 0.0)
    priced = Priced(
        [WireLoad(300.0, WEIGHT, 1, clipped=True)],
        PostLimits(5.0, limit_n),
        Clearance(0.3, wire_m, 300.0, WEIGHT),
        PRICES,
        1.2,
        config(**changes),
    )
    feet, near = posts.feet, posts.near
    middles = (
        0.5 * (feet.x_m[near] + feet.x_m[near + 1]),
        0.5 * (feet.z_m[near] + feet.z_m[near + 1]),
        posts.row[near],
    )
    return expected_costs(posts, known, Supports(*middles), priced)


# A hollow of 0.5 m pulls up by 300 x 2 x 0.5 / 6 = 50 N less what the wire weighs.
HOLLOW = [0.0, 0.0, 0.0, -0.5, 0.0, 0.0, 0.0]


def test_on_level_ground_each_intermediate_post_costs_its_price() -> None:
    found = costs(stand_on([0.0] * 5, [0.0] * 3))
    assert found.total.tolist() == pytest.approx([3 * 6.0, 6.0])
    assert found.missed.tolist() == pytest.approx([0.0, 0.0], abs=1e-9)


def test_a_post_that_asks_costs_its_two_way_clips_and_those_that_join_sections_too() -> None:
    assert costs(stand_on(HOLLOW)).total.tolist() == pytest.approx([5 * 6.0 + 1.0])
    two = [0.0, -0.5, 0.0, -0.5, 0.0]
    apart, joined = (costs(stand_on(two), undulation={"join_posts": join}).total[0] for join in (0, 1))
    assert (apart, joined) == pytest.approx((3 * 6.0 + 2.0, 3 * 6.0 + 3.0))


def test_a_missed_clip_costs_by_its_probability() -> None:
    """A hollow that pulls up just by the 5 N a clip holds, less 2 N, with errors of 2 N: P = Phi(-1) = 0.1587."""
    depth = (3.0 + 6.0 * WEIGHT) * 6.0 / 600.0
    found = costs(stand_on([0.0, -depth, 0.0]), sigma_n=2.0)
    assert found.missed[0] == pytest.approx(3.0 * 0.1587, abs=2e-3)
    assert found.total[0] == pytest.approx(6.0 + found.missed[0])


def test_a_post_pulled_up_harder_than_it_holds_is_held_down() -> None:
    """47.7 N: held down where it bears 47 N, at the config's 9, and not where it bears 49."""
    held, stands = (costs(stand_on(HOLLOW), limit_n=limit).total[0] for limit in (47.0, 49.0))
    assert held - stands == pytest.approx(config().fitting.hold_down_price)


def test_a_span_too_near_the_ground_costs_its_price() -> None:
    """0.38 x 6^2 / (8 x 300) = 5.7 mm of sag: a wire at 0.305 m comes too near in all spans, one at 0.306 m in none."""
    low, high = (costs(stand_on([0.0] * 5), wire_m=height).total[0] for height in (0.305, 0.306))
    assert low - high == pytest.approx(4 * config().fitting.breach_price)


def test_where_clips_may_be_set_off_their_heights_a_shift_takes_the_place_of_a_clip() -> None:
    """5 cm in the hollow of 9 cm leaves nothing to fear, for the work of a shift."""
    dip = [0.0, 0.0, 0.0, -0.09, 0.0, 0.0, 0.0]
    assert costs(stand_on(dip)).total[0] == pytest.approx(5 * 6.0 + 1.0)
    assert costs(stand_on(dip), clips={"level_m": 0.05, "marking_m": 0.0}).total[0] == pytest.approx(5 * 6.0 + 0.25)


def fitted(profile: FloatArray, **changes: Any) -> tuple[Fitted, Stations, str]:  # noqa: ANN401
    """Fitted posts on one row of 96 m, the equal ones, and what is said."""
    ground, settings, notes = rows_on(profile), config(**changes), Findings("B01")
    equal, rows = place_equal(ground, settings.posts), rows_of(np.array([-2.0]))
    made = place_fitted(rows, ground, vine_places(ground, settings.posts), equal, settings, catalogue(1.0), notes)
    return made, equal, " ".join(note.message for note in notes if note.code == "fitted-saving")


def test_on_level_ground_the_spans_stay_equal() -> None:
    made, equal, said = fitted(FLAT)
    assert on_row(made.stations) == on_row(equal)
    assert "0.00 or 0 % less than placing = 'equal'" in said
    assert "0 of 1 rows leave their equal spans." in said


WAVES = 0.35 * np.cos(2.0 * np.pi * EAST / 20.0)


def test_over_waves_posts_move_out_of_the_hollows() -> None:
    """Waves of 20 m and 0.7 m under spans of 6 m: which posts stand in hollows is a matter of where they begin."""
    made, equal, said = fitted(WAVES)
    stations = on_row(made.stations)
    assert stations != on_row(equal)
    assert (stations[0], stations[-1]) == (0.0, 96.0)
    assert np.diff(stations).max() <= 6.0 + 1e-3
    assert "1 of 1 rows leave their equal spans, for most in B01-R001 (" in said
    assert made.more is not None
    # The heights of the placing that was not taken tell of the ground where no post stands.
    apart = np.abs(made.more.along_m[:, None] - np.array(stations)).min(axis=1)
    assert (apart > 0.04).all()


@pytest.mark.parametrize(
    ("left", "told", "leave"), [(2.0, "2.00 or", 1), (0.0, "0.00 or 0 %", 0), (-1.0, "0.00 or 0 %", 0)]
)
def test_what_is_saved_is_reckoned_anew_for_the_posts_that_were_chosen(
    monkeypatch: pytest.MonkeyPatch, left: float, told: str, leave: int
) -> None:
    """Chosen for it seemed to save 5: what the second pricing leaves of that is told, and where none, spans stay."""
    totals = iter((95.0, 100.0, 100.0 - left, 100.0))
    monkeypatch.setattr(fitted_module, "expected_costs", lambda *_: RowCost(np.array([next(totals)]), np.array([0.0])))
    made, equal, said = fitted(WAVES)
    assert f", {told} " in said
    assert f"{leave} of 1 rows leave" in said
    assert (on_row(made.stations) != on_row(equal)) == bool(leave)
    # The heights of the placing that was not taken tell of the ground either way.
    assert made.more is not None
