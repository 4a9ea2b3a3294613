"""How long each row takes, task by task: quantities times the catalogue's minutes, walking, and what slope adds."""

from collections.abc import Collection, Iterator, Sequence
from typing import Final, NamedTuple

import numpy as np

from wirerun.arrays import BoolArray, FloatArray, IntArray, TextArray, is_blank, numbered, words
from wirerun.findings import Finding
from wirerun.model.coils import CoilPlan
from wirerun.model.row_work import RowWork
from wirerun.model.to_build import ToBuild
from wirerun.rules.order_of_work import FOR_POSTS, RUN_OUT, TASKS
from wirerun.settings import Catalogue, WorkSettings
from wirerun.settings.catalogue import AdjusterItem, EndItem, PostItem, RateItem, tools_of
from wirerun.settings.fixing_item import FixingItem

_ENDS_OF_A_LINE: Final = 2
_MINUTES: Final = 60.0
_HUNDRED_M: Final = 100.0

_TASK: Final = {task.name: task for task in TASKS}
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
_EACH_END: Final = ("fix one end", "tie off")
# Of two visits, each takes half the time (choice): a staple is driven loosely first and home later, and a rate for
# tying off that is not for each end is for both.
_HALF: Final = 0.5
_SIDES: Final = 2
_TWO: Final = 2


class _Part(NamedTuple):
    """What one kind of piece or one rate makes of a task, a line a row and item.

    minutes: of one person, without the way; known: whether the catalogue has minutes; tools: in words.
    """

    task: str
    unit: str
    row: IntArray
    quantity: FloatArray
    minutes: FloatArray
    known: BoolArray
    people: int
    tools: TextArray


def row_work(
    job: ToBuild, cut: CoilPlan | None, catalogue: Catalogue, work: WorkSettings
) -> tuple[RowWork, list[Finding]]:
    """One line for every row and task that there is in it, rows in the order given, tasks in working order.

    hours = (quantity * minutes + passes * way along the row / pace) / 60 * factor of the slope class

    Minutes are those of one person, whoever helps. Clips that no fixing suits and posts that the catalogue does not
    have are counted, but take no minutes. An end that carries an adjuster needs no tie-off. Half of a staple's minutes
    are for setting it, half for driving it home.

    Example: 12 wire ends at 2 min, six of them fixed before the wire is strained and six tied off after, and a pass of
    100 m at 50 m/min for each six, factor 1.15, take 28 min * 1.15 = 0.537 h.

    Parameters
    ----------
    job : ToBuild
        What is built.
    cut : CoilPlan or None
        Joins, coils carried into zones, and lines that are run out two in one walk; None: none of these is counted.
    catalogue : Catalogue
        Minutes and tools of posts, fixings, adjusters and rates.
    work : WorkSettings
        The walking pace, and the crew.

    Returns
    -------
    work : RowWork
    findings : list of Finding
        Tasks for which the catalogue has no minutes, or that need more people than the crew has.
    """
    posts, clips, gear = job.posts, job.clips, job.adjusters
    staples = {item.id for item in catalogue.fixings if item.is_staple}
    driven = np.array([item in staples for item in clips.item], dtype=np.bool_)
    ends = ~is_blank(posts.end_item)
    fixings = (clips.row, clips.item, clips.pieces)
    parts = [
        _pieces("set posts", (posts.row, posts.item, posts.posts), ~posts.is_end, catalogue.posts),
        _pieces("set end posts", (posts.row, posts.item, posts.posts), posts.is_end, catalogue.posts),
        _pieces("clips and staples", fixings, np.ones(len(clips.row), dtype=np.bool_), catalogue.fixings, staples),
        _pieces("drive home", fixings, driven, catalogue.fixings, staples),
        _pieces(
            "adjusters",
            (gear.row, gear.item, gear.adjusters),
            np.ones(len(gear.row), dtype=np.bool_),
            catalogue.adjusters,
        ),
        _pieces("end assemblies", (posts.row, posts.end_item, posts.posts), ends, catalogue.ends),
        *_rated(_counts(job, cut), catalogue),
    ]
    parts = [part for part in parts if len(part.row)]
    findings = [*_without_minutes(parts, catalogue), *_too_few_people(parts, work)]
    return _together(job, cut, parts, work), findings


