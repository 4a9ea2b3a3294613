"""Wires and posts in service, against sums worked by hand."""

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from wirerun.arrays import words
from wirerun.findings import Findings
from wirerun.geometry.station import Paths
from wirerun.mechanics.gauge import mid_span_deflection, pushed_tension
from wirerun.mechanics.wind import wind_pressure
from wirerun.model.layout import NamedRows, PostHeights, Posts, Rows
from wirerun.model.service import InService
from wirerun.rules.clip_positions import clip_positions
from wirerun.rules.in_service import left_out_of_service, states_given
from wirerun.service_state import ServiceState
from wirerun.settings import Catalogue, Config
from wirerun.settings.catalogue import PostItem
from wirerun.stages.wires.end_give import end_give
from wirerun.stages.wires.in_service import edge_rows, note_wires, service_places, wires_in_service
from wirerun.stages.wires.posts_in_service import posts_in_service
from wirerun.stages.wires.service_loads import loads_on_wires
from wirerun.stages.wires.strung import string_wires

Stand = Callable[..., Posts]
LOWER = {"id": "lower", "kind": "foliage", "height_m": 1.2, "lines": 2}
UPPER = {"id": "upper", "kind": "foliage", "height_m": 1.45, "lines": 2}
FRUITING = {"id": "fruiting", "kind": "fixed", "height_m": 0.9, "diameter_mm": 3.15, "tension_n": 1000.0}


def config(*wires: dict[str, Any], **service: Any) -> Config:  # noqa: ANN401 - any setting of the section
    return Config.model_validate(
        {
            "name": "x",
            "block": {"boundary": "b"},
            "elevation": {"raster": "r"},
            "rows": {"bearing_deg": 0.0, "spacing_m": 2.4},
            "wires": list(wires or (FRUITING, LOWER, UPPER)),
            "service": service,
        }
    )


def served(posts: Posts, config: Config, edge: bool = True) -> dict[ServiceState, InService]:  # noqa: FBT001, FBT002
    """All states of a block whose rows are all at its edge, or none."""
    wires, notes = config.wires, Findings("B01")
    tops = np.full(len(posts), config.posts.height_out_m)
    where = service_places(posts, clip_positions(tops, config.clips, wires, posts.row, ~posts.is_end), config)
    cut = string_wires(posts, np.zeros((len(posts.near), 3)), wires, 0.3, Findings())[0].cut_m
    loads = loads_on_wires(np.full(len(posts.rows), edge), where, config, notes)
    give = end_give(posts, wires, config.posts)
    states = wires_in_service(posts, where, loads, cut, np.zeros(cut.shape, dtype=bool), give, config)
    return {each.on.state: each for each in states}


@pytest.mark.parametrize(
    ("speed", "row_n_per_m", "clip_n", "tension_n", "moment_nm"),
    [(15.0, 84.4, 126.6, 981.0, 709.0), (25.0, 234.4, 351.6, 1822.0, 1969.0)],
)
def test_wind_by_hand(
    stand: Stand, speed: float, row_n_per_m: float, clip_n: float, tension_n: float, moment_nm: float
) -> None:
    """A canopy of 1 m that bears 0.6 of the pressure, a quarter on each of four lines, 6 m; the moment is at 1.4 m."""
    low, high = LOWER | {"height_m": 1.3}, UPPER | {"height_m": 1.5}
    asked = config(
        *(low, high),
        wind_speed_ms=speed,
        wind_speed_is="gust",
        canopy_open=0.5,
        canopy_bottom_m=0.9,
        canopy_top_m=1.9,
        wind_share={"lower": 0.5, "upper": 0.5},
        wind_on="all",
        wires_at="strung",
    )
    posts = stand([0.0] * 31)
    blown = served(posts, asked)[ServiceState.WIND]
    assert float(wind_pressure(speed)) * 0.6 == pytest.approx(row_n_per_m, rel=1e-3)
    np.testing.assert_allclose(blown.side_n[:, posts.middle], clip_n, rtol=2e-3)
    np.testing.assert_allclose(blown.tension_n, tension_n, rtol=5e-3)
    np.testing.assert_allclose(blown.post_moment_nm[posts.middle], moment_nm, rtol=2e-3)
    # An end post bears half a span to the side, and all the lines along the row.
    np.testing.assert_allclose(blown.post_side_n[posts.first], 2.0 * clip_n, rtol=2e-3)
    np.testing.assert_allclose(blown.post_pull_n[posts.first], 4.0 * blown.end_pull_n[0], rtol=1e-9)


