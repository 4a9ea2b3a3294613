"""Posts fitted to the ground: cases worked by hand, what cannot be fitted, and what is refused."""

from dataclasses import replace

import numpy as np
import pytest
from wirerun.errors import MechanicsError
from wirerun.mechanics import FloatArray
from wirerun.mechanics.chain import solve_chain
from wirerun.mechanics.clearance import Clearance, low_spans
from wirerun.mechanics.supports import Supports
from wirerun.mechanics.wire import Wire, axial_stiffness, weight_per_m
from wirerun.optimise.placing import Fit, SpanLimits, fit_posts
from wirerun.optimise.post_costs import FitPrices, PostLimits, WireLoad, row_costs

WEIGHT = float(weight_per_m(2.5))
PAIR = WireLoad(1000.0, WEIGHT, lines=2, clipped=True)
FRUITING = WireLoad(800.0, WEIGHT, lines=1, clipped=False)
LIMITS = PostLimits(hold_down_n=5.0, uplift_limit_n=1e4)
PRICES = FitPrices(post=10.0, two_way_clip=2.0, hold_down=25.0, breach=40.0)
SPANS = SpanLimits(2.0, 6.1)  # 6 m with a rise of 0.5 m is 6.02 m in space
LOW_WIRE = Clearance(least_m=0.3, height_m=0.6, tension_n=300.0, weight_n_per_m=WEIGHT)


def one_row(heights: list[float], step_m: float = 2.0) -> Supports:
    x: FloatArray = np.arange(0.0, len(heights)) * step_m
    return Supports(x, np.array(heights, dtype=np.float64), np.zeros(len(heights), dtype=np.int64))


def stations(fit: Fit, places: Supports) -> list[float]:
    return [float(x) for x in places.x_m[fit.chosen]]


HOLLOW = one_row([0.0, 0.0, 0.0, -0.5, 0.0, 0.0, 0.0])
CREST = one_row([0.0, 0.0, 0.0, 0.5, 0.0, 0.0, 0.0])


def test_a_hollow_is_spanned_where_two_way_clips_cost_more_than_a_post() -> None:
    # One post must stand at 6 m, in the hollow: 1000 N x 2 x 0.083 = 166 N up. Two posts at the evenest spans stand
    # level. Two wires in a pair and one more line: three two-way clips.
    wires = (PAIR, WireLoad(500.0, WEIGHT, lines=1, clipped=True), FRUITING)
    dear = fit_posts(HOLLOW, SPANS, wires, LIMITS, replace(PRICES, two_way_clip=3.4))
    assert stations(dear, HOLLOW) == [0.0, 4.0, 8.0, 12.0]
    assert dear.cost.tolist() == [20.0]
    cheap = fit_posts(HOLLOW, SPANS, wires, LIMITS, replace(PRICES, two_way_clip=3.3))
    assert stations(cheap, HOLLOW) == [0.0, 6.0, 12.0]
    assert cheap.cost.tolist() == [19.9]
    # At the same cost the fewer posts win: 10 + 2 x 5 is 10 + 10.
    even = fit_posts(HOLLOW, SPANS, (PAIR,), LIMITS, replace(PRICES, two_way_clip=5.0))
    assert stations(even, HOLLOW) == [0.0, 6.0, 12.0]


