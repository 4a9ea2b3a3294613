"""Where posts stand on rows of 96 m, on planes and on a bend whose lengths one can work out."""

import numpy as np
import pytest
from wirerun.arrays import FloatArray
from wirerun.geometry.row_ground import RowGround
from wirerun.model.layout import Stations
from wirerun.settings import PostSettings
from wirerun.stages.layout.placing import place_equal, place_on_baseline, place_on_vines, vine_places

from tests.unit.stages.layout.test_known_ground import CELL_M, HALF_M, SIDE, ground_of, rows_of

EAST: FloatArray = (np.arange(SIDE, dtype=np.float64) + 0.5) * CELL_M - HALF_M
# Rows start at x = -48. By 3-4-5 a grade of 75 % makes 96 m in plan 120 m along the slope.
STEEP = 0.75


def rows_on(profile: FloatArray, rows: int = 1, beside: FloatArray | None = None) -> RowGround:
    """Rows 4 m apart over ground that rises along them alike; beside x = 0 north of the first row otherwise."""
    heights = np.tile(300.0 + profile, (SIDE, 1))
    if beside is not None:
        heights[: SIDE // 2] = 300.0 + beside
    offsets = np.linspace(-2.0, 4.1 * rows - 6.1, rows)
    return RowGround(ground_of(heights, np.ones((SIDE, SIDE), dtype=np.bool_)), rows_of(offsets).paths)


FLAT = 0.0 * EAST


def posts(**changes: float) -> PostSettings:
    return PostSettings.model_validate({"max_span_m": 6.0, "vine_spacing_m": 1.2} | changes)


def on_row(stations: Stations, row: int = 0) -> list[float]:
    return [round(float(at), 3) for at in stations.station_m[stations.row == row]]


@pytest.mark.parametrize(
    ("grade", "limit_m", "spans"), [(0.0, 6.0, 16), (0.0, 5.99, 17), (STEEP, 6.0, 20), (STEEP, 7.0, 18)]
)
def test_as_few_spans_as_the_limit_allows_and_all_alike(grade: float, limit_m: float, spans: int) -> None:
    """96/6 = 16 and 120/6 = 20 just fit; 96/5.99 and 120/7 want one more."""
    found = place_equal(rows_on(grade * EAST, rows=2), posts(max_span_m=limit_m))
    for row in (0, 1):
        assert on_row(found, row) == pytest.approx(np.linspace(0.0, 96.0, spans + 1), abs=2e-3)


def test_where_the_grade_changes_spans_are_alike_along_the_slope() -> None:
    """48 m flat and 48 m at 75 %, 60 m along the slope: 108 m, 18 spans of 6 m, eight of them flat and ten steep."""
    found = on_row(place_equal(rows_on(STEEP * np.maximum(EAST, 0.0)), posts()))
    assert len(found) == 19
    assert np.diff(found)[:7] == pytest.approx(np.full(7, 6.0), abs=0.01)
    assert np.diff(found)[9:] == pytest.approx(np.full(9, 4.8), abs=0.01)


def test_where_no_spans_are_short_enough_each_post_stands_once_all_the_same() -> None:
    """A step of 10 m: whichever span crosses it is longer than 6 m. The spans on both sides of it are not."""
    step: FloatArray = np.where(EAST > 0.3, 10.0, 0.0)
    found: FloatArray = np.array(on_row(place_equal(rows_on(step), posts())), dtype=np.float64)
    assert (found[0], found[-1]) == (0.0, 96.0)
    assert 17 < len(found) < 25
    assert (np.diff(found) > 0.1).all()
    assert np.diff(found).max() < 6.0


def test_posts_line_up_across_rows_at_whole_multiples_from_the_baseline() -> None:
    """A row that starts 2.5 m beyond the baseline has its first post 3.5 m on, one 9 m before it 3 m on."""
    found = place_on_baseline(rows_on(FLAT, rows=3), posts(), np.array([0.0, 2.5, -9.0]))
    assert on_row(found, 0) == [6.0 * n for n in range(17)]
    assert on_row(found, 1) == [0.0, *(3.5 + 6.0 * n for n in range(16)), 96.0]
    assert on_row(found, 2) == [0.0, *(3.0 + 6.0 * n for n in range(16)), 96.0]


def test_the_steepest_span_decides_the_distance_for_all_rows() -> None:
    """At 75 % 4.8 m in plan are 6 m along the slope; the flat row beside has the same marks."""
    found = place_on_baseline(rows_on(FLAT, rows=2, beside=STEEP * EAST), posts(), np.zeros(2))
    assert on_row(found, 0) == pytest.approx([4.8 * n for n in range(21)], abs=1e-3)
    assert on_row(found, 1) == pytest.approx([4.8 * n for n in range(21)], abs=1e-3)


@pytest.mark.parametrize("way", [1.0, -1.0])
def test_a_post_crowded_against_an_end_is_left_out_where_the_span_stays_within_its_limit(way: float) -> None:
    """Marks 0.3 m from both ends of the flat row: without them 5.1 m.

    Up or down the slope that would be 6.4 m: they stand.
    """
    found = place_on_baseline(rows_on(FLAT, rows=2, beside=way * STEEP * EAST), posts(), np.array([4.5, 4.5]))
    assert on_row(found, 0)[:2] == [0.0, pytest.approx(5.1, abs=1e-3)]
    assert on_row(found, 1)[:3] == [0.0, pytest.approx(0.3, abs=1e-3), pytest.approx(5.1, abs=1e-3)]
    wide = place_on_baseline(rows_on(FLAT, rows=2, beside=STEEP * EAST), posts(), np.array([4.2, 4.2]))
    assert on_row(wide, 0)[:2] == [0.0, pytest.approx(0.6, abs=1e-3)]


@pytest.mark.parametrize(
    ("grade", "vine_m", "step_m", "whole"), [(0.0, 1.2, 1.2, 80), (STEEP, 1.2, 0.96, 100), (0.0, 1.1, 1.1, 87)]
)
def test_vines_stand_at_their_spacing_along_the_slope(grade: float, vine_m: float, step_m: float, whole: int) -> None:
    """87 vines of 1.1 m end at 95.7: the far end of the row is a place for a post too."""
    found = on_row(vine_places(rows_on(grade * EAST), posts(vine_spacing_m=vine_m)))
    assert found[: whole + 1] == pytest.approx([step_m * n for n in range(whole + 1)], abs=3e-3)
    assert found[-1] == 96.0
    assert len(found) == whole + (2 if vine_m == 1.1 else 1)


def test_each_row_has_vines_of_its_own() -> None:
    """80 gaps of 1.2 m on the flat row, 100 of 0.96 m on the steep one beside it."""
    found = vine_places(rows_on(FLAT, rows=2, beside=STEEP * EAST), posts())
    assert on_row(found, 0) == pytest.approx([1.2 * n for n in range(81)], abs=3e-3)
    assert on_row(found, 1) == pytest.approx([0.96 * n for n in range(101)], abs=3e-3)


def test_with_a_baseline_vines_line_up_in_plan() -> None:
    found = vine_places(rows_on(STEEP * EAST), posts(), np.array([0.5]))
    assert on_row(found)[:3] == [0.0, 0.7, 1.9]


def test_posts_on_every_so_many_vines_and_the_remainder_at_the_far_end() -> None:
    """Five vines of 1.2 m in 6 m, four in 5.9; 17 spans of 5.5 m, and 2.5 m are left."""
    ground = rows_on(FLAT)
    places = vine_places(ground, posts())
    assert on_row(place_on_vines(ground, places, posts())) == [6.0 * n for n in range(17)]
    assert on_row(place_on_vines(ground, places, posts(max_span_m=5.9))) == pytest.approx([4.8 * n for n in range(21)])
    odd = posts(vine_spacing_m=1.1)
    found = on_row(place_on_vines(ground, vine_places(ground, odd), odd))
    assert found == pytest.approx([*(5.5 * n for n in range(18)), 96.0], abs=3e-3)
