"""The rows in service, and as machines meet them, packed small for their sheets; nothing where nothing was asked."""

from collections.abc import Sequence
from typing import Final

import pandas as pd

from wirerun.records import Plan, WireOfBlocks
from wirerun.service_state import ServiceState
from wirerun.write.html_map.columns import Packed, pack_numbers, pack_words

_NEWTONS: Final = ("tension_n", "down_n", "up_n", "side_n")
_PERCENT: Final = ("fixing_used_pct", "knot_used_pct")
_WORDS: Final = ("gives_first", "at_post", "verdict")
_SLOPES: Final = ("grade_pct", "cross_slope_pct", "slope_pct", "most_grade_pct", "most_cross_pct", "most_slope_pct")


def pack_service(plan: Plan, wires: Sequence[WireOfBlocks], rows: pd.DataFrame) -> list[Packed]:
    """Return each state of service with the figures of each wire in it, a line per row.

    Parameters
    ----------
    plan : Plan
        Its `service`.
    wires : sequence of WireOfBlocks
        The wires in the order the page lists them.
    rows : DataFrame
        The rows in the order the page lists them.
    """
    there = set(plan.service["state"])
    return [
        {
            "state": str(state),
            "wires": [
                _figures(of_wire[of_wire["state"] == state], rows)
                for of_wire in (plan.lines_of(plan.service, wire) for wire in wires)
            ],
        }
        for state in ServiceState
        if state in there
    ]


def pack_machines(plan: Plan, rows: pd.DataFrame) -> list[Packed]:
    """Return each limit for machines with what it meets, a line per row."""
    return [
        {
            "limit": str(limit),
            "source": str(some["source"].iloc[0]),
            "verdict": pack_words(here["verdict"]),
            **{name: pack_numbers(here[name].astype("float64"), 1) for name in _SLOPES},
        }
        for limit, some in plan.machine_rows.groupby("limit", sort=False)
        for here in (some.set_index("row_id").reindex(rows["row_id"]),)
    ]


def _figures(some: pd.DataFrame, rows: pd.DataFrame) -> Packed:
    here = some.set_index("row_id").reindex(rows["row_id"])
    return {
        **{name: pack_numbers(here[name].astype("float64")) for name in (*_NEWTONS, *_PERCENT)},
        **{name: pack_words(here[name]) for name in _WORDS},
    }
