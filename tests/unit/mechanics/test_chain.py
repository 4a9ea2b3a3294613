"""A wire over many supports: tension from post to post, loads on the clips, rows side by side."""

import math
import re
from dataclasses import fields

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp
from scipy.optimize import brentq, fsolve
from wirerun.errors import MechanicsError
from wirerun.mechanics import FloatArray, IntArray
from wirerun.mechanics.catenary import SpanState, solve_span_tension
from wirerun.mechanics.chain import Chain, clip_loads, solve_chain, support_tensions
from wirerun.mechanics.row_index import RowIndex
from wirerun.mechanics.supports import Supports
from wirerun.mechanics.wire import Wire, axial_stiffness, weight_per_m

WIRE = Wire.from_diameter(2.5)
WEIGHT = float(weight_per_m(2.5))
STIFFNESS = float(axial_stiffness(2.5))


def _rolling(posts: int, slope: float = 0.0) -> tuple[FloatArray, FloatArray, IntArray]:
    """A row over ground of known shape: two waves on a slope, posts not quite evenly set."""
    number = np.arange(posts)
    x = 6.0 * number + 0.7 * np.sin(2.1 * number)
    z = slope * x + 0.45 * np.sin(x / 7.0) + 0.2 * np.cos(x / 3.1)
    return x, z, np.zeros(posts, dtype=np.int64)


def _walked(x: FloatArray, z: FloatArray, tension: float, weight: float, stiffness: float) -> FloatArray:
    """Load on every inner clip by walking along the wire: no catenary, only balance of a short piece.

    dz/dx = V/H and dV/dx = w ds/dx are integrated from post to post with a departure angle that hits the
    next one; the tension arrived with is the tension left with, because nothing holds the wire.
    """
    ends: list[tuple[float, float]] = []
    for run, rise in zip(np.diff(x), np.diff(z), strict=True):

        def fly(angle: float, run: float = run, tension: float = tension) -> tuple[float, float]:
            pull = tension * math.cos(angle)

            def slope(_: float, state: FloatArray) -> list[float]:
                here = math.hypot(pull, state[1])
                return [state[1] / pull, weight * here / (pull * (1.0 + here / stiffness))]

            start = [0.0, tension * math.sin(angle)]
            path = solve_ivp(slope, (0.0, run), start, method="DOP853", rtol=1e-13, atol=1e-13)
            return float(path.y[0, -1]), float(path.y[1, -1])

        chord = math.atan2(rise, run)
        lowest = chord - weight * run / tension
        angle = brentq(lambda a, rise=rise, fly=fly: fly(a)[0] - rise, lowest, chord, xtol=1e-15)
        last = fly(angle)[1]
        ends.append((tension * math.sin(angle), last))
        tension = math.hypot(tension * math.cos(angle), last)
    vertical = np.array(ends)
    return np.asarray(vertical[:-1, 1] - vertical[1:, 0])


@pytest.mark.parametrize("slope", [0.0, 0.6, -0.9])
@pytest.mark.parametrize(("tension", "weight", "stiffness"), [(1000.0, WEIGHT, STIFFNESS), (150.0, 1.2, 2e4)])
def test_every_clip_load_on_rolling_ground(
    slope: float,
    tension: float,
    weight: float,
    stiffness: float,
) -> None:
    x, z, row = _rolling(9, slope)
    chain = solve_chain(Supports(x, z, row), Wire(weight, stiffness), tension)
    walked = _walked(x, z, tension, weight, stiffness)
    assert np.abs(chain.clip_load_n[1:-1] - walked).max() < 1e-6
    assert walked.min() < 0.0 < walked.max()  # there are crests and hollows, or the test says little


