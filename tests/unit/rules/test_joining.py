"""Which gaps between sections are worth joining, worked by hand."""

import datetime as dt
from dataclasses import replace
from typing import Any

import pytest
from wirerun.findings import Findings
from wirerun.rules.from_catalogue import take_from_catalogue
from wirerun.settings import Catalogue, Config
from wirerun.settings.catalogue import PostItem, RateItem
from wirerun.settings.fixing_item import FixingItem

ORIGIN: dict[str, Any] = {"source": "made up in this test", "date": dt.date(2026, 1, 2)}


def clip(name: str, holds: str, price: float | None, minutes: float, **more: Any) -> FixingItem:  # noqa: ANN401
    return FixingItem(
        id=name,
        kind="screw-fixed clip",
        holds=holds,
        lets_go_n=200.0,
        fixes_to="timber",
        fastener_kind="screw",
        shank="threaded",
        fastener_diameter_mm=4.0,
        fastener_length_mm=26.0,
        driven="screwdriver",
        net_safe=True,
        minutes=minutes,
        price=price,
        **ORIGIN,
        **more,
    )


def catalogue(change_minutes: float, one_way: FixingItem | None = None) -> Catalogue:
    """One-way 0.20 and 0.5 min; two-way 0.50 and 0.7 min: at 18 an hour 0.36 more."""
    post = PostItem(
        id="post",
        kind="intermediate",
        material="timber",
        length_m=2.6,
        depth_m=0.6,
        width_mm=80.0,
        specific_gravity=0.45,
        pull_out_n=900.0,
        minutes=5.0,
        price=5.0,
        **ORIGIN,
    )
    change = RateItem(id="change kind", per="change", minutes=change_minutes, **ORIGIN)
    fixings = (one_way or clip("open", "down", 0.2, 0.5), clip("closing", "both", 0.5, 0.7))
    return Catalogue(posts=(post,), fixings=fixings, rates=(change,))


def config(**changes: Any) -> Config:  # noqa: ANN401 - sections of the config
    """One wire of two lines, with a clip at its own height and one above: four clips a post, 1.44 more."""
    whole = {
        "name": "x",
        "block": {"boundary": "b"},
        "elevation": {"raster": "r"},
        "rows": {"bearing_deg": 0.0, "spacing_m": 2.4},
        "wires": [{"id": "lower", "kind": "foliage", "height_m": 1.2, "lines": 2, "lifts_m": [1.45]}],
        "undulation": {"join_posts": 3},
        "work": {"labour_per_hour": 18.0},
    }
    return Config.model_validate(whole | changes)


# Two changes at 18 an hour cost 0.6 a minute: 1.44 a post against 1.2, 1.44, 1.5, 3.0 and 12.
@pytest.mark.parametrize(("minutes", "joined"), [(2.0, 0), (2.4, 1), (2.5, 1), (5.0, 2), (20.0, 3)])
def test_a_post_is_taken_in_where_that_is_cheaper_than_changing_kinds_twice(minutes: float, joined: int) -> None:
    notes = Findings("B01")
    filled = take_from_catalogue(config(), catalogue(minutes), notes)
    assert filled.undulation.join_posts == joined
    told = [note.message for note in notes if note.code == "sections-apart"]
    assert len(told) == (joined < 3)
    if joined == 0:
        assert "would cost 1.44 more with two-way clips; two changes of kind cost 1.20: none is taken in" in told[0]


def test_where_labour_has_no_price_an_hour_counts_as_for_a_clip_that_is_missed() -> None:
    """By two changes of 3 minutes each at the demo's 20 an hour, 2.00 against 1.44 a post and its 0.04 of work."""
    assert take_from_catalogue(config(work={}), catalogue(3.0)).undulation.join_posts == 1
    assert take_from_catalogue(config(work={}), catalogue(2.0)).undulation.join_posts == 0


def test_a_catalogue_that_has_no_minutes_for_changing_kinds_joins_nothing() -> None:
    notes = Findings("B01")
    filled = take_from_catalogue(config(), replace(catalogue(5.0), rates=()), notes)
    assert filled.undulation.join_posts == 0
    (told,) = [note.message for note in notes if note.code == "sections-apart"]
    assert "two changes of kind cost 0.00: none is taken in" in told


def test_fixings_that_may_not_be_used_have_no_say() -> None:
    """A two-way clip for nearly nothing, but driven by air: with it a post in a section would cost nothing more."""
    cheap = clip("cheap", "both", 0.21, 0.5).model_copy(update={"driven": "air"})
    wide = replace(catalogue(2.0), fixings=(*catalogue(2.0).fixings, cheap))
    assert take_from_catalogue(config(), wide).undulation.join_posts == 3
    for kept_out in ({"driven": "hand"}, {"use": ["open", "closing"]}):
        assert take_from_catalogue(config(fixings=kept_out), wide).undulation.join_posts == 0


def test_without_prices_nothing_is_known_to_gain() -> None:
    unpriced = catalogue(60.0, clip("open", "down", None, 0.5))
    assert take_from_catalogue(config(), unpriced).undulation.join_posts == 0
    assert take_from_catalogue(config(undulation={"join_posts": 0}), catalogue(60.0)).undulation.join_posts == 0


def test_what_a_clip_holds_comes_from_the_catalogue_unless_the_config_says() -> None:
    tested = catalogue(1.0, clip("open", "down", 0.2, 0.5, hold_down_tests_n="12 15 11 14 18 13 12 16 14 13"))
    assert take_from_catalogue(config(), tested).undulation.hold_down_n == pytest.approx(10.0, abs=0.05)
    assert take_from_catalogue(config(undulation={"hold_down_n": 3.0}), tested).undulation.hold_down_n == 3.0
    assert take_from_catalogue(config(), catalogue(1.0)).undulation.hold_down_n == 5.0
