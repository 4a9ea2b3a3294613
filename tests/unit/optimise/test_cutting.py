"""Runs cut from coils: brute-force twins, what must hold for any runs, cases by hand, and what is refused."""

import itertools
import math

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from wirerun.errors import MechanicsError
from wirerun.optimise.cutting import Cuts, cut_runs

LENGTHS = st.lists(st.floats(0.01, 700.0), min_size=0, max_size=25)


def fewest_whole(lengths: list[int], coil: int) -> int:
    """Coils for whole runs: for every set of runs the fewest coils, and the fullest of them as empty as can be."""
    best = {0: (1, 0)}
    for chosen in range(1, 1 << len(lengths)):
        ways = []
        for run, length in enumerate(lengths):
            if chosen >> run & 1:
                coils, used = best[chosen ^ 1 << run]
                ways.append((coils, used + length) if used + length <= coil else (coils + 1, length))
        best[chosen] = min(ways)
    return best[(1 << len(lengths)) - 1][0]


def ways_to_cut(length: int, rooms: tuple[int, ...], least: int) -> set[tuple[tuple[int, ...], int]]:
    """Rooms left and joins of every way to take a run from coils, in whole metres."""
    partial: set[tuple[tuple[int, ...], int, int]] = {((), length, 0)}
    for room in rooms:
        partial = {
            ((*left, room - piece), rest - piece, pieces + (piece > 0))
            for left, rest, pieces in partial
            for piece in range(min(room, rest) + 1)
            if piece == 0 or piece >= least or piece == length
        }
    return {(tuple(sorted(left)), pieces - 1) for left, rest, pieces in partial if rest == 0}


def fewest_joined(lengths: list[int], coil: int, least: int) -> tuple[int, int]:
    """Coils and joins, by all ways to cut every run from all coils; whole metres lose nothing (it is a flow)."""
    for coils in itertools.count(math.ceil(sum(lengths) / coil)):
        states = {(coil,) * coils: 0}
        for length in lengths:
            onward: dict[tuple[int, ...], int] = {}
            for rooms, joins in states.items():
                for left, more in ways_to_cut(length, rooms, least):
                    onward[left] = min(joins + more, onward.get(left, 99))
            states = onward
        if states:
            return coils, min(states.values())
    raise AssertionError


def assert_can_be_made(cuts: Cuts, lengths: list[float], coil_m: float, least_m: float = 0.0) -> None:
    piece = cuts.to_m - cuts.from_m
    made = np.bincount(cuts.run, weights=piece, minlength=len(lengths))
    # Rounded up to a tenth of a millimetre, never down.
    assert (made >= np.array(lengths) - 1e-6).all()
    assert made == pytest.approx(np.array(lengths), abs=1.01e-4)
    assert (cuts.to_m <= coil_m + 1e-6).all()
    assert np.unique(cuts.coil).tolist() == list(range(cuts.coils))
    same = cuts.coil[1:] == cuts.coil[:-1]
    assert (np.diff(cuts.coil) >= 0).all()
    assert (cuts.from_m[1:] == np.where(same, cuts.to_m[:-1], 0.0)).all()
    of_many = np.bincount(cuts.run, minlength=len(lengths))[cuts.run] > 1
    assert (piece[of_many] >= least_m - 1e-6).all()
    assert cuts.joins == len(piece) - len(lengths)
    assert cuts.least_coils <= cuts.coils
    assert cuts.least_joins <= cuts.joins