def test_a_post_that_is_pulled_out_counts_all_lines_stapled_ones_too() -> None:
    # By hand at 6 m: sine 0.5/sqrt(36.25); pair and fruiting wire, weight of 6 m run each. 463.7 N up.
    lean, pressed = 2.0 * 0.5 / 36.25**0.5, 36.0 / 36.25**0.5
    up = (2.0 * (1000.0 - 0.5 * WEIGHT) + 800.0 - 0.5 * WEIGHT) * lean - 3.0 * WEIGHT * pressed
    two = one_row([0.0, -0.5, 0.0], 6.0)
    for limit, held in ((up - 0.01, 1.0), (up + 0.01, 0.0)):
        costs = row_costs(two, None, (PAIR, FRUITING), PostLimits(5.0, limit), PRICES)
        assert costs.held_posts.tolist() == [held]
        assert costs.two_way_posts.tolist() == [1.0]
        assert costs.cost.tolist() == [10.0 + 2 * 2.0 + 25.0 * held]
    fit = fit_posts(HOLLOW, SPANS, (PAIR, FRUITING), PostLimits(5.0, up - 0.01), replace(PRICES, two_way_clip=0.0))
    assert stations(fit, HOLLOW) == [0.0, 4.0, 8.0, 12.0]


def test_a_stapled_wire_needs_no_two_way_clip() -> None:
    fit = fit_posts(HOLLOW, SPANS, (replace(PAIR, clipped=False),), LIMITS, replace(PRICES, two_way_clip=1000.0))
    assert stations(fit, HOLLOW) == [0.0, 6.0, 12.0]
    assert fit.cost.tolist() == [10.0]


def test_a_crest_takes_a_post_so_that_the_wire_stays_off_the_ground() -> None:
    # Posts at 4 and 8 m would leave the wire 0.6 - 0.5 m less 3 mm of sag above the crest: a breach of 40.
    fit = fit_posts(CREST, SPANS, (PAIR,), LIMITS, PRICES, LOW_WIRE)
    assert stations(fit, CREST) == [0.0, 6.0, 12.0]
    assert fit.cost.tolist() == [10.0]
    # Where every post costs more than two breaches, spans get as long as they can.
    long = one_row([0.0, 0.5, 0.0, 0.0, 0.5, 0.0])
    spans = SpanLimits(2.0, 8.1)
    fit = fit_posts(long, spans, (PAIR,), LIMITS, replace(PRICES, post=100.0), LOW_WIRE)
    assert stations(fit, long) == [0.0, 2.0, 10.0]
    assert fit.cost.tolist() == [140.0]
    fit = fit_posts(long, spans, (PAIR,), LIMITS, replace(PRICES, post=30.0), LOW_WIRE)
    # A post on each crest: the ground between is lower, and both pull down.
    assert stations(fit, long) == [0.0, 2.0, 8.0, 10.0]
    assert fit.cost.tolist() == [60.0]


def test_clearance_is_chord_less_sag_at_the_places_between() -> None:
    # Span of 12 m rising 1.2 m, wire at 0.6 m: at 3 m the chord is 0.9 m up, the sag w 3 x 9 x 1.01/(2 T).
    posts = one_row([0.0, 1.2], 12.0)
    sag = WEIGHT * 3.0 * 9.0 * 1.01 / 600.0
    for ground, low in ((0.6 - sag + 1e-6, True), (0.6 - sag - 1e-6, False)):
        x, z = np.array([0.0, 3.0, 12.0, 15.0]), np.array([9.0, ground, 9.0, 9.0])
        points = Supports(x, z, np.zeros(4, dtype=np.int64))
        assert low_spans(posts, points, LOW_WIRE).tolist() == [low]
    # At mid-span this is the familiar w chord^2/(8 T).
    sag = WEIGHT * 6.0 * 6.0 * 1.01 / 600.0
    assert sag == pytest.approx(WEIGHT * (144.0 + 1.44) / (8.0 * 300.0), rel=1e-12)


def test_low_spans_finds_the_span_of_each_point_in_its_own_row() -> None:
    posts = Supports(np.array([0.0, 6.0, 12.0, 0.0, 5.0]), np.zeros(5), np.array([2, 2, 2, 5, 5]))
    ground_row = np.array([1, 2, 2, 2, 5, 5, 9])
    x, z = np.array([3.0, 2.0, 9.0, 13.0, 1.0, 4.0, 2.0]), np.array([9.0, 0.0, 0.5, 9.0, np.nan, 0.0, 9.0])
    assert low_spans(posts, Supports(x, z, ground_row), LOW_WIRE).tolist() == [False, True, False]


