"""Published figures for wire and cable, each with its source beside it."""

import math

import numpy as np
import pytest
from wirerun.mechanics.catenary import sag_level, solve_span_length, solve_span_tension
from wirerun.mechanics.wire import GRAVITY, Wire, axial_stiffness, coil_length, weight_per_m

# Stiff enough that stretch changes no published digit: the sources take the cable as inextensible.
STIFF_N = 1e12
FOOT_M = 0.3048
POUND_N = 4.4482216152605


@pytest.mark.parametrize(("diameter_mm", "metres"), [(2.5, 648.0), (4.0, 253.0)])
def test_25_kg_coil_holds_the_length_the_maker_prints(diameter_mm: float, metres: float) -> None:
    # The Press, 18 April 1980: 25 kg of 2.5 mm is 648 m, of 4.0 mm 253 m.
    assert coil_length(25.0, diameter_mm) == pytest.approx(metres, abs=1.0)


@pytest.mark.parametrize(("diameter_mm", "kg_per_km"), [(2.5, 38.58), (4.0, 98.81)])
def test_mass_of_a_kilometre(diameter_mm: float, kg_per_km: float) -> None:
    # NZ Ministry of Agriculture and Fisheries, The Press, 1 June 1984.
    assert weight_per_m(diameter_mm) / GRAVITY * 1000.0 == pytest.approx(kg_per_km, rel=0.005)


def test_stiffness_stretches_a_millimetre_per_metre_and_kilonewton() -> None:
    # Common practice for 2.5 mm steel wire: "about 1 mm per metre and kN".
    assert 1000.0 / axial_stiffness(2.5) == pytest.approx(0.001, rel=0.03)


def test_140_m_of_cable_over_120_m() -> None:
    # University statics examples, "Cables: Catenaries", example 1: c = 61.45 m, sag 31.70 m.
    span = solve_span_length(120.0, 0.0, Wire(1.0, STIFF_N), 140.0)
    assert span.horizontal_n == pytest.approx(61.45, abs=0.01)
    assert span.sag_m == pytest.approx(31.70, abs=0.01)
    assert sag_level(120.0, span.horizontal_n, 1.0) == pytest.approx(31.70, abs=0.01)


def test_800_m_of_cable_sagging_80_m_pulls_416_kgf() -> None:
    # Engineering mechanics problem, pinoybix 2017: 0.4 kg/m, greatest tension 416 kgf. The span is not
    # given; it is the one whose sag is 80 m: c = (400^2 - 80^2)/(2 x 80) = 960 m.
    run = 2.0 * 960.0 * math.asinh(400.0 / 960.0)
    span = solve_span_length(run, 0.0, Wire(0.4, STIFF_N), 800.0)
    assert span.sag_m == pytest.approx(80.0, abs=1e-6)
    assert span.tension_start_n == pytest.approx(416.0, abs=1e-4)
    assert span.tension_end_n == pytest.approx(416.0, abs=1e-4)


def test_measuring_tape_pulled_with_60_n() -> None:
    # A problem of Beer and Johnston's Statics: a 50 m tape of 1.6 kg, 60 N at both ends. By hand: half of its weight,
    # 7.845 N, stands on H = sqrt(60^2 - 7.845^2) = 59.485 N; c = H/w = 189.56 m; 2 c asinh(25/c) = 49.86 m.
    span = solve_span_tension(49.86, 0.0, Wire(1.6 * GRAVITY / 50.0, STIFF_N), 60.0)
    assert span.unstretched_m == pytest.approx(50.0, abs=0.005)
    assert span.tension_end_n == pytest.approx(60.0, abs=1e-9)


def test_the_shallow_of_two_states_with_the_same_end_tension() -> None:
    # Beer and Johnston, Statics, 7.137: 2 lb/ft over 160 ft with 400 lb at the ends: smallest sag 17.85 ft
    # (answer computed: c = 182.148 ft; the deep state has c = 31.592 ft).
    weight = 2.0 * POUND_N / FOOT_M
    span = solve_span_tension(160.0 * FOOT_M, 0.0, Wire(weight, STIFF_N), 400.0 * POUND_N)
    assert span.sag_m / FOOT_M == pytest.approx(17.85, abs=0.01)
    assert span.horizontal_n / weight / FOOT_M == pytest.approx(182.148, abs=0.001)

    deep_c = 31.592 * FOOT_M
    length = 2.0 * deep_c * math.sinh(80.0 * FOOT_M / deep_c)
    deep = solve_span_length(160.0 * FOOT_M, 0.0, Wire(weight, STIFF_N), length)
    assert deep.tension_start_n / POUND_N == pytest.approx(400.0, abs=0.01)
    assert deep.horizontal_n / weight / FOOT_M == pytest.approx(31.592, abs=0.001)