def test_sliding_by_least_energy() -> None:
    # A soft heavy wire over three supports as a string of elastic bars, its total length given. Every inner
    # node is in balance, and moving wire from one span to the other changes no energy. Knows of no tension
    # that "stays the same" over a support: that comes out.
    x, z, bars = np.array([0.0, 30.0, 70.0]), np.array([0.0, 4.0, -2.0]), 60
    weight, stiffness = 5.0, 2e4
    chain = solve_chain(Supports(x, z, np.zeros(3, dtype=np.int64)), Wire(weight, stiffness), 600.0)
    total = float(chain.spans.unstretched_m.sum())

    def half(points: FloatArray, near: int, length: float) -> tuple[FloatArray, FloatArray, float]:
        """Out-of-balance forces, force on the ends, and change of energy with length, of one span of bars."""
        ends = np.column_stack((x, z))[near : near + 2]
        nodes = np.vstack((ends[0], points.reshape(-1, 2), ends[1]))
        piece = length / bars
        step = np.diff(nodes, axis=0)
        long = np.hypot(step[:, 0], step[:, 1])
        tension = stiffness * (long / piece - 1.0)
        force = tension[:, None] * step / long[:, None]
        balance = np.diff(force, axis=0) - [0.0, weight * piece]
        pull = np.array([force[0, 1] - 0.5 * weight * piece, force[-1, 1] + 0.5 * weight * piece])
        middle = 0.5 * (nodes[1:, 1] + nodes[:-1, 1])
        energy = float(np.mean(weight * middle - tension - tension**2 / (2.0 * stiffness)))
        return balance.ravel(), pull, energy

    def misses(unknown: FloatArray) -> FloatArray:
        first, second = np.split(unknown[:-1], 2)
        left, right = half(first, 0, unknown[-1]), half(second, 1, total - unknown[-1])
        return np.concatenate((left[0], right[0], [left[2] - right[2]]))

    share = np.linspace(0.0, 1.0, bars + 1)[1:-1]
    bow = 4.0 * share * (1.0 - share)
    guess = [
        np.column_stack((x[i] + share * (x[i + 1] - x[i]), z[i] + share * (z[i + 1] - z[i]) - bow)).ravel()
        for i in range(2)
    ]
    start = np.concatenate([*guess, chain.spans.unstretched_m[:1] * 1.01])
    found, _, ok, message = fsolve(misses, start, full_output=True, xtol=1e-12)
    assert ok == 1, message
    first, second = np.split(found[:-1], 2)
    left, right = half(first, 0, found[-1])[1], half(second, 1, total - found[-1])[1]
    # Sixty bars miss a curve by a few parts in ten thousand.
    assert found[-1] == pytest.approx(chain.spans.unstretched_m[0], rel=1e-5)
    assert left[0] == pytest.approx(chain.spans.vertical_start_n[0], abs=0.05)
    assert left[1] - right[0] == pytest.approx(chain.clip_load_n[1], abs=0.05)
    assert right[1] == pytest.approx(chain.spans.vertical_end_n[1], abs=0.05)


def test_worked_examples() -> None:
    x, row = np.array([0.0, 6.0, 12.0] * 2), np.array([3, 3, 3, 8, 8, 8])
    chain = solve_chain(Supports(x, np.array([0.3, 0.0, 0.5, 0.0, 0.3, 0.0]), row), WIRE, 1000.0)
    # By hand: -1000 (0.3/6.0075 + 0.5/6.0208) + 2.27 and 2 x 1000 x 0.3/6.0075 + 2.27.
    assert chain.clip_load_n[[1, 4]] == pytest.approx([-130.71, 102.15], abs=0.01)
    assert np.isnan(chain.clip_load_n[[0, 2, 3, 5]]).all()
    assert chain.span_from.tolist() == [0, 1, 3, 4]


def test_tension_grows_uphill_by_the_weight_of_the_rise() -> None:
    heights, row = np.array([0.0, 10.0, 25.0, 5.0]), np.zeros(4, dtype=np.int64)
    x = np.array([0.0, 40.0, 70.0, 130.0])
    tension = support_tensions(Supports(x, heights, row), WIRE, 300.0)
    # Inextensible T - w z is constant; stretch thins the wire by T/EA, 0.03 % here.
    assert tension - 300.0 == pytest.approx(WEIGHT * heights, rel=4e-4)
    assert tension[1] == pytest.approx(303.78, abs=0.005)
    spans = solve_chain(Supports(x, heights, row), WIRE, 300.0).spans
    assert spans.tension_start_n == pytest.approx(tension[:-1], rel=1e-12)
    assert spans.tension_end_n == pytest.approx(tension[1:], rel=1e-12)


