"""How measures are written, metric and imperial, against exact definitions."""

import math
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st
from wirerun.units import IMPERIAL, METRIC, Measure, Units, fixed, units_of

#: What one of each imperial unit is, exactly: international yard and pound agreement of 1959.
EXACT = {"ft": 0.3048, "in": 0.0254, "lbf": 0.45359237 * 9.80665, "ac": 4840 * 0.9144**2 / 1e4}
FRACTIONS = {"\u00bc": 0.25, "\u00bd": 0.5, "\u00be": 0.75}


def read(shown: str) -> float:
    """Return the number that a person reads."""
    sign = -1.0 if shown.startswith("-") else 1.0
    shown = shown.removeprefix("-")
    if feet := re.fullmatch(r"(\d+)'(\d+)\"", shown):
        return sign * (int(feet[1]) + int(feet[2]) / 12.0)
    part = FRACTIONS.get(shown[-1], 0.0)
    return sign * (float(shown[:-1] or 0) + part if part else float(shown))


@pytest.mark.parametrize(
    ("value", "decimals", "shown"),
    [(17.449, 1, "17.4"), (-0.04, 1, "0.0"), (None, 1, "\u2013"), (math.nan, 0, "\u2013"), (300.0, 0, "300")],
)
def test_numbers(value: float | None, decimals: int, shown: str) -> None:
    assert fixed(value, decimals) == shown


@given(st.floats(-1e5, 1e5), st.integers(0, 3))
def test_a_number_is_the_schedules_to_half_its_last_digit(value: float, decimals: int) -> None:
    assert float(fixed(value, decimals)) == pytest.approx(value, abs=0.5001 * 10.0**-decimals)


@pytest.mark.parametrize(
    ("measure", "value", "metric", "imperial"),
    [
        ("wire", 17.45, "17.5 m", "57.3 ft"),
        ("far", 185.353, "185 m", "608 ft"),
        ("place", 5.471, "5.47 m", "17'11\""),
        ("place", 3.65, "3.65 m", "12'0\""),  # 11'11.7": never 11'12"
        ("height", 1.9, "1.90 m", "75 in"),
        ("height", 0.9, "0.90 m", "35\u00bd in"),
        ("ground", 393.088, "393.1 m", "1289.7 ft"),
        ("small", 136.4, "135 mm", "5\u00bc in"),
        ("small", 7.3, "5 mm", "\u00bc in"),
        ("small", 0.0, "0 mm", "0 in"),
        ("fine", 1000.0, "1000 mm", "39.37 in"),
        ("thick", 3.15, "3.15 mm", "0.124 in"),
        ("force", 300.0, "300 N", "67 lbf"),
        ("force", 1374.04, "1370 N", "309 lbf"),
        ("reading", 15.1, "15.0 N", "3.4 lbf"),
        ("warmth", 15.0, "15 \u00b0C", "59 \u00b0F"),
        ("warmth", -40.0, "-40 \u00b0C", "-40 \u00b0F"),
        ("area", 8.05, "8.05 ha", "19.89 ac"),
    ],
)
def test_measures(measure: str, value: float, metric: str, imperial: str) -> None:
    assert getattr(METRIC, measure)(value) == metric
    assert getattr(IMPERIAL, measure)(value) == imperial


@pytest.mark.parametrize("system", [METRIC, IMPERIAL], ids=lambda units: units.system)
@given(value=st.floats(-5e3, 5e3))
def test_what_is_written_is_what_is_meant_to_half_a_step(system: Units, value: float) -> None:
    for name in Units.__slots__[1:]:
        measure: Measure = getattr(system, name)
        meant = value / measure.metric + measure.zero
        assert read(measure.bare(value)) == pytest.approx(meant, abs=0.5001 * measure.step + 1e-9), name


def test_imperial_units_are_as_defined() -> None:
    for measure, unit, of in (("wire", "ft", 1.0), ("small", "in", 1e3), ("force", "lbf", 1.0), ("area", "ac", 1.0)):
        assert getattr(IMPERIAL, measure).sign == unit
        assert getattr(IMPERIAL, measure).metric == pytest.approx(of * EXACT[unit], rel=1e-12)


def test_what_is_not_known_has_a_dash_and_no_unit() -> None:
    assert METRIC.force(None) == IMPERIAL.place(math.nan) == "\u2013"


def test_amounts_keep_their_unit_but_for_metres() -> None:
    assert METRIC.quantity(962.67, "m") == ("962.7", "m")
    assert IMPERIAL.quantity(962.67, "m") == ("3158.4", "ft")
    assert IMPERIAL.quantity(38.0, "post") == ("38", "post")
    assert METRIC.quantity(12.5, "piece") == ("12.5", "piece")


def test_heights_in_words_are_rewritten_and_nothing_else() -> None:
    words = "1.20 strung, 1.45 lifted (upper 2)"
    assert METRIC.heights_in(words) == words
    assert IMPERIAL.heights_in(words) == "47 strung, 57 lifted (upper 2)"


def test_a_system_is_asked_for_by_name() -> None:
    assert units_of("metric") is METRIC
    assert units_of("imperial") is IMPERIAL
