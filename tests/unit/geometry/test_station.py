"""Places along lines, against shapely's own interpolation."""

import numpy as np
import pytest
from shapely import LineString
from wirerun.geometry.station import Paths

RNG = np.random.default_rng(11)
LINES = [np.cumsum(RNG.uniform(1.0, 20.0, (n, 2)) * (1.0, -0.7), axis=0) for n in (2, 5, 9, 2, 3)]


def test_places_agree_with_shapely() -> None:
    paths = Paths.from_lines(LINES)
    np.testing.assert_allclose(paths.length_m, [LineString(line).length for line in LINES])
    path = RNG.integers(0, len(LINES), 400)
    station = RNG.uniform(0.0, 1.0, 400) * paths.length_m[path]
    x, y = paths.place(path, station).stacked().T
    expected = [LineString(LINES[p]).interpolate(s) for p, s in zip(path, station, strict=True)]
    np.testing.assert_allclose(x, [point.x for point in expected], atol=1e-9)
    np.testing.assert_allclose(y, [point.y for point in expected], atol=1e-9)


def test_headings_are_the_differences_of_places() -> None:
    paths = Paths.from_lines(LINES)
    path = RNG.integers(0, len(LINES), 200)
    station = RNG.uniform(0.01, 0.99, 200) * paths.length_m[path]
    x0, y0 = paths.place(path, station).stacked().T
    x1, y1 = paths.place(path, station + 1e-6).stacked().T
    east, north = paths.heading(path, station)
    np.testing.assert_allclose((x1 - x0, y1 - y0), (east * 1e-6, north * 1e-6), atol=1e-9)


def test_ends_hold_and_straight_lines_know_it() -> None:
    paths = Paths.from_lines(LINES)
    every = np.arange(len(LINES))
    x, y = paths.place(every, paths.length_m + 5.0).stacked().T
    np.testing.assert_allclose(np.c_[x, y], [line[-1] for line in LINES])
    assert paths.is_straight.tolist() == [True, False, False, True, False]
    east, north = paths.heading(every, paths.length_m)
    assert np.hypot(east, north) == pytest.approx(1.0)


def test_straight_paths() -> None:
    paths = Paths.straight(np.array([[0.0, 0.0], [1.0, 1.0]]), np.array([[3.0, 4.0], [1.0, 11.0]]))
    assert paths.length_m.tolist() == [5.0, 10.0]
    x, y = paths.place(np.array([0, 1]), np.array([2.5, 4.0])).stacked().T
    assert np.c_[x, y].tolist() == [[1.5, 2.0], [1.0, 5.0]]


def test_prolonged_lines_go_on_straight_and_count_from_their_new_start() -> None:
    bent = Paths.from_lines([np.array([[0.0, 0.0], [3.0, 4.0], [3.0, 10.0]]), np.array([[1.0, 1.0], [5.0, 1.0]])])
    longer = bent.prolonged(2.5)
    np.testing.assert_allclose(longer.x_m, [-1.5, 3.0, 3.0, -1.5, 7.5])
    np.testing.assert_allclose(longer.y_m, [-2.0, 4.0, 12.5, 1.0, 1.0])
    np.testing.assert_allclose(longer.station_m, [0.0, 7.5, 16.0, 0.0, 9.0])


def test_some_lines_are_numbered_anew() -> None:
    three = Paths.from_lines([np.array([[0.0, y], [1.0, y], [2.0, y]]) for y in (0.0, 1.0, 2.0)])
    some = three.only(np.array([False, True, True]))
    assert some.path.tolist() == [0, 0, 0, 1, 1, 1]
    assert some.y_m.tolist() == [1.0, 1.0, 1.0, 2.0, 2.0, 2.0]
    np.testing.assert_array_equal(some.length_m, [2.0, 2.0])
