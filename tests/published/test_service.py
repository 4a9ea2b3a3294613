"""Published figures for the trellis in service: loaded wire, wind, fasteners, posts. Each with its source beside it."""

import math

import numpy as np
import pytest
from scipy.optimize import brentq
from wirerun.mechanics.chain import solve_chain, unstretched_totals
from wirerun.mechanics.fastener import embedment, shear_load, used_together, yield_moment
from wirerun.mechanics.post_in_ground import push_by_code, push_in_clay, push_in_sand
from wirerun.mechanics.season import warmed
from wirerun.mechanics.service_loads import Loaded, under_load
from wirerun.mechanics.side_bearing import push_to_bend, push_to_turn
from wirerun.mechanics.supports import Supports
from wirerun.mechanics.wind import SOLID, Mesh, mesh_loss, peak_over_mean, sheet_drag, wind_pressure
from wirerun.mechanics.wire import Wire

POUND_N, FOOT_M, INCH_M = 4.4482216152605, 0.3048, 0.0254
PSI, PSF = POUND_N / INCH_M**2, POUND_N / FOOT_M**2
KIP_N = 1000.0 * POUND_N
# Stretch of this is below the last published digit: the source takes the shape of the wire as it hangs.
STIFF_N = 1e15

# mechaphlowers, sag-tension tests of an earlier version with their fixtures: the conductor of test_season.py, ice of
# 6000 N/m3 on 22.4 mm, g 9.81 m/s2.
RUN_M, RISE_M, AREA_MM2, MODULUS_PA, DIAMETER_M = 480.0, 10.0, 345.55, 59e9, 22.4e-3
WEIGHT = 0.974 * 9.81


def _ice(thick_m: float) -> float:
    return 6000.0 * math.pi * thick_m * (DIAMETER_M + thick_m)


def _leaning(down: float, side: float, length_m: float) -> tuple[float, float]:
    """Horizontal pull in the plane of the load, and mean tension, of the wire of that length as it hangs."""
    supports = Supports(np.array([0.0, RUN_M]), np.array([0.0, RISE_M]), np.zeros(2, dtype=np.int64))
    found = under_load(supports, Wire(WEIGHT, STIFF_N), length_m, down - WEIGHT, side)
    total = math.hypot(down, side)
    cos, sin = down / total, side / total
    run = math.hypot(RUN_M, RISE_M * sin)
    pull = float(found.along_n[0]) * run / RUN_M
    # The force of the wire on a support against the load's direction; at the far one it is the wire's own, turned.
    start, end = (-(float(found.side_n[at]) * sin + float(found.down_n[at]) * cos) for at in (0, 1))
    turned = float(found.tension_n[1]) * -end - float(found.tension_n[0]) * start
    return pull, float(pull * run + turned / total) / (2.0 * length_m)


@pytest.mark.parametrize(
    ("ice_m", "wind_pa", "pull_n", "length_m"),
    [(0.02, 0.0, 42098.907, 481.80145), (0.01, 200.0, 31745.051, 481.55593), (0.06, 0.0, 117951.847, None)],
)
def test_conductor_under_ice_and_wind(ice_m: float, wind_pa: float, pull_n: float, length_m: float | None) -> None:
    # The same tests: T_h 42098.907 N under 20 mm of ice, 31745.051 N under 10 mm and 200 Pa, 117951.847 N under 60 mm;
    # lengths 481.80145 and 481.55593 m. From 15 C and parameter 2000 m, no change of temperature.
    ea = AREA_MM2 * 1e-6 * MODULUS_PA
    down, side = WEIGHT + _ice(ice_m), wind_pa * (DIAMETER_M + 2.0 * ice_m)

    def bare(length: float) -> float:
        return _leaning(WEIGHT, 0.0, length)[0] - 2000.0 * WEIGHT

    as_strung: float = brentq(bare, math.hypot(RUN_M, RISE_M) * 1.0005, math.hypot(RUN_M, RISE_M) * 1.01, xtol=1e-13)
    reference = as_strung / (1.0 + _leaning(WEIGHT, 0.0, as_strung)[1] / ea)

    def miss(length: float) -> float:
        return length - reference * (1.0 + _leaning(down, side, length)[1] / ea)

    length = brentq(miss, reference * 1.0005, reference * 1.02, xtol=1e-12)
    assert _leaning(down, side, length)[0] == pytest.approx(pull_n, abs=2e-3)
    if length_m is not None:
        assert length == pytest.approx(length_m, abs=1e-5)


