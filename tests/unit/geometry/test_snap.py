"""Points on rows, against a search through every row."""

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from wirerun.geometry.snap import snap_points

FloatArray = NDArray[np.float64]

ROWS = [np.array([[0.0, 0.0], [30.0, 0.0], [30.0, 40.0]]), np.array([[0.0, 2.4], [27.0, 2.4], [27.0, 40.0]])]


def test_worked_example() -> None:
    points = np.array([[5.0, 0.4], [30.2, 10.0], [26.9, 12.4], [-0.3, 0.4], [5.0, 1.2], [5.0, -3.0]])
    snapped = snap_points(ROWS, points, 0.5)
    assert snapped.row.tolist() == [0, 0, 1, 0, -1, -1]
    # Half way between two rows the first is nearest; beyond the end of a row, its end.
    assert snapped.nearest.tolist() == [0, 0, 1, 0, 0, 0]
    assert snapped.station_m.tolist() == pytest.approx([5.0, 40.0, 37.0, 0.0, 5.0, 5.0])
    assert snapped.distance_m.tolist() == pytest.approx([0.4, 0.2, 0.1, 0.5, 1.2, 3.0])
    assert snapped.used.tolist() == [True, True, True, True, False, False]


def test_the_second_of_two_points_in_one_place_is_told() -> None:
    along = [10.0, 20.25, 10.2, 20.0, 20.5, 9.8, 10.4]
    points = np.column_stack([along, np.full(len(along), 0.1)])
    snapped = snap_points(ROWS, points, 0.5)
    # In the order of the file: what stands 0.3 m or more from every point kept so far is kept.
    assert snapped.twin_of.tolist() == [-1, -1, 0, 1, 1, 0, -1]
    assert snapped.used.tolist() == [True, True, False, False, False, False, True]
    assert (snapped.row == 0).all()


def test_points_of_two_rows_are_no_twins() -> None:
    snapped = snap_points(ROWS, np.array([[10.0, 0.0], [10.0, 2.4]]), 0.5)
    assert snapped.twin_of.tolist() == [-1, -1]


def test_no_rows_no_points_and_a_point_that_is_none() -> None:
    point = np.array([[1.0, 1.0]])
    assert snap_points([], point, 1.0).row.tolist() == [-1]
    assert snap_points(ROWS, np.empty((0, 2)), 1.0).row.tolist() == []
    lost = snap_points(ROWS, np.array([[np.nan, 1.0], [1.0, 0.0]]), 1.0)
    assert lost.row.tolist() == [-1, 0]
    assert np.isnan(lost.distance_m[0])
    assert not lost.used[0]


@settings(max_examples=80, deadline=None)
@given(st.integers(0, 2**32 - 1), st.integers(1, 8), st.integers(1, 40), st.floats(0.0, 5.0))
def test_agrees_with_a_search_through_every_piece(seed: int, rows: int, count: int, limit_m: float) -> None:
    random = np.random.default_rng(seed)
    paths = [np.cumsum(random.normal(0.0, 3.0, (random.integers(2, 6), 2)), axis=0) for _ in range(rows)]
    points = random.normal(0.0, 6.0, (count, 2))
    snapped = snap_points(paths, points, limit_m)
    best_distance, best_station = _search(paths, points)
    nearest = best_distance.min(axis=0)
    np.testing.assert_allclose(snapped.distance_m, nearest, atol=1e-9)
    each = np.arange(count)
    np.testing.assert_allclose(best_distance[snapped.nearest, each], nearest, atol=1e-9)
    np.testing.assert_allclose(snapped.station_m, best_station[snapped.nearest, each], atol=1e-6)
    np.testing.assert_array_equal(snapped.row, np.where(snapped.distance_m <= limit_m, snapped.nearest, -1))
    # Every two posts of a row stand apart, and every twin close to the earlier point it names.
    for index in each[snapped.twin_of >= 0]:
        first = snapped.twin_of[index]
        assert first < index
        assert snapped.row[first] == snapped.row[index]
        assert abs(snapped.station_m[first] - snapped.station_m[index]) < 0.3
        assert snapped.used[first]
    for path in range(rows):
        assert (np.diff(np.sort(snapped.station_m[snapped.used & (snapped.row == path)])) >= 0.3).all()


def _search(paths: list[FloatArray], points: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return distance and station of every point on every row, shape (rows, points)."""
    distance, station = np.full((len(paths), len(points)), np.inf), np.zeros((len(paths), len(points)))
    for number, path in enumerate(paths):
        reached = 0.0
        for start, end in pairwise(path):
            step = end - start
            length = float(np.hypot(*step))
            share = np.clip((points - start) @ step / length**2, 0.0, 1.0)
            off = np.hypot(*(points - start - share[:, None] * step).T)
            nearer = off < distance[number]
            distance[number][nearer] = off[nearer]
            station[number][nearer] = reached + share[nearer] * length
            reached += length
    return distance, station
