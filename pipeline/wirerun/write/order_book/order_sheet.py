"""What to order, by supplier: how many, in which packs, and room for the quote."""

from dataclasses import dataclass
from typing import Any, Final

import pandas as pd

from wirerun.records import Plan
from wirerun.rounding import rounded
from wirerun.rules.ordering import SUPPLIES
from wirerun.tables import as_lines
from wirerun.terms import in_terms
from wirerun.wording import number
from wirerun.write.order_book.sheet import Head, Sheet

NAME: Final = "Order"
#: What stands where a total would, of what has no price; of tools, which one has.
NOT_PRICED, OWN_TOOL = "not priced", "your own"
HEADS: Final = (
    Head("Item", 27),
    Head("Kind", 12),
    Head("For", 25),
    Head("Unit", 6),
    Head("Needed", 9, numbers=True),
    Head("Spare", 8, numbers=True),
    Head("On hand (fill in)", 9, numbers=True),
    Head("In a pack", 8, numbers=True),
    Head("Quoted: in a pack (fill in)", 9.5, numbers=True),
    Head("Packs to order", 8, numbers=True),
    Head("Price of one", 9, numbers=True),
    Head("Quoted: price of a pack (fill in)", 10, numbers=True),
    Head("Total", 12, numbers=True),
)
ITEM, KIND, FOR, UNIT, NEEDED, SPARE, ON_HAND, PACK, QUOTED_PACK, PACKS, PRICE, QUOTE, TOTAL = range(len(HEADS))


@dataclass(frozen=True, slots=True)
class Ordered:
    """Where other sheets find the kinds and totals of all items, as addresses."""

    kinds: str
    totals: str


def order_sheet(plan: Plan, sheet: Sheet) -> Ordered:
    """Fill the sheet: a group for each supplier, with its sum; the sum of all."""
    materials = plan.materials
    currency = plan.config.catalogue.currency
    sheet.line(f"{plan.config.name}: what to order, in {currency}", "title")
    sheet.line("Framed cells are yours: what you have (what the plan's stock has stands there), and the quote.")
    sheet.line(
        "A total takes the quote where there is one, else the catalogue's price. Packs are whole ones. A pack of wire "
        "is a coil."
    )
    sheet.next()
    sheet.head()
    first = sheet.row
    sums = [_group(sheet, supplier, materials[materials["supplier"] == supplier]) for supplier in _suppliers(materials)]
    last = max(first, sheet.row - 1)
    sheet.text(ITEM, "All", "group")
    adding = "+".join(address for address, _ in sums) or "0"
    sheet.formula(TOTAL, f"={adding}", rounded(sum(value for _, value in sums), 2), "sum")
    sheet.next()
    unpriced = int(((materials["kind"] != "tool") & materials["unit_price"].isna()).sum())
    sheet.text(ITEM, "Items without a price, in no total", "note")
    sheet.formula(TOTAL, f'=COUNTIF({sheet.rows(TOTAL, first, last)},"{NOT_PRICED}")', unpriced, "whole")
    sheet.next()
    return Ordered(sheet.rows(KIND, first, last, outside=True), sheet.rows(TOTAL, first, last, outside=True))


def _suppliers(materials: pd.DataFrame) -> list[str]:
    """Return suppliers in the order in which kinds are listed: first whom the posts are of."""
    rank = materials["kind"].map({kind: place for place, kind in enumerate(SUPPLIES)})
    ranked = materials.assign(rank=rank).groupby("supplier")["rank"].min().sort_values(kind="stable")
    return [str(supplier) for supplier in ranked.index]


def _group(sheet: Sheet, supplier: str, items: pd.DataFrame) -> tuple[str, float]:
    """Write the items of a supplier; return the address of their sum, and the sum."""
    sheet.line(supplier, "group")
    first = sheet.row
    for item in as_lines(items):
        _item(sheet, item)
    sheet.text(ITEM, f"Sum of {supplier}", "bold")
    value = rounded(items["total"].sum(), 2)
    sheet.total(TOTAL, first, value)
    sheet.next()
    return sheet.at(TOTAL, sheet.row - 1), value


def _item(sheet: Sheet, item: dict[str, Any]) -> None:
    """Write one item."""
    sheet.begin()
    for column, name in ((ITEM, "item"), (KIND, "kind"), (UNIT, "unit")):
        sheet.text(column, item[name])
    sheet.text(FOR, in_terms(_use(item), sheet.terms))
    for column, name in ((NEEDED, "quantity"), (SPARE, "spare_quantity"), (PACK, "pack")):
        sheet.number(column, item[name])
    sheet.number(PRICE, item["unit_price"], "price")
    sheet.fill_in(ON_HAND, known=item["in_stock"] or None)
    sheet.fill_in(QUOTED_PACK, least=1.0, whole=True)
    sheet.fill_in(QUOTE)
    at = [sheet.at(column) for column in range(len(HEADS))]
    pack = f"IF(ISNUMBER({at[QUOTED_PACK]}),{at[QUOTED_PACK]},{at[PACK]})"
    lacking = f"MAX(0,{at[NEEDED]}+{at[SPARE]}-{at[ON_HAND]})"
    sheet.formula(PACKS, f"=ROUNDUP({lacking}/{pack},0)", item["packs"], "whole")
    by_quote = f"ROUND({at[PACKS]}*{at[QUOTE]},2)"
    by_price = f"ROUND({at[PACKS]}*{pack}*{at[PRICE]},2)"
    unpriced = OWN_TOOL if item["kind"] == "tool" else NOT_PRICED
    total = f'=IF(ISNUMBER({at[QUOTE]}),{by_quote},IF(ISNUMBER({at[PRICE]}),{by_price},"{unpriced}"))'
    sheet.formula(TOTAL, total, unpriced if pd.isna(item["total"]) else item["total"])
    sheet.next()


def _use(item: dict[str, Any]) -> str:
    """Return what an item is for; of wire the length and mass too."""
    length = [] if pd.isna(item["length_m"]) else [f"{number(item['length_m'])} m"]
    mass = [] if pd.isna(item["mass_kg"]) else [f"{number(item['mass_kg'])} kg"]
    return "; ".join([item["used_for"], ", ".join(length + mass)] if length else [item["used_for"]])
