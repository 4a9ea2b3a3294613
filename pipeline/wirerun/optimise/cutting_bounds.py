"""How few coils and joins can be possible: lower bounds by linear programming over patterns.

A pattern is a choice of runs that fits on a coil, or on some coils laid end to end. The best mix of patterns, in
fractions, is found by column generation: patterns enter that the prices of the runs make worth while, found by dynamic
programming over the length. Lengths count in cells: rounded up for the patterns, which therefore fit, and down for the
bound, which therefore holds whatever the prices are. Runs of like length share a class: its longest run stands for it
in the patterns, its shortest in the bound.

References
----------
P. C. Gilmore and R. E. Gomory, A linear programming approach to the cutting-stock problem, Operations Research 9 (1961)
849-859: column generation. A. A. Farley, A note on bounding a class of linear programming problems, Operations Research
38 (1990) 922-923: a bound from any prices. Both from memory; derived again here.
"""

import math
from typing import Final, NamedTuple

import numpy as np
from scipy.optimize import LinearConstraint, linprog, milp
from scipy.sparse import csc_array

from wirerun.errors import MechanicsError
from wirerun.mechanics import BoolArray, FloatArray, IntArray
from wirerun.optimise.cutting_search import Groups

# Choices, by measurement: cells of a table, classes of runs, coils of a pattern with joins, rounds of column
# generation, patterns without common runs in one round; patterns of which whole numbers are sought, and branches tried.
_CELLS: Final = 10_000
_CLASSES: Final = 400
_MOST_COILS: Final = 4
_ROUNDS: Final = 100
_PATTERNS: Final = 20
_WHOLE_PATTERNS: Final = 500
_BRANCHES: Final = 100
# What linear programming may miss by: less is no gain for a pattern, and a bound a hair above a whole number is it.
_EPS: Final = 1e-6


class _Classes(NamedTuple):
    """Classes of runs: how many runs, and their shortest and longest, shape (n_classes,) each, from short to long."""

    number: IntArray
    shortest: IntArray
    longest: IntArray


class _Table(NamedTuple):
    """Best value of runs by the cells they may take, (cells + 1,), and whether each run offered is taken there."""

    value: FloatArray
    offered: list[int]
    taken: list[BoolArray]
    cells: IntArray


class _Mix(NamedTuple):
    """Patterns so far, as runs of each class, and of each its coils and its cost."""

    runs: list[IntArray]
    coils: list[float]
    cost: list[float]


