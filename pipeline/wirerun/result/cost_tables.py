"""What is ordered and what the blocks measure, out of the tables; and the tables of what it all costs."""

import numpy as np
import pandas as pd

from wirerun.arrays import FloatArray
from wirerun.model.costs import Bought, Costs, Sizes
from wirerun.settings import Catalogue, WorkSettings
from wirerun.tables import BLOCK_COSTS, COSTS, conform, empty


def bought_of(
    materials: pd.DataFrame, zone_materials: pd.DataFrame, block_of_zone: pd.Series, catalogue: Catalogue
) -> Bought:
    """What is ordered, and what of it each block uses.

    Parameters
    ----------
    materials : DataFrame
        item, kind, unit_price, total.
    zone_materials : DataFrame
        zone_id, item, kind, quantity: pieces, or metres of wire. Tools go from zone to zone: no block uses them up.
    block_of_zone : Series
        Number of the block by zone_id, from 0.
    catalogue : Catalogue
        How long a coil is.
    """
    coil_m = materials["item"].map({wire.id: wire.length_m for wire in catalogue.wire})
    of_one = materials["unit_price"] / coil_m.where(materials["kind"] == "wire", 1.0)
    there = zone_materials[zone_materials["kind"] != "tool"]
    there = there.assign(block=there["zone_id"].map(block_of_zone))
    used = there.pivot_table(index=["kind", "item"], columns="block", values="quantity", aggfunc="sum")
    lines = pd.MultiIndex.from_frame(materials[["kind", "item"]])
    pieces = used.reindex(index=lines, columns=range(block_of_zone.max() + 1)).fillna(0.0).to_numpy(dtype=np.float64)
    return Bought(
        item=materials["item"].to_numpy(dtype=object),
        kind=materials["kind"].to_numpy(dtype=object),
        total=materials["total"].to_numpy(dtype=np.float64),
        worth=pieces.T * of_one.to_numpy(dtype=np.float64),
    )


def sizes_of(rows: pd.DataFrame, area_ha: pd.Series, work: WorkSettings) -> Sizes:
    """What the blocks measure.

    Parameters
    ----------
    rows : DataFrame
        block_id, length_m, posts, hours.
    area_ha : Series
        By block_id, in their order. [ha]
    work : WorkSettings
        The crew and its day.
    """
    each = rows.groupby("block_id")[["length_m", "posts", "hours"]].sum().reindex(area_ha.index, fill_value=0)
    return Sizes(
        block_id=area_ha.index.to_numpy(dtype=object),
        area_ha=area_ha.to_numpy(dtype=np.float64),
        row_m=each["length_m"].to_numpy(dtype=np.float64),
        posts=each["posts"].to_numpy(dtype=np.int64),
        hours=each["hours"].to_numpy(dtype=np.float64),
        crew_day_h=work.people * work.day_hours,
    )


def cost_table(costs: Costs, sizes: Sizes, currency: str, not_included: str) -> pd.DataFrame:
    """Costs of all: `tables.COSTS`; `not_included` are rows that could not be planned, in words."""
    made = pd.DataFrame(
        {
            "part": costs.part,
            "total": costs.total,
            **_by_size(costs.total, float(sizes.area_ha.sum()), float(sizes.row_m.sum())),
            "currency": currency,
            "unpriced": costs.unpriced,
            "not_included": not_included or None,
            "quantity": costs.quantity,
            "unit": costs.unit,
            "unit_price": costs.unit_price,
        }
    )
    return conform(COSTS, made)


def block_cost_table(costs: Costs, sizes: Sizes, currency: str) -> pd.DataFrame:
    """Costs block by block, and of the whole order: `tables.BLOCK_COSTS`."""
    priced = ~np.isnan(costs.total)
    owners = [*zip(sizes.block_id, sizes.area_ha, sizes.row_m, strict=True), (None, np.nan, np.nan)]
    parts = []
    for (block_id, area_ha, row_m), totals in zip(owners, costs.of_block, strict=True):
        mine = priced & ((totals != 0.0) | (costs.part == "sum"))
        sums = {"total": totals[mine], **_by_size(totals[mine], area_ha, row_m)}
        block = {"block_id": block_id, "part": costs.part[mine], "currency": currency, "area_ha": area_ha}
        parts.append(pd.DataFrame(block | sums))
    made = pd.concat([part for part in parts if len(part)] or [empty(BLOCK_COSTS)], ignore_index=True)
    return conform(BLOCK_COSTS, made)


def _by_size(total: FloatArray, area_ha: float, row_m: float) -> dict[str, FloatArray]:
    """Totals per hectare and per metre of row; NaN where there is neither."""
    return {"per_ha": total / (area_ha or np.nan), "per_row_m": total / (row_m or np.nan)}
