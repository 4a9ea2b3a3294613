"""What is said of a survey's accuracy follows from check points, and from what is assumed where there are none."""

import math

import numpy as np
import pytest
from wirerun.settings import SurveySettings
from wirerun.surface.accuracy import accuracy_of, against, likely_another_height_system

TOLD = SurveySettings(noise_m=0.03, grass_m=0.04)


def test_without_check_points_the_assumptions_count() -> None:
    made = accuracy_of(np.zeros(0), TOLD)
    assert made.accuracy_m == pytest.approx(0.05)
    assert made.checked is None
    assert made.assumed[0].startswith("no check points")
    assert made.correlation_m == 3.0


def test_statistics_by_hand() -> None:
    """Differences 1, 3, 5 and 7 cm: mean 4, mean square 21, spread sqrt(20/3)."""
    checked = against(np.array([0.01, 0.03, 0.05, 0.07]), 0.0)
    assert checked is not None
    assert checked.points == 4
    assert checked.bias_m == pytest.approx(0.04)
    assert checked.rmse_m == pytest.approx(math.sqrt(21.0) / 100.0)
    assert checked.le90_m == pytest.approx(1.6449 * math.sqrt(21.0) / 100.0)
    assert checked.spread_m == pytest.approx(math.sqrt(20.0 / 3.0) / 100.0)


def test_a_bias_is_no_error_from_place_to_place() -> None:
    off = np.random.default_rng(1).normal(0.0, 0.03, 200)
    here, lifted = (accuracy_of(off + by, TOLD) for by in (0.0, 0.4))
    assert lifted.accuracy_m == pytest.approx(here.accuracy_m)
    assert lifted.checked is not None
    assert lifted.checked.bias_m == pytest.approx(0.4, abs=0.01)


def test_few_points_move_little_and_many_decide() -> None:
    rng = np.random.default_rng(2)
    few, many = (accuracy_of(rng.normal(0.0, 0.1, count), TOLD).accuracy_m for count in (3, 500))
    assert 0.035 < few < 0.085
    assert many == pytest.approx(0.1, abs=0.01)


def test_points_of_their_own_error_do_not_make_the_ground_perfect() -> None:
    checked = against(np.random.default_rng(3).normal(0.0, 0.02, 400), 0.02)
    assert checked is not None
    assert checked.spread_m == pytest.approx(0.01, abs=0.002)


def test_another_height_system() -> None:
    assert likely_another_height_system(np.array([53.1, 53.2, 53.15]))
    assert not likely_another_height_system(np.array([0.1, 0.2, 0.1]))
    assert not likely_another_height_system(np.array([53.1, 3.2, -8.0]))
