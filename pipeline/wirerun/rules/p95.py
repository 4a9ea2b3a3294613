"""A slope of many places in one number: what 95 % of them do not pass."""

from typing import Final

import numpy as np

from wirerun.arrays import FloatArray, IntArray

_SHARE: Final = 95.0


def not_passed(values: FloatArray, weight: FloatArray, group: IntArray, groups: int) -> FloatArray:
    """Least of each group's values that 95 % of its weight does not pass, [group]; NaN for one without any.

    Values that are not known do not count. Twenty posts at 1, 2 ... 20 %, and a group of one:

    >>> slope = np.append(np.arange(1.0, 21.0), 7.0)
    >>> not_passed(slope, np.ones(21), np.append(np.zeros(20, dtype=int), 1), 2).tolist()
    [19.0, 7.0]

    Parameters
    ----------
    values, weight : [value]
        NaN where not known; what each counts for, > 0.
    group : [value]
        Group of each, from 0.
    groups : int
        How many groups there are.
    """
    found = np.full(groups, np.nan)
    known = ~np.isnan(values)
    values, weight, group = values[known], weight[known], group[known]
    if not len(values):
        return found
    order = np.lexsort((values, group))
    values, weight, group = values[order], weight[order], group[order]
    first = np.flatnonzero(np.diff(group, prepend=-1))
    reached = np.concatenate([np.cumsum(part) for part in np.split(weight, first[1:])])
    last = np.append(first[1:], len(group)) - 1
    wanted = _SHARE / 100.0 * reached[last] * (1.0 - 1e-12)
    enough = reached >= wanted[np.searchsorted(first, np.arange(len(group)), side="right") - 1]
    begins = np.flatnonzero(enough & ~np.append(False, enough[:-1] & (np.diff(group) == 0)))
    found[group[begins]] = values[begins]
    return found
