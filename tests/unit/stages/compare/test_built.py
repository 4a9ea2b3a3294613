"""Posts as they stand, on two rows of a plane that one can count."""

import numpy as np
import pandas as pd
import pytest
from pyproj import Transformer
from pyproj.enums import TransformDirection
from wirerun.arrays import FloatArray
from wirerun.model.clips import Need
from wirerun.records import FinishedPlan, SurveyedPosts
from wirerun.settings import Config
from wirerun.stages.compare import built_posts
from wirerun.stages.compare.built_clips import adjusted, changed_clips, standing_posts
from wirerun.stages.compare.built_posts import Built, build_block, long_spans, post_table
from wirerun.state import IN_CLIPS

TO_PLANE = Transformer.from_crs("EPSG:4326", "EPSG:32629", always_xy=True)
# In the middle of the zone, so that a metre of the plane is 0.9996 of a metre.
CORNER = np.array([500_000.0, 4_540_000.0])


def lonlat(xy: FloatArray) -> FloatArray:
    east, north = (CORNER + xy).T
    return np.stack(TO_PLANE.transform(east, north, direction=TransformDirection.INVERSE), axis=-1)


def planned() -> pd.DataFrame:
    """Rows running north, 2.4 m apart, five and four posts every 6 m, 1 m a span up; 1.8 m tall, the ends 2.0 m."""
    row = np.repeat([0, 1], [5, 4])
    number = np.concatenate([np.arange(5), np.arange(4)])
    at = lonlat(np.c_[2.4 * row, 6.0 * number])
    ends = (number == 0) | (number == np.array([4, 3])[row])
    return pd.DataFrame(
        {
            "post_id": [f"B01-R{r + 1:03d}-P{n + 1:03d}" for r, n in zip(row, number, strict=True)],
            "row_id": [f"B01-R{r + 1:03d}" for r in row],
            "block_id": "B01",
            "station_m": 6.0 * number,
            "lon": at[:, 0],
            "lat": at[:, 1],
            "ground_m": 100.0 + number,
            "bearing_deg": 0.0,
            "height_out_m": np.where(ends, 2.0, 1.8),
            "clip_shift_m": [-0.02, *np.where(number == 1, 0.03, 0.0)[1:]],
        }
    )


def survey(places: list[tuple[float, float, float]]) -> SurveyedPosts:
    """Surveyed posts by east, north and height."""
    east, north, height = np.array(places).T
    return SurveyedPosts(lonlat(np.c_[east, north]), height, tuple(f"point {n + 1}" for n in range(len(places))))


# Heights are measured 0.2 m above the plan's; of row 1 post 3 is missing, post 4 stands 0.5 m further on and 0.1 m
# higher, and there is one at 15 m that none was planned for. Row 2 has its first post only, and one without a height.
AS_BUILT = [
    (0.0, 0.0, 100.2),
    (0.0, 6.0, 101.2),
    (0.3, 15.0, 102.9),
    (0.0, 18.5, 103.3),
    (0.0, 24.05, 104.2),
    (2.4, 0.0, 100.2),
    (2.4, 6.0, np.nan),
    (30.0, 6.0, 100.0),
]


def built(places: list[tuple[float, float, float]] = AS_BUILT) -> Built:
    return build_block(planned(), TO_PLANE, survey(places), 2.4, 1.0)


def test_a_post_that_was_measured_twice_stands_once() -> None:
    """Post 2 of row 1 a second time at the same place, and an extra post a second time, 0.2 m on; post 3 stands."""
    twice = [
        (0.0, 0.0, 100.2),
        (0.0, 6.0, 101.2),
        (0.0, 6.0, 101.2),
        (0.0, 9.0, 101.7),
        (0.0, 9.2, 101.7),
        (0.0, 12.0, 102.2),
    ]
    made = built(twice)
    assert made.xy_m[:, 1] - CORNER[1] == pytest.approx([0.0, 6.0, 9.0, 12.0], abs=1e-6)
    assert sorted(made.again.tolist() + made.used.tolist()) == list(range(6))
    told = post_table(made, survey(twice)).set_index("post_id")
    assert told[told["mark"] == "again"]["row_id"].to_dict() == dict.fromkeys(
        [f"X000{at + 1}" for at in made.again], "B01-R001"
    )
    assert told.loc["X0004", "mark"] == "extra"
    assert len(made.again) == 2


def test_two_planned_posts_that_stand_as_one_are_both_told_and_one_stands() -> None:
    """Posts 1 and 2 of row 1, planned at 0 and 6 m, found 2.9 and 3.1 m along: neither is measured again nor extra."""
    found = [(0.0, 2.9, 100.2), (0.0, 3.1, 100.2), (0.0, 12.0, 102.2)]
    made = build_block(planned(), TO_PLANE, survey(found), 2.4, 4.0)
    assert made.xy_m[:, 1] - CORNER[1] == pytest.approx([2.9, 12.0], abs=1e-6)
    assert set(made.on_rows.tolist()) == {0, 1, 2}
    told = post_table(made, survey(found))
    assert told["post_id"].is_unique
    assert told["mark"].value_counts().to_dict() == {"missing": 6, "moved": 2, "stands": 1}


