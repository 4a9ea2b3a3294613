"""What to know before ordering: what the sheets are for, what is left out, and which figures are invented."""

from collections.abc import Iterator
from typing import Final

from wirerun.records import Plan, left_out_words
from wirerun.settings.catalogue import FILES
from wirerun.settings.catalogue_row import DEMO
from wirerun.wording import many
from wirerun.write.mark import plan_mark
from wirerun.write.order_book import blocks_sheet, costs_sheet, field_sheets, order_sheet
from wirerun.write.order_book.sheet import Head, Sheet

NAME: Final = "Notes"
HEADS: Final = (Head("Item", 36), Head("Listed in", 16), Head("Where it comes from", 90))
_SHEETS: Final = (
    (order_sheet.NAME, "to ask for quotes and to order by; fill in what you have and what is quoted"),
    (costs_sheet.NAME, "materials with those quotes, labour, hire, freight and all else; fill in your own prices"),
    (blocks_sheet.NAME, "what each block costs, and the hours that the foliage wires take every year"),
    (field_sheets.ENDS, "which assembly holds which end post, to tick off"),
    (field_sheets.COILS, "in which order coils are begun, where they go, what is left"),
)


def notes_sheet(plan: Plan, sheet: Sheet) -> None:
    """Fill the sheet."""
    sheet.line(f"{plan.config.name}: order and costs", "title")
    sheet.line(f"Plan {plan_mark(plan)}: the mark stands on the field cards of the same plan, too.")
    sheet.next()
    for name, purpose in _SHEETS:
        sheet.text(0, name, "bold")
        sheet.line_from(1, purpose)
    sheet.next()
    for title, sentences in (
        ("Not included", list(_not_included(plan))),
        ("Not priced", list(_not_priced(plan))),
        ("How it is counted", _COUNTED),
    ):
        sheet.line(title, "bold")
        for sentence in sentences:
            sheet.line(sentence)
        sheet.next()
    _invented(plan, sheet)


_COUNTED: Final = (
    "Spares are the catalogue's percentage, in whole pieces. Packs are whole ones; what is left of them is not used.",
    "Coils are those that the wires are cut from; their spares are what kept remainders do not make up for.",
    "Prices are taken as the catalogue has them, with or without tax; the sheet Costs has a line for tax.",
    "A tool without a price is taken to be your own.",
)


def _not_included(plan: Plan) -> Iterator[str]:
    """Go through what the figures leave out."""
    for block in plan.missing:
        yield f"Block {block.block_id}, which could not be planned: {block.reason}"
    if len(plan.left_out):
        words = left_out_words(plan.left_out)
        yield f"{words}, which could not be planned for want of ground heights: see left_out.csv."
    yield "Vines and their stakes, irrigation, nets, gates, paths, soil work, and the sizing of ends and anchors."


def _not_priced(plan: Plan) -> Iterator[str]:
    """Go through what has no price in the catalogue."""
    whole = plan.costs.loc[plan.costs["part"] == "sum", "unpriced"].dropna()
    if whole.empty:
        yield "All that is in the order has a price."
    yield from (part for words in whole for part in words.split("; "))


def _invented(plan: Plan, sheet: Sheet) -> None:
    """List what of the catalogue is invented and used here."""
    used = {*plan.materials["item"], *plan.clips["fixing"].dropna(), *plan.posts["end_item"].dropna()}
    lines = [
        (item, f"{stem}.csv", f"{row.source}, {row.date}")
        for stem in FILES
        for row in getattr(plan.catalogue, stem)
        if DEMO in row.source and ((item := str(row.id)) in used or stem in ("rates", "charges", "spares"))
    ]
    sheet.line("Invented", "bold")
    if not lines:
        sheet.line("Nothing that the order is made from is marked as invented.")
        return
    sheet.line(
        f"Prices, forces, minutes or percentages of {many(len(lines), 'line')} of the catalogue are invented for the "
        "demo. Put in your own before you buy or build."
    )
    sheet.head(repeat=False)
    for line in lines:
        sheet.begin()
        for column, words in enumerate(line):
            sheet.text(column, words)
        sheet.next()
