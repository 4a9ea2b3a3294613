"""What to buy in all, and what to take to every work zone."""

from typing import Final

import numpy as np

from wirerun.arrays import FloatArray, IntArray, TextArray, numbered, words
from wirerun.findings import Finding, name_some
from wirerun.model.coils import CoilPlan
from wirerun.model.materials import Materials, ZoneLoads
from wirerun.model.to_build import ToBuild
from wirerun.records import Stock
from wirerun.rounding import half_up
from wirerun.rules.order_of_work import FOR_POSTS
from wirerun.rules.ordering import SUPPLIES, money, packs_for
from wirerun.settings import Catalogue, Config
from wirerun.settings.catalogue import SEASON_TASKS, tools_of
from wirerun.stages.takeoff.offers import Offer, offers_for
from wirerun.stages.takeoff.uses import Uses, all_uses, joins_of, one_kind, summed
from wirerun.wording import many, number

# Far below a piece, far above the rounding of a sum.
_ROUNDING: Final = 1e-6
_CENT: Final = 2


def list_materials(
    job: ToBuild, zone: IntArray, cut: CoilPlan, config: Config, catalogue: Catalogue, stock: Stock | None = None
) -> tuple[Materials, ZoneLoads, list[Finding]]:
    """Order list, list for every work zone, and what to say of them.

    Posts and clips without an item are not listed. Wire that the catalogue does not have is listed by length. An end
    that carries an adjuster needs no tie-off. Of several items for a wire's ends or joins the one that is cheapest for
    an end is taken.

    Spares are whole pieces, at least the percentage of the kind. Spare coils of wire are those that are missing when
    what is left of coils and is worth keeping, part coils of the stock among it, is laid to the percentage of the
    length.

    Of each tool that an item or a task needs, and of those that always go along, one is listed, or one for each person
    where the catalogue says so, in all and for every zone where it is needed; the catalogue's words are parted at
    commas and "and".

    An item that serves as clip, staple, fastener or wire end at once is one line, under the first of these kinds; where
    the catalogue names several prices for it, the highest is taken, with its pack, and price_source says so.

    What is in stock is not ordered, spares neither. What is sold in packs only is ordered in whole ones: the total is
    theirs.

    Parameters
    ----------
    job : ToBuild
        What is built.
    zone : [row]
        Number of each row's zone.
    cut : CoilPlan
        What the wire is cut from.
    config : Config
        The crew, and the currency.
    catalogue : Catalogue
        Fasteners, wire ends, tools, spares, prices.
    stock : Stock, optional
        What is there already.

    Returns
    -------
    materials : Materials
    loads : ZoneLoads
        Its sum over the zones is quantity, of wire length_m.
    findings : list of Finding
        Items without price; items invented for the demo; ends or joins that the catalogue has nothing for.
    """
    stock = stock or Stock.nothing()
    uses, lacking = all_uses(job, cut, catalogue)
    offers = offers_for(catalogue, set(zip(uses.kind.tolist(), uses.item.tolist(), strict=True)))
    tools = _tools(job, cut, uses, offers, catalogue)
    named = {(kind, item) for each in (uses, tools) for kind, item in zip(each.kind, each.item, strict=True)}
    offers = offers_for(catalogue, named)
    merged = Uses(uses.row, one_kind(uses.kind, uses.item), uses.item, uses.quantity, uses.what_for, uses.wire_id)
    every = Uses.joined([merged.only(uses.quantity > 0), tools])
    taken = {tool.id: config.work.people if tool.per == "person" else 1 for tool in catalogue.tools}
    materials = _priced(_Counted.of(every, taken, cut, catalogue, stock), offers, every)
    findings = [
        *lacking,
        *_unpriced(materials, catalogue),
        *_invented(offers, catalogue),
        *_out_of_stock(materials, config.catalogue.currency),
    ]
    return materials, _loads(every, zone, taken), findings


def _tools(job: ToBuild, cut: CoilPlan, uses: Uses, offers: list[Offer], catalogue: Catalogue) -> Uses:
    """One use of every tool for every row and what needs it: an item, or a task that the catalogue has minutes for."""
    tools = {(one.kind, one.item): one.tool for one in offers}
    _, keys = numbered(uses.row, uses.kind, uses.item)
    needed = [(row, item, tools.get((kind, item), "")) for row, kind, item in keys]
    strung = np.unique(job.wires.row)
    joined = np.unique(job.wires.row[joins_of(job, cut) > 0])
    with_posts = np.unique(job.posts.row)
    for rate in catalogue.rates:
        if rate.id not in SEASON_TASKS:
            where = joined if rate.id == "join" else with_posts if rate.id in FOR_POSTS else strung
            needed += [(row, rate.id, rate.tool) for row in where.tolist()]
    parts = (job.posts.row, job.clips.row, job.wires.row, job.adjusters.row)
    always = [tool.id for tool in catalogue.tools if tool.always]
    needed += [(row, "every task", tool) for row in np.unique(np.concatenate(parts)).tolist() for tool in always]
    each = list(dict.fromkeys((row, tool, use) for row, use, named in needed for tool in tools_of(named)))
    return Uses.of(
        np.array([row for row, _, _ in each], dtype=np.int64),
        "tool",
        words(tool for _, tool, _ in each),
        np.ones(len(each), dtype=np.int64),
        words(use for *_, use in each),
    )


