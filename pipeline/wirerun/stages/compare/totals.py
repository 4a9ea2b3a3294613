"""Totals of finished plans, side by side."""

from collections.abc import Iterator, Mapping
from typing import NamedTuple

import pandas as pd

from wirerun.clip_need import ClipNeed
from wirerun.records import FinishedPlan
from wirerun.tables.compare import TO_ORDER


class Total(NamedTuple):
    """One total of a plan."""

    what: str
    unit: str
    value: float


def side_by_side(plans: Mapping[str, FinishedPlan]) -> pd.DataFrame:
    """Totals with a column for every plan, by its letter; in the order of the first plan, then what only others have.

    Parameters
    ----------
    plans : mapping
        Plans by letter.
    """
    found: dict[tuple[str, str], dict[str, float]] = {}
    for letter, plan in plans.items():
        for total in totals_of(plan):
            found.setdefault((total.what, total.unit), {})[letter] = total.value
    lines = [{"what": what, "unit": unit, **values} for (what, unit), values in found.items()]
    return pd.DataFrame(lines, columns=["what", "unit", *plans]).astype(dict.fromkeys(plans, "float64"))


def totals_of(plan: FinishedPlan) -> Iterator[Total]:
    """Go through the totals of one plan: what stands, what is bought, what it costs."""
    rows, posts = plan.tables["rows"], plan.tables["posts"]
    yield Total("rows", "", len(rows))
    yield Total("row length", "m", _sum(rows, "length_m"))
    yield Total("posts", "", len(posts))
    yield Total("end posts", "", int((posts["kind"] == "end").sum()))
    yield Total("posts with two-way clips", "", float(rows["two_way_posts"].astype("int64").sum()))
    if "clip_need" in posts.columns:
        yield Total("posts to look at", "", int((posts["clip_need"] == ClipNeed.LOOK).sum()))
    if "sections" in plan.tables:
        yield Total("undulating sections", "", len(plan.tables["sections"]))
    for wire_id, wires in _groups(plan, "wires", "wire_id"):
        yield Total(f"wire {wire_id}", "m", _sum(wires, "run_out_m"))
    if "adjusters" in plan.tables:
        yield Total("adjusters", "", len(plan.tables["adjusters"]))
    if "zones" in plan.tables:
        yield Total("work zones", "", len(plan.tables["zones"]))
        yield Total("hours of one person", "h", _sum(plan.tables["zones"], "hours"))
    currency = str(plan.record.get("config", {}).get("catalogue", {}).get("currency", ""))
    for task, done in _groups(plan, "season", "task"):
        yield Total(f"hours every year: {task}", "h", _known_sum(done, "hours_a_year"))
    if "season" in plan.tables:
        yield Total("hours every year", "h", _known_sum(plan.tables["season"], "hours_a_year"))
        yield Total("cost every year", currency, _known_sum(plan.tables["season"], "cost_a_year"))
    for kind, bought in _groups(plan, "materials", "kind"):
        for item, lines in bought.groupby("item", sort=False):
            yield Total(f"{TO_ORDER}{kind} {item}", str(lines["unit"].iloc[0]), _ordered(lines))
    for part, lines in _groups(plan, "costs", "part"):
        yield Total(f"cost: {part}", currency, _sum(lines, "total"))
    for block_id, lines in _groups(plan, "block_costs", "block_id"):
        whole = lines[lines["part"] == "sum"]
        if len(whole):
            yield Total(f"cost of {f'block {block_id}' if block_id else 'no block'}", currency, _sum(whole, "total"))


def _ordered(bought: pd.DataFrame) -> float:
    """Pieces or coils to order, in whole packs where the plan knows of packs."""
    if {"pack", "packs"} <= set(bought.columns):
        return float((bought["pack"].astype("float64") * bought["packs"].astype("float64")).sum())
    return _sum(bought, "quantity") + _sum(bought, "spare_quantity")


def _groups(plan: FinishedPlan, table: str, by: str) -> Iterator[tuple[str, pd.DataFrame]]:
    """Go through the lines of a table by a column, in the order of its values; none where it is not there."""
    if table in plan.tables:
        for value, lines in plan.tables[table].groupby(by, sort=False):
            yield str(value), lines


def _known_sum(frame: pd.DataFrame, column: str) -> float:
    """Sum of a column; NaN where a cell of it holds no number: what is not known would count as nothing."""
    return float(pd.to_numeric(frame[column], errors="coerce").sum(skipna=False))


def _sum(frame: pd.DataFrame, column: str) -> float:
    """Sum of a column; NaN where no cell of it holds a number."""
    return float(pd.to_numeric(frame[column], errors="coerce").sum(min_count=1))
