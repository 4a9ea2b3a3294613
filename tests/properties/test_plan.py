"""What must stay the same when the scene is turned, mirrored, raised or tilted."""

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from scipy.spatial import cKDTree
from wirerun import plan_config
from wirerun.geometry.frame import Frame
from wirerun.geometry.lines import to_row_axes
from wirerun.geometry.places import LonLat

Scenes = Callable[..., Any]

# Asymmetric on purpose, its bounding box centred within the rounding of the frame's centre however it is turned.
OUTLINE = [(-75.0, -32.0), (40.0, -45.0), (78.0, -8.0), (52.0, 15.0), (60.0, 41.0), (-38.0, 36.0)]


def rolling(x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """Hillside with a gully and a spur, curved at the scale of a few spans."""
    hill = 300.0 + 0.18 * x - 0.11 * y
    return hill + 1.6 * np.sin(x / 17.0 + y / 60.0) + 0.9 * np.cos(y / 13.0)


def turn(corners: list[tuple[float, float]], degrees: float) -> list[tuple[float, float]]:
    """Corners turned clockwise about the frame's origin."""
    angle = np.radians(degrees)
    c, s = np.cos(angle), np.sin(angle)
    return [(x * c + y * s, -x * s + y * c) for x, y in corners]


@pytest.mark.parametrize("degrees", [37.0, 90.0, 201.0])
def test_turning_the_whole_scene_leaves_the_schedule_unchanged(make_scene: Scenes, degrees: float) -> None:
    angle = np.radians(degrees)

    def turned(x: np.ndarray, y: np.ndarray) -> np.ndarray:
        return rolling(x * np.cos(angle) - y * np.sin(angle), x * np.sin(angle) + y * np.cos(angle))

    here = plan_config(make_scene(rolling, OUTLINE).config(rows={"bearing_deg": 62.0}))
    there = plan_config(make_scene(turned, turn(OUTLINE, degrees)).config(rows={"bearing_deg": (62.0 + degrees) % 360}))
    assert len(here.rows) > 20
    assert there.rows["row_id"].tolist() == here.rows["row_id"].tolist()
    assert there.posts["post_id"].tolist() == here.posts["post_id"].tolist()
    # 2 mm: the raster samples another lattice of the same ground.
    for column, atol in (("length_m", 2e-3), ("slope_length_m", 2e-3), ("start_ground_m", 2e-3)):
        np.testing.assert_allclose(there.rows[column], here.rows[column], atol=atol)
    np.testing.assert_allclose(there.spans["cut_m"], here.spans["cut_m"], atol=2e-3)
    np.testing.assert_allclose(there.clips["load_min_n"], here.clips["load_min_n"], atol=0.5)


def test_reversing_the_bearing_mirrors_the_posts(make_scene: Scenes) -> None:
    scene = make_scene(rolling, OUTLINE)
    # Lifted, one row comes to 600.3 N strung from one end and to 595.5 N from the other: at the default of 600 N it has
    # an adjuster one way and none the other. With the limit out of the way all rows are lifted alike.
    states = {"lift_limit_n": 10_000.0}
    forth, back = (plan_config(scene.config(rows={"bearing_deg": deg}, states=states)) for deg in (62.0, 242.0))
    assert len(back.adjusters) == len(forth.adjusters)
    assert len(back.posts) == len(forth.posts)
    frame = Frame(-7.6, 41.2, 300.0)
    places = [frame.to_plane(LonLat.of(plan.posts[["lon", "lat"]].to_numpy())).stacked() for plan in (forth, back)]
    distance, partner = map(np.asarray, cKDTree(places[1]).query(places[0]))
    assert distance.max() < 2e-3
    assert sorted(partner) == list(range(len(places[1])))
    # First row and first post of one are last of the other.
    assert np.hypot(*(places[0][0] - places[1][-1])) < 2e-3
    # Loads differ by the weight of the wire between the two ends only: both are strung to 300 N at their own start.
    left = forth.clips.set_index(["post_id", "wire_id"])["load_min_n"]
    right = back.clips.set_index(["post_id", "wire_id"])["load_min_n"]
    match = dict(zip(forth.posts["post_id"], back.posts["post_id"].to_numpy()[partner], strict=True))
    other = np.array([right[match[post], wire] for post, wire in left.index])
    np.testing.assert_allclose(other, left, atol=0.02 * np.abs(left).max())


def test_spans_add_up_to_their_rows(make_scene: Scenes) -> None:
    plan = plan_config(make_scene(rolling, OUTLINE).config())
    rows = plan.rows.set_index("row_id")
    for wire_id, spans in plan.spans.groupby("wire_id"):
        by_row = spans.groupby("row_id")
        np.testing.assert_allclose(by_row["horizontal_m"].sum(), rows["length_m"], atol=1e-6)
        np.testing.assert_allclose(by_row["chord_m"].sum(), rows["slope_length_m"], atol=1e-6)
        assert (by_row.size() == rows["spans"]).all()
        cut = plan.wires[plan.wires["wire_id"] == wire_id].set_index("row_id")["cut_m_per_line"]
        np.testing.assert_allclose(by_row["cut_m"].sum(), cut, atol=1e-6)
    assert (rows["posts"] == rows["spans"] + 1).all()
    assert len(plan.posts) == rows["posts"].sum()
    assert len(plan.clips) == 2 * (rows["posts"] - 2).sum()
    assert (plan.posts["section_id"].notna().sum()) == rows["two_way_posts"].sum() == plan.sections["posts"].sum()


def test_equal_spans_are_equal_along_the_slope_and_as_few_as_can_be(make_scene: Scenes) -> None:
    plan = plan_config(make_scene(rolling, OUTLINE).config())
    chord = plan.spans[plan.spans["wire_id"] == "lower"].groupby("row_id")["chord_m"]
    assert (chord.max() - chord.min()).max() < 2e-3
    assert chord.max().max() <= 6.0 + 1e-3
    # One span fewer would break the limit.
    rows = plan.rows.set_index("row_id")
    assert (rows["slope_length_m"] / (rows["spans"] - 1) > 6.0).all()


@pytest.mark.parametrize("grade", [0.0, 0.3, 1.0])
def test_a_plane_has_no_two_way_clip_however_steep(make_scene: Scenes, grade: float) -> None:
    scene = make_scene(lambda x, y: 300.0 + grade * (0.8 * x - 0.6 * y), OUTLINE)
    plan = plan_config(scene.config(elevation={"accuracy_m": 0.03, "smoothing_m": 1.0}))
    assert len(plan.sections) == 0
    assert (plan.clips["clip"] == "one-way").all()
    assert plan.clips["load_min_n"].min() > 0.0
    assert plan.posts["grade_change_pct"].abs().max() < 1e-6


def test_raising_all_heights_changes_nothing(make_scene: Scenes) -> None:
    """4 m more: the frame's scale follows (0.6 mm in a km), everything else stays."""
    here = plan_config(make_scene(rolling, OUTLINE).config())
    there = plan_config(make_scene(lambda x, y: rolling(x, y) + 4.0, OUTLINE).config())
    assert there.clips["clip"].tolist() == here.clips["clip"].tolist()
    np.testing.assert_allclose(there.clips["load_min_n"], here.clips["load_min_n"], atol=0.01)
    np.testing.assert_allclose(there.spans["cut_m"], here.spans["cut_m"], atol=1e-4)
    np.testing.assert_allclose(there.posts["ground_m"] - here.posts["ground_m"], 4.0, atol=1e-4)


def test_a_far_edit_of_the_boundary_renames_and_moves_no_row(make_scene: Scenes) -> None:
    """The far corner bitten off: rows that do not reach it keep id and place."""
    whole = make_scene(rolling, OUTLINE)
    before = plan_config(whole.config())
    bitten = [(-75.0, -32.0), (40.0, -45.0), (66.0, -20.0), (52.0, 15.0), (60.0, 41.0), (-38.0, 36.0)]
    whole.write_outline(bitten)
    after = plan_config(whole.config())
    columns = ["start_lon", "start_lat", "end_lon", "end_lat"]
    was, now = (plan.rows.set_index("row_id")[columns] for plan in (before, after))
    # Seen along the rows, the edges that moved lie between 11.1 m and 58.5 m to the right of the frame's origin.
    starts = whole.frame.to_plane(LonLat.of(was[["start_lon", "start_lat"]].to_numpy()))
    x, y = starts.x_m, starts.y_m
    far = to_row_axes(x, y, 62.0)[1] < 11.0
    assert far.sum() > 15
    assert (was[far] - now.loc[was[far].index]).abs().to_numpy().max() < 1e-9
    assert set(now.index) <= set(was.index)
