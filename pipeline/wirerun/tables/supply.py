"""Tables of what to buy: materials in all and by zone, what is cut from which coil, and what it costs."""

from typing import Final

from wirerun.tables.column import Column, Table, count, metres, text
from wirerun.tables.layout import ROW_ID, WIRE_ID, YES_NO

MATERIAL_KINDS: Final = ("post", "wire", "clip", "staple", "fastener", "wire end", "adjuster", "end assembly", "tool")

_ITEM: Final = text("item", "What to buy, as named in the catalogue.")
_KIND: Final = text("kind", "Kind of thing.", choices=MATERIAL_KINDS)
_NOT_INCLUDED: Final = text(
    "not_included",
    "Rows that could not be planned and so are not in these figures: how many and how long; see left_out. Empty where "
    "there are none.",
    empty=True,
)

MATERIALS: Final = Table(
    "materials",
    "One line per item to order.",
    ("kind", "item"),
    (
        _ITEM,
        _KIND,
        count("quantity", "How many the plan uses, spares not counted. Wire in whole coils."),
        text("unit", "Of the quantity.", choices=("piece", "coil")),
        count("spare_quantity", "How many more to order."),
        Column("unit_price", "number", "currency", "Price of one; empty where the catalogue has none.", 4, empty=True),
        Column("total", "number", "currency", "All packs at that price.", 2, empty=True),
        metres("length_m", "Wire: length that is cut from the coils.", empty=True),
        Column("mass_kg", "number", "kg", "Wire: mass of that length.", 2, empty=True),
        text("used_for", "What it is for."),
        text("price_source", "Where the price comes from, and of what date.", empty=True),
        _NOT_INCLUDED,
        text("supplier", "Who sells it, as the catalogue says; else what it is ordered with."),
        count("pack", "Pieces or coils in a pack."),
        count("packs", "Packs to order: whole ones, for what is to be ordered."),
        count("in_stock", "How many of quantity and spares are in stock; of wire, part coils among them."),
        count("to_order", "How many are to be ordered: quantity and spares less what is in stock."),
        Column(
            "stock_worth",
            "number",
            "currency",
            "What is taken out of the stock at the price of one, part coils by their length; in no total.",
            2,
            empty=True,
        ),
    ),
)

FIXING_OPTIONS: Final = Table(
    "fixing_options",
    "One line per block, holder and set of one or two fixings, and the chosen set: what it would take; those that "
    "leave fewest posts unheld first, of these those that hold most wires on them, and of these the cheapest.",
    ("block_id", "holder", "option"),
    (
        text("block_id", "Block; empty: all blocks together.", empty=True),
        count("option", "Place in that order, from 1."),
        text("kinds", "Fixings of the set, as named in the catalogue, with a plus between them."),
        count("pieces", "How many in all."),
        count("not_held", "Posts at which none of the set holds."),
        Column(
            "price", "number", "currency", "Pieces and their fasteners; empty where one has no price.", 2, empty=True
        ),
        Column("hours", "number", "h", "Hours of one person to set them, slope counted, walking not.", 2),
        Column("cost_per_ha", "number", "currency/ha", "Price and labour by hectare of block.", 2, empty=True),
        Column("cost_per_year", "number", "currency", "Price and labour over the years each lasts.", 2, empty=True),
        text("tools", "Tools that they need.", empty=True),
        text("net_safe", "Whether nets slide over all of them.", choices=YES_NO),
        text("harvester_safe", "Whether a harvester leaves all of them; empty: not known.", empty=True, choices=YES_NO),
        Column("removal_hours", "number", "h", "Hours to take them off again; empty: not known.", 2, empty=True),
        text("chosen", "Whether the plan has it; of all blocks, where each has.", choices=YES_NO),
        text("holder", "Which wires it is for: those in clips, or those under staples.", choices=("clip", "staple")),
        text("pieces_each", "How many of each, in the order of kinds."),
        count("not_held_up", "Posts not held where the wire pulls most up."),
        count("not_held_down", "Posts not held where it pulls most down."),
        count("not_held_side", "Posts not held where it pulls most sideways."),
        text("skill", "What the crew must know.", empty=True),
    ),
)

SPARE_PARTS: Final = Table(
    "spare_parts",
    "One line per item that is kept for a year's repairs.",
    ("kind", "item"),
    (
        _ITEM,
        _KIND,
        count("quantity", "How many for a year."),
        text("unit", "Of the quantity.", choices=("piece", "m")),
        Column(
            "unit_price", "number", "currency", "Price of a piece; empty for wire: rests of coils do.", 4, empty=True
        ),
        Column("total", "number", "currency", "All of them at that price.", 2, empty=True),
        text("reason", "From how many, and what share of them a year."),
    ),
)

ZONE_MATERIALS: Final = Table(
    "zone_materials",
    "One line per work zone and item: what to take there. Spares are not in it.",
    ("zone_id", "kind", "item"),
    (
        text("zone_id", "Work zone, such as B01-Z03."),
        _ITEM,
        _KIND,
        Column("quantity", "number", "", "How many, or metres of wire.", 3),
        text("unit", "Of the quantity.", choices=("piece", "m")),
    ),
)

