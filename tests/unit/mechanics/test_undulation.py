"""Crests, hollows, and how sure a clip's load is."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad
from wirerun.errors import MechanicsError
from wirerun.mechanics import FloatArray
from wirerun.mechanics.chain import solve_chain
from wirerun.mechanics.supports import Supports
from wirerun.mechanics.undulation import (
    grade_changes,
    height_covariance,
    lifting_dip,
    load_sensitivity,
    load_sigma,
    need_probability,
    taut_clip_load,
)
from wirerun.mechanics.wire import Wire, axial_stiffness, weight_per_m

WIRE = Wire.from_diameter(2.5)
WEIGHT = float(weight_per_m(2.5))
STIFFNESS = float(axial_stiffness(2.5))
ONE_ROW = np.zeros(3, dtype=np.int64)


def test_grade_changes_of_a_hollow_a_crest_and_a_gap() -> None:
    x = np.array([0.0, 6.0, 12.0, 0.0, 5.0, 15.0, 20.0, 25.0, 30.0])
    z = np.array([0.3, 0.0, 0.5, 0.0, 0.5, 0.0, np.nan, 1.0, 2.0])
    row = np.array([1, 1, 1, 4, 4, 4, 4, 4, 4])
    changes = grade_changes(Supports(x, z, row))
    # By hand: 0.5/6 + 0.3/6, and -0.5/10 - 0.5/5.
    np.testing.assert_allclose(changes[[1, 4]], [0.8 / 6.0, -0.15], rtol=1e-12)
    assert np.isnan(changes[[0, 2, 3, 5, 6, 7, 8]]).all()


@settings(max_examples=40, deadline=None)
@given(slope=st.floats(-2.0, 2.0), level=st.floats(-100.0, 3000.0), seed=st.integers(0, 1000))
def test_a_plane_has_no_grade_change(slope: float, level: float, seed: int) -> None:
    x = np.cumsum(np.random.default_rng(seed).uniform(2.0, 9.0, 40))
    row = np.repeat([0, 1], 20)
    changes = grade_changes(Supports(x, level + slope * x, row))
    assert np.abs(changes[np.isfinite(changes)]).max() < 1e-12
    assert np.isfinite(changes).sum() == 36


def test_taut_clip_load_worked_examples() -> None:
    x = np.array([0.0, 6.0, 12.0])
    hollow = taut_clip_load(Supports(x, np.array([0.3, 0.0, 0.5]), ONE_ROW), WIRE, 1000.0)
    crest = taut_clip_load(Supports(x, np.array([0.0, 0.3, 0.0]), ONE_ROW), WIRE, 1000.0)
    # By hand: sines 0.0499376 and 0.0830455, cosines 0.998752 and 0.996546, 0.377886 N/m.
    assert hollow[1] == pytest.approx(-1000.0 * 0.1329831 + 0.377886 * 3.0 * 1.995298, abs=1e-3)
    assert crest[1] == pytest.approx(2000.0 * 0.0499376 + 0.377886 * 6.0 * 0.998752, abs=1e-3)
    assert hollow[1] == pytest.approx(-130.7, abs=0.05)
    assert crest[1] == pytest.approx(102.1, abs=0.05)
    assert np.isnan(crest[[0, 2]]).all()


def test_taut_clip_load_agrees_with_the_catenary_where_it_should() -> None:
    rng = np.random.default_rng(5)
    x = np.cumsum(rng.uniform(4.0, 7.0, 200))
    z = 0.4 * x + rng.normal(0.0, 0.2, 200)
    row = np.zeros(200, dtype=np.int64)
    chain = solve_chain(Supports(x, z, row), WIRE, 400.0)
    closed = taut_clip_load(Supports(x, z, row), WIRE, chain.support_tension_n)
    assert np.abs(chain.clip_load_n - closed)[1:-1].max() < 0.005
    assert np.abs(chain.clip_load_n)[1:-1].max() > 20.0


def test_a_clip_in_that_dip_pulls_up_by_what_it_holds_in_the_exact_chain() -> None:
    """Three clips, the middle one so far below the line of its neighbours, level and on a slope."""
    spans, tensions = np.array([4.0, 6.0, 7.5]), np.array([250.0, 534.0, 1370.0])
    for span, tension in zip(spans, tensions, strict=True):
        for hold in (0.0, 5.0, 20.0):
            dip = float(lifting_dip(span, tension, float(WIRE.weight_n_per_m), hold))
            for slope in (0.0, 0.2):
                x = np.array([0.0, span, 2.0 * span]) / math.hypot(1.0, slope)
                z = slope * x - np.array([0.0, dip, 0.0])
                chain = solve_chain(Supports(x, z, np.zeros(3, dtype=np.int64)), WIRE, tension)
                assert chain.clip_load_n[1] == pytest.approx(-hold, abs=0.05 * hold + 0.1)  # by the cosine of the slope
    # A stiffer pull lifts out of a shallower dip.
    assert (np.diff(lifting_dip(6.0, tensions, 0.4, 5.0)) < 0.0).all()
    with pytest.raises(MechanicsError, match="Dip: span_m must be above 0"):
        lifting_dip(0.0, 300.0, 0.4, 5.0)


def test_sensitivity_against_differences_of_the_exact_chain() -> None:
    rng = np.random.default_rng(6)
    x = np.cumsum(rng.uniform(4.0, 7.0, 30))
    z = 0.5 * x + rng.normal(0.0, 0.3, 30)
    row = np.repeat([0, 1, 2], 10)

    def load(heights: FloatArray) -> FloatArray:
        return solve_chain(Supports(x, heights, row), WIRE, 300.0).clip_load_n

    tension = solve_chain(Supports(x, z, row), WIRE, 300.0).support_tension_n
    sensitivity = load_sensitivity(Supports(x, z, row), tension)
    inner = np.flatnonzero(np.isfinite(sensitivity[:, 0]))
    assert inner.size == 24
    for i in inner:
        for column, neighbour in enumerate((i - 1, i, i + 1)):
            bump = np.zeros(30)
            bump[neighbour] = 1e-4
            slope = (load(z + bump)[i] - load(z - bump)[i]) / 2e-4
            # What is left out is the weight of the wire: at most about w = 0.4 N/m in 50.
            assert sensitivity[i, column] == pytest.approx(slope, abs=0.5)
    np.testing.assert_allclose(sensitivity[inner].sum(axis=1), 0.0, atol=1e-10)


def test_sensitivity_worked_example() -> None:
    level = load_sensitivity(Supports(np.array([0.0, 6.0, 12.0]), np.zeros(3), ONE_ROW), 300.0)
    np.testing.assert_allclose(level[1], [-50.0, 100.0, -50.0], rtol=1e-12)
    steep = load_sensitivity(Supports(np.array([0.0, 6.0, 12.0]), np.array([0.0, 6.0, 12.0]), ONE_ROW), 300.0)
    np.testing.assert_allclose(steep[1], np.array([-50.0, 100.0, -50.0]) * 0.5**1.5, rtol=1e-12)


@pytest.mark.parametrize("distance", [0.0, 0.02, 0.7, 1.0, 1.3, 6.0])
@pytest.mark.parametrize("smoothing", [1e-3, 0.3, 1.0, 8.0])
def test_covariance_against_the_integral_over_two_windows(distance: float, smoothing: float) -> None:
    # The mean over two windows is the mean over their difference u with a triangular weight.
    def weighed(u: float) -> float:
        return (1.0 - abs(u) / smoothing) / smoothing * math.exp(-3.0 * abs(distance + u) / 4.0)

    kinks = [0.0] + ([-distance] if distance < smoothing else [])
    exact, _ = quad(weighed, -smoothing, smoothing, points=kinks, epsabs=1e-13, epsrel=1e-12)
    ours = height_covariance(distance, 0.03, 4.0, smoothing)
    assert ours == pytest.approx(0.03**2 * exact, rel=1e-10)


def test_covariance_limits() -> None:
    distance = np.array([0.0, 0.5, 3.0, -3.0, 50.0])
    plain = 0.05**2 * np.exp(-np.abs(distance))
    np.testing.assert_allclose(height_covariance(distance, 0.05, 3.0, 0.0), plain, rtol=1e-14)
    # At the range, 5 % is left: exp(-3).
    assert plain[2] / plain[0] == pytest.approx(0.05, abs=3e-4)
    for short in (1e-12, 1e-8, 1e-4):
        smoothed = height_covariance(distance, 0.05, 3.0, short)
        np.testing.assert_allclose(smoothed, plain, rtol=2.0 * short + 1e-14)
    # Without correlation, and with hardly any: smoothing takes nothing, and nearly all.
    nugget = height_covariance(distance, 0.05, 0.0, 1.0)
    np.testing.assert_array_equal(nugget, [0.05**2, 0.0, 0.0, 0.0, 0.0])
    assert height_covariance(0.0, 0.05, 1e-9, 1.0) < 1e-11
    assert np.isfinite(height_covariance(distance, 0.05, 1e-300, 1.0)).all()
    np.testing.assert_allclose(height_covariance(distance, 0.05, 1e12, 1.0), 0.05**2, rtol=1e-9)


@settings(max_examples=40, deadline=None)
@given(reach=st.floats(0.05, 100.0), smoothing=st.floats(0.0, 10.0), seed=st.integers(0, 1000))
def test_covariances_of_many_heights_fit_together(reach: float, smoothing: float, seed: int) -> None:
    x = np.sort(np.random.default_rng(seed).uniform(0.0, 40.0, 25))
    table = height_covariance(x[:, None] - x[None, :], 1.0, reach, smoothing)
    assert np.linalg.eigvalsh(table).min() > -1e-12
    assert table.max() <= 1.0
    assert table.min() >= 0.0


def test_load_sigma_by_hand() -> None:
    # Uncorrelated: 300/6 N/m x sqrt(1 + 4 + 1) x 0.03 m.
    x = np.array([0.0, 6.0, 12.0])
    sigma = load_sigma(Supports(x, np.zeros(3), ONE_ROW), 300.0, 0.03, 0.0, 1.0)
    assert sigma[1] == pytest.approx(50.0 * math.sqrt(6.0) * 0.03, rel=1e-12)
    assert sigma[1] == pytest.approx(3.67, abs=0.005)
    assert np.isnan(sigma[[0, 2]]).all()
    # Errors that are the same for all three heights move no load: of order sqrt(distance/range).
    assert load_sigma(Supports(x, np.zeros(3), ONE_ROW), 300.0, 0.03, 1e9, 1.0)[1] < 1e-3
    assert load_sigma(Supports(x, np.zeros(3), ONE_ROW), 300.0, 0.0, 3.0, 1.0)[1] == 0.0


def test_load_sigma_of_heights_that_are_less_sure() -> None:
    """Spans of 6 m at 300 N: 100 N/m for the own height, 50 N/m for a neighbour's; independent of all others."""
    x, z = np.array([0.0, 6.0, 12.0]), np.zeros(3)

    def sigma(heights: list[float], accuracy: float = 0.0, smoothing: float = 0.0) -> float:
        return float(load_sigma(Supports(x, z, ONE_ROW), 300.0, accuracy, 3.0, smoothing, np.array(heights))[1])

    assert sigma([np.nan, 0.1, np.nan]) == pytest.approx(10.0, rel=1e-12)
    assert sigma([0.1, np.nan, np.nan]) == sigma([np.nan, np.nan, 0.1]) == pytest.approx(5.0, rel=1e-12)
    assert sigma([0.1, 0.1, 0.1]) == pytest.approx(np.sqrt(25.0 + 100.0 + 25.0), rel=1e-12)
    # Beyond what all heights have: 0.1^2 - 0.03^2 at 100 N/m on top of the common error.
    plain = float(load_sigma(Supports(x, z, ONE_ROW), 300.0, 0.03, 3.0, 0.0)[1])
    assert sigma([np.nan, 0.1, np.nan], 0.03) == pytest.approx(np.hypot(plain, 100.0 * np.sqrt(0.01 - 0.0009)))
    # As sure as the rest, or said to be surer: nothing changes, to the last bit.
    assert sigma([np.nan, 0.03, 0.01], 0.03) == plain
    assert sigma([np.nan] * 3, 0.03) == plain
    # Spans of 5 and 10 m: 60 N/m for the near neighbour's height, 30 N/m for the far one's.
    uneven = np.array([0.0, 5.0, 15.0])
    for heights, newtons in (([0.1, np.nan, np.nan], 6.0), ([np.nan, np.nan, 0.1], 3.0), ([np.nan, 0.1, np.nan], 9.0)):
        found = load_sigma(Supports(uneven, z, ONE_ROW), 300.0, 0.0, 3.0, 0.0, np.array(heights))
        assert found[1] == pytest.approx(newtons, rel=1e-12)
    with pytest.raises(MechanicsError, match="sigma_m"):
        sigma([np.nan, -0.1, np.nan])


