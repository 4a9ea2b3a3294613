"""Tables of the work: zones of about a crew-day, and the tasks in each, in working order."""

from typing import Final

from wirerun.tables.column import Column, Table, count, metres, text
from wirerun.tables.layout import BLOCK_ID, WIRE_ID

_ZONE_ID: Final = text("zone_id", "Work zone, such as B01-Z03, numbered as the rows are.")

ZONES: Final = Table(
    "zones",
    "One line per work zone: consecutive rows for about one crew-day.",
    ("zone_id",),
    (
        _ZONE_ID,
        BLOCK_ID,
        text("first_row", "First row of the zone."),
        text("last_row", "Last row of the zone."),
        count("rows", "Rows in the zone."),
        metres("row_length_m", "Length of its rows, in plan."),
        text("slope_class", "Slope class of its rows: mean slope, or the range where classes are mixed.", empty=True),
        Column("hours", "number", "h", "Working hours of one person for all tasks.", 2),
        count("people", "People of the crew."),
        Column("days", "number", "d", "Days of that crew.", 2),
        count("posts", "Posts in the zone."),
        count("two_way_posts", "Posts with two-way clips."),
    ),
    shape="MultiPolygon",
)

PROGRAMME: Final = Table(
    "programme",
    "One line per work zone and task, in working order. It says how long, not when.",
    ("zone_id", "step"),
    (
        _ZONE_ID,
        count("step", "Order of the task."),
        text("task", "What is done."),
        Column("quantity", "number", "", "How much of it.", 2),
        text("unit", "Of the quantity."),
        Column("hours", "number", "h", "Working hours of one person, walking and slope included.", 2),
        count("people", "People the task needs at once."),
        Column("days", "number", "d", "Days of the whole crew.", 2),
        text("materials", "What to load for it.", empty=True),
        text("tools", "Tools it needs.", empty=True),
        text("note", "What to mind at it.", empty=True),
    ),
)

SEASON: Final = Table(
    "season",
    "One line per block, foliage wire and task: what it takes every year, once the block stands.",
    (),
    (
        BLOCK_ID,
        WIRE_ID,
        text("task", "What is done.", choices=("lift", "let down", "let out adjusters")),
        Column("quantity", "number", "", "How much of it each time.", 2),
        text("unit", "Of the quantity."),
        Column(
            "hours_once",
            "number",
            "h",
            "Hours of one person to do it once, the way along the rows in it; empty: not known.",
            2,
            empty=True,
        ),
        count("times_a_year", "How often in a year."),
        Column("hours_a_year", "number", "h", "Hours of one person in a year; empty: not known.", 2, empty=True),
        Column("cost_a_year", "number", "currency", "Of those hours; empty where an hour has no price.", 2, empty=True),
    ),
)