def test_level_conductor_of_500_m() -> None:
    # Tests of the overhead-line library mechaphlowers: H/w = 2000 m, w = 9.55494 N/m: H 19109.88 N,
    # vertical force at the end 2394.96053 N, mean tension 19159.78785 N, length 501.303 m.
    end_tension = math.hypot(19109.88, 2394.96053)
    span = solve_span_tension(500.0, 0.0, Wire(9.55494, STIFF_N), end_tension)
    assert span.horizontal_n == pytest.approx(19109.88, rel=1e-6)
    assert span.vertical_end_n == pytest.approx(2394.96053, rel=1e-6)
    assert span.unstretched_m == pytest.approx(501.303, rel=1e-6)
    mean_tension = STIFF_N * (span.stretched_m - span.unstretched_m) / span.unstretched_m
    assert mean_tension == pytest.approx(19159.78785, rel=1e-6)


def test_inclined_conductor_of_480_m() -> None:
    # Same source: 480 m, rise 10 m, H/w = 2000 m: length 481.25673597 m. The tension that goes with H is
    # from the closed form of the inextensible catenary, with sinh m = rise/(2 c sinh d), d = run/(2 c).
    half_turn = 480.0 / 4000.0
    lean = math.asinh(10.0 / (4000.0 * math.sinh(half_turn)))
    start_tension = 2000.0 * 9.55494 * math.cosh(lean - half_turn)
    span = solve_span_tension(480.0, 10.0, Wire(9.55494, STIFF_N), start_tension)
    assert span.horizontal_n == pytest.approx(2000.0 * 9.55494, rel=1e-7)
    assert span.unstretched_m == pytest.approx(481.25673597, abs=1e-5)


def test_80_m_with_a_rise_of_4_m() -> None:
    # Three libraries agree (mechaphlowers, pycatenary, closed form): 3.4335 N/m, H 1500 N: length
    # 80.211622 m, end tensions 1501.3013 and 1515.0353 N.
    up = solve_span_tension(80.0, 4.0, Wire(3.4335, STIFF_N), 1501.3013)
    assert up.horizontal_n == pytest.approx(1500.0, abs=1e-4)
    assert up.tension_end_n == pytest.approx(1515.0353, abs=1e-4)
    assert up.unstretched_m == pytest.approx(80.211622, abs=1e-5)
    down = solve_span_tension(80.0, -4.0, Wire(3.4335, STIFF_N), 1515.0353)
    assert down.tension_end_n == pytest.approx(1501.3013, abs=1e-4)


@pytest.mark.parametrize(
    ("inputs", "near_end", "far_end"),
    [
        # Tests of the mooring library MoorPy (NREL): x, z, L, EA, w; force on the near and on the far end.
        (
            (400.0, 200.0, 500.0, 7.51e12, 200.0),
            (43694.580989, -22365.599350),
            (-43694.580989, -77634.400650),
        ),
        ((89.9, 59.2, 130.0, 7.51e8, 881.05), (31373.229006, -26650.341270), (-31373.229006, -87886.158730)),
    ],
)
def test_elastic_line_hanging_free(
    inputs: tuple[float, ...], near_end: tuple[float, float], far_end: tuple[float, float]
) -> None:
    run, rise, length, stiffness, weight = inputs
    span = solve_span_length(run, rise, Wire(weight, stiffness), length)
    assert (span.horizontal_n, span.vertical_start_n) == pytest.approx(near_end, rel=1e-6)
    assert (-span.horizontal_n, -span.vertical_end_n) == pytest.approx(far_end, rel=1e-6)


def test_conductor_sags_of_a_stringing_table() -> None:
    # Electric Power Engineering Handbook, table 14.5: ACSR Drake, 700 ft, 1.094 lb/ft (printed sags are
    # rounded and for other end conditions: 0.4 %).
    pulls_lb = np.array([8161.0, 6242.0, 4809.0, 3728.0])
    sags = sag_level(700.0 * FOOT_M, pulls_lb * POUND_N, 1.094 * POUND_N / FOOT_M) / FOOT_M
    assert sags == pytest.approx([8.22, 10.75, 13.96, 18.04], rel=0.004)
