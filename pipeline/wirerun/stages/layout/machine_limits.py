"""Which rows are steeper than what the user allows machines: along the row, across it, or whichever way."""

from collections.abc import Sequence

import numpy as np

from wirerun.arrays import FloatArray
from wirerun.findings import Findings, name_some
from wirerun.model.layout import MachineRows, Posts, Slopes
from wirerun.rules.p95 import not_passed
from wirerun.settings import MachineLimit
from wirerun.wording import many


def machine_rows(posts: Posts, slopes: Slopes, limits: Sequence[MachineLimit], notes: Findings) -> MachineRows:
    """Slopes of every row as machines meet them, and which limits of the user's they pass.

    The grade is that of the steepest span; across the row, and whichever way, it is what 95 % of the posts do not pass,
    as a study has it. A limit decides nothing: it is told.

    Parameters
    ----------
    posts : Posts
        The posts.
    slopes : Slopes
        Slope at each.
    limits : sequence of MachineLimit
        The user's.
    notes : Findings
        Hears of rows that pass them.
    """
    one, rows = np.ones(len(posts)), len(posts.rows)
    cross = not_passed(np.abs(slopes.cross_pct), one, posts.row, rows)
    slope = not_passed(np.hypot(slopes.grade_pct, slopes.cross_pct), one, posts.row, rows)
    measured = {"grade": posts.steepest_pct, "cross": cross, "slope": slope}
    over = np.zeros((len(limits), rows), dtype=np.bool_)
    for number, limit in enumerate(limits):
        for name, values in measured.items():
            most = getattr(limit, f"most_{name}_pct")
            if most is not None:
                over[number] |= values > most
        if over[number].any():
            notes.note("machine-limit", _told(limit, measured, posts, over[number]))
    return MachineRows(tuple(limits), measured["grade"], cross, slope, over)


def _told(limit: MachineLimit, measured: dict[str, FloatArray], posts: Posts, over: np.ndarray) -> str:
    words = {"grade": "along the row", "cross": "across it", "slope": "whichever way"}
    said = [
        f"more than {getattr(limit, f'most_{name}_pct'):g} % {words[name]}, up to {np.nanmax(values):.1f} %"
        for name, values in measured.items()
        if getattr(limit, f"most_{name}_pct") is not None and (values > getattr(limit, f"most_{name}_pct")).any()
    ]
    ids = posts.rows.row_id[over]
    return (
        f"{many(len(ids), 'row', 'are')} steeper than your limit {limit.id}: {'; '.join(said)} ({limit.source}). "
        f"That is no safety determination, and staying below it is none either: {name_some(ids)}."
    )
