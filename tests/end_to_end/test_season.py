"""The season of whole plans on ground whose answer is known from outside."""

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from scipy.optimize import brentq
from wirerun import Plan, plan_config

Scenes = Callable[..., Any]
WIRE = {"id": "lower", "kind": "foliage", "height_m": 1.2, "diameter_mm": 2.5, "tension_n": 300.0}
# Up by one position: 0.25 m, which a hand does in any row of more than 36 m.
ONE_LIFT = {"lowest_m": 1.2, "spacing_m": 0.25, "most": 2}
# 2.5 mm steel: 7850 kg/m3, 200 GPa.
WEIGHT = 7850.0 * 9.80665 * np.pi * 0.0025**2 / 4.0
STIFFNESS = 200e9 * np.pi * 0.0025**2 / 4.0


def level_plan(make_scene: Scenes, length_m: float, **sections: Any) -> Plan:  # noqa: ANN401 - TOML sections
    """Level rows of a given length, east to west, with one foliage wire unless told otherwise."""
    half = length_m / 2.0
    corners = [(-half, -6.0), (half, -6.0), (half, 6.0), (-half, 6.0)]
    scene = make_scene(lambda x, y: 300.0 + 0.0 * (x + y), corners)
    rows = {"bearing_deg": 90.0, "headland_m": 0.0, "side_margin_m": 0.0}
    return plan_config(scene.config(**{"rows": rows, "wires": [WIRE], **sections}))


def catenary_length(run_m: float, sag_m: float) -> float:
    """Unstretched length of an elastic catenary between level supports with a given sag, by root finding.

    Source: textbook catenary, sag = H/w (cosh(w l/2H) - 1) and s = 2H/w sinh(w l/2H), with the stretch of the mean
    tension; Irvine 1981 section 1.2. Shares no code with the package.
    """

    def miss(pull: float) -> float:
        return float(pull / WEIGHT * (np.cosh(WEIGHT * run_m / (2 * pull)) - 1.0) - sag_m)

    pull = float(brentq(miss, 1.0, 1e5, xtol=1e-10))
    length = 2 * pull / WEIGHT * np.sinh(WEIGHT * run_m / (2 * pull))
    greatest = pull * np.cosh(WEIGHT * run_m / (2 * pull))
    return float(length / (1.0 + (pull + 2.0 * greatest) / 3.0 / STIFFNESS))


@pytest.mark.parametrize("length_m", [30.0, 60.0, 100.0, 110.0, 121.0, 130.0, 200.0])
def test_short_level_rows_need_an_adjuster_and_long_ones_do_not(make_scene: Scenes, length_m: float) -> None:
    """Take-up against an independent catenary; the strung wire is straight to a few micrometres.

    That short rows (about 30 m) need adjusters and long ones do not is common practice. Let down as warm as strung.
    """
    plan = level_plan(make_scene, length_m, states={"winter_c": 15.0}, clips=ONE_LIFT)
    wires = plan.wires
    np.testing.assert_allclose(plan.rows["length_m"], length_m, atol=1e-3)
    strung = length_m / (1.0 + 300.0 / STIFFNESS)
    wanted = 1000.0 * (catenary_length(length_m, 1.2) - strung)
    assert (wires["drops_by_itself"] == ("yes" if length_m > 120.0 else "no")).all()
    if length_m > 120.0:
        assert (wires["take_up_mm"] == 0.0).all()
        assert wanted < 0.0
        assert (wires["dropped_height_m"] < 1e-6).all()
        assert len(plan.adjusters) == 0
        # It lies on the ground at the posts about the middle and hangs from 1.2 m at the ends.
        by_row = plan.clips.groupby("row_id")["dropped_height_m"]
        assert by_row.min().max() < 2e-3  # of 121 m only a few metres touch, between two posts
        assert by_row.first().min() > 0.9
    else:
        np.testing.assert_allclose(wires["take_up_mm"], wanted, atol=max(2.0, 0.02 * wanted))
        assert len(plan.adjusters) == len(plan.rows)
    if length_m == 30.0:
        assert wires["take_up_mm"].mean() == pytest.approx(136.0, abs=1.0)
        assert (wires["dropped_height_m"] - (1.2 - 0.12)).abs().max() < 0.005