COILS: Final = Table(
    "coils",
    "One line per length of wire cut from a coil, in the order in which the coil is used up.",
    ("coil_id", "from_m"),
    (
        text(
            "coil_id",
            "Coil, such as C007, numbered through the plan: by kind of wire, in the order they are begun. C001P is a "
            "part coil of the stock.",
        ),
        text("wire_item", "Wire, as named in the catalogue."),
        ROW_ID,
        WIRE_ID,
        count("line", "Which of the lines side by side."),
        metres("from_m", "Metres already run off this coil where the length starts."),
        metres("to_m", "Metres run off this coil where it is cut."),
        text("joined", "Whether the line is joined from more than one length.", choices=("yes", "no")),
        text("zone_id", "Work zone the row is in."),
        metres("coil_m", "Length of wire on the coil when it is begun: of a part coil, what is left on it."),
        metres("remainder_m", "What is left of the coil after its last cut."),
        text("remainder_usable", "Whether the remainder is long enough to keep.", choices=("yes", "no")),
        count("piece", "Which length of the line, counted from the row's first post."),
        metres(
            "join_m",
            "Where the next length of the line is joined on: along the row from its first post, in plan. Empty at the "
            "last.",
            empty=True,
        ),
        text("join_span", "Span in which that join lies. Empty at the last.", empty=True),
        text("carried", "Whether the coil is brought to the zone for this length, or is there.", choices=("yes", "no")),
        Column(
            "with_line",
            "number",
            "",
            "Line of the same wire that is run out in the same walk, along the other side of the posts. Empty where it "
            "is run out alone.",
            empty=True,
        ),
        text("from_stock", "Whether the coil is in stock, as a part coil or whole.", choices=("no", "part", "whole")),
        text("stock_tag", "Part coil of the stock: what its tag says.", empty=True),
    ),
)

STOCK_LEFT: Final = Table(
    "stock_left",
    "One line per item, and per part coil: what is left once the plan is carried out, spares taken as used. It can be "
    "the stock.file of the next plan as it is; count it first.",
    (),
    (
        _ITEM,
        count("quantity", "How many, or whole coils; 1 for a part coil."),
        metres("left_m", "Part coils: what is left on it. Empty of all else.", empty=True),
        text("tag", "Part coils: what its tag says, the coil's id in this plan or an earlier one.", empty=True),
    ),
)

COIL_OPTIONS: Final = Table(
    "coil_options",
    "One line per kind of wire and way to cut it: what the order of work costs.",
    (),
    (
        text("wire_item", "Wire, as named in the catalogue."),
        text(
            "way",
            "How it is cut. Fewest coils: lines cut whole, by best fit. In working order: never with more coils open "
            "than coils.open.",
        ),
        count("coils", "Coils it takes, part coils of the stock among them."),
        count("joins", "Joins in lines."),
        count("most_open", "Coils of this wire that are begun and still needed at the same time, at most."),
        count("most_coils_in_a_zone", "Coils of this wire that one zone is cut from, at most."),
        Column(
            "cost",
            "number",
            "currency",
            "Of whole coils, in stock or not, joins and carrying, without spares; empty where coils have no price. "
            "Labour only where an hour has a price.",
            2,
            empty=True,
        ),
        text("chosen", "Whether the plan is cut so.", choices=("yes", "no")),
        count("trips", "Times that a coil is brought to a zone."),
        Column(
            "least_cost",
            "number",
            "currency",
            "In working order: proven least cost of this way. Empty where none was worked out.",
            2,
            empty=True,
        ),
    ),
)

_PART: Final = text("part", "Kind of material, labour, what else the job costs, or the sum.")
_PER_HA: Final = Column("per_ha", "number", "currency/ha", "Per hectare of block, exclusions taken off.", 2, empty=True)
_PER_ROW_M: Final = Column("per_row_m", "number", "currency/m", "The same per metre of row, in plan.", 4, empty=True)
_CURRENCY: Final = text("currency", "Currency of the config.")

COSTS: Final = Table(
    "costs",
    "One line per kind of cost, at the catalogue's prices; the last is the sum of those that are priced.",
    (),
    (
        _PART,
        Column(
            "total",
            "number",
            "currency",
            "Cost of the priced items, spares and whole packs included; empty where none is.",
            2,
            empty=True,
        ),
        _PER_HA,
        _PER_ROW_M,
        _CURRENCY,
        text("unpriced", "What of it has no price.", empty=True),
        _NOT_INCLUDED,
        Column(
            "quantity",
            "number",
            "",
            "Labour and what else the job costs: how much of it; of a share the money that it is a share of.",
            3,
            empty=True,
        ),
        text("unit", "Of the quantity, or what it is a share of.", empty=True),
        Column("unit_price", "number", "currency", "Price of one; of a share, percent.", 4, empty=True),
    ),
)

BLOCK_COSTS: Final = Table(
    "block_costs",
    "One line per block and kind of cost, and at the end what belongs to no block: they add up to costs. To a block "
    "belongs what is used in it at the price of one, its hours, and the charges for its area, posts, rows and days; "
    "to the whole order what is bought beyond that (spares, what is left of packs and coils) and tools. A share in "
    "percent goes with what it is a share of.",
    (),
    (
        text("block_id", "Block; empty: the whole order.", empty=True),
        _PART,
        Column("total", "number", "currency", "Cost of what is priced.", 2),
        _PER_HA,
        _PER_ROW_M,
        _CURRENCY,
        Column("area_ha", "number", "ha", "Area of the block, exclusions taken off.", 4, empty=True),
    ),
)
