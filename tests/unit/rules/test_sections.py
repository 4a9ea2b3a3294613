"""Runs of posts in need, against a walk along the rows."""

import numpy as np
import pytest
from wirerun.rules.sections import runs, within


@pytest.mark.parametrize("join", [0, 1, 2, 5])
@pytest.mark.parametrize("seed", range(5))
def test_runs_are_those_of_a_walk(join: int, seed: int) -> None:
    """A run ends where more than `join` posts without need follow, or the row ends."""
    rng = np.random.default_rng(seed)
    row = np.sort(rng.integers(0, 5, 40))
    need = rng.random(40) < 0.4
    walked: list[list[int]] = []
    for post in np.flatnonzero(need).tolist():
        if walked and row[post] == row[walked[-1][1]] and post - walked[-1][1] - 1 <= join:
            walked[-1][1] = post
        else:
            walked.append([post, post])
    first, last = runs(need, row, join)
    assert np.c_[first, last].tolist() == walked
    inside = within(first, last, 40)
    assert inside.tolist() == [any(a <= post <= b for a, b in walked) for post in range(40)]


def test_no_need_no_run() -> None:
    first, last = runs(np.zeros(4, dtype=bool), np.zeros(4, dtype=np.int64), 1)
    assert len(first) == len(last) == 0
    assert not within(first, last, 4).any()
