"""Fixings in service: what gives first and by how much, by sums worked by hand."""

import datetime as dt
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from numpy.typing import ArrayLike
from wirerun.arrays import FloatArray, no_words, words
from wirerun.findings import Findings
from wirerun.model.clips import Fixings, Need
from wirerun.model.layout import PostHeights, Posts
from wirerun.model.service import GIVES, Held, InService, OnWires, ServicePlaces
from wirerun.rules.fixing_strength import shear_n, withdrawal_n
from wirerun.service_state import ServiceState
from wirerun.settings import Catalogue, Config
from wirerun.settings.catalogue import PostItem
from wirerun.settings.fixing_item import FixingItem
from wirerun.stages.clips.hold_in_service import hold_in_service
from wirerun.state import IN_CLIPS

Stand = Callable[..., Posts]
ORIGIN = {"source": "made up in this test", "date": dt.date(2026, 1, 2)}
SCREW = {"fastener": "screw", "fastener_kind": "screw", "shank": "threaded", "driven": "screwdriver"}
STAPLE = {"fastener": "staple", "fastener_kind": "staple", "shank": "smooth", "driven": "hand"}
POST = PostItem.model_validate(
    {"id": "p", "kind": "intermediate", "material": "timber", "length_m": 2.5, "depth_m": 0.6, "width_mm": 80.0}
    | {"specific_gravity": 0.46, "pull_out_n": 883.0, "minutes": 5.0, **ORIGIN}
)


def clip(name: str, holds: str, **changes: Any) -> FixingItem:  # noqa: ANN401 - any column
    size = {"fastener_diameter_mm": 4.0, "fastener_length_mm": 26.0}
    kind = "staple-fixed clip" if changes.get("fastener_kind") == "staple" else "screw-fixed clip"
    fields = {"kind": kind, "lets_go_n": 600.0, "fixes_to": "timber", "net_safe": True, "minutes": 0.5, "price": 1.0}
    return FixingItem.model_validate({"id": name, "holds": holds} | SCREW | size | fields | ORIGIN | changes)


OPEN, TURNED = clip("open", "down"), clip("turned", "up")
CLOSING, STRONG = clip("closing", "both"), clip("strong", "both", lets_go_n=3000.0, fasteners=4, price=2.0)
STAPLED = clip("stapled", "both", **STAPLE)
STILL = clip("still", "both", movable=False, price=0.5)  # no foliage wire is lifted out of it
CATALOGUE = Catalogue(fixings=(OPEN, TURNED, CLOSING, STRONG, STAPLED, STILL), posts=(POST,))


FOLIAGE = {"id": "lower", "kind": "foliage", "height_m": 1.2, "lines": 2}


def config(
    wires: tuple[dict[str, Any], ...] = (FOLIAGE,),
    sections: dict[str, Any] | None = None,
    **service: Any,  # noqa: ANN401 - any setting of the section
) -> Config:
    return Config.model_validate(
        {
            "name": "x",
            "block": {"boundary": "b"},
            "elevation": {"raster": "r"},
            "rows": {"bearing_deg": 0.0, "spacing_m": 2.4},
            "wires": wires,
            "service": service,
            **(sections or {}),
        }
    )


def in_state(state: ServiceState, load_n: ArrayLike, side_n: ArrayLike, wires: int, posts: int) -> InService:
    """Wires in one row of posts, all alike: a load and a push on each post between."""
    none, load, side = np.zeros((wires, 1)), *np.full((2, wires, posts), np.nan)
    load[:, 1:-1], side[:, 1:-1] = load_n, side_n
    ends, still = np.full(posts, np.nan), np.zeros(posts)
    on = OnWires(state, none, none, none, np.zeros(wires))
    return InService(on, none + 300.0, none + 300.0, load, side, still, still, ends, ends)


