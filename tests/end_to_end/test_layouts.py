"""Rows and posts of real blocks: curves, given lines, surveyed posts, vines, and lining up."""

import csv
import json
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely
from pyproj import Geod
from wirerun import Plan, load_config, plan_config
from wirerun.errors import InputError
from wirerun.geometry.frame import Frame
from wirerun.geometry.places import LonLat, PlaneXY

Scenes = Callable[..., Any]
CONFIGS = Path(__file__).parents[2] / "configs"
BOX = [(-75.0, -40.0), (75.0, -40.0), (75.0, 40.0), (-75.0, 40.0)]
FRAME = Frame(-7.6, 41.2, 300.0)
GEOD = Geod(ellps="WGS84")


def hill(x: np.ndarray, y: np.ndarray) -> np.ndarray:
    return 300.0 + 0.12 * x - 0.2 * y


def write_lines(folder: Path, name: str, lines: list[np.ndarray], **attributes: list[Any]) -> None:
    features = []
    for number, line in enumerate(lines):
        lonlat = FRAME.to_lonlat(PlaneXY.of(np.asarray(line, dtype=np.float64)))
        lon, lat = lonlat.lon, lonlat.lat
        features.append(
            {
                "type": "Feature",
                "properties": {key: values[number] for key, values in attributes.items()},
                "geometry": {"type": "LineString", "coordinates": np.c_[lon, lat].tolist()},
            }
        )
    (folder / name).write_text(json.dumps({"type": "FeatureCollection", "features": features}))


def in_plane(plan: Plan, frame: Frame = FRAME) -> list[shapely.LineString]:
    """Rows of a plan as lines in plane metres."""
    flat = shapely.transform(plan.rows.geometry.to_numpy(), lambda c: frame.to_plane(LonLat.of(c)).stacked())
    return list(flat)


def test_rows_that_follow_keep_their_distance_and_pull_sideways(make_scene: Scenes) -> None:
    """Guide: an arc of 120 m radius. Rows lie k spacings from it; at a post the wire turns by span/radius.

    Distances are point-to-line, from every post of every row to the guide itself.
    """
    angle = np.radians(np.linspace(50.0, 130.0, 90))
    guide = np.c_[120.0 * np.cos(angle), 120.0 * np.sin(angle) - 120.0][::-1]
    scene = make_scene(hill, BOX)
    write_lines(scene.folder, "guide.geojson", [guide])
    config = scene.config(rows={"layout": "follow", "guide": "guide.geojson", "spacing_m": 2.5})
    plan = plan_config(config)
    assert len(plan.rows) > 20
    number = plan.rows.set_index("row_id").index.str.extract(r"-R(\d+)")[0].astype(int).to_numpy()
    # Counted from the left: 1, 2, 3 ... without a gap, each a spacing further to the right; one runs on the guide.
    assert sorted(set(number)) == list(range(1, number.max() + 1))
    away = shapely.distance(np.array(in_plane(plan)), shapely.LineString(guide))
    on_guide = plan.rows["row_id"].iloc[int(away.argmin())]
    number = number - int(on_guide[-3:])
    of_post = dict(zip(plan.rows["row_id"], number, strict=True))
    stand = scene.frame.to_plane(LonLat(plan.posts["lon"].to_numpy(), plan.posts["lat"].to_numpy()))
    x, y = stand.x_m, stand.y_m
    line = shapely.LineString(guide)
    distance = shapely.distance(line, shapely.points(x, y))
    beside = np.abs(np.arctan2(x, y + 120.0)) < np.radians(38.0)  # where the guide itself is, not its straight ends
    k = np.array([of_post[row] for row in plan.posts["row_id"]])
    np.testing.assert_allclose(distance[beside], 2.5 * np.abs(k[beside]), atol=0.012)
    # Right of a guide walked from left to right round the top of a circle lies its middle.
    assert np.hypot(x, y + 120.0)[beside & (k == 4)].mean() == pytest.approx(110.0, abs=0.02)
    # Sideways load: 2 T sin(turn/2), the turn span/radius, at the tension of the coldest day with the wires up.
    row = plan.posts[(plan.posts["row_id"] == on_guide)]
    inner = row["post_id"].iloc[5]
    clip = plan.clips.set_index(["post_id", "wire_id"]).loc[(inner, "lower")]
    tension = plan.wires.set_index(["row_id", "wire_id"]).loc[(on_guide, "lower"), "cold_up_tension_n"]
    span = plan.spans[plan.spans["row_id"] == on_guide]["horizontal_m"].mean()
    assert clip["load_side_n"] == pytest.approx(tension * span / 120.0, rel=0.05)
    # No two rows come nearer than the spacing.
    tree = shapely.STRtree(in_plane(plan))
    near = tree.query(in_plane(plan), predicate="dwithin", distance=2.5 - 0.03)
    assert (near[0] == near[1]).all()


