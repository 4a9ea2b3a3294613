"""The table that compares ways to get a foliage wire out of the way for winter."""

from typing import Final, NamedTuple

import numpy as np
import pandas as pd

from wirerun.arrays import BoolArray, FloatArray, is_blank, words
from wirerun.model.block import PlannedBlock
from wirerun.model.moved_wires import Lying
from wirerun.settings import Catalogue
from wirerun.tables import LET_DOWN, conform

# What an end that is undone asks for every spring, of each line.
_AGAIN: Final = ("tension", "tie off")
# And what an adjuster asks for.
_TURNED: Final = ("let out adjusters",)


def let_down_table(block: PlannedBlock, catalogue: Catalogue) -> pd.DataFrame:
    """`tables.LET_DOWN` of one block: every way of every foliage wire, with what it leaves hanging and costs.

    Parameters
    ----------
    block : PlannedBlock
        As planned.
    catalogue : Catalogue
        Prices and minutes of adjusters, minutes of straining and tying off.
    """
    drop, adjusters, ways = block.drop, block.adjusters, block.ways_down
    parked = np.asarray(ways.way == "park")
    judged = ~is_blank(ways.way) & ~parked
    nothing, none = np.zeros(parked.shape), np.full(parked.shape, np.nan)
    price = _of_kinds(block, {item.id: np.nan if item.price is None else item.price for item in catalogue.adjusters})
    minutes = _of_kinds(block, {item.id: item.minutes for item in catalogue.adjusters})
    if block.standing.adjusters:  # there already: they cost nothing more
        price, minutes = nothing, nothing
    again, turned = (
        nothing + (sum(rate.minutes for rate in catalogue.rates if rate.id in every_year) or np.nan)
        for every_year in (_AGAIN, _TURNED)
    )
    fitted = [np.where(adjusters.fitted, each, 0.0) for each in (price, minutes, turned)]
    ways_down = (
        _Way("nothing", judged, drop.freed, nothing, nothing, nothing),
        _Way("undo an end", judged, Lying(nothing + 1.0, nothing, nothing), nothing, nothing, again),
        _Way("adjuster", judged & (adjusters.down_mm > 0.0), drop.let_out, price, minutes, turned),
        _Way("park", parked, Lying(none, none, none), *fitted),
    )
    return conform(LET_DOWN, pd.concat([_lines(block, way) for way in ways_down], ignore_index=True))


class _Way(NamedTuple):
    """One way: where it is open, what it leaves hanging, what it costs of one line, [wire, row] each."""

    name: str
    open: BoolArray
    leaves: Lying
    price: FloatArray
    minutes: FloatArray
    yearly: FloatArray


def _lines(block: PlannedBlock, way: _Way) -> pd.DataFrame:
    at = np.nonzero(way.open)
    wire, row = at
    lines = np.array([each.lines for each in block.config.wires])[wire]
    lets_out = way.name in ("adjuster", "park")
    return pd.DataFrame(
        {
            "row_id": block.posts.rows.row_id[row],
            "wire_id": words([each.id for each in block.config.wires])[wire],
            "way": np.full(len(row), way.name, dtype=object),
            "clear_pct": 100.0 * way.leaves.clear[at],
            "greatest_up_m": way.leaves.greatest_m[at],
            "posts_up": way.leaves.posts_up[at],
            "take_up_mm": block.adjusters.down_mm[at] if lets_out else np.zeros(len(row)),
            "price": lines * way.price[at],
            "minutes": lines * way.minutes[at],
            "yearly_minutes": lines * way.yearly[at],
            "chosen": np.where(block.ways_down.way[at] == way.name, "yes", "no").astype(object),
        }
    )


def _of_kinds(block: PlannedBlock, known: dict[str, float]) -> FloatArray:
    """What is known of the adjuster of each wire, [wire, row]; NaN where it has none."""
    kind = block.adjusters.kind
    values = [known.get(each, np.nan) if each is not None else np.nan for each in kind.ravel()]
    return np.array(values, dtype=np.float64).reshape(kind.shape)
