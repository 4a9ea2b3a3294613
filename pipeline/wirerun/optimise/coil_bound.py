"""What cutting in working order must cost at least, however cleverly it is done: to judge a plan by.

Two bounds, of which the greater holds. By metres: as many coils as the wire fills, the joins of lines longer than a
coil, and every zone's coils carried there. By remainders, where at most two coils are open: a dynamic program over all
pairs of remainders in cells of a coil. It is a bound because it is kinder than the ground: lines are rounded down to
cells, least pieces do not matter, and any remainder may be put aside. That a join uses an open coil to its end loses
nothing: wire left on it could as well have been left on the coil that the line ends on, which serves for all that both
would have served for.
"""

from typing import Final

import numpy as np
from numpy.lib.stride_tricks import as_strided

from wirerun.mechanics import FloatArray
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
    # Least cost by what is left on one coil and on both together; and, the same memory, by what is left on each.
    by_sum = np.full((size, 2 * size), np.inf)
    step = by_sum.itemsize
    cost = as_strided(by_sum, (size, size), (step * (2 * size + 1), step))
    cost[0, 0] = 0.0
    after = np.empty((size, size))
    floors = lines.length_mm * cells // coil.length_mm
    for length, price in zip(floors.tolist(), lines.join_price.tolist(), strict=True):
        # None can be had where it is infinite.
        after.fill(np.inf)
        for whole in range(max(0, -(-length // cells) - _MOST_PIECES), length // cells + 1):
            rest, spent = length - whole * cells, whole * (coil.price + price)
            _end_on(cost, after, rest, spent, coil.price)
            if joins:
                _join(cost, by_sum, after, rest, spent, (coil.price, price))
        np.minimum(after, after.T, out=cost)
    return float(cost.min())


def _end_on(cost: FloatArray, after: FloatArray, length: int, spent: float, coil_price: float) -> None:
    """Cut what whole coils leave of a line from an open coil, or from a new one in place of any."""
    size = len(cost)
    if length < size:
        had = cost[length:] + spent if spent else cost[length:]  # most lines take no whole coil
        np.minimum(after[: size - length], had, out=after[: size - length])
        left = size - 1 - length
        np.minimum(after[left], cost.min(axis=0) + spent + coil_price, out=after[left])


def _join(
    cost: FloatArray, by_sum: FloatArray, after: FloatArray, length: int, spent: float, prices: tuple[float, float]
) -> None:
    """Begin on an open coil, use it up, and end on the other, on a new one, or on a new one after both."""
    last = len(cost) - 1
    coil_price, join_price = prices
    # What is on the first, or on both: not so little that more than a coil is still to be cut, not more than the line.
    low = max(0, length - last)
    first = slice(low, min(length, last) + 1)
    if first.start < first.stop:
        on_other = by_sum[first, length : length + len(cost)].min(axis=0) + spent + join_price
        np.minimum(after[0, : len(on_other)], on_other, out=after[0, : len(on_other)])
        fresh = after[first.start + last - length : first.stop + last - length]
        np.minimum(fresh, cost[first] + (spent + join_price + coil_price), out=fresh)
    both = slice(low, min(length, 2 * last) + 1)
    if both.start < both.stop:
        left = after[both.start + last - length : both.stop + last - length, 0]
        np.minimum(left, by_sum[:, both].min(axis=0) + (spent + 2.0 * join_price + coil_price), out=left)
