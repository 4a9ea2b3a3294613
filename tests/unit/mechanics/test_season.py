"""The same wire in another state: the tension that a length belongs to, on rows of every kind."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq
from wirerun.errors import MechanicsError
from wirerun.mechanics import FloatArray, IntArray
from wirerun.mechanics.chain import solve_chain, unstretched_totals
from wirerun.mechanics.give import Give
from wirerun.mechanics.season import chain_at_length, tighter_than, warmed
from wirerun.mechanics.supports import Supports
from wirerun.mechanics.wire import Wire, axial_stiffness, weight_per_m

WIRE = Wire.from_diameter(2.5)
WEIGHT, EA = float(weight_per_m(2.5)), float(axial_stiffness(2.5))


def _block(seed: int = 0) -> tuple[FloatArray, FloatArray, IntArray]:
    """Rows of 2 to 40 posts on rolling, falling and rising ground; row numbers have gaps."""
    rng = np.random.default_rng(seed)
    counts = np.array([2, 17, 40, 3, 25])
    row = np.repeat(np.array([2, 3, 7, 11, 12]), counts)
    x = np.concatenate([np.cumsum(rng.uniform(3.0, 8.0, count)) for count in counts])
    tilt = np.repeat(np.array([0.3, -0.25, 0.0, 0.6, 0.1]), counts)
    return x, tilt * x + rng.normal(0.0, 0.15, x.size), row


def test_the_lengths_of_a_chain_give_its_tensions_back() -> None:
    x, z, row = _block()
    start = np.array([0.9, 60.0, 300.0, 1200.0, 5000.0])
    start[0] = 12.0
    chain = solve_chain(Supports(x, z, row), WIRE, start)
    again = chain_at_length(Supports(x, z, row), WIRE, unstretched_totals(chain))
    assert again.solved.all()
    assert not again.too_long.any()
    # A length good to one part in 1e16 gives the pull to 1e-16 EA and no better.
    np.testing.assert_allclose(again.start_tension_n, start, rtol=1e-9, atol=1e-8)
    np.testing.assert_allclose(again.chain.clip_load_n, chain.clip_load_n, rtol=1e-8, atol=1e-8)
    assert again.residual < 1e-14


@given(
    start=st.floats(2.0, 5000.0),
    slope=st.floats(-0.7, 0.7),
    rough=st.floats(0.0, 0.4),
    seed=st.integers(0, 10_000),
    change=st.floats(-60.0, 60.0),
)
@settings(max_examples=60, deadline=None)
def test_any_solved_row_has_the_length_it_was_given(
    start: float, slope: float, rough: float, seed: int, change: float
) -> None:
    rng = np.random.default_rng(seed)
    x = np.cumsum(rng.uniform(3.0, 7.0, 15))
    z, row = slope * x + rough * rng.normal(size=15), np.zeros(15, dtype=np.int64)
    start += max(0.0, WEIGHT * (z[0] - z.min())) + 4.0 * WEIGHT * 7.0
    length = warmed(WIRE, unstretched_totals(solve_chain(Supports(x, z, row), WIRE, start)), change)
    warm = chain_at_length(Supports(x, z, row), WIRE, length)
    assert warm.solved[0] != warm.too_long[0]
    if warm.solved[0]:
        assert unstretched_totals(warm.chain)[0] == pytest.approx(length[0], rel=1e-13)
        # Warmer is slacker, always. At 1e-9 EA a change of temperature drowns in rounding.
        assert (warm.start_tension_n[0] - start) * change <= 1e-8
    else:
        assert change > 0.0


def _by_scipy(x: FloatArray, z: FloatArray, length: float) -> float:
    row = np.zeros(x.size, dtype=np.int64)

    def miss(tension: float) -> float:
        return float(unstretched_totals(solve_chain(Supports(x, z, row), WIRE, tension))[0]) - length

    return float(brentq(miss, 30.0, 6000.0, xtol=1e-10))


def test_many_rows_as_one_by_one_with_a_scalar_root_finder() -> None:
    x, z, row = _block(4)
    cold = warmed(WIRE, unstretched_totals(solve_chain(Supports(x, z, row), WIRE, 300.0)), -20.0)
    found = chain_at_length(Supports(x, z, row), WIRE, cold).start_tension_n
    for k, number in enumerate(np.unique(row)):
        at = row == number
        assert found[k] == pytest.approx(_by_scipy(x[at], z[at], cold[k]), abs=1e-6)


@pytest.mark.parametrize(("change", "tension"), [(10.0, 185.917), (-10.0, 416.734)])
def test_the_level_row_of_the_docstring(change: float, tension: float) -> None:
    x, z, row = 6.0 * np.arange(11.0), np.zeros(11), np.zeros(11, dtype=np.int64)
    length = unstretched_totals(solve_chain(Supports(x, z, row), WIRE, 300.0))
    warm = chain_at_length(Supports(x, z, row), WIRE, warmed(WIRE, length, change))
    assert warm.start_tension_n[0] == pytest.approx(tension, abs=0.001)


def test_lifting_between_fixed_ends_tightens() -> None:
    # Stapled at 1.2 m at both ends, lifted to 1.5 m on the posts between: the first and last span get longer.
    x, row = 6.0 * np.arange(11.0), np.zeros(11, dtype=np.int64)
    z = np.full(11, 1.2)
    length = unstretched_totals(solve_chain(Supports(x, z, row), WIRE, 300.0))
    z[1:-1] = 1.5
    lifted = chain_at_length(Supports(x, z, row), WIRE, length)
    longer = 2.0 * (np.hypot(6.0, 0.3) - 6.0)
    # All of it is stretch, but for the millionth part that sag gives back.
    assert lifted.start_tension_n[0] - 300.0 == pytest.approx(EA * longer / 60.0, rel=0.03)
    assert lifted.chain.clip_load_n[1] > 0.0  # bears down where the wire comes up from the end


def test_a_wire_too_long_is_told_and_harms_no_other() -> None:
    x, z, row = _block()
    length = unstretched_totals(solve_chain(Supports(x, z, row), WIRE, 300.0))
    whole = chain_at_length(Supports(x, z, row), WIRE, length)
    length[2] *= 1.3
    odd = chain_at_length(Supports(x, z, row), WIRE, length)
    assert odd.too_long.tolist() == [False, False, True, False, False]
    assert odd.solved.tolist() == [True, True, False, True, True]
    assert np.isnan(odd.start_tension_n[2])
    assert np.isnan(odd.chain.support_tension_n[row == 7]).all()
    np.testing.assert_array_equal(odd.chain.support_tension_n[row != 7], whole.chain.support_tension_n[row != 7])


def test_the_longest_wire_of_a_level_row_is_found_from_both_sides() -> None:
    # Ten equal level spans hang down to the tension 0.7546 w l at most (minimum of cosh u/(2 u), u tanh u = 1),
    # where u = 1.19968 and each holds sinh u/u of its run; a longer wire runs into one span.
    x, z, row = 6.0 * np.arange(11.0), np.zeros(11), np.zeros(11, dtype=np.int64)
    longest = 60.0 * np.sinh(1.1996786402577) / 1.1996786402577
    near = chain_at_length(Supports(x, z, row), Wire(WEIGHT, 1e9), 0.9999 * longest)
    assert near.solved[0]
    assert near.start_tension_n[0] == pytest.approx(0.7546 * WEIGHT * 6.0, rel=1e-3)
    assert chain_at_length(Supports(x, z, row), Wire(WEIGHT, 1e9), 1.0001 * longest).too_long[0]


def test_a_wire_far_too_short_is_only_tight() -> None:
    x, z, row = 6.0 * np.arange(11.0), np.zeros(11), np.zeros(11, dtype=np.int64)
    tight = chain_at_length(Supports(x, z, row), WIRE, 40.0)
    assert tight.start_tension_n[0] == pytest.approx(0.5 * EA, rel=1e-6)


def test_rows_without_heights_length_or_spans_come_out_nan() -> None:
    x, z, row = _block()
    length = unstretched_totals(solve_chain(Supports(x, z, row), WIRE, 300.0))
    whole = chain_at_length(Supports(x, z, row), WIRE, length)
    z[5], length[3] = np.nan, np.nan
    odd = chain_at_length(Supports(x, z, row), WIRE, length)
    assert odd.solved.tolist() == [True, False, True, False, True]
    assert not odd.too_long.any()
    assert np.isnan(unstretched_totals(odd.chain)).tolist() == [False, True, False, True, False]
    kept = np.isin(row, [2, 7, 12])
    np.testing.assert_array_equal(odd.chain.support_tension_n[kept], whole.chain.support_tension_n[kept])
    single = chain_at_length(Supports(np.zeros(1), np.zeros(1), np.zeros(1, dtype=np.int64)), WIRE, 5.0)
    assert not single.solved[0]
    none: FloatArray = np.empty(0)
    assert chain_at_length(Supports(none, none, np.empty(0, dtype=np.int64)), WIRE, 5.0).solved.size == 0


def test_batches_do_not_show(monkeypatch: pytest.MonkeyPatch) -> None:
    x, z, row = _block()
    length = unstretched_totals(solve_chain(Supports(x, z, row), WIRE, 300.0))
    whole = chain_at_length(Supports(x, z, row), WIRE, length).start_tension_n
    monkeypatch.setattr("wirerun.mechanics.season._BATCH", 20)
    np.testing.assert_allclose(chain_at_length(Supports(x, z, row), WIRE, length).start_tension_n, whole, rtol=1e-10)


def test_refusals() -> None:
    x, z, row = _block()
    with pytest.raises(MechanicsError, match="unstretched_m must be above 0 and finite, but is -1 at index 0"):
        chain_at_length(Supports(x, z, row), WIRE, -1.0)
    with pytest.raises(MechanicsError, match="unstretched_m must be one number or one for each of 5 rows"):
        chain_at_length(Supports(x, z, row), WIRE, np.ones(4))
    with pytest.raises(MechanicsError, match="x_m must grow along a row"):
        chain_at_length(Supports(x[::-1], z, row), WIRE, 50.0)
    with pytest.raises(MechanicsError, match="change_k must be finite"):
        warmed(WIRE, 50.0, np.nan)


@pytest.mark.parametrize("change_k", [-30.0, 0.0, 20.0])
def test_tighter_is_what_the_chain_at_that_length_says(change_k: float) -> None:
    x, z, row = _block(3)
    supports, limit = Supports(x, z, row), np.full(5, 420.0)
    strung = unstretched_totals(solve_chain(supports, WIRE, np.array([300.0, 380.0, 420.0, 460.0, 418.0])))
    strung[1] = np.nan
    give = Give(np.full(5, 1e-6), np.full(5, 300.0))
    length = warmed(WIRE, strung, change_k)
    chain = chain_at_length(supports, WIRE, length, give).chain
    ends = np.fmax(*chain.support_tension_n[[supports.rows.first, supports.rows.last]])
    tighter, sure = tighter_than(limit, supports, WIRE, length, give)
    np.testing.assert_array_equal(tighter[sure], (ends > limit)[sure])
    assert sure.all()
    # Where the limit is the tension itself the answer may be either, and is said to be unsure.
    exact = np.where(np.isnan(ends), 1.0, ends)
    assert not tighter_than(exact, supports, WIRE, length, give)[1][~np.isnan(ends)].any()
