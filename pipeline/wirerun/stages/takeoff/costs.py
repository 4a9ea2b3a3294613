"""What the plan costs, at the prices of the catalogue and nothing else; in all, and block by block."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Final

import numpy as np

from wirerun.arrays import BoolArray, FloatArray, words
from wirerun.model.costs import Bought, Costs, Sizes
from wirerun.rounding import half_up, rounded
from wirerun.settings.catalogue import CHARGES, ChargeItem
from wirerun.tables import MATERIAL_KINDS

# Tools are had, not bought for one plan: without a price they are no cost, and no gap in the costs.
_NO_GAP: Final = "tool"
# Charges that posts make: none where all posts stand.
_FOR_POSTS: Final = ("setting out", "carting posts", "machine hire")
_CENT: Final = 2
# Quantities are rounded to what is printed of them before they are priced: whoever multiplies gets the total.
_QUANTITY: Final = 3
_Text = str | None


def price(bought: Bought, sizes: Sizes, charges: Sequence[ChargeItem], *, labour_per_hour: float | None) -> Costs:
    """Cost of every kind of material, of labour, of what else the job costs, and the sum of what is priced.

    A kind's total is that of its priced items, NaN where none has a price; unpriced names the others. What the
    catalogue has no price for is listed all the same: nobody should think that it costs nothing. Shares of all are of
    what stands above them. Totals are to the cent and add up as printed.

    To a block belongs what is used in it at the price of one, wire by its share of a coil, its hours, and the charges
    for its area, posts, rows and days; charges for posts are for the rows that get some. What is bought beyond that
    belongs to the whole order: spares, what is left of packs and coils, tools. A share in percent goes with what it is
    a share of.

    Parameters
    ----------
    bought : Bought
        What is ordered.
    sizes : Sizes
        The blocks.
    charges : sequence of ChargeItem
        The catalogue's.
    labour_per_hour : float or None
        What an hour costs; None: labour is not priced. [currency/h]

    Returns
    -------
    Costs
        Kinds in their usual order, "labour", the charges in theirs, "sum".
    """
    lines = _Lines(len(sizes.block_id))
    counted = (bought.kind != _NO_GAP) | ~np.isnan(bought.total)
    for kind in MATERIAL_KINDS:
        mine = counted & (bought.kind == kind)
        if mine.any():
            lines.add_material(kind, bought, mine)
    bought_total, bought_of = lines.total, lines.of_block
    hours = rounded(sizes.hours.sum(), _QUANTITY)
    lines.add("labour", hours, "h", labour_per_hour, sizes.hours, f"{hours:.2f} h of labour")
    given = {charge.id: charge for charge in charges}
    posts = sizes.posts.astype(np.float64)
    whole: dict[str, FloatArray] = {
        "ha": sizes.area_ha,
        "post": posts,
        "m of row": sizes.row_m,
        "crew day": sizes.hours / sizes.crew_day_h,
    }
    where_set: dict[str, FloatArray] = {
        "ha": sizes.area_ha * sizes.set_share,
        "post": posts,
        "m of row": sizes.set_row_m,
        "crew day": sizes.set_hours / sizes.crew_day_h,
    }
    for part in CHARGES:
        charge = given.get(part)
        if charge is None:
            lines.add(part, np.nan, None, None, np.zeros(0), part)
        elif charge.per == "% of materials":
            lines.add(part, bought_total, charge.per, charge.price, bought_of, part)
        elif charge.per == "% of all":
            lines.add(part, lines.total, charge.per, charge.price, lines.of_block, part)
        else:
            of = (where_set if part in _FOR_POSTS else whole)[charge.per]
            lines.add(part, float(of.sum()), charge.per, charge.price, of, part)
    return lines.summed()


@dataclass(slots=True)
class _Lines:
    """Cost lines as they are added, for so many blocks and the whole order."""

    blocks: int
    part: list[str] = field(default_factory=list)
    quantity: list[float] = field(default_factory=list)
    unit: list[_Text] = field(default_factory=list)
    unit_price: list[float] = field(default_factory=list)
    totals: list[float] = field(default_factory=list)
    unpriced: list[_Text] = field(default_factory=list)
    of_blocks: list[FloatArray] = field(default_factory=list)

    @property
    def total(self) -> float:
        """Return what the lines come to so far."""
        return rounded(np.nansum(self.totals), _CENT)

    @property
    def of_block(self) -> FloatArray:
        """Return what they come to by block, the whole order last, [block]."""
        return half_up(np.sum(self.of_blocks, axis=0), _CENT) if self.of_blocks else np.zeros(self.blocks + 1)

    def add_material(self, kind: str, bought: Bought, mine: BoolArray) -> None:
        """Add a kind of material."""
        priced = mine & ~np.isnan(bought.total)
        of_block = np.zeros(self.blocks + 1)
        for item in np.flatnonzero(priced):
            worth = bought.worth[:, item]
            used = _parted(rounded(worth.sum(), _CENT), worth)
            of_block += np.append(used, bought.total[item] - used.sum())
        lacking = "; ".join(bought.item[mine & ~priced]) or None
        total = rounded(bought.total[priced].sum(), _CENT) if priced.any() else np.nan
        self._append((kind, np.nan, None, np.nan), total, lacking, of_block)

    def add(
        self, part: str, quantity: float, unit: _Text, unit_price: float | None, of: FloatArray, lacking: str
    ) -> None:
        """Add what a quantity costs, parted among the blocks as `of` is: [block], or with the whole order last."""
        quantity = rounded(quantity, _QUANTITY)
        of_block = np.zeros(self.blocks + 1)
        if unit_price is None:
            self._append((part, quantity, unit, np.nan), np.nan, lacking, of_block)
            return
        share = 0.01 if unit is not None and unit.startswith("%") else 1.0
        total = rounded(quantity * unit_price * share, _CENT)
        of_block[: len(of)] = _parted(total, of)
        self._append((part, quantity, unit, unit_price), total, None, of_block)

    def _append(
        self, head: tuple[str, float, _Text, float], total: float, lacking: _Text, of_block: FloatArray
    ) -> None:
        part, quantity, unit, unit_price = head
        self.part.append(part)
        self.quantity.append(quantity)
        self.unit.append(unit)
        self.unit_price.append(unit_price)
        self.totals.append(total)
        self.unpriced.append(lacking)
        self.of_blocks.append(half_up(of_block, _CENT))

    def summed(self) -> Costs:
        """Return all lines and their sum."""
        lacking = "; ".join(gap for gap in self.unpriced if gap is not None) or None
        total = np.nan if np.isnan(self.totals).all() else self.total
        self._append(("sum", np.nan, None, np.nan), total, lacking, self.of_block)
        return Costs(
            part=words(self.part),
            quantity=np.array(self.quantity),
            unit=words(self.unit),
            unit_price=np.array(self.unit_price),
            total=np.array(self.totals),
            unpriced=words(self.unpriced),
            of_block=np.array(self.of_blocks).T,
        )


def _parted(total: float, weights: FloatArray) -> FloatArray:
    """Parts of a sum of money by weight, in whole cents that add up to it: what rounding leaves goes to the next."""
    so_far = np.cumsum(weights)
    if not so_far.size or so_far[-1] <= 0.0:
        return np.zeros(len(weights))
    return np.diff(half_up(total * so_far / so_far[-1], _CENT), prepend=0.0)
