"""Sets of fixings compared: what each would take in pieces, money, hours and years, and where it does not hold."""

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import combinations
from typing import Final

import numpy as np

from wirerun.arrays import BoolArray, FloatArray, IntArray
from wirerun.model.clips import FixingOption
from wirerun.settings.fixing_item import FixingItem

# More than any fixing costs: what has no price comes after all that have one.
_UNPRICED: Final = 1e7
_MINUTES: Final = 60.0
# Where sets of so many kinds leave posts unheld, all kinds that are the cheapest somewhere are taken (choice).
_MOST_TRIED: Final = 3
#: What a wire that is not held does there.
PULLS: Final = ("up", "down", "sideways")


@dataclass(frozen=True, slots=True)
class Offers:
    """The catalogue's fixings as arrays, shape (fixings,) each; NaN where it does not say."""

    items: tuple[FixingItem, ...]
    price: FloatArray
    minutes: FloatArray
    removal_minutes: FloatArray
    life_years: FloatArray
    labour_per_hour: float

    @classmethod
    def of(cls, items: tuple[FixingItem, ...], labour_per_hour: float | None) -> "Offers":
        """Prices with their fasteners, and hours at a rate; labour without one costs nothing."""

        def numbers(values: Iterable[float | None]) -> FloatArray:
            return np.array([np.nan if value is None else value for value in values], dtype=np.float64)

        fasteners = numbers(item.fasteners * (item.fastener_price or 0.0) for item in items)
        return cls(
            items,
            numbers(item.price for item in items) + fasteners,
            numbers(item.minutes for item in items),
            numbers(item.removal_minutes for item in items),
            numbers(item.life_years for item in items),
            labour_per_hour or 0.0,
        )


@dataclass(frozen=True, slots=True)
class Asked:
    """What must be held at the places of one holder; axis place, wire by wire.

    Attributes
    ----------
    post : [place]
        As a place on the post axis.
    pieces : [place]
        How many are set there.
    pace : [place]
        What the row's slope makes of the minutes.
    pull : [place]
        Which way the wire pulls most, as a place in `PULLS`.
    holds : [place, fixing]
        Whether the fixing suits and holds there.
    """

    post: IntArray
    pieces: IntArray
    pace: FloatArray
    pull: IntArray
    holds: BoolArray


@dataclass(frozen=True, slots=True)
class Compared:
    """Every set that was compared for one holder, and which fixing the chosen set has at each place.

    `best` is [place], the fixing's place in the catalogue, -1 where none of the set holds; `options` come as compared.
    """

    options: tuple[FixingOption, ...]
    kinds: tuple[int, ...]
    best: IntArray


def compare_sets(holder: str, asked: Asked, offers: Offers, most_kinds: int, fixed: tuple[int, ...] = ()) -> Compared:
    """Compare each fixing alone and each pair, and choose.

    Each place takes the cheapest of the set that holds there, price and labour together. Chosen is the set that leaves
    the fewest posts unheld, of those the one that leaves the fewest wires on them unheld, and of those the cheapest,
    among sets of `most_kinds`; of more where so few leave wires unheld that others would hold. Sets that differ only in
    fixings that no place takes are one.

    Parameters
    ----------
    holder : str
        "clip" or "staple".
    asked : Asked
        The places.
    offers : Offers
        The catalogue's fixings.
    most_kinds : int
        Most fixings of a set.
    fixed : tuple of int
        The set to take whatever it costs; empty: choose.
    """
    groups = _Groups.of(asked, offers)
    every = range(len(offers.items))
    sets: list[tuple[int, ...]] = [*((kind,) for kind in every), *combinations(every, 2)]
    tried = {kinds: groups.take(kinds) for kinds in sets}
    chosen = fixed or _choose(groups, tried, most_kinds)
    tried.setdefault(chosen, groups.take(chosen))
    taken = tried[chosen]
    options = tuple(groups.option(holder, kinds, each, chosen=kinds == chosen) for kinds, each in tried.items())
    return Compared(options, chosen, taken.best[groups.of_place])


@dataclass(frozen=True, slots=True)
class _Taken:
    """What a set comes to: fixing of each group, pieces of each kind, posts unheld in all and by pull, places, cost.

    `lost` are places unheld: a post at which one wire cannot be held shall not cost another its fixing.
    """

    best: IntArray
    pieces: IntArray
    unheld: IntArray
    lost: int
    cost: float

    @property
    def leaves(self) -> tuple[int, int]:
        """Posts unheld, and wires on them."""
        return int(self.unheld[0]), self.lost


