"""What each block costs and takes: to build, and every year after."""

from typing import Any, Final

import pandas as pd

from wirerun.records import Plan
from wirerun.rounding import rounded
from wirerun.settings.catalogue import CHARGES
from wirerun.tables import as_lines
from wirerun.write.order_book.sheet import Head, Look, Sheet

NAME: Final = "Blocks"
HEADS: Final = (
    Head("Block", 16),
    Head("ha", 9, numbers=True),
    Head("Rows", 8, numbers=True),
    Head("Posts", 9, numbers=True),
    Head("Hours to build", 16, numbers=True),
    Head("Materials", 14, numbers=True),
    Head("Labour", 14, numbers=True),
    Head("All else", 14, numbers=True),
    Head("Sum", 15, numbers=True),
    Head("Sum by ha", 14, numbers=True),
    Head("Hours a year for the foliage wires", 13, numbers=True),
)
BLOCK, AREA, ROWS, POSTS, HOURS, MATERIALS, LABOUR, ELSE, SUM, PER_HA, SEASON = range(len(HEADS))
_LOOK: Final[dict[int, Look]] = {AREA: "number", ROWS: "whole", POSTS: "whole", HOURS: "number", SEASON: "number"}
WHOLE_ORDER: Final = "whole order"
_SEASON_HEADS: Final = (
    *("Block", "Wire", "", "", "Task", "Quantity", "Unit", "Hours once", "Times a year", "Hours a year"),
    "Cost a year",
)
_SEASON_NUMBERS: Final = (5, 7, 8, 9, 10)


def blocks_sheet(plan: Plan, sheet: Sheet) -> None:
    """Fill the sheet: a line a block, what is of the whole order, the sum; then the yearly work, wire by wire."""
    sheet.line(f"{plan.config.name}: block by block, in {plan.config.catalogue.currency}", "title")
    sheet.line("At the catalogue's prices: quotes and prices filled in on other sheets are not in here.")
    sheet.line("A block bears what is used in it, its hours, and the charges for its area, posts, rows and days.")
    sheet.line("To the whole order belong spares, what is left of packs and coils, tools, and their share of charges.")
    sheet.next()
    sheet.head(repeat=False)
    first = sheet.row
    lines = [_of_block(plan, str(block_id)) for block_id in plan.blocks["block_id"]]
    lines.append(_costs_of(plan.block_costs[plan.block_costs["block_id"].isna()]))
    for name, line in zip([*plan.blocks["block_id"], WHOLE_ORDER], lines, strict=True):
        sheet.begin()
        sheet.text(BLOCK, name)
        for column, value in line.items():
            if column not in (SUM, PER_HA):
                sheet.number(column, value, _LOOK.get(column, "money"))
        sheet.formula(SUM, f"=SUM({sheet.at(MATERIALS)}:{sheet.at(ELSE)})", line[SUM])
        if line.get(AREA):
            sheet.formula(PER_HA, f"={sheet.at(SUM)}/{sheet.at(AREA)}", line[SUM] / line[AREA])
        sheet.next()
    sheet.text(BLOCK, "All", "group")
    for column in range(AREA, len(HEADS)):
        value = rounded(sum(line.get(column, 0.0) for line in lines), 4)
        if column == PER_HA:
            area = sum(line.get(AREA, 0.0) for line in lines)
            sheet.formula(
                column, f"=IF({sheet.at(AREA)}>0,{sheet.at(SUM)}/{sheet.at(AREA)},0)", _by(lines, area), "sum"
            )
        else:
            look: Look = "whole sum" if column in (ROWS, POSTS) else "sum"
            sheet.total(column, first, value, look)
    sheet.next(2)
    _season(plan, sheet)


def _by(lines: list[dict[int, float]], area_ha: float) -> float:
    return sum(line[SUM] for line in lines) / area_ha if area_ha else 0.0


def _of_block(plan: Plan, block_id: str) -> dict[int, float]:
    """Return the figures of a block, by column."""
    rows = plan.rows[plan.rows["block_id"] == block_id]
    season = plan.season[plan.season["block_id"] == block_id]
    costs = plan.block_costs[plan.block_costs["block_id"] == block_id]
    return {
        AREA: float(costs["area_ha"].iloc[:1].sum()),
        ROWS: len(rows),
        POSTS: int(rows["posts"].sum()),
        HOURS: rounded(rows["hours"].sum(), 2),
        **_costs_of(costs),
        SEASON: rounded(season["hours_a_year"].sum(), 2),
    }


def _costs_of(costs: pd.DataFrame) -> dict[int, float]:
    """Return the costs of a block or of the whole order, by column."""
    total = costs.set_index("part")["total"]
    labour, beside = (rounded(total.reindex(names).sum(), 2) for names in (["labour"], list(CHARGES)))
    whole = rounded(total.reindex(["sum"]).sum(), 2)
    return {MATERIALS: rounded(whole - labour - beside, 2), LABOUR: labour, ELSE: beside, SUM: whole}


def _season(plan: Plan, sheet: Sheet) -> None:
    """Write the yearly work."""
    work = plan.config.work
    sheet.line("The foliage wires, every year", "bold")
    sheet.line(f"Each is lifted {work.lifts_per_year} times and let down once; hours are labour hours.")
    if plan.season.empty:
        sheet.line("No foliage wires.")
        return
    for column, label in enumerate(_SEASON_HEADS):
        sheet.text(column, label, "number head" if column in _SEASON_NUMBERS else "head")
    sheet.next()
    first = sheet.row
    for line in as_lines(plan.season):
        _season_line(sheet, line)
    sheet.text(0, "All", "group")
    for column, name in ((9, "hours_a_year"), (10, "cost_a_year")):
        sheet.total(column, first, rounded(plan.season[name].sum(), 2))
    sheet.next()


def _season_line(sheet: Sheet, line: dict[str, Any]) -> None:
    sheet.begin()
    for column, name in ((0, "block_id"), (1, "wire_id"), (4, "task"), (6, "unit")):
        sheet.text(column, line[name])
    for column, name in ((5, "quantity"), (7, "hours_once"), (9, "hours_a_year"), (10, "cost_a_year")):
        sheet.number(column, line[name], "number")
    sheet.number(8, line["times_a_year"])
    sheet.next()
