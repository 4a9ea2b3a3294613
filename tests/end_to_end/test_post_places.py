"""Posts on ground that can be worked out by hand."""

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from wirerun import plan_config

BOX = [(-60.0, -15.0), (60.0, -15.0), (60.0, 15.0), (-60.0, 15.0)]


def test_level_ground_gives_the_spans_one_can_count(make_scene: Callable[..., Any]) -> None:
    """120 m less two headlands of 6 m: 108 m, 18 spans of 6 m, 19 posts a row."""
    plan = plan_config(make_scene(lambda x, y: 300.0 + 0.0 * (x + y), BOX).config(rows={"bearing_deg": 90.0}))
    assert (plan.rows["spans"] == 18).all()
    assert (plan.rows["posts"] == 19).all()
    np.testing.assert_allclose(plan.spans["horizontal_m"], 6.0, atol=1e-3)
    assert plan.posts["kind"].value_counts().to_dict() == {
        "intermediate": 17 * len(plan.rows),
        "end": 2 * len(plan.rows),
    }


def test_published_post_counts(make_scene: Callable[..., Any]) -> None:
    """Source: Iowa State University, Cost of Establishing a Vineyard: 11 rows of 448 ft, 28 ft -> 24 ft adds 22 posts.

    448 ft at 28 ft are 16 spans, at 24 ft 19 (18.67 rounded up); the source counts 18.67 as 18 more than 16.
    Two spans more in each of 11 rows are 22 posts; the fewest spans no longer than 24 ft are three more, 33 posts.
    """
    foot = 0.3048
    half, spacing = 448 * foot / 2.0, 9 * foot
    corners = [(-half, -5.4 * spacing), (half, -5.4 * spacing), (half, 5.4 * spacing), (-half, 5.4 * spacing)]
    scene = make_scene(lambda x, y: 300.0 + 0.0 * (x + y), corners)
    rows = {"bearing_deg": 90.0, "spacing_m": spacing, "headland_m": 0.0, "side_margin_m": 0.0}
    posts = {
        feet: len(plan_config(scene.config(rows=rows, posts={"max_span_m": feet * foot + 1e-3})).posts)
        for feet in (28.0, 24.0, 448 / 18)
    }
    assert posts[28.0] == 11 * 17
    assert posts[448 / 18] - posts[28.0] == 22
    assert posts[24.0] - posts[28.0] == 33


def test_spans_are_measured_along_the_slope(make_scene: Callable[..., Any]) -> None:
    """A 75 % grade makes 108 m level 135 m along the slope: 22.5, so 23 spans of 5.870 m, 4.696 m in plan."""
    plan = plan_config(make_scene(lambda x, y: 300.0 + 0.75 * x + 0.0 * y, BOX).config(rows={"bearing_deg": 90.0}))
    assert (plan.rows["spans"] == 23).all()
    np.testing.assert_allclose(plan.rows["slope_length_m"], 135.0, atol=0.02)
    np.testing.assert_allclose(plan.spans["chord_m"], 135.0 / 23, atol=2e-3)
    np.testing.assert_allclose(plan.rows["max_grade_pct"], 75.0, atol=0.02)
    assert "steep-row" in set(plan.findings["code"])


def test_smoothing_takes_the_clods_out_of_the_lengths(make_scene: Callable[..., Any]) -> None:
    """2 cm of noise at every 0.25 m: summed at that step a row would be 1.3 % too long, post to post it is not."""
    noise = np.random.default_rng(3).normal(0.0, 0.02, (2000, 2000))

    def rough(x: np.ndarray, y: np.ndarray) -> np.ndarray:
        return 300.0 + 0.1 * x + 0.0 * y + noise[: x.shape[0], : x.shape[1]]

    scene = make_scene(rough, BOX, cell_m=0.25)
    plan = plan_config(scene.config(rows={"bearing_deg": 90.0}, elevation={"smoothing_m": 1.0, "accuracy_m": 0.02}))
    np.testing.assert_allclose(plan.rows["slope_length_m"] / plan.rows["length_m"], np.hypot(1.0, 0.1), rtol=3e-5)


def test_a_row_over_a_wide_hole_is_left_out_and_no_height_is_a_blend(make_scene: Callable[..., Any]) -> None:
    def holed(x: np.ndarray, y: np.ndarray) -> np.ndarray:
        return np.where(np.hypot(x - 20.0, y - 5.0) < 3.3, -9999.0, 300.0 + 0.05 * x)

    plan = plan_config(make_scene(holed, BOX).config(rows={"bearing_deg": 90.0}))
    assert {"row-left-out", "hole-bridged", "cover-gap"} <= set(plan.findings["code"])
    # Of the rows within 3.3 m of the hole's middle those are left out whose chord is longer than 5 m.
    assert 1 <= len(plan.left_out) <= 2
    assert not set(plan.left_out["row_id"]) & set(plan.rows["row_id"])
    assert plan.posts["ground_m"].notna().all()
    # Never 0, never a blend with the no-data number.
    assert plan.posts["ground_m"].min() == pytest.approx(300.0 - 0.05 * 54.0, abs=0.01)
    np.testing.assert_allclose(plan.spans["rise_m"], 0.05 * plan.spans["horizontal_m"], atol=0.001)
