"""What a layout is worth: rows, grades, slopes, posts, wire, adjusters."""

from collections.abc import Sequence

import numpy as np

from wirerun.arrays import FloatArray
from wirerun.model.layout import Posts, Slopes
from wirerun.model.study import BlockLayout, RowGrades
from wirerun.rules.p95 import not_passed


def row_grades(posts: Posts, slopes: Slopes) -> RowGrades:
    """Grade of each row, and how far water may run along it one way.

    Example: posts at 0, 6, 12, 18 m on ground of 1.0, 0.7, 0.4, 0.7 m: grades -5, -5, +5 %; mean 5 %, the longest run
    12 m at 5 %.

    Parameters
    ----------
    posts : Posts
        Their places and heights.
    slopes : Slopes
        Slope of the ground at each row.
    """
    dx, rise, first = posts.dx_m, posts.rise_m, posts.first_span
    row = posts.row[posts.near]
    mean = 100.0 * np.add.reduceat(np.abs(rise), first) / np.add.reduceat(dx, first)
    # A stretch ends where the row does, or where the ground turns from falling to rising.
    begins = np.ones(len(dx), dtype=np.bool_)
    begins[1:] = (np.sign(rise[1:]) != np.sign(rise[:-1])) | (row[1:] != row[:-1])
    at = np.flatnonzero(begins)
    length = np.where(np.sign(rise[at]) == 0.0, 0.0, np.add.reduceat(np.hypot(dx, rise), at))
    grade = 100.0 * np.abs(np.add.reduceat(rise, at)) / np.add.reduceat(dx, at)
    order = np.lexsort((length, row[at]))
    longest = order[np.flatnonzero(np.diff(row[at][order], append=-1))]
    return RowGrades(mean, posts.steepest_pct, slopes.mean_pct, length[longest], grade[longest])


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
