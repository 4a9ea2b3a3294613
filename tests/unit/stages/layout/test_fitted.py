"""What posts are expected to cost, added up by hand, and where fitted ones stand."""

from typing import Any

import numpy as np
import pytest
from scipy.interpolate import BarycentricInterpolator
from wirerun.arrays import FloatArray, words
from wirerun.findings import Findings
from wirerun.geometry.row_ground import RowGround
from wirerun.geometry.station import Paths
from wirerun.mechanics.clearance import Clearance, low_spans
from wirerun.mechanics.load_posterior import LoadPosterior
from wirerun.mechanics.supports import Supports
from wirerun.model.layout import Posts, Rows, Stations
from wirerun.optimise.placing import SpanLimits, fit_posts
from wirerun.optimise.post_costs import Expected, FitPrices, PostLimits, WireLoad, row_costs
from wirerun.rules.post_prices import PostPrices
from wirerun.settings import Config
from wirerun.stages.layout import fitted as fitted_module
from wirerun.stages.layout.expected_cost import Priced, RowCost, expected_costs
from wirerun.stages.layout.fitted import Fitted, place_fitted
from wirerun.stages.layout.placing import place_equal, vine_places

from tests.unit.rules.test_joining import catalogue
from tests.unit.rules.test_joining import config as wired
from tests.unit.stages.conftest import stand_on
from tests.unit.stages.layout.test_known_ground import SIDE, ground_of, rows_of
from tests.unit.stages.layout.test_placing import EAST, FLAT, on_row, rows_on

PRICES = PostPrices(post=6.0, two_way=1.0, missed=3.0, shift=0.25, change=0.0)
WEIGHT = 0.38


def config(**changes: Any) -> Config:  # noqa: ANN401 - sections of the config
    plain: dict[str, Any] = {"undulation": {"join_posts": 0, "plan_for": "likely"}, "clips": {"marking_m": 0.0}}
    return wired(**plain | changes)


WIRE = WireLoad(300.0, WEIGHT, 1, clipped=True)