def _together(job: ToBuild, cut: CoilPlan | None, parts: list[_Part], work: WorkSettings) -> RowWork:
    """Sum the parts by row and task."""
    row = np.concatenate([np.zeros(0, dtype=np.int64), *(part.row for part in parts)])
    step_of = np.concatenate(
        [np.zeros(0, dtype=np.int64), *(np.full(len(part.row), _STEP[part.task]) for part in parts)]
    )
    number, keys = numbered(row, step_of)
    place = np.concatenate([np.zeros(0, dtype=np.int64), *(np.full(len(p.row), at) for at, p in enumerate(parts))])
    quantity, minutes = (
        np.bincount(
            number, weights=np.concatenate([np.zeros(0), *(getattr(p, name) for p in parts)]), minlength=len(keys)
        ).astype(np.float64)
        for name in ("quantity", "minutes")
    )
    first = np.unique(number, return_index=True)[1]
    unit = words(parts[at].unit for at in place[first])
    people = np.zeros(len(keys), dtype=np.int64)
    np.maximum.at(people, number, np.array([part.people for part in parts], dtype=np.int64)[place])
    cells: list[dict[str, None]] = [{} for _ in keys]
    for at, tools in zip(number.tolist(), np.concatenate([words([]), *(p.tools for p in parts)]), strict=True):
        cells[at][tools] = None
    of_row, step = np.array(keys, dtype=np.int64).reshape(-1, 2).T
    walked = _passes(job, cut, of_row, step) * job.rows.walk_m[of_row] / work.walking_m_per_min
    hours = (minutes + walked) / _MINUTES * job.rows.slope_factor[of_row]
    order = np.lexsort((step, of_row))
    return RowWork(
        row=of_row[order],
        step=step[order],
        task=words(TASKS[at - 1].name for at in step[order]),
        quantity=quantity[order],
        unit=unit[order],
        hours=hours[order],
        people=people[order],
        tools=words(", ".join(tools_of(*cells[at])) for at in order),
    )


def _pieces(
    task: str,
    there: tuple[IntArray, TextArray, IntArray],
    counted: BoolArray,
    offers: Sequence[PostItem | FixingItem | AdjusterItem | EndItem],
    in_two_visits: Collection[str] = (),
) -> _Part:
    """Pieces of every item in every row, and their minutes; none where the item is not known."""
    row, item, pieces = (each[counted] for each in there)
    number, keys = numbered(row, item)
    minutes = {offer.id: offer.minutes * (_HALF if offer.id in in_two_visits else 1.0) for offer in offers}
    tool = {offer.id: offer.tool for offer in offers}
    # By row and name, as the tools are listed.
    order = sorted(range(len(keys)), key=lambda at: (keys[at][0], keys[at][1] is None, keys[at][1] or ""))
    names = [keys[at][1] for at in order]
    quantity = np.bincount(number, weights=pieces, minlength=len(keys)).astype(np.float64)[order]
    known = np.array([name in minutes for name in names], dtype=np.bool_)
    return _Part(
        task,
        _TASK[task].unit,
        np.array([keys[at][0] for at in order], dtype=np.int64),
        quantity,
        quantity * np.array([minutes.get(name, 0.0) for name in names]),
        known,
        1,
        words(tool.get(name, "") for name in names),
    )


