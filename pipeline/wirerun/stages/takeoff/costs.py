"""What the plan costs, at the prices of the catalogue and nothing else."""

from typing import Final

import numpy as np
import pandas as pd

from wirerun.tables import COSTS, MATERIAL_KINDS, conform

# Tools are had, not bought for one plan: without a price they are no cost, and no gap in the costs.
_NO_GAP: Final = "tool"


def price(
    materials: pd.DataFrame,
    hours: float,
    *,
    labour_per_hour: float | None,
    currency: str,
    area_ha: float,
    row_m: float,
    not_included: str = "",
) -> pd.DataFrame:
    """Cost of every kind of material, of labour, and the sum of what is priced.

    A kind's total is that of its priced items, empty where none has a price; unpriced names the others. Totals are to
    the cent and add up as printed.

    Parameters
    ----------
    materials : DataFrame
        item, kind, unit_price, total.
    hours : float
        Working hours of one person for the whole plan. [h]
    labour_per_hour : float or None
        What an hour costs; None: labour is not priced. [currency/h]
    currency : str
        Of all prices.
    area_ha : float
        Area of the blocks, exclusions taken off. [ha]
    row_m : float
        Length of all rows, in plan. [m]
    not_included : str
        Rows that could not be planned, in words.

    Returns
    -------
    costs : DataFrame
        `tables.COSTS`: kinds in their usual order, "labour", "sum".
    """
    counted = materials[(materials["kind"] != _NO_GAP) | materials["unit_price"].notna()]
    present = [kind for kind in MATERIAL_KINDS if (counted["kind"] == kind).any()]
    totals = counted.groupby("kind")["total"].sum(min_count=1).reindex(present)
    lost = counted[counted["unit_price"].isna()]
    unpriced = lost.groupby("kind")["item"].agg("; ".join).reindex(present)
    labour = np.nan if labour_per_hour is None else np.floor(100.0 * hours * labour_per_hour + 0.5) / 100.0
    lines = pd.DataFrame(
        {
            "part": [*present, "labour"],
            "total": [*np.round(totals, 2), labour],
            "unpriced": [*unpriced, f"{hours:.2f} h of labour" if labour_per_hour is None else None],
        }
    )
    whole = {
        "part": "sum",
        "total": round(lines["total"].sum(min_count=1), 2),
        "unpriced": "; ".join(lines["unpriced"].dropna()) or None,
    }
    costs = pd.concat([lines, pd.DataFrame([whole])], ignore_index=True).astype({"total": "float64", "unpriced": "str"})
    return conform(
        COSTS,
        costs.assign(
            per_ha=costs["total"] / (area_ha or np.nan),
            per_row_m=costs["total"] / (row_m or np.nan),
            currency=currency,
            not_included=not_included or None,
        ),
    )