def test_the_lee_line_takes_all_and_the_others_what_the_crop_leaves(stand: Stand) -> None:
    wind = {"wind_speed_ms": 15.0, "wind_speed_is": "gust", "canopy_open": 0.5, "wires_at": "strung"}
    posts = stand([0.0] * 11)
    lee = served(posts, config(LOWER, **wind))[ServiceState.WIND]
    both = served(posts, config(LOWER, **wind, wind_on="all"))[ServiceState.WIND]
    np.testing.assert_allclose(lee.side_n[0, posts.middle], 2.0 * both.side_n[0, posts.middle], rtol=2e-3)
    # The post bears the same to the side; along the row the line to windward pulls as it was strung.
    np.testing.assert_allclose(lee.post_side_n, both.post_side_n, rtol=2e-3)
    assert lee.post_pull_n[0] == pytest.approx(lee.end_pull_n[0, 0] + 300.0, rel=1e-3)


def test_wind_is_shared_by_the_strip_that_is_nearest(stand: Stand) -> None:
    """Canopy from 0.9 to 1.9 m, wires at 0.9, 1.2 and 1.45 m: strips of 0.15, 0.275 and 0.575 m."""
    asked = config(wind_speed_ms=10.0, wind_speed_is="gust", canopy_open=0.0, wires_at="strung")
    on = served(stand([0.0] * 4), asked)[ServiceState.WIND].on
    whole = 62.5 * 1.2
    np.testing.assert_allclose(on.side_n_per_m[:, 0], whole * np.array([0.15, 0.275, 0.575]), rtol=1e-12)


def test_a_mean_speed_is_turned_into_the_peak_at_the_canopy(stand: Stand) -> None:
    # EN 1991-1-4: 1.42 in terrain II at 2 m and below.
    asked = {"wind_speed_ms": 10.0, "canopy_open": 0.0}
    posts = stand([0.0] * 4)
    gust = served(posts, config(**asked, wind_speed_is="gust"))[ServiceState.WIND].on.side_n_per_m
    mean = served(posts, config(**asked, wind_speed_is="mean", terrain="II"))[ServiceState.WIND].on.side_n_per_m
    np.testing.assert_allclose(mean, 1.4234 * gust, rtol=1e-4)


def test_shelter_is_one_unless_it_is_set(stand: Stand) -> None:
    asked = {"wind_speed_ms": 10.0, "wind_speed_is": "gust", "canopy_open": 0.5}
    posts = stand([0.0] * 4)
    outer, inner = (served(posts, config(**asked), edge)[ServiceState.WIND].on.side_n_per_m for edge in (True, False))
    np.testing.assert_array_equal(outer, inner)
    half = served(posts, config(**asked, sheltered_share=0.5), edge=False)[ServiceState.WIND].on.side_n_per_m
    np.testing.assert_allclose(half, 0.5 * outer)


def test_crop_bears_down_and_pulls_up_less(stand: Stand) -> None:
    """8 t/ha at 2.4 m, 18.8 N/m: 6 m of it on a clip on the level; in a hollow it takes off what pulls up."""
    posts = stand([0.0, 0.0, 0.0, -0.3, 0.0, 0.0, 0.0])
    asked = config(FRUITING, crop_n_per_m={"fruiting": 18.8})
    crop, notes = served(posts, asked)[ServiceState.CROP], Findings("B01")
    assert crop.load_n[0, 1] == pytest.approx(6.0 * (18.8 + 0.6), rel=0.01)
    assert not crop.side_n[0, posts.middle].any()
    note_wires(posts, (crop,), np.where(posts.is_end, np.nan, -100.0)[None], asked, notes)
    (found,) = notes
    assert found.code == "service-crop"
    # Over 6 m the hollow of 0.3 m pulls up by a tenth of the tension, all but what the crop bears down.
    assert found.message.startswith("Under the crop 4 of 5 fixings that the bare wire pulls up on are borne down on.")
    assert "No two-way clip or staple is left out for it" in found.message


