"""Cutting runs from coils against published instances and such whose optimum is known by how they were made."""

import numpy as np
import pytest
from wirerun.mechanics import FloatArray, IntArray
from wirerun.optimise.cutting import cut_runs
from wirerun.optimise.cutting_bounds import least_coils, least_joins
from wirerun.optimise.cutting_search import best_fit


@pytest.mark.parametrize(
    ("lengths", "coil_m", "coils"),
    [
        # Textbook case, from memory: first-fit-decreasing needs three.
        ([6, 5, 4, 3, 2, 2, 2], 12.0, 2),
        # Cutting stock data that come with the MiniZinc language: stock of 10, twice 7, twice 5, four times 3.
        ([7, 7, 5, 5, 3, 3, 3, 3], 10.0, 4),
        # Rows of a hillside block on 25 kg coils of 2.5 mm (648 m: The Press, 18 Apr 1980).
        # Computed: 2544 m are more than three coils; first-fit-decreasing needs five.
        ([180, 176, 171, 165, 158, 150, 141, 131] * 2, 648.0, 4),
        # D. S. Johnson's worst case of first-fit-decreasing, 11/9 of the optimum (from memory): six coils of
        # 51 + 26 + 23 and three of 27 + 27 + 23 + 23.
        ([51] * 6 + [27] * 6 + [26] * 6 + [23] * 12, 100.0, 9),
    ],
)
def test_instances_from_the_literature(lengths: list[int], coil_m: float, coils: int) -> None:
    cuts = cut_runs(np.array(lengths, dtype=np.float64), coil_m, joins=False)
    assert (cuts.coils, cuts.least_coils) == (coils, coils)


def triplets(seed: int, coils: int) -> FloatArray:
    """Runs of 250 to 500 that fill coils of 1000, three each, without a remainder."""
    rng = np.random.default_rng(seed)
    long = rng.integers(380, 491, coils)
    middle = rng.integers(250, (1000 - long) // 2 + 1)
    return np.concatenate((long, middle, 1000 - long - middle)).astype(np.float64)


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("coils", [20, 40])
def test_triplets_that_fill_all_coils_are_bounded_exactly_and_cut_with_one_coil_more_at_most(
    seed: int, coils: int
) -> None:
    # E. Falkenauer, A hybrid grouping genetic algorithm for bin packing, Journal of Heuristics 2 (1996) 5-30 (from
    # memory): triplets are hard because nothing may be left over. The optimum is known by how they are made.
    runs = triplets(seed, coils)
    cuts = cut_runs(runs, 1000.0, joins=False)
    assert cuts.least_coils == coils
    assert cuts.coils <= coils + 1
    assert len(best_fit(-np.sort(-runs).astype(np.int64), 1000)) > cuts.coils


def test_bound_of_runs_that_cannot_share_a_coil() -> None:
    # S. Martello and P. Toth, Knapsack Problems, 1990, ch. 8 (from memory): runs above half a coil never share
    # one, whatever their sum. Ten runs of 51 and ten of 50 on coils of 100: 10 and 5, though 1010 m make 11 coils.
    sizes: IntArray = np.repeat([51, 50], 10)
    assert least_coils(sizes, 100)[0] == 15
    assert cut_runs(sizes.astype(np.float64), 100.0, joins=False).coils == 15


def test_bound_of_joins_where_nothing_fits_whole() -> None:
    # By hand: n runs of 60 m on coils of 100 m. Five runs fill three coils with two joins, so 50 take 30 coils, and a
    # group of fewer than three coils leaves wire over, of which there is none: 10 groups, 20 joins.
    assert least_joins(np.full(50, 60, dtype=np.int64), 100, 30) == 20
    cuts = cut_runs(np.full(50, 60.0), 100.0, joins=True)
    assert (cuts.coils, cuts.least_coils, cuts.joins, cuts.least_joins) == (30, 30, 20, 20)
