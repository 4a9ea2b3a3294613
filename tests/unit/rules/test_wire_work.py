"""What joins, coils carried and walks cost, worked by hand; and what silent catalogues are weighed by."""

import datetime as dt
from typing import Any

import pytest
from wirerun.rules.wire_work import CoilPrices, cheapest_end, coil_prices
from wirerun.settings import Catalogue, WorkSettings
from wirerun.settings.catalogue import RateItem, WireEndItem, WireItem

ORIGIN: dict[str, Any] = {"source": "made up in this test", "date": dt.date(2026, 1, 2)}
SLEEVE = WireEndItem(id="sleeve", use="join", pieces=2, price=0.5, **ORIGIN)
KNOT = WireEndItem(id="knot", use="join", pieces=1, price=1.5, **ORIGIN)
UNPRICED = WireEndItem(id="unpriced", use="join", pieces=1, **ORIGIN)
TIE = WireEndItem(id="tie", use="tie-off", pieces=1, price=0.1, **ORIGIN)
RATES = (
    RateItem(id="join", per="join", minutes=6.0, **ORIGIN),
    RateItem(id="carry coils", per="coil", minutes=15.0, **ORIGIN),
)


def wire(price: float | None) -> WireItem:
    return WireItem(
        id="wire", diameter_mm=2.5, grade="medium tensile", breaking_n=3000.0, coil_kg=25.0, price=price, **ORIGIN
    )


def prices(price: float | None, hour: float | None, *, to_weigh: bool, silent: bool = False) -> CoilPrices:
    """Of a coil at so much and an hour at so much; walking at 50 m/min, with a catalogue that says all, or nothing."""
    known = Catalogue() if silent else Catalogue(wire_ends=(KNOT, SLEEVE, TIE, UNPRICED), rates=RATES)
    work = WorkSettings(labour_per_hour=hour, walking_m_per_min=50.0)
    return coil_prices(wire(price), known, work, to_weigh=to_weigh)


def test_the_cheapest_end_is_by_all_its_pieces_and_what_has_no_price_comes_last() -> None:
    assert cheapest_end((UNPRICED, KNOT, SLEEVE, TIE), "join") == SLEEVE
    assert cheapest_end((UNPRICED, TIE), "join") == UNPRICED
    assert cheapest_end((TIE,), "join") is None


@pytest.mark.parametrize("to_weigh", [False, True])
def test_what_the_catalogue_and_the_config_say(to_weigh: bool) -> None:  # noqa: FBT001 - a case
    """At 20 an hour: 6 min are 2, 15 min are 5, and out and back along a metre of row takes 2/50 min: 0.01333."""
    made = prices(158.0, 20.0, to_weigh=to_weigh)
    assert (made.coil, made.joiner, made.join_work, made.carry_work) == pytest.approx((158.0, 1.0, 2.0, 5.0))
    assert made.walk_per_m == pytest.approx(20.0 * 2.0 / 50.0 / 60.0)


def test_what_nobody_says_is_left_out_of_costs() -> None:
    assert prices(None, None, to_weigh=False) == CoilPrices(0.0, 1.0, 0.0, 0.0, 0.0)
    assert prices(158.0, 20.0, to_weigh=False, silent=True) == CoilPrices(158.0, 0.0, 0.0, 0.0, 20.0 * 2 / 50.0 / 60.0)


@pytest.mark.parametrize(
    ("coil", "hour", "wanted_coil", "wanted_hour"),
    [
        (100.0, None, 100.0, 25.0),  # an hour as a quarter of a coil
        (None, 30.0, 120.0, 30.0),
        (None, None, 80.0, 20.0),
    ],
)
def test_to_weigh_one_way_against_another_what_is_silent_is_given_a_price(
    coil: float | None, hour: float | None, wanted_coil: float, wanted_hour: float
) -> None:
    made = prices(coil, hour, to_weigh=True, silent=True)
    assert made.coil == pytest.approx(wanted_coil)
    # Five minutes for a join and three to carry a coil, as in the demo's rates.
    assert made.join_work == pytest.approx(wanted_hour * 5.0 / 60.0)
    assert made.carry_work == pytest.approx(wanted_hour * 3.0 / 60.0)