def _counts(job: ToBuild, cut: CoilPlan | None) -> dict[str, FloatArray]:
    """How much there is in every row of what a rate can be for, [row] each."""
    wires, gear = job.wires, job.adjusters
    lines = job.per_row(wires.row, wires.lines)
    nothing = np.zeros(len(job.rows))
    joins, brought = nothing, nothing
    if cut is not None:
        pieces = cut.pieces
        one, row = np.ones(len(pieces), dtype=np.int64), cut.lines.row[pieces.line]
        joins, brought = (job.per_row(row[some], one[some]) for some in (pieces.joins_on, pieces.carried))
    return {
        "post": job.per_row(job.posts.row, job.posts.posts),
        "line": lines,
        "wire end": _ENDS_OF_A_LINE * lines,
        "fix one end": lines,
        "tie off": lines - job.per_row(gear.row, gear.adjusters),
        "100 m of wire": job.per_row(wires.row, wires.run_out_m) / _HUNDRED_M,
        "join": joins,
        "coil": brought,
        "row": np.ones(len(job.rows)),
    }


def _rated(counts: dict[str, FloatArray], catalogue: Catalogue) -> Iterator[_Part]:
    """Tasks that have a rate: counted in what the rate is for, wire in metres."""
    rates: dict[str, RateItem] = {item.id: item for item in catalogue.rates}
    strung = counts["line"] > 0.0
    for task, of in _RATED.items():
        rate = rates.get(of)
        if rate is None and task in FOR_POSTS:
            continue
        unit = _TASK[task].unit
        per = rate.per if rate else unit
        one_end = task in _EACH_END and per == "wire end"
        many_of = counts[task if one_end else per]
        there = counts["post"] > 0.0 if task in FOR_POSTS else strung
        if task in _SOME_ROWS:
            there = there & (counts[unit] > 0.0)
        row = np.flatnonzero(there & (many_of > 0.0))
        share = _HALF if task in _EACH_END and not one_end else 1.0
        quantity = many_of[row]
        minutes = quantity * (share * rate.minutes if rate else 0.0)
        in_metres = per == "100 m of wire"
        yield _Part(
            task,
            "m" if in_metres else per,
            row,
            quantity * (_HUNDRED_M if in_metres else 1.0),
            minutes,
            np.full(len(row), rate is not None),
            rate.people if rate else 1,
            np.full(len(row), rate.tool if rate else "", dtype=object),
        )


def _passes(job: ToBuild, cut: CoilPlan | None, row: IntArray, step: IntArray) -> FloatArray:
    """How often one walks along the row for each task, [task]."""
    in_pairs = np.zeros(len(job.rows)) if cut is None else job.per_row(*cut.in_pairs)
    shared = np.where(step == _STEP[RUN_OUT.name], in_pairs[row] // _TWO, 0.0)
    wires = job.wires
    lines, most = (np.zeros(len(job.rows), dtype=np.int64) for _ in range(2))
    np.add.at(lines, wires.row, wires.lines)
    np.maximum.at(most, wires.row, wires.lines)
    once, each = (np.array([getattr(task, name) for task in TASKS]) for name in ("passes", "passes_per_line"))
    sides = np.clip(most, 1, _SIDES)[row]
    walked = once[step - 1] + each[step - 1] * (lines[row] - shared)
    return np.where(step == _STEP["clips and staples"], sides, walked).astype(np.float64)


def _without_minutes(parts: list[_Part], catalogue: Catalogue) -> list[Finding]:
    lost: dict[tuple[str, str], float] = {}
    for part in parts:
        missing = part.quantity[~part.known].sum()
        if missing:
            lost[part.task, part.unit] = lost.get((part.task, part.unit), 0.0) + missing
    if not lost:
        return []
    ordered = sorted(lost.items(), key=lambda one: _STEP[one[0][0]])
    said = ", ".join(f"{task} ({quantity:.0f} {unit})" for (task, unit), quantity in ordered)
    sentence = f"The catalogue has no minutes for: {said}. Their hours are walking only."
    return [Finding("no-rate", catalogue.folder or "catalogue", sentence)]


def _too_few_people(parts: list[_Part], work: WorkSettings) -> list[Finding]:
    need = {part.task: part.people for part in parts}
    short = ", ".join(f"{task} ({need[task]})" for task in sorted(need) if need[task] > work.people)
    if not short:
        return []
    return [Finding("crew-too-small", "work.people", f"A crew of {work.people} is too small for: {short}.")]