def test_a_plane_takes_as_few_posts_as_can_be_evenly() -> None:
    places = one_row([0.3 * 1.2 * k for k in range(31)], 1.2)
    fit = fit_posts(places, SpanLimits(1.0, 6.3), (PAIR, FRUITING), PostLimits(0.0, 0.0), PRICES, LOW_WIRE)
    # 1.2 m steps are 1.2528 m on the slope: five of them fit into 6.3 m, and 30 = 6 x 5.
    assert np.flatnonzero(fit.chosen).tolist() == [0, 5, 10, 15, 20, 25, 30]
    assert fit.cost.tolist() == [50.0]
    fit = fit_posts(places, SpanLimits(1.0, 6.0), (PAIR, FRUITING), PostLimits(0.0, 0.0), PRICES, LOW_WIRE)
    # Four fit: 8 spans, as even as 30 steps go, the shorter ones first.
    assert np.diff(np.flatnonzero(fit.chosen)).tolist() == [3, 3, 4, 4, 4, 4, 4, 4]


def test_rows_do_not_touch_each_other_and_lengths_may_differ() -> None:
    rng = np.random.default_rng(3)
    sizes = [30, 1, 2, 55, 12, 13, 41]
    row = np.repeat([0, 3, 4, 5, 8, 9, 10], sizes)
    x = np.concatenate([np.cumsum(rng.uniform(0.9, 1.5, size)) for size in sizes])
    z = rng.normal(0.0, 0.2, x.size)
    wires = (replace(PAIR, tension_n=rng.uniform(200.0, 900.0, 7)), FRUITING)
    low = replace(LOW_WIRE, tension_n=rng.uniform(100.0, 300.0, 7))
    limits = PostLimits(5.0, 150.0)
    together = fit_posts(Supports(x, z, row), SPANS, wires, limits, PRICES, low)
    for number, name in enumerate(np.unique(row)):
        mine = row == name
        own = replace(wires[0], tension_n=float(np.asarray(wires[0].tension_n)[number]))
        own_low = replace(low, tension_n=float(np.asarray(low.tension_n)[number]))
        alone = fit_posts(Supports(x[mine], z[mine], row[mine]), SPANS, (own, FRUITING), limits, PRICES, own_low)
        np.testing.assert_array_equal(alone.chosen, together.chosen[mine])
        assert alone.cost[0] == together.cost[number]
    assert together.cost[[1, 2]].tolist() == [0.0, 0.0]


def test_a_row_of_one_span_has_its_end_posts_only() -> None:
    places = one_row([0.0, 1.0], 5.0)
    fit = fit_posts(places, SpanLimits(5.5, 6.0), (PAIR,), LIMITS, PRICES, LOW_WIRE)
    assert fit.chosen.tolist() == [True, True]  # shorter than the shortest span, but the last of its row
    assert fit.cost.tolist() == [0.0]


def test_the_last_span_may_be_short_and_no_other() -> None:
    places = one_row([0.0] * 8, 1.0)
    fit = fit_posts(places, SpanLimits(3.0, 3.0), (PAIR,), LIMITS, PRICES)
    assert stations(fit, places) == [0.0, 3.0, 6.0, 7.0]


def test_a_row_with_a_missing_height_and_one_with_too_wide_a_gap_are_not_fitted() -> None:
    x = np.array([0.0, 2.0, 4.0, 0.0, 2.0, 9.0, 0.0, 2.0, 4.0])
    z = np.array([0.0, np.nan, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0])
    row = np.repeat([0, 1, 2], 3)
    fit = fit_posts(Supports(x, z, row), SPANS, (PAIR,), LIMITS, PRICES, LOW_WIRE)
    assert fit.fitted.tolist() == [False, False, True]
    assert fit.chosen.tolist() == [False] * 6 + [True, False, True]
    np.testing.assert_array_equal(fit.cost, [np.nan, np.nan, 0.0])
    costs = row_costs(Supports(x, z, row), None, (PAIR,), LIMITS, PRICES)
    np.testing.assert_array_equal(np.isnan(costs.cost), [True, False, False])
    assert costs.posts[1:].tolist() == [1.0, 1.0]


