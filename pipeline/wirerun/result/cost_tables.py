"""What is ordered and what the blocks measure; and the tables of what it all costs."""

import numpy as np
import pandas as pd

from wirerun.arrays import FloatArray, IntArray
from wirerun.model.costs import Bought, Costs, Sizes
from wirerun.model.materials import Materials, ZoneLoads
from wirerun.model.to_build import ToBuild
from wirerun.settings import Catalogue, WorkSettings
from wirerun.tables import BLOCK_COSTS, COSTS, conform, empty


def bought_of(materials: Materials, loads: ZoneLoads, block_of_zone: IntArray, catalogue: Catalogue) -> Bought:
    """What is ordered, and what of it each block uses.

    What comes out of the stock costs no block anything: of what a block uses, the share counts that is bought.

    Parameters
    ----------
    materials : Materials
        All of the order.
    loads : ZoneLoads
        Pieces, or metres of wire. Tools go from zone to zone: no block uses them up.
    block_of_zone : [zone]
        Number of each zone's block, from 0.
    catalogue : Catalogue
        How long a coil is.
    """
    place = {key: at for at, key in enumerate(zip(materials.kind, materials.item, strict=True))}
    coil_m = {wire.id: wire.length_m for wire in catalogue.wire}
    is_wire = materials.kind == "wire"
    of_coil = np.array([coil_m.get(item, np.nan) for item in materials.item])
    there = np.flatnonzero(loads.kind != "tool")
    used = np.zeros((int(block_of_zone.max(initial=-1)) + 1, len(materials)))
    keys = zip(loads.kind[there], loads.item[there], strict=True)
    at = np.array([place[key] for key in keys], dtype=np.int64)
    np.add.at(used, (block_of_zone[loads.zone[there]], at), loads.quantity[there])
    return Bought(
        item=materials.item,
        kind=materials.kind,
        total=materials.total,
        worth=used * materials.bought_share * (materials.unit_price / np.where(is_wire, of_coil, 1.0)),
    )


def sizes_of(rows: pd.DataFrame, job: ToBuild, area_ha: pd.Series, work: WorkSettings) -> Sizes:
    """What the blocks measure.

    Parameters
    ----------
    rows : DataFrame
        block_id, length_m, hours, in working order.
    job : ToBuild
        Posts to be set in them.
    area_ha : Series
        By block_id, in their order. [ha]
    work : WorkSettings
        The crew and its day.
    """
    posts = job.per_row(job.posts.row, job.posts.posts)
    measured = rows.assign(posts=posts, set_m=rows["length_m"], set_h=rows["hours"])
    measured.loc[posts == 0.0, ["set_m", "set_h"]] = 0.0
    columns = ["length_m", "posts", "hours", "set_m", "set_h"]
    each = measured.groupby("block_id")[columns].sum().reindex(area_ha.index, fill_value=0)
    row_m, set_m = (each[name].to_numpy(dtype=np.float64) for name in ("length_m", "set_m"))
    return Sizes(
        block_id=area_ha.index.to_numpy(dtype=object),
        area_ha=area_ha.to_numpy(dtype=np.float64),
        row_m=row_m,
        posts=each["posts"].to_numpy(dtype=np.int64),
        hours=each["hours"].to_numpy(dtype=np.float64),
        set_share=np.divide(set_m, row_m, out=np.zeros(len(row_m)), where=row_m > 0.0),
        set_row_m=set_m,
        set_hours=each["set_h"].to_numpy(dtype=np.float64),
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
