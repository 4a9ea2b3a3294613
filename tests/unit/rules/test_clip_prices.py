"""From which probability of the need on a two-way clip is planned, worked by hand."""

import datetime as dt
from typing import Any

import numpy as np
import pytest
from wirerun.findings import Findings
from wirerun.rules.clip_prices import ClipPrices, clip_prices
from wirerun.rules.from_catalogue import take_from_catalogue
from wirerun.rules.post_prices import post_prices
from wirerun.settings import Catalogue, Config
from wirerun.settings.catalogue import RateItem
from wirerun.settings.fixing_item import FixingItem

ORIGIN: dict[str, Any] = {"source": "made up in this test", "date": dt.date(2026, 1, 2)}


def clip(name: str, holds: str, price: float, minutes: float) -> FixingItem:
    return FixingItem(
        id=name,
        kind="screw-fixed clip",
        holds=holds,
        lets_go_n=200.0,
        fixes_to="timber",
        fastener_kind="screw",
        shank="threaded",
        fastener_diameter_mm=4.0,
        fastener_length_mm=26.0,
        driven="screwdriver",
        net_safe=True,
        minutes=minutes,
        removal_minutes=0.5,
        price=price,
        **ORIGIN,
    )


def catalogue(look_minutes: float = 2.0) -> Catalogue:
    """At 18 an hour a one-way clip costs 0.35, a two-way one 0.71, to take one off 0.15; to come back 3.00 a post."""
    rates = (("change kind", "change", 1.0), ("look", "post", look_minutes), ("come back", "post", 10.0))
    return Catalogue(
        fixings=(clip("open", "down", 0.2, 0.5), clip("closing", "both", 0.5, 0.7)),
        rates=tuple(RateItem(id=name, per=per, minutes=minutes, **ORIGIN) for name, per, minutes in rates),
    )


def config(**undulation: Any) -> Config:  # noqa: ANN401 - settings of the section
    """One wire of two lines with a clip at its own height and one above: four clips a post."""
    return Config.model_validate(
        {
            "name": "x",
            "block": {"boundary": "b"},
            "elevation": {"raster": "r"},
            "rows": {"bearing_deg": 0.0, "spacing_m": 2.4},
            "wires": [{"id": "lower", "kind": "foliage", "height_m": 1.2, "lines": 2}],
            "work": {"labour_per_hour": 18.0},
            "undulation": undulation,
        }
    )


def test_prices_by_hand() -> None:
    prices = clip_prices(config(), catalogue(), None)
    clips = prices.one_way / 0.35
    assert clips == pytest.approx(round(clips))
    assert prices.two_way == pytest.approx(clips * 0.36)
    assert prices.change_clips == pytest.approx(clips * (0.71 + 0.15))
    assert (prices.change_kind, prices.come_back, prices.look) == pytest.approx((0.3, 3.0, 0.6))


@pytest.mark.parametrize("look", [0.05, 0.6, 5.0])
def test_below_the_probability_a_one_way_clip_costs_less_and_above_it_more(look: float) -> None:
    """Of all ways to leave a one-way clip, coming back and looking, the cheaper counts."""
    prices = ClipPrices(1.4, 1.44, 0.3, 3.44, 3.0, look)
    least, dearer = prices.two_way_from, 1.44 + 0.3

    def one_way(probability: np.ndarray) -> np.ndarray:
        return np.minimum(probability * (3.44 + 3.0), look + probability * 3.44)

    said = np.linspace(0.001, 0.94, 500)
    assert ((one_way(said) > dearer) == (said > least)).all()


def test_what_is_certain_is_planned_at_any_price_and_what_is_not_possible_at_none() -> None:
    assert ClipPrices(1.0, 50.0, 0.0, 1.0, 1.0, 0.6).two_way_from == 0.95
    assert ClipPrices(1.0, 0.0, 0.0, 1.0, 1.0, 0.6).two_way_from == 0.05


def test_by_price_is_what_a_config_asks_for_by_saying_nothing_and_it_is_told() -> None:
    notes = Findings()
    filled = take_from_catalogue(config(), catalogue(), notes)
    assert filled.undulation.planned_from == clip_prices(config(), catalogue(), None).two_way_from
    (told,) = [note.message for note in notes if note.code == "clips-by-price"]
    assert f"{filled.undulation.planned_from:.2g}" in told


@pytest.mark.parametrize(("asked", "least"), [({"plan_for": "likely"}, 0.5), ({"two_way_from": 0.3}, 0.3)])
def test_a_certainty_or_a_probability_of_the_config_overrides_the_prices(asked: dict[str, Any], least: float) -> None:
    notes = Findings()
    filled = take_from_catalogue(config(**asked), catalogue(), notes)
    assert filled.undulation.planned_from == least
    assert not [note for note in notes if note.code == "clips-by-price"]


def test_a_missed_clip_costs_what_coming_back_does_or_what_the_certainty_says() -> None:
    filled = take_from_catalogue(config(), catalogue())
    assert post_prices(filled, catalogue()).missed == clip_prices(filled, catalogue(), None).missed
    likely = take_from_catalogue(config(plan_for="likely"), catalogue())
    prices = post_prices(likely, catalogue())
    change = clip_prices(likely, catalogue(), None).change_kind
    assert prices.missed == pytest.approx(2.0 * (prices.two_way + change))
