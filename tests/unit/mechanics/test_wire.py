"""A round wire, and what is refused."""

import numpy as np
import pytest
from wirerun.errors import MechanicsError
from wirerun.mechanics.wire import axial_stiffness, coil_length, weight_per_m


def test_worked_examples_of_the_docstrings() -> None:
    # By hand: area of 2.5 mm is 4.908739 mm2; x 7850 kg/m3 x 9.80665 m/s2 and x 200 GPa.
    assert weight_per_m(2.5) == pytest.approx(4.908739e-6 * 7850.0 * 9.80665, rel=1e-6)
    assert axial_stiffness(2.5) == pytest.approx(4.908739e-6 * 200e9, rel=1e-6)


def test_arrays_broadcast_and_density_counts() -> None:
    weights = weight_per_m(np.array([2.0, 4.0]), np.array([[7850.0], [2700.0]]))
    assert weights.shape == (2, 2)
    assert weights[0, 1] / weights[0, 0] == pytest.approx(4.0)
    assert weights[1, 0] / weights[0, 0] == pytest.approx(2700.0 / 7850.0)


def test_coil_weighs_what_its_length_weighs() -> None:
    assert coil_length(25.0, 3.15) * weight_per_m(3.15) == pytest.approx(25.0 * 9.80665)


@pytest.mark.parametrize("bad", [0.0, -2.5, float("nan"), float("inf")])
def test_impossible_diameters_are_named(bad: float) -> None:
    with pytest.raises(MechanicsError, match=r"diameter_mm must be above 0 and finite, but is .* at index 1"):
        weight_per_m(np.array([2.5, bad]))
    with pytest.raises(MechanicsError, match="diameter_mm must be above 0 and finite, but is"):
        axial_stiffness(bad)
    with pytest.raises(MechanicsError, match="coil_kg"):
        coil_length(bad, 2.5)