def costs(
    posts: Posts,
    sigma_n: float = 0.0,
    limit_n: float = 1e4,
    wire_m: float = 1.2,
    wires: tuple[WireLoad, ...] = (WIRE,),
    **changes: Any,  # noqa: ANN401
) -> RowCost:
    """One wire of 300 N in clips that hold 5 N, errors of its load of one sigma, 0.3 m to keep off the ground."""
    one = np.where(posts.is_end, np.nan, 1.0)[:, None]
    sigma = sigma_n / 300.0 * one
    known = LoadPosterior(one, 0.0 * one, sigma, sigma, sigma[:, 0], 1.0, 0.0)
    priced = Priced(
        list(wires),
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


HEAVY = WireLoad(600.0, 1.0, 2, clipped=True)


@pytest.mark.parametrize("wires", [(WIRE, HEAVY), (HEAVY, WIRE)])
def test_of_several_wires_the_one_with_least_in_hand_for_its_tension_lets_go(wires: tuple[WireLoad, ...]) -> None:
    """4 cm: the heavy wire has 5 + 6 N against 8, so 3/600 in hand, or 0.005, the other 0.011; P = Phi(-1) = 0.1587.

    The error of the heights, 1.5 N at 300 N, is 0.005 of any tension.
    """
    found = costs(stand_on([0.0, -0.04, 0.0]), sigma_n=1.5, wires=wires)
    assert found.missed[0] == pytest.approx(3.0 * 0.1587, abs=4e-3)


def test_what_all_lines_pull_together_decides_whether_a_post_is_held_down() -> None:
    """47.6 N of the one wire and twice 93.7 of the other: 235 N."""
    held, stands = (costs(stand_on(HOLLOW), limit_n=limit, wires=(WIRE, HEAVY)).total[0] for limit in (233.0, 237.0))
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


# Heights without error; 900 N to pull a post out, of which half may be used.
SURE = {"elevation": {"raster": "-", "accuracy_m": 0.0}, "posts": {"post_pull_out_n": 900.0}}


def on_cubics(vines: Stations, equal: Stations, height_m: FloatArray) -> FloatArray:
    """Height at each vine on the cubic through four posts, two on either side but at the ends; straight on three."""
    found = []
    for row, at in zip(vines.row.tolist(), vines.station_m.tolist(), strict=True):
        x, z = equal.station_m[equal.row == row], height_m[equal.row == row]
        begin = max(0, min(int(np.searchsorted(x, at, side="right")) - 2, len(x) - 4))
        four = slice(begin, begin + 4)
        found.append(np.interp(at, x, z) if len(x) < 4 else float(BarycentricInterpolator(x[four], z[four])(at)))
    return np.array(found)


@pytest.mark.parametrize(("high_m", "wave_m"), [(0.15, 20.0), (0.2, 26.0), (0.3, 20.0), (0.3, 26.0)])
def test_posts_are_chosen_on_cubics_through_the_equal_ones_and_taken_where_that_saves(
    high_m: float, wave_m: float
) -> None:
    """Two long rows over the waves, begun at different places, and one of three posts.

    On a day of 0 degrees, strung at 15: 300 N + 200 GPa x 4.91 mm2 x 12e-6 x 15 = 476.7 N. A post costs 7.9 and two
    lines 1.44 more, as in the test of prices; to miss a clip twice that and a change of kind of 0.3. Half a two-way
    post must be saved.
    """
    north = np.array([-2.0, 2.1, 6.2])
    paths = Paths.straight(np.c_[[-48.0, -41.0, -48.0], north], np.c_[[48.0, 43.0, -36.5], north])
    rows = Rows("B01", words(["one", "other", "short"]), np.full(3, 90.0), paths.length_m, paths)
    waves = np.tile(300.0 + high_m * np.cos(2.0 * np.pi * EAST / wave_m), (SIDE, 1))
    ground = RowGround(ground_of(waves, np.ones((SIDE, SIDE), dtype=np.bool_)), paths)
    settings, notes = config(**SURE), Findings()
    equal, vines = place_equal(ground, settings.posts), vine_places(ground, settings.posts)
    made = place_fitted(rows, ground, vines, equal, settings, catalogue(1.0), notes)

    area, weight = np.pi / 4.0 * 0.0025**2, 7850.0 * 9.80665 * np.pi / 4.0 * 0.0025**2
    wires, limits = [WireLoad(300.0 + 200e9 * area * 12e-6 * 15.0, weight, 2, clipped=True)], PostLimits(5.0, 450.0)
    prices, keeps_off = FitPrices(7.9, 0.72, 9.0, 20.0, 1.74), Clearance(0.3, 1.2, 300.0, weight)
    seen = Supports(vines.station_m, ground.stand(*vines)[1], vines.row)
    expected = Expected(on_cubics(vines, equal, ground.stand(*equal)[1]), np.zeros(len(vines.row)))
    fit = fit_posts(seen, SpanLimits(3.6, 6.0), wires, limits, prices, keeps_off, expected)
    chosen = Stations(vines.row[fit.chosen], vines.station_m[fit.chosen])
    feet = [Supports(each.station_m, ground.stand(*each)[1], each.row) for each in (chosen, equal)]
    cost, cost_equal = (row_costs(each, low_spans(each, seen, keeps_off), wires, limits, prices).cost for each in feet)
    better = cost < cost_equal - 0.72
    assert better.any()
    assert not better.all()
    for row in range(3):
        taken, left = (chosen, equal) if better[row] else (equal, chosen)
        assert on_row(made.stations, row) == pytest.approx(on_row(taken, row), abs=1e-3)
        apart = [at for at in on_row(left, row) if min(abs(at - other) for other in on_row(taken, row)) > 0.05]
        assert made.more is not None
        assert made.more.along_m[made.more.row == row].tolist() == pytest.approx(apart, abs=1e-3)
    saved = (cost_equal - cost)[better].sum()
    said = notes[-1].message
    assert said.startswith(f"Fitted posts are expected to cost {cost_equal.sum() - saved:.2f}, {saved:.2f} or ")
    assert f"{saved:.2f} in what is ordered, 0.00 in two-way clips that are missed. {better.sum()} of 3 rows" in said


def cost_of(lifted_m: float, top_m: float) -> float:
    """What is expected of a row over waves where clips may be set off by 5 cm, on posts of 1.9 m."""
    wires = [
        {"id": "lower", "kind": "foliage", "height_m": 1.2, "lines": 2, "lifts_m": [lifted_m]},
        {"id": "top", "kind": "fixed", "height_m": top_m},
    ]
    clips = {"level_m": 0.05, "marking_m": 0.0}
    said = fitted(0.1 * np.cos(2.0 * np.pi * EAST / 20.0), wires=wires, clips=clips, **SURE)[2]
    return float(said.split("expected to cost ")[1].split(",")[0])


def test_clips_have_room_up_to_the_top_of_the_post_whatever_is_stapled_there() -> None:
    """A wire lifted to 1.88 m leaves 2 cm to set its clip up by; one stapled at 1.89 m is in nobody's way."""
    assert cost_of(1.45, 1.89) == cost_of(1.45, 1.6)
    assert cost_of(1.88, 1.6) > cost_of(1.45, 1.6) + 1.0


@pytest.mark.parametrize(
    ("left", "told", "leave"), [(2.0, "2.00 or", 1), (1.4, "0.00 or 0 %", 0), (-1.0, "0.00 or 0 %", 0)]
)
def test_what_is_saved_is_reckoned_anew_and_must_be_more_than_chance(
    monkeypatch: pytest.MonkeyPatch, left: float, told: str, leave: int
) -> None:
    """Chosen for it seemed to save 5: the second pricing leaves less, and it is good to sqrt(1 + 1), or 1.41."""
    totals = iter((95.0, 100.0, 100.0 - left, 100.0))
    none, one = np.zeros(1), np.ones(1)
    monkeypatch.setattr(fitted_module, "expected_costs", lambda *_: RowCost(np.array([next(totals)]), none, one))
    made, equal, said = fitted(WAVES)
    assert f", {told} " in said
    assert f"{leave} of 1 rows leave" in said
    assert (on_row(made.stations) != on_row(equal)) == bool(leave)
    # Where all stay the plan is that of equal spans: no other heights tell of the ground.
    assert (made.more is not None) == bool(leave)
    chance = f"{left:.2f} in 1 row would be within chance, which is 1.41."
    assert (chance in said) == (not leave)


def test_the_chance_of_a_cost_is_that_of_the_clips_that_may_be_missed() -> None:
    """P = 0.1587 as above at one post of a row: one sigma is 3 sqrt(P (1 - P)); a planned one is missed by nobody."""
    depth = (3.0 + 6.0 * WEIGHT) * 6.0 / 600.0
    doubtful, sure = (costs(stand_on([0.0, -deep, 0.0]), sigma_n=2.0) for deep in (depth, 0.5))
    assert np.sqrt(doubtful.variance[0]) == pytest.approx(3.0 * np.sqrt(0.1587 * 0.8413), abs=2e-3)
    assert sure.variance[0] == 0.0
