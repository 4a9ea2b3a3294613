"""Even parts: against every possible partition, cases worked by hand, and what is refused."""

from collections.abc import Sequence
from itertools import combinations, pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from wirerun.errors import MechanicsError
from wirerun.mechanics import IntArray
from wirerun.optimise.partition import split_evenly

Case = tuple[list[int], int, list[bool]]


@st.composite
def cases(draw: st.DrawFn) -> Case:
    """Whole weights, small enough that many partitions tie; a number of parts; walls."""
    weights = draw(st.lists(st.integers(0, 6) | st.integers(0, 1000), min_size=1, max_size=10))
    walls = draw(st.lists(st.booleans(), min_size=len(weights) - 1, max_size=len(weights) - 1))
    return weights, draw(st.integers(sum(walls) + 1, len(weights))), walls


def _every(weights: Sequence[int], parts: int, walls: Sequence[bool]) -> tuple[int, list[int]]:
    """Least cost of all partitions in whole numbers, and of those that have it the one the docstring promises."""
    forced = {place + 1 for place, wall in enumerate(walls) if wall}
    found = []
    for cuts in combinations(range(1, len(weights)), parts - 1):
        if forced <= set(cuts):
            bounds = [0, *cuts, len(weights)]
            sums = [sum(weights[bounds[part] : bounds[part + 1]]) for part in range(parts)]
            found.append((sum(load**2 for load in sums), cuts[::-1], bounds))
    cost, _, bounds = min(found)
    return cost, [part for part in range(parts) for _ in range(bounds[part], bounds[part + 1])]


def _cost(weights: Sequence[int], part: IntArray) -> int:
    sums = [0] * (int(part[-1]) + 1)
    for weight, number in zip(weights, part, strict=True):
        sums[number] += weight
    return sum(load**2 for load in sums)


def _split(weights: Sequence[float], parts: int, walls: Sequence[bool] | None = None) -> IntArray:
    return split_evenly(
        np.array(weights, dtype=np.float64), parts, walls=None if walls is None else np.array(walls, bool)
    )


@given(cases())
def test_against_every_partition_with_walls(case: Case) -> None:
    weights, parts, walls = case
    assert _split(weights, parts, walls).tolist() == _every(weights, parts, walls)[1]


@given(cases())
def test_against_every_partition_without_walls(case: Case) -> None:
    weights, parts, walls = case
    assert _split(weights, parts).tolist() == _every(weights, parts, [False] * len(walls))[1]


@given(cases())
def test_reversed_it_costs_the_same(case: Case) -> None:
    weights, parts, walls = case
    back = _split(weights[::-1], parts, walls[::-1])
    assert _cost(weights[::-1], back) == _cost(weights, _split(weights, parts, walls))


@given(cases(), st.sampled_from([0.1, 0.01, 1e-6, 7.0, 0.25, 1.3, 1e6, 1e-80, 1e90]))
def test_scaled_weights_are_cut_in_the_same_places(case: Case, factor: float) -> None:
    # Tenths and hundredths are no binary fractions: 0.1 + 0.2 is not 0.3, and would decide ties.
    weights, parts, walls = case
    scaled = _split([weight * factor for weight in weights], parts, walls)
    assert scaled.tolist() == _split(weights, parts, walls).tolist()


@given(st.lists(st.just(0.0) | st.floats(1e-6, 1e3), min_size=1, max_size=9), st.data())
def test_any_weights_against_every_partition(weights: list[float], data: st.DataObject) -> None:
    parts = data.draw(st.integers(1, len(weights)))
    part = _split(weights, parts)
    assert np.unique(part).tolist() == list(range(parts))
    assert (np.diff(part) >= 0).all()
    cost = (np.bincount(part, weights) ** 2).sum()
    bounds = [[0, *cuts, len(weights)] for cuts in combinations(range(1, len(weights)), parts - 1)]
    every = [sum(sum(weights[a:b]) ** 2 for a, b in pairwise(ends)) for ends in bounds]
    # Rounding to the unit, at most 1/3e8 of the total, may cost a little.
    assert cost <= min(every) + 1e-7 * sum(weights) ** 2


def _plain(weights: IntArray, parts: int, walls: Sequence[bool]) -> int:
    """Least cost by the plain recurrence over all cuts, in whole numbers of any size."""
    total = [0, *np.cumsum(weights).tolist()]
    cost: list[int | None] = [0] + [None] * len(weights)
    for _ in range(parts):
        new: list[int | None] = [None] * len(cost)
        for end in range(1, len(cost)):
            tried = []
            for cut in range(end - 1, -1, -1):
                before = cost[cut]
                if before is not None:
                    tried.append(before + (total[end] - total[cut]) ** 2)
                if cut and walls[cut - 1]:
                    break
            new[end] = min(tried, default=None)
        cost = new
    assert cost[-1] is not None
    return cost[-1]


