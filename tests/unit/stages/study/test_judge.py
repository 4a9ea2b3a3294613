"""What rules a case out, and the front, against a search by hand."""

import datetime as dt
from typing import Any

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st
from wirerun.model.layout import RowGrades
from wirerun.settings.study import RowRule
from wirerun.stages.study.judge import breaks, front, ruled_out

EVERY = np.ones(3, dtype=np.bool_)


def rule(**bounds: Any) -> RowRule:  # noqa: ANN401 - any bound
    return RowRule(id="r", source="a test", date=dt.date(2026, 11, 29), **bounds)


def test_the_worked_example_of_the_front() -> None:
    cases = pd.DataFrame({"cost": [3.0, 2.0, 1.0], "short_rows": [1, 2, 2]})
    assert front(cases, ["cost", "short_rows"], EVERY).tolist() == [True, False, True]
    assert front(cases, ["cost"], EVERY).tolist() == [False, False, True]
    assert front(cases, ["cost"], np.array([True, True, False])).tolist() == [False, True, False]


def test_more_is_better_where_it_is() -> None:
    cases = pd.DataFrame({"planted_pct": [90.0, 92.0, np.nan]})
    assert front(cases, ["planted_pct"], EVERY).tolist() == [False, True, False]


@given(st.lists(st.tuples(*[st.integers(0, 4)] * 3), min_size=1, max_size=25))
def test_the_front_is_what_nothing_beats(values: list[tuple[int, int, int]]) -> None:
    names = ["cost", "posts", "turns"]
    made = front(pd.DataFrame(values, columns=names), names, np.ones(len(values), dtype=np.bool_))
    for at, one in enumerate(values):
        beaten = any(all(x <= y for x, y in zip(other, one, strict=True)) and other != one for other in values)
        assert made[at] != beaten


def test_limits_and_rules_say_why() -> None:
    cases = pd.DataFrame({"grade_max_pct": [9.0, 12.5, np.nan], "planted_pct": [95.0, 80.0, 95.0]})
    limits = {"grade_max_pct": 10.0, "planted_pct": 90.0}
    cover = rule(most_pct=10.0, allowed_pct=5.0)
    told = rule(most_pct=4.0).model_copy(update={"id": "told"})
    share = {"r": np.array([5.0, 5.1, 0.0]), "told": np.array([99.0, 99.0, 99.0])}
    made = ruled_out(cases, limits, [cover, told], share)
    assert made.tolist() == [
        "",
        "grade_max_pct 12.5 is above 10; planted_pct 80 is below 90; 5.1 % of the metres break the rule r, above 5 %",
        "",
    ]


def test_what_just_meets_a_limit_is_within_it() -> None:
    """Two short rows where two are allowed, 90 % planted where 90 are asked for, 5 % of the metres where 5 may."""
    cases = pd.DataFrame({"short_rows": [2, 3], "planted_pct": [90.0, 90.0]})
    made = ruled_out(
        cases, {"short_rows": 2.0, "planted_pct": 90.0}, [rule(most_pct=10.0, allowed_pct=5.0)], {"r": np.full(2, 5.0)}
    )
    assert made.tolist() == ["", "short_rows 3 is above 2"]


@pytest.mark.parametrize(
    ("bounds", "broken"),
    [
        ({"most_pct": 4.0}, [False, False, True]),
        ({"least_pct": 0.1}, [False, False, False]),
        ({"least_pct": 0.2}, [True, False, False]),
        ({"most_of_slope": 0.5}, [False, True, False]),
        ({}, [False, False, False]),
    ],
)
def test_a_row_breaks_a_rule_beyond_its_bounds(bounds: dict[str, float], broken: list[bool]) -> None:
    mean, slope = np.array([0.1, 4.0, 4.1]), np.array([1.0, 7.9, 20.0])
    grades = RowGrades(mean, mean, slope, mean, mean)
    assert breaks(rule(**bounds), grades).tolist() == broken
