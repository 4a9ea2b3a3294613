"""What a test of ten clips says, against published factors and simulated clips."""

import datetime as dt
from typing import Any

import numpy as np
import pytest
from pydantic import ValidationError
from wirerun.rules.clip_test import characteristic_n, held_down_n
from wirerun.settings.fixing_item import FixingItem

CLIP: dict[str, Any] = {
    "id": "clip",
    "kind": "screw-fixed clip",
    "holds": "down",
    "lets_go_n": 200.0,
    "fixes_to": "timber",
    "fastener_kind": "screw",
    "shank": "threaded",
    "fastener_diameter_mm": 4.0,
    "fastener_length_mm": 26.0,
    "driven": "screwdriver",
    "net_safe": True,
    "minutes": 0.4,
    "source": "made up in this test",
    "date": dt.date(2026, 1, 2),
}


# Factors k for the 5 % fractile with 75 % confidence, standard deviation not known: EN 14358:2016, table 1, as copied
# in nachoosuarez/Tarea-de-Maderas, scripts/04_valores_caracteristicos.py.
@pytest.mark.parametrize(("count", "factor"), [(3, 3.15), (5, 2.46), (10, 2.10), (20, 1.93), (50, 1.81)])
def test_the_factor_is_the_published_one(count: int, factor: float) -> None:
    """Pulls whose logarithms lie evenly about 2.5 with a standard deviation of 0.3."""
    logs = np.linspace(-1.0, 1.0, count)
    logs *= 0.3 / logs.std(ddof=1)
    got = (2.5 - np.log(characteristic_n(list(np.exp(2.5 + logs))))) / 0.3
    assert got == pytest.approx(factor, abs=0.006)


def test_three_times_in_four_no_more_than_one_in_twenty_holds_less() -> None:
    """Ten clips of a log-normal kind, 4000 times: what comes out is below its true 5 % fractile in 75 % of them."""
    draw = np.random.default_rng(5)
    true = np.exp(2.5 - 1.6449 * 0.25)
    found = [characteristic_n(list(pulls)) for pulls in np.exp(draw.normal(2.5, 0.25, (4000, 10)))]
    assert np.mean(np.array(found) <= true) == pytest.approx(0.75, abs=0.025)


def test_clips_that_are_alike_are_not_taken_at_their_word() -> None:
    assert characteristic_n([10.0] * 10) == pytest.approx(10.0 * np.exp(-2.1037 * 0.05), rel=1e-3)
    assert characteristic_n([0.0, *[10.0] * 9]) == 0.0


def test_the_test_goes_before_the_typed_value() -> None:
    tests = "12 15 11 14 18 13 12 16 14 13"
    assert held_down_n(FixingItem(**CLIP)) is None
    assert held_down_n(FixingItem(**CLIP, hold_down_n=7.0)) == 7.0
    assert held_down_n(FixingItem(**CLIP, hold_down_n=7.0, hold_down_tests_n=tests)) == pytest.approx(10.0, abs=0.05)


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"hold_down_tests_n": "12 13 14"}, "3 pulls are too few; 5 or more are wanted, better ten"),
        ({"hold_down_tests_n": "12 13 14 15 1,6"}, '"1,6" is no pull in newtons'),
        ({"holds": "both", "hold_down_n": 5.0}, 'this one holds "both"'),
    ],
)
def test_what_is_no_test_is_refused(changes: dict[str, Any], sentence: str) -> None:
    with pytest.raises(ValidationError, match=sentence):
        FixingItem(**CLIP | changes)