@pytest.mark.parametrize(("length_m", "alone"), [(30.0, False), (100.0, False), (115.0, False), (130.0, True)])
def test_let_down_in_winter_level_rows_want_more_wire(make_scene: Scenes, length_m: float, alone: bool) -> None:  # noqa: FBT001 - a case
    """Strung at 15 C and let down at 5: 12e-6 a kelvin of its length is missing, and rows must be some 8 m longer."""
    plan = level_plan(make_scene, length_m, clips=ONE_LIFT)
    strung = length_m / (1.0 + 300.0 / STIFFNESS)
    wanted = 1000.0 * (catenary_length(length_m, 1.2) - strung * (1.0 - 12e-5))
    assert (wanted < 0.0) == alone
    assert (plan.wires["drops_by_itself"] == ("yes" if alone else "no")).all()
    if not alone:
        np.testing.assert_allclose(plan.wires["take_up_mm"], wanted, atol=max(2.0, 0.02 * wanted))
    ways = plan.let_down.set_index(["row_id", "way"])
    undone = ways.xs("undo an end", level="way")
    assert (undone[["clear_pct", "greatest_up_m", "posts_up"]].to_numpy() == [100.0, 0.0, 0.0]).all()
    assert (undone["yearly_minutes"] == 6.0).all()  # demo catalogue: 4 to strain, 2 to tie off
    nothing = ways.xs("nothing", level="way")
    np.testing.assert_allclose(nothing["clear_pct"], plan.wires["clear_pct"])
    assert (nothing["chosen"] == ("yes" if alone else "no")).all()
    if not alone:
        adjusted = ways.xs("adjuster", level="way")
        # As much as a parabola that touches half-way leaves clear.
        np.testing.assert_allclose(adjusted["clear_pct"], 100.0 * np.sqrt(0.5 / 1.2) / 0.8, atol=0.01)
        np.testing.assert_allclose(adjusted["greatest_up_m"], 1.2 * 0.8**2, atol=5e-3)
        assert set(adjusted["chosen"]) == {"yes"}


def test_wires_parked_for_winter_are_not_let_down(make_scene: Scenes) -> None:
    """Down 0.25 m in a row of 30 m is too far for a hand; the adjuster gives what parking asks, not lying down."""
    clips = {"lowest_m": 1.2, "spacing_m": 0.25, "most": 1, "winter_m": 0.95}
    plan = level_plan(make_scene, 30.0, clips=clips)
    span = plan.spans["horizontal_m"].to_numpy()[0]
    grown = 2000.0 * (np.hypot(span, 0.25) - span)
    np.testing.assert_allclose(plan.wires["take_up_mm"], grown, rtol=5e-3)
    np.testing.assert_allclose(plan.adjusters["take_up_mm"], grown, rtol=5e-3)
    assert set(plan.wires["let_down_by"]) == set(plan.let_down["way"]) == {"park"}
    long = level_plan(make_scene, 160.0, clips=clips)
    assert len(long.adjusters) == 0
    assert set(long.wires["drops_by_itself"]) == {"yes"}


def changed(celsius: float, span_m: float) -> float:
    """Tension of a wire strung at 300 N and 15 C, by the change-of-state equation of a level span.

    T - 300 = -EA alpha dT + EA w2 l2/24 (1/T2 - 1/300^2): handbook form, parabola.
    """

    def miss(tension: float) -> float:
        sagged = (WEIGHT * span_m) ** 2 / 24.0 * (tension**-2 - 300.0**-2)
        return tension - 300.0 + STIFFNESS * (12e-6 * (celsius - 15.0) - sagged)

    return float(brentq(miss, 1.0, 5000.0))


def test_cold_and_hot_follow_the_change_of_state_equation(make_scene: Scenes) -> None:
    """EA alpha = 11.8 N/K for 2.5 mm: 20 K colder would add 235.6 N but for the sag that goes out of the wire."""
    plan = level_plan(make_scene, 150.0)
    span = float(plan.spans["horizontal_m"].mean())
    assert pytest.approx(11.8, abs=0.05) == STIFFNESS * 12e-6
    np.testing.assert_allclose(plan.wires["cold_tension_n"], changed(-5.0, span), rtol=1e-3)
    np.testing.assert_allclose(plan.wires["hot_tension_n"], changed(40.0, span), rtol=1e-2)
    assert (plan.wires["greatest_tension_n"] >= plan.wires["cold_tension_n"] - 1e-9).all()
    for celsius in plan.tension_check["temperature_c"].unique().tolist():
        sheet = plan.tension_check[plan.tension_check["temperature_c"] == celsius]
        tension = changed(celsius, span)
        np.testing.assert_allclose(sheet["tension_n"], tension, rtol=2e-3)
        np.testing.assert_allclose(sheet["sag_mm"], 1000.0 * WEIGHT * span**2 / (8.0 * tension), rtol=5e-3)


