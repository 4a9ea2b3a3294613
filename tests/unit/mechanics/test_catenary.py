"""One span: signs, both ends, limits, refusals."""

import re
from dataclasses import fields

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from wirerun.errors import MechanicsError
from wirerun.mechanics import FloatArray
from wirerun.mechanics.catenary import (
    RESIDUAL_LIMIT,
    SpanState,
    sag_level,
    solve_span_length,
    solve_span_tension,
)
from wirerun.mechanics.wire import Wire, axial_stiffness, weight_per_m

WIRE = Wire.from_diameter(2.5)
WEIGHT = float(weight_per_m(2.5))
STIFFNESS = float(axial_stiffness(2.5))


def _wide(count: int, seed: int) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray, FloatArray]:
    """Spans over the whole range that is used, all with tension enough to hang."""
    rng = np.random.default_rng(seed)
    diameter = rng.uniform(1.6, 5.0, count)
    run = np.exp(rng.uniform(np.log(0.5), np.log(500.0), count))
    rise = run * rng.uniform(-1.0, 1.0, count)
    tension = np.exp(rng.uniform(np.log(0.5), np.log(5000.0), count))
    weight, stiffness = weight_per_m(diameter), axial_stiffness(diameter)
    # A plain bound that is always enough; the twins test the edge of what can hang.
    enough = tension > weight * (run + 2.0 * np.abs(rise))
    return run[enough], rise[enough], tension[enough], weight[enough], stiffness[enough]


def test_worked_example_of_signs() -> None:
    up = solve_span_tension(6.0, 1.0, WIRE, 300.0)
    assert up.vertical_start_n == pytest.approx(48.2, abs=0.05)
    assert up.vertical_end_n == pytest.approx(50.5, abs=0.05)
    assert up.tension_end_n > up.tension_start_n
    down = solve_span_tension(6.0, -1.0, WIRE, float(up.tension_end_n))
    assert down.vertical_start_n == pytest.approx(-50.5, abs=0.05)
    assert down.vertical_end_n == pytest.approx(-48.2, abs=0.05)


def test_level_trellis_span_by_hand() -> None:
    # Parabola: sag = w l^2/(8 T) = 0.377886 x 36/2400 = 5.668 mm; slack = 8 sag^2/(3 l) = 14.28 um; stretch
    # = 300/981748 x 6 m = 1.833 mm. The elastic wire carries its weight on 0.03 % more length.
    span = solve_span_tension(6.0, 0.0, WIRE, 300.0)
    assert span.sag_m == pytest.approx(5.668e-3, rel=5e-4)
    assert span.stretched_m - 6.0 == pytest.approx(14.28e-6, rel=1e-3)
    assert span.stretched_m - span.unstretched_m == pytest.approx(1.833e-3, rel=5e-4)


def test_a_span_walked_backwards_is_the_same_span() -> None:
    run, rise, tension, weight, stiffness = _wide(20_000, seed=1)
    there = solve_span_tension(run, rise, Wire(weight, stiffness), tension)
    back = solve_span_tension(run, -rise, Wire(weight, stiffness), there.tension_end_n)
    for name in ("horizontal_n", "unstretched_m", "stretched_m", "sag_m"):
        assert getattr(back, name) == pytest.approx(getattr(there, name), rel=1e-10)
    assert np.abs(back.vertical_start_n + there.vertical_end_n).max() < 1e-9
    assert back.tension_end_n == pytest.approx(tension, rel=1e-10)


def test_the_state_holds_together_over_the_whole_range() -> None:
    run, rise, tension, weight, stiffness = _wide(50_000, seed=2)
    span = solve_span_tension(run, rise, Wire(weight, stiffness), tension)
    assert run.size > 25_000
    assert span.residual <= RESIDUAL_LIMIT
    assert span.tension_start_n == pytest.approx(tension, rel=1e-12)
    # Weight of the wire is the difference of the vertical forces at its ends.
    carried = span.vertical_end_n - span.vertical_start_n
    assert np.abs(carried - weight * span.unstretched_m).max() < 1e-8
    pull = span.horizontal_n
    assert np.hypot(pull, span.vertical_start_n) == pytest.approx(span.tension_start_n, rel=1e-12)
    assert np.hypot(pull, span.vertical_end_n) == pytest.approx(span.tension_end_n, rel=1e-12)
    # T + T^2/(2 EA) - w z is the same at both ends.
    store_start = span.tension_start_n + span.tension_start_n**2 / (2.0 * stiffness)
    store_end = span.tension_end_n + span.tension_end_n**2 / (2.0 * stiffness)
    assert store_end - store_start == pytest.approx(weight * rise, rel=1e-9, abs=1e-9)
    assert (span.stretched_m >= np.hypot(run, rise)).all()
    assert (span.sag_m > 0.0).all()


