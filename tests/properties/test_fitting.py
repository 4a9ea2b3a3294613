"""Posts fitted to the ground against every choice there is, written out one by one; and what must always hold."""

import itertools
import math
from dataclasses import dataclass, replace
from statistics import NormalDist
from typing import NamedTuple

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from wirerun.mechanics import BoolArray, FloatArray, IntArray
from wirerun.mechanics.clearance import Clearance, low_spans
from wirerun.mechanics.supports import Supports
from wirerun.optimise.placing import SpanLimits, fit_posts
from wirerun.optimise.post_costs import Expected, FitPrices, PostLimits, RowCosts, WireLoad, row_costs


@dataclass(frozen=True)
class Case:
    """One row or many, and everything that decides its posts."""

    places: Supports
    spans: SpanLimits
    wires: tuple[WireLoad, ...]
    limits: PostLimits
    prices: FitPrices
    clearance: Clearance
    expected: Expected | None = None


def draw_case(seed: int, places: Supports) -> Case:
    """Random wires, limits and prices; every fifth price is nothing, many are whole numbers, so that costs tie."""
    rng = np.random.default_rng(seed)
    wires = tuple(
        WireLoad(
            float(rng.uniform(150.0, 900.0)),
            float(rng.choice([0.2, 0.378])),
            int(rng.integers(1, 3)),
            clipped=bool(rng.random() < 0.6),
        )
        for _ in range(int(rng.integers(1, 4)))
    )
    low, high = np.sort(rng.uniform(1.0, 6.5, 2))
    price = [
        (0.0, float(rng.integers(1, 5)), rng.uniform(0.0, 9.0))[rng.choice(3, p=[0.2, 0.4, 0.4])] for _ in range(4)
    ]
    return Case(
        places,
        SpanLimits(float(rng.choice([0.0, low])), float(max(high, 3.0))),
        wires,
        PostLimits(float(rng.uniform(0.0, 20.0)), float(rng.uniform(0.0, 150.0))),
        FitPrices(*price),
        Clearance(float(rng.uniform(0.2, 0.6)), 0.7, float(rng.uniform(50.0, 300.0)), 0.378),
    )


def short_row(rng: np.random.Generator) -> Supports:
    """Up to eleven places, on a lattice or not, on rough ground or level."""
    size = int(rng.integers(2, 12) if rng.random() < 0.5 else 11)
    even = rng.random() < 0.5
    x: FloatArray = np.arange(0.0, size) * 1.2 if even else np.cumsum(rng.uniform(0.4, 3.0, size))
    z: FloatArray = rng.uniform(-0.3, 0.3) * x + rng.choice([0.0, 0.05, 0.3]) * rng.normal(size=size)
    return Supports(x, np.asarray(z), np.zeros(size, dtype=np.int64))


def scalar_load(case: Case, wire: WireLoad, before: int, at: int, after: int) -> float:
    """Load of one line on one post."""
    x, z = case.places.x_m.tolist(), case.places.z_m.tolist()
    tension = float(wire.tension_n) + wire.weight_n_per_m * (z[at] - z[0])
    z = z if case.expected is None else case.expected.z_m.tolist()
    load = 0.0
    for beside in (before, after):
        chord = math.hypot(x[beside] - x[at], z[beside] - z[at])
        load += 0.5 * wire.weight_n_per_m * (x[beside] - x[at]) ** 2 / chord - tension * (z[beside] - z[at]) / chord
    return load


def scalar_post(case: Case, before: int, at: int, after: int) -> tuple[bool, bool]:
    """Whether one post needs two-way clips, and whether it must be held down."""
    loads = [scalar_load(case, wire, before, at, after) for wire in case.wires]
    pairs = list(zip(case.wires, loads, strict=True))
    two_way = any(wire.clipped and load < -case.limits.hold_down_n for wire, load in pairs)
    return two_way, sum(wire.lines * load for wire, load in pairs) < -case.limits.uplift_limit_n