@pytest.mark.parametrize("seed", range(60))
def test_whole_runs_take_as_few_coils_as_brute_force(seed: int) -> None:
    rng = np.random.default_rng(seed)
    coil = int(rng.integers(20, 60))
    lengths = rng.integers(coil // 6, coil // 2 + 8, 9).clip(1, coil).tolist()
    cuts = cut_runs(np.array(lengths, dtype=np.float64), coil, joins=False)
    assert_can_be_made(cuts, lengths, coil)
    truth = fewest_whole(lengths, coil)
    assert cuts.least_coils <= truth
    assert cuts.coils == truth


@pytest.mark.parametrize("least", [0, 2, 3])
@pytest.mark.parametrize("seed", range(25))
def test_joined_runs_take_as_few_coils_and_joins_as_brute_force(seed: int, least: int) -> None:
    rng = np.random.default_rng(seed)
    coil = int(rng.integers(7, 11))
    # Up to a little more than a coil: some runs must be joined.
    lengths = rng.integers(3, coil + 3, 4).clip(2 * least).tolist()
    cuts = cut_runs(np.array(lengths, dtype=np.float64), coil, joins=True, least_piece_m=least)
    assert_can_be_made(cuts, lengths, coil, least)
    coils, joins = fewest_joined(lengths, coil, least)
    assert cuts.least_coils <= coils <= cuts.coils
    if cuts.coils == coils:
        assert cuts.least_joins <= joins <= cuts.joins
    if least == 0:
        assert (cuts.coils, cuts.joins) == (coils, joins)


@settings(max_examples=60, deadline=None)
@given(lengths=LENGTHS, joins=st.booleans(), least=st.sampled_from([0.0, 5.0, 60.0]))
def test_cuts_can_be_made_and_bounds_hold_for_any_runs(lengths: list[float], joins: bool, least: float) -> None:  # noqa: FBT001
    coil_m = 408.0 if joins else 700.0
    cuts = cut_runs(np.array(lengths), coil_m, joins=joins, least_piece_m=least)
    assert_can_be_made(cuts, lengths, coil_m, least)
    assert cuts.least_coils >= math.ceil(sum(lengths) / coil_m - 1e-6)
    if not joins:
        assert cuts.joins == cuts.least_joins == 0


@settings(max_examples=15, deadline=None)
@example(lengths=[0.010000000000000002, 0.01], joins=False, seed=3)  # alike once rounded up, not to the last digit
@example(lengths=[9.99992, 9.99996, 300.0], joins=True, seed=3)
@given(lengths=LENGTHS, joins=st.booleans(), seed=st.integers(0, 99))
def test_order_of_the_runs_changes_nothing_but_names(lengths: list[float], joins: bool, seed: int) -> None:  # noqa: FBT001
    runs = np.array(lengths)
    order = np.random.default_rng(seed).permutation(runs.size)
    first, second = (cut_runs(some, 700.0, joins=joins, least_piece_m=5.0) for some in (runs, runs[order]))
    assert first.to_m.tolist() == second.to_m.tolist()
    assert first.coil.tolist() == second.coil.tolist()
    assert runs[first.run].tolist() == runs[order][second.run].tolist()


def test_the_same_runs_give_the_same_cuts() -> None:
    runs = np.random.default_rng(4).uniform(0.25, 0.45, 60) * 648.0
    for joins in (False, True):
        first, second = (cut_runs(runs, 648.0, joins=joins, least_piece_m=15.0) for _ in range(2))
        for name in ("run", "coil", "from_m", "to_m"):
            assert np.array_equal(getattr(first, name), getattr(second, name))


def test_three_runs_from_two_coils_are_joined_once() -> None:
    # By hand: 3 x 60 m fit on two coils of 100 m only if one run has pieces on both: one join, nothing less.
    cuts = cut_runs(np.full(3, 60.0), 100.0, joins=True)
    assert (cuts.coils, cuts.least_coils, cuts.joins, cuts.least_joins) == (2, 2, 1, 1)
    whole = cut_runs(np.full(3, 60.0), 100.0, joins=False)
    assert (whole.coils, whole.least_coils) == (3, 3)


def test_a_piece_too_short_to_knot_costs_another_coil() -> None:
    # By hand: the cut run has 40 m on one coil, 20 m on the other. Pieces of 30 m each leave no room: 2 x 90 + 60.
    assert cut_runs(np.full(3, 60.0), 100.0, joins=True, least_piece_m=20.0).coils == 2
    spoilt = cut_runs(np.array([95.0, 90.0, 15.0]), 100.0, joins=True, least_piece_m=11.0)
    assert (spoilt.coils, spoilt.least_coils) == (3, 2)
    assert spoilt.joins == 0


def test_a_run_longer_than_a_coil_takes_whole_coils_and_its_rest_goes_with_others() -> None:
    # By hand: 250 m are two coils and 50 m, which leave room for 50 m more.
    cuts = cut_runs(np.array([50.0, 250.0]), 100.0, joins=True)
    assert (cuts.coils, cuts.least_coils, cuts.joins, cuts.least_joins) == (3, 3, 2, 2)
    # A rest of 5 m is too short: 15 m of it, then, and 90 m from the coil before.
    rest = cut_runs(np.array([105.0]), 100.0, joins=True, least_piece_m=15.0)
    assert sorted((rest.to_m - rest.from_m).tolist()) == [15.0, 90.0]


def test_a_length_that_fits_to_the_tenth_of_a_millimetre_fits() -> None:
    # 3 x 0.1 is more than 0.3 in floating point.
    assert cut_runs(np.full(3, 0.1), 0.3, joins=False).coils == 1
    assert cut_runs(np.full(3, 0.10001), 0.3, joins=False).coils == 2


@pytest.mark.parametrize("joins", [False, True])
def test_no_runs_take_no_coils(joins: bool) -> None:  # noqa: FBT001
    cuts = cut_runs(np.array([]), 648.0, joins=joins)
    assert (cuts.coils, cuts.least_coils, cuts.joins, cuts.least_joins, cuts.run.size) == (0, 0, 0, 0, 0)


def test_refusals_name_the_first_run() -> None:
    with pytest.raises(MechanicsError, match=r"Run 1 .*, 700 m long, cannot be cut from coils of 648 m without joins"):
        cut_runs(np.array([600.0, 700.0, 800.0]), 648.0, joins=False)
    with pytest.raises(MechanicsError, match=r"Run 2 .* of 100 m in pieces of at least 60 m"):
        cut_runs(np.array([100.0, 130.0, 110.0]), 100.0, joins=True, least_piece_m=60.0)
    with pytest.raises(MechanicsError, match=r"lengths_m must be above 0 and finite, but is 0 at index 1"):
        cut_runs(np.array([100.0, 0.0]), 648.0, joins=True)
    with pytest.raises(MechanicsError, match="coil_m must be above 0"):
        cut_runs(np.array([100.0]), 0.0, joins=True)
    with pytest.raises(MechanicsError, match="A coil must be at least"):
        cut_runs(np.array([100.0]), 0.00001, joins=True)
    with pytest.raises(MechanicsError, match="least_piece_m must be 0 or more"):
        cut_runs(np.array([100.0]), 648.0, joins=True, least_piece_m=-1.0)


@pytest.mark.parametrize("joins", [False, True])
def test_a_nearly_full_set_of_varied_runs_needs_no_search(joins: bool) -> None:  # noqa: FBT001 - a test parameter
    """Runs in fours over 26.98 coils' length: 13.6 m to spare in all. Best fit needs a coil more, or a join."""
    run = np.random.default_rng(5).uniform(15.0, 159.0, 51)
    lengths = np.repeat(run * 648.0 * 26.979 / (4.0 * run.sum()), 4)
    cuts = cut_runs(lengths, 648.0, joins=joins, least_piece_m=20.0)
    assert (cuts.coils, cuts.least_coils, cuts.joins) == (27, 27, 0)