def test_length_gives_back_the_tension_that_gave_it() -> None:
    run, rise, tension, weight, stiffness = _wide(50_000, seed=3)
    by_tension = solve_span_tension(run, rise, Wire(weight, stiffness), tension)
    by_length = solve_span_length(run, rise, Wire(weight, stiffness), by_tension.unstretched_m)
    assert by_length.residual <= RESIDUAL_LIMIT
    # Rounding the length alone moves the pull of a taut wire by EA x 1e-16; slack wire is less touchy.
    assert np.abs((by_length.tension_start_n - tension) / stiffness).max() < 2e-14
    assert by_length.unstretched_m == pytest.approx(by_tension.unstretched_m, rel=1e-12)
    snug = tension > 1e-3 * stiffness
    assert by_length.sag_m[snug] == pytest.approx(by_tension.sag_m[snug], rel=1e-9)


def test_wire_shorter_than_its_span_is_stretched_straight() -> None:
    # 5.99 m over 6 m: strain 0.01/5.99, and a little for the slack of its bow, w^2 l^3/(24 H^2).
    span = solve_span_length(6.0, 0.0, WIRE, 5.99)
    bow = (WEIGHT / span.horizontal_n) ** 2 * 6.0**3 / 24.0
    assert span.horizontal_n == pytest.approx(STIFFNESS * (0.01 + bow) / 5.99, rel=1e-6)
    steep = solve_span_length(6.0, -6.0, WIRE, 8.4)
    strain = np.hypot(6.0, 6.0) / 8.4 - 1.0
    middle = 0.5 * (steep.tension_start_n + steep.tension_end_n)
    assert middle == pytest.approx(STIFFNESS * strain, rel=1e-4)
    # So short that it can only reach upwards by stretching past the height itself.
    rubber = solve_span_length(1.0, 9.0, Wire(WEIGHT, 1000.0), 6.0)
    assert rubber.tension_end_n == pytest.approx(1000.0 * (np.hypot(1.0, 9.0) / 6.0 - 1.0), rel=0.01)


def test_deep_bight_hangs_like_two_plumb_lines() -> None:
    # 1000 m of wire over 1 m: each end carries half of it, and the pull between them is nearly nothing.
    span = solve_span_length(1.0, 0.0, WIRE, 1000.0)
    assert span.tension_start_n == pytest.approx(500.0 * WEIGHT, rel=1e-4)
    assert span.sag_m == pytest.approx(500.0, rel=1e-3)
    assert span.horizontal_n < 0.05 * span.tension_start_n


def test_sag_level_keeps_its_digits_and_meets_the_elastic_span() -> None:
    # Tiny: w l^2/(8 H) is exact to 1e-9 here. Large: cosh in plain form, 40 m sag over 100 m.
    assert sag_level(0.5, 5000.0, 0.155) == pytest.approx(0.155 * 0.25 / 40_000.0, rel=1e-9)
    c = 40.0
    assert sag_level(100.0, c, 1.0) == pytest.approx(c * (np.cosh(50.0 / c) - 1.0), rel=1e-13)
    both = sag_level(6.0, 300.0, np.array([0.0, WEIGHT]))
    assert both == pytest.approx([0.0, 5.668e-3], rel=1e-3)
    stiff = solve_span_tension(6.0, 0.0, Wire(WEIGHT, 1e15), 300.0)
    assert sag_level(6.0, float(stiff.horizontal_n), WEIGHT) == pytest.approx(float(stiff.sag_m), rel=1e-9)


def test_near_the_least_tension_the_two_states_meet() -> None:
    # Level, inextensible: T/(w l) is least at d tanh d = 1, d = 1.19967864, T = w l cosh d/(2 d).
    least = 100.0 * np.cosh(1.1996786402577338) / (2.0 * 1.1996786402577338)
    for extra in (1e-3, 1e-6, 1e-9, 1e-12):
        span = solve_span_tension(100.0, 0.0, Wire(1.0, 1e14), least * (1.0 + extra))
        half_turn = np.arcsinh(span.vertical_end_n / span.horizontal_n)
        # The states lie symmetrically about the last one, at a distance that goes with the square root.
        assert 0.0 < 1.1996786402577338 - half_turn < 2.0 * np.sqrt(extra) + 1e-6
    with pytest.raises(MechanicsError, match=r"Span 0 .*at least"):
        solve_span_tension(100.0, 0.0, Wire(1.0, 1e14), least * (1.0 - 1e-6))


@pytest.mark.parametrize("rise", [-400.0, -30.0, 0.0, 30.0, 400.0])
def test_a_span_that_cannot_hang_is_named_with_the_tension_it_needs(rise: float) -> None:
    runs, rises = np.array([6.0, 6.0, 400.0, 500.0]), np.array([0.0, 1.0, rise, 0.0])
    with pytest.raises(MechanicsError, match=r"^Span 2 \(counted from 0\), 400 m in plan, .* at least") as caught:
        solve_span_tension(runs, rises, WIRE, 20.0)
    found = re.search(r"at least ([\d.]+) N", str(caught.value))
    assert found is not None
    least = float(found[1])
    solve_span_tension(400.0, rise, WIRE, least)
    with pytest.raises(MechanicsError, match="cannot hang"):
        solve_span_tension(400.0, rise, WIRE, least * 0.998)


def _with_wire(given: dict[str, FloatArray]) -> tuple[FloatArray, FloatArray, Wire, FloatArray]:
    wire = Wire(given["weight_n_per_m"], given["axial_stiffness_n"])
    return given["dx_m"], given["rise_m"], wire, given["tension_start_n"]