def test_a_lifted_wire_gets_tighter_by_the_way_up(make_scene: Scenes) -> None:
    """Row of 150 m: the way up at both ends is 2 (sqrt(l2 + 0.25^2) - l); the stretch it asks for is the tension."""
    plan = level_plan(make_scene, 150.0, clips={"lowest_m": 1.2, "spacing_m": 0.25, "most": 2})
    span = plan.spans["horizontal_m"].to_numpy()[0]
    extra = 2.0 * (np.hypot(span, 0.25) - span)
    lifted = 300.0 + STIFFNESS * extra / 150.0
    next_to_end = plan.clips[plan.clips["post_id"].str.endswith("P002")]
    down = lifted * 0.25 / np.hypot(span, 0.25) + WEIGHT * span
    np.testing.assert_allclose(next_to_end["load_max_n"], down, rtol=0.01)
    lifts = plan.lifts
    assert lifts["height_m"].round(6).tolist() == [1.45] * len(plan.rows)
    np.testing.assert_allclose(lifts["tension_n"], lifted, rtol=4e-3)
    np.testing.assert_allclose(lifts[["first_load_n", "last_load_n", "load_max_n"]], down, rtol=0.01)
    # Elsewhere the wire only carries itself.
    inner = plan.clips[plan.clips["post_id"].str.endswith("P005")]
    np.testing.assert_allclose(inner["load_lifted_n"], WEIGHT * span, rtol=1e-3)
    assert "lift-load" in set(plan.findings["code"])


def test_a_row_with_an_adjuster_is_lifted_at_the_set_tension(make_scene: Scenes) -> None:
    """Row of 30 m: kept at its length it would rise by some 340 N; let out it stays at 300 N."""
    clips = {"lowest_m": 1.2, "spacing_m": 0.25, "most": 2}
    plan = level_plan(make_scene, 30.0, clips=clips, states={"cold_c": 15.0, "hot_c": 15.0})
    span = plan.spans["horizontal_m"].to_numpy()[0]
    next_to_end = plan.clips[plan.clips["post_id"].str.endswith("P002")]
    np.testing.assert_allclose(
        next_to_end["load_max_n"], 300.0 * 0.25 / np.hypot(span, 0.25) + WEIGHT * span, rtol=0.01
    )


def test_no_wire_is_lifted_above_the_lowest_post_of_its_row(make_scene: Scenes) -> None:
    """A ridge across the rows puts taller posts beside it; the others end at 1.6 m, so the wire stays below 1.7 m.

    Positions at 0.95, 1.20, 1.45 and 1.70 m. On a level row of 1.6 m posts the next one up is 1.20 m for the lower wire
    and none for the upper, which keeps its clip at its own height and is strung, cold and hot only.
    """

    def ridge(x: np.ndarray, y: np.ndarray) -> np.ndarray:
        return 300.0 + 0.5 * np.exp(-(((x - 3.0) / 0.6) ** 2)) + 0.0 * y

    wires = [
        {**WIRE, "height_m": 0.7, "id": "low", "kind": "fixed"},
        {**WIRE, "height_m": 0.95},
        {**WIRE, "id": "upper", "height_m": 1.45},
    ]
    corners = [(-60.0, -6.0), (60.0, -6.0), (60.0, 6.0), (-60.0, 6.0)]
    posts = {"height_out_m": 1.6, "tall_height_out_m": 2.2, "least_clearance_m": 0.3}
    plan = plan_config(
        make_scene(ridge, corners, cell_m=0.25).config(rows={"bearing_deg": 90.0}, wires=wires, posts=posts)
    )
    inner = plan.posts[plan.posts["kind"] == "intermediate"].set_index("post_id")
    assert set(inner["height_out_m"]) == {1.6, 2.2}
    assert inner.groupby("row_id")["height_out_m"].nunique().eq(2).all()
    assert plan.lifts["height_m"].tolist() == [1.2] * len(plan.rows)
    assert set(plan.lifts["wire_id"]) == {"lower"}
    upper = plan.clips[plan.clips["wire_id"] == "upper"].set_index("post_id")
    assert upper["load_lifted_n"].isna().all()
    wide = upper[["load_strung_n", "load_cold_n", "load_hot_n"]]
    np.testing.assert_allclose(upper["load_max_n"], wide.max(axis=1))
    assert (upper["positions"] == 1).all()
    by_wire = plan.wires[plan.wires["wire_id"] == "upper"]
    # The greatest is that of the wire let down, which is less than 20 % more.
    assert (by_wire["greatest_tension_n"] < 1.2 * by_wire["cold_tension_n"]).all()
    told = plan.findings[plan.findings["code"] == "lift-load"]["message"].tolist()
    assert len(told) == 1
    assert "Lifted to 1.20 m, wire lower" in told[0]


