"""Work zones as the map shows them: where each lies, what to take there, and what is done there in which order."""

from typing import Final

import numpy as np
import pandas as pd

from wirerun.records import Plan
from wirerun.tables import ZONES
from wirerun.write.html_map.columns import Packed, pack_numbers, pack_rings, pack_words
from wirerun.write.html_map.features import Origin, pack_lines, positions

EDGE_DEG: Final = 1e-6  # a zone's edge is kept to a tenth of a metre: it says where to work, not where to dig
ZONE_LINES: Final = (
    ("Rows", "rows"),
    ("Row length, level", "row_length_m"),
    ("Posts", "posts"),
    ("Two-way posts", "two_way_posts"),
    ("Labour hours", "hours"),
    ("People of the crew", "people"),
    ("Crew days", "days"),
)


def pack_zones(plan: Plan, origin: Origin) -> Packed:
    """Return the work zones: outline, card lines, materials and tasks.

    Parameters
    ----------
    plan : Plan
        Its zones, zone_materials and programme.
    origin : (float, float)
        Longitude and latitude that places are counted from. [deg]
    """
    zones = plan.zones.reset_index(drop=True)
    ids = zones["zone_id"]
    return {
        "id": [str(zone_id) for zone_id in ids],
        "block": positions(zones["block_id"], plan.blocks["block_id"]),
        "rings": [pack_rings(area, origin) for area in zones.geometry.simplify(EDGE_DEG)],
        "first": [str(row) for row in zones["first_row"]],
        "last": [str(row) for row in zones["last_row"]],
        "slope": pack_words(zones["slope_class"]),
        "lines": pack_lines(ZONES, zones, ZONE_LINES),
        "materials": _table(plan.zone_materials, ids, ("kind", "item", "unit"), {"quantity": 1}),
        "tasks": _table(
            plan.programme.sort_values(["zone_id", "step"], kind="stable"),
            ids,
            ("task", "unit", "note", "materials", "tools"),
            {"quantity": 1, "hours": 1, "people": 0},
        ),
    }


def _table(frame: pd.DataFrame, ids: pd.Series, words: tuple[str, ...], numbers: dict[str, int]) -> Packed:
    """Return a table that has several lines for each zone: the zone's position, words and numbers by column."""
    some = frame[frame["zone_id"].isin(ids)]
    return {
        "zone": positions(some["zone_id"], ids),
        **{name: pack_words(some[name]) for name in words},
        **{name: pack_numbers(some[name].to_numpy(dtype=np.float64), places) for name, places in numbers.items()},
    }
