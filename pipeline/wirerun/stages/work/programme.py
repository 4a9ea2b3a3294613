"""The programme: every zone's tasks in working order, how long they take, what to load and which tools."""

from collections.abc import Iterator
from typing import Final, NamedTuple

import numpy as np

from wirerun.arrays import IntArray, numbered, only_where, words
from wirerun.model.coils import CoilPlan
from wirerun.model.materials import ZoneLoads
from wirerun.model.row_work import RowWork, ZoneTasks
from wirerun.rules.order_of_work import RUN_OUT, TASKS
from wirerun.settings import Catalogue, WorkSettings
from wirerun.settings.catalogue import tools_of
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
_NO_END: Final = ("post", "wire", "adjuster")
_STEP: Final = {task.name: number for number, task in enumerate(TASKS, start=1)}


class _Load(NamedTuple):
    """What is loaded in a zone for a task, by its step in the whole order of work, in words."""

    zone: int
    step: int
    said: str


def list_tasks(
    done: RowWork, zone: IntArray, loads: ZoneLoads, cut: CoilPlan, work: WorkSettings, catalogue: Catalogue
) -> ZoneTasks:
    """Tasks of every zone in working order, summed over its rows.

    Hours of a zone's tasks add up to those of its rows. Days are those of the whole crew. Each item is loaded once:
    what serves as clip or staple and at the wire's end too, for the first of its tasks. Coils are named in the order
    of their numbers; a coil that is open already with the metres that have been run off it, a part coil of the stock
    with what is on it.

    Parameters
    ----------
    done : RowWork
        The work in every row.
    zone : [row]
        Number of each row's zone.
    loads : ZoneLoads
        What each zone takes.
    cut : CoilPlan
        What is cut from which coil.
    work : WorkSettings
        Crew and day.
    catalogue : Catalogue
        Which posts are end posts, and what wire ends are for.
    """
    number, keys = numbered(zone[done.row], done.step)
    order = sorted(range(len(keys)), key=lambda at: keys[at])
    first = np.unique(number, return_index=True)[1][order]
    quantity, hours = (
        np.bincount(number, weights=each, minlength=len(keys)).astype(np.float64)[order]
        for each in (done.quantity, done.hours)
    )
    people = np.zeros(len(keys), dtype=np.int64)
    np.maximum.at(people, number, done.people)
    cells: list[dict[str, None]] = [{} for _ in keys]
    for at, tools in zip(number.tolist(), done.tools, strict=True):
        cells[at][tools] = None
    of_zone, step = np.array([keys[at] for at in order], dtype=np.int64).reshape(-1, 2).T
    there = {(zone_of, at) for zone_of, at in keys}
    said: dict[tuple[int, int], list[str]] = {}
    for load in (*_coils(cut, zone), *_items(loads, there, set(cut.item), catalogue)):
        said.setdefault((load.zone, load.step), []).append(load.said)
    begins = np.searchsorted(of_zone, of_zone)
    row, lines = cut.in_pairs
    number, in_zones = numbered(zone[row])
    in_pairs = np.bincount(number, weights=lines, minlength=len(in_zones)).astype(np.int64)
    pairs = {of: int(count) // 2 for (of,), count in zip(in_zones, in_pairs, strict=True)}
    tools = words(", ".join(tools_of(*cells[at])) for at in order)
    return ZoneTasks(
        zone=of_zone,
        step=np.arange(1, len(of_zone) + 1) - begins,
        task=words(TASKS[at - 1].name for at in step),
        quantity=quantity,
        unit=done.unit[first],
        hours=hours,
        people=people[order],
        days=hours / (work.people * work.day_hours),
        materials=words("; ".join(said.get(keys[at], [])) or None for at in order),
        tools=only_where(tools != "", tools),
        note=words(_note(at, zone_of, pairs) for at, zone_of in zip(step.tolist(), of_zone.tolist(), strict=True)),
    )


def _note(step: int, zone: int, pairs: dict[int, int]) -> str | None:
    """What to mind at a task, and how many pairs of lines of a zone are run out in one walk."""
    task = TASKS[step - 1]
    both = f"{many(pairs[zone], 'pair')} of lines in one walk, from two coils." if zone in pairs else ""
    return " ".join(filter(None, [task.note, both if task.name == RUN_OUT.name else ""])) or None


def _items(loads: ZoneLoads, there: set[tuple[int, int]], coiled: set[str], catalogue: Catalogue) -> Iterator[_Load]:
    """What to load but coils and tools, for the first task of the zone that needs it."""
    posts = {post.id: _TASK_OF_POST[post.kind] for post in catalogue.posts}
    ends = {end.id: _TASK_OF_END[end.use] for end in catalogue.wire_ends}
    for zone, kind, item, unit, quantity in zip(
        loads.zone.tolist(), loads.kind, loads.item, loads.unit, loads.quantity.tolist(), strict=True
    ):
        if kind == "tool" or (kind == "wire" and item in coiled):
            continue
        named = (
            posts.get(item) if kind == "post" else None,
            ends.get(item) if kind not in _NO_END else None,
            _TASK_OF_KIND.get(kind),
        )
        steps = [_STEP[task] for task in named if task is not None and (zone, _STEP[task]) in there]
        if steps:
            said = f"{quantity:.0f} x {item}" if unit == "piece" else f"{quantity:.1f} m of {item}"
            yield _Load(zone, min(steps), said)


def _coils(cut: CoilPlan, zone: IntArray) -> Iterator[_Load]:
    """Coils to bring, in words: "wire 2.5 mm: coils C001P (part coil of 212.50 m), C002 (open, 312.40 m run off)"."""
    pieces = cut.pieces
    order = np.lexsort((pieces.from_mm, pieces.coil))
    number, keys = numbered(zone[cut.lines.row[pieces.line[order]]], pieces.coil[order])
    run_off_mm = pieces.from_mm[order][np.unique(number, return_index=True)[1]]
    names_of = cut.coil_id.tolist()
    brought: dict[tuple[int, str], list[str]] = {}
    for (of_zone, coil), begun_mm in zip(keys, run_off_mm.tolist(), strict=True):
        name = names_of[coil]
        if begun_mm > 0:
            name += f" (open, {begun_mm / 1000.0:.2f} m run off)"
        elif cut.part[coil] >= 0:
            name += f" (part coil of {cut.coil_mm[coil] / 1000.0:.2f} m)"
        brought.setdefault((of_zone, cut.item[coil]), []).append(name)
    for (of_zone, wire), names in brought.items():
        yield _Load(of_zone, _STEP["carry coils"], f"{wire}: coil{'s' * (len(names) > 1)} {', '.join(names)}")