def test_no_rows_and_no_wires() -> None:
    nothing = one_row([])
    assert fit_posts(nothing, SPANS, (PAIR,), LIMITS, PRICES, LOW_WIRE).cost.size == 0
    assert row_costs(nothing, None, (PAIR,), LIMITS, PRICES).cost.size == 0
    assert fit_posts(HOLLOW, SPANS, (), PostLimits(0.0, 0.0), PRICES).cost.tolist() == [10.0]


def test_needs_agree_with_the_exact_chain_except_on_the_limit() -> None:
    rng = np.random.default_rng(5)
    row = np.repeat(np.arange(50), 40)
    x = np.cumsum(rng.uniform(4.0, 7.0, row.size))
    z = 0.3 * x + rng.normal(0.0, 0.2, row.size)
    chain = solve_chain(Supports(x, z, row), Wire(WEIGHT, float(axial_stiffness(2.5))), 400.0)
    wire = WireLoad(400.0, WEIGHT, lines=1, clipped=True)
    below, above = ((chain.clip_load_n < -5.0 + shift) for shift in (-0.01, 0.01))
    costs = row_costs(Supports(x, z, row), None, (wire,), LIMITS, PRICES)
    sums = [np.bincount(row, weights=count) for count in (below, above)]
    assert (sums[0] <= costs.two_way_posts).all()
    assert (costs.two_way_posts <= sums[1]).all()
    assert costs.two_way_posts.sum() > 300.0
    # The tension grows uphill as it does in the chain: without that the loads are off by newtons.
    assert np.ptp(chain.support_tension_n) > 20.0


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"spans": SpanLimits(7.0, 6.0)}, "Spans from 7 to 6 m are no limits"),
        ({"spans": SpanLimits(0.0, 0.0)}, "Spans from 0 to 0 m are no limits"),
        ({"spans": SpanLimits(0.0, np.nan)}, "Spans from 0 to nan m"),
        ({"prices": replace(PRICES, post=-1.0)}, "post must be 0 or more and finite, but is -1"),
        ({"prices": replace(PRICES, breach=1e13)}, "too high to add up"),
        ({"limits": PostLimits(-5.0, 10.0)}, "hold_down_n must be 0 or more"),
        ({"limits": PostLimits(5.0, np.inf)}, "uplift_limit_n must be 0 or more"),
        ({"wires": (replace(PAIR, tension_n=0.0),)}, "tension_n must be above 0"),
        ({"wires": (replace(PAIR, tension_n=np.ones(3)),)}, "one for each of 1 rows"),
        ({"wires": (replace(PAIR, tension_n=0.1),)}, "Support 3 .* lies 0.5 m below .* 0.1 N"),
        ({"clearance": replace(LOW_WIRE, tension_n=-1.0)}, "Clearance: tension_n must be above 0"),
    ],
)
def test_refusals(change: dict[str, object], words: str) -> None:
    given: dict[str, object] = {
        "places": HOLLOW,
        "spans": SPANS,
        "wires": (PAIR,),
        "limits": LIMITS,
        "prices": PRICES,
        "clearance": LOW_WIRE,
    }
    with pytest.raises(MechanicsError, match=words):
        fit_posts(**(given | change))  # type: ignore[arg-type]


def test_low_must_be_one_answer_per_span() -> None:
    with pytest.raises(MechanicsError, match="each of 6 spans"):
        row_costs(HOLLOW, np.zeros(7, dtype=np.bool_), (PAIR,), LIMITS, PRICES)