@pytest.mark.parametrize(
    ("down", "side", "celsius", "tension"),
    [
        (2.144413503, 0.0, -5.0, 7007.20),
        (0.0, 0.0, -15.0, 4244.935),
        (0.0, 112.49 * 31.77e-3, 0.0, 6838.853),
        (2.144413503, 1.945582044, -5.0, 12_626_894.0 * 597e-6),
    ],
)
def test_conductor_by_the_parabola(down: float, side: float, celsius: float, tension: float) -> None:
    # "Calculations Sag Tension Line", scribd.com/document/681038340: 597 mm2, 7034 kg/mm2, 1.93e-5 per kelvin, 2.004
    # kg/m, 31.77 mm, 400 m level, 3614.16 kg at 22 C; ice, cold, wind, ice and wind. All in kilograms. It takes the
    # parabola and one tension for the whole span: (T - T0)/EA + a dt = l^2/24 [(R/T)^2 - (w/T0)^2].
    ea, alpha, weight, span, strung = 597.0 * 7034.0, 1.93e-5, 2.004, 400.0, 3614.16
    total, change = math.hypot(weight + down, side), celsius - 22.0

    def miss(pull: float) -> float:
        strain = (pull - strung) / ea + alpha * change
        return strain - span**2 / 24.0 * ((total / pull) ** 2 - (weight / strung) ** 2)

    assert brentq(miss, 500.0, 20_000.0, xtol=1e-9) == pytest.approx(tension, rel=1e-6)
    # The catenary with the tension of each place is the better; the parabola is off by less than a third of a percent.
    level = Supports(np.array([0.0, span]), np.zeros(2), np.zeros(2, dtype=np.int64))
    wire = Wire(weight, ea, alpha)
    cut = unstretched_totals(solve_chain(level, wire, math.hypot(strung, weight * span / 2.0)))
    ours = under_load(level, wire, warmed(wire, cut, change), down, side)
    assert float(ours.along_n[0]) == pytest.approx(tension, rel=3e-3)
    # Half of what bears on the span, whichever way it bears.
    np.testing.assert_allclose(
        [ours.down_n, ours.side_n], np.array([[weight + down] * 2, [side] * 2]) * 200.0, rtol=2e-3
    )


def _level_row(diameter_mm: float, tension_n: float, down: float, side: float) -> Loaded:
    supports = Supports(6.0 * np.arange(31.0), np.zeros(31), np.zeros(31, dtype=np.int64))
    wire = Wire.from_diameter(diameter_mm)
    return under_load(supports, wire, unstretched_totals(solve_chain(supports, wire, tension_n)), down, side)


@pytest.mark.parametrize(
    ("diameter", "strung", "down", "side", "tension"),
    [(2.5, 300.0, 0.0, 21.09, 980.0), (2.5, 300.0, 0.0, 58.6, 1821.5), (3.15, 1000.0, 19.73, 0.0, 1455.0)],
)
def test_rows_by_hand(diameter: float, strung: float, down: float, side: float, tension: float) -> None:
    # Hand calculation by the equation of the test before, spans of 6 m and steel of 200 GPa: a wall of 1 m with 0.6 of
    # the load of a solid one, a quarter of 140.6 Pa (15 m/s) and of 390.6 Pa (25 m/s); and a crop of 8 t/ha.
    found = _level_row(diameter, strung, down, side)
    assert float(found.along_n[0]) == pytest.approx(tension, rel=2e-3)
    np.testing.assert_allclose(found.side_n[1:-1], 6.0 * side, rtol=2e-3)  # loads are of the unstretched metre


def test_pressure_of_the_wind() -> None:
    # EN 1991-1-4, (4.10): 1.25 v^2/2.
    np.testing.assert_allclose(wind_pressure(np.array([15.0, 25.0])), [140.625, 390.625])


