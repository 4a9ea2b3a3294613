"""How long each row takes, task by task: quantities times the catalogue's minutes, walking, and what slope adds."""

from collections.abc import Collection, Iterable, Sequence
from typing import Final

import numpy as np
import pandas as pd

from wirerun.findings import Finding
from wirerun.rules.order_of_work import RUN_OUT, TASKS
from wirerun.rules.pace import slope_factor
from wirerun.settings import Catalogue, WorkSettings
from wirerun.settings.catalogue import AdjusterItem, EndItem, PostItem, RateItem, tools_of
from wirerun.settings.fixing_item import FixingItem

_ENDS_OF_A_LINE: Final = 2
_MINUTES: Final = 60.0
_COLUMNS: Final = ["row_id", "step", "task", "quantity", "unit", "hours", "people", "tools"]


_UNIT: Final = {task.name: task.unit for task in TASKS}
_STEP: Final = {task.name: number for number, task in enumerate(TASKS, start=1)}
# The tasks that are counted by the row, and the catalogue's rate for each: to fix one end and to tie off the other are
# the same work.
_RATED: Final = {
    "set out and peg": "set out and peg",
    "carry out posts": "carry out posts",
    "end staples": "end staples",
    "carry coils": "carry coils",
    "run out": "run out",
    "join": "join",
    "fix one end": "tie off",
    "tension": "tension",
    "tie off": "tie off",
    "check": "check",
}
# Few rows have any of these, whatever the catalogue counts them by.
_SOME_ROWS: Final = ("join", "carry coils")
# Others may do these: without a rate they are no task of the crew's.
_AT_WILL: Final = ("set out and peg", "carry out posts")
_EACH_END: Final = ("fix one end", "tie off")
# Of two visits, each takes half the time (choice): a staple is driven loosely first and home later, and a rate for
# tying off that is not for each end is for both.
_HALF: Final = 0.5
_SIDES: Final = 2