def scalar_clips(case: Case, before: int, at: int, after: int) -> int:
    """What the clips of one post cost, in millionths: two-way ones, or the chance to miss them."""
    lines = sum(wire.lines for wire in case.wires if wire.clipped)
    two_way, missed = (lines * round(1e6 * each) for each in (case.prices.two_way_clip, case.prices.missed_clip))
    if case.expected is None:
        return two_way * scalar_post(case, before, at, after)[0]
    x, chance = case.places.x_m, 0.0
    one, other = 1.0 / (x[at] - x[before]), 1.0 / (x[after] - x[at])
    for wire in (wire for wire in case.wires if wire.clipped):
        tension = float(wire.tension_n) + wire.weight_n_per_m * (case.places.z_m[at] - case.places.z_m[0])
        off = tension * case.expected.error_m[at] * math.hypot(one, other, one + other)
        load = scalar_load(case, wire, before, at, after)
        chance = max(chance, NormalDist(load, off).cdf(-case.limits.hold_down_n))
    return min(two_way, round(missed * chance))


def scalar_low(case: Case, near: int, far: int) -> bool:
    """Whether the lowest wire of one span comes too close to the ground at a place between."""
    x, z, wire = case.places.x_m.tolist(), case.places.z_m.tolist(), case.clearance
    run, rise = x[far] - x[near], z[far] - z[near]
    for at in range(near + 1, far):
        share = (x[at] - x[near]) / run
        sag = 4.0 * share * (1.0 - share) * wire.weight_n_per_m * (run**2 + rise**2) / (8.0 * float(wire.tension_n))
        if z[near] + share * rise + wire.height_m - sag - z[at] < wire.least_m:
            return True
    return False


def scalar_chord_mm(case: Case, near: int, far: int) -> float:
    x, z = case.places.x_m, case.places.z_m
    return 1000.0 * math.hypot(x[far] - x[near], z[far] - z[near])


def every_choice(case: Case) -> tuple[int, int, int, tuple[int, ...]] | None:
    """Least of all choices: cost in millionths, posts, sum of squared spans, places; None if none is allowed."""
    last = case.places.rows.size - 1
    parts = [round(1e6 * price) for price in (case.prices.post, case.prices.hold_down, case.prices.breach)]
    keys = []
    for count in range(last):
        for inner in itertools.combinations(range(1, last), count):
            posts = (0, *inner, last)
            spans = [scalar_chord_mm(case, *pair) for pair in itertools.pairwise(posts)]
            if max(spans) > 1000.0 * case.spans.max_m + 1.0 or min(spans[:-1], default=np.inf) < (
                1000.0 * case.spans.min_m - 1.0
            ):
                continue
            of_post = [posts[k - 1 : k + 2] for k in range(1, count + 1)]
            low = sum(scalar_low(case, *pair) for pair in itertools.pairwise(posts))
            cost = count * parts[0] + low * parts[2]
            cost += sum(scalar_clips(case, *here) + parts[1] * scalar_post(case, *here)[1] for here in of_post)
            keys.append((cost, count, sum(round(span) ** 2 for span in spans), posts))
    return min(keys, default=None)


def price(case: Case, chosen: BoolArray) -> RowCosts:
    """Cost of chosen places by `row_costs`."""
    x, z, row = case.places.x_m, case.places.z_m, case.places.rows.number
    posts = Supports(x[chosen], z[chosen], row[chosen])
    low = low_spans(posts, case.places, case.clearance)
    expected = None if case.expected is None else Expected(*(each[chosen] for each in case.expected))
    return row_costs(posts, low, case.wires, case.limits, case.prices, expected)


def fit(case: Case) -> tuple[BoolArray, FloatArray]:
    """Chosen places and cost."""
    found = fit_posts(case.places, case.spans, case.wires, case.limits, case.prices, case.clearance, case.expected)
    return found.chosen, found.cost