def test_given_rows_are_cleaned_and_keep_their_attributes(make_scene: Scenes) -> None:
    along = np.linspace(-70.0, 70.0, 8)
    lines = [np.c_[along, np.full(8, offset)] for offset in (20.0, 17.5, 15.0, 12.5)]
    lines[1] = lines[1][::-1]
    halves = [lines[2][:4], np.r_[[[lines[2][3, 0] + 0.8, 15.0]], lines[2][4:]]]
    drawn = [lines[0], lines[1], *halves, lines[3], lines[3] + 0.02, np.c_[along, np.full(8, 300.0)]]
    scene = make_scene(hill, BOX)
    write_lines(scene.folder, "rows.geojson", drawn, clone=["a", "b", "c", "c2", "d", "d", "off"])
    plan = plan_config(scene.config(rows={"layout": "given", "lines": "rows.geojson"}))
    rows = plan.rows
    # Numbered from the left; the line off the block, further left than all, takes no number.
    assert rows["row_id"].tolist() == ["B01-R001", "B01-R002", "B01-R003", "B01-R004"]
    off = plan.findings.loc[plan.findings["code"] == "lines-outside", "message"].iloc[0]
    assert off == "1 given row does not enter the block: feature 7."
    assert [json.loads(said)[0]["clone"] for said in rows["given_attributes"]] == ["a", "b", "c", "d"]
    assert len(json.loads(rows["given_attributes"].iloc[2])) == 2
    # The lines end 5 m inside the block; the headland of 6 m counts from where a line enters it, or begins.
    np.testing.assert_allclose(rows["length_m"], 128.0, atol=0.01)
    np.testing.assert_allclose(rows["bearing_deg"], 90.0, atol=0.02)
    assert {"lines-joined", "lines-doubled", "lines-turned", "lines-outside"} <= set(plan.findings["code"])


def test_surveyed_posts_stand_where_they_were_surveyed(make_scene: Scenes) -> None:
    """The survey's own heights are 0.5 m above the raster's, so that one sees which were taken."""
    scene = make_scene(hill, BOX)
    along = np.arange(-60.0, 61.0, 5.5)
    lines = [np.c_[[-70.0, 70.0], [offset, offset]] for offset in (5.0, 2.5)]
    write_lines(scene.folder, "rows.geojson", lines)
    points = [(f"p{r}-{i}", x, y + 0.1) for r, y in enumerate((5.0, 2.5)) for i, x in enumerate(along)]
    points += [("stray", 0.0, 20.0), ("again", along[3] + 0.1, 5.0)]
    with (scene.folder / "posts.csv").open("w", newline="") as file:
        out = csv.writer(file)
        out.writerow(["id", "lon", "lat", "height"])
        for name, x, y in points:
            ((lon, lat),) = FRAME.to_lonlat(PlaneXY(np.array([x]), np.array([y]))).stacked()
            out.writerow([name, float(lon), float(lat), float(hill(np.array(x), np.array(y))) + 0.5])
    config = scene.config(
        rows={"layout": "given", "lines": "rows.geojson"},
        posts={"placing": "given", "points": "posts.csv"},
    )
    plan = plan_config(config)
    assert len(plan.posts) == 2 * len(along)
    stand = scene.frame.to_plane(LonLat(plan.posts["lon"].to_numpy(), plan.posts["lat"].to_numpy()))
    x, y = stand.x_m, stand.y_m
    np.testing.assert_allclose(x, np.tile(along, 2), atol=2e-3)
    np.testing.assert_allclose(plan.posts["ground_m"] - hill(x, y), 0.5 - 0.02, atol=0.01)
    np.testing.assert_allclose(plan.rows["length_m"], along[-1] - along[0], atol=2e-3)
    by_code = plan.findings.set_index("code")["message"]
    assert "1 surveyed post lies in the block more than 1 m off every row: line 46" in by_code["posts-off-rows"]
    assert "1 surveyed post repeats another: line 47" in by_code["posts-doubled"]


