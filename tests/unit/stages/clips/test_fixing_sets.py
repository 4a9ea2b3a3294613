"""Sets of fixings: what each comes to and which is taken, by sums worked by hand."""

import numpy as np
import pytest
from wirerun.arrays import BoolArray
from wirerun.settings.fixing_item import FixingItem
from wirerun.stages.clips.fixing_sets import Asked, Compared, Offers, compare_sets

from tests.unit.stages.clips.test_choose_fixings import fixing


def clips(*prices: float | None) -> tuple[FixingItem, ...]:
    """Clips of half a minute each at these prices."""
    return tuple(
        fixing(f"kind-{n}", "screw-fixed clip", "both", 400.0, price=each, life_years=10.0, removal_minutes=0.3)
        for n, each in enumerate(prices)
    )


def compared(
    items: tuple[FixingItem, ...],
    holds: BoolArray,
    post: list[int] | None = None,
    pull: list[int] | None = None,
    pace: list[float] | None = None,
    most_kinds: int = 2,
    hour: float | None = None,
) -> Compared:
    """Sets for places of two pieces each, a post a place and level ground unless told."""
    places = len(holds)
    asked = Asked(
        np.arange(places) if post is None else np.array(post),
        np.full(places, 2),
        np.ones(places) if pace is None else np.array(pace),
        np.zeros(places, dtype=np.int64) if pull is None else np.array(pull),
        holds,
    )
    return compare_sets("clip", asked, Offers.of(items, hour), most_kinds)


def test_where_three_kinds_do_not_hold_all_that_are_cheapest_somewhere_are_taken() -> None:
    """Four kinds hold at a place of their own each; a cheaper one at the fifth place, where the first would do."""
    items, holds = clips(2.0, 2.0, 2.0, 2.0, 1.0), np.eye(5, dtype=bool)
    holds[4, 0] = True
    made = compared(items, holds, most_kinds=1)
    assert made.kinds == (0, 1, 2, 3, 4)
    assert list(made.best) == [0, 1, 2, 3, 4]
    assert compared(items, holds[2:], most_kinds=1).kinds == (2, 3, 4)


def test_a_place_that_is_not_held_saves_nothing() -> None:
    """On one post nothing holds the second wire; the clip that holds the first one there is the cheaper one too."""
    holds = np.array([[True, False], [False, False], [True, True]])
    made = compared(clips(0.2, 0.5), holds, post=[1, 1, 2], most_kinds=1)
    assert made.kinds == (0,)
    assert list(made.best) == [0, -1, 0]


@pytest.mark.parametrize(("most_kinds", "best"), [(2, [-1, 1, 0]), (1, [-1, 1, 1])])
def test_a_wire_is_held_beside_one_that_cannot_be(most_kinds: int, best: list[int]) -> None:
    """Three wires over one post: nothing holds the first, only what is dear the second, either kind the third.

    The post is unheld by every set; so the cheap kind alone would leave no more posts unheld than both.
    """
    holds = np.array([[False, False], [False, True], [True, True]])
    made = compared(clips(0.1, 0.9), holds, post=[0, 0, 0], most_kinds=most_kinds)
    assert list(made.best) == best
    assert {option.unheld[0] for option in made.options} == {1}


def test_every_fixing_alone_and_every_pair_is_compared() -> None:
    made = compared(clips(0.2, 0.3, 0.4), np.ones((2, 3), dtype=bool))
    assert [option.kinds for option in made.options] == [(0,), (1,), (2,), (0, 1), (0, 2), (1, 2)]
    assert [option.kinds for option in made.options if option.chosen] == [(0,)]


def test_posts_unheld_are_told_by_the_way_in_which_the_wire_pulls_most() -> None:
    """Two wires of post 1, up and down, one of post 2, down, two of post 3, sideways: three posts in all."""
    holds = np.tile([False, True], (5, 1))
    made = compared(clips(0.2, 0.5), holds, post=[1, 1, 2, 3, 3], pull=[0, 1, 1, 2, 2])
    assert [option.unheld for option in made.options] == [(3, 1, 2, 1), (0, 0, 0, 0), (0, 0, 0, 0)]
    assert made.kinds == (1,)


def test_a_slope_that_slows_work_down_can_turn_the_choice() -> None:
    """At 24 an hour 0.85 + 0.75 min are 1.15 and 1.00 + 0.5 min 1.20; where all takes twice as long 1.45 and 1.40."""
    slow, quick = clips(0.85, 1.0)
    slow = slow.model_copy(update={"minutes": 0.75})
    made = compared((slow, quick), np.ones((2, 2), dtype=bool), pace=[1.0, 2.0], hour=24.0)
    assert list(made.best) == [0, 1]
    (pair,) = (option for option in made.options if option.chosen)
    assert pair.kinds == (0, 1)
    assert pair.hours == pytest.approx((2 * 0.75 + 2 * 0.5 * 2.0) / 60.0)
    assert pair.removal_hours == pytest.approx((2 * 0.3 + 2 * 0.3 * 2.0) / 60.0)
    assert pair.cost == pytest.approx(2 * 1.15 + 2 * 1.40)


def test_a_kind_without_a_price_comes_last_and_leaves_a_set_that_does_not_take_it_its_sums() -> None:
    made = compared(clips(None, 0.5), np.array([[True, True], [True, True]]))
    alone, priced, pair = made.options
    assert made.kinds == (1,)
    assert np.isnan([alone.price, alone.cost, alone.cost_per_year]).all()
    assert pair.pieces == (0, 4)
    assert (pair.price, pair.cost, pair.cost_per_year) == (priced.price, priced.cost, priced.cost_per_year)
    assert (pair.price, pair.cost_per_year) == pytest.approx((2.0, 0.2))


def test_a_fastener_is_paid_with_its_clip() -> None:
    """Two screws at 0.05 each on a clip at 0.30; a screw without a price costs nothing."""
    screwed = {"fasteners": 2, "price": 0.3}
    items = (
        fixing("priced", "screw-fixed clip", "both", 400.0, fastener_price=0.05, **screwed),
        fixing("not", "screw-fixed clip", "both", 400.0, **screwed),
    )
    assert Offers.of(items, None).price == pytest.approx([0.4, 0.3])
