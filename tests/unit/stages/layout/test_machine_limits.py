"""Machines between the rows: what a limit passes, and what 95 % of the posts do not."""

from collections.abc import Callable

import numpy as np
import pytest
from wirerun.arrays import words
from wirerun.findings import Findings
from wirerun.model.layout import Posts, Slopes
from wirerun.rules.p95 import not_passed
from wirerun.settings import MachineLimit, RowSettings
from wirerun.stages.layout.machine_limits import machine_rows
from wirerun.stages.layout.rows import note_steep_rows


def limit(name: str, **most: float) -> MachineLimit:
    return MachineLimit.model_validate({"id": name, "source": "my own", "date": "2026-11-29", **most})


def test_rows_are_held_against_each_limit(stand: Callable[..., Posts]) -> None:
    """Two rows: one rises by 6 % in one span, one is flat along; across they slope by 5 and by 20 %."""
    posts, notes = stand([0.0, 0.36, 0.36, 0.36], [0.0] * 4), Findings("B01")
    cross = np.repeat([-5.0, 20.0], 4)
    slopes = Slopes(np.repeat([3.0, 0.0], 4), cross, np.zeros(2), words([None, None]))
    limits = (
        limit("along", most_grade_pct=5.0),
        limit("across", most_cross_pct=18.0),
        limit("any", most_slope_pct=5.0),
    )
    found = machine_rows(posts, slopes, limits, notes)
    np.testing.assert_allclose(found.grade_pct, [6.0, 0.0])
    np.testing.assert_allclose(found.cross_pct, [5.0, 20.0])
    np.testing.assert_allclose(found.slope_pct, [np.hypot(3.0, 5.0), 20.0])
    assert found.over.tolist() == [[True, False], [False, True], [True, True]]
    assert [each.code for each in notes] == ["machine-limit"] * 3
    assert (
        "1 row is steeper than your limit along: more than 5 % along the row, up to 6.0 % (my own)" in notes[0].message
    )
    assert all("no safety determination" in each.message for each in notes)


def test_rows_that_are_steep_somewhere_are_told(stand: Callable[..., Posts]) -> None:
    """One falls by 6 % in one span, one rises by 4 %."""
    posts = stand([0.0, -0.36, -0.36], [0.0, 0.0, 0.24])
    for limit_pct, said in ((5.0, ["1 row is steeper than 5 % somewhere, up to 6.0 %: B01-R001."]), (6.5, [])):
        notes = Findings("B01")
        note_steep_rows(posts, RowSettings(spacing_m=2.4, bearing_deg=0.0, steep_grade_pct=limit_pct), notes)
        assert [note.message for note in notes] == said


def test_without_limits_nothing_is_told(stand: Callable[..., Posts]) -> None:
    posts, notes = stand([0.0] * 3), Findings("B01")
    slopes = Slopes(np.zeros(3), np.full(3, np.nan), np.zeros(1), words([None]))
    found = machine_rows(posts, slopes, (), notes)
    assert found.over.shape == (0, 1)
    assert np.isnan(found.cross_pct).all()
    assert not notes


@pytest.mark.parametrize("seed", range(5))
def test_what_95_percent_do_not_pass_by_counting(seed: int) -> None:
    rng = np.random.default_rng(seed)
    group = np.sort(rng.integers(0, 6, 200))
    values, weight = (rng.integers(*bounds, 200).astype(np.float64) for bounds in ((0, 30), (1, 5)))
    values[rng.random(200) < 0.1] = np.nan
    values[group == 2] = np.nan
    found = not_passed(values, weight, group, 7)
    for each in range(7):
        mine = (group == each) & ~np.isnan(values)
        if not mine.any():
            assert np.isnan(found[each])
            continue
        # Each value as often as it weighs, in order; the first that leaves at most 5 % above it.
        every = np.sort(np.repeat(values[mine], weight[mine].astype(int)))
        least = next(value for value in every if (every <= value).sum() >= 0.95 * len(every) - 1e-9)
        assert found[each] == least
