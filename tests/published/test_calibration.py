"""Friction from readings: a published loss along a tendon, and the textbook error of a slope, by hand and simulated."""

import numpy as np
import pytest
from wirerun.mechanics.calibrate import FROM_START, Readings, Strings, fit_readings
from wirerun.mechanics.friction import capstan_factor
from wirerun.mechanics.supports import Supports
from wirerun.mechanics.wire import Wire


def test_loss_along_a_parabolic_tendon() -> None:
    # Course SAB 4323, example 4.3, as the tests of the open-source program xc have it: 20 m, drape 0.558 m, mu 0.25,
    # wobble 0.0017 per metre, 1239 N/mm2 on 2850 mm2: 3214.8 kN at the far end, by the linear loss. Theta is
    # 8 * 0.558 / 20, and the wobble acts as theta growing with length. exp(-x) is above 1 - x by x^2 / 2 = 0.4 %.
    jacked_kn = 1239.0 * 2850.0 / 1000.0
    turn = 8.0 * 0.558 / 20.0 + 0.0017 * 20.0 / 0.25
    assert jacked_kn * (1.0 - 0.25 * turn) == pytest.approx(3214.8, abs=1.0)
    assert jacked_kn * float(capstan_factor(0.25, turn)) == pytest.approx(3214.8, rel=0.005)


def test_one_row_with_five_readings_tells_friction_to_thirty_per_cent_only() -> None:
    # The error of a slope: sd(mu) = s / (sqrt(n) sd(theta)), any textbook of statistics. 27 posts that turn by 0.02 rad
    # each, five readings of 3 % at even distances: theta 0, 0.135 ... 0.54, sd 0.191: by hand 0.03 / (2.236 * 0.191) =
    # 0.070. Of a mu of 0.25 that is 28 %.
    count, step = 29, 0.02
    slope = step * 0.5 * np.where(np.arange(count - 1) % 2 == 0, 1.0, -1.0)
    z = np.asarray(np.concatenate([[0.0], np.cumsum(6.0 * slope)]), dtype=np.float64)
    supports = Supports(6.0 * np.arange(count, dtype=np.float64), z, np.zeros(count, dtype=np.int64))
    # As good as weightless, so that nothing but the posts turns it.
    wire = Wire(np.array([1e-6]), np.array([981_748.0]))
    one = np.ones(1)
    strings = Strings(supports, wire, np.zeros(count), 300.0 * one, 15.0 * one, np.array([FROM_START]), 0.0 * one)
    span = np.array([0, 7, 14, 21, 27])
    turn = strings.turn_rad[span]
    assert turn[-1] == pytest.approx(27 * step, rel=1e-3)
    by_hand = 0.03 / (np.sqrt(5.0) * turn.std())
    assert by_hand == pytest.approx(0.070, abs=0.001)
    found = []
    for seed in range(60):
        noise = 1.0 + 0.03 * np.random.default_rng(seed).normal(size=5)
        pulls = 300.0 * np.exp(-0.25 * turn) * noise
        fit = fit_readings(strings, Readings(span, pulls, np.full(5, 15.0)), 0.03, 0.2, 0.0)
        found.append((fit.mu, fit.mu_sd / max(1.0, fit.scatter)))
    mu, stated = np.array(found).T
    assert stated == pytest.approx(by_hand, rel=1e-3)
    assert mu.std() == pytest.approx(by_hand, rel=0.25)
    assert mu.mean() == pytest.approx(0.25, abs=0.03)