def test_free_standing_wall_of_a_worked_example() -> None:
    # xcfem/xc, verif/tests/actions/wind/ec1/test_ec1_wind_action_on_free_standing_wall.py: basic speed 26 m/s, once in
    # 5 years, terrain III, 10 m, zones A to D: 1530, 949, 738, 633 Pa. c_prob by (4.2), K 0.2 and n 0.5.
    shape = (1.0 - 0.2 * math.log(-math.log(1.0 - 1.0 / 5.0))) / (1.0 - 0.2 * math.log(-math.log(0.98)))
    peak = float(peak_over_mean(10.0, "III") * wind_pressure(26.0 * math.sqrt(shape)))
    np.testing.assert_allclose(peak * np.array([2.9, 1.8, 1.4, SOLID]), [1530.0, 949.0, 738.0, 633.0], rtol=1e-3)


@pytest.mark.parametrize(
    ("kind", "solid", "angle", "loss"),
    [
        ("round bars", 0.12, 0.0, 0.11688),
        ("diamond wire", 0.12, 0.0, 0.09912),
        ("knotted", 0.12, 0.0, 0.15456),
        ("knotless", 0.12, 0.0, 0.11664),
        ("diamond wire", 0.04, 33.0, 0.02031327712601458),
    ],
)
def test_loss_of_meshes(kind: Mesh, solid: float, angle: float, loss: float) -> None:
    # Tests of the library fluids, round_edge_open_mesh (Blevins 1984; for 0.85 open and more).
    assert float(mesh_loss(solid, kind, angle)) == pytest.approx(loss, abs=5e-11)


def test_drag_of_a_net() -> None:
    # Momentum theory of a disc that lets air through (Rankine, Froude): the force is 4 a (1 - a), and greatest in power
    # at a = 1/3 (Betz), where it is 8/9; the loss is then 8/9 over (2/3)^2.
    assert float(sheet_drag(2.0)) == pytest.approx(8.0 / 9.0, rel=1e-12)
    # Beside it 1.2 s is a common rule, within 8 % from 0.3 on.
    solid = np.array([0.3, 0.4, 0.5])
    np.testing.assert_allclose(sheet_drag(mesh_loss(solid, "knotless")), 1.2 * solid, rtol=0.08)


def test_nail_between_two_boards() -> None:
    # xcfem/xc, awc_nds/lateral_design_value_test_01.py: nail 0.148 x 3 in, side board 0.75 in, main board deep enough,
    # G 0.5, F_yb 90 ksi: 467.488421732 N, mode III_s of NDS 12.3; F_e = 16600 G^1.84 psi and R_d 2.2. Each board sees
    # the push of the other at the same place: where one arm is e, the other is -e.
    diameter = 0.148 * INCH_M
    pressed = 16600.0 * 0.5**1.84 * PSI * diameter
    moment = 90e3 * PSI * diameter**3 / 6.0

    def apart(arm: float) -> float:
        return float(push_to_bend(pressed, arm, moment) - push_to_turn(pressed, -arm, 0.75 * INCH_M))

    arm = brentq(apart, 0.0, 0.375 * INCH_M, xtol=1e-15)
    assert float(push_to_bend(pressed, arm, moment)) / 2.2 == pytest.approx(467.488421732, rel=1e-6)


def test_fastener_pushed_at_the_wood() -> None:
    # Eurocode 5, (8.9), before its additions: 0.4 f_h t d, which is sqrt(2) - 1 rounded, and sqrt(2 M_y f_h d).
    assert float(push_to_turn(1.0, 0.0, 1.0)) == pytest.approx(0.4, abs=0.015)
    strength, moment = float(embedment(350.0, 3.0)), float(yield_moment("nail", 3.0, 600.0))
    by_hand = math.sqrt(2.0 * 1000.0 * moment * strength * 3.0)
    assert float(shear_load(350.0, 3.0, 50.0, 0.0, moment)) == pytest.approx(by_hand, rel=1e-12)