def test_nets_come_on_top_of_the_crop_on_the_highest_wire(stand: Stand) -> None:
    posts = stand([0.0] * 4)
    asked = config(crop_n_per_m={"fruiting": 18.8}, net_n_per_m=3.0)
    on = served(posts, asked)[ServiceState.NET].on
    np.testing.assert_allclose(on.down_n_per_m[:, 0], [18.8, 0.0, 1.5])
    named = served(posts, config(net_n_per_m=3.0, net_wires=("lower", "upper")))[ServiceState.NET].on
    np.testing.assert_allclose(named.down_n_per_m[:, 0], [0.0, 0.75, 0.75])


def test_a_harvester_pushes_one_line_at_a_post_or_between(stand: Stand) -> None:
    posts = stand([0.0] * 11)
    asked = config(harvester_side_n=100.0, harvester_wires=("lower",), wires_at="strung")
    pushed = served(posts, asked)[ServiceState.HARVEST]
    np.testing.assert_allclose(pushed.side_n[:, posts.middle].max(axis=1), [0.0, 100.0, 0.0])
    out = mid_span_deflection(6.0, 300.0, 100.0, 981748.0, 60.0)
    assert pushed.tension_n[1, 0] == pytest.approx(float(pushed_tension(6.0, 300.0, out, 981748.0, 60.0)), rel=1e-3)
    np.testing.assert_allclose(pushed.post_moment_nm[posts.middle], 100.0 * 1.2, rtol=1e-6)


def test_a_push_that_no_wire_stands_is_not_reckoned(stand: Stand) -> None:
    soft = LOWER | {"youngs_modulus_gpa": 0.5, "tension_n": 10.0}
    pushed = served(stand([0.0] * 31), config(soft, harvester_side_n=10_000.0))[ServiceState.HARVEST]
    assert np.isnan(pushed.tension_n).all()


def test_a_lifted_wire_hangs_in_the_clip_of_the_one_that_has_gone_up(stand: Stand) -> None:
    posts, asked = stand([0.0] * 5), config()
    tops = np.full(5, asked.posts.height_out_m)
    places = clip_positions(tops, asked.clips, asked.wires, posts.row, ~posts.is_end)
    where = service_places(posts, places, asked)
    np.testing.assert_allclose(where.height_m[:, 2], [0.9, 1.45, 1.7])
    np.testing.assert_allclose(where.at_ends_m[:, 0], [0.9, 1.2, 1.45])
    assert where.host[:, 2].tolist() == [0, 2, 2]
    strung = service_places(posts, places, config(wires_at="strung"))
    np.testing.assert_allclose(strung.height_m[:, 2], [0.9, 1.2, 1.45])
    assert strung.host[:, 2].tolist() == [0, 1, 2]


def test_a_bend_of_the_row_adds_to_the_side(stand: Stand) -> None:
    asked = config(LOWER, crop_n_per_m={"lower": 10.0}, wires_at="strung")
    posts = stand([0.0] * 5, turn_rad=0.05)
    crop = served(posts, asked)[ServiceState.CROP]
    expected = crop.tension_n[0, 0] * 2.0 * np.sin(0.025)
    np.testing.assert_allclose(crop.side_n[0, posts.middle], expected, rtol=1e-3)


