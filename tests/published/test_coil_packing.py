"""Lines packed on coils against published instances and such whose optimum is known by how they were made."""

import numpy as np
import pytest
from wirerun.mechanics import IntArray
from wirerun.optimise.coil_packing import least_coils, pack_whole
from wirerun.optimise.coil_pieces import Coil, Lines


def packed(length: IntArray, coil: int) -> int:
    none, whole = np.zeros(len(length)), np.zeros(len(length), dtype=np.int64)
    return pack_whole(Lines(length, whole, none, none, none > 0.0, none), whole, Coil(coil, 1.0), 0).coils


@pytest.mark.parametrize(
    ("lengths", "coil", "fewest", "by_best_fit"),
    [
        # Cutting stock data that come with the MiniZinc language: stock of 10, twice 7, twice 5, four times 3.
        ([7, 7, 5, 5, 3, 3, 3, 3], 10, 4, 4),
        # Rows of a hillside block on 25 kg coils of 2.5 mm (648 m: The Press, 18 Apr 1980).
        # Computed: 2544 m are more than three coils; first-fit-decreasing needs five.
        ([180, 176, 171, 165, 158, 150, 141, 131] * 2, 648, 4, 5),
        # As bad as it gets, 11/9 of the optimum (D. S. Johnson, 1973, quoted by packing programs): six coils of
        # 51 + 26 + 23 and three of 27 + 27 + 23 + 23 are full. Best fit puts 27 on 51 and wastes 22 six times.
        ([51] * 6 + [27] * 6 + [26] * 6 + [23] * 12, 100, 9, 11),
    ],
)
def test_instances_from_the_literature(lengths: list[int], coil: int, fewest: int, by_best_fit: int) -> None:
    size = np.array(lengths, dtype=np.int64)
    assert least_coils(size, coil) == fewest
    assert packed(size, coil) == by_best_fit


@pytest.mark.parametrize("seed", range(4))
def test_triplets_that_fill_all_coils_are_bounded_exactly(seed: int) -> None:
    # E. Falkenauer, A hybrid grouping genetic algorithm for bin packing, Journal of Heuristics 2 (1996) 5-30, quoted by
    # the library BPPLIB: triplets, one large and two small on coils of 1000. The optimum is known by how they are made.
    rng = np.random.default_rng(seed)
    long = rng.integers(380, 491, 40)
    middle = rng.integers(250, (1000 - long) // 2 + 1)
    lengths = np.concatenate((long, middle, 1000 - long - middle))
    assert least_coils(lengths, 1000) == 40
    assert 40 < packed(lengths, 1000) <= 1 + 40 * 11 // 9


def test_bound_of_lines_that_cannot_share_a_coil() -> None:
    # S. Martello and P. Toth, Discrete Applied Mathematics 28 (1990) 59-70: lines above half a coil never share
    # one, whatever their sum. Ten lines of 51 and ten of 50 on coils of 100: 10 and 5, though 1010 m make 11 coils.
    lengths = np.repeat(np.array([51, 50], dtype=np.int64), 10)
    assert least_coils(lengths, 100) == packed(lengths, 100) == 15
    # Beside lines of 70 a coil takes at most 30: of six of 40, two go on a coil (the bound L2, not metres: 7).
    lengths = np.repeat(np.array([70, 40], dtype=np.int64), [6, 6])
    assert least_coils(lengths, 100) == packed(lengths, 100) == 9
