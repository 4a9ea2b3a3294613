"""The one dictionary of columns: name, kind, unit, decimals, whether it may be empty, and what it means.

The checks between stages, the CSV headers, the field comments of the GeoPackage and the data dictionary come from here.
Lengths are ground metres; `length_m` and `horizontal_m` lie in the horizontal, `slope_length_m` and `chord_m` in space.
"""

from typing import Final

from wirerun.tables.column import Column, Kind, Table, as_lines, conform, empty
from wirerun.tables.compare import CHANGES, DIFFERENCES, POST_CHANGES, POST_MARKS, totals_table
from wirerun.tables.layout import FINDINGS, LEFT_OUT, ORIGINS, POSTS, ROW_IDS, ROWS, SECTIONS, SPANS
from wirerun.tables.service import EXPOSURES, MACHINE_ROWS, SERVICE, SERVICE_POSTS, VERDICTS
from wirerun.tables.supply import (
    BLOCK_COSTS,
    COIL_OPTIONS,
    COILS,
    COSTS,
    FIXING_OPTIONS,
    MATERIAL_KINDS,
    MATERIALS,
    SPARE_PARTS,
    STOCK_LEFT,
    ZONE_MATERIALS,
)
from wirerun.tables.wire import (
    ADJUSTERS,
    CLIP_KINDS,
    CLIPS,
    HOLD_DOWN_OPTIONS,
    LET_DOWN,
    LIFTS,
    OF_STATE,
    SEATS,
    STRAIN_FROM,
    TENSION_CHECK,
    USES,
    WAYS_DOWN,
    WIRES,
)
from wirerun.tables.work import PROGRAMME, SEASON, ZONES

__all__ = [
    "ADJUSTERS",
    "ALL_TABLES",
    "ASKED_FOR",
    "BLOCK_COSTS",
    "CHANGES",
    "CLIPS",
    "CLIP_KINDS",
    "COILS",
    "COIL_OPTIONS",
    "COSTS",
    "DIFFERENCES",
    "EXPOSURES",
    "FINDINGS",
    "FIXING_OPTIONS",
    "HOLD_DOWN_OPTIONS",
    "LEFT_OUT",
    "LET_DOWN",
    "LIFTS",
    "MACHINE_ROWS",
    "MATERIALS",
    "MATERIAL_KINDS",
    "OF_STATE",
    "ORIGINS",
    "POSTS",
    "POST_CHANGES",
    "POST_MARKS",
    "PROGRAMME",
    "ROWS",
    "ROW_IDS",
    "SEASON",
    "SEATS",
    "SECTIONS",
    "SERVICE",
    "SERVICE_POSTS",
    "SPANS",
    "SPARE_PARTS",
    "STOCK_LEFT",
    "STRAIN_FROM",
    "TABLES",
    "TENSION_CHECK",
    "USES",
    "VERDICTS",
    "WAYS_DOWN",
    "WIRES",
    "ZONES",
    "ZONE_MATERIALS",
    "Column",
    "Kind",
    "Table",
    "as_lines",
    "conform",
    "empty",
    "totals_table",
]

TABLES: Final[dict[str, Table]] = {
    table.name: table
    for table in (
        ROWS,
        POSTS,
        SPANS,
        CLIPS,
        SECTIONS,
        WIRES,
        LIFTS,
        LET_DOWN,
        HOLD_DOWN_OPTIONS,
        ADJUSTERS,
        TENSION_CHECK,
        MATERIALS,
        ZONE_MATERIALS,
        SPARE_PARTS,
        FIXING_OPTIONS,
        COILS,
        COIL_OPTIONS,
        STOCK_LEFT,
        ZONES,
        PROGRAMME,
        COSTS,
        BLOCK_COSTS,
        SEASON,
        LEFT_OUT,
        ROW_IDS,
        FINDINGS,
    )
}

#: Tables that a plan has only where its config asks for them: no file is written of one that is empty.
ASKED_FOR: Final[dict[str, Table]] = {table.name: table for table in (SERVICE, SERVICE_POSTS, MACHINE_ROWS)}
#: Every table that a plan may have.
ALL_TABLES: Final[dict[str, Table]] = TABLES | ASKED_FOR
