"""Lines packed on few coils: against every packing of small cases, and what must hold in all."""

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from wirerun.optimise.coil_packing import least_coils, pack_whole
from wirerun.optimise.coil_pieces import Coil, Lines, refuse_bad_pieces


def make(length: list[int]) -> Lines:
    none, whole = np.zeros(len(length)), np.zeros(len(length), dtype=np.int64)
    return Lines(np.array(length, dtype=np.int64), whole, none, none, none > 0.0, none)


def fewest(length: list[int], coil: int) -> int:
    """Fewest coils of all ways to put each line on one."""
    count = len(length)
    ways = np.indices((count,) * count).reshape(count, -1)
    filled = np.stack([np.array(length) @ (ways == number) for number in range(count)])
    return int((filled[:, filled.max(axis=0) <= coil] > 0).sum(axis=0).min())


@settings(max_examples=40, deadline=None)
@given(st.lists(st.integers(5, 100), min_size=1, max_size=6))
def test_small_cases_are_packed_on_the_fewest_and_bounded_from_below(length: list[int]) -> None:
    """Every way to put up to six lines on coils of 100, counted out; best fit may take one coil more."""
    pieces = pack_whole(make(length), np.zeros(len(length), dtype=np.int64), Coil(100, 1.0), 0)
    least = fewest(length, 100)
    assert least_coils(np.array(length), 100) <= least <= pieces.coils <= least + 1
    assert pieces.joins == 0


@settings(max_examples=40, deadline=None)
@given(length=st.lists(st.integers(1, 350), min_size=1, max_size=40), groups=st.integers(1, 4), end=st.integers(0, 30))
def test_each_coil_is_cut_on_in_the_order_of_the_lines_and_groups_share_none(
    length: list[int], groups: int, end: int
) -> None:
    group = np.arange(len(length)) * groups // len(length)
    pieces = pack_whole(make(length), group, Coil(100, 1.0), end)
    refuse_bad_pieces(pieces, np.array(length), Coil(100, 1.0), end)
    assert (np.diff(pieces.line) >= 0).all()
    assert pieces.joins == sum(-(-each // 100) - 1 for each in length)
    for number in range(pieces.coils):
        assert len(set(group[pieces.line[pieces.coil == number]].tolist())) == 1
    # Coils are numbered in the order in which they are begun.
    assert np.unique(pieces.coil, return_index=True)[1].tolist() == sorted(np.unique(pieces.coil, return_index=True)[1])
    assert pieces.coils >= least_coils(np.array(length), 100)


def test_a_rest_that_would_be_too_short_takes_wire_of_the_whole_coils() -> None:
    pieces = pack_whole(make([205]), np.zeros(1, dtype=np.int64), Coil(100, 1.0), 20)
    assert sorted((pieces.to_mm - pieces.from_mm).tolist()) == [20, 92, 93]


def test_nothing_to_pack() -> None:
    pieces = pack_whole(make([]), np.zeros(0, dtype=np.int64), Coil(100, 1.0), 0)
    assert (len(pieces), pieces.coils, least_coils(np.zeros(0, dtype=np.int64), 100)) == (0, 0, 0)