def least_coils(sizes: IntArray, coil: int) -> tuple[int, Groups]:
    """Coils without which no cutting is possible if every run stays whole, and a cutting by whole numbers of patterns.

    Whole numbers are sought among the patterns of the best mix, if these are few; else each run has its own coil.

    Parameters
    ----------
    sizes : shape (n,), > 0, <= coil, falling
        Lengths of the runs. [whole units]
    coil : int
        Length of a coil. [the same units]

    Raises
    ------
    MechanicsError
        If the linear program cannot be solved.
    """
    simple = -(-int(sizes.sum()) // coil)
    classes = _classes(sizes)
    mix = _Mix(
        list(np.eye(classes.number.size, dtype=np.int64)), [1.0] * classes.number.size, [1.0] * classes.number.size
    )
    price = np.zeros(classes.number.size)
    for _ in range(_ROUNDS):
        price, _, value = _prices(mix, classes.number, None)
        if value <= simple + _EPS or not _add_patterns(mix, classes, coil, (price, 1.0), 1):
            break
    best = _values(classes, price, coil, 1)[0]
    return max(simple, _whole(float(price @ classes.number) / max(1.0, best))), _by_patterns(mix, classes, sizes)


def least_joins(sizes: IntArray, coil: int, coils: int) -> int:
    """Joins without which the runs cannot be cut from so many coils.

    Runs and coils that share pieces make groups; a group of k coils has at least k - 1 joins. The mix is that of
    groups of one to four coils; of larger ones every length is taken to have its share of 4/5 of a join per coil.

    Parameters
    ----------
    sizes : shape (n,), > 0, <= coil, falling
        Lengths of the runs. [whole units]
    coil : int
        Length of a coil. [the same units]
    coils : int
        How many coils there are; together not shorter than the runs.

    Raises
    ------
    MechanicsError
        If the linear program cannot be solved.
    """
    classes = _classes(sizes)
    share = classes.shortest / coil
    large = _MOST_COILS / (_MOST_COILS + 1.0)
    mix = _Mix(list(np.eye(share.size, dtype=np.int64)), share.tolist(), (large * share).tolist())
    price, rent = np.zeros(share.size), 0.0
    for _ in range(_ROUNDS):
        price, rent, value = _prices(mix, classes.number, coils)
        if value <= _EPS or not _add_patterns(mix, classes, coil, (price, rent), _MOST_COILS):
            break
    # What a pattern gains per coil at these prices, at most: all coils might gain it.
    k = np.arange(1, _MOST_COILS + 1)
    gains = (_values(classes, price, coil, _MOST_COILS) - (k - 1)) / k - rent
    gain = max(0.0, float(gains.max()), float((price / share).max()) - large - rent)
    return max(0, _whole(float(price @ classes.number) - (rent + gain) * coils))


def _by_patterns(mix: _Mix, classes: _Classes, sizes: IntArray) -> Groups:
    """Runs of each coil, by the fewest whole patterns of a mix that contain all runs."""
    found = None
    if len(mix.cost) <= _WHOLE_PATTERNS:
        limit = LinearConstraint(csc_array(np.array(mix.runs).T), classes.number, np.inf)
        whole, branches = np.ones(len(mix.cost)), {"node_limit": _BRANCHES}
        found = milp(mix.cost, constraints=limit, integrality=whole, options=branches).x
    if found is None:
        return [[run] for run in range(sizes.size)]
    waiting: Groups = [[] for _ in classes.number]
    for run, number in enumerate(np.searchsorted(classes.longest, sizes).tolist()):
        waiting[number].append(run)
    groups: Groups = []
    for times, pattern in zip(np.rint(found).astype(np.int64).tolist(), mix.runs, strict=True):
        for _ in range(times):
            groups.append([])
            for number in np.repeat(np.arange(pattern.size), pattern).tolist():
                if waiting[number]:
                    groups[-1].append(waiting[number].pop())
    return groups


def _whole(bound: float) -> int:
    return math.ceil(bound - _EPS)


def _classes(sizes: IntArray) -> _Classes:
    values, counts = np.unique(sizes, return_counts=True)
    ends = np.unique(np.linspace(0, values.size, min(values.size, _CLASSES) + 1).astype(np.int64))
    return _Classes(np.add.reduceat(counts, ends[:-1]), values[ends[:-1]], values[ends[1:] - 1])


def _cell(classes: _Classes, coil: int, most_coils: int) -> int:
    """Length of a cell: the common measure of all lengths, if the table is small enough, and all is exact then."""
    measure = int(np.gcd.reduce(np.append(classes.shortest, classes.longest)))
    return max(measure, -(-coil * most_coils // _CELLS))


def _prices(mix: _Mix, count: IntArray, coils: int | None) -> tuple[FloatArray, float, float]:
    """Price of a run of each class, rent of a coil, and cost of the best mix; without `coils` rent is not counted."""
    rows = [-np.array(mix.runs).T, *([] if coils is None else [np.array([mix.coils])])]
    limit = np.append(-count, [] if coils is None else [coils])
    found = linprog(mix.cost, A_ub=csc_array(np.concatenate(rows)), b_ub=limit, method="highs-ds")
    if found.status != 0:
        message = f"The linear program over cutting patterns was not solved: {found.message}"
        raise MechanicsError(message)
    dual = np.maximum(-found.ineqlin.marginals, 0.0)
    return dual[: count.size], float(dual[count.size :].sum()), float(found.fun)


def _table(cells: IntArray, price: FloatArray, count: IntArray, most: int) -> _Table:
    """Fill the table of a knapsack run by run; a run enters at most so often as it is there."""
    table = _Table(np.zeros(most + 1), [], [], cells)
    for number in np.flatnonzero((price > 0.0) & (cells <= most)).tolist():
        size = int(cells[number])
        for _ in range(min(int(count[number]), most // max(size, 1))):
            better = table.value[: most + 1 - size] + price[number]
            taken = np.zeros(most + 1, dtype=np.bool_)
            taken[size:] = better > table.value[size:]
            np.maximum(table.value[size:], better, out=table.value[size:])
            table.offered.append(number)
            table.taken.append(taken)
    return table


def _pattern(table: _Table, cells: int) -> IntArray:
    """Runs of each class in the best choice that takes so many cells."""
    runs = np.zeros(table.cells.size, dtype=np.int64)
    for number, taken in zip(reversed(table.offered), reversed(table.taken), strict=True):
        if taken[cells]:
            runs[number] += 1
            cells -= int(table.cells[number])
    return runs


def _values(classes: _Classes, price: FloatArray, coil: int, most_coils: int) -> FloatArray:
    """What the runs on 1, 2, ... coils are worth at most, shape (most_coils,): lengths rounded down."""
    cell = _cell(classes, coil, most_coils)
    room = np.arange(1, most_coils + 1) * coil // cell
    table = _table(classes.shortest // cell, price, classes.number, int(room[-1]))
    return table.value[room]


def _add_patterns(mix: _Mix, classes: _Classes, coil: int, prices: tuple[FloatArray, float], most_coils: int) -> bool:
    """Add patterns that gain at these prices, one after the other without common runs; return whether there are any."""
    price, rent = prices
    cell = _cell(classes, coil, most_coils)
    k = np.arange(1, most_coils + 1)
    cost = np.ones(1) if most_coils == 1 else k - 1.0
    room = k * coil // cell
    cells, left = -(-classes.longest // cell), classes.number.copy()
    for number in range(_PATTERNS):
        table = _table(cells, np.where(left > 0, price, 0.0), left, int(room[-1]))
        gain = table.value[room] - cost - (0.0 if most_coils == 1 else rent * k)
        best = int(np.argmax(gain / k))
        if gain[best] <= _EPS:
            return number > 0
        for at in np.flatnonzero(gain > _EPS) if number == 0 else [best]:
            mix.runs.append(_pattern(table, int(room[at])))
            mix.coils.append(float(k[at]))
            mix.cost.append(float(cost[at]))
        left -= _pattern(table, int(room[best]))
    return True
