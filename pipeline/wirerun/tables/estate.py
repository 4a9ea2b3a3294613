"""Tables of an estate: its blocks side by side, and what all of them need."""

from typing import Final

from wirerun.tables.column import Column, Table, count, metres, text
from wirerun.tables.supply import MATERIAL_KINDS

#: What became of a block in the run that wrote the table.
BLOCK_STATES: Final = ("planned", "unchanged", "as it was", "missing")

ESTATE_BLOCKS: Final = Table(
    "blocks",
    "One line per block of the estate, in the order of the boundary.",
    (),
    (
        text("block_id", "Block."),
        text(
            "state",
            "Planned in this run; unchanged: asked for, and its plan still holds; as it was: not asked for; missing.",
            choices=BLOCK_STATES,
        ),
        text("folder", "Where its plan is, from the estate's folder; empty where there is none.", empty=True),
        Column("area_ha", "number", "ha", "Area, exclusions included; empty: the outline has a fault.", 4, empty=True),
        Column("rows", "number", "", "Rows.", empty=True),
        metres("row_length_m", "Length of all rows, horizontal.", empty=True),
        Column("posts", "number", "", "Posts.", empty=True),
        Column("two_way_posts", "number", "", "Posts with two-way clips.", empty=True),
        Column("coils", "number", "", "Coils, each block cutting its own.", empty=True),
        Column("hours", "number", "h", "Hours of one person.", 2, empty=True),
        Column("cost", "number", "currency", "All that is priced; empty where something has no price.", 2, empty=True),
        Column("warnings", "number", "", "Findings of level warning or error.", empty=True),
        Column("notes", "number", "", "Findings of level note.", empty=True),
        text("reason", "Why it is missing.", empty=True),
        Column(
            "year", "number", "", "Year in which it is built, or begun; empty: phases are not asked for.", empty=True
        ),
    ),
)

PHASES: Final = Table(
    "phases",
    "One line per year: what is built in it, by the hours and the money that a year has; empty where neither is set.",
    ("year",),
    (
        count("year", "Year, counted from phases.first_year."),
        text("blocks", "Blocks, in the order in which they are built; of one that takes several years, which of them."),
        Column("hours", "number", "h", "Hours of one person.", 2),
        Column("crew_days", "number", "days", "Days of the crew, work.people of work.day_hours.", 1),
        Column("cash", "number", "currency", "All that is priced; a block with something unpriced is left out.", 2),
        Column("hours_left", "number", "h", "Hours of the year that are left; empty without a limit.", 2, empty=True),
        Column("cash_left", "number", "currency", "Money that is left; empty without a limit.", 2, empty=True),
    ),
)

ORDER: Final = Table(
    "order",
    "One line per item for the whole estate: the sum of all blocks; of a tool as many as the block that needs most.",
    ("kind", "item"),
    (
        text("item", "What to buy, as named in the catalogue."),
        text("kind", "Kind of thing.", choices=MATERIAL_KINDS),
        count("quantity", "How many, spares not counted."),
        text("unit", "Of the quantity."),
        count("spare_quantity", "How many more to order."),
        Column("unit_price", "number", "currency", "Price of one; empty where the catalogue has none.", 4, empty=True),
        Column("total", "number", "currency", "All packs at that price.", 2, empty=True),
        text("supplier", "Who sells it, as the catalogue says; else what it is ordered with."),
        count("pack", "Pieces or coils in a pack."),
        count("packs", "Packs to order: whole ones, for quantity and spares of all blocks together."),
        count("blocks", "In how many blocks."),
    ),
)