def test_what_stands_comes_in_order_along_its_rows() -> None:
    made = built()
    assert made.shift_m == pytest.approx(0.2)
    first, second = "B01-R001-P00", "B01-R002-P00"
    assert made.name.tolist() == [
        f"{first}1",
        f"{first}2",
        "X0003",
        f"{first}4",
        f"{first}5",
        f"{second}1",
        f"{second}2",
    ]
    assert made.row.tolist() == [0, 0, 0, 0, 0, 1, 1]
    assert made.of_planned.tolist() == [0, 1, -1, 3, 4, 5, 6]
    assert made.measured.tolist() == [True, True, True, True, True, True, False]
    # The last was not measured: it stands on the ground as planned.
    assert made.ground_m == pytest.approx([100.0, 101.0, 102.7, 103.1, 104.0, 100.0, 101.0])


def test_a_post_without_a_height_stands_on_the_planned_ground_where_it_stands() -> None:
    """A third of a metre on, in a span of 6 m that rises by 1: 0.0556 m higher."""
    made = built([*AS_BUILT[:6], (2.4, 6.0 + 1.0 / 3.0, np.nan), (2.4, 12.0, 102.2)])
    assert made.ground_m[6] == pytest.approx(101.0 + 1.0 / 18.0, abs=1e-4)


def test_posts_that_were_not_found_say_nothing_of_how_high_the_survey_lies() -> None:
    assert built([(0.0, 0.0, 100.2)]).shift_m == pytest.approx(0.2)


def test_an_extra_post_is_found_between_the_two_of_a_short_row() -> None:
    places = [(0.0, 0.0, 100.0), (0.0, 3.0, 100.5), (0.0, 6.0, 101.0)]
    made = build_block(planned()[:2], TO_PLANE, survey(places), 2.4, 1.0)
    assert made.name.tolist() == ["B01-R001-P001", "X0002", "B01-R001-P002"]


def test_without_any_height_the_ground_is_the_plans() -> None:
    made = built([(east, north, np.nan) for east, north, _ in AS_BUILT[:5]])
    assert made.shift_m == 0.0
    # The extra one stands at 15 m along its row, and the last 5 cm beyond where it was planned, on the ground there.
    assert made.ground_m == pytest.approx([100.0, 101.0, 102.5, 103.0 + 0.5 / 6.0, 104.0], abs=1e-3)


def test_what_became_of_each() -> None:
    table = post_table(built(), survey(AS_BUILT)).set_index("post_id")
    assert table["mark"].to_dict() == {
        "B01-R001-P001": "stands",
        "B01-R001-P002": "stands",
        "B01-R001-P003": "missing",
        "B01-R001-P004": "moved",
        "B01-R001-P005": "stands",
        "B01-R002-P001": "stands",
        "B01-R002-P002": "stands",
        "B01-R002-P003": "missing",
        "B01-R002-P004": "missing",
        "X0003": "extra",
    }
    moved = table.loc["B01-R001-P004"]
    assert (moved["along_m"], moved["across_m"], moved["height_m"]) == pytest.approx((0.5, 0.0, 0.1), abs=1e-6)
    assert moved["surveyed_as"] == "point 4"
    assert table.loc["B01-R001-P001", "surveyed_as"] == "point 1"
    assert moved["lat"] > moved["planned_lat"]
    missing, extra = table.loc["B01-R001-P003"], table.loc["X0003"]
    assert (missing["lon"], missing["lat"]) == (missing["planned_lon"], missing["planned_lat"])
    assert pd.isna(missing["surveyed_as"])
    assert np.isnan(missing["height_m"])
    assert (extra["row_id"], extra["surveyed_as"]) == ("B01-R001", "point 3")
    assert (extra["lon"], extra["lat"]) == pytest.approx(tuple(survey(AS_BUILT).lonlat[2]))


def test_a_post_far_from_every_row_is_none_of_the_blocks() -> None:
    """Half the spacing of 2.4 m decides: 1.1 m beside a row is on it, 1.3 m is not."""
    assert "X0003" in built().name
    assert "X0008" not in built().name
    beside = built([*AS_BUILT[:2], (-1.1, 15.0, 102.9), (-1.3, 20.0, 102.9)]).name.tolist()
    assert "X0003" in beside
    assert "X0004" not in beside


def test_a_span_is_long_from_ten_centimetres_over_the_limit_on_measured_along_the_slope() -> None:
    """From post 2 at 6 m to 15 m along, 0.3 m aside and 1.7 m up: 9.164 m."""
    chord = np.sqrt(9.0**2 + 0.3**2 + 1.7**2)
    spans = long_spans(built(), 9.0)
    assert spans[["from_post", "to_post"]].to_numpy().tolist() == [["B01-R001-P002", "X0003"]]
    assert spans["chord_m"].item() == pytest.approx(chord, abs=1e-6)
    assert spans["over_m"].item() == pytest.approx(chord - 9.0, abs=1e-6)
    assert len(long_spans(built(), chord - 0.09)) == 0
    assert len(long_spans(built(), chord - 0.11)) == 1