def test_the_clips_carry_the_wire() -> None:
    # Ends and clips together hold the weight of all the wire.
    x, z, row = _rolling(30, 0.3)
    chain = solve_chain(Supports(x, z, row), WIRE, 500.0)
    ends = chain.spans.vertical_end_n[-1] - chain.spans.vertical_start_n[0]
    carried = np.nansum(chain.clip_load_n) + ends
    assert carried == pytest.approx(WEIGHT * chain.spans.unstretched_m.sum(), rel=1e-9)


@settings(max_examples=40, deadline=None)
@given(slope=st.floats(-1.0, 1.0), tension=st.floats(150.0, 5000.0), lift=st.integers(-3000, 3000))
def test_a_plane_needs_no_clip_and_height_is_of_no_matter(slope: float, tension: float, lift: int) -> None:
    x, _, row = _rolling(12)
    flat = solve_chain(Supports(x, slope * x, row), WIRE, tension)
    assert (flat.clip_load_n[1:-1] > 0.0).all()
    # The wire between the middles of two spans presses at right angles to the plane: w chord cos^2. Pulled
    # long it weighs less per metre.
    weight = WEIGHT / (1.0 + tension / STIFFNESS)
    pressed = 0.5 * weight * (x[2:] - x[:-2]) / math.hypot(1.0, slope)
    assert flat.clip_load_n[1:-1] == pytest.approx(pressed, rel=0.005)
    x, z, row = _rolling(12, slope)
    z = np.round(z * 2.0**20) / 2.0**20  # so that a lift by whole metres rounds nothing off
    low = solve_chain(Supports(x, z, row), WIRE, tension)
    high = solve_chain(Supports(x, z + lift, row), WIRE, tension)
    np.testing.assert_array_equal(high.clip_load_n, low.clip_load_n)
    np.testing.assert_array_equal(high.support_tension_n, low.support_tension_n)


def _mixed() -> tuple[FloatArray, FloatArray, IntArray, FloatArray]:
    x, z, _ = _rolling(10)
    sizes = ((4, 8), (5, 2), (9, 9), (12, 1), (13, 10))
    parts = [(x[:size], z[:size] * 1.1, np.full(size, name)) for name, size in sizes]
    xs, zs, rows = (np.concatenate(part) for part in zip(*parts, strict=True))
    return xs, zs, rows, np.array([300.0, 400.0, 500.0, 600.0, 700.0])


def _alone(x: FloatArray, z: FloatArray, row: IntArray, tension: FloatArray, name: int) -> Chain:
    own = row == name
    start = tension[np.unique(row).tolist().index(name)]
    return solve_chain(Supports(x[own], z[own], row[own]), WIRE, float(start))


def test_rows_are_alone_with_their_own_tension() -> None:
    x, z, row, tension = _mixed()
    together = solve_chain(Supports(x, z, row), Wire(WEIGHT, np.full(5, STIFFNESS)), tension)
    assert together.span_from.size == x.size - 5
    for name in (4, 5, 9, 12, 13):
        own = row == name
        alone = _alone(x, z, row, tension, name)
        np.testing.assert_allclose(together.clip_load_n[own], alone.clip_load_n, rtol=1e-12)
        np.testing.assert_allclose(together.support_tension_n[own], alone.support_tension_n, rtol=1e-14)


def test_a_row_with_a_missing_height_is_blank_and_no_other() -> None:
    x, z, row, tension = _mixed()
    whole = solve_chain(Supports(x, z, row), WIRE, tension)
    z[np.flatnonzero(row == 9)[5]] = np.nan
    holed = solve_chain(Supports(x, z, row), WIRE, tension)
    gap = row == 9
    assert np.isnan(holed.support_tension_n[gap]).all()
    assert np.isnan(holed.clip_load_n[gap]).all()
    np.testing.assert_array_equal(holed.support_tension_n[~gap], whole.support_tension_n[~gap])
    np.testing.assert_array_equal(holed.clip_load_n[~gap], whole.clip_load_n[~gap])
    gap_span = row[whole.span_from] == 9
    for field in fields(SpanState):
        if field.name != "residual":
            before, after = getattr(whole.spans, field.name), getattr(holed.spans, field.name)
            assert np.isnan(after[gap_span]).all()
            np.testing.assert_array_equal(after[~gap_span], before[~gap_span])


