"""What a post and its choices cost, worked by hand."""

from dataclasses import replace
from typing import Any

import pytest
from wirerun.rules.post_prices import PostPrices, post_prices
from wirerun.settings import Catalogue
from wirerun.settings.catalogue import ChargeItem, RateItem

from tests.unit.rules.test_joining import ORIGIN, catalogue, clip, config

KNOWN = catalogue(1.0)


def prices(known: Catalogue = KNOWN, **changes: Any) -> PostPrices:  # noqa: ANN401 - sections of the config
    return post_prices(config(**changes), known)


def test_a_post_of_four_clips_by_hand() -> None:
    """At 18 an hour: a post 5 and 5 min; clips of 0.35 and 0.71 with their work; a step of the marking stick 0.3 min.

    A clip that is missed costs twice what a two-way one and a change of kind do (1 min), planned as likely; twenty
    times, planned where possible.
    """
    likely = prices(undulation={"plan_for": "likely"})
    assert (likely.post, likely.two_way) == pytest.approx((5.0 + 1.5 + 4 * 0.35, 4 * 0.36))
    assert (likely.missed, likely.shift) == pytest.approx((2 * (4 * 0.36 + 0.3), 0.09))
    assert prices(undulation={"plan_for": "possible"}).missed == pytest.approx(20 * (4 * 0.36 + 0.3))


def test_a_change_of_kind_costs_its_minutes_and_no_more_than_leaves_open_what_is_not_joined() -> None:
    """A minute is 0.3; a post between two sections costs 1.44.

    Ten minutes are 3.0. Where one post between sections is joined, two are not, so two changes are worth 2.88 at most;
    where none is, 1.44.
    """

    def known(minutes: float) -> Catalogue:
        rate = RateItem.model_validate({"id": "change kind", "per": "change", "minutes": minutes, **ORIGIN})
        return replace(KNOWN, rates=(rate,))

    assert prices(known(1.0)).change == pytest.approx(0.3)
    for join, most in ((0, 0.72), (1, 1.44), (9, 3.0)):
        assert prices(known(10.0), undulation={"join_posts": join}).change == pytest.approx(most)


def test_pegging_and_carrying_and_what_is_charged_for_a_post_come_on_top() -> None:
    """Two minutes and one, 0.8 for carting; a look, or a charge for each hectare, is none of a post's price."""
    rates = [("set out and peg", 2.0), ("carry out posts", 1.0), ("look", 50.0)]
    charges = [("carting posts", "post", 0.8), ("setting out", "ha", 500.0), ("machine hire", "post", None)]
    known = replace(
        KNOWN,
        rates=tuple(RateItem.model_validate({"id": i, "per": "post", "minutes": m, **ORIGIN}) for i, m in rates),
        charges=tuple(ChargeItem.model_validate({"id": i, "per": p, "price": c, **ORIGIN}) for i, p, c in charges),
    )
    assert prices(known).post - prices().post == pytest.approx(3.0 * 0.3 + 0.8)


def test_staples_of_a_fixed_wire_count_with_the_post() -> None:
    """Formed staples at 0.1 and half a minute: 0.25 for each of a fixed wire's two lines."""
    staple = clip("staple", "both", 0.1, 0.5).model_copy(update={"kind": "formed staple"})
    known = replace(KNOWN, fixings=(*KNOWN.fixings, staple))
    fixed = {"id": "fruiting", "kind": "fixed", "height_m": 0.9, "lines": 2}
    both = [fixed, {"id": "lower", "kind": "foliage", "height_m": 1.2, "lines": 2, "lifts_m": [1.45]}]
    more = prices(known, wires=both)
    assert more.post - prices(known).post == pytest.approx(2 * 0.25)
    assert more.two_way == pytest.approx(prices(known).two_way)


def test_prices_of_the_config_override() -> None:
    """A post at 10, as it stands; 1 more for each of the wire's two lines, however many clips it has."""
    given = prices(fitting={"post_price": 10.0, "two_way_price": 1.0})
    assert (given.post, given.two_way) == (10.0, 2.0)
    assert (prices(fitting={"post_price": 0.0}).post, prices(fitting={"two_way_price": 0.0}).two_way) == (0.0, 0.0)


def test_an_empty_catalogue_leaves_the_choices_of_the_program() -> None:
    """A post 6, a clip 0.20, a two-way one 0.15 more, an hour 20: choices."""
    bare = prices(Catalogue(), work={"labour_per_hour": None})
    assert (bare.post, bare.two_way, bare.shift) == pytest.approx((6.0 + 4 * 0.2, 4 * 0.15, 0.1))


def test_a_two_way_clip_that_is_cheaper_costs_nothing_more() -> None:
    cheap = replace(KNOWN, fixings=(clip("open", "down", 0.9, 0.5), clip("closing", "both", 0.5, 0.5)))
    assert prices(cheap).two_way == 0.0


def test_only_what_fixes_to_the_post_and_may_be_used_has_a_say() -> None:
    """A clip for steel posts and one that is driven by air, both for nearly nothing."""
    cheap = clip("cheap", "down", 0.01, 0.1)
    for update in ({"fixes_to": "steel"}, {"driven": "air"}):
        known = replace(KNOWN, fixings=(*KNOWN.fixings, cheap.model_copy(update=update)))
        assert prices(known, fixings={"driven": "hand"}) == prices(fixings={"driven": "hand"})


def test_a_clips_price_has_its_fasteners() -> None:
    """Two screws of 0.05 with each of four clips."""
    screwed = KNOWN.fixings[0].model_copy(update={"fastener": "screw", "fasteners": 2, "fastener_price": 0.05})
    assert prices(replace(KNOWN, fixings=(screwed, KNOWN.fixings[1]))).post - prices().post == pytest.approx(4 * 0.1)
