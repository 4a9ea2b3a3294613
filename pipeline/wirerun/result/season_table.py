"""Foliage wires out of the blocks' tables, and the table of what they take every year."""

import numpy as np
import pandas as pd

from wirerun.model.season import MovedWires, SeasonWork
from wirerun.rounding import half_up
from wirerun.rules.pace import slope_factor
from wirerun.settings import Config
from wirerun.tables import SEASON, conform, empty


def moved_wires(wires: pd.DataFrame, rows: pd.DataFrame, adjusters: pd.DataFrame, config: Config) -> MovedWires:
    """Foliage wires with a known length, in the order of the rows.

    Parameters
    ----------
    wires : DataFrame
        row_id, wire_id, lines, run_out_m.
    rows : DataFrame
        row_id, block_id, slope_pct, in working order.
    adjusters : DataFrame
        row_id, wire_id, kind.
    config : Config
        Which are foliage wires in each block, and what slope makes of hours.
    """
    foliage = {
        (block_id, wire.id): place
        for block_id in rows["block_id"].unique()
        for place, wire in enumerate(config.for_block(block_id).wires)
        if wire.kind == "foliage"
    }
    row = wires["row_id"].map(pd.Series(np.arange(len(rows)), index=rows["row_id"].to_numpy())).to_numpy(dtype=np.int64)
    block = rows["block_id"].to_numpy(dtype=object)[row]
    place = pd.Series([foliage.get(each, -1) for each in zip(block, wires["wire_id"], strict=True)], dtype="int64")
    fitted = adjusters[adjusters["kind"].notna()].groupby(["row_id", "wire_id"]).size()
    each = pd.MultiIndex.from_frame(wires[["row_id", "wire_id"]])
    many = np.asarray(fitted.reindex(each, fill_value=0), dtype=np.int64)
    mine = np.flatnonzero((place >= 0).to_numpy() & wires["run_out_m"].notna().to_numpy())
    order = mine[np.lexsort((place.to_numpy()[mine], row[mine]))]
    return MovedWires(
        block_id=block[order],
        wire_id=wires["wire_id"].to_numpy(dtype=object)[order],
        lines=wires["lines"].to_numpy(dtype=np.int64)[order],
        run_out_m=wires["run_out_m"].to_numpy(dtype=np.float64)[order],
        adjusters=many[order],
        slope_factor=slope_factor(rows["slope_pct"].to_numpy(dtype=np.float64), config.work)[row[order]],
    )


def season_table(made: SeasonWork, labour_per_hour: float | None) -> pd.DataFrame:
    """What the foliage wires take every year: `tables.SEASON`."""
    if not len(made.task):
        return empty(SEASON)
    year_h = made.once_h * made.times
    hour = np.nan if labour_per_hour is None else labour_per_hour
    table = pd.DataFrame(
        {
            "block_id": made.block_id,
            "wire_id": made.wire_id,
            "task": made.task,
            "quantity": made.quantity,
            "unit": made.unit,
            "hours_once": made.once_h,
            "times_a_year": made.times,
            "hours_a_year": year_h,
            "cost_a_year": half_up(year_h * hour, 2),
        }
    )
    return conform(SEASON, table)
