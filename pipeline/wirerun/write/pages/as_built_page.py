"""The page of posts as built: the small map of a comparison, with the plan before and what stands after."""

from pathlib import Path

import numpy as np
import pandas as pd

from wirerun.model.as_built import AsBuilt
from wirerun.tables import POST_MARKS, as_lines
from wirerun.tables.as_built import CLIP_CHANGES
from wirerun.write.html_map.columns import DEGREE_DECIMALS, Packed, pack_numbers, pack_words
from wirerun.write.pages.document import document

# Which mark of a comparison shows which of these.
_SHOWN: dict[str, str] = {"extra": "added", "missing": "gone", "moved": "moved", "stands": "numbers"}


def write_as_built_page(built: AsBuilt, path: Path) -> None:
    """Write the page: one HTML file, the same bytes for the same plan and survey.

    Parameters
    ----------
    built : AsBuilt
        What to show.
    path : Path
        The file to write; its folder must be there.
    """
    page = document(
        f"{built.plan.record.get('name', '')}: as built",
        "compare",
        as_built_data(built),
        ["beside.css", "compare.css"],
        with_map=True,
    )
    path.write_text(page, encoding="utf-8", newline="\n")


def as_built_data(built: AsBuilt) -> Packed:
    """Return what the page shows."""
    posts, clips = built.posts[built.posts["mark"] != "again"], built.clips
    said = (clips["wire_id"] + ": " + clips["change"]).groupby(clips["post_id"]).agg("; ".join)
    told = posts["post_id"].map(said) if len(said) else pd.Series(None, index=posts.index, dtype="object")
    mark = posts["mark"].map(_SHOWN).where(told.isna(), "clips")
    long = built.spans.set_index("from_post")["over_m"]
    over = posts["post_id"].map(long[~long.index.duplicated()]) if len(long) else pd.Series(np.nan, index=posts.index)
    numbers = [
        "; ".join(filter(None, (_offsets(line), "" if np.isnan(more) else f"next span {more:.2f} m over the limit")))
        for line, more in zip(as_lines(posts), over, strict=True)
    ]
    counts = [[f"posts: {name}", built.count(name)] for name in (*_SHOWN, "again")]
    counts += [["spans over the limit", len(built.spans)]]
    counts += [[f"clips: {name}", int((clips["change"] == name).sum())] for name in CLIP_CHANGES]
    moved = np.hypot(posts["along_m"], posts["across_m"])
    return {
        "title": "Posts as built",
        "plans": [{"letter": "A", "folder": built.plan.folder}, {"letter": "B", "folder": built.survey}],
        "words": {
            "added": ["posts surveyed, but not planned", "not planned"],
            "gone": ["posts planned, but not surveyed", "not surveyed"],
            "moved": ["posts moved, with where they were planned", "moved"],
            "clips": ["posts that ask for other clips", "asks for other clips"],
            "numbers": ["posts within 10 cm of their place", "within 10 cm of its place"],
        },
        "against": [
            {
                "letter": "B",
                "verdict": built.verdict,
                "counts": {"head": "What stands", "heads": ["", "count"], "lines": counts},
                "rows": _rows(posts),
                "posts": {
                    "id": pack_words(posts["post_id"]),
                    "mark": [POST_MARKS.index(name) for name in mark],
                    "moved": pack_numbers(moved, 2),
                    "lon": pack_numbers(posts["lon"], DEGREE_DECIMALS),
                    "lat": pack_numbers(posts["lat"], DEGREE_DECIMALS),
                    "earlier_lon": pack_numbers(posts["planned_lon"], DEGREE_DECIMALS),
                    "earlier_lat": pack_numbers(posts["planned_lat"], DEGREE_DECIMALS),
                    "clips": pack_words(told),
                    "numbers": pack_words(numbers),
                },
            }
        ],
    }


def _offsets(line: dict[str, object]) -> str:
    """What is known of one post, in words."""
    named = f"surveyed as {line['surveyed_as']}" if isinstance(line["surveyed_as"], str) else ""
    if np.isnan(float(str(line["along_m"]))):
        return named
    offsets = f"{line['along_m']:+.2f} m along, {line['across_m']:+.2f} m to the right"
    height = "" if np.isnan(float(str(line["height_m"]))) else f", {line['height_m']:+.2f} m in height"
    return f"{offsets}{height}; {named}"


def _rows(posts: pd.DataFrame) -> list[Packed]:
    """Rows over their planned posts."""
    planned = posts[posts["mark"] != "extra"]
    return [
        {
            "id": str(row_id),
            "before": row[["planned_lat", "planned_lon"]].round(DEGREE_DECIMALS).to_numpy().tolist(),
            "after": None,
            "same": True,
        }
        for row_id, row in planned.groupby("row_id", sort=False)
    ]
