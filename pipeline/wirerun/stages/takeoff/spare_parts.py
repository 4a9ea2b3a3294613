"""What wears out or breaks in a year, and so is kept: wire and joiners, clips, staples, adjusters, posts."""

import math
from collections.abc import Iterator
from typing import NamedTuple

import numpy as np

from wirerun.arrays import words
from wirerun.model.materials import Materials
from wirerun.model.spare_parts import SpareParts
from wirerun.rules.mending import piece_m
from wirerun.rules.ordering import money
from wirerun.rules.wire_work import cheapest_end
from wirerun.settings import Catalogue, Config
from wirerun.settings.fixing_item import FixingItem
from wirerun.wording import many


class _Part(NamedTuple):
    item: str
    kind: str
    quantity: int
    unit: str
    unit_price: float
    reason: str


def spare_parts(materials: Materials, config: Config, catalogue: Catalogue) -> SpareParts:
    """Spare parts of one year: whole pieces, wire in whole metres.

    breaks = km of wire * repair.breaks_per_km, a whole number; each takes a piece and two joins
    others = how many the plan has * their share of a year, a whole number

    How long fixings last, where the catalogue says so, is told beside it: then they are renewed all together, which is
    no year's repair. 12.5 km at 0.1 a km are two breaks: 2 pieces of 1.30 m, 3 m of wire in whole metres.

    Parameters
    ----------
    materials : Materials
        What the plan takes.
    config : Config
        Shares and lengths of `repair`.
    catalogue : Catalogue
        Joiners, and how long fixings last.
    """
    parts = [part for part in _parts(materials, config, catalogue) if part.quantity > 0]
    quantity = np.array([part.quantity for part in parts], dtype=np.int64)
    unit_price = np.array([part.unit_price for part in parts], dtype=np.float64)
    return SpareParts(
        kind=words(part.kind for part in parts),
        item=words(part.item for part in parts),
        quantity=quantity,
        unit=words(part.unit for part in parts),
        unit_price=unit_price,
        total=money(quantity, unit_price),
        reason=words(part.reason for part in parts),
    )


def _parts(materials: Materials, config: Config, catalogue: Catalogue) -> Iterator[_Part]:
    repair = config.repair
    keys = zip(materials.kind.tolist(), materials.item.tolist(), strict=True)
    price = dict(zip(keys, materials.unit_price.tolist(), strict=True))
    yield from _wire(materials, config, catalogue)
    life = _lives(catalogue)
    for kind in ("clip", "staple"):
        for item, quantity in _of_kind(materials, kind):
            years = life.get(item)
            share, in_all = (
                repair.fixings_pct / 100.0,
                "" if years is None else f"; all of them in some {years:g} years",
            )
            why = f"{quantity}, {repair.fixings_pct:g} % a year{in_all}"
            yield _Part(item, kind, _ceil(share * quantity), "piece", price[kind, item], why)
            for fastener, each in _fasteners(item, catalogue).items():
                if ("fastener", fastener) in price:
                    dear = price["fastener", fastener]
                    yield _Part(fastener, "fastener", each * _ceil(share * quantity), "piece", dear, f"for {item}")
    for kind, percent in (("adjuster", repair.adjusters_pct), ("post", repair.posts_pct)):
        for item, quantity in _of_kind(materials, kind):
            count = _ceil(percent / 100.0 * quantity)
            yield _Part(item, kind, count, "piece", price[kind, item], f"{quantity}, {percent:g} % a year")


def _wire(materials: Materials, config: Config, catalogue: Catalogue) -> Iterator[_Part]:
    """Wire for the breaks of a year, and what they are joined with."""
    repair, join = config.repair, cheapest_end(catalogue.wire_ends, "join")
    overlap = repair.overlap_m if join is None or join.overlap_mm is None else join.overlap_mm / 1000.0
    piece, every = piece_m(0.0, repair.cut_back_m, overlap), 0
    wire = materials.kind == "wire"
    for item, length_m in zip(materials.item[wire].tolist(), materials.length_m[wire].tolist(), strict=True):
        breaks = _ceil(repair.breaks_per_km * length_m / 1000.0)
        every += breaks
        why = f"{many(breaks, 'break')} in {length_m / 1000.0:.1f} km, {repair.breaks_per_km:g} a km and year"
        yield _Part(item, "wire", _ceil(breaks * piece), "m", np.nan, why)
    if join is not None:
        dear = np.nan if join.price is None else join.price
        yield _Part(
            join.id, "wire end", 2 * join.pieces * every, "piece", dear, f"two joins for each of {many(every, 'break')}"
        )


def _of_kind(materials: Materials, kind: str) -> Iterator[tuple[str, int]]:
    ours = materials.kind == kind
    return zip(materials.item[ours].tolist(), materials.quantity[ours].tolist(), strict=True)


def _lives(catalogue: Catalogue) -> dict[str, float]:
    """Years that what is bought lasts, the shortest where it is sold for several fixings."""
    found: dict[str, float] = {}
    for item in catalogue.fixings:
        if item.life_years is not None:
            found[item.bought_as] = min(item.life_years, found.get(item.bought_as, math.inf))
    return found


def _fasteners(item: str, catalogue: Catalogue) -> dict[str, int]:
    """Fasteners that a piece of what is bought takes."""
    ours: list[FixingItem] = [fixing for fixing in catalogue.fixings if fixing.bought_as == item and fixing.fastener]
    return {fixing.fastener: fixing.fasteners for fixing in ours[:1]}


def _ceil(value: float) -> int:
    """Whole number above, what is a hair over one counted as it."""
    return math.ceil(value - 1e-9)
