"""Lists to work through: end assemblies, row by row, and coils, in the order in which they are begun."""

from typing import Final

import pandas as pd

from wirerun.records import Plan
from wirerun.tables import as_lines
from wirerun.wording import many
from wirerun.write.order_book.sheet import Head, Sheet

ENDS, COILS = "Ends", "Coils"
END_HEADS: Final = (
    Head("Row", 18),
    Head("End", 8),
    Head("Post", 20),
    Head("End post", 28),
    Head("End assembly", 28),
    Head("Pull of all wires, N", 12, numbers=True),
    Head("Row length, m", 12, numbers=True),
    Head("Built (tick)", 9),
)
COIL_HEADS: Final = (
    Head("Coil", 10),
    Head("Wire", 34),
    Head("On it, m", 10, numbers=True),
    Head("Begun in zone", 16),
    Head("Cut in zones", 34),
    Head("Lengths", 9, numbers=True),
    Head("Joined to the next", 10, numbers=True),
    Head("Left over, m", 10, numbers=True),
    Head("Keep it", 8),
    Head("Empty (tick)", 9),
    Head("From the stock", 14),
)


def ends_sheet(plan: Plan, sheet: Sheet) -> None:
    """Fill the sheet of the ends: what each assembly is, and at which end posts it is built."""
    ends = plan.posts[(plan.posts["kind"] == "end") & (plan.posts["standing"] != "yes")]
    sheet.line(f"{plan.config.name}: end assemblies", "title")
    sheet.line("Picked by row length and pull, not sized: soil and depth decide too.")
    sheet.line("A competent person sizes anchors and braces. Local codes and licensed practice decide.", "bold")
    for item in plan.catalogue.ends:
        mine = ends[ends["end_item"] == item.id]
        if len(mine):
            pull = f", pulls up to {mine['end_pull_n'].max():.0f} N" if mine["end_pull_n"].notna().any() else ""
            parts = f": {item.parts}" if item.parts else ""
            sheet.line(f"{item.id}, {many(len(mine), 'end')}{pull}{parts}")
    without = int(ends["end_item"].isna().sum())
    if without:
        sheet.line(f"{many(without, 'end', 'have')} no assembly in the catalogue.", "bold")
    sheet.next()
    sheet.head()
    length_m = plan.rows.set_index("row_id")["length_m"]
    order = pd.Series(range(len(plan.rows)), index=plan.rows["row_id"])
    ends = ends.assign(place=ends["row_id"].map(order), length_m=ends["row_id"].map(length_m))
    for post in as_lines(ends.sort_values(["place", "station_m"], kind="stable")):
        sheet.begin()
        sheet.text(0, post["row_id"])
        sheet.text(1, "start" if post["station_m"] == 0.0 else "far")
        for column, name in ((2, "post_id"), (3, "post_item"), (4, "end_item")):
            sheet.text(column, post[name])
        sheet.number(5, post["end_pull_n"])
        sheet.number(6, post["length_m"], "number")
        sheet.tick(7)
        sheet.next()


def coils_sheet(plan: Plan, sheet: Sheet) -> None:
    """Fill the sheet of the coils: where each is begun and used, and what is left of it."""
    sheet.line(f"{plan.config.name}: coils, in the order in which they are begun", "title")
    sheet.line("Put its number on each coil's tag. What is cut from it, row by row, stands on the field cards.")
    sheet.line("The zones of a wire of another length a coil come out otherwise: change it in the catalogue.")
    sheet.next()
    sheet.head()
    coils = plan.coils.groupby("coil_id", sort=False)
    first = plan.coils.drop_duplicates("coil_id").set_index("coil_id")
    counts = {"zones": coils["zone_id"].unique(), "lengths": coils.size(), "joins": coils["join_m"].count()}
    for one in as_lines(first.assign(**counts).reset_index()):
        sheet.begin()
        sheet.text(0, str(one["coil_id"]))
        sheet.text(1, one["wire_item"])
        sheet.number(2, one["coil_m"], "number")
        sheet.text(3, one["zones"][0])
        sheet.text(4, ", ".join(one["zones"]))
        sheet.number(5, one["lengths"])
        sheet.number(6, one["joins"])
        sheet.number(7, one["remainder_m"], "number")
        sheet.text(8, one["remainder_usable"])
        sheet.tick(9)
        sheet.text(10, _from_stock(one["from_stock"], one["stock_tag"]))
        sheet.next()


def _from_stock(how: str, tag: str | float) -> str:
    """Return how a coil is in stock, and by which tag; nothing where it is bought."""
    said = {"part": "part coil", "whole": "whole coil"}.get(how, "")
    return f"{said} {tag}" if isinstance(tag, str) else said
