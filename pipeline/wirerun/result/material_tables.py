"""The tables of what is ordered, what each zone takes, and what is done there."""

import numpy as np
import pandas as pd

from wirerun.arrays import TextArray
from wirerun.model.materials import Materials, ZoneLoads
from wirerun.model.row_work import ZoneTasks
from wirerun.model.spare_parts import SpareParts
from wirerun.tables import MATERIALS, PROGRAMME, SPARE_PARTS, ZONE_MATERIALS, conform, empty


def material_table(materials: Materials, not_included: str) -> pd.DataFrame:
    """Order list: `tables.MATERIALS`; `not_included` are rows that could not be planned, in words."""
    if not len(materials):
        return empty(MATERIALS)
    made = pd.DataFrame(
        {
            "item": materials.item,
            "kind": materials.kind,
            "quantity": materials.quantity,
            "unit": materials.unit,
            "spare_quantity": materials.spare,
            "unit_price": materials.unit_price,
            "total": materials.total,
            "length_m": materials.length_m,
            "mass_kg": materials.mass_kg,
            "used_for": materials.used_for,
            "price_source": materials.price_source,
            "not_included": not_included or None,
            "supplier": materials.supplier,
            "pack": materials.pack,
            "packs": materials.packs,
            "in_stock": materials.in_stock,
            "to_order": materials.to_order,
            "stock_worth": materials.stock_worth,
        }
    )
    return conform(MATERIALS, made)


def zone_material_table(loads: ZoneLoads, zone_id: TextArray) -> pd.DataFrame:
    """What each zone takes: `tables.ZONE_MATERIALS`; `zone_id` is [zone]."""
    if not len(loads):
        return empty(ZONE_MATERIALS)
    made = pd.DataFrame(
        {
            "zone_id": zone_id[loads.zone],
            "item": loads.item,
            "kind": loads.kind,
            "quantity": loads.quantity.astype(np.float64),
            "unit": loads.unit,
        }
    )
    return conform(ZONE_MATERIALS, made)


def spare_part_table(parts: SpareParts) -> pd.DataFrame:
    """What is kept for a year's repairs: `tables.SPARE_PARTS`."""
    if not len(parts):
        return empty(SPARE_PARTS)
    names = ("item", "kind", "quantity", "unit", "unit_price", "total", "reason")
    return conform(SPARE_PARTS, pd.DataFrame({name: getattr(parts, name) for name in names}))


def programme_table(tasks: ZoneTasks, zone_id: TextArray) -> pd.DataFrame:
    """What is done in each zone: `tables.PROGRAMME`; `zone_id` is [zone]."""
    if not len(tasks):
        return empty(PROGRAMME)
    names = ("step", "task", "quantity", "unit", "hours", "people", "days", "materials", "tools", "note")
    made = pd.DataFrame({"zone_id": zone_id[tasks.zone]} | {name: getattr(tasks, name) for name in names})
    return conform(PROGRAMME, made)
