"""The workbook: its sheets in order, and the same bytes for the same plan."""

import datetime as dt
import io
from pathlib import Path
from typing import Final

from xlsxwriter import Workbook

from wirerun.records import Plan
from wirerun.write.mark import plan_mark
from wirerun.write.order_book import blocks_sheet, costs_sheet, field_sheets, notes_sheet, order_sheet
from wirerun.write.order_book.sheet import Sheet, looks_of

# A workbook says when it was made; no plan does.
_NO_DAY: Final = dt.datetime(2000, 1, 1)  # noqa: DTZ001 - the file has no zone either


def write_order(plan: Plan, path: Path) -> None:
    """Write the order as a workbook: the same bytes for the same plan.

    Parameters
    ----------
    plan : Plan
        Its materials, costs, block_costs, season, posts and coils. A plan without rows gives sheets without lines.
    path : Path
        The file to write; its folder is made if it is missing.
    """
    made = io.BytesIO()
    # What users call their things stays text, whatever it looks like.
    plain = dict.fromkeys(("strings_to_formulas", "strings_to_numbers", "strings_to_urls"), False)
    with Workbook(made, {"in_memory": True, **plain}) as book:
        book.set_properties({"title": f"{plan.config.name}: order and costs", "author": "wirerun", "created": _NO_DAY})
        looks, terms = looks_of(book), plan.config.output.terms
        footer = f"{plan.config.name}, plan {plan_mark(plan)}"
        notes = Sheet(book, looks, notes_sheet.NAME, notes_sheet.HEADS, terms)
        order = Sheet(book, looks, order_sheet.NAME, order_sheet.HEADS, terms)
        costs = Sheet(book, looks, costs_sheet.NAME, costs_sheet.HEADS, terms)
        blocks = Sheet(book, looks, blocks_sheet.NAME, blocks_sheet.HEADS, terms)
        ends = Sheet(book, looks, field_sheets.ENDS, field_sheets.END_HEADS, terms)
        coils = Sheet(book, looks, field_sheets.COILS, field_sheets.COIL_HEADS, terms)
        notes_sheet.notes_sheet(plan, notes)
        costs_sheet.costs_sheet(plan, costs, order_sheet.order_sheet(plan, order))
        blocks_sheet.blocks_sheet(plan, blocks)
        field_sheets.ends_sheet(plan, ends)
        field_sheets.coils_sheet(plan, coils)
        for sheet in (notes, order, costs, blocks, ends, coils):
            sheet.paper(footer)
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(made.getvalue())
