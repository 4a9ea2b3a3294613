"""The table of what is left in the store, in the form in which it is read."""

import numpy as np
import pandas as pd

from wirerun.records import Stock
from wirerun.tables import STOCK_LEFT, conform, empty


def stock_table(stock: Stock) -> pd.DataFrame:
    """What is left in the store: `tables.STOCK_LEFT`, items first, then part coils."""
    if not len(stock):
        return empty(STOCK_LEFT)
    whole, parts = len(stock.item), len(stock.part_item)
    made = pd.DataFrame(
        {
            "item": np.concatenate([stock.item, stock.part_item]),
            "quantity": np.concatenate([stock.pieces, np.ones(parts, dtype=np.int64)]),
            "left_m": np.concatenate([np.full(whole, np.nan), stock.part_mm / 1000.0]),
            "tag": np.concatenate([np.full(whole, None, dtype=object), stock.part_tag]),
        }
    )
    return conform(STOCK_LEFT, made)