@pytest.mark.parametrize("block", range(6))
def test_no_choice_is_better_and_ties_go_as_told(block: int) -> None:
    allowed = dear = 0
    for seed in range(100 * block, 100 * (block + 1)):
        case = draw_case(seed, short_row(np.random.default_rng(seed + 10_000)))
        chosen, cost = fit(case)
        best = every_choice(case)
        if best is None:
            assert np.isnan(cost[0]), seed
            assert not chosen.any(), seed
            continue
        allowed += 1
        dear += best[0] > round(1e6 * case.prices.post) * best[1]
        assert tuple(np.flatnonzero(chosen)) == best[3], seed
        assert cost[0] == best[0] / 1e6, seed
        assert price(case, chosen).cost[0] == cost[0], seed
    # The cases mean something: most rows can be fitted, and in many a post needs more than itself.
    assert allowed > 70
    assert dear > 15


def test_no_choice_is_better_where_the_ground_is_expected_to_be_other_than_seen() -> None:
    between = 0
    for seed in range(120):
        rng = np.random.default_rng(seed + 20_000)
        drawn = draw_case(seed, short_row(rng))
        size = drawn.places.rows.size
        ground = drawn.places.z_m + rng.normal(0.0, 0.03, size)
        prices = replace(drawn.prices, missed_clip=drawn.prices.two_way_clip * rng.choice([1.0, 2.0, 20.0]))
        case = replace(drawn, prices=prices, expected=Expected(ground, rng.uniform(0.002, 0.05, size)))
        chosen, cost = fit(case)
        best = every_choice(case)
        if best is None:
            assert np.isnan(cost[0]), seed
            continue
        # A probability may come out a millionth of its price apart on each post.
        assert cost[0] == pytest.approx(best[0] / 1e6, abs=2e-6 * size), seed
        assert price(case, chosen).cost[0] == cost[0], seed
        posts = price(case, chosen)
        between += 0.0 < cost[0] - posts.posts[0] * case.prices.post < case.prices.two_way_clip
    assert between > 10


class Places(NamedTuple):
    """Where posts may stand: station along the row, and row."""

    station_m: FloatArray
    row: IntArray


def vine_places(length_m: FloatArray, vine_m: float) -> Places:
    """Start of each row, every vine, and the far end."""
    lines = [np.append(np.arange(0.0, length - 0.2, vine_m), length) for length in length_m]
    return Places(np.concatenate(lines), np.repeat(np.arange(len(lines)), [len(line) for line in lines]))


def vine_grid(places: Supports, max_span_m: float) -> BoolArray:
    """A post on every so many vines, as many as keep all spans of the row within the limit."""
    x, z, row = places.x_m, places.z_m, places.rows.number
    keep = np.zeros(len(x), dtype=np.bool_)
    for number in np.unique(row):
        at = np.flatnonzero(row == number)
        for every in range(len(at), 0, -1):
            posts = np.unique(np.append(at[::every], at[-1]))
            if np.hypot(np.diff(x[posts]), np.diff(z[posts])).max() <= max_span_m + 1e-3:
                break
        keep[posts] = True
    return keep


def block_of_rows(seed: int, roughness_m: float) -> Supports:
    """Twenty rows of 12 to 80 m on vine places, rough ground on a slope."""
    rng = np.random.default_rng(seed)
    places = vine_places(rng.uniform(12.0, 80.0, 20), 1.2)
    wave = np.sin(places.station_m / rng.uniform(2.0, 9.0) + places.row)
    z = rng.uniform(-0.4, 0.4) * places.station_m + roughness_m * (wave + 0.2 * rng.normal(size=places.row.size))
    return Supports(places.station_m, z, places.row)


@settings(max_examples=60, deadline=None)
@given(seed=st.integers(0, 10**6), roughness=st.sampled_from([0.0, 0.02, 0.1, 0.4]))
def test_claimed_cost_is_the_cost_and_never_above_the_vine_grid(seed: int, roughness: float) -> None:
    places = block_of_rows(seed, roughness)
    drawn = draw_case(seed, places)
    case = replace(drawn, spans=SpanLimits(1.0, max(drawn.spans.max_m, 3.5)))
    chosen, cost = fit(case)
    assert not np.isnan(cost).any()
    np.testing.assert_array_equal(price(case, chosen).cost, cost)
    grid = vine_grid(places, case.spans.max_m)
    assert (cost <= price(case, grid).cost).all()


