"""The page of a comparison: where plans differ, on a small map, and their totals side by side."""

from pathlib import Path
from typing import Any, Final

import pandas as pd

from wirerun.model.comparison import Against, Comparison
from wirerun.records import FinishedPlan
from wirerun.tables import CHANGES, POST_MARKS
from wirerun.write.html_map.columns import DEGREE_DECIMALS, Packed, pack_numbers, pack_words
from wirerun.write.pages.document import document

# Of more settings nobody reads the list on a page; the file of the record has them.
_MOST_SETTINGS: Final = 40


def write_comparison_page(comparison: Comparison, path: Path) -> None:
    """Write the page: one HTML file, the same bytes for the same comparison.

    Parameters
    ----------
    comparison : Comparison
        What to show.
    path : Path
        The file to write; its folder must be there.
    """
    names = [str(plan.record.get("name", "")) for plan in comparison.plans.values()]
    title = f"{' and '.join(dict.fromkeys(names))}: plans compared"
    page = document(title, "compare", comparison_data(comparison), ["beside.css", "compare.css"], with_map=True)
    path.write_text(page, encoding="utf-8", newline="\n")


def comparison_data(comparison: Comparison) -> Packed:
    """Return what the page shows."""
    totals, letters = comparison.totals, list(comparison.plans)
    first = next(iter(comparison.plans.values()))
    return {
        "title": "Plans compared",
        "words": {
            "added": ["posts added", "added"],
            "gone": ["posts gone", "gone"],
            "moved": ["posts moved, with where they stood", "moved"],
            "clips": ["posts that stay and get other clips", "other clips"],
            "numbers": ["posts of which only numbers differ", "only numbers differ"],
        },
        "plans": [
            {"letter": letter, "folder": plan.folder, "mark": str(plan.record.get("plan_mark", ""))}
            for letter, plan in comparison.plans.items()
        ],
        "totals": {
            "what": pack_words(totals["what"]),
            "unit": pack_words(totals["unit"]),
            "values": {letter: pack_numbers(totals[letter], 2) for letter in letters},
        },
        "against": [_against(first, comparison.plans[one.letter], one) for one in comparison.against],
    }


def _against(first: FinishedPlan, other: FinishedPlan, one: Against) -> Packed:
    posts = one.posts
    return {
        "letter": one.letter,
        "verdict": f"{one.letter} is the same plan as A: no line of any table differs."
        if one.equal
        else f"{one.letter} is not the same plan as A.",
        "settings": [list(setting) for setting in one.settings[:_MOST_SETTINGS]],
        "more_settings": max(0, len(one.settings) - _MOST_SETTINGS),
        "inputs": list(one.inputs),
        "uncompared": list(one.uncompared),
        "counts": {
            "head": "What came out, by id",
            "heads": ["Lines of", "same", *CHANGES],
            "lines": [
                [changes.table.replace("_", " "), changes.same, *map(changes.count, CHANGES)] for changes in one.tables
            ],
        },
        "rows": _rows(first, other, posts),
        "posts": {
            "id": pack_words(posts["post_id"]),
            "mark": [POST_MARKS.index(mark) for mark in posts["mark"]],
            "moved": pack_numbers(posts["moved_m"], 2),
            **{name: pack_numbers(posts[name], DEGREE_DECIMALS) for name in ("lon", "lat")},
            "earlier_lon": pack_numbers(posts["earlier_lon"], DEGREE_DECIMALS),
            "earlier_lat": pack_numbers(posts["earlier_lat"], DEGREE_DECIMALS),
            "clips": pack_words(posts["clips"]),
            "numbers": pack_words(posts["numbers"]),
        },
    }


def _rows(first: FinishedPlan, other: FinishedPlan, posts: pd.DataFrame) -> list[dict[str, Any]]:
    """Rows of both plans over their posts: where each runs in either, and whether it is another line."""
    old, new = _lines(first), _lines(other)
    elsewhere = set(posts.loc[posts["mark"].isin(["added", "gone", "moved"]), "row_id"])
    return [
        {"id": row_id, "before": old.get(row_id), "after": new.get(row_id), "same": row_id not in elsewhere}
        for row_id in dict.fromkeys([*old, *new])
    ]


def _lines(plan: FinishedPlan) -> dict[str, list[list[float]]]:
    """Latitude and longitude of the posts of each row, in order along it."""
    posts = plan.tables["posts"]
    numbers = posts[["station_m", "lat", "lon"]].astype("float64").assign(row_id=posts["row_id"])
    numbers = numbers.sort_values(["row_id", "station_m"], kind="stable")
    return {
        str(row_id): row[["lat", "lon"]].round(DEGREE_DECIMALS).to_numpy().tolist()
        for row_id, row in numbers.groupby("row_id", sort=False)
    }