def test_rows_at_either_side_are_edges_and_pieces_of_a_line_are_one() -> None:
    ids = words(["R1", "R1b", "R2", "R3", "R4"])
    paths = Paths.straight(np.zeros((5, 2)), np.tile([0.0, 30.0], (5, 1)))
    rows = Rows("B01", ids, np.zeros(5), np.full(5, 30.0), paths)
    none = Paths.straight(np.zeros((0, 2)), np.zeros((0, 2)))
    named = NamedRows(rows, np.array([0, 0, 1, 2, 3]), words(["numbered"] * 5), np.full(5, np.nan), words([]), none)
    assert edge_rows(named, ids, 1).tolist() == [True, True, False, False, True]
    assert edge_rows(named, ids[2:], 2).tolist() == [True, True, True]
    assert not edge_rows(named, ids, 0).any()


def test_what_the_config_gives_no_number_for_is_told_in_one_finding() -> None:
    (all_out,) = left_out_of_service(config())
    assert all_out.code == "service-left-out"
    for setting in ("crop_n_per_m", "wind_speed_ms", "net_n_per_m", "harvester_side_n"):
        assert setting in all_out.message
    assert "net_open" not in all_out.message
    some = config(
        crop_n_per_m={"lower": 1.0}, wind_speed_ms=1.0, wind_speed_is="gust", canopy_open=0.5, net_n_per_m=1.0
    )
    assert states_given(some.service) == (
        ServiceState.CROP,
        ServiceState.WIND,
        ServiceState.CROP_AND_WIND,
        ServiceState.NET,
    )
    (some_out,) = left_out_of_service(some)
    assert "net_open" in some_out.message
    assert "crop_n_per_m" not in some_out.message
    full = some.model_copy(
        update={"service": some.service.model_copy(update={"net_open": 0.9, "harvester_side_n": 1.0})}
    )
    assert left_out_of_service(full) == []


POST = PostItem.model_validate(
    {
        "id": "p",
        "kind": "intermediate",
        "material": "timber",
        "length_m": 2.5,
        "depth_m": 0.6,
        "width_mm": 100.0,
        "specific_gravity": 0.46,
        "pull_out_n": 883.0,
        "minutes": 5.0,
        "source": "made up in this test",
        "date": "2026-01-02",
    }
)


@pytest.mark.parametrize(
    ("ground", "bears_nm", "code"),
    [
        ({}, np.nan, "service-moment"),
        ({"post_rule": "code", "code_kpa_per_m": 47.12}, 97.3, "service-post"),
        ({"post_rule": "clay", "clay_kpa": 50.0}, 1816.0 / 2.0, "service-moment"),
        ({"post_rule": "sand", "sand_kn_m3": 18.0, "sand_deg": 32.0, "post_factor": 1.0}, 452.0, "service-moment"),
        ({"post_rule": "code", "code_kpa_per_m": 47.12, "post_pull_n": 900.0, "post_pull_at_m": 1.0}, 450.0, None),
    ],
)
def test_what_the_ground_bears_is_by_the_rule_that_is_chosen(
    stand: Stand, ground: dict[str, Any], bears_nm: float, code: str | None
) -> None:
    """One post, 0.1 m wide, 0.6 m deep, pushed at 1.5 m: 97 Nm, 1816 Nm over 2, 452 Nm; and a pull of 900 N at 1 m."""
    asked = config(
        LOWER | {"height_m": 1.5},
        wind_speed_ms=14.0,
        wind_speed_is="gust",
        canopy_open=0.5,
        wires_at="strung",
        **ground,
    )
    posts, notes = stand([0.0] * 4), Findings("B01")
    states = tuple(served(posts, asked).values())
    standing = posts, PostHeights(np.full(4, 1.9), words(["p", "p", "p", None]))
    (bears,), rule = posts_in_service(standing, states, asked, Catalogue(posts=(POST,)), notes)
    np.testing.assert_allclose(bears[posts.middle], bears_nm, rtol=2e-3)
    assert np.isnan(bears[3])
    assert (rule[1] is None) == (not ground)
    assert rule[3] is None
    (found,) = notes
    assert found.code == (code or "service-post")
    assert ("differ twentyfold" in found.message) == (found.code == "service-post")
    if "post_pull_n" in ground:
        assert rule[1] == "measured pull"