def row_work(
    rows: pd.DataFrame,
    posts: pd.DataFrame,
    clips: pd.DataFrame,
    wires: pd.DataFrame,
    adjusters: pd.DataFrame,
    coils: pd.DataFrame,
    catalogue: Catalogue,
    work: WorkSettings,
) -> tuple[pd.DataFrame, list[Finding]]:
    """One line for every row and task that there is in it, rows in the order given, tasks in working order.

    hours = (quantity * minutes + passes * slope length / pace) / 60 * factor of the slope class

    Minutes are those of one person, whoever helps. A slope that is not known counts as the flattest, a slope length
    that is not known as the length in plan. Wires whose length is not known are left out, with their ends; clips that
    no fixing suits and posts that the catalogue does not have are counted, but take no minutes. An end that carries an
    adjuster needs no tie-off. Half of a staple's minutes are for setting it, half for driving it home.

    Example: 12 wire ends at 2 min, six of them fixed before the wire is strained and six tied off after, and a pass of
    100 m at 50 m/min for each six, factor 1.15, take 28 min * 1.15 = 0.537 h.

    Parameters
    ----------
    rows : DataFrame
        row_id, length_m, slope_length_m, slope_pct.
    posts : DataFrame
        row_id, kind, post_item, end_item.
    clips : DataFrame
        row_id, fixing, pieces.
    wires : DataFrame
        row_id, wire_id, lines, run_out_m.
    adjusters : DataFrame
        row_id, kind.
    coils : DataFrame
        row_id, wire_id, line, joined, carried, with_line: a line of n lengths has n - 1 joins; two lines that are run
        out with each other take one walk.
    catalogue : Catalogue
        Minutes and tools of posts, fixings, adjusters and rates.
    work : WorkSettings
        Slope classes and their factors, and the walking pace.

    Returns
    -------
    work : DataFrame
        row_id, step (place of the task in the working order), task, quantity, unit, hours of one person, people it
        needs at once, tools.
    findings : list of Finding
        Tasks for which the catalogue has no minutes, or that need more people than the crew has.
    """
    strung = wires[wires["run_out_m"].notna()]
    gear, held = adjusters[adjusters["kind"].notna()], clips[clips["pieces"] > 0]
    staples = {item.id for item in catalogue.fixings if item.is_staple}
    parts = [
        _pieces("set posts", posts[posts["kind"] == "intermediate"], "post_item", catalogue.posts),
        _pieces("set end posts", posts[posts["kind"] == "end"], "post_item", catalogue.posts),
        _pieces("clips and staples", held, "fixing", catalogue.fixings, staples),
        _pieces("drive home", held[held["fixing"].isin(staples)], "fixing", catalogue.fixings, staples),
        _pieces("adjusters", gear, "kind", catalogue.adjusters),
        _pieces("end assemblies", posts[posts["end_item"].notna()], "end_item", catalogue.ends),
        *_rated(_counts(strung, posts, gear, coils), catalogue.rates),
    ]
    done = pd.concat(parts, ignore_index=True)
    findings = [*_without_minutes(done, catalogue), *_too_few_people(done, work)]
    counted = done.groupby(["row_id", "task"], as_index=False).agg(
        quantity=("quantity", "sum"),
        unit=("unit", "first"),
        minutes=("minutes", "sum"),
        people=("people", "max"),
        tools=("tools", lambda cells: ", ".join(tools_of(*cells))),
    )
    counted["step"] = counted["task"].map(_STEP)
    place = pd.Series(np.arange(len(rows)), index=rows["row_id"].to_numpy())
    order = counted["row_id"].map(place).to_numpy(dtype=np.int64)
    metres = rows["slope_length_m"].fillna(rows["length_m"]).to_numpy()[order]
    walked = _passes(counted, strung, coils) * metres / work.walking_m_per_min
    factor = slope_factor(rows["slope_pct"].to_numpy(dtype=np.float64), work)
    counted["hours"] = (counted["minutes"] + walked) / _MINUTES * factor[order]
    ordered = counted.iloc[np.lexsort((counted["step"].to_numpy(), order))]
    return ordered[_COLUMNS].reset_index(drop=True), findings


def _pieces(
    task: str,
    frame: pd.DataFrame,
    item: str,
    offers: Sequence[PostItem | FixingItem | AdjusterItem | EndItem],
    in_two_visits: Collection[str] = (),
) -> pd.DataFrame:
    """Pieces of every item in every row, and their minutes; without minutes where the item is not known."""
    minutes = {offer.id: offer.minutes * (_HALF if offer.id in in_two_visits else 1.0) for offer in offers}
    tool = {offer.id: offer.tool for offer in offers}
    uses = frame.assign(quantity=frame.get("pieces", 1), item=frame[item])
    each = uses.groupby(["row_id", "item"], dropna=False)["quantity"].sum().reset_index()
    known = each["item"].map(minutes).astype("float64")
    return _lines(
        each.assign(task=task, unit=_UNIT[task], known=known.notna(), people=1),
        minutes=(each["quantity"] * known).fillna(0.0),
        tools=[tool.get(item, "") for item in each["item"]],
    )


def _counts(strung: pd.DataFrame, posts: pd.DataFrame, gear: pd.DataFrame, coils: pd.DataFrame) -> pd.DataFrame:
    """How much there is in every strung row of what a rate can be for, a column each; index row_id."""
    counts = strung.groupby("row_id").agg(lines=("lines", "sum"), run_out_m=("run_out_m", "sum"))
    joined = coils[coils["joined"] == "yes"]
    joins = (
        joined.groupby("row_id").size() - joined.drop_duplicates(["row_id", "wire_id", "line"])["row_id"].value_counts()
    )
    brought = coils.loc[coils["carried"] == "yes", "row_id"].value_counts()
    fitted = gear["row_id"].value_counts().reindex(counts.index, fill_value=0)
    return pd.DataFrame(
        {
            "post": posts.groupby("row_id").size().reindex(counts.index, fill_value=0),
            "line": counts["lines"],
            "wire end": _ENDS_OF_A_LINE * counts["lines"],
            "fix one end": counts["lines"],
            "tie off": counts["lines"] - fitted,
            "100 m of wire": counts["run_out_m"] / 100.0,
            "join": joins.reindex(counts.index, fill_value=0),
            "coil": brought.reindex(counts.index, fill_value=0),
            "row": 1,
        }
    )


