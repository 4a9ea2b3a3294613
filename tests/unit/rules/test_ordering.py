"""Whole packs, and money to the cent."""

import numpy as np
from wirerun.rules.ordering import SUPPLIES, money, packs_for
from wirerun.tables.supply import MATERIAL_KINDS


def test_packs_are_whole_and_none_is_bought_for_nothing() -> None:
    pieces, pack = np.array([0, 1, 100, 101, 250]), np.array([100, 100, 100, 100, 1])
    assert packs_for(pieces, pack).tolist() == [0, 1, 1, 2, 250]


def test_money_is_to_the_cent_halves_up_and_unknown_without_a_price() -> None:
    """By hand: 3 x 0.115 = 0.345, in binary below the half cent, and 7 x 0.0215 = 0.1505."""
    found = money(np.array([3, 7, 1000, 5]), np.array([0.115, 0.0215, 0.0175, np.nan]))
    assert found[:3].tolist() == [0.35, 0.15, 17.5]
    assert np.isnan(found[3])


def test_every_kind_of_thing_has_a_supplier_to_go_to() -> None:
    assert set(MATERIAL_KINDS) <= set(SUPPLIES)