def _choose(groups: "_Groups", tried: dict[tuple[int, ...], _Taken], most_kinds: int) -> tuple[int, ...]:
    usable = [kind for kind in range(len(groups.offers.items)) if groups.asked.holds[:, kind].any()]
    least = groups.take(tuple(usable)).leaves
    found: tuple[int, ...] = ()
    for size in range(1, len(usable) + 1):
        if size > _MOST_TRIED:
            return groups.used(tuple(usable))
        for kinds in combinations(usable, size):
            tried.setdefault(kinds, groups.take(kinds))
        ranked = [kinds for kinds in tried if len(kinds) <= size]
        found = min(ranked, key=lambda kinds: (tried[kinds].leaves, tried[kinds].cost, len(kinds)))
        if size >= most_kinds and tried[found].leaves == least:
            break
    return groups.used(found)


@dataclass(frozen=True, slots=True)
class _Groups:
    """Places that the same fixings hold at the same pace are one group; axis group."""

    asked: Asked
    offers: Offers
    of_place: IntArray
    holds: BoolArray
    pace: FloatArray
    pieces: IntArray

    @classmethod
    def of(cls, asked: Asked, offers: Offers) -> "_Groups":
        """Group the places."""
        paces, pace = np.unique(asked.pace, return_inverse=True)
        key = np.column_stack([np.packbits(asked.holds, axis=1), pace.astype(np.uint8)])
        _, first, of_place = np.unique(key, axis=0, return_index=True, return_inverse=True)
        of_place = of_place.ravel()
        pieces = np.bincount(of_place, asked.pieces, len(first)).astype(np.int64)
        return cls(asked, offers, of_place, asked.holds[first], paces[pace[first]], pieces)

    def take(self, kinds: tuple[int, ...]) -> _Taken:
        """What a set comes to."""
        some, offers = np.array(kinds, dtype=np.int64), self.offers
        if not len(some):
            best = np.full(len(self.pieces), -1)
            every = np.ones(len(best), dtype=np.bool_)
            return _Taken(best, np.empty(0, dtype=np.int64), *self._unheld(every), 0.0)
        priced = np.where(np.isnan(offers.price[some]), _UNPRICED, offers.price[some])
        labour = self.pace[:, None] * offers.minutes[some] / _MINUTES * offers.labour_per_hour
        cost = np.where(self.holds[:, some], priced + labour, np.inf)
        at = cost.argmin(axis=1)
        held = np.asarray(np.isfinite(cost).any(axis=1))
        paid = np.where(held, cost[np.arange(len(at)), at], 0.0)
        pieces = np.bincount(at[held], self.pieces[held], len(some)).astype(np.int64)
        return _Taken(np.where(held, some[at], -1), pieces, *self._unheld(~held), float(paid @ self.pieces))

    def used(self, kinds: tuple[int, ...]) -> tuple[int, ...]:
        """Those of a set that any place takes."""
        return tuple(kind for kind, pieces in zip(kinds, self.take(kinds).pieces, strict=True) if pieces)

    def _unheld(self, lost: BoolArray) -> tuple[IntArray, int]:
        """Posts where a group is lost, in all, then by the way in which the wire pulls most there; and places."""
        asked, at = self.asked, lost[self.of_place]
        post = asked.post[at]
        unheld = np.zeros((1 + len(PULLS), asked.post.max(initial=-1) + 1), dtype=np.bool_)
        unheld[0, post] = unheld[1 + asked.pull[at], post] = True
        return np.asarray(unheld.sum(axis=1)), int(at.sum())

    def option(self, holder: str, kinds: tuple[int, ...], taken: _Taken, *, chosen: bool) -> FixingOption:
        """The set as a person compares it."""
        some, offers = list(kinds), self.offers
        each = np.array([self._paced(taken.best == kind) for kind in kinds])
        hours = each * offers.minutes[some] / _MINUTES
        removal = each * offers.removal_minutes[some] / _MINUTES
        price = taken.pieces * offers.price[some]
        cost = price + hours * offers.labour_per_hour
        used = taken.pieces > 0
        return FixingOption(
            holder=holder,
            kinds=kinds,
            pieces=tuple(int(pieces) for pieces in taken.pieces),
            unheld=tuple(int(posts) for posts in taken.unheld),
            price=float(price[used].sum()),
            hours=float(hours.sum()),
            removal_hours=float(removal[used].sum()),
            cost=float(cost[used].sum()),
            cost_per_year=float((cost / offers.life_years[some])[used].sum()),
            chosen=chosen,
        )

    def _paced(self, where: BoolArray) -> float:
        """Pieces of some groups, each as many times as its slope makes of it."""
        return float(self.pieces[where] @ self.pace[where])
