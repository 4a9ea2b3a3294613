"""A wire's settings as mechanics knows it: every one of them counts."""

import math

import pytest
from wirerun.rules.wire import wire_of
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
