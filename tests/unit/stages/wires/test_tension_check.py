"""The sheet by which a crew checks tension: span, sag and give against a wire worked out here, not by the package."""

import numpy as np
import pandas as pd
import pytest
from numpy.typing import NDArray
from scipy.optimize import brentq
from wirerun.arrays import words
from wirerun.geometry.station import Paths
from wirerun.model.layout import Posts, Rows
from wirerun.settings import CheckSettings, PostSettings, WireSettings
from wirerun.stages.wires.end_give import end_give
from wirerun.stages.wires.tension_check import tension_sheet
from wirerun.tables import as_lines

FloatArray = NDArray[np.float64]

# By hand for 2.5 mm steel wire: pi/4 d2 x 7850 kg/m3 x 9.80665 m/s2, and x 200 GPa.
AREA_M2 = np.pi / 4.0 * 0.0025**2
WEIGHT, EA, ALPHA = AREA_M2 * 7850.0 * 9.80665, AREA_M2 * 200e9, 12e-6
STRUNG_N, STRUNG_C, PUSH_N = 300.0, 15.0, 20.0
CHECK = CheckSettings(temperatures_c=(0.0, 15.0, 30.0), side_force_n=PUSH_N)
WIRE = WireSettings(id="lower", kind="foliage", height_m=1.2, tension_n=STRUNG_N)

ODD = (4.0, 5.0, 6.5, 5.5, 4.5)  # checked on the third of five
EVEN = (4.0, 5.0, 6.5, 5.5)  # of four on the third, the one behind the middle


def unstretched(chords: FloatArray, tension: float, across_n_per_m: float = WEIGHT) -> float:
    """Wire of a row at one tension: path of flat parabolas, s = l + w2 l3/(24 T2), less its stretch.

    w is the weight at right angles to the chord: all of it on the level.
    """
    path = chords + across_n_per_m**2 * chords**3 / (24.0 * tension**2)
    return float((path / (1.0 + tension / EA)).sum())


def tension_at(chords: FloatArray, celsius: float) -> float:
    """Tension of the row when its wire, strung at 300 N and 15 C, has another temperature."""
    length = unstretched(chords, STRUNG_N) * (1.0 + ALPHA * (celsius - STRUNG_C))
    return float(brentq(lambda tension: unstretched(chords, tension) - length, 5.0, 5000.0, xtol=1e-9))


def give(span: float, tension: float, row: float) -> float:
    """Deflection under the push: the two halves, made longer, balance it; all of the row's wire shares the stretch."""

    def short(d: float) -> float:
        half = np.hypot(0.5 * span, d)
        pulled = tension + (EA + tension) * (2.0 * half - span) / row
        return float(2.0 * pulled * d / half - PUSH_N)

    return float(brentq(short, 0.0, span, xtol=1e-12))


def posts_on(rows: list[tuple[tuple[float, ...], float]]) -> Posts:
    """Straight rows northward, each a list of horizontal spans on a grade."""
    stations = [np.concatenate(([0.0], np.cumsum(spans))) for spans, _ in rows]
    row = np.repeat(np.arange(len(rows)), [len(station) for station in stations])
    station = np.concatenate(stations)
    length = np.array([station[-1] for station in stations])
    start = np.c_[2.4 * np.arange(len(rows)), np.zeros(len(rows))]
    paths = Paths.straight(start, start + np.c_[np.zeros(len(rows)), length])
    laid = Rows("B01", words(f"B01-R{n + 1:03d}" for n in range(len(rows))), np.zeros(len(rows)), length, paths)
    ground = 400.0 + np.array([grade for _, grade in rows])[row] * station
    ids = words(f"P{number}" for number in range(len(row)))
    return Posts(laid, row, ids, station, paths.place(row, station), ground, station, np.zeros(len(row)))


def sheet(rows: list[tuple[tuple[float, ...], float]], strung_m: list[float]) -> pd.DataFrame:
    """The sheet of straight rows with their wire as strung, a line for each temperature and row."""
    posts = posts_on(rows)
    made = tension_sheet(
        posts, np.array([strung_m]), end_give(posts, (WIRE,), PostSettings()), (WIRE,), STRUNG_C, CHECK
    )
    return pd.DataFrame(
        {
            "row_id": np.tile(posts.rows.row_id, len(made.celsius)),
            "temperature_c": np.repeat(made.celsius, len(rows)),
            "tension_n": made.tension_n[0].ravel(),
            "span_m": np.tile(made.span_m, len(made.celsius)),
            "sag_mm": 1000.0 * made.sag_m[0].ravel(),
            "side_force_n": made.side_force_n,
            "deflection_mm": 1000.0 * made.deflection_m[0].ravel(),
            "gauge_n": made.gauge_n[0].ravel(),
            "gauge_stuck_n": made.gauge_stuck_n[0].ravel(),
        }
    )


