"""Published figures for fasteners in timber, each with its source beside it."""

import numpy as np
import pytest
from wirerun.mechanics.timber import nail_withdrawal, screw_withdrawal, smooth_nail_strength

INCH_MM = 25.4
POUND_N = 4.4482216152605
PSI = POUND_N / INCH_MM**2  # [N/mm2]
# US design rules against the Wood Handbook's mean ultimate load at the same number for the specific gravity:
# 1380 G^2.5 D lb/in for nails, 2850 G^2 D for screws; 7850 and 15 700 psi.
NAIL_SHARE = 1380.0 / 7850.0
SCREW_SHARE = 2850.0 / 15700.0


def test_coefficients_in_either_unit() -> None:
    # USDA Wood Handbook, chapter 8: 54.12 N/mm2 = 7850 psi, 108.25 N/mm2 = 15 700 psi (read at second hand).
    assert nail_withdrawal(1.0, 1.0, 1.0) == pytest.approx(7850.0 * PSI, abs=0.01)
    assert screw_withdrawal(1.0, 1.0, 1.0) == pytest.approx(15700.0 * PSI, abs=0.01)


def test_nail_of_the_worked_design() -> None:
    # American Wood Council, Solved Example Problems, E2.1a: D 0.131 in, G 0.42, 2.395 in deep: 3619.313 N/m and
    # 220.17 N, before any adjustment. This is a design value: 1380/7850 of the mean ultimate load.
    diameter = 0.131 * INCH_MM
    assert NAIL_SHARE * nail_withdrawal(0.42, diameter, 1000.0) == pytest.approx(3619.313, rel=1e-4)
    assert NAIL_SHARE * nail_withdrawal(0.42, diameter, 2.395 * INCH_MM) == pytest.approx(220.17, rel=1e-4)
    # Without the rounding of our coefficient, all digits printed but for the pound: 4.44822 N gives them all.
    exact = 1380.0 * PSI / nail_withdrawal(1.0, 1.0, 1.0)
    assert exact * nail_withdrawal(0.42, diameter, 1000.0) == pytest.approx(3619.313, rel=5e-7)


def test_allowable_loads_of_metric_nails() -> None:
    # The Engineering ToolBox, "Nails and Spikes - Withdrawal Force": allowable loads by 1380 G^2.5 D per inch, G 0.5,
    # for the nail's whole length in the wood, three digits: 135 stands for 134.6.
    diameter, length = np.array([1.2, 2.0, 2.5, 3.1, 4.2]), np.array([20.0, 40.0, 60.0, 80.0, 100.0])
    allowable = NAIL_SHARE * nail_withdrawal(0.5, diameter, length)
    np.testing.assert_allclose(allowable, [40.4, 135.0, 252.0, 417.0, 707.0], rtol=0.0035)


@pytest.mark.parametrize(
    ("specific_gravity", "printed"), [(0.51, 0.186), (0.59, 0.267), (0.44, 0.128), (0.42, 0.114), (0.41, 0.108)]
)
def test_power_of_the_specific_gravity(specific_gravity: float, printed: float) -> None:
    # T. G. Hicks, Civil Engineering Formulas, table 6.2: G^(5/2).
    power = nail_withdrawal(specific_gravity, 1.0, 1.0) / nail_withdrawal(1.0, 1.0, 1.0)
    assert power == pytest.approx(printed, abs=0.0006)


@pytest.mark.parametrize("basic", [0.35, 0.40, 0.45, 0.50])
def test_two_kinds_of_specific_gravity_give_one_load(basic: float) -> None:
    # USDA Forest Products Laboratory, Technical Note 236, 1958, and Research Note FPL-093, 1965: 6900 G^2.5 psi with
    # the oven-dry volume. From green volume to 12 % and to oven-dry: G = Gb/(1 - 0.265 a Gb), a the share of 30 %
    # moisture that is lost (Wood Handbook, chapter 4; as a calculator of wood's density has it, with a = (30 - M)/30).
    at_twelve, oven_dry = (basic / (1.0 - 0.265 * lost * basic) for lost in (0.6, 1.0))
    assert nail_withdrawal(at_twelve, 3.0, 50.0) == pytest.approx(6900.0 * PSI * oven_dry**2.5 * 150.0, rel=0.04)


def test_wood_screws() -> None:
    # The Engineering ToolBox, "Wood Screws - Withdrawal Force": allowable 2850 G^2 D per inch; G 0.45, D 0.190 in:
    # 109 lb (109.65 cut off).
    allowable = SCREW_SHARE * screw_withdrawal(0.45, 0.190 * INCH_MM, INCH_MM) / POUND_N
    assert allowable == pytest.approx(109.65, abs=0.05)
    # kerfworks.org, wood screw withdrawal by the Wood Handbook: 0.164 in, 1 in of thread, G 0.70: 1262 lb ultimate.
    assert screw_withdrawal(0.70, 0.164 * INCH_MM, INCH_MM) / POUND_N == pytest.approx(1262.0, abs=0.5)


@pytest.mark.parametrize(("density", "strength"), [(350.0, 2.450), (320.0, 2.048)])
def test_characteristic_strength_of_smooth_nails(density: float, strength: float) -> None:
    # Eurocode 5, 8.3.2 (quoted): f_ax,k = 20e-6 rho^2; densities of strength classes C24 and C18 (EN 338).
    assert smooth_nail_strength(density) == pytest.approx(strength, abs=1e-12)