def _errors(count: int, stations: FloatArray, accuracy: float, reach: float, smoothing: float) -> FloatArray:
    """Errors of smoothed heights, shape (count, stations), by walking over the ground in small steps.

    A first-order random walk with restoring pull has exactly the exponential correlation; the smoothed
    height is the plain mean of the steps around the station. Nothing is taken from the package.
    """
    rng = np.random.default_rng(7)
    step = 0.05
    half = round(smoothing / step / 2)
    centres = np.rint(stations / step).astype(int) + half
    keep = math.exp(-3.0 * step / reach)
    fresh = rng.normal(0.0, accuracy * math.sqrt(1.0 - keep * keep), (centres.max() + half + 1, count))
    ground = np.empty_like(fresh)
    ground[0] = rng.normal(0.0, accuracy, count)
    for i in range(1, ground.shape[0]):
        ground[i] = keep * ground[i - 1] + fresh[i]
    return np.stack([ground[c - half : c + half + 1].mean(axis=0) for c in centres], axis=1)


@pytest.mark.parametrize(("reach", "smoothing"), [(3.0, 1.0), (12.0, 3.0)])
def test_load_sigma_and_need_probability_by_simulation(reach: float, smoothing: float) -> None:
    count, accuracy, hold = 20_000, 0.03, 5.0
    x, z = np.array([0.0, 5.0, 12.0]), np.array([0.0, -0.06, 0.0])
    row = np.repeat(np.arange(count), 3)
    heights = z + _errors(count, x, accuracy, reach, smoothing)
    loads = solve_chain(Supports(np.tile(x, count), heights.ravel(), row), WIRE, 300.0).clip_load_n[1::3]

    sigma = load_sigma(Supports(x, z, ONE_ROW), 300.0, accuracy, reach, smoothing)
    # 20 000 draws give a standard deviation to 0.5 % (one sigma); the steps of 0.05 m cost about as much.
    assert sigma[1] == pytest.approx(loads.std(), rel=0.025)
    planned = solve_chain(Supports(x, z, ONE_ROW), WIRE, 300.0).clip_load_n
    chance = need_probability(planned, sigma, hold)
    assert 0.1 < chance[1] < 0.9
    assert chance[1] == pytest.approx(np.mean(loads < -hold), abs=0.015)
    assert np.isnan(chance[[0, 2]]).all()


