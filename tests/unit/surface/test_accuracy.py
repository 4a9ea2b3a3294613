"""What is said of a survey's accuracy follows from check points, and from what is assumed where there are none."""

import math

import numpy as np
import pytest
from numpy.typing import NDArray
from wirerun.settings import SurveySettings
from wirerun.surface.accuracy import Accuracy, accuracy_of, against, feet_among_metres, likely_another_height_system

TOLD = SurveySettings(noise_m=0.03, grass_m=0.04)
#: Points that are exact, ground that the filter follows, and no slow errors: the plain textbook case.
EXACT = SurveySettings(
    noise_m=0.03, grass_m=0.04, long_m=0.0, check_points_accuracy_m=0.0, unseen_m=0.0, correlation_m=3.0
)


def scattered(count: int, over_m: float = 2000.0) -> NDArray[np.float64]:
    return np.random.default_rng(9).uniform(0.0, over_m, (count, 2))


def said(off_m: NDArray[np.float64], told: SurveySettings = TOLD) -> Accuracy:
    return accuracy_of(off_m, scattered(len(off_m)), told)


def test_without_check_points_the_assumptions_count() -> None:
    made = said(np.zeros(0))
    assert made.accuracy_m == pytest.approx(0.05)
    assert made.slow_m == 0.03
    assert made.checked is None
    assert made.assumed[0].startswith("no check points")
    assert made.correlation_m == 3.0
    assert said(np.array([0.1])).accuracy_m == pytest.approx(0.05)


def test_statistics_by_hand() -> None:
    """Differences 1, 3, 5 and 7 cm: mean 4, mean square 21, spread sqrt(20/3)."""
    checked = against(np.array([0.01, 0.03, 0.05, 0.07]), 0.0)
    assert checked is not None
    assert checked.points == 4
    assert checked.bias_m == pytest.approx(0.04)
    assert checked.rmse_m == pytest.approx(math.sqrt(21.0) / 100.0)
    assert checked.le90_m == pytest.approx(1.6449 * math.sqrt(21.0) / 100.0)
    assert checked.spread_m == pytest.approx(math.sqrt(20.0 / 3.0) / 100.0)


def test_two_points_have_a_spread_and_one_has_none() -> None:
    """0.1 m above and 0.1 m below: sqrt(2 x 0.1^2 / 1), of which errors of 0.1 m of their own leave 0.1 m."""
    checked = against(np.array([0.1, -0.1]), 0.1)
    assert checked is not None
    assert (checked.points, checked.rmse_m, checked.spread_m) == pytest.approx((2, 0.1, 0.1))
    alone = against(np.array([0.1]), 0.1)
    assert alone is not None
    assert np.isnan(alone.spread_m)


def test_exact_points_far_apart_without_slow_errors() -> None:
    """The conjugate case by hand: (5 prior^2 + (n - 1) s^2)/(n + 4), prior 5 cm."""
    off = np.random.default_rng(4).normal(0.0, 0.08, 12)
    by_hand = math.sqrt((5 * 0.05**2 + 11 * off.var(ddof=1)) / 16)
    made = accuracy_of(off, scattered(12, 100_000.0), EXACT)
    assert made.accuracy_m == pytest.approx(by_hand, rel=1e-3)


def test_a_bias_is_no_error_from_place_to_place() -> None:
    off = np.random.default_rng(1).normal(0.0, 0.03, 200)
    here, lifted = (said(off + by) for by in (0.0, 0.4))
    assert lifted.accuracy_m == pytest.approx(here.accuracy_m)
    assert lifted.checked is not None
    assert lifted.checked.bias_m == pytest.approx(0.4, abs=0.01)


def test_few_points_move_little_and_many_decide() -> None:
    rng = np.random.default_rng(2)
    few, many = (accuracy_of(rng.normal(0.0, 0.1, n), scattered(n), EXACT).accuracy_m for n in (3, 500))
    assert 0.035 < few < 0.085
    assert many == pytest.approx(0.1, abs=0.01)


def test_slow_errors_are_told_apart_by_points_close_together() -> None:
    """Waves of 5 cm over 130 m, and 2 cm from place to place: pairs of points 6 m apart differ by the latter alone."""
    rng = np.random.default_rng(6)
    pairs = rng.uniform(0.0, 400.0, (40, 2))
    at = np.concatenate([pairs, pairs + np.array([6.0, 0.0])])
    slow = 0.05 * math.sqrt(2.0) * np.sin(2.0 * np.pi * (0.8 * at[:, 0] + 0.6 * at[:, 1]) / 130.0)
    off = slow + rng.normal(0.0, 0.02, len(at))
    told = SurveySettings(noise_m=0.03, grass_m=0.03, check_points_accuracy_m=0.0, unseen_m=0.0)
    made = accuracy_of(off, at, told)
    assert made.checked is not None
    assert made.checked.spread_m > 0.05
    assert made.accuracy_m == pytest.approx(0.02, abs=0.008)
    assert made.slow_m == pytest.approx(0.05, abs=0.015)


def test_what_is_no_noise_of_the_ground_is_taken_out() -> None:
    """Points good to 3 cm over ground good to 1 cm; and ground of 3 cm that the filter smooths away."""
    off = np.random.default_rng(3).normal(0.0, math.hypot(0.03, 0.01), 400)
    little = EXACT.model_copy(update={"noise_m": 0.02, "grass_m": 0.0})
    assert said(off, little).accuracy_m > 0.028
    for other in ({"check_points_accuracy_m": 0.03}, {"unseen_m": 0.03}):
        assert said(off, little.model_copy(update=other)).accuracy_m < 0.018


def test_points_of_their_own_error_do_not_make_the_ground_perfect() -> None:
    checked = against(np.random.default_rng(3).normal(0.0, 0.02, 400), 0.02)
    assert checked is not None
    assert checked.spread_m == pytest.approx(0.01, abs=0.002)


def test_another_height_system() -> None:
    assert likely_another_height_system(np.array([53.1, 53.2, 53.15]))
    assert not likely_another_height_system(np.array([0.1, 0.2, 0.1]))
    assert not likely_another_height_system(np.array([53.1, 3.2, -8.0]))


def test_feet_among_metres_are_told_by_their_ratio() -> None:
    """International foot: EPSG unit 9002, 0.3048 m."""
    points = np.array([201.3, 207.9, 214.0])
    near = np.array([0.03, -0.02, 0.01])
    assert feet_among_metres(points / 0.3048 + near, points) == pytest.approx(3.281, abs=0.002)
    assert feet_among_metres(points * 0.3048 + near, points) == pytest.approx(0.305, abs=0.002)
    assert feet_among_metres(points + near, points) is None
    assert feet_among_metres(points + 52.3, points) is None
    assert feet_among_metres((points / 0.3048)[:1], points[:1]) is None
    assert feet_among_metres(np.array([9.0, 3.2]) / 0.3048, np.array([9.0, 3.2])) is None
