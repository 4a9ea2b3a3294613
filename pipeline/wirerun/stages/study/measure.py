"""What a layout is worth: rows, grades, slopes, posts, wire, adjusters."""

from collections.abc import Sequence

import numpy as np

from wirerun.arrays import FloatArray
from wirerun.model.study import BlockLayout
from wirerun.rules.p95 import not_passed


def measured(blocks: Sequence[BlockLayout], short_m: float, steep_pct: float) -> dict[str, float]:
    """Measures of a case that its layout and its wires tell, all blocks together; those of the clips are not in it.

    Parameters
    ----------
    blocks : sequence of BlockLayout
        Its blocks, such as have rows.
    short_m : float
        Rows shorter than this are short. [m]
    steep_pct : float
        Grade of a span from which on a row is steep. [%]
    """
    length = _joined([block.length_m for block in blocks])
    span, grade = (_joined([getattr(block, name) for block in blocks]) for name in ("span_m", "span_grade_pct"))
    cross = _joined([block.cross_pct for block in blocks])
    cross = cross[~np.isnan(cross)]
    steepest = _joined([block.grades.max_pct for block in blocks])
    ground = sum(block.ground_m2 for block in blocks)
    planted = sum(float(block.length_m.sum()) * block.spacing_m for block in blocks)
    return {
        "rows": len(length),
        "row_length_m": float(length.sum()),
        "posts": sum(block.posts for block in blocks),
        "adjusters": sum(block.adjusters for block in blocks),
        "wire_m": sum(block.wire_m for block in blocks),
        "grade_mean_pct": _mean(grade, span),
        "grade_p95_pct": _not_passed(grade, span),
        "grade_max_pct": float(grade.max()) if len(grade) else np.nan,
        "cross_slope_p95_pct": _not_passed(cross, np.ones(len(cross))),
        "cross_slope_mean_pct": _mean(cross, np.ones(len(cross))),
        "mean_row_m": float(length.mean()) if len(length) else np.nan,
        "short_rows": int((length < short_m).sum()),
        "planted_pct": 100.0 * planted / ground if ground else np.nan,
        "end_posts": 2 * len(length),
        "turns": sum(max(0, len(block.length_m) - 1) for block in blocks),
        "steep_rows": int((steepest > steep_pct).sum()),
        "left_out_rows": sum(block.left_out for block in blocks),
    }


def _joined(parts: Sequence[FloatArray]) -> FloatArray:
    return np.concatenate([np.zeros(0), *parts])


def _mean(values: FloatArray, weight: FloatArray) -> float:
    return float(np.average(values, weights=weight)) if len(values) else np.nan


def _not_passed(values: FloatArray, weight: FloatArray) -> float:
    return float(not_passed(values, weight, np.zeros(len(values), dtype=np.int64), 1)[0])
