"""What a study measures of rows, on ground that can be worked out by hand."""

from typing import Any

import numpy as np
import pytest
from wirerun.model.layout import RowGrades
from wirerun.model.study import BlockLayout
from wirerun.stages.study.measure import measured


def block(**changes: Any) -> BlockLayout:  # noqa: ANN401 - any field
    three = np.array([20.0, 25.0, 75.0])
    fields: dict[str, Any] = {
        "block_id": "B01",
        "row_id": np.array(["a", "b", "c"], dtype=object),
        "length_m": three,
        "bearing_deg": three,
        "grades": RowGrades(three, np.array([3.0, 25.0, 20.0]), three, three, three),
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
    """In each two rows of three are shorter than 30 m, and one is steeper than 20 %."""
    made = measured([block(), block(spacing_m=2.0, ground_m2=200.0)], short_m=30.0, steep_pct=20.0)
    assert made["rows"] == 6
    assert made["row_length_m"] == 240.0
    assert made["mean_row_m"] == 40.0
    assert made["planted_pct"] == pytest.approx(100.0 * (120 * 2.5 + 120 * 2.0) / 600.0)
    assert (made["short_rows"], made["steep_rows"], made["turns"], made["end_posts"]) == (4, 2, 4, 12)
    assert (made["posts"], made["adjusters"], made["wire_m"], made["left_out_rows"]) == (50, 8, 600.0, 2)
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
