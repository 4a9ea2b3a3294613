"""Sets of fixings compared where several wires go over one post."""

import datetime as dt

import numpy as np
from wirerun.settings.fixing_item import FixingItem
from wirerun.stages.clips.fixing_sets import Asked, Offers, compare_sets


def hook(name: str, price: float) -> FixingItem:
    return FixingItem.model_validate(
        {"id": name, "kind": "hook", "holds": "both", "fixes_to": "steel", "lets_go_n": 500.0, "price": price}
        | {"fastener_kind": "none", "shank": "none", "driven": "none", "minutes": 0.5, "net_safe": True}
        | {"fasteners": 0, "fastener_diameter_mm": 0.0, "fastener_length_mm": 0.0}
        | {"source": "made up in this test", "date": dt.date(2026, 1, 2)}
    )


def test_a_wire_is_held_beside_one_that_cannot_be() -> None:
    """Three wires over one post: what holds the second is dear, the third holds by either, and nothing the first.

    The post is unheld by every set; so cheap alone, or nothing at all, would leave no more posts unheld than both.
    """
    offers = Offers.of((hook("cheap", 0.1), hook("dear", 0.9)), None)
    holds = np.array([[False, False], [False, True], [True, True]])
    asked = Asked(np.zeros(3, np.int64), np.full(3, 2), np.ones(3), np.zeros(3, np.int64), holds)
    for most_kinds, best in ((2, [-1, 1, 0]), (1, [-1, 1, 1])):
        made = compare_sets("clip", asked, offers, most_kinds)
        assert made.best.tolist() == best
        assert [option.unheld[0] for option in made.options] == [1] * len(made.options)