@settings(max_examples=60, deadline=None)
@given(seed=st.integers(0, 10**6), roughness=st.sampled_from([0.02, 0.1, 0.4]), more=st.floats(0.0, 4.0))
def test_wider_limits_and_higher_prices_go_one_way(seed: int, roughness: float, more: float) -> None:
    case = draw_case(seed, block_of_rows(seed, roughness))
    _, cost = fit(case)
    reached = ~np.isnan(cost)
    spans = case.spans
    for wider in (SpanLimits(spans.min_m, spans.max_m + more), SpanLimits(spans.min_m / (1.0 + more), spans.max_m)):
        freer = fit(replace(case, spans=wider))[1]
        assert (freer[reached] <= cost[reached]).all()
    # Each at the other's prices: neither is beaten at home.
    dearer = replace(case, prices=replace(case.prices, two_way_clip=case.prices.two_way_clip + more))
    assert (fit(dearer)[1][reached] >= cost[reached]).all()


@settings(max_examples=40, deadline=None)
@given(seed=st.integers(0, 10**6), slope=st.floats(-0.6, 0.6), lift=st.floats(-50.0, 3000.0))
def test_planes_take_the_fewest_posts_whatever_the_prices(seed: int, slope: float, lift: float) -> None:
    rng = np.random.default_rng(seed)
    x, row = vine_places(rng.uniform(6.5, 60.0, 10), 1.2)
    plane = Supports(x, lift + slope * x, row)
    drawn = draw_case(seed, plane)
    # A plane asks for nothing but posts; half a newton covers rounding of heights of kilometres.
    case = replace(drawn, spans=SpanLimits(0.0, 6.0), limits=PostLimits(0.5, 0.5))
    chosen, cost = fit(case)
    posts = np.bincount(row[chosen]) - 2
    assert (posts <= np.bincount(row[vine_grid(plane, 6.0)]) - 2).all()
    length = np.array([np.hypot(1.0, slope) * x[row == number][-1] for number in range(10)])
    # As few as vines allow: so many whole vines fit into a span, half a vine may be left over in the last.
    vine = 1.2 * np.hypot(1.0, slope)
    most = np.floor((6.0 + 1e-3) / vine) * vine
    np.testing.assert_array_less(posts, np.ceil(length / most - 1e-6) + 1.0)
    assert (posts >= np.ceil(length / (6.0 + 1e-3) - 1e-6) - 1.0).all()
    np.testing.assert_allclose(cost, posts * case.prices.post, atol=1e-4)


@settings(max_examples=30, deadline=None)
@given(seed=st.integers(0, 10**6))
def test_raising_the_ground_and_reversing_a_row_change_no_cost(seed: int) -> None:
    rng = np.random.default_rng(seed)
    rough = block_of_rows(seed, 0.2)
    # Heights in binary steps, so that raising them changes no digit; no weight, so that no end is the tighter one.
    places = rough.at_heights(np.round(rough.z_m * 1024.0) / 1024.0)
    drawn = draw_case(seed, places)
    case = replace(
        drawn,
        spans=SpanLimits(0.0, drawn.spans.max_m),
        wires=tuple(replace(wire, weight_n_per_m=0.0) for wire in drawn.wires),
    )
    chosen, cost = fit(case)
    raised = places.at_heights(places.z_m + float(rng.integers(-100, 3000)))
    raised_chosen, raised_cost = fit(replace(case, places=raised))
    np.testing.assert_array_equal(raised_chosen, chosen)
    np.testing.assert_array_equal(raised_cost, cost)
    row = places.rows.number
    turned = Supports(100.0 - places.x_m[::-1], places.z_m[::-1], row.max() - row[::-1])
    np.testing.assert_allclose(fit(replace(case, places=turned))[1][::-1], cost, atol=1e-5)
