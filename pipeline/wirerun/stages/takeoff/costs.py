"""What the plan costs, at the prices of the catalogue and nothing else."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import pandas as pd

from wirerun.settings.catalogue import CHARGES, ChargeItem
from wirerun.tables import COSTS, MATERIAL_KINDS, conform

# Tools are had, not bought for one plan: without a price they are no cost, and no gap in the costs.
_NO_GAP: Final = "tool"


@dataclass(frozen=True, slots=True)
class Job:
    """What a plan is sized by: area [ha], rows in plan [m], posts, hours of one person, and days of the crew."""

    area_ha: float
    row_m: float
    posts: int
    hours: float
    crew_days: float


def price(
    materials: pd.DataFrame,
    job: Job,
    charges: Sequence[ChargeItem],
    *,
    labour_per_hour: float | None,
    currency: str,
    not_included: str = "",
) -> pd.DataFrame:
    """Cost of every kind of material, of labour, of what else the job costs, and the sum of what is priced.

    A kind's total is that of its priced items, empty where none has a price; unpriced names the others. What the
    catalogue has no price for is listed all the same: nobody should think that it costs nothing. Shares of all are of
    what stands above them. Totals are to the cent and add up as printed.

    Parameters
    ----------
    materials : DataFrame
        item, kind, unit_price, total.
    job : Job
        Sizes of the plan, rows that could not be planned left out.
    charges : sequence of ChargeItem
        The catalogue's.
    labour_per_hour : float or None
        What an hour costs; None: labour is not priced. [currency/h]
    currency : str
        Of all prices.
    not_included : str
        Rows that could not be planned, in words.

    Returns
    -------
    costs : DataFrame
        `tables.COSTS`: kinds in their usual order, "labour", the charges in theirs, "sum".
    """
    counted = materials[(materials["kind"] != _NO_GAP) | materials["unit_price"].notna()]
    present = [kind for kind in MATERIAL_KINDS if (counted["kind"] == kind).any()]
    totals = counted.groupby("kind")["total"].sum(min_count=1).reindex(present)
    lost = counted[counted["unit_price"].isna()]
    unpriced = lost.groupby("kind")["item"].agg("; ".join).reindex(present)
    labour = np.nan if labour_per_hour is None else _cents(job.hours * labour_per_hour)
    lines = [(kind, round(total, 2), gap) for kind, total, gap in zip(present, totals, unpriced, strict=True)]
    lines.append(("labour", labour, f"{job.hours:.2f} h of labour" if labour_per_hour is None else None))
    bought = float(np.nansum([total for _, total, _ in lines[:-1]]))
    given = {charge.id: charge for charge in charges}
    for part in CHARGES:
        so_far = float(np.nansum([total for _, total, _ in lines]))
        total = _charged(given.get(part), job, bought, so_far)
        lines.append((part, total, part if np.isnan(total) else None))
    gaps = [gap for *_, gap in lines if isinstance(gap, str)]
    known = [total for _, total, _ in lines if not np.isnan(total)]
    lines.append(("sum", round(sum(known), 2) if known else np.nan, "; ".join(gaps) or None))
    costs = pd.DataFrame(lines, columns=["part", "total", "unpriced"]).astype({"total": "float64", "unpriced": "str"})
    return conform(
        COSTS,
        costs.assign(
            per_ha=costs["total"] / (job.area_ha or np.nan),
            per_row_m=costs["total"] / (job.row_m or np.nan),
            currency=currency,
            not_included=not_included or None,
        ),
    )


def _charged(charge: ChargeItem | None, job: Job, bought: float, so_far: float) -> float:
    """What a charge comes to; NaN where it has no price."""
    if charge is None or charge.price is None:
        return np.nan
    of = {
        "ha": job.area_ha,
        "post": job.posts,
        "m of row": job.row_m,
        "crew day": job.crew_days,
        "% of materials": bought / 100.0,
        "% of all": so_far / 100.0,
    }
    return _cents(charge.price * of[charge.per])


def _cents(value: float) -> float:
    """Money to the cent, halves up."""
    return float(np.floor(100.0 * value + 0.5) / 100.0)
