"""Jobs by years: against every possible way, the sums' bound, and what is refused."""

from itertools import product

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from wirerun.errors import MechanicsError
from wirerun.optimise.phasing import EXACT, fewest_years, least_years

SHARES = st.lists(st.tuples(st.integers(1, 10), st.integers(0, 10)), min_size=1, max_size=5)


def _fits(share: np.ndarray, year: tuple[int, ...]) -> bool:
    used = np.zeros((len(year), share.shape[1]))
    np.add.at(used, list(year), share)
    return bool((used <= 1.0 + 1e-9).all())


@given(SHARES)
@example([(6, 0), (6, 0), (4, 0), (4, 0), (3, 3)])
@example([(5, 1), (5, 9), (5, 1), (5, 9)])  # by the second limit alone it would be other pairs
def test_no_way_takes_fewer_years_and_of_those_none_is_more_even(tenths: list[tuple[int, int]]) -> None:
    share = np.array(tenths) / 10.0
    found = fewest_years(share)
    assert found.proven
    assert _fits(share, tuple(found.year.tolist()))
    ways = [way for way in product(range(len(share)), repeat=len(share)) if _fits(share, way)]
    years = min(len(set(way)) for way in ways)
    assert found.year.max() + 1 == years

    def unevenness(way: tuple[int, ...]) -> float:
        return float((np.bincount(way, share[:, 0]) ** 2).sum())

    best = min(unevenness(way) for way in ways if len(set(way)) == years)
    assert unevenness(tuple(found.year.tolist())) == pytest.approx(best)


def test_many_jobs_are_laid_largest_first_and_proven_only_by_the_sums() -> None:
    many = np.full((EXACT + 2, 1), 0.5)
    even = fewest_years(many)
    assert even.year.max() + 1 == (EXACT + 2) // 2 == least_years(many)
    assert even.proven
    apart = fewest_years(np.full((EXACT + 2, 1), 0.6))
    assert apart.year.max() + 1 == EXACT + 2
    assert not apart.proven


def test_a_job_of_more_than_a_year_is_refused() -> None:
    with pytest.raises(MechanicsError, match=r"job 1 takes 1\.2 years"):
        fewest_years(np.array([[0.5], [1.2]]))
