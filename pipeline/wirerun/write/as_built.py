"""Posts as built on disk: the page, and the tables as CSV; and what they come to in words."""

from collections.abc import Iterator
from functools import partial
from pathlib import Path
from typing import Any, Final

import numpy as np
import pandas as pd

from wirerun.errors import printable
from wirerun.model.as_built import AsBuilt
from wirerun.tables import as_lines
from wirerun.tables.as_built import BUILT_CLIPS, BUILT_MARKS, BUILT_POSTS, BUILT_SPANS, CLIP_CHANGES
from wirerun.wording import many, number, plural
from wirerun.write.comparison import COMPARISON, check_comparison_target
from wirerun.write.pages import write_as_built_page
from wirerun.write.side_result import write_side_result

# A survey and a raster seldom agree better: choice.
_SHIFT_M: Final = 0.1


def write_as_built(built: AsBuilt, target: Path) -> Path:
    """Write the page and the tables to a folder, which appears whole or not at all, and return the folder.

    An earlier comparison there is replaced, nothing else is.

    Raises
    ------
    TargetError
        If the folder holds anything but an earlier comparison, or cannot be written.
    """
    check_comparison_target(target)
    tables = [(BUILT_POSTS, built.posts), (BUILT_SPANS, built.spans), (BUILT_CLIPS, built.clips)]
    page = ("compare.html", partial(write_as_built_page, built))
    return write_side_result(target, tables, page, _record(built), overwrite=True)


def _record(built: AsBuilt) -> dict[str, Any]:
    return {
        "kind": COMPARISON,
        "name": str(built.plan.record.get("name", "")),
        "plan": {"folder": built.plan.folder, "plan_mark": built.plan.record.get("plan_mark", "")},
        "survey": built.survey,
        "equal": built.as_planned,
        "posts": {mark: built.count(mark) for mark in BUILT_MARKS},
        "spans_over": len(built.spans),
        "clips": {change: int((built.clips["change"] == change).sum()) for change in CLIP_CHANGES},
        "rows_without_heights": list(built.without_heights),
        "height_shift_m": {block: round(shift, 3) for block, shift in built.height_shift_m.items()},
        "heights_rounded_to_m": built.rounded_m,
    }


def as_built_words(built: AsBuilt) -> str:
    """Return what stands otherwise than planned."""
    return "\n".join(printable(line) for line in _lines(built))


def _lines(built: AsBuilt) -> Iterator[str]:
    posts, clips = built.posts, built.clips
    stand = many(built.count("stands"), "post", "stand")
    yield f"{stand} within 10 cm of where planned"
    off = pd.Series(np.hypot(posts["along_m"].to_numpy(), posts["across_m"].to_numpy())).dropna()
    if built.count("moved"):
        yield f"{number(built.count('moved'))} stand elsewhere, up to {off.max():.2f} m off"
    if len(off):
        yield f"of those found, half are within {off.median():.2f} m and 95 % within {np.quantile(off, 0.95):.2f} m"
    for mark, words in (
        ("missing", "planned, not surveyed"),
        ("extra", "surveyed, not planned"),
        ("again", "measured a second time, of which the other counts"),
    ):
        if built.count(mark):
            yield f"{number(built.count(mark))} {words}"
    if len(built.spans):
        worst = as_lines(built.spans.nlargest(1, "over_m"))[0]
        spans = many(len(built.spans), "span")
        yield f"{spans} over the limit, the longest {worst['chord_m']:.2f} m from {worst['from_post']}"
    for change in CLIP_CHANGES:
        here = clips[clips["change"] == change]
        if len(here):
            at = here["post_id"].nunique()
            yield f"{number(len(here))} {plural(len(here), 'clip')} at {many(at, 'post')}: {change}"
    for block, shift in built.height_shift_m.items():
        if abs(shift) > _SHIFT_M:
            yield f"{block}: surveyed heights lie {shift:+.2f} m off the plan's; taken for another datum"
    if built.rounded_m is not None:
        yield f"surveyed heights are rounded to {built.rounded_m:.3g} m: too coarse to judge a clip by"
    if built.without_heights:
        yield f"clips of {many(len(built.without_heights), 'row')} not judged: a surveyed height is missing"
    if built.as_planned:
        yield built.verdict