@pytest.mark.parametrize("spans", [ODD, EVEN])
def test_the_middle_span_of_a_level_row(spans: tuple[float, ...]) -> None:
    chords = np.array(spans)
    lines = sheet([(spans, 0.0)], [unstretched(chords, STRUNG_N)])
    assert lines["span_m"].tolist() == pytest.approx([6.5, 6.5, 6.5], abs=1e-12)
    assert lines["side_force_n"].tolist() == [PUSH_N] * 3
    for line in as_lines(lines):
        tension = tension_at(chords, line["temperature_c"])
        assert line["tension_n"] == pytest.approx(tension, rel=1e-4)
        assert line["sag_mm"] == pytest.approx(1000.0 * WEIGHT * 6.5**2 / (8.0 * tension), rel=1e-3)
        assert line["deflection_mm"] == pytest.approx(1000.0 * give(6.5, tension, chords.sum()), rel=1e-4)
        # Near what the rule of the field says, P l/(4 T), and below it: the push stretches the wire.
        rule = 1000.0 * PUSH_N * 6.5 / (4.0 * tension)
        assert 0.4 * rule < line["deflection_mm"] < rule
    strung = lines[lines["temperature_c"] == STRUNG_C].iloc[0]
    assert strung["tension_n"] == pytest.approx(STRUNG_N, abs=0.01)
    # A colder wire is tighter: less sag, less give.
    assert lines["tension_n"].is_monotonic_decreasing
    assert lines["sag_mm"].is_monotonic_increasing
    assert lines["deflection_mm"].is_monotonic_increasing


def test_in_a_long_row_the_give_is_the_rule_of_the_field() -> None:
    spans = (6.0,) * 401
    lines = sheet([(spans, 0.0)], [unstretched(np.array(spans), STRUNG_N)])
    strung = lines[lines["temperature_c"] == STRUNG_C].iloc[0]
    # P l/(4 T) is exact but for the square of the slope, 0.0011, and a stretch shared by 2.4 km.
    assert strung["deflection_mm"] == pytest.approx(1000.0 * PUSH_N * 6.0 / (4.0 * STRUNG_N), rel=0.01)


def test_on_a_slope_the_span_is_in_plan_and_the_wire_pushed_is_the_tighter_one_up_there() -> None:
    grade, secant = 0.6, np.hypot(1.0, 0.6)
    chords = secant * np.array(ODD)
    # Strung so that it has 300 N half-way up the row, where 12.75 m of 25.5 m lie.
    lines = sheet([(ODD, grade)], [unstretched(chords, STRUNG_N, WEIGHT / secant)])
    strung = lines[lines["temperature_c"] == STRUNG_C].iloc[0]
    assert strung["span_m"] == pytest.approx(6.5, abs=1e-12)
    assert strung["tension_n"] == pytest.approx(STRUNG_N - WEIGHT * grade * 12.75, abs=0.05)
    # The span checked begins 9 m along: so much higher than the first post.
    tension = strung["tension_n"] + WEIGHT * grade * 9.0
    assert strung["deflection_mm"] == pytest.approx(1000.0 * give(6.5 * secant, tension, chords.sum()), rel=1e-3)
    assert strung["sag_mm"] == pytest.approx(1000.0 * WEIGHT * 6.5**2 * secant / (8.0 * tension / secant), rel=0.01)


def test_rows_do_not_mix_and_what_is_not_known_stays_empty() -> None:
    odd, even = unstretched(np.array(ODD), STRUNG_N), unstretched(np.array(EVEN), STRUNG_N)
    lines = sheet([(ODD, 0.0), (EVEN, 0.0), (ODD, 0.0)], [odd, even, 1.3 * odd])
    assert lines["row_id"].tolist() == ["B01-R001", "B01-R002", "B01-R003"] * 3
    alone = sheet([(EVEN, 0.0)], [even])
    second = lines[lines["row_id"] == "B01-R002"].reset_index(drop=True)
    for name in ("temperature_c", "tension_n", "span_m", "sag_mm", "deflection_mm", "gauge_n", "gauge_stuck_n"):
        np.testing.assert_allclose(second[name], alone[name], rtol=1e-12)
    loose = lines[lines["row_id"] == "B01-R003"]
    assert loose[["tension_n", "sag_mm", "deflection_mm"]].isna().all(axis=None)
    assert loose["span_m"].tolist() == [6.5] * 3


def test_the_gauge_reads_nearly_alike_whether_the_wire_slides_or_sticks() -> None:
    """Two half spans of 0.5 m, 10 mm out: 4 T d / b, T being what was set and the stretch, EA 2 d^2 / (b l).

    A push with 20 N at mid-span gives way by half as much again where it slides: it cannot tell 300 from 480 N.
    """
    spans = (6.0,) * 27
    lines = sheet([(spans, 0.0)], [unstretched(np.array(spans), STRUNG_N)])
    strung = lines[lines["temperature_c"] == STRUNG_C].iloc[0]
    slid, stuck = strung["gauge_n"], strung["gauge_stuck_n"]
    stiffness = 200e9 * np.pi * 0.0025**2 / 4.0
    assert slid == pytest.approx(4.0 * (STRUNG_N + stiffness * 2.0 * 0.01**2 / 162.0) * 0.01, rel=1e-3)
    assert stuck == pytest.approx(4.0 * (STRUNG_N + stiffness * 2.0 * 0.01**2 / 6.0) * 0.01, rel=1e-3)
    assert 1.05 < stuck / slid < 1.15
    assert give(6.0, STRUNG_N, 162.0) / give(6.0, STRUNG_N, 6.0) > 1.4