def test_wires_run_over_rows_whose_posts_were_all_measured() -> None:
    posts, out_m, bare = standing_posts(built())
    assert bare == ["B01-R002"]
    assert posts is not None
    assert posts.rows.row_id.tolist() == ["B01-R001"]
    # An extra post is as tall as most of the block's, and has its clips at their heights.
    assert out_m.tolist() == [2.0, 1.8, 1.8, 1.8, 2.0]
    assert posts.clip_shift_m is not None
    assert posts.clip_shift_m.tolist() == [-0.02, 0.03, 0.0, 0.0, 0.0]
    way = np.hypot([0.0, 0.3, 0.3, 0.0], [6.0, 9.0, 3.5, 5.55])
    assert posts.station_m == pytest.approx(np.append(0.0, np.cumsum(way)), abs=1e-6)
    assert posts.ground_m == pytest.approx([100.0, 101.0, 102.7, 103.1, 104.0])


def test_one_post_makes_no_row_and_none_makes_nothing() -> None:
    posts, out_m, bare = standing_posts(built([AS_BUILT[0], (2.4, 0.0, 100.2), (2.4, 6.0, 101.2)]))
    assert bare == ["B01-R001"]
    assert posts is not None
    assert posts.rows.row_id.tolist() == ["B01-R002"]
    assert len(out_m) == 2
    none, out_m, bare = standing_posts(built([AS_BUILT[0], (2.4, 0.0, 100.2)]))
    assert none is None
    assert len(out_m) == 0
    assert bare == ["B01-R001", "B01-R002"]


CONFIG = Config.model_validate(
    {
        "name": "x",
        "block": {"boundary": "b"},
        "elevation": {"raster": "r"},
        "rows": {"bearing_deg": 0.0, "spacing_m": 2.4},
        "wires": [
            {"id": "fruiting", "kind": "fixed", "height_m": 0.9},
            {"id": "lower", "kind": "foliage", "height_m": 1.2},
        ],
        "undulation": {"hold_down_n": 5.0, "plan_for": "likely"},
    }
)


def test_adjusters_are_where_the_plan_put_some() -> None:
    posts, _, _ = standing_posts(built())
    assert posts is not None
    table = pd.DataFrame(
        {
            "row_id": ["B01-R001", "B01-R002", "B01-R001"],
            "wire_id": ["lower", "lower", "fruiting"],
            "kind": ["tie", "tie", ""],
        }
    )
    assert adjusted(posts, FinishedPlan("", {}, {"adjusters": table}), CONFIG).tolist() == [[False], [True]]
    assert not adjusted(posts, FinishedPlan("", {}, {}), CONFIG).any()


def test_clips_that_the_posts_as_they_stand_ask_for_otherwise() -> None:
    """Of four planned clips: one more is needed, at the very limit; one less; one was two-way for its section only."""
    posts, _, _ = standing_posts(built())
    assert posts is not None
    first = "B01-R001-P00"
    clips = pd.DataFrame(
        [
            (f"{first}2", "lower", "one-way", "3.0"),
            (f"{first}4", "lower", "two-way", "-9.0"),
            (f"{first}5", "lower", "two-way", "-5.0"),
            (f"{first}1", "lower", "two-way", "-9.0"),
            (f"{first}2", "fruiting", "one-way", "3.0"),
        ],
        columns=["post_id", "wire_id", "clip", "load_min_n"],
    ).assign(row_id="B01-R001")
    shape = (2, len(posts))
    chance = np.tile([np.nan, 0.5, 1.0, 0.49, 0.1], (2, 1))
    load = np.tile([0.0, -8.0, -20.0, -2.0, 1.0], (2, 1))
    nothing: FloatArray = np.zeros(shape)
    need = Need(
        np.zeros((*shape, len(IN_CLIPS))), chance, np.full(shape, "no"), load, nothing, nothing, chance, nothing
    )
    plan = FinishedPlan("", {}, {"clips": clips})
    found = changed_clips(posts, need, plan, CONFIG, np.array([True, False]))
    assert found[["post_id", "wire_id", "change", "planned"]].to_numpy().tolist() == [
        [f"{first}2", "lower", "needs two-way", "one-way"],
        [f"{first}4", "lower", "two-way not needed", "two-way"],
    ]
    assert found["load_n"].tolist() == [-8.0, -2.0]
    assert found["planned_load_n"].tolist() == [3.0, -9.0]
    assert len(changed_clips(posts, need, plan, CONFIG, np.array([True, True]))) == 0


def test_along_the_row_is_from_the_post_before_to_the_one_after() -> None:
    """A row that bends by a right angle, and one of two posts; at an end post along its only span."""
    xy = np.array([[0.0, 0.0], [0.0, 6.0], [6.0, 6.0], [20.0, 0.0], [20.0, 6.0]])
    made = built_posts._headings(xy, np.array([0, 0, 0, 1, 1]))  # noqa: SLF001 - its promise
    half = np.sqrt(0.5)
    np.testing.assert_allclose(made, [[0.0, 1.0], [half, half], [1.0, 0.0], [0.0, 1.0], [0.0, 1.0]], atol=1e-12)
