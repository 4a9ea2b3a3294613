"""What is left in the store once the plan is carried out."""

import numpy as np

from wirerun.arrays import words
from wirerun.model.coils import CoilPlan
from wirerun.model.materials import Materials
from wirerun.records import Stock
from wirerun.settings import Catalogue

_TOOL = "tool"


def stock_left(stock: Stock, materials: Materials, cut: CoilPlan, catalogue: Catalogue) -> Stock:
    """What there was and what is bought, less what the plan takes.

    Spares count as used: they are for what breaks and gets lost, so count them before you rely on them. Tools are not
    used up. Of wire, whole coils that are not begun are left, part coils that are not, and what is left of coils that
    is worth keeping, by the numbers of the coils.

    Parameters
    ----------
    stock : Stock
        What there was.
    materials : Materials
        What the plan takes, and what is bought in whole packs.
    cut : CoilPlan
        What the wire is cut from.
    catalogue : Catalogue
        What it does not have is in no store.
    """
    left: dict[str, int] = dict(zip(stock.item.tolist(), stock.pieces.tolist(), strict=True))
    wires = {wire.id for wire in catalogue.wire}
    begun = set(cut.part[cut.part >= 0].tolist())
    for at, (kind, item) in enumerate(zip(materials.kind, materials.item, strict=True)):
        bought, taken = int(materials.packs[at] * materials.pack[at]), int(materials.quantity[at] + materials.spare[at])
        if kind == "wire":
            if item not in wires:
                continue
            taken -= sum(stock.part_item[part] == item for part in begun)
        if kind == _TOOL and item not in left and not bought:
            continue
        left[item] = left.get(item, 0) + bought - (0 if kind == _TOOL else taken)
    kept = np.flatnonzero(cut.kept & (cut.left_mm > 0))
    unused = np.array([part for part in range(len(stock.part_item)) if part not in begun], dtype=np.int64)
    items = [item for item in sorted(left) if left[item] > 0]
    part_item = np.concatenate([stock.part_item[unused], cut.item[kept]])
    part_mm = np.concatenate([stock.part_mm[unused], cut.left_mm[kept]])
    tag = np.concatenate([stock.part_tag[unused], cut.coil_id[kept]])
    order = sorted(range(len(part_item)), key=lambda at: (part_item[at], -part_mm[at], str(tag[at])))
    return Stock(
        item=words(items),
        pieces=np.array([left[item] for item in items], dtype=np.int64),
        part_item=part_item[order],
        part_mm=part_mm[order],
        part_tag=tag[order],
    )