def held(
    posts: Posts,
    item: str | list[str],
    load_n: ArrayLike,
    side_n: ArrayLike,
    bare: tuple[float, float] = (0.0, 0.0),
    **asked: Any,  # noqa: ANN401 - any setting of the section
) -> tuple[Held, Findings]:
    """What is used of a fixing, or of one a wire, the bare wires pulling from and to so much."""
    state, more, notes = asked.pop("state", ServiceState.WIND), asked.pop("more", ()), Findings("B01")
    catalogue, host = asked.pop("catalogue", CATALOGUE), asked.pop("host", None)
    settings = config(**asked)
    shape = wires, count = len(settings.wires), len(posts)
    wide: FloatArray = np.zeros(shape)
    need = Need(
        np.zeros((*shape, len(IN_CLIPS))),
        wide,
        np.full(shape, "no", dtype=object),
        wide + bare[0],
        wide + bare[1],
        wide,
        wide,
        wide,
    )
    one, named = np.ones(shape, dtype=np.int64), no_words(shape)
    named[:, posts.middle] = np.array(item, dtype=object).reshape(-1, 1)
    hosts = np.broadcast_to(np.array(range(wires) if host is None else host)[:, None], shape)
    places = ServicePlaces(wide + 1.2, wide + 1.2, hosts, np.zeros((wires, 1), dtype=bool))
    standing = posts, PostHeights(np.full(count, 1.9), words(["p"] * count))
    states = tuple(in_state(each, load_n, side_n, *shape) for each in (state, *more))
    planned = need, Fixings(one, one, named, wide, no_words(shape))
    found, *_ = hold_in_service(standing, places, states, planned, settings, catalogue, notes)
    return found, notes


def test_pull_and_push_together_on_a_screw_and_on_a_smooth_staple(stand: Stand) -> None:
    """Squares for the screw, the sum for smooth legs: Eurocode 5, (8.28) and (8.27)."""
    posts = stand([0.0] * 3)
    for item, smooth in ((STRONG, False), (STAPLED, True)):
        pull = 150.0 / (withdrawal_n(item, POST) / 5.0)
        push = 120.0 / (shear_n(item, POST, 6.0, 600.0) / 2.2)
        found, _ = held(posts, item.id, 120.0, 150.0)
        expected = pull + push if smooth else np.hypot(pull, push)
        assert found.used[0, 1] == pytest.approx(
            max(expected, np.hypot(120.0, 150.0) / (item.lets_go_n / 1.5)), rel=1e-9
        )
        assert np.isnan(found.used[0, [0, 2]]).all()


def test_a_clip_may_let_go_before_the_timber(stand: Stand) -> None:
    found, notes = held(stand([0.0] * 3), "closing", 500.0, 0.0, bare=(0.0, 600.0), shear_factor=1.0, stand_off_mm=0.0)
    assert GIVES[found.gives[0, 1]] == "clip lets go"
    assert found.used[0, 1] == pytest.approx(500.0 / 400.0)
    (told,) = notes
    assert "strong would hold there" in told.message


def test_an_open_clip_is_bent_aside(stand: Stand) -> None:
    found, notes = held(stand([0.0] * 3), "open", 10.0, 60.0, bare=(0.0, 20.0))
    assert GIVES[found.gives[0, 1]] == "open clip, sideways"
    assert found.used[0, 1] == pytest.approx(60.0 / 30.0)  # undulation.hold_side_n
    (told,) = notes
    assert told.code == "service-fixing"
    assert "wind: 10 N down, 60 N to the side, 200 % of what it bears" in told.message
    assert "closing would hold there" in told.message  # the cheaper of the two that let a foliage wire out
    assert "a competent person judges" in told.message


def test_a_fixing_that_does_not_hold_in_two_states_is_one_fixing(stand: Stand) -> None:
    _, notes = held(stand([0.0] * 3), "open", 10.0, 60.0, bare=(0.0, 20.0), more=(ServiceState.CROP,))
    (told,) = notes
    assert told.message.startswith(
        "Of 1 fixing of wire lower some do not hold in service by the config's numbers: wind 1, crop 1."
    )