def test_adjusters_come_from_the_catalogue(make_scene: Scenes) -> None:
    kinds = [
        {"id": "short tie", "most_mm": 100.0, "tail_m": 0.3},
        {"id": "drum", "most_mm": 140.0, "barrel_mm": 20.0, "tail_m": 0.6},
    ]
    wires = [{**WIRE, "lines": 2}, {**WIRE, "id": "upper", "height_m": 1.5}]
    plan = level_plan(make_scene, 30.0, wires=wires, adjusters={"end": "far", "kinds": kinds})
    lower = plan.adjusters[plan.adjusters["wire_id"] == "lower"]
    assert (lower["kind"] == "drum").all()
    assert (lower["end"] == "far").all()
    assert lower.groupby("row_id")["line"].apply(list).tolist() == [[1, 2]] * len(plan.rows)
    np.testing.assert_allclose(lower["turns"], lower["take_up_mm"] / (np.pi * 20.0))
    # 1.5 m asks for more than either takes: reported, not hidden.
    upper = plan.adjusters[plan.adjusters["wire_id"] == "upper"]
    assert (upper["take_up_mm"] > 140.0).all()
    assert upper["kind"].isna().all()
    assert "no-adjuster" in set(plan.findings["code"])
    by_wire = plan.wires.set_index("wire_id")
    np.testing.assert_allclose(by_wire["tails_m_per_line"].loc[["lower"]], 1.6)
    np.testing.assert_allclose(by_wire["tails_m_per_line"].loc[["upper"]], 1.0)
    lengths = by_wire["lines"] * (by_wire["cut_m_per_line"] + by_wire["tails_m_per_line"])
    np.testing.assert_allclose(by_wire["run_out_m"], lengths)


HOLLOW = [(-60.0, -6.0), (60.0, -6.0), (60.0, 6.0), (-60.0, 6.0)]


