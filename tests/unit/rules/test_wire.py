"""A wire's settings as mechanics knows it: every one of them counts."""

import math

import numpy as np
import pytest
from wirerun.rules.wire import run_out_m, tails_m, wire_of
from wirerun.settings import WireSettings


def test_weight_stiffness_and_expansion_by_hand() -> None:
    # Aluminium, 4 mm: 12.566 mm2.
    settings = WireSettings(
        id="a",
        kind="fixed",
        height_m=0.9,
        diameter_mm=4.0,
        density_kg_m3=2700.0,
        youngs_modulus_gpa=70.0,
        expansion_per_k=23e-6,
    )
    area_m2 = math.pi / 4.0 * 0.004**2
    wire = wire_of(settings)
    assert float(wire.weight_n_per_m) == pytest.approx(2700.0 * 9.80665 * area_m2, rel=1e-12)
    assert float(wire.axial_stiffness_n) == pytest.approx(70e9 * area_m2, rel=1e-12)
    assert float(wire.expansion_per_k) == 23e-6


def test_wire_run_out_has_a_tail_at_either_end_and_the_adjusters() -> None:
    """Two lines of 60.2 m with tails of 0.3 m and an adjuster that takes 0.5 m: 2 (60.2 + 0.6 + 0.5)."""
    wires = (WireSettings(id="lower", kind="foliage", height_m=1.2, lines=2, tail_m=0.3),)
    cut, adjuster = np.array([[60.2, 30.0]]), np.array([[0.5, 0.0]])
    assert tails_m(wires, adjuster)[0] == pytest.approx([1.1, 0.6])
    assert run_out_m(wires, cut, adjuster)[0] == pytest.approx([122.6, 61.2])