class _Counted:
    """What is used of every item, and what of it is in stock; axis item."""

    def __init__(self, kind: TextArray, item: TextArray, used: IntArray) -> None:
        self.kind, self.item = kind, item
        self.is_wire = kind == "wire"
        self.length_m = np.where(self.is_wire, used / 1000.0, np.nan)
        self.mass_kg = np.full(len(item), np.nan)
        self.quantity = np.where(self.is_wire, 0, used)
        self.spare, self.in_stock = (np.zeros(len(item), dtype=np.int64) for _ in range(2))
        # How many of one the stock is worth: part coils by their length.
        self.worth = np.zeros(len(item))

    @classmethod
    def of(cls, uses: Uses, taken: dict[str, int], cut: CoilPlan, catalogue: Catalogue, stock: Stock) -> "_Counted":
        """Count the uses; coils as they are cut."""
        keys, used = summed(uses)
        made = cls(words(str(kind) for kind, _ in keys), words(str(item) for _, item in keys), used)
        percent = {spare.id: spare.percent for spare in catalogue.spares}
        share = np.array([percent.get(kind, 0.0) for kind in made.kind]) / 100.0
        for at in np.flatnonzero(made.kind == "tool"):
            made.quantity[at] = taken.get(made.item[at], 1)
        made.spare = _up(made.quantity * share)
        have = {str(item): int(pieces) for item, pieces in zip(stock.item, stock.pieces, strict=True)}
        wires = {wire.id: wire for wire in catalogue.wire}
        for at in np.flatnonzero(made.is_wire):
            wire = wires.get(made.item[at])
            if wire is not None:
                made.mass_kg[at] = made.length_m[at] * (wire.coil_kg / wire.length_m)
                made._coils(int(at), share[at] * made.length_m[at], cut, stock)
        for at in np.flatnonzero(~made.is_wire):
            name = made.item[at]
            made.in_stock[at] = min(have.get(name, 0), int(made.quantity[at] + made.spare[at]))
            made.worth[at] = made.in_stock[at]
            if name in have:
                have[name] -= int(made.in_stock[at])
        return made

    def _coils(self, at: int, spare_m: float, cut: CoilPlan, stock: Stock) -> None:
        """Coils of one wire: those that are cut, spare ones, and those in stock, part coils among them."""
        mine = np.flatnonzero(cut.item == self.item[at])
        if not len(mine):
            return
        part = cut.part[mine]
        begun = part[part >= 0]
        left = np.setdiff1d(np.flatnonzero(stock.part_item == self.item[at]), begun)
        kept_m = (cut.left_mm[mine][cut.kept[mine]].sum() + stock.part_mm[left].sum()) / 1000.0
        coil_m = cut.whole_mm[mine[0]] / 1000.0
        self.quantity[at] = len(mine)
        self.spare[at] = _up(np.array([max(spare_m - kept_m, 0.0) / coil_m]))[0]
        whole = min(stock.pieces_of(self.item[at]), int(len(mine) - len(begun) + self.spare[at]))
        self.in_stock[at] = len(begun) + whole
        self.worth[at] = whole + stock.part_mm[begun].sum() / 1000.0 / coil_m


def _up(pieces: FloatArray) -> IntArray:
    return np.ceil(pieces - _ROUNDING).astype(np.int64)


