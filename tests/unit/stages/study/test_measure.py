"""What a study measures of rows, on ground that can be worked out by hand."""

from typing import Any

import numpy as np
import pytest
from wirerun.geometry.places import PlaneXY
from wirerun.geometry.station import Paths
from wirerun.model.layout import Posts, Rows, Slopes
from wirerun.model.study import BlockLayout, RowGrades
from wirerun.stages.study.measure import measured, row_grades


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


def block(**changes: Any) -> BlockLayout:  # noqa: ANN401 - any field
    two = np.array([20.0, 100.0])
    fields: dict[str, Any] = {
        "block_id": "B01",
        "row_id": np.array(["a", "b"], dtype=object),
        "length_m": two,
        "bearing_deg": two,
        "grades": RowGrades(two, np.array([3.0, 25.0]), two, two, two),
        "span_m": np.array([19.0, 1.0]),
        "span_grade_pct": np.array([2.0, 10.0]),
        "cross_pct": np.array([5.0, np.nan, 7.0]),
        "posts": 25,
        "adjusters": 4,
        "left_out": 1,
        "wire_m": 300.0,
        "spacing_m": 2.5,
        "ground_m2": 400.0,
    }
    return BlockLayout(**(fields | changes))


def test_measures_of_two_blocks_together() -> None:
    made = measured([block(), block(spacing_m=2.0, ground_m2=200.0)], short_m=30.0, steep_pct=20.0)
    assert made["rows"] == 4
    assert made["row_length_m"] == 240.0
    assert made["mean_row_m"] == 60.0
    assert made["planted_pct"] == pytest.approx(100.0 * (120 * 2.5 + 120 * 2.0) / 600.0)
    assert (made["short_rows"], made["steep_rows"], made["turns"], made["end_posts"]) == (2, 2, 2, 8)
    assert made["grade_mean_pct"] == pytest.approx((19 * 2.0 + 10.0) / 20.0)
    # 95 % of the metres are no steeper than 2 %: the twentieth part is all that is.
    assert made["grade_p95_pct"] == 2.0
    assert made["grade_max_pct"] == 10.0
    assert made["cross_slope_mean_pct"] == 6.0
    assert made["cross_slope_p95_pct"] == 7.0


def test_no_row_at_all_has_no_grades() -> None:
    made = measured([], short_m=30.0, steep_pct=20.0)
    assert (made["rows"], made["posts"]) == (0, 0)
    assert np.isnan([made["grade_max_pct"], made["mean_row_m"], made["planted_pct"]]).all()