@pytest.mark.parametrize(("parts", "most"), [(7, 9), (12, 10**7), (60, 10**7), (119, 3)])
def test_longer_rows_against_the_plain_recurrence(parts: int, most: int) -> None:
    rng = np.random.default_rng(parts)
    weights = rng.integers(0, most, 120, endpoint=True)
    walls = (rng.random(119) < 0.03).tolist()
    assert 0 < sum(walls) < parts
    for wall in ([False] * 119, walls):
        assert _cost(weights.tolist(), _split(weights.tolist(), parts, wall)) == _plain(weights, parts, wall)


def test_known_answers() -> None:
    # By hand: 4, 5, 3 is the closest to 4, 4, 4 there is.
    assert _split([3, 1, 1, 4, 2, 1], 3).tolist() == [0, 0, 1, 1, 2, 2]
    assert _split([1] * 6, 3).tolist() == [0, 0, 1, 1, 2, 2]
    # 1 4 | 2 | 8 has squares of 93; 1 | 4 2 | 8 has 101, 1 | 4 | 2 8 has 117.
    assert _split([1, 4, 2, 8], 3).tolist() == [0, 0, 1, 2]
    # 3 1 | 3 | 3 2 and 3 | 1 3 | 3 2 both have 50, with the last cut in the same place: the earlier first cut counts.
    assert _split([3, 1, 3, 3, 2], 3).tolist() == [0, 1, 1, 2, 2]
    assert _split([9, 1, 1, 1], 2).tolist() == [0, 1, 1, 1]
    # A wall after the first item leaves 1 | 1 1 1 1 to be cut once more.
    assert _split([1] * 5, 3, [True, False, False, False]).tolist() == [0, 1, 1, 2, 2]
    assert _split([5.0], 1, []).tolist() == [0]
    assert _split([2, 7, 1], 3).tolist() == [0, 1, 2]


def test_of_equals_the_earlier_last_cut() -> None:
    # 1 | 2 1 and 1 2 | 1 cost the same; in tenths 0.1 + 0.2 is not 0.3 and rounding would choose.
    assert _split([0.1, 0.2, 0.1], 2).tolist() == [0, 1, 1]
    assert _split([0.0] * 5, 3).tolist() == [0, 1, 2, 2, 2]
    # Items without weight belong to neither side: the later part takes them.
    assert _split([4, 0, 0, 4], 2).tolist() == [0, 1, 1, 1]


def test_the_greatest_total_taken_unit_for_unit() -> None:
    # 3e9 units: the square of the total, 9e18, is just below 2^63.
    weights = np.random.default_rng(5).integers(0, 4 * 10**7, 120)
    weights[-1] = 3 * 10**9 - weights[:-1].sum()
    assert weights[-1] > 0
    for parts in (2, 9, 40):
        assert _cost(weights.tolist(), _split(weights.tolist(), parts)) == _plain(weights, parts, [False] * 119)


def test_thousands_of_heavy_items() -> None:
    # The square of this total is 4e23, far beyond 2^63. Equal weights have the answer known.
    part = _split([123_456_789.0] * 5000, 250)
    np.testing.assert_array_equal(np.bincount(part), np.full(250, 20))


@pytest.mark.parametrize("bad", [-1.0, float("nan"), float("inf")])
def test_impossible_weights_are_named(bad: float) -> None:
    with pytest.raises(MechanicsError, match=rf"weights must be 0 or more and finite, but is {bad:g} at index 1\."):
        _split([1.0, bad, 2.0], 2)


def test_too_great_a_weight_is_named() -> None:
    with pytest.raises(MechanicsError, match=r"weights must be at most 1e\+100, but is 2e\+100 at index 1\."):
        _split([1.0, 2e100], 2)


@pytest.mark.parametrize(("parts", "walls"), [(0, [False, False]), (4, [False, False]), (2, [True, True])])
def test_impossible_numbers_of_parts_are_refused(parts: int, walls: list[bool]) -> None:
    least = sum(walls) + 1
    message = rf"parts must be from {least} \({least - 1} walls\) to 3 \(items\), but is {parts}\."
    with pytest.raises(MechanicsError, match=message):
        _split([1.0, 2.0, 3.0], parts, walls)


def test_wrong_shapes_are_refused() -> None:
    with pytest.raises(MechanicsError, match=r"walls must have shape \(2,\) for 3 items, but have \(3,\)\."):
        _split([1.0, 2.0, 3.0], 2, [False, True, False])
    with pytest.raises(MechanicsError, match=r"weights must be one list of at least one item, but have shape \(0,\)\."):
        _split([], 1)
    with pytest.raises(MechanicsError, match=r"have shape \(1, 2\)\."):
        split_evenly(np.ones((1, 2)), 1)
