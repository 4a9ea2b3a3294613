"""Work zones: consecutive rows for about a crew-day, as even as can be."""

from typing import Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from wirerun.arrays import FloatArray, IntArray
from wirerun.findings import Finding
from wirerun.optimise.partition import split_evenly
from wirerun.settings import WorkSettings
from wirerun.wording import many, spread

_NUMBERS: Final = 2


def draw_zones(
    rows: pd.DataFrame, hours: FloatArray, work: WorkSettings
) -> tuple[NDArray[np.object_], pd.DataFrame, list[Finding]]:
    """Zone of each row, the table of zones, and how even they are.

    A block gets as many zones as its hours make crew-days (times zone_days), to the nearest, but at least one and at
    most one a row. Of all ways to cut its rows into so many runs, the one with the least sum of squared hours is taken.

    Where slope classes are kept apart, every run of rows of one class gets as many zones as its own hours make, and
    the cuts between runs are fixed. A row whose slope is not known goes with the row before it.

    Example: rows of 3, 1, 1, 4, 2, 1 h and a crew of two for 2 h a day make three zones of 4, 5 and 3 h.

    Parameters
    ----------
    rows : DataFrame
        row_id, block_id, length_m, slope_pct, slope_class, posts, two_way_posts, in working order, blocks one after
        another.
    hours : shape (rows,)
        Working hours of one person for each row. [h]
    work : WorkSettings
        Crew, day, size of a zone, slope classes.

    Returns
    -------
    zone_id : shape (rows,)
        Such as B01-Z03.
    zones : DataFrame
        `tables.ZONES` without geometry.
    findings : list of Finding
        For every block the number of zones and how even they are.
    """
    slope = np.searchsorted(work.slope_classes_pct, rows["slope_pct"].fillna(0.0), side="right")
    table = rows.assign(hours=hours, slope=pd.Series(slope, index=rows.index).where(rows["slope_pct"].notna()))
    size = work.people * work.day_hours * work.zone_days
    zone_id = np.empty(len(table), dtype=object)
    for block, of_block in table.groupby("block_id", sort=False).indices.items():
        mine = table.iloc[of_block]
        zone_id[of_block] = zone_ids(str(block), _cut(mine, size, apart=work.keep_classes_apart))
    zones, findings = zone_table(rows, hours, zone_id, work)
    return zone_id, zones, findings


def zone_table(
    rows: pd.DataFrame, hours: FloatArray, zone_id: NDArray[np.object_], work: WorkSettings
) -> tuple[pd.DataFrame, list[Finding]]:
    """Table of zones that are drawn already, and how even they are: see `draw_zones`."""
    slope = np.searchsorted(work.slope_classes_pct, rows["slope_pct"].fillna(0.0), side="right")
    table = rows.assign(hours=hours, slope=pd.Series(slope, index=rows.index).where(rows["slope_pct"].notna()))
    zones = _zone_table(table.assign(zone_id=zone_id), work)
    return zones, _how_even(zones, work)


def zone_ids(block_id: str, zone: IntArray) -> list[str]:
    """Ids of zones from their numbers, from 0, each as long as the block's last: they sort as they are numbered."""
    digits = max(_NUMBERS, len(str(zone.max(initial=0) + 1)))
    return [f"{block_id}-Z{number + 1:0{digits}d}" for number in zone]


def _cut(rows: pd.DataFrame, size: float, *, apart: bool) -> IntArray:
    """Number of the zone of each row of a block."""
    hours = rows["hours"].to_numpy(dtype=np.float64)
    known = rows["slope"].ffill().bfill().fillna(0.0).to_numpy()
    walls = np.diff(known) != 0.0 if apart else np.zeros(len(rows) - 1, dtype=bool)
    run = np.concatenate([[0], np.cumsum(walls)])
    wanted = np.floor(np.bincount(run, weights=hours) / size + 0.5)
    parts = int(np.clip(wanted, 1, np.bincount(run)).sum())
    return split_evenly(hours, parts, walls=walls)


def _zone_table(rows: pd.DataFrame, work: WorkSettings) -> pd.DataFrame:
    zones = rows.groupby("zone_id", sort=False, as_index=False).agg(
        block_id=("block_id", "first"),
        first_row=("row_id", "first"),
        last_row=("row_id", "last"),
        rows=("row_id", "size"),
        row_length_m=("length_m", "sum"),
        hours=("hours", "sum"),
        posts=("posts", "sum"),
        two_way_posts=("two_way_posts", "sum"),
    )
    return zones.assign(
        slope_class=_class_range(rows).reindex(zones["zone_id"]).to_numpy(),
        people=work.people,
        days=zones["hours"] / (work.people * work.day_hours),
    )


def _class_range(rows: pd.DataFrame) -> pd.Series:
    """Slope class of each zone, or its flattest and steepest: "10-20 % to 20-30 %"; by zone, where it is known."""
    known = rows[rows["slope"].notna()].sort_values("slope", kind="stable").groupby("zone_id")["slope_class"]
    flattest, steepest = known.first(), known.last()
    return flattest.where(flattest == steepest, flattest + " to " + steepest)


def _how_even(zones: pd.DataFrame, work: WorkSettings) -> list[Finding]:
    """What to say of each block's zones."""
    half_a_day = 0.5 * work.people * work.day_hours
    findings = []
    for block, hours in zones.groupby("block_id", sort=False)["hours"]:
        sentence = f"{many(len(hours), 'work zone')} of {spread(hours.min(), hours.max(), 1)} h"
        if hours.max() > 0.0:
            sentence += f"; the longest takes {hours.max() / hours.mean():.2f} times the mean"
        if work.keep_classes_apart:
            short = many((hours < half_a_day).sum(), "zone", "are")
            sentence += f". Slope classes are kept apart: {short} under half a crew-day"
        findings.append(Finding("zones", str(block), f"{sentence}."))
    return findings
