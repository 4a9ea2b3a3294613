"""Adjusters: which rows and wires need one, which kind, and at which end it goes."""

import numpy as np
import pandas as pd

from wirerun.findings import Finding, name_some
from wirerun.settings import AdjusterSettings
from wirerun.tables import ADJUSTERS


def choose_adjusters(
    totals: pd.DataFrame, settings: AdjusterSettings
) -> tuple[pd.DataFrame, pd.DataFrame, list[Finding]]:
    """Adjuster of every line of wire that does not drop far enough by itself.

    The first kind of the config whose range holds the take-up is chosen. Turns are the take-up over the barrel's
    circumference: wire wound on the wire already there takes a little less.

    Parameters
    ----------
    totals : DataFrame
        row_id, block_id, wire_id, lines, take_up_mm, cut_m_per_line, tails_m_per_line.
    settings : AdjusterSettings
        Kinds, the preferred one first, and the end they go to.

    Returns
    -------
    adjusters : DataFrame
        The columns of `tables.ADJUSTERS`.
    totals : DataFrame
        With the adjuster's tail in tails_m_per_line, and run_out_m.
    findings : list of Finding
        Rows that no kind reaches.
    """
    take_up = totals["take_up_mm"].to_numpy()
    needs = take_up > 0.0
    least, most, tail, barrel = (
        np.array([getattr(kind, name) or np.nan for kind in settings.kinds] or [np.nan])  # no kind reaches nothing
        for name in ("least_mm", "most_mm", "tail_m", "barrel_mm")
    )
    reaches = (take_up[:, None] >= np.nan_to_num(least)) & (take_up[:, None] <= most)
    which = reaches.argmax(axis=1)
    suits = needs & reaches.any(axis=1)
    names = np.array([kind.id for kind in settings.kinds] or [""], dtype=object)
    tails = totals["tails_m_per_line"] + np.where(suits, np.nan_to_num(tail)[which], 0.0)
    totals = totals.assign(tails_m_per_line=tails, run_out_m=totals["lines"] * (totals["cut_m_per_line"] + tails))
    line = np.repeat(np.flatnonzero(needs), totals["lines"].to_numpy()[needs])
    adjusters = pd.DataFrame(
        {
            "row_id": totals["row_id"].to_numpy()[line],
            "wire_id": totals["wire_id"].to_numpy()[line],
            "line": pd.Series(line).groupby(line).cumcount().to_numpy() + 1,
            "end": settings.end,
            "kind": np.where(suits, names[which], None)[line],
            "take_up_mm": take_up[line],
            "turns": np.where(suits, take_up / (np.pi * barrel[which]), np.nan)[line],
        }
    )
    return adjusters[ADJUSTERS.names], totals, _out_of_reach(totals[needs & ~suits])


def _out_of_reach(lost: pd.DataFrame) -> list[Finding]:
    if lost.empty:
        return []
    return [
        Finding(
            "no-adjuster",
            str(lost["block_id"].iloc[0]),
            f"No adjuster of the config takes up {lost['take_up_mm'].min():.0f} to {lost['take_up_mm'].max():.0f} mm, "
            f"needed in {lost['row_id'].nunique()} row(s): {name_some(lost['row_id'].unique())}.",
        )
    ]
