"""Tables of a comparison: what differs between plans."""

from typing import Final

from wirerun.tables.column import Column, Table, degrees, metres, text

#: What may have become of a line.
CHANGES: Final = ("added", "gone", "changed")

DIFFERENCES: Final = Table(
    "differences",
    "One line per line of a table that is not the same in another plan as in the first.",
    ("plan", "table", "id"),
    (
        text("plan", "Letter of the other plan; A is the first."),
        text("table", "Table the line is in, such as posts."),
        text("id", "What tells the line apart: its ids, or its texts where it has none."),
        text("change", "What became of it from the first plan to the other.", choices=CHANGES),
        metres("moved_m", "How far a post stands from where it stood in the first plan; else empty.", empty=True),
        text("what", "Columns that changed, before > after; a dash for an empty cell.", empty=True),
    ),
)


#: What may have become of a post, most telling first.
POST_MARKS: Final = ("added", "gone", "moved", "clips", "numbers")

POST_CHANGES: Final = Table(
    "post_changes",
    "One line per post that is not the same in another plan as in the first, or whose clips are not.",
    ("plan", "post_id"),
    (
        text("plan", "Letter of the other plan; A is the first."),
        text("post_id", "Post, such as B01-R012-P007."),
        text("row_id", "Row it stands in."),
        text(
            "mark",
            "What became of it: added; gone; moved by a centimetre or more; stands where it stood, but other clips go "
            "on it; or only numbers differ, such as a load.",
            choices=POST_MARKS,
        ),
        metres("moved_m", "How far it stands from where it stood; empty where it is added or gone.", empty=True),
        degrees("lon", "Longitude, WGS 84; where it stood, if it is gone."),
        degrees("lat", "Latitude, WGS 84; likewise."),
        degrees("earlier_lon", "Longitude in the first plan; where it stands, if it is added."),
        degrees("earlier_lat", "Latitude in the first plan; likewise."),
        text(
            "clips",
            "What the crew does otherwise there, wire by wire: before > after, or that its clip is added or gone.",
            empty=True,
        ),
        text("numbers", "What else differs at the post: before > after.", empty=True),
    ),
)


#: How totals of what is bought begin.
TO_ORDER: Final = "to order: "


def totals_table(letters: tuple[str, ...]) -> Table:
    """Return the table of totals side by side, with a column for every plan."""
    return Table(
        "totals",
        "One line per total, a column per plan.",
        ("what",),
        (
            text("what", "What is counted or added up."),
            text("unit", "Of what.", empty=True),
            *(
                Column(letter, "number", "", f"In plan {letter}; empty where it has none.", 2, empty=True)
                for letter in letters
            ),
        ),
    )