def _priced(counted: _Counted, offers: list[Offer], uses: Uses) -> Materials:
    """Order list; of several prices for an item the highest."""
    kinds = one_kind(words(one.kind for one in offers), words(one.item for one in offers))
    of_item: dict[tuple[str, str], list[Offer]] = {}
    for kind, one in zip(kinds, offers, strict=True):
        of_item.setdefault((kind, one.item), []).append(one)
    # The dearest last; of one price, that of the largest pack.
    asked = {
        key: sorted(some, key=lambda one: (not np.isnan(one.price), one.price, one.pack))
        for key, some in of_item.items()
    }
    price = np.full(len(counted.item), np.nan)
    pack = np.ones(len(counted.item), dtype=np.int64)
    source: list[str | None] = [None] * len(price)
    supplier = [SUPPLIES[kind] for kind in counted.kind]
    for at, key in enumerate(zip(counted.kind, counted.item, strict=True)):
        some = asked.get(key)
        if not some:
            continue
        last = some[-1]
        price[at], pack[at] = last.price, last.pack
        supplier[at] = last.supplier or supplier[at]
        if not np.isnan(last.price):
            several = len({one.price for one in some if not np.isnan(one.price)}) > 1
            source[at] = last.source + "; the highest of several prices" * several
    packs = packs_for(counted.quantity + counted.spare - counted.in_stock, pack)
    return Materials(
        kind=counted.kind,
        item=counted.item,
        unit=np.where(counted.is_wire, "coil", "piece").astype(object),
        quantity=counted.quantity,
        spare=counted.spare,
        in_stock=counted.in_stock,
        length_m=counted.length_m,
        mass_kg=counted.mass_kg,
        used_for=_used_for(uses, counted),
        unit_price=price,
        price_source=words(source),
        supplier=words(supplier),
        pack=pack,
        packs=packs,
        total=money(packs * pack, price),
        stock_worth=half_up(counted.worth * price, _CENT),
    )


def _used_for(uses: Uses, counted: _Counted) -> TextArray:
    """What each item is for, in words, [item]: "230 two-way over; 412 two-way under; wires lower, upper"."""
    told: dict[tuple[str, str], dict[str, int]] = {}
    wires: dict[tuple[str, str], set[str]] = {}
    number, keys = numbered(uses.kind, uses.item, uses.what_for, uses.wire_id)
    quantity = np.bincount(number, weights=uses.quantity, minlength=len(keys)).astype(np.int64).tolist()
    for (kind, item, use, wire_id), pieces in zip(keys, quantity, strict=True):
        if use is not None:
            own = told.setdefault((kind, item), {})
            own[use] = own.get(use, 0) + pieces
        if wire_id is not None:
            wires.setdefault((kind, item), set()).add(wire_id)
    said = []
    for key in zip(counted.kind, counted.item, strict=True):
        some = sorted(told.get(key, {}).items())
        parts = [use if key[0] == "tool" else f"{pieces} {use}" for use, pieces in some]
        if key in wires:
            parts.append(f"wires {', '.join(sorted(wires[key]))}")
        said.append("; ".join(parts))
    return words(said)


def _loads(uses: Uses, zone: IntArray, taken: dict[str, int]) -> ZoneLoads:
    """What to take to every zone; of a tool as many as the crew needs."""
    keys, quantity = summed(uses, zone[uses.row])
    kind, item = (words(str(key[place]) for key in keys) for place in (1, 2))
    is_wire = kind == "wire"
    tools = [taken.get(name, 1) if what == "tool" else 0 for what, name in zip(kind, item, strict=True)]
    pieces = np.where(kind == "tool", np.array(tools, dtype=np.int64), quantity)
    return ZoneLoads(
        zone=np.array([key[0] for key in keys], dtype=np.int64),
        kind=kind,
        item=item,
        unit=np.where(is_wire, "m", "piece").astype(object),
        quantity=np.where(is_wire, pieces / 1000.0, pieces),
    )


def _out_of_stock(materials: Materials, currency: str) -> list[Finding]:
    there = np.flatnonzero(materials.in_stock > 0)
    if not len(there):
        return []
    worth = number(np.nansum(materials.stock_worth[there]), _CENT)
    sentence = (
        f"{many(len(there), 'item', 'are')} taken out of the stock, worth {worth} {currency} at the catalogue's prices "
        f"and in no total: {_named(materials.item[there])}."
    )
    return [Finding("stock", "materials", sentence)]


def _named(items: TextArray) -> str:
    """Return some names in quotes, since names have commas."""
    return name_some(f'"{item}"' for item in items)


def _unpriced(materials: Materials, catalogue: Catalogue) -> list[Finding]:
    lost = materials.item[np.isnan(materials.unit_price) & (materials.kind != "tool")]
    if not len(lost):
        return []
    sentence = f"{many(len(lost), 'item', 'have')} no price; costs leave them out: {_named(lost)}."
    return [Finding("no-price", catalogue.folder or "catalogue", sentence)]


def _invented(offers: list[Offer], catalogue: Catalogue) -> list[Finding]:
    names = words(dict.fromkeys(one.item for one in offers if one.invented))
    if not len(names):
        return []
    sentence = (
        f"Prices, forces and minutes of {many(len(names), 'item', 'are')} invented for the demo; put in your own "
        f"before buying or building: {_named(names)}."
    )
    return [Finding("demo-prices", catalogue.folder or "catalogue", sentence)]