@pytest.mark.parametrize(("bare_up", "counts"), [(-40.0, False), (-30.0, False), (-29.9, True), (-20.0, True)])
def test_a_pull_up_that_the_bare_wire_has_too_is_judged_there(stand: Stand, bare_up: float, counts: bool) -> None:  # noqa: FBT001
    found, _ = held(stand([0.0] * 3), "open", -30.0, 0.0, bare=(bare_up, 0.0))
    assert (found.used[0, 1] > 1.0) == counts
    if counts:
        assert GIVES[found.gives[0, 1]] == "open clip, upwards"
        assert found.used[0, 1] == pytest.approx(30.0 / 5.0)  # undulation.hold_down_n


def test_a_wire_that_pulls_up_less_than_without_a_load_asks_nothing_more(stand: Stand) -> None:
    used = [held(stand([0.0] * 3), "open", -5.0, 0.0, bare=(-10.0, down))[0].used[0, 1] for down in (-10.0, 600.0)]
    assert used[0] == used[1] < 0.05


def test_a_clip_mounted_upside_down_does_not_bear_a_crop(stand: Stand) -> None:
    found, _ = held(stand([0.0] * 3), "turned", 110.0, 0.0, bare=(-60.0, 0.0), state=ServiceState.CROP)
    assert GIVES[found.gives[0, 1]] == "upside-down clip, downwards"
    assert found.used[0, 1] == pytest.approx(110.0 / 5.0)


def test_shaking_takes_from_smooth_legs_what_the_config_says_and_from_nothing_else(stand: Stand) -> None:
    posts, shaking = stand([0.0] * 3), dict[str, Any](vibration_class="hard", smooth_keeps=0.5)
    for item, times in (("stapled", 2.0), ("strong", 1.0)):
        used = [
            held(posts, item, 0.0, 200.0, state=state, **shaking)[0].used[0, 1]
            for state in (ServiceState.WIND, ServiceState.HARVEST)
        ]
        assert used[1] == pytest.approx(times * used[0], rel=1e-9)


def test_where_nothing_of_the_catalogue_holds_it_says_what_would_take_load_off(stand: Stand) -> None:
    _, notes = held(stand([0.0] * 3), "closing", 0.0, 2500.0)
    (told,) = notes
    assert "wind: 0 N down, 2500 N to the side" in told.message
    # Of the strongest, four screws, 9528 N of mean withdrawal over a factor of 5: 6 m over 1.312.
    assert "Nothing of the catalogue holds there; shorter spans, to about 4.6 m, or less load" in told.message


@pytest.mark.parametrize(
    ("side_n", "advice"), [(7300.0, "shorter spans, to about 1.6 m, or"), (8000.0, "shorter spans or")]
)
def test_spans_a_quarter_as_long_are_no_advice(stand: Stand, side_n: float, advice: str) -> None:
    """3.83 and 4.2 times what the strongest bears."""
    _, (told,) = held(stand([0.0] * 3), "closing", 0.0, side_n)
    assert f"Nothing of the catalogue holds there; {advice} less load would do the rest." in told.message


def test_what_is_not_known_is_not_judged(stand: Stand) -> None:
    found, notes = held(stand([0.0] * 3), "strong", np.nan, 10.0)
    assert np.isnan(found.used).all()
    found, _ = held(stand([0.0] * 3), "not in the catalogue", 10.0, 10.0)
    assert np.isnan(found.used).all()
    assert not notes


def test_a_staple_is_pushed_half_a_wire_off_the_wood(stand: Stand) -> None:
    """A wire of 4 mm: 2 mm, not the 6 mm at which a clip stands off."""
    legs = {"fastener": "", "fastener_kind": "staple", "shank": "ringed", "driven": "hand", "lets_go_n": 9000.0}
    staple = clip("staple", "both", **legs, kind="formed staple")
    fixed = {"id": "fruiting", "kind": "fixed", "height_m": 0.9, "diameter_mm": 4.0}
    more = dict[str, Any](wires=(fixed,), catalogue=Catalogue(fixings=(staple,), posts=(POST,)))
    found, _ = held(stand([0.0] * 3), "staple", 100.0, 0.0, bare=(0.0, 200.0), **more)
    assert found.used[0, 1] == pytest.approx(100.0 / (shear_n(staple, POST, 2.0, 600.0) / 2.2), rel=1e-9)


