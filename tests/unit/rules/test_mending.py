"""What a wire is joined with."""

import datetime as dt
from typing import Any

import pytest
from wirerun.rules.mending import join_of
from wirerun.settings import Catalogue, RepairSettings, WireSettings
from wirerun.settings.catalogue import WireEndItem

WIRE = WireSettings(id="lower", kind="foliage", height_m=1.2, breaking_n=6000.0, knot_efficiency=0.6)
REPAIR = RepairSettings(overlap_m=0.2)


def join(name: str, price: float, **more: Any) -> WireEndItem:  # noqa: ANN401 - columns
    origin = {"source": "made up in this test", "date": dt.date(2026, 1, 2)}
    return WireEndItem.model_validate({"id": name, "use": "join", "pieces": 1, "price": price} | more | origin)


def test_the_cheapest_join_with_what_the_catalogue_says_of_it() -> None:
    known = Catalogue(wire_ends=(join("dear", 3.0), join("sleeve", 0.5, overlap_mm=80.0, strength_share=0.9)))
    item, overlap_m, bears_n = join_of(WIRE, known, REPAIR)
    assert item is not None
    assert item.id == "sleeve"
    assert (overlap_m, bears_n) == pytest.approx((0.08, 5400.0))


@pytest.mark.parametrize("known", [Catalogue(), Catalogue(wire_ends=(join("plain", 0.5),))])
def test_where_it_says_nothing_the_settings_overlap_and_the_strength_of_an_end_knot(known: Catalogue) -> None:
    assert join_of(WIRE, known, REPAIR)[1:] == pytest.approx((0.2, 3600.0))


def test_an_overlap_of_nothing_is_an_overlap() -> None:
    assert join_of(WIRE, Catalogue(wire_ends=(join("butt", 0.5, overlap_mm=0.0),)), REPAIR).overlap_m == 0.0
