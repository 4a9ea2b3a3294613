"""Numbers, points of the compass, lists of posts and thinned labels."""

import math
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st
from wirerun.write.cards.numbers import amount, compass, number, post_number, post_ranges, run_ends, thinned


@pytest.mark.parametrize(
    ("value", "decimals", "shown"),
    [(17.449, 1, "17.4"), (-0.04, 1, "0.0"), (None, 1, "\u2013"), (math.nan, 0, "\u2013"), (300.0, 0, "300")],
)
def test_numbers(value: float | None, decimals: int, shown: str) -> None:
    assert number(value, decimals) == shown


@given(st.floats(-1e5, 1e5), st.integers(0, 3))
def test_a_number_is_the_schedules_to_half_its_last_digit(value: float, decimals: int) -> None:
    assert float(number(value, decimals)) == pytest.approx(value, abs=0.5001 * 10.0**-decimals)


@pytest.mark.parametrize(("value", "shown"), [(12.0, "12"), (12.5, "12.5"), (12.345, "12.35"), (100.0, "100")])
def test_amounts(value: float, shown: str) -> None:
    assert float(amount(value)) == pytest.approx(float(shown), abs=0.006)
    assert len(amount(value)) == len(shown)


@pytest.mark.parametrize(
    ("bearing", "point"), [(0, "N"), (62, "ENE"), (242, "WSW"), (349, "N"), (348, "NNW"), (-90, "W")]
)
def test_points_of_the_compass(bearing: float, point: str) -> None:
    assert compass(bearing) == point


def test_post_numbers_are_read_out_of_ids() -> None:
    assert [post_number(name) for name in ("B01-R012-P007", "B01-R012b-P1203")] == [7, 1203]


@given(st.sets(st.integers(1, 60)))
def test_post_ranges_name_each_post_once(numbers: set[int]) -> None:
    named: list[int] = []
    for part in post_ranges(sorted(numbers)).split(", "):
        ends = [int(end.removeprefix("P")) for end in part.split("\u2013") if end]
        named += range(ends[0], ends[-1] + 1) if ends else []
    assert named == sorted(numbers)


@given(st.lists(st.tuples(st.floats(0.0, 100.0), st.floats(0.5, 9.0)), min_size=1, max_size=40))
def test_thinned_labels_keep_clear_of_each_other_and_leave_no_room_unused(labels: list[tuple[float, float]]) -> None:
    places, widths = [place for place, _ in labels], [wide for _, wide in labels]
    kept = thinned(places, widths, list(range(len(labels))), 0.8)
    assert kept[0] == 0

    def clear(one: int, two: int) -> bool:
        return abs(places[one] - places[two]) >= (widths[one] + widths[two]) / 2.0 + 0.8

    assert all(clear(one, two) for one in kept for two in kept if one != two)
    left_out = set(range(len(labels))) - set(kept)
    assert not any(all(clear(label, other) for other in kept) for label in left_out)


@given(st.lists(st.booleans(), max_size=30))
def test_run_ends_are_where_runs_begin_and_end(flags: list[bool]) -> None:
    padded = [False, *flags, False]
    starts = [place for place, (before, here) in enumerate(pairwise(padded)) if here and not before]
    ends = [place - 1 for place, (before, here) in enumerate(pairwise(padded)) if before and not here]
    assert run_ends(flags) == sorted([*starts, *ends])
