"""What cutting in working order must cost at least, however cleverly it is done: to judge a plan by.

Two bounds, of which the greater holds. By metres: as many coils as the wire fills, the joins of lines longer than a
coil, and every zone's coils carried there. By remainders, where at most two coils are open: a dynamic program over all
pairs of remainders in cells of a coil. It is a bound because it is kinder than the ground: lines are rounded down to
cells, least pieces do not matter, and any remainder may be put aside. That a join uses an open coil to its end loses
nothing: wire left on it could as well have been left on the coil that the line ends on, which serves for all that both
would have served for.
"""

from functools import lru_cache
from typing import Final

import numpy as np

from wirerun.mechanics import FloatArray, IntArray
from wirerun.optimise.coil_pieces import Coil, Lines

# Cells of a coil are as many as keep lines times cells squared at this, within the limits. Choices: half a second.
_WORK: Final = 5e7
_CELLS: Final = (48, 324)
_TWO: Final = 2
# Coils that can be part of a line beside whole ones: both open ones and a new one.
_MOST_PIECES: Final = 3


def least_cost(lines: Lines, coil: Coil, *, most_open: int, joins: bool, cells: int | None = None) -> float:
    """Least cost that any cutting in this order can have: whole coils, joins and carrying [currency].

    Parameters
    ----------
    lines : Lines
        What to cut, in working order.
    coil : Coil
        What to cut from.
    most_open : int, > 0
        Coils that may be open at once. With more than two, and with part coils, only metres are counted.
    joins : bool
        Whether a line that fits on a coil may be joined.
    cells : int, optional
        Cells of a coil in the bound by remainders. Default: more of them for fewer lines.
    """
    if len(lines) == 0:
        return 0.0
    forced = -(-lines.length_mm // coil.length_mm) - 1
    beyond_parts = max(int(lines.length_mm.sum()) - sum(coil.parts_mm), 0)
    by_metres = coil.price * -(-beyond_parts // coil.length_mm) + float(forced @ lines.join_price)
    by_remainders = 0.0
    if most_open <= _TWO and not coil.parts_mm:
        cells = cells or int(np.clip(np.sqrt(_WORK / len(lines)), *_CELLS))
        by_remainders = _by_remainders(lines, coil, cells, joins=joins)
    return max(by_metres, by_remainders) + _carrying(lines, coil)


def _carrying(lines: Lines, coil: Coil) -> float:
    """Every zone is brought as many coils as its wire fills."""
    begins = np.flatnonzero(np.diff(lines.zone, prepend=lines.zone[0] - 1))
    coils = -(-np.add.reduceat(lines.length_mm, begins) // coil.length_mm)
    return float(coils @ np.minimum.reduceat(lines.carry_price, begins))


def _by_remainders(lines: Lines, coil: Coil, cells: int, *, joins: bool) -> float:
    """Coils and joins at least, with two coils open."""
    size = cells + 1
    # Cost by what is left on one coil and on the other [cells, cells]; none can be had where it is infinite.
    cost = np.full((size, size), np.inf)
    cost[0, 0] = 0.0
    floors = lines.length_mm * cells // coil.length_mm
    for length, price in zip(floors.tolist(), lines.join_price.tolist(), strict=True):
        after = np.full((size, size), np.inf)
        for whole in range(max(0, -(-length // cells) - _MOST_PIECES), length // cells + 1):
            _end_on(cost, after, length - whole * cells, whole * (coil.price + price), coil.price)
            if joins:
                _join(cost, after, length - whole * cells, whole * (coil.price + price), (coil.price, price))
        cost = np.minimum(after, after.T)
    return float(cost.min())


def _end_on(cost: FloatArray, after: FloatArray, length: int, spent: float, coil_price: float) -> None:
    """Cut what whole coils leave of a line from an open coil, or from a new one in place of any."""
    size = len(cost)
    if length < size:
        np.minimum(after[: size - length], cost[length:] + spent, out=after[: size - length])
        left = size - 1 - length
        np.minimum(after[left], cost.min(axis=0) + spent + coil_price, out=after[left])


def _join(cost: FloatArray, after: FloatArray, length: int, spent: float, prices: tuple[float, float]) -> None:
    """Begin on an open coil, use it up, and end on the other, on a new one, or on a new one after both."""
    last = len(cost) - 1
    coil_price, join_price = prices
    # What is on the first: not more than the line, and not so little that more than a coil is still to be cut.
    first = np.arange(max(0, length - last), min(length, last) + 1)
    if len(first):
        other = np.arange(last + 1) + (length - first)[:, None]
        before = np.where(other <= last, cost[first[:, None], np.minimum(other, last)], np.inf)
        np.minimum(after[0], before.min(axis=0) + spent + join_price, out=after[0])
        fresh = first + (last - length)
        after[fresh] = np.minimum(after[fresh], cost[first] + (spent + join_price + coil_price))
    both = np.arange(max(0, length - last), min(length, 2 * last) + 1)
    if len(both):
        by_sum = np.full(2 * last + 1, np.inf)
        np.minimum.at(by_sum, _sums(last + 1), cost.ravel())
        left = both + (last - length)
        after[left, 0] = np.minimum(after[left, 0], by_sum[both] + (spent + 2.0 * join_price + coil_price))


@lru_cache(maxsize=4)
def _sums(size: int) -> IntArray:
    """What is left on both coils together, of every cell of the table."""
    return np.add.outer(np.arange(size), np.arange(size)).ravel()
