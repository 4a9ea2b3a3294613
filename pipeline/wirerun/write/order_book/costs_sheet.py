"""What the job costs: materials as ordered, labour, and what else is charged, with room for prices of one's own."""

from typing import Any, Final

import pandas as pd

from wirerun.records import Plan
from wirerun.settings.catalogue import CHARGES
from wirerun.tables import as_lines
from wirerun.terms import in_terms
from wirerun.write.order_book.order_sheet import NOT_PRICED, Ordered
from wirerun.write.order_book.sheet import Head, Sheet

NAME: Final = "Costs"
HEADS: Final = (
    Head("Part", 28),
    Head("Quantity", 13, numbers=True),
    Head("Unit", 16),
    Head("Price of one, or %", 12, numbers=True),
    Head("Your price (fill in)", 12, numbers=True),
    Head("Total", 15, numbers=True),
    Head("Without a price in the catalogue", 45),
)
PART, QUANTITY, UNIT, PRICE, OWN, TOTAL, LACKING = range(len(HEADS))
_BESIDE: Final = ("labour", *CHARGES)


def costs_sheet(plan: Plan, sheet: Sheet, ordered: Ordered) -> None:
    """Fill the sheet: kinds of material as ordered, labour and charges, their sum, tax."""
    costs = plan.costs
    sheet.line(f"{plan.config.name}: costs, in {plan.config.catalogue.currency}", "title")
    sheet.line(
        "Materials are those of the sheet Order, with its quotes. Your price takes the place of the catalogue's."
    )
    sheet.next()
    sheet.head()
    first = sheet.row
    lines = as_lines(costs[costs["part"] != "sum"])
    for line in lines:
        if line["part"] not in _BESIDE:
            _material(sheet, line, ordered)
    materials = sheet.row - 1
    for line in lines:
        if line["part"] in _BESIDE:
            said = {name: in_terms(words, sheet.terms) for name, words in line.items() if isinstance(words, str)}
            _charge(sheet, line | said, first, materials)
    total = float(costs.loc[costs["part"] == "sum", "total"].fillna(0.0).sum())
    whole = sheet.row
    sheet.text(PART, "Sum of all that is priced", "bold")
    sheet.total(TOTAL, first, total)
    sheet.next()
    area_ha = plan.block_costs.drop_duplicates("block_id")["area_ha"].sum()
    for unit, size in (("ha", area_ha), ("m of row", plan.rows["length_m"].sum())):
        if size > 0.0:
            sheet.begin()
            sheet.text(PART, f"For each {unit}")
            sheet.number(QUANTITY, size, "number")
            sheet.text(UNIT, unit)
            sheet.formula(TOTAL, f"={sheet.at(TOTAL, whole)}/{sheet.at(QUANTITY)}", total / size)
            sheet.next()
    sheet.begin()
    sheet.text(PART, "Tax on all, in %")
    sheet.fill_in(OWN)
    sheet.formula(TOTAL, f"=ROUND({sheet.at(TOTAL, whole)}*{sheet.at(OWN)}/100,2)", 0.0)
    sheet.next()
    sheet.text(PART, "Sum with tax", "bold")
    sheet.formula(TOTAL, f"={sheet.at(TOTAL, whole)}+{sheet.at(TOTAL, sheet.row - 1)}", total, "sum")
    sheet.next()


def _material(sheet: Sheet, line: dict[str, Any], ordered: Ordered) -> None:
    """Write a kind of material: what its items come to on the sheet of the order."""
    sheet.begin()
    sheet.text(PART, line["part"])
    of_kind = f'{ordered.kinds},"{line["part"]}"'
    priced = f'COUNTIFS({of_kind},{ordered.totals},">=0")'
    total = f'=IF({priced}=0,"{NOT_PRICED}",SUMIF({of_kind},{ordered.totals}))'
    sheet.formula(TOTAL, total, _or_not_priced(line["total"]))
    sheet.text(LACKING, line["unpriced"])
    sheet.next()


def _charge(sheet: Sheet, line: dict[str, Any], first: int, materials: int) -> None:
    """Write labour or a charge; a share is of the lines above it, as they come to here."""
    sheet.begin()
    sheet.text(PART, line["part"])
    unit = line["unit"] if isinstance(line["unit"], str) else "in all"
    sheet.text(UNIT, unit)
    share = unit.startswith("%")
    if share:
        last = materials if unit == "% of materials" else sheet.row - 1
        of = f"=SUM({sheet.rows(TOTAL, first, last)})" if last >= first else "=0"
        sheet.formula(QUANTITY, of, line["quantity"])
    else:
        sheet.number(QUANTITY, 1.0 if pd.isna(line["quantity"]) else line["quantity"], "number")
    sheet.number(PRICE, line["unit_price"], "price")
    sheet.fill_in(OWN)
    price = f"IF(ISNUMBER({sheet.at(OWN)}),{sheet.at(OWN)},{sheet.at(PRICE)})"
    given = f"COUNT({sheet.at(PRICE)},{sheet.at(OWN)})"
    times = f"{sheet.at(QUANTITY)}*{price}{'/100' * share}"
    sheet.formula(TOTAL, f'=IF({given}=0,"{NOT_PRICED}",ROUND({times},2))', _or_not_priced(line["total"]))
    sheet.text(LACKING, line["unpriced"])
    sheet.next()


def _or_not_priced(total: float) -> float | str:
    return NOT_PRICED if pd.isna(total) else total
