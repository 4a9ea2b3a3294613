"""Totals of finished plans side by side, on tables small enough to add up by hand."""

from typing import Any

import pandas as pd
import pytest
from wirerun.records import FinishedPlan
from wirerun.stages.compare.totals import side_by_side, totals_of


def text(**columns: list[str]) -> pd.DataFrame:
    return pd.DataFrame(columns, dtype="str")


def plan(**tables: pd.DataFrame) -> FinishedPlan:
    """Two rows and five posts, and what is asked for, as a folder has it."""
    always = {
        "rows": text(length_m=["10.500", "20.250"], two_way_posts=["1", "2"]),
        "posts": text(
            kind=["end", "intermediate", "intermediate", "intermediate", "end"],
            clip_need=["", "two-way", "look-on-site", "one-way", ""],
        ),
    }
    record: dict[str, Any] = {"config": {"catalogue": {"currency": "EUR"}}}
    return FinishedPlan("somewhere", record, always | tables)


def totals(one: FinishedPlan) -> dict[str, tuple[float, str]]:
    return {total.what: (total.value, total.unit) for total in totals_of(one)}


def test_what_stands() -> None:
    found = totals(plan())
    assert found == {
        "rows": (2, ""),
        "row length": (30.75, "m"),
        "posts": (5, ""),
        "end posts": (2, ""),
        "posts with two-way clips": (3.0, ""),
        "posts to look at": (1, ""),
    }
    older = totals(plan(posts=text(kind=["end", "end"])))
    assert "posts to look at" not in older


def test_what_is_made_and_how_long_it_takes() -> None:
    found = totals(
        plan(
            sections=text(section_id=["S1", "S2", "S3"]),
            wires=text(wire_id=["low", "top", "low"], run_out_m=["10.5", "20.0", "11.0"]),
            adjusters=text(row_id=["R1"]),
            zones=text(hours=["3.5", "4.25"]),
        )
    )
    assert found["undulating sections"] == (3, "")
    assert (found["wire low"], found["wire top"]) == ((21.5, "m"), (20.0, "m"))
    assert (found["adjusters"], found["work zones"]) == ((1, ""), (2, ""))
    assert found["hours of one person"] == (7.75, "h")


def test_an_hour_that_is_not_known_makes_the_sum_unknown() -> None:
    season = text(task=["lift", "lift", "let down"], hours_a_year=["1.5", "2.5", ""], cost_a_year=["10", "20", "30"])
    found = totals(plan(season=season))
    assert found["hours every year: lift"] == (4.0, "h")
    assert found["hours every year: let down"][0] != found["hours every year: let down"][0]
    assert found["hours every year"][0] != found["hours every year"][0]
    assert found["cost every year"] == (60.0, "EUR")


def test_what_is_bought_is_counted_in_whole_packs_where_the_plan_knows_of_packs() -> None:
    """Three packs of 100 and one of 50; in a plan of before packs, 230 pieces and 12 spare."""
    packed = {"kind": ["clip", "clip"], "item": ["open", "open"], "unit": ["piece"] * 2}
    found = totals(plan(materials=text(**packed, pack=["100", "50"], packs=["3", "1"], quantity=["9", "9"])))
    assert found["to order: clip open"] == (350.0, "piece")
    older = totals(plan(materials=text(**packed, quantity=["130", "100"], spare_quantity=["7", "5"])))
    assert older["to order: clip open"] == (242.0, "piece")
    alone = totals(
        plan(materials=text(kind=["wire"], item=["thin"], unit=["coil"], quantity=["7"], spare_quantity=["1"]))
    )
    assert alone["to order: wire thin"] == (8.0, "coil")


def test_costs_by_part_and_by_block_and_what_has_no_price_is_not_nothing() -> None:
    found = totals(
        plan(
            costs=text(part=["wire", "labour", "sum"], total=["5.25", "", "5.25"]),
            block_costs=text(
                block_id=["B01", "B01", "", "B02"], part=["wire", "sum", "sum", "wire"], total=["4", "4.5", "0.75", "1"]
            ),
        )
    )
    assert found["cost: wire"] == (5.25, "EUR")
    assert found["cost: labour"][0] != found["cost: labour"][0]
    assert found["cost of block B01"] == (4.5, "EUR")
    assert found["cost of no block"] == (0.75, "EUR")
    assert "cost of block B02" not in found


def test_side_by_side_goes_by_the_first_plan_and_then_what_only_others_have() -> None:
    first = plan(wires=text(wire_id=["low"], run_out_m=["10.0"]))
    other = plan(wires=text(wire_id=["top", "low"], run_out_m=["7.0", "12.0"]))
    table = side_by_side({"A": first, "B": other})
    assert table["what"].tolist()[-2:] == ["wire low", "wire top"]
    assert table["A"].tolist()[-2:] == pytest.approx([10.0, float("nan")], nan_ok=True)
    assert table["B"].tolist()[-2:] == [12.0, 7.0]


def test_totals_go_from_what_stands_over_what_is_bought_to_what_it_costs() -> None:
    one = plan(
        sections=text(section_id=["S1"]),
        wires=text(wire_id=["low"], run_out_m=["10.5"]),
        adjusters=text(row_id=["R1"]),
        zones=text(hours=["3.5"]),
        season=text(task=["lift"], hours_a_year=["1.5"], cost_a_year=["10"]),
        materials=text(kind=["wire"], item=["thin"], unit=["coil"], quantity=["7"], spare_quantity=["1"]),
        costs=text(part=["wire", "sum"], total=["5.25", "5.25"]),
        block_costs=text(block_id=["B01"], part=["sum"], total=["4.5"]),
    )
    assert [total.what for total in totals_of(one)][4:] == [
        "posts with two-way clips",
        "posts to look at",
        "undulating sections",
        "wire low",
        "adjusters",
        "work zones",
        "hours of one person",
        "hours every year: lift",
        "hours every year",
        "cost every year",
        "to order: wire thin",
        "cost: wire",
        "cost: sum",
        "cost of block B01",
    ]