def test_fastener_pushed_off_the_wood() -> None:
    # Balance of moments about the hinge, by hand: the push F at e and what presses back over F/q.
    moment = float(yield_moment("nail", 3.0, 600.0))
    pressed = 1000.0 * float(embedment(350.0, 3.0)) * 3.0
    push = float(shear_load(350.0, 3.0, 50.0, 6.0, moment))
    assert push * (0.006 + push / pressed) - pressed * (push / pressed) ** 2 / 2.0 == pytest.approx(moment, rel=1e-9)


def test_short_nail_turned_by_a_push_off_the_wood() -> None:
    # 12 mm deep it turns before it bends. By hand: pressed one way down to a, the other way from there to the point t,
    # F = q (2 a - t) and F e = q (t^2 / 2 - a^2).
    pressed, depth, arm = 1000.0 * float(embedment(350.0, 3.0)) * 3.0, 0.012, 0.006
    push = float(shear_load(350.0, 3.0, 12.0, 6.0, yield_moment("nail", 3.0, 600.0)))
    turns_at = (push / pressed + depth) / 2.0
    assert push * arm == pytest.approx(pressed * (depth**2 / 2.0 - turns_at**2), rel=1e-9)


def test_both_loads_on_a_fastener() -> None:
    # An open-source code of Eurocode 5, its checks of (8.27) and (8.28): 0.5 and 0.508 fail together on a smooth nail,
    # by 1.008, and hold on a screw, where the sum of squares is 0.508.
    smooth, other = used_together(0.5, 0.508, np.array([True, False]))
    assert smooth == pytest.approx(1.008)
    assert other**2 == pytest.approx(0.508, abs=5e-4)


@pytest.mark.parametrize(
    ("push", "height", "width", "bearing", "depth"),
    [
        # City of Zephyrhills, doc 178567, pages 35 and 40: signs of 26.6 + 44.1 ft2 and of 36.0 ft2 at 24.7 psf.
        (24.7 * (26.6 + 44.1) * POUND_N, (26.6 * 3.0 + 44.1 * 4.9) / (26.6 + 44.1), 5.5, 400.0, 3.97),
        (24.7 * 36.0 * POUND_N, 3.4, 3.0, 400.0, 3.54),
        # A public test of an embedded pier: 200 psf for each foot of depth, iterated.
        (5400.0 * POUND_N, 37.25, 6.0, 200.0 * 11.83 / 3.0, 11.83),
    ],
)
def test_post_by_the_code(push: float, height: float, width: float, bearing: float, depth: float) -> None:
    # IBC 1807.3.2.1: depth in feet for a push. Ours is the push for a depth, found back.
    def apart(feet: float) -> float:
        ours = push_by_code(feet * FOOT_M, width * FOOT_M, height * FOOT_M, bearing * PSF)
        return float(ours) - push

    assert brentq(apart, 0.5, 30.0) == pytest.approx(depth, abs=0.02)


def test_short_post_in_clay() -> None:
    # Broms, as Foundation Engineering 6.24 (oercollective.caul.edu.au) has it: f = H/(9 c_u D), M = H (e + 1.5 D +
    # 0.5 f) = 2.25 c_u D g^2, L = 1.5 D + f + g.
    depth, width, height, shear = 0.6, 0.1, 1.5, 50e3
    push = float(push_in_clay(depth, width, height, shear))
    f = push / (9.0 * shear * width)
    g = depth - 1.5 * width - f
    assert push * (height + 1.5 * width + 0.5 * f) == pytest.approx(2.25 * shear * width * g**2, rel=1e-12)


def test_the_rules_for_a_post_lie_far_apart() -> None:
    # Moment about the ground of one post, by hand: 0.1 m wide, 0.6 m deep, pushed at 1.5 m. 150 psf a foot of depth,
    # doubled: 97 Nm allowable; sand of 18 kN/m3 and 32 degrees: 452 Nm; clay of 50 kPa: 1816 Nm ultimate.
    allowed = push_by_code(0.6, 0.1, 1.5, 2.0 * 150.0 * PSF / FOOT_M * 0.6 / 3.0)
    ultimate = push_in_sand(0.6, 0.1, 1.5, 18e3, 32.0), push_in_clay(0.6, 0.1, 1.5, 50e3)
    assert [round(1.5 * float(push)) for push in (allowed, *ultimate)] == [97, 452, 1816]
