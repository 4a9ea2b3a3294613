"""Jobs shared out over years, each of which has so much of everything: as few years as can be.

With two limits this is packing in two dimensions, which has no quick exact answer. Up to `EXACT` jobs all sets of them
are tried, by dynamic programming over sets; more are laid largest first into the first year that has room, and that is
proven best only where it needs no more years than the sums ask for.
"""

from typing import Final, NamedTuple

import numpy as np

from wirerun.errors import MechanicsError
from wirerun.mechanics import BoolArray, FloatArray, IntArray
from wirerun.mechanics.refusals import require_non_negative

#: Most jobs for which every way is tried: 3^12 sets of sets take half a second.
EXACT: Final = 12
# A year may be full to its limit, rounding of the sum not counted.
_HAIR: Final = 1.0 + 1e-9


class Phasing(NamedTuple):
    """Year of each job, from 0, shape (n,); and whether no fewer years are possible."""

    year: IntArray
    proven: bool


def fewest_years(share: FloatArray) -> Phasing:
    """Year of each job, from 0, in as few years as can be; of these ways the one that is most even.

    Even by the sum of squares of the first limit's shares. Three jobs of 0.6 and three of 0.4 take three years:

    >>> fewest_years(np.array([[0.6], [0.6], [0.6], [0.4], [0.4], [0.4]])).year.tolist()
    [0, 1, 2, 0, 1, 2]

    Parameters
    ----------
    share : shape (n, limits), 0 to 1
        What each job takes of a year, by limit.

    Raises
    ------
    MechanicsError
        If a share is negative or more than a whole year; names the first.

    References
    ----------
    First fit, largest first: D. S. Johnson, Near-optimal bin packing algorithms, thesis, MIT 1973 (as programs of
    packing quote it).
    """
    need = _checked(share)
    if len(need) <= EXACT:
        return Phasing(_every_way(need), proven=True)
    year = _largest_first(need)
    return Phasing(year, proven=int(year.max()) + 1 <= least_years(need))


def least_years(share: FloatArray) -> int:
    """Years that the sums ask for, however they are shared out.

    >>> least_years(np.array([[0.6, 0.1], [0.6, 0.1]]))
    2
    """
    return max(1, int(np.ceil(share.sum(axis=0) / _HAIR).max(initial=0.0)))


def _checked(share: FloatArray) -> FloatArray:
    need = np.asarray(share, dtype=np.float64)
    require_non_negative("Jobs by years", share=need)
    over = np.flatnonzero((need > _HAIR).any(axis=1))
    if len(over):
        message = f"Jobs by years: job {over[0]} takes {need[over[0]].max():.3g} years; one that takes more is divided."
        raise MechanicsError(message)
    return need


def _every_way(need: FloatArray) -> IntArray:
    """The best of all ways: for each set of jobs, the year that holds its first job, and the best way for the rest."""
    count = len(need)
    sets = 1 << count
    inside = (np.arange(sets)[:, None] >> np.arange(count)) & 1
    sums = inside @ need
    fits: BoolArray = np.all(sums <= _HAIR, axis=1)
    # Years count first: no way to share out can be more uneven by a whole year's square times the jobs.
    cost_of = (count + 1.0) + sums[:, 0] ** 2
    best = np.full(sets, np.inf)
    taken = np.zeros(sets, dtype=np.int64)
    best[0] = 0.0
    for whole in range(1, sets):
        first = whole & -whole
        rest = whole ^ first
        some = _subsets(rest) | first
        some = some[fits[some]]
        cost = cost_of[some] + best[whole ^ some]
        at = int(np.argmin(cost))
        best[whole], taken[whole] = cost[at], some[at]
    year = np.zeros(count, dtype=np.int64)
    left, now = sets - 1, 0
    while left:
        year[(int(taken[left]) >> np.arange(count)) & 1 == 1] = now
        left, now = left ^ int(taken[left]), now + 1
    return year


def _subsets(whole: int) -> IntArray:
    """All subsets of a set of bits, itself and the empty one among them."""
    found = np.zeros(1, dtype=np.int64)
    while whole:
        bit = whole & -whole
        found = np.concatenate([found, found | bit])
        whole ^= bit
    return found


def _largest_first(need: FloatArray) -> IntArray:
    """First year with room for each job, the largest by its greatest share first."""
    used: list[FloatArray] = []
    year = np.zeros(len(need), dtype=np.int64)
    for job in np.argsort(-need.max(axis=1), kind="stable"):
        at = next((at for at, full in enumerate(used) if (full + need[job] <= _HAIR).all()), len(used))
        if at == len(used):
            used.append(np.zeros(need.shape[1]))
        used[at] = used[at] + need[job]
        year[job] = at
    return year
