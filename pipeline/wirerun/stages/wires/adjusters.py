"""Adjusters: which rows and wires need one, and which kind."""

import numpy as np

from wirerun.arrays import FloatArray, only_where, words
from wirerun.findings import Findings, name_some
from wirerun.model.layout import Rows
from wirerun.model.wires import Adjusters
from wirerun.settings import AdjusterSettings
from wirerun.wording import many


def choose_adjusters(rows: Rows, take_up_mm: FloatArray, settings: AdjusterSettings, notes: Findings) -> Adjusters:
    """Adjuster of every wire that does not drop far enough by itself.

    The first kind of the config whose range holds the take-up is chosen. Turns are the take-up over the barrel's
    circumference: wire wound on the wire already there takes a little less.

    Parameters
    ----------
    rows : Rows
        The row axis.
    take_up_mm : [wire, row]
        Length to give; 0 or NaN where none is needed. [mm]
    settings : AdjusterSettings
        Kinds, the preferred one first.
    notes : Findings
        Hears of rows that no kind reaches.
    """
    needed = take_up_mm > 0.0
    kinds = settings.kinds
    none = [np.nan]  # no kind reaches nothing
    least, most, tail, barrel = (
        np.array(values or none, dtype=np.float64)
        for values in (
            [kind.least_mm for kind in kinds],
            [kind.most_mm for kind in kinds],
            [kind.tail_m for kind in kinds],
            [kind.barrel_mm or np.nan for kind in kinds],
        )
    )
    reaches = (take_up_mm[..., None] >= np.nan_to_num(least)) & (take_up_mm[..., None] <= most)
    which = reaches.argmax(axis=-1)
    suits = needed & reaches.any(axis=-1)
    names = words([kind.id for kind in kinds] or [""])
    lost = needed & ~suits
    if lost.any():
        ids = rows.row_id[lost.any(axis=0)]
        notes.note(
            "no-adjuster",
            f"No adjuster of the config takes up {take_up_mm[lost].min():.0f} to {take_up_mm[lost].max():.0f} mm, "
            f"needed in {many(len(ids), 'row')}: {name_some(ids)}.",
        )
    return Adjusters(
        needed,
        kind=only_where(suits, names[which]),
        turns=np.where(suits, take_up_mm / (np.pi * barrel[which]), np.nan),
        tail_m=np.where(suits, np.nan_to_num(tail)[which], 0.0),
    )
