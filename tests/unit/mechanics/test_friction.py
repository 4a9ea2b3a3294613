"""Friction in the clips: what is lost on the way, and from where to strain."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from wirerun.errors import MechanicsError
from wirerun.mechanics import FloatArray, IntArray
from wirerun.mechanics.chain import Chain, solve_chain
from wirerun.mechanics.friction import ADVICE, capstan_factor, clip_turns, strain_advice, tension_with_friction
from wirerun.mechanics.supports import Supports
from wirerun.mechanics.wire import Wire, axial_stiffness, weight_per_m

WIRE = Wire.from_diameter(2.5)
WEIGHT, EA = float(weight_per_m(2.5)), float(axial_stiffness(2.5))


def _rows(seed: int = 3, counts: tuple[int, ...] = (9, 2, 31, 17)) -> tuple[FloatArray, FloatArray, IntArray]:
    rng = np.random.default_rng(seed)
    row = np.repeat(np.arange(len(counts)) * 3 + 1, counts)
    x = np.concatenate([np.cumsum(rng.uniform(4.0, 7.0, count)) for count in counts])
    z = np.concatenate([np.cumsum(rng.normal(0.0, 0.4, count)) for count in counts])
    return x, z, row


def _chain(x: FloatArray, z: FloatArray, row: IntArray) -> Chain:
    return solve_chain(Supports(x, z, row), WIRE, 400.0)


def test_without_friction_nothing_changes_to_the_last_bit() -> None:
    x, z, row = _rows()
    chain = _chain(x, z, row)
    for far in (False, True):
        tension = tension_with_friction(chain, 0.0, from_far_end=far, plan_turn_rad=0.1)
        np.testing.assert_array_equal(tension.near_n, chain.support_tension_n)
        np.testing.assert_array_equal(tension.far_n, chain.support_tension_n)


def _walked(x: FloatArray, z: FloatArray, turn: FloatArray, start: float, mu: float) -> list[tuple[float, float]]:
    """One row, post by post: the capstan at each clip, T + T^2/(2 EA) - w z on each span."""
    sides = [(start, start)]
    tension = start
    for i in range(1, x.size):
        store = tension + tension**2 / (2.0 * EA) + WEIGHT * (z[i] - z[i - 1])
        arrived = EA * (np.sqrt(1.0 + 2.0 * store / EA) - 1.0)
        tension = arrived * np.exp(-mu * turn[i]) if i < x.size - 1 else arrived
        sides.append((float(arrived), float(tension)))
    return sides


@pytest.mark.parametrize("mu", [0.1, 0.35])
def test_many_rows_as_one_row_walked_post_by_post(mu: float) -> None:
    x, z, row = _rows()
    chain = _chain(x, z, row)
    plan = np.random.default_rng(1).uniform(-0.2, 0.2, x.size)
    turn = clip_turns(chain, plan)
    tension = tension_with_friction(chain, mu, plan_turn_rad=plan)
    lost = 0.0
    for number in np.unique(row):
        at = row == number
        walked = np.array(_walked(x[at], z[at], turn[at], 400.0, mu))
        np.testing.assert_allclose(tension.near_n[at], walked[:, 0], rtol=3e-6)
        np.testing.assert_allclose(tension.far_n[at], walked[:, 1], rtol=3e-6)
        lost = max(lost, 400.0 - walked[-1, 1])
    assert lost > 40.0  # or the comparison says little


def test_straining_at_the_far_end_is_the_row_turned_round() -> None:
    x, z, row = _rows()
    chain = _chain(x, z, row)
    far = tension_with_friction(chain, 0.3, from_far_end=True)
    ends = np.flatnonzero(np.append(row[1:] != row[:-1], [True]))  # tension at the far end of each row is set
    turned = solve_chain(Supports(-x[::-1], z[::-1], 100 - row[::-1]), WIRE, chain.support_tension_n[ends][::-1])
    near = tension_with_friction(turned, 0.3)
    np.testing.assert_allclose(far.near_n, near.far_n[::-1], rtol=1e-9)
    np.testing.assert_allclose(far.far_n, near.near_n[::-1], rtol=1e-9)


def test_turn_on_a_crest_in_a_hollow_and_round_a_bend() -> None:
    x, row = 6.0 * np.arange(3.0), np.zeros(3, dtype=np.int64)
    crest = clip_turns(solve_chain(Supports(x, np.array([0.0, 0.3, 0.0]), row), WIRE, 1000.0))
    hollow = clip_turns(solve_chain(Supports(x, np.array([0.3, 0.0, 0.3]), row), WIRE, 1000.0))
    # Chords turn by 2 atan(0.05); sag adds w l/T over a crest and takes it off in a hollow.
    assert crest[1] == pytest.approx(2.0 * np.arctan(0.05) + WEIGHT * 6.0 / 1000.0, abs=1e-5)
    assert hollow[1] == pytest.approx(2.0 * np.arctan(0.05) - WEIGHT * 6.0 / 1000.0, abs=1e-5)
    level = solve_chain(Supports(x, np.zeros(3), row), Wire(1e-9, EA), 1000.0)
    assert clip_turns(level, np.array([0.0, 0.4, 0.0]))[1] == pytest.approx(0.4, abs=1e-9)
    assert np.isnan(crest[[0, 2]]).all()


@given(a=st.floats(-0.5, 0.5), b=st.floats(-0.5, 0.5), phi=st.floats(-3.0, 3.0))
@settings(max_examples=50)
def test_turn_is_the_angle_between_two_directions_in_space(a: float, b: float, phi: float) -> None:
    x, row = 6.0 * np.arange(3.0), np.zeros(3, dtype=np.int64)
    chain = solve_chain(Supports(x, np.array([0.0, 6.0 * a, 6.0 * (a + b)]), row), Wire(1e-7, EA), 1000.0)
    first, second = np.array([1.0, 0.0, a]), np.array([np.cos(phi), np.sin(phi), b])
    cross = np.linalg.norm(np.cross(first, second))
    assert clip_turns(chain, np.array([0.0, phi, 0.0]))[1] == pytest.approx(np.arctan2(cross, first @ second), abs=1e-7)


def test_a_level_row_loses_its_weight_times_mu() -> None:
    # Each clip carries w l: the loss is mu w l, whatever the tension. 15 clips of 6 m.
    x, row = 6.0 * np.arange(17.0), np.zeros(17, dtype=np.int64)
    tension = tension_with_friction(solve_chain(Supports(x, np.zeros(17), row), WIRE, 300.0), 0.3)
    assert 300.0 - tension.far_n[-1] == pytest.approx(0.3 * WEIGHT * 6.0 * 15, rel=0.02)


def test_shares_of_the_three_ways() -> None:
    x = 6.0 * np.arange(41.0)
    z, row = 0.8 * np.sin(x / 9.0), np.zeros(41, dtype=np.int64)
    chain = _chain(x, z, row)
    told = strain_advice(chain, 0.25, 0.9)
    whole = np.nansum(clip_turns(chain))
    assert told.one_end_share[0] == pytest.approx(np.exp(-0.25 * whole), rel=0.01)
    assert told.far_end_n[0] == tension_with_friction(chain, 0.25).far_n[-1] < 400.0
    assert 15 < told.middle_support[0] < 25
    # The share that straining from both ends keeps is where the advice turns.
    both = np.exp(-0.125 * whole)
    for least, advice in ((0.98 * both, 1), (1.02 * both, 2)):
        assert strain_advice(chain, 0.25, least).advice[0] == advice


@pytest.mark.parametrize(("least", "advice"), [(0.4, 0), (0.75, 1), (0.87, 2), (0.99, 2)])
def test_the_first_way_that_keeps_enough_is_advised(least: float, advice: int) -> None:
    x = 6.0 * np.arange(41.0)
    z, row = 0.8 * np.sin(x / 9.0), np.zeros(41, dtype=np.int64)
    told = strain_advice(_chain(x, z, row), 0.25, least)
    assert ADVICE[told.advice[0]] == ("one end", "both ends", "middle")[advice], told


def test_advice_for_many_rows_is_that_for_each() -> None:
    x, z, row = _rows(5)
    chain = _chain(x, z, row)
    told = strain_advice(chain, np.array([0.1, 0.2, 0.3, 0.4]), 0.85)
    for k, number in enumerate(np.unique(row)):
        at = row == number
        alone = strain_advice(_chain(x[at], z[at], row[at]), 0.1 * (k + 1), 0.85)
        assert told.advice[k] == alone.advice[0]
        for name in ("one_end_share", "far_end_n"):
            assert getattr(told, name)[k] == pytest.approx(getattr(alone, name)[0], rel=1e-12)
        assert told.middle_support[k] == np.flatnonzero(at)[0] + alone.middle_support[0]


@pytest.mark.parametrize("seed", [5, 6, 7])
def test_straining_at_both_ends_leaves_the_greater_of_two(seed: int) -> None:
    x, z, row = _rows(seed, (9, 14, 31, 17, 20))
    chain = _chain(x, z, row)
    first = tension_with_friction(chain, 0.3)
    then = tension_with_friction(chain, 0.3, from_far_end=True)
    lower = np.minimum(np.maximum(first.near_n, then.near_n), np.maximum(first.far_n, then.far_n))
    share = lower / chain.support_tension_n
    least = np.array([share[row == number].min() for number in np.unique(row)])
    np.testing.assert_array_equal(share[strain_advice(chain, 0.3, 0.8).middle_support], least)
    # The advice turns at the least share that both ends leave, row by row.
    for k in range(5):
        assert strain_advice(chain, 0.3, float(least[k])).advice[k] < 2
        assert strain_advice(chain, 0.3, float(least[k]) + 1e-12).advice[k] == 2


def test_a_row_without_a_height_says_nothing_and_harms_none() -> None:
    x, z, row = _rows()
    whole = strain_advice(_chain(x, z, row), 0.3, 0.8)
    z[4] = np.nan
    chain = _chain(x, z, row)
    told = strain_advice(chain, 0.3, 0.8)
    assert (told.advice[0], told.middle_support[0]) == (-1, -1)
    assert np.isnan([told.one_end_share[0], told.far_end_n[0]]).all()
    np.testing.assert_array_equal(told.one_end_share[1:], whole.one_end_share[1:])
    np.testing.assert_array_equal(told.middle_support[1:], whole.middle_support[1:])
    tension = tension_with_friction(chain, 0.3)
    assert np.isnan(tension.near_n[:9]).all()
    assert np.isfinite(tension.near_n[9:]).all()


def test_no_rows_at_all() -> None:
    none: FloatArray = np.empty(0)
    row = np.empty(0, dtype=np.int64)
    chain = solve_chain(Supports(none, none, row), WIRE, 300.0)
    assert tension_with_friction(chain, 0.3).far_n.size == 0
    assert strain_advice(chain, 0.3, 0.8).advice.size == 0


def test_refusals() -> None:
    x, z, row = _rows()
    chain = _chain(x, z, row)
    with pytest.raises(MechanicsError, match="mu must be 0 or more"):
        tension_with_friction(chain, -0.1)
    with pytest.raises(MechanicsError, match="mu must be one number or one for each of 4 rows"):
        tension_with_friction(chain, np.array([0.1, 0.2]))
    with pytest.raises(MechanicsError, match="within half a circle, but is 4 at index 0"):
        clip_turns(chain, 4.0)
    with pytest.raises(MechanicsError, match=r"least_share must be from 0 to 1, but is 1\.5"):
        strain_advice(chain, 0.1, 1.5)
    with pytest.raises(MechanicsError, match="turn_rad must be 0 or more"):
        capstan_factor(0.1, -1.0)