def test_a_hollow_pulls_posts_up_and_cold_pulls_harder(make_scene: Scenes) -> None:
    """Hollow of 100 m radius: grade change 6 % a post; load = w l - T l/R on one line, summed over wires and lines.

    Fixed and foliage wires, tight and cold, by hand: 1000 N and 2 x 300 N strung; cold adds EA alpha dT to each.
    """
    scene = make_scene(lambda x, y: 300.0 + x**2 / 200.0 + 0.0 * y, HOLLOW, cell_m=0.25)
    fixed = {"id": "fruiting", "kind": "fixed", "height_m": 0.9, "diameter_mm": 3.15, "tension_n": 1000.0}
    config = scene.config(
        rows={"bearing_deg": 90.0, "headland_m": 0.0, "side_margin_m": 0.0},
        wires=[fixed, {**WIRE, "lines": 2, "lifts_m": []}],
        posts={"post_pull_out_n": 100.0},
    )
    plan = plan_config(config)
    row = plan.posts[plan.posts["row_id"] == plan.rows["row_id"].iloc[2]]
    middle = row.iloc[len(row) // 2]
    near = row[(row["station_m"] - middle["station_m"]).abs().between(1.0, 7.0)]
    heights, stations = near["ground_m"].to_numpy(), near["station_m"].to_numpy()
    runs = np.abs(stations - middle["station_m"])
    sines = (heights - middle["ground_m"]) / np.hypot(runs, heights - middle["ground_m"])
    thick = (3.15 / 2.5) ** 2
    # Tension at the bottom: less than at the row's end by the weight of the wire over the height between.
    drop = row["ground_m"].iloc[0] - middle["ground_m"]
    cold = {
        "fruiting": 1000.0 + (20.0 * 12e-6 * STIFFNESS - WEIGHT * drop) * thick,
        "lower": 300.0 + 15.0 * 12e-6 * STIFFNESS - WEIGHT * drop,  # down before it is colder than 0 C
    }
    at = plan.clips[plan.clips["post_id"] == middle["post_id"]].set_index("wire_id")
    expected = {w: WEIGHT * m * runs.mean() - cold[w] * sines.sum() for w, m in (("fruiting", thick), ("lower", 1.0))}
    # 1 %: the sag of the spans gives a little, too.
    for wire, load in expected.items():
        assert at.loc[wire, "load_cold_n"] == pytest.approx(load, rel=0.01)
        assert at.loc[wire, "load_min_n"] == at.loc[wire, "load_cold_n"]
        assert at.loc[wire, "load_hot_n"] > at.loc[wire, "load_strung_n"] > at.loc[wire, "load_cold_n"]
    assert at.loc["lower", ["clip", "seat", "seat_cold"]].tolist() == ["two-way", "under", "under"]
    assert at.loc["fruiting", "clip"] == "staple"
    assert middle["uplift_n"] == pytest.approx(-(expected["fruiting"] + 2.0 * expected["lower"]), rel=0.01)
    assert "post-uplift" in set(plan.findings["code"])


def test_ends_and_knots(make_scene: Scenes) -> None:
    """Level row: the end post carries all lines at their cold tension; moment is pull times height."""
    wires = [{**WIRE, "lines": 2, "breaking_n": 1000.0, "knot_efficiency": 0.5, "lifts_m": []}]
    plan = level_plan(make_scene, 150.0, wires=wires)
    cold = plan.wires["cold_tension_n"].mean()
    ends = plan.posts[plan.posts["kind"] == "end"]
    freed = ends["end_pull_n"].mean()
    assert freed >= 2.0 * cold - 1.0
    np.testing.assert_allclose(ends["end_moment_nm"], 1.2 * ends["end_pull_n"])
    # 535 N on a knot that bears half of 1000 N.
    knots = plan.findings[plan.findings["code"] == "knot-overload"]
    assert "more than the 500 N" in knots["message"].iloc[0]
    assert {"end-posts", "drop-span"} <= set(plan.findings["code"])


def test_a_wire_that_slides_hard_is_strained_from_both_ends(make_scene: Scenes) -> None:
    """Rolling ground turns the wire at every post; capstan: the far end keeps exp(-mu times all turns)."""

    def rolling(x: np.ndarray, y: np.ndarray) -> np.ndarray:
        return 300.0 + 0.8 * np.sin(x / 5.0) + 0.0 * y

    scene = make_scene(rolling, HOLLOW, cell_m=0.25)
    base = {"rows": {"bearing_deg": 90.0, "headland_m": 0.0, "side_margin_m": 0.0}, "wires": [{**WIRE, "lifts_m": []}]}
    free = plan_config(scene.config(**base, states={"friction": 0.0}))
    hard = plan_config(scene.config(**base, states={"friction": 0.2}))
    row = hard.posts[hard.posts["row_id"] == hard.rows["row_id"].iloc[2]]
    angles = np.arctan(np.diff(row["ground_m"]) / np.diff(row["station_m"]))
    kept = np.exp(-0.2 * np.abs(np.diff(angles)).sum())
    far = hard.wires["far_end_tension_n"] / free.wires["far_end_tension_n"]
    assert far.iloc[2] == pytest.approx(kept, rel=0.01)
    assert (free.wires["strain_from"] == "one end").all()
    assert (hard.wires["strain_from"] != "one end").all()
    assert "strain-from" in set(hard.findings["code"])
    assert "strain-from" not in set(free.findings["code"])
    # Without friction the far end has the start's tension, but for the height between them.
    rise = free.rows["end_ground_m"] - free.rows["start_ground_m"]
    np.testing.assert_allclose(free.wires["far_end_tension_n"], 300.0 + WEIGHT * rise, atol=1e-3)
