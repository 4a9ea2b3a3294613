"""What the foliage wires take every year, once the block stands: lifting them, and letting them down for the winter."""

from collections.abc import Sequence
from typing import Final

import numpy as np

from wirerun.arrays import FloatArray, IntArray, TextArray
from wirerun.findings import Finding
from wirerun.model.season import MovedWires, SeasonWork
from wirerun.rounding import half_up
from wirerun.settings import Catalogue, WorkSettings
from wirerun.settings.catalogue import SEASON_TASKS, RateItem

_MINUTES: Final = 60.0
_HUNDRED_M: Final = 100.0


def season_work(wires: MovedWires, catalogue: Catalogue, work: WorkSettings) -> tuple[SeasonWork, list[Finding]]:
    """Hours of lifting, letting down and letting out, block by block and wire by wire.

    hours once = quantity * minutes / 60 * factor of the row's slope class, over the block's rows, to a hundredth

    The way along the row is in the minutes: one lifts as one walks. Shoots that are tucked in on the way are not.

    Example: 400 m of wire at 3 min for 100 m on a slope of factor 1.5 take 0.30 h; lifted twice a year, 0.60 h.

    Parameters
    ----------
    wires : MovedWires
        Foliage wires of every row.
    catalogue : Catalogue
        Minutes of the tasks.
    work : WorkSettings
        How often a wire is lifted in a year.

    Returns
    -------
    work : SeasonWork
        Tasks in the order of `SEASON_TASKS`; those that a wire has nothing of are left out.
    findings : list of Finding
        Tasks for which the catalogue has no minutes.
    """
    rates: dict[str, RateItem] = {rate.id: rate for rate in catalogue.rates}
    pair, block, wire = _pairs(wires)
    parts, lacking = [], []
    for number, (task, units) in enumerate(SEASON_TASKS.items()):
        rate = rates.get(task)
        counted, unit = _count(wires, rate.per if rate else units[0])
        quantity, weighted = (
            np.bincount(pair, weights=each, minlength=len(block)).astype(np.float64)
            for each in (counted, counted * wires.slope_factor)
        )
        there = quantity > 0.0
        if rate is None and there.any():
            lacking.append(task)
        once = half_up(weighted * _minutes_of_one(rate) / _MINUTES, 2)
        parts.append((there, np.full(len(block), number), quantity, np.full(len(block), unit, dtype=object), once))
    there, task_of, quantity, unit_of, once_h = (np.concatenate(each) for each in zip(*parts, strict=True))
    owner = np.tile(np.arange(len(block)), len(SEASON_TASKS))
    order = np.lexsort((task_of, owner))
    order = order[there[order]]
    names = np.array(list(SEASON_TASKS), dtype=object)
    times = np.array([work.lifts_per_year if task == "lift" else 1 for task in SEASON_TASKS], dtype=np.int64)
    made = SeasonWork(
        block_id=block[owner][order],
        wire_id=wire[owner][order],
        task=names[task_of][order],
        quantity=quantity[order],
        unit=unit_of[order],
        once_h=once_h[order],
        times=times[task_of][order],
    )
    return made, _without_minutes(lacking, catalogue)


def _pairs(wires: MovedWires) -> tuple[IntArray, TextArray, TextArray]:
    """Number of each wire's block and wire together, as they first come; and the two of each number."""
    seen: dict[tuple[str, str], int] = {}
    each = zip(wires.block_id.tolist(), wires.wire_id.tolist(), strict=True)
    pair = np.array([seen.setdefault(one, len(seen)) for one in each], dtype=np.int64)
    block, wire = (np.array([one[part] for one in seen], dtype=object) for part in (0, 1))
    return pair, block, wire


def _count(wires: MovedWires, per: str) -> tuple[FloatArray, str]:
    """How much there is of what a rate is for, [wire], and its unit; wire in metres."""
    if per == "100 m of wire":
        return wires.run_out_m, "m"
    return np.asarray(wires.adjusters if per == "adjuster" else wires.lines, dtype=np.float64), per


def _minutes_of_one(rate: RateItem | None) -> float:
    if rate is None:
        return np.nan
    return rate.minutes / (_HUNDRED_M if rate.per == "100 m of wire" else 1.0)


def _without_minutes(lacking: Sequence[str], catalogue: Catalogue) -> list[Finding]:
    if not lacking:
        return []
    sentence = f"The catalogue has no minutes for: {', '.join(lacking)}. What that takes every year is not told."
    return [Finding("no-rate", catalogue.folder or "catalogue", sentence)]
