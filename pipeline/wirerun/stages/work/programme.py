"""The programme: every zone's tasks in working order, how long they take, what to load and which tools."""

from typing import Final

import pandas as pd

from wirerun.rules.order_of_work import RUN_OUT, TASKS
from wirerun.settings import Catalogue, WorkSettings
from wirerun.settings.catalogue import tools_of
from wirerun.tables import PROGRAMME, conform, empty
from wirerun.wording import many

# The task for which each kind of material is loaded. Posts and wire ends are told apart by the catalogue.
_TASK_OF_KIND: Final = {
    "wire": "run out",
    "clip": "clips and staples",
    "staple": "clips and staples",
    "fastener": "clips and staples",
    "adjuster": "adjusters",
    "end assembly": "end assemblies",
}
_TASK_OF_POST: Final = {"end": "set end posts", "intermediate": "set posts"}
_TASK_OF_END: Final = {"end staple": "end staples", "tie-off": "fix one end", "join": "join", "end hook": "fix one end"}
_NOTE: Final = {task.name: task.note for task in TASKS if task.note}
_LOADED: Final = ["zone_id", "task", "words"]


def list_tasks(
    row_work: pd.DataFrame,
    zone_of_row: pd.Series,
    zone_materials: pd.DataFrame,
    coils: pd.DataFrame,
    work: WorkSettings,
    catalogue: Catalogue,
) -> pd.DataFrame:
    """Tasks of every zone in working order, summed over its rows: `tables.PROGRAMME`.

    Hours of a zone's tasks add up to those of its rows. Days are those of the whole crew. Each item is loaded once:
    what serves as clip or staple and at the wire's end too, for the first of its tasks. Coils are named in the order
    of their numbers; a coil that is open already with the metres that have been run off it.

    Parameters
    ----------
    row_work : DataFrame
        row_id, step, task, quantity, unit, hours, people, tools.
    zone_of_row : Series
        Zone by row_id.
    zone_materials : DataFrame
        `tables.ZONE_MATERIALS`.
    coils : DataFrame
        coil_id, wire_item, row_id, from_m, ordered by coil and mark.
    work : WorkSettings
        Crew and day.
    catalogue : Catalogue
        Which posts are end posts, and what wire ends are for.
    """
    if row_work.empty:
        return empty(PROGRAMME)
    tasks = (
        row_work.assign(zone_id=row_work["row_id"].map(zone_of_row))
        .groupby(["zone_id", "step", "task", "unit"], as_index=False)
        .agg(quantity=("quantity", "sum"), hours=("hours", "sum"), people=("people", "max"), tools=("tools", _tools))
    )
    loads = pd.concat(
        [_coils(coils, zone_of_row), _items(zone_materials, tasks, set(coils["wire_item"]), catalogue)],
        ignore_index=True,
    )
    if loads.empty:
        loads = loads.astype(object)  # text of no lines cannot be joined
    words = loads.groupby(["zone_id", "task"], sort=False)["words"].agg("; ".join).rename("materials")
    tasks = tasks.join(words, on=["zone_id", "task"])
    return conform(
        PROGRAMME,
        tasks.assign(
            step=tasks.groupby("zone_id").cumcount() + 1,
            days=tasks["hours"] / (work.people * work.day_hours),
            tools=tasks["tools"].where(tasks["tools"] != ""),
            note=_notes(tasks, coils, zone_of_row),
        ),
    )


def _notes(tasks: pd.DataFrame, coils: pd.DataFrame, zone_of_row: pd.Series) -> pd.Series:
    """What to mind at each task, and how many pairs of lines are run out in one walk."""
    together = coils.loc[coils["with_line"].notna(), "row_id"].map(zone_of_row).value_counts() // 2
    pairs = tasks["zone_id"].map(together).where(tasks["task"] == RUN_OUT.name).fillna(0)
    words = [f" {many(int(count), 'pair')} of lines in one walk, from two coils." if count else "" for count in pairs]
    return tasks["task"].map(_NOTE) + words


def _items(zone_materials: pd.DataFrame, tasks: pd.DataFrame, coiled: set[str], catalogue: Catalogue) -> pd.DataFrame:
    """What to load but coils and tools, in words, for the first task of the zone that needs it."""
    loaded = zone_materials[zone_materials["kind"] != "tool"]
    loaded = loaded[~((loaded["kind"] == "wire") & loaded["item"].isin(coiled))].reset_index(drop=True)
    posts = {post.id: _TASK_OF_POST[post.kind] for post in catalogue.posts}
    ends = {end.id: _TASK_OF_END[end.use] for end in catalogue.wire_ends}
    kind = loaded["kind"]
    as_post = loaded["item"].map(posts).where(kind == "post")
    as_end = loaded["item"].map(ends).where(~kind.isin(["post", "wire", "adjuster"]))
    uses = pd.concat([loaded.assign(task=task) for task in (as_post, as_end, kind.map(_TASK_OF_KIND))])
    uses = uses[uses["task"].notna()].rename_axis("use").reset_index()
    first = (
        uses.merge(tasks[["zone_id", "task", "step"]], on=["zone_id", "task"])
        .sort_values(["use", "step"], kind="stable")
        .drop_duplicates("use")
    )
    words = [
        f"{quantity:.0f} x {item}" if unit == "piece" else f"{quantity:.1f} m of {item}"
        for quantity, unit, item in zip(first["quantity"], first["unit"], first["item"], strict=True)
    ]
    return first.assign(words=words)[_LOADED]


def _coils(coils: pd.DataFrame, zone_of_row: pd.Series) -> pd.DataFrame:
    """Coils to bring, in words: "wire 2.5 mm: coils C001 (open, 312.40 m run off), C002"."""
    each = coils.assign(zone_id=coils["row_id"].map(zone_of_row))
    each = each.groupby(["zone_id", "wire_item", "coil_id"], sort=False)["from_m"].min().reset_index()
    each["words"] = [
        f"{coil} (open, {run_off:.2f} m run off)" if run_off > 0.0 else coil
        for coil, run_off in zip(each["coil_id"], each["from_m"], strict=True)
    ]
    by_wire = each.groupby(["zone_id", "wire_item"], sort=False)["words"].agg(list).reset_index()
    words = [
        f"{wire}: coil{'s' if len(names) > 1 else ''} {', '.join(names)}"
        for wire, names in zip(by_wire["wire_item"], by_wire["words"], strict=True)
    ]
    return by_wire.assign(task="carry coils", words=words)[_LOADED]


def _tools(cells: pd.Series) -> str:
    """Tools of several rows; few cells differ."""
    return ", ".join(tools_of(*cells.unique()))