def test_an_open_hook_bears_no_pull_up_at_all(stand: Stand) -> None:
    """Where 0 N hold it up, any pull is told as a thousand times too much; none uses nothing of it."""
    hook = dict[str, Any](sections={"undulation": {"hold_down_n": 0.0}})
    found, _ = held(stand([0.0] * 4), "open", [-0.5, 0.0], 0.0, **hook)
    assert found.used[0, 1:3] == pytest.approx([1000.0, 0.0])
    assert GIVES[found.gives[0, 1]] == "open clip, upwards"


def test_a_wire_that_is_lifted_into_another_wires_clip_uses_that(stand: Stand) -> None:
    wires = (FOLIAGE, FOLIAGE | {"id": "upper", "height_m": 1.5})
    posts = stand([0.0] * 3)
    own, _ = held(posts, ["open", "strong"], 10.0, 60.0, bare=(0.0, 20.0), wires=wires)
    lifted, notes = held(posts, ["open", "strong"], 10.0, 60.0, bare=(0.0, 20.0), wires=wires, host=[1, 1])
    assert own.used[0, 1] == pytest.approx(60.0 / 30.0)
    assert lifted.used[0, 1] == lifted.used[1, 1] == own.used[1, 1] < 0.2
    assert not notes


def test_what_gives_first_most_often_is_named_first_and_the_worst_with_its_load(stand: Stand) -> None:
    """Two posts bend the clip aside, 60 N against 30; out of one the wire pulls up, 30 N against 5."""
    _, (told,) = held(stand([0.0] * 5), "open", [10.0, 10.0, -30.0], [60.0, 60.0, 0.0], bare=(-20.0, 20.0))
    assert (
        "First to give: open clip, sideways, open clip, upwards. Worst at B01-R001-P004, wind: 30 N up" in told.message
    )
    assert "600 % of what it bears" in told.message


def test_what_would_hold_at_some_posts_only_is_told_with_their_number(stand: Stand) -> None:
    """The strongest bears 1906 N to the side, and of the other two alike ones neither bears 500 N."""
    _, (told,) = held(stand([0.0] * 4), "closing", 0.0, [500.0, 2500.0])
    assert (
        "strong would hold at 1 of them; shorter spans, to about 4.6 m, or less load would do the rest." in told.message
    )


def test_only_what_the_config_allows_and_what_holds_the_wire_as_its_own_does_is_advised(stand: Stand) -> None:
    """A wire under staples gets a staple, though a clip would do at a third of the price."""
    aside = dict[str, Any](load_n=10.0, side_n=60.0, bare=(0.0, 20.0))
    _, (told,) = held(stand([0.0] * 3), "open", **aside, sections={"fixings": {"use": ["open"]}})
    assert "The catalogue has no fixing for it that the config allows and that holds both ways." in told.message
    legs = {"fastener": "", "fastener_kind": "staple", "shank": "ringed", "driven": "hand"}
    staple = clip("staple", "both", **legs, kind="formed staple", price=3.0)
    for wire, name in (({"kind": "fixed"}, "staple"), ({}, "closing")):
        catalogue = Catalogue(fixings=(OPEN, staple, CLOSING), posts=(POST,))
        wires = (FOLIAGE | {"lines": 1} | wire,)
        _, (told,) = held(stand([0.0] * 3), "open", **aside, wires=wires, catalogue=catalogue)
        assert f" {name} would hold there." in told.message


def test_without_fixings_nothing_is_judged(stand: Stand) -> None:
    found, notes = held(stand([0.0] * 3), "open", 10.0, 60.0, catalogue=Catalogue(posts=(POST,)))
    assert np.isnan(found.used).all()
    assert not notes
