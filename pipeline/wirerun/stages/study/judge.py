"""What measures make of cases: which are ruled out and why, and which of the others no other case beats."""

from collections.abc import Mapping, Sequence

import numpy as np
import pandas as pd

from wirerun.arrays import BoolArray, FloatArray, TextArray, words
from wirerun.model.layout import RowGrades
from wirerun.settings.study import RowRule
from wirerun.tables.study import MORE_IS_BETTER


def breaks(rule: RowRule, grades: RowGrades) -> BoolArray:
    """Which rows break a rule, [row]."""
    grade = grades.mean_pct
    broken = np.zeros(len(grade), dtype=np.bool_)
    if rule.least_pct is not None:
        broken |= grade < rule.least_pct
    if rule.most_pct is not None:
        broken |= grade > rule.most_pct
    if rule.most_of_slope is not None:
        broken |= grade > rule.most_of_slope * grades.slope_pct
    return broken


def ruled_out(
    cases: pd.DataFrame, limits: Mapping[str, float], rules: Sequence[RowRule], broken_pct: Mapping[str, FloatArray]
) -> TextArray:
    """Why each case is ruled out, in words; "" where it is not, [case].

    Parameters
    ----------
    cases : DataFrame
        Measures of the cases.
    limits : mapping
        Most of a measure that a case may have; least of those of which more is better. A measure that is not known
        rules nothing out.
    rules : sequence of RowRule
        Rules for the grade of rows.
    broken_pct : mapping
        Share of a case's metres of row that breaks each rule, [case] [%].
    """
    said: list[list[str]] = [[] for _ in range(len(cases))]
    for name, limit in limits.items():
        value = cases[name].to_numpy(dtype=np.float64)
        out = value < limit if name in MORE_IS_BETTER else value > limit
        for at in np.flatnonzero(out):
            side = "below" if name in MORE_IS_BETTER else "above"
            said[at].append(f"{name} {value[at]:.4g} is {side} {limit:g}")
    for rule in rules:
        share = broken_pct[rule.id]
        for at in np.flatnonzero(share > (np.inf if rule.allowed_pct is None else rule.allowed_pct)):
            said[at].append(f"{share[at]:.3g} % of the metres break the rule {rule.id}, above {rule.allowed_pct:g} %")
    return words(["; ".join(each) for each in said])


def front(cases: pd.DataFrame, measures: Sequence[str], among: BoolArray) -> BoolArray:
    """Which cases no other beats: none is better in one measure and as good in all, [case].

    Example: costs 3, 2, 1 with 1, 2, 2 short rows: the first and the last; the second is beaten by the last.

    Parameters
    ----------
    cases : DataFrame
        Measures of the cases.
    measures : sequence of str
        What counts.
    among : [case]
        The cases that are let in; others, and those with a measure that is not known, are on no front.
    """
    values = cases[list(measures)].to_numpy(dtype=np.float64)
    values = values * np.array([-1.0 if name in MORE_IS_BETTER else 1.0 for name in measures])
    among = among & ~np.isnan(values).any(axis=1)
    on = np.zeros(len(values), dtype=np.bool_)
    rest = values[among]
    no_worse = (rest[:, None] <= rest[None]).all(axis=2)
    better = (rest[:, None] < rest[None]).any(axis=2)
    on[among] = ~(no_worse & better).any(axis=0)
    return on