@pytest.mark.parametrize(
    ("name", "bad"),
    [
        ("dx_m", 0.0),
        ("dx_m", float("nan")),
        ("rise_m", float("inf")),
        ("rise_m", float("nan")),
        ("tension_start_n", -300.0),
        ("weight_n_per_m", 0.0),
        ("axial_stiffness_n", float("inf")),
    ],
)
def test_impossible_inputs_are_named(name: str, bad: float) -> None:
    good = {
        "dx_m": np.full(3, 6.0),
        "rise_m": np.full(3, 0.5),
        "tension_start_n": np.full(3, 300.0),
        "weight_n_per_m": np.full(3, WEIGHT),
        "axial_stiffness_n": np.full(3, STIFFNESS),
    }
    good[name][1] = bad
    with pytest.raises(MechanicsError, match=rf"{name} must be .* but is {bad:g} at index 1"):
        solve_span_tension(*_with_wire(good))
    wanted = "unstretched_m" if name == "tension_start_n" else name
    with pytest.raises(MechanicsError, match=wanted):
        solve_span_length(*_with_wire(good))


def test_far_beyond_any_trellis_there_is_an_answer_or_a_refusal() -> None:
    # Up to forty times as high as wide, soft and stiff, and tensions that are hopeless by a millionfold.
    rng = np.random.default_rng(5)
    run = np.exp(rng.uniform(np.log(0.01), np.log(2000.0), 5000))
    rise = run * rng.uniform(-40.0, 40.0, 5000)
    stiffness = np.exp(rng.uniform(np.log(1e3), np.log(1e7), 5000))
    ample = solve_span_tension(run, rise, Wire(WEIGHT, stiffness), WEIGHT * (run + 2.0 * np.abs(rise)) * 1.2)
    assert ample.residual < 1e-12
    assert solve_span_length(run, rise, Wire(WEIGHT, stiffness), ample.unstretched_m).residual < 1e-12
    with pytest.raises(MechanicsError, match=r"Span 0 .* cannot hang at a tension of 0\.001 N"):
        solve_span_tension(2000.0, 500.0, Wire(1.5, STIFFNESS), 1e-3)
    with pytest.raises(MechanicsError, match=r"Span 0 .* cannot hang at a tension of 0\.001 N"):
        solve_span_tension(2000.0, -80_000.0, Wire(1.5, 1e3), 1e-3)


def test_impossible_sags_are_named() -> None:
    with pytest.raises(MechanicsError, match="load_n_per_m must be 0 or more"):
        sag_level(6.0, 300.0, -1.0)
    with pytest.raises(MechanicsError, match="tension_n must be above 0"):
        sag_level(6.0, 0.0, 1.0)


def test_shapes_broadcast_and_nothing_gives_nothing() -> None:
    grid = solve_span_tension(np.array([[4.0], [6.0]]), np.array([0.0, 0.5, -0.5]), WIRE, 300.0)
    one = solve_span_tension(6.0, 0.5, WIRE, 300.0)
    none = solve_span_tension(np.empty(0), 0.0, WIRE, 300.0)
    for field in fields(SpanState):
        if field.name != "residual":
            assert getattr(grid, field.name).shape == (2, 3)
            assert getattr(grid, field.name)[1, 1] == getattr(one, field.name)
            assert getattr(one, field.name).shape == ()
            assert getattr(none, field.name).shape == (0,)
    assert none.residual == 0.0


def test_spans_do_not_feel_their_neighbours_in_the_array() -> None:
    # Easy, hard (next to the least tension) and steep spans together, across the seams of the chunks.
    run, rise, tension, weight, stiffness = _wide(60_000, seed=4)
    together = solve_span_tension(run, rise, Wire(weight, stiffness), tension)
    some = np.arange(0, run.size, 997)
    alone = solve_span_tension(run[some], rise[some], Wire(weight[some], stiffness[some]), tension[some])
    assert together.horizontal_n[some] == pytest.approx(alone.horizontal_n, rel=1e-12)


@settings(max_examples=60, deadline=None)
@given(
    run=st.floats(0.5, 500.0),
    slope=st.floats(-1.0, 1.0),
    over=st.floats(1.0, 1e4),
    longer=st.floats(1e-2, 1e2),
    stronger=st.floats(1e-2, 1e2),
)
def test_only_ratios_count(run: float, slope: float, over: float, longer: float, stronger: float) -> None:
    rise = run * slope
    tension = over * WEIGHT * (run + 2.0 * abs(rise))
    first = solve_span_tension(run, rise, WIRE, tension)
    second = solve_span_tension(
        run * longer, rise * longer, Wire(WEIGHT * stronger / longer, STIFFNESS * stronger), tension * stronger
    )
    assert second.horizontal_n == pytest.approx(first.horizontal_n * stronger, rel=1e-12)
    assert second.unstretched_m == pytest.approx(first.unstretched_m * longer, rel=1e-12)
    assert second.sag_m == pytest.approx(first.sag_m * longer, rel=1e-10)
