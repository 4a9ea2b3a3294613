"""What a plan comes to, on the small plan of the writers: as its tables say, and with what is in none of them."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from wirerun.clip_need import ClipNeed
from wirerun.errors import Fault
from wirerun.findings import CODES, Finding
from wirerun.missing import MissingBlock
from wirerun.records import Plan, finding_table
from wirerun.rounding import rounded
from wirerun.rules.finding_groups import STAKES, TO_KNOW, finding_groups, stake_of
from wirerun.rules.headline import ORDERED, headline, what_stands
from wirerun.settings import Catalogue
from wirerun.settings.fixing_item import FixingItem
from wirerun.tables.supply import MATERIAL_KINDS
from wirerun.wording import many

Maker = Callable[..., Plan]


def test_it_adds_up_what_the_tables_hold(plan: Plan) -> None:
    told = headline(plan)
    # Spares are ordered, tools are not: they are at hand or in the sum.
    assert [(one.name, one.pieces) for one in told.order] == [("Coils of wire", 1), ("Clips", 42)]
    costs = plan.costs.set_index("part")
    assert (told.currency, told.total, told.total_per_ha) == ("EUR", *costs.loc["sum", ["total", "per_ha"]])
    things = costs["total"].drop("sum")
    bought = things[things.index.isin(MATERIAL_KINDS)].sum()
    # The hours of the small plan have no price.
    assert told.materials == pytest.approx(bought)
    assert told.labour is None
    assert told.materials + told.other == pytest.approx(things.sum())
    assert (told.hours, told.people, told.days) == (6.25, plan.config.work.people, 0.26)
    look = plan.posts[plan.posts["clip_need"] == ClipNeed.LOOK]
    assert (told.look_posts, told.look_rows) == (len(look), look["row_id"].nunique())


def test_what_is_shown_is_said_once_in_whole_figures(plan: Plan) -> None:
    told = headline(plan)
    assert [(fact.words, fact.figure, fact.unit, fact.part) for fact in told.facts] == [
        ("Cost of all priced", rounded(told.total or 0.0), "EUR", False),
        ("materials", rounded(told.materials), "EUR", True),
        ("labour", None, "EUR", True),
        ("carting, hire, freight, reserve", rounded(told.other), "EUR", True),
        ("per hectare", rounded(told.total_per_ha or 0.0), "EUR", True),
        ("Days of a crew of 3", 1, "", False),
        ("labour hours", 6, "", True),
        ("Rows to check on site", told.look_rows, "", False),
        ("such posts", told.look_posts, "", True),
    ]


def test_many_missing_blocks_are_named_and_counted(plan: Plan) -> None:
    gone = tuple(MissingBlock(f"B{number:02d}", (Fault("ground.tif", "", "No ground."),)) for number in range(2, 12))
    lacks = headline(replace(plan, missing=gone)).lacks
    assert [words for words in lacks if "planned" in words][-1] == "4 more blocks are not planned: see the findings."
    assert sum("No ground." in words for words in lacks) == 6


def test_every_kind_of_thing_has_a_name_in_the_order() -> None:
    assert set(ORDERED) == set(MATERIAL_KINDS) - {"tool"}


def test_what_is_in_none_of_the_numbers_is_told(plan: Plan, plan_maker: Maker) -> None:
    told = " ".join(headline(plan).lacks)
    assert "1 row, 21 m, in no number here: no ground heights. B01-R003." in told
    for part in plan.costs.loc[plan.costs["part"] == "sum", "unpriced"].iloc[0].split("; "):
        assert part in told
    assert "1 kind of tool without a price" in told
    clips = plan.clips.assign(fixing=None)
    held = clips.loc[clips["clip"].notna(), "post_id"].nunique()
    assert f"{held} posts at which no fixing" in " ".join(headline(plan_maker(clips=clips)).lacks)
    beyond = plan.adjusters.assign(kind=None)
    assert f"{len(beyond)} lines of wire without an adjuster" in " ".join(headline(plan_maker(adjusters=beyond)).lacks)


def test_what_stands_is_counted_and_told(plan: Plan, plan_maker: Maker) -> None:
    assert what_stands(plan) == ""
    some = pd.Series(["yes", *["no"] * (len(plan.posts) - 1)], dtype="str")
    clips = plan.clips.assign(standing_pieces=[3, *[0] * (len(plan.clips) - 1)])
    wires = plan.wires.assign(standing=np.where(plan.wires["wire_id"] == plan.wires["wire_id"].iloc[0], "yes", "no"))
    posts, adjusters = plan.posts.assign(standing=some), plan.adjusters.assign(standing="yes")
    made = plan_maker(posts=posts, clips=clips, wires=wires, adjusters=adjusters)
    told = f"1 post, 3 fixings, {many(len(adjusters), 'adjuster')}, the wire {plan.wires['wire_id'].iloc[0]}"
    assert what_stands(made) == told
    assert headline(made).lacks[-1] == f"Stand already, so in no order, cost or hour: {told}."


def test_a_post_whose_fixings_all_stand_lacks_none(plan: Plan, plan_maker: Maker) -> None:
    asked = plan.clips["clip"].notna() & (plan.clips["pieces"] > 0)
    first = asked.to_numpy().nonzero()[0][0]
    held = pd.Series("some", index=plan.clips.index, dtype="str").where(np.arange(len(plan.clips)) != first)
    bare = plan.clips.assign(fixing=held)
    assert "1 post at which no fixing" in " ".join(headline(plan_maker(clips=bare)).lacks)
    stands = bare.assign(standing_pieces=np.where(np.arange(len(bare)) == first, bare["pieces"], 0))
    assert "no fixing" not in " ".join(headline(plan_maker(clips=stands)).lacks)


def test_a_plan_without_prices_has_no_sum(plan_maker: Maker, plan: Plan) -> None:
    costs = plan.costs.assign(total=np.nan, per_ha=np.nan, per_row_m=np.nan)
    told = headline(plan_maker(costs=costs))
    assert (told.total, told.total_per_ha) == (None, None)
    assert headline(plan_maker(costs=plan.costs.iloc[:0])).total is None


def test_findings_come_by_code_and_the_dearest_first(plan_maker: Maker, plan: Plan) -> None:
    found = (
        Finding("zones", "B01", "First."),
        Finding("look-on-site", "B01", "Look."),
        Finding("steep-row", "B01-R001", "Steep."),
        Finding("no-price", "catalogue", "No price."),
        Finding("zones", "B02", "Second."),
        Finding("row-left-out", "B01", "Left out."),
        Finding("no-fixing", "B01", "None holds."),
    )
    made = plan_maker(findings=finding_table(found))
    groups = finding_groups(made)
    assert [one.code for one in groups] == [
        "row-left-out",
        "no-fixing",
        "steep-row",
        "no-price",
        "look-on-site",
        "zones",
    ]
    assert all(set(made.findings["code"].iloc[list(one.lines)]) == {one.code} for one in groups)
    assert sorted(line for one in groups for line in one.lines) == list(range(len(found)))
    cost = {one.code: one.cost for one in groups}
    # 21.25 m left out, at what a metre of the others costs.
    assert cost["row-left-out"] == pytest.approx(21.25 * plan.costs["per_row_m"].iloc[-1])
    assert cost["zones"] is None
    assert groups[-1].meaning == CODES["zones"][1]


def test_what_hangs_on_invented_prices_is_their_sum(plan_maker: Maker, plan: Plan) -> None:
    sources = pd.Series(["invented for the demo, 2026-11-25", "a merchant, 2026-11-25", None], dtype="str")
    found = finding_table((Finding("demo-prices", "catalogue", "Invented."),))
    made = plan_maker(materials=plan.materials.assign(price_source=sources), findings=found)
    assert finding_groups(made)[0].cost == pytest.approx(plan.materials["total"].iloc[0])


def test_what_looking_on_site_may_add_is_the_price_of_two_way_fixings(plan_maker: Maker, plan: Plan) -> None:
    """Three pieces of 0.50 with two screws of 0.05 in place of 0.20, one of them; what is dearer now counts nothing."""
    shared = {"kind": "screw-fixed clip", "fixes_to": "timber", "lets_go_n": 100.0, "fastener_kind": "screw"}
    shared |= {"shank": "threaded", "driven": "screwdriver", "net_safe": True, "minutes": 0.5, "source": "made up"}
    shared |= {"fastener_diameter_mm": 4.0, "fastener_length_mm": 26.0, "date": "2026-01-02"}
    screwed = {"fastener": "screw", "fasteners": 2, "fastener_price": 0.05}
    items = (
        FixingItem.model_validate({**shared, **screwed, "id": "closing", "holds": "both", "price": 0.5}),
        FixingItem.model_validate({**shared, "id": "open", "holds": "down", "price": 0.2}),
        FixingItem.model_validate({**shared, "id": "dear", "holds": "down", "price": 9.0}),
    )
    lower = (plan.clips["wire_id"] == "lower").to_numpy()
    two_way, look = (
        lower & (plan.clips["clip"] == "two-way").to_numpy(),
        (plan.clips["look_on_site"] == "yes").to_numpy(),
    )
    assert two_way.any()
    assert look.any()
    found = finding_table((Finding("look-on-site", "B01", "Look."),))
    costs = []
    for planned in ("open", "dear"):
        fixing = pd.Series(np.where(two_way, "closing", planned), dtype="str")
        clips = plan.clips.assign(fixing=fixing, pieces=np.where(look, 3, 1))
        made = plan_maker(clips=clips, catalogue=Catalogue(fixings=items), findings=found)
        costs.append(finding_groups(made)[0].cost)
    assert costs == [pytest.approx(3 * look.sum() * (0.5 + 2 * 0.05 - 0.2)), None]


def test_every_code_has_one_stake() -> None:
    named = [code for _, codes in STAKES for code in codes]
    assert len(named) == len(set(named))
    assert set(named) <= set(CODES)
    assert stake_of("zones") == TO_KNOW
