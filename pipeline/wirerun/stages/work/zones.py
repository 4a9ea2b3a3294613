"""Work zones: consecutive rows for about a crew-day, as even as can be."""

from functools import partial
from typing import Final

import numpy as np

from wirerun.arrays import BoolArray, FloatArray, IntArray, TextArray, no_words, numbered, words
from wirerun.findings import Finding
from wirerun.model.zones import ZoneRows, Zones
from wirerun.optimise.partition import split_evenly
from wirerun.settings import WorkSettings
from wirerun.wording import many, spread

_NUMBERS: Final = 2


def draw_zones(rows: ZoneRows, hours: FloatArray, work: WorkSettings) -> tuple[IntArray, TextArray]:
    """Zone of each row, and the zones' ids.

    A block gets as many zones as its hours make crew-days (times zone_days), to the nearest, but at least one and at
    most one a row. Of all ways to cut its rows into so many runs, the one with the least sum of squared hours is taken.

    Where slope classes are kept apart, every run of rows of one class gets as many zones as its own hours make, and
    the cuts between runs are fixed. A row whose slope is not known goes with the row before it.

    Example: rows of 3, 1, 1, 4, 2, 1 h and a crew of two for 2 h a day make three zones of 4, 5 and 3 h.

    Parameters
    ----------
    rows : ZoneRows
        Blocks one after another.
    hours : [row]
        Working hours of one person. [h]
    work : WorkSettings
        Crew, day, size of a zone, slope classes.

    Returns
    -------
    zone : [row]
        Number of its zone, from 0 over all blocks.
    zone_id : [zone]
        Such as B01-Z03.
    """
    size = work.people * work.day_hours * work.zone_days
    block, names = numbered(rows.block_id)
    zone, ids = np.zeros(len(rows), dtype=np.int64), list[str]()
    for number, (block_id,) in enumerate(names):
        mine = block == number
        walls = work.keep_classes_apart & _class_changes(rows.slope_pct[mine], work)
        cut = _cut(hours[mine], size, walls)
        zone[mine] = len(ids) + cut
        ids += zone_ids(str(block_id), cut.max() + 1)
    return zone, words(ids)


def sum_up(
    rows: ZoneRows, hours: FloatArray, zone: IntArray, zone_id: TextArray, work: WorkSettings
) -> tuple[Zones, list[Finding]]:
    """What zones that are drawn come to, and of every block how many there are and how even.

    Parameters
    ----------
    rows, hours, work
        As `draw_zones` takes them; the hours may be others than those the zones were drawn by.
    zone, zone_id : [row], [zone]
        As it gives them.
    """
    count = len(zone_id)
    first, rows_of = np.searchsorted(zone, np.arange(count)), np.bincount(zone, minlength=count)
    of_zone = partial(np.bincount, zone, minlength=count)
    in_hours = np.asarray(of_zone(hours), dtype=np.float64)
    zones = Zones(
        zone_id=zone_id,
        block_id=rows.block_id[first],
        first_row=rows.row_id[first],
        last_row=rows.row_id[first + rows_of - 1],
        rows=rows_of,
        row_length_m=np.asarray(of_zone(rows.length_m), dtype=np.float64),
        slope_class=_class_range(rows, zone, count),
        hours=in_hours,
        days=in_hours / (work.people * work.day_hours),
        posts=of_zone(rows.posts).astype(np.int64),
        two_way_posts=of_zone(rows.two_way_posts).astype(np.int64),
        people=work.people,
    )
    return zones, _how_even(zones, work)


def zone_ids(block_id: str, count: int) -> list[str]:
    """Ids of a block's zones, numbered from 1, each as long as the last: they sort as they are numbered."""
    digits = max(_NUMBERS, len(str(count)))
    return [f"{block_id}-Z{number:0{digits}d}" for number in range(1, count + 1)]


def _cut(hours: FloatArray, size: float, walls: BoolArray) -> IntArray:
    """Number of the zone of each row of a block, cut at least where a wall is, [row - 1]."""
    run = np.concatenate([[0], np.cumsum(walls)])
    wanted = np.floor(np.bincount(run, weights=hours) / size + 0.5)
    parts = int(np.clip(wanted, 1, np.bincount(run)).sum())
    return split_evenly(hours, parts, walls=walls)


def _class_changes(slope_pct: FloatArray, work: WorkSettings) -> BoolArray:
    """Between which rows of a block the slope class changes, [row - 1]; where it is not known it goes on."""
    known = ~np.isnan(slope_pct)
    slope = np.searchsorted(work.slope_classes_pct, slope_pct, side="right")[known]
    # Before the first that is known there is no change either.
    before = np.maximum(np.cumsum(known) - 1, 0)
    return np.diff(slope[before]) != 0 if known.any() else np.zeros(len(slope_pct) - 1, dtype=np.bool_)


def _class_range(rows: ZoneRows, zone: IntArray, count: int) -> TextArray:
    """Slope class of each zone, or its flattest and steepest: "10-20 % to 20-30 %"; None where none is known."""
    known = np.flatnonzero(~np.isnan(rows.slope_pct))
    by_slope = known[np.lexsort((rows.slope_pct[known], zone[known]))]
    sloped = np.unique(zone[known])
    first = np.searchsorted(zone[by_slope], sloped)
    last = np.searchsorted(zone[by_slope], sloped, side="right") - 1
    flattest, steepest = rows.slope_class[by_slope[first]], rows.slope_class[by_slope[last]]
    found = no_words(count)
    found[sloped] = np.where(flattest == steepest, flattest, flattest + " to " + steepest)
    return found


def _how_even(zones: Zones, work: WorkSettings) -> list[Finding]:
    """What to say of each block's zones."""
    half_a_day = 0.5 * work.people * work.day_hours
    findings = []
    block, names = numbered(zones.block_id)
    for number, (block_id,) in enumerate(names):
        hours = zones.hours[block == number]
        sentence = f"{many(len(hours), 'work zone')} of {spread(hours.min(), hours.max(), 1)} h"
        if hours.max() > 0.0:
            sentence += f"; the longest takes {hours.max() / hours.mean():.2f} times the mean"
        if work.keep_classes_apart:
            short = many((hours < half_a_day).sum(), "zone", "are")
            sentence += f". Slope classes are kept apart: {short} under half a crew-day"
        findings.append(Finding("zones", str(block_id), f"{sentence}."))
    return findings
