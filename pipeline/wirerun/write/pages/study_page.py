"""The page of a study: measures against direction about the block's outline, the cases as a table, small maps."""

from pathlib import Path
from typing import Final

import numpy as np

from wirerun.arrays import FloatArray
from wirerun.model.study import Study
from wirerun.settings.study import BEARING_KEY
from wirerun.tables import Column
from wirerun.tables.study import MEASURES, MORE_IS_BETTER
from wirerun.write.html_map.columns import Packed, pack_numbers, pack_words
from wirerun.write.pages.document import document

# Rows that a small map shows, so that their direction can be seen: choice.
_MOST_DRAWN: Final = 45

#: How the measures are headed on a page.
HEADS: Final = {
    "rows": "rows",
    "row_length_m": "row length",
    "posts": "posts",
    "two_way_posts": "posts with two-way clips",
    "adjusters": "adjusters",
    "wire_m": "wire",
    "grade_mean_pct": "row grade, mean",
    "grade_p95_pct": "row grade, 95 % below",
    "grade_max_pct": "row grade, steepest",
    "cross_slope_p95_pct": "cross slope, 95 % below",
    "cost": "cost",
    "cross_slope_mean_pct": "cross slope, mean",
    "mean_row_m": "mean row",
    "short_rows": "short rows",
    "planted_pct": "area planted",
    "end_posts": "end posts",
    "turns": "turns",
    "steep_rows": "steep rows",
    "left_out_rows": "rows left out",
    "sun_floor_h": "sun in the alley's middle",
    "sun_side_h": "sun on the lesser side",
    "look_posts": "posts to look at",
    "hours": "labour hours",
    "warnings": "warnings",
}


def write_study_page(study: Study, path: Path) -> None:
    """Write the page: one HTML file, the same bytes for the same study.

    Parameters
    ----------
    study : Study
        What to show.
    path : Path
        The file to write; its folder must be there.
    """
    page = document(f"{study.config.name}: ways to plant", "study", study_data(study), ["study.css"])
    path.write_text(page, encoding="utf-8", newline="\n")


def study_data(study: Study) -> Packed:
    """Return what the page shows."""
    cases, currency = study.cases, study.config.catalogue.currency
    measures = [
        {
            "name": column.name,
            "head": HEADS[column.name],
            "unit": currency if column.unit == "currency" else column.unit,
            "meaning": column.meaning,
            "more": column.name in MORE_IS_BETTER,
            **pack_numbers(cases[column.name], _decimals(column)),
        }
        for column in MEASURES
        if cases[column.name].notna().any()
    ]
    bearing = cases[BEARING_KEY].astype("float64") if BEARING_KEY in study.keys else np.full(len(cases), np.nan)
    rules = [
        {"name": rule.id, "about": rule.about, "source": rule.source, **pack_numbers(cases[f"rule_{rule.id}"])}
        for rule in study.rules
    ]
    return {
        "name": study.config.name,
        "block": study.config.study.block,
        "keys": [{"name": key, "values": pack_words(cases[key].fillna(""))} for key in study.keys],
        "bearing": pack_numbers(bearing, 2),
        "measures": measures,
        "rules": rules,
        "wanted": list(study.measures),
        "case": pack_words(cases["case"]),
        "front": [front == "yes" for front in cases["front"]],
        "ruled_out": pack_words(cases["ruled_out"].fillna("")),
        "failed": pack_words(cases["failed"].fillna("")),
        "whole": [whole == "yes" for whole in cases["whole"]],
        "outlines": [_decimetres(ring) for ring in study.outlines],
        "maps": [
            {"case": case_id, "rows": [_decimetres(line) for line in lines[:: _every(len(lines))]]}
            for case_id, lines in study.lines.items()
        ],
    }


def _decimals(column: Column) -> int:
    """Decimals that a person reads of a measure."""
    return 0 if column.unit in ("m", "currency") or column.name == "hours" else min(column.decimals, 1)


def _every(rows: int) -> int:
    """Return which of so many rows a small map shows: every one, every second ..."""
    return -(-rows // _MOST_DRAWN) if rows else 1


def _decimetres(points: FloatArray) -> list[list[int]]:
    """Places in whole decimetres east and north: finer than a pixel of a small map."""
    return [[int(x), int(y)] for x, y in np.rint(10.0 * points)]
