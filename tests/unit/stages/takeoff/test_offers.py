"""What the catalogue asks: which of several prices, how finely, in what packs."""

import numpy as np
from wirerun.settings.catalogue import ToolItem

from tests.unit.stages.takeoff.test_materials import ORIGIN, catalogue, changed, clip, made, plan, staple


def test_prices_are_taken_to_a_hundredth_of_a_cent() -> None:
    """0.12345 is 0.1235, as printed: 2000 staples are 247.00, neither 246.90 nor 246.00."""
    clips = plan().clips.iloc[:1].assign(pieces=2000)
    bought = made(changed(plan(), clips=clips), catalogue(fixings=(staple("ringed staple", 0.12345),)))[0]
    assert bought.loc[["ringed staple"], ["unit_price", "total"]].to_numpy().tolist() == [[0.1235, 247.0]]


def test_at_one_price_the_largest_pack_is_taken_and_an_unpriced_one_is_passed_over() -> None:
    clips = plan().clips.assign(fixing=np.array(["ringed staple", "closing clip, two screws", "a", "b"], dtype=object))
    fixings = (
        clip("a", 0.2, 0.03, fastener_pack=50),
        clip("closing clip, two screws", 0.36, 0.03, fastener_pack=20),
        clip("b", 0.2, None, fastener_pack=99),
        staple("ringed staple", 0.12),
    )
    screw = made(changed(plan(), clips=clips), catalogue(fixings=fixings))[0].loc["screw"]
    assert (screw["unit_price"], screw["pack"]) == (0.03, 50)
    assert screw["price_source"] == "offer of a merchant, 2025-01-31"


def test_tools_are_one_for_the_crew_or_for_each_person_and_bought_one_by_one() -> None:
    """A crew of three: pliers for each at 12.50, one vice at 30, which goes along whatever the task."""
    tools = (
        ToolItem(id="pliers", per="person", always=False, price=12.5, **ORIGIN),
        ToolItem(id="vice", per="crew", always=True, price=30.0, **ORIGIN),
    )
    materials, zones, _ = made(known=catalogue(tools=tools))
    columns = ["quantity", "pack", "packs", "total"]
    assert materials.loc[["pliers", "vice"], columns].to_numpy().tolist() == [[3, 1, 3, 37.5], [1, 1, 1, 30.0]]
    assert materials.loc["vice", "used_for"] == "every task"
    assert zones.loc[zones["item"] == "pliers", "quantity"].tolist() == [3, 3]
    assert zones.loc[zones["item"] == "vice", "quantity"].tolist() == [1, 1]