def test_vines_carry_the_posts(make_scene: Scenes) -> None:
    """Vines 1.2 m apart along the slope: every span but the last is five of them; the remainder is at the far end."""
    plan = plan_config(make_scene(hill, BOX).config(posts={"placing": "vine_grid"}))
    spans = plan.spans[plan.spans["wire_id"] == "lower"]
    last = spans["row_id"] != spans["row_id"].shift(-1)
    np.testing.assert_allclose(spans.loc[~last, "chord_m"], 6.0, atol=2e-3)
    assert spans.loc[last, "chord_m"].max() <= 6.0 + 2e-3
    total = spans.groupby("row_id")["chord_m"].sum()
    np.testing.assert_allclose(total.to_numpy(), plan.rows["slope_length_m"], atol=1e-6)


@pytest.mark.parametrize("placing", ["equal", "vine_grid"])
def test_posts_line_up_across_rows_when_asked(make_scene: Scenes, placing: str) -> None:
    config = make_scene(hill, BOX).config(posts={"align": "baseline", "placing": placing})
    plan = plan_config(config)
    stand = FRAME.to_plane(LonLat(plan.posts["lon"].to_numpy(), plan.posts["lat"].to_numpy()))
    x, y = stand.x_m, stand.y_m
    along = x * np.sin(np.radians(62.0)) + y * np.cos(np.radians(62.0))
    middle = (plan.posts["kind"] == "intermediate").to_numpy()
    steps = np.diff(np.unique(np.round(along[middle], 3)))
    step = steps[steps > 0.01].min()
    off = along[middle] / step
    assert np.abs(off - np.round(off)).max() < 0.01
    assert plan.spans["chord_m"].max() <= 6.0 + 0.01


def test_spacing_measured_along_the_slope(make_scene: Scenes) -> None:
    """Cross slope of 75 % exactly square to the rows: 2.5 m along the ground are 2.0 m in plan."""
    scene = make_scene(lambda x, y: 300.0 + 0.75 * y + 0.0 * x, BOX)
    rows = {"bearing_deg": 90.0, "spacing_m": 2.5, "spacing_measured": "slope"}
    plan = plan_config(scene.config(rows=rows))
    apart = np.diff(np.sort([line.coords[0][1] for line in in_plane(plan)]))
    np.testing.assert_allclose(apart, 2.0, atol=2e-3)
    message = plan.findings.set_index("code")["message"].to_dict()["slope-spacing"]
    assert "2.000 m apart in plan" in message
    assert "cross slope of 75.0 %" in message


def test_each_end_has_its_own_headland(make_scene: Scenes) -> None:
    rows = {"bearing_deg": 90.0, "headland_start_m": 4.0, "headland_end_m": 11.0}
    plan = plan_config(make_scene(hill, BOX).config(rows=rows))
    ends = np.array([[line.coords[0][0], line.coords[-1][0]] for line in in_plane(plan)])
    np.testing.assert_allclose(ends, np.tile([-71.0, 64.0], (len(ends), 1)), atol=2e-3)


def test_a_block_can_have_its_own_settings(make_scene: Scenes) -> None:
    scene = make_scene(hill, BOX)
    own = {"rows": {"bearing_deg": 10.0}, "posts": {"max_span_m": 4.0}, "wires": {"lower": {"tension_n": 250.0}}}
    plan = plan_config(scene.config(blocks={"B01": own}))
    assert (plan.rows["bearing_deg"] == 10.0).all()
    assert plan.spans["chord_m"].max() <= 4.0 + 2e-3
    tension = plan.wires.groupby("wire_id")["tension_n"].first()
    assert (tension["lower"], tension["upper"]) == (250.0, 300.0)
    with pytest.raises(InputError, match=r"blocks\.B07: the boundary has no such block; it has B01"):
        plan_config(scene.config(blocks={"B07": own}))


def test_taller_posts_go_where_a_wire_comes_low(make_scene: Scenes) -> None:
    """A ridge of 0.5 m across all rows half-way between two posts: the wire at 0.7 m passes it 0.2 m high."""

    def ridge(x: np.ndarray, y: np.ndarray) -> np.ndarray:
        return 300.0 + 0.5 * np.exp(-(((x - 3.0) / 0.6) ** 2)) + 0.0 * y

    corners = [(-60.0, -15.0), (60.0, -15.0), (60.0, 15.0), (-60.0, 15.0)]
    wires = [{"id": "low", "kind": "foliage", "height_m": 0.7}]
    posts = {"tall_height_out_m": 2.2, "least_clearance_m": 0.3}
    scene = make_scene(ridge, corners, cell_m=0.25)
    plan = plan_config(scene.config(rows={"bearing_deg": 90.0}, wires=wires, posts=posts))
    low = plan.spans[plan.spans["clearance_m"] < 0.3]
    assert len(low) == len(plan.rows)
    tall = plan.posts[plan.posts["height_out_m"] == 2.2]
    assert set(tall["post_id"]) == set(low["from_post"]) | set(low["to_post"])
    # Positions at 0.95, 1.20, 1.45, 1.70 m and the wire's own: all on posts of 1.9 m and of 2.2 m; none on end posts.
    assert set(plan.posts.loc[plan.posts["kind"] == "intermediate", "clip_positions"]) == {5}
    assert set(plan.posts.loc[plan.posts["kind"] == "end", "clip_positions"]) == {0}
    assert "low-clearance" in set(plan.findings["code"])


