"""Grade of rows, and how far they fall one way, on ground that can be worked out by hand."""

import numpy as np
import pytest
from wirerun.geometry.places import PlaneXY
from wirerun.geometry.station import Paths
from wirerun.model.layout import Posts, Rows, Slopes
from wirerun.rules.row_grades import row_grades


def posts(*heights: list[float]) -> Posts:
    """Return rows with posts every 6 m eastward, at given heights."""
    row = np.repeat(np.arange(len(heights)), [len(one) for one in heights])
    station = np.concatenate([6.0 * np.arange(len(one)) for one in heights])
    place = PlaneXY(station.astype(np.float64), 2.5 * row.astype(np.float64))
    ends = [(0.0, 6.0 * (len(one) - 1)) for one in heights]
    start = np.array([[begin, 2.5 * at] for at, (begin, _) in enumerate(ends)])
    stop = np.array([[end, 2.5 * at] for at, (_, end) in enumerate(ends)])
    ids = np.array([f"B01-R{at + 1:03d}" for at in range(len(heights))], dtype=object)
    rows = Rows("B01", ids, np.full(len(ids), 90.0), stop[:, 0], Paths.straight(start, stop))
    names = np.array([f"P{at}" for at in range(len(row))], dtype=object)
    return Posts(rows, row, names, station, place, np.concatenate(heights), station, np.zeros(len(row)))


def test_grade_and_the_longest_run_of_each_row() -> None:
    standing = posts([1.0, 0.7, 0.4, 0.7], [0.0, 0.6], [2.0, 2.0, 1.7, 1.1])
    slopes = Slopes(*(np.zeros(len(standing)),) * 2, np.array([7.0, 12.0, 9.0]), np.full(3, None, dtype=object))
    made = row_grades(standing, slopes)
    assert made.mean_pct == pytest.approx([5.0, 10.0, 5.0])
    assert made.max_pct == pytest.approx([5.0, 10.0, 10.0])
    # Down 0.6 m over two spans; up 0.6 over one; level first, then down 0.9 m over two.
    run = [2 * np.hypot(6.0, 0.3), np.hypot(6.0, 0.6), np.hypot(6.0, 0.3) + np.hypot(6.0, 0.6)]
    assert made.run_m == pytest.approx(run)
    assert made.run_grade_pct == pytest.approx([5.0, 10.0, 7.5])


def test_of_two_rows_each_has_its_own_run() -> None:
    standing = posts([1.0, 0.7, 0.4], [0.0, 0.6])
    slopes = Slopes(*(np.zeros(len(standing)),) * 2, np.array([7.0, 12.0]), np.full(2, None, dtype=object))
    made = row_grades(standing, slopes)
    assert made.run_m == pytest.approx([2 * np.hypot(6.0, 0.3), np.hypot(6.0, 0.6)])
    assert made.run_grade_pct == pytest.approx([5.0, 10.0])