def test_clip_loads_alone() -> None:
    spans = solve_span_tension(np.array([6.0, 6.0]), np.array([0.3, -0.3]), WIRE, 1000.0)
    loads = clip_loads(spans, RowIndex.of(np.array([0, 4, 4, 4, 9])))
    assert np.isnan(loads[[0, 1, 3, 4]]).all()
    assert loads[2] == spans.vertical_end_n[0] - spans.vertical_start_n[1]
    assert loads[2] > 0.0


def test_no_supports_and_lone_posts() -> None:
    nothing = solve_chain(Supports(np.empty(0), np.empty(0), np.empty(0, dtype=np.int64)), WIRE, 300.0)
    assert nothing.clip_load_n.shape == nothing.span_from.shape == (0,)
    lone = solve_chain(Supports(np.zeros(2), np.zeros(2), np.array([1, 2])), WIRE, 300.0)
    assert lone.spans.horizontal_n.shape == (0,)
    assert lone.support_tension_n == pytest.approx([300.0, 300.0])
    assert np.isnan(lone.clip_load_n).all()


def test_a_row_that_drops_too_far_is_named_with_the_tension_it_needs() -> None:
    x, z = np.array([0.0, 6.0, 0.0, 30.0, 60.0]), np.array([0.0, 0.0, 0.0, -30.0, -60.0])
    supports = Supports(x, z, np.array([2, 2, 7, 7, 7]))
    with pytest.raises(MechanicsError, match=r"Support 4 .* 60 m below .* row 7.* slack") as caught:
        support_tensions(supports, WIRE, 20.0)
    found = re.search(r"more than ([\d.]+) N", str(caught.value))
    assert found is not None
    assert float(found[1]) == pytest.approx(60.0 * WEIGHT, rel=1e-3)
    assert support_tensions(supports, WIRE, float(found[1]))[4] > 0.0
    with pytest.raises(MechanicsError, match=r"Span 2 .* cannot hang"):
        solve_chain(supports, WIRE, float(found[1]))


@pytest.mark.parametrize(
    ("x", "z", "row", "tension", "sentence"),
    [
        (
            [0.0, 6.0, 6.0],
            [0.0] * 3,
            [1, 1, 1],
            300.0,
            "x_m must grow along a row, but goes from 6 to 6 m at",
        ),
        ([0.0, 6.0, 12.0], [0.0] * 3, [1, 2, 1], 300.0, "row must never fall, but goes from 2 to 1 at"),
        ([0.0, 6.0, 12.0], [0.0] * 2, [1, 1, 1], 300.0, "equally long"),
        ([0.0, 6.0, 12.0], [0.0] * 3, [1.0, 1.0, 1.0], 300.0, "whole numbers"),
        ([0.0, np.nan, 12.0], [0.0] * 3, [1, 1, 1], 300.0, "x_m must be finite, but is nan at index 1"),
        ([0.0, 6.0, 12.0], [0.0, np.inf, 0.0], [1, 1, 1], 300.0, "z_m must be finite, but is inf at index 1"),
        ([0.0, 6.0, 12.0], [0.0] * 3, [1, 1, 1], [300.0, 400.0], "one number or one for each of 1 rows"),
        ([0.0, 6.0, 12.0], [0.0] * 3, [1, 1, 1], -5.0, "start_tension_n must be above 0"),
    ],
)
def test_supports_that_make_no_row(
    x: list[float], z: list[float], row: list[int], tension: float | list[float], sentence: str
) -> None:
    with pytest.raises(MechanicsError, match=sentence):
        solve_chain(Supports(np.array(x), np.array(z), np.array(row)), WIRE, np.array(tension))