def test_need_probability_of_known_quantiles() -> None:
    # Normal quantiles: 1.6449 for 95 %, 0 for 50 %, and 1 sigma for 84.1345 %.
    chance = need_probability(np.array([-5.0 - 1.6448536 * 4.0, -5.0, -9.0, 100.0]), 4.0, 5.0)
    np.testing.assert_allclose(chance, [0.95, 0.5, 0.8413447, 0.0], atol=1e-7)


def test_need_probability_without_error_is_a_step() -> None:
    chance = need_probability(np.array([-5.1, -5.0, -4.9, np.nan]), np.array([0.0, 0.0, 0.0, 0.0]), 5.0)
    np.testing.assert_array_equal(chance, [1.0, 0.5, 0.0, np.nan])
    np.testing.assert_array_equal(need_probability(-6.0, np.array([0.0, np.nan]), 5.0), [1.0, np.nan])


def test_impossible_errors_are_named() -> None:
    with pytest.raises(MechanicsError, match=r"accuracy_m must be 0 or more and finite, but is -0\.03"):
        height_covariance(1.0, -0.03, 3.0, 1.0)
    with pytest.raises(MechanicsError, match="smoothing_m"):
        height_covariance(1.0, 0.03, 3.0, float("nan"))
    with pytest.raises(MechanicsError, match="sigma_n must be 0 or more and finite, but is -1 at index 1"):
        need_probability(0.0, np.array([1.0, -1.0]), 5.0)
    with pytest.raises(MechanicsError, match="tension_n must be above 0"):
        load_sensitivity(Supports(np.array([0.0, 6.0, 12.0]), np.zeros(3), ONE_ROW), 0.0)
    with pytest.raises(MechanicsError, match="x_m must grow along a row"):
        grade_changes(Supports(np.array([0.0, 6.0, 5.0]), np.zeros(3), ONE_ROW))