@pytest.mark.parametrize("name", ["follow", "given", "vines", "fitted", "aligned"])
def test_sample_variants_cover_the_estate(name: str) -> None:
    """Row metres times spacing is the estate's area less headlands and margins, however the rows run."""
    plan = plan_config(load_config(CONFIGS / f"encosta_nova_{name}.toml"))
    area = plan.blocks["area_ha"].sum() * 1e4
    assert plan.rows["length_m"].sum() * 2.4 == pytest.approx(0.92 * area, rel=0.05)
    assert (plan.findings["level"] != "error").all()
    longest = plan.spans["chord_m"].max()
    assert longest <= (7.6 if name == "given" else 6.01)
    # Where a row is straight, the geodesic between its ends, carried to the ground, is its length.
    straight = plan.rows[plan.rows.geometry.map(lambda line: len(line.coords) == 2)]
    if len(straight):
        _, _, geodesic = GEOD.inv(
            straight["start_lon"], straight["start_lat"], straight["end_lon"], straight["end_lat"]
        )
        height = (straight["start_ground_m"] + straight["end_ground_m"]) / 2.0
        np.testing.assert_allclose(geodesic * (1.0 + height / 6.37e6), straight["length_m"], rtol=2e-5)


def test_fitted_posts_stand_on_vines_and_never_cost_more(make_scene: Scenes) -> None:
    """Rolling ground with a gully: fitted posts dodge it. Price by hand from the tables: posts and two-way clips.

    A clip that is missed costs twice a two-way one, by its probability on the worst of the post's wires.
    """

    def gully(x: np.ndarray, y: np.ndarray) -> np.ndarray:
        return hill(x, y) - 1.2 * np.exp(-(((x - 11.0) / 9.0) ** 2)) + 0.4 * np.sin(x / 6.0)

    scene = make_scene(gully, BOX, cell_m=0.25)
    plans = {
        placing: plan_config(
            scene.config(
                posts={"placing": placing},
                undulation={"join_posts": 0, "plan_for": "likely"},
                clips={"most": 1},
                fitting={"post_price": 6.0, "two_way_price": 0.6},
            )
        )
        for placing in ("equal", "vine_grid", "fitted")
    }
    price = {}
    for placing, plan in plans.items():
        middle = (plan.posts["kind"] == "intermediate").sum()
        # 6.00 a post, 0.60 a two-way clip on each of four lines; no hold-downs or breaches here.
        assert not {"post-uplift", "low-clearance"} & set(plan.findings["code"])
        need = plan.clips.groupby("post_id")[["need_probability"]].max()["need_probability"]
        missed = 2 * need[need < 0.5].sum()
        price[placing] = 6.0 * middle + 4 * 0.6 * (plan.rows["two_way_posts"].sum() + missed)
    told = plans["fitted"].findings.set_index("code")["message"].to_dict()["fitted-saving"]
    said = float(re.findall(r"cost [0-9.]+, ([0-9.]+) or", told)[0])
    assert said > 5.0
    assert price["equal"] - price["fitted"] == pytest.approx(said, rel=0.1)
    assert price["fitted"] < price["vine_grid"]
    equal, fitted = (plans[placing].spans for placing in ("equal", "fitted"))
    spans = fitted[fitted["wire_id"] == "lower"]
    assert spans["chord_m"].max() <= 6.0 + 2e-3
    # Each span but the last holds whole vines, in a row that did not keep its equal spans.
    moved = set(spans["row_id"]) - set(equal["row_id"]) | {
        row
        for row, mine in spans.groupby("row_id")
        if not np.allclose(mine["chord_m"], equal[(equal["row_id"] == row) & (equal["wire_id"] == "lower")]["chord_m"])
    }
    assert len(moved) == int(re.findall(r"([0-9]+) of [0-9]+ rows leave", told)[0])
    last = spans["row_id"] != spans["row_id"].shift(-1)
    vines = spans.loc[~last & spans["row_id"].isin(moved), "chord_m"] / 1.2
    assert (np.abs(vines - vines.round()) < 0.06).all()
