"""Fasteners in timber: worked examples, shapes, how each input counts, and what is refused."""

from collections.abc import Callable

import numpy as np
import pytest
from wirerun.errors import MechanicsError
from wirerun.mechanics import FloatArray
from wirerun.mechanics.timber import nail_withdrawal, screw_withdrawal, smooth_nail_strength

Withdrawal = Callable[[FloatArray, FloatArray, FloatArray], FloatArray]


def test_worked_examples_of_the_docstrings() -> None:
    # By hand: 0.45^2 = 0.2025, its root of G 0.6708204.
    assert nail_withdrawal(0.45, 3.1, 50.0) == pytest.approx(54.12 * 0.2025 * 0.6708204 * 155.0, rel=1e-6)
    assert nail_withdrawal(0.45, 3.1, 50.0) == pytest.approx(1140.0, abs=5.0)
    assert screw_withdrawal(0.45, 5.0, 40.0) == pytest.approx(4384.1, abs=0.1)


@pytest.mark.parametrize(("withdrawal", "exponent"), [(nail_withdrawal, 2.5), (screw_withdrawal, 2.0)])
def test_arrays_broadcast_and_each_input_counts(withdrawal: Withdrawal, exponent: float) -> None:
    gravity, diameter, length = np.array([0.3, 0.6]), np.array([[2.0], [3.0], [6.0]]), np.array([[[30.0]], [[75.0]]])
    load = withdrawal(gravity, diameter, length)
    assert load.shape == (2, 3, 2)
    np.testing.assert_allclose(load[..., 1] / load[..., 0], 2.0**exponent, rtol=1e-12)
    np.testing.assert_allclose(load[:, 2] / load[:, 0], 3.0, rtol=1e-12)
    np.testing.assert_allclose(load[1] / load[0], 2.5, rtol=1e-12)


@pytest.mark.parametrize(
    ("withdrawal", "length_name"), [(nail_withdrawal, "penetration_mm"), (screw_withdrawal, "thread_in_mm")]
)
@pytest.mark.parametrize("bad", [0.0, -0.4, float("nan"), float("inf")])
def test_impossible_inputs_are_named(withdrawal: Withdrawal, length_name: str, bad: float) -> None:
    good = np.array([0.4, 0.5, 0.6])
    wrong = np.array([0.4, bad, bad])
    for place, name in enumerate(("specific_gravity", "diameter_mm", length_name)):
        inputs = [good, good, good]
        inputs[place] = wrong
        with pytest.raises(MechanicsError, match=rf"{name} must be above 0 and finite, but is {bad:g} at index 1\."):
            withdrawal(*inputs)


@pytest.mark.parametrize("bad", [0.0, -350.0, float("nan"), float("inf")])
def test_impossible_densities_are_named(bad: float) -> None:
    with pytest.raises(MechanicsError, match=rf"density_kg_m3 must be above 0 and finite, but is {bad:g}\."):
        smooth_nail_strength(bad)


def test_strength_keeps_the_shape() -> None:
    strength = smooth_nail_strength(np.array([[300.0, 600.0]]))
    assert strength.shape == (1, 2)
    assert strength[0, 1] / strength[0, 0] == pytest.approx(4.0)