def _rated(counts: pd.DataFrame, rates: Iterable[RateItem]) -> list[pd.DataFrame]:
    """Tasks that have a rate: counted in what the rate is for, wire in metres."""
    rate: dict[str, RateItem] = {item.id: item for item in rates}
    parts = []
    for task, of in _RATED.items():
        known = rate.get(of)
        if known is None and task in _AT_WILL:
            continue
        per = known.per if known else _UNIT[task]
        one_end = task in _EACH_END and per == "wire end"
        ours = counts[counts[_UNIT[task]] > 0] if task in _SOME_ROWS else counts
        many = ours[task if one_end else per]
        many = many[many > 0]
        part = many.rename("quantity").rename_axis("row_id").reset_index()
        share = _HALF if task in _EACH_END and not one_end else 1.0
        minutes = part["quantity"] * (share * known.minutes if known else 0.0)
        if per == "100 m of wire":
            part, per = part.assign(quantity=100.0 * part["quantity"]), "m"
        part = part.assign(task=task, unit=per, known=known is not None, people=known.people if known else 1)
        parts.append(_lines(part, minutes=minutes, tools=known.tool if known else ""))
    return parts


def _lines(part: pd.DataFrame, *, minutes: pd.Series, tools: list[str] | str) -> pd.DataFrame:
    """The part of a table that one task makes, with the columns that all have."""
    part = part.assign(minutes=minutes, tools=tools)
    columns = ["row_id", "task", "quantity", "unit", "minutes", "known", "people", "tools"]
    return part[columns].astype({"quantity": "float64", "minutes": "float64"})


def _passes(counted: pd.DataFrame, strung: pd.DataFrame, coils: pd.DataFrame) -> pd.Series:
    """How often one walks along the row for each task."""
    in_pairs = counted["row_id"].map(coils.loc[coils["with_line"].notna(), "row_id"].value_counts()).fillna(0)
    shared = in_pairs.where(counted["task"] == RUN_OUT.name, 0).astype("int64") // 2
    by_row = strung.groupby("row_id")["lines"]
    lines = counted["row_id"].map(by_row.sum()).fillna(0).astype("int64")
    sides = counted["row_id"].map(by_row.max()).fillna(1).astype("int64").clip(1, _SIDES)
    once = counted["step"].map({_STEP[task.name]: task.passes for task in TASKS}).astype("int64")
    each = counted["step"].map({_STEP[task.name]: task.passes_per_line for task in TASKS}).astype("int64")
    return (once + each * (lines - shared)).where(counted["task"] != "clips and staples", sides)


def _without_minutes(done: pd.DataFrame, catalogue: Catalogue) -> list[Finding]:
    lost = done[~done["known"]].groupby(["task", "unit"], as_index=False)["quantity"].sum()
    if lost.empty:
        return []
    lost = lost.iloc[lost["task"].map(_STEP).argsort()]
    words = [f"{task} ({quantity:.0f} {unit})" for task, unit, quantity in lost.itertuples(index=False)]
    sentence = f"The catalogue has no minutes for: {', '.join(words)}. Their hours are walking only."
    return [Finding("no-rate", catalogue.folder or "catalogue", sentence)]


def _too_few_people(done: pd.DataFrame, work: WorkSettings) -> list[Finding]:
    need = done.groupby("task")["people"].max()
    short = need[need > work.people]
    if short.empty:
        return []
    words = ", ".join(f"{task} ({people})" for task, people in short.items())
    return [Finding("crew-too-small", "work.people", f"A crew of {work.people} is too small for: {words}.")]
