"""Points of the compass, lists of posts and thinned labels."""

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st
from wirerun.write.cards.numbers import compass, post_number, post_ranges, run_ends, thinned


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
