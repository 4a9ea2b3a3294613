"""Totals, blocks and findings that the map page is given."""

import dataclasses
from typing import Any

import pytest
from wirerun.findings import Finding
from wirerun.records import Plan, finding_table
from wirerun.write.html_map.backdrop import Backdrop
from wirerun.write.html_map.data import map_data
from wirerun.write.html_map.pictures import file_name

NO_GROUND = Backdrop((), (), (), 0.0)


def data_of(plan: Plan) -> dict[str, Any]:
    """Return what the page of a plan is given."""
    return map_data(plan, NO_GROUND)


def test_totals_are_those_of_the_tables(plan: Plan) -> None:
    totals = data_of(plan)["totals"]
    assert totals["posts"] == len(plan.posts)
    assert {sum(of_view.values()) for of_view in totals["classes"].values()} == {len(plan.posts)}
    assert totals["rows"] == len(plan.rows) == sum(totals["row_classes"].values())
    assert totals["classes"]["planned"]["two-way"] == plan.rows["two_way_posts"].sum()
    assert (totals["adjusters"], totals["lines_beyond"]) == (len(plan.adjusters), 0)
    assert totals["row_m"] == pytest.approx(plan.rows["length_m"].sum(), abs=0.05)


def test_wire_to_run_out_is_summed_by_wire_and_by_block(plan: Plan) -> None:
    data = data_of(plan)
    for wire in data["wires"]:
        there = plan.wires.loc[plan.wires["wire_id"] == wire["id"], "run_out_m"].sum()
        assert wire["run_out_m"] == pytest.approx(there, abs=0.051)
        assert data["blocks"][0]["run_out_m"][wire["id"]] == pytest.approx(there, abs=0.051)
    assert [wire["id"] for wire in data["wires"]] == ["fruiting", "lower"]  # from the ground up


def test_a_finding_points_to_a_post_and_a_span_to_its_first_post(plan: Plan) -> None:
    span = plan.spans.iloc[-1]
    found = (Finding("low-clearance", span["span_id"], "Low."), Finding("relief", "/home/me/ground.tif", "High."))
    by_code = {
        one["code"]: one for one in data_of(dataclasses.replace(plan, findings=finding_table(found)))["findings"]
    }
    assert by_code["low-clearance"]["at"] == span["from_post"]
    assert by_code["relief"]["place"] == "ground.tif"
    assert list(by_code) == ["low-clearance", "relief"]  # a warning before a note


@pytest.mark.parametrize("path", ["a/b/ground.tif", "C:\\data\\ground.tif", "ground.tif", "..\\x/ground.tif"])
def test_only_a_files_name_is_shown(path: str) -> None:
    assert file_name(path) == "ground.tif"


def test_a_character_that_is_shown_as_an_escape_parts_no_folders() -> None:
    assert file_name("a/b\\u202egro\\x1bund\\n.tif") == "b\\u202egro\\x1bund\\n.tif"


def test_a_line_that_no_adjuster_reaches_is_no_adjuster(plan: Plan) -> None:
    adjusters = plan.adjusters.copy()
    adjusters.loc[0, "kind"] = None
    data = data_of(dataclasses.replace(plan, adjusters=adjusters))
    for counted in (data["totals"], data["blocks"][0]):
        assert (counted["adjusters"], counted["lines_beyond"]) == (1, 1)
        assert counted["row_classes"] == {"fixed": 0, "drops": 1, "uncomputed": 0, "adjuster": 0, "beyond": 1}


def test_views_and_their_temperatures(plan: Plan, bare_plan: Plan) -> None:
    data = data_of(plan)
    assert data["views"] == ["planned", "strung", "cold", "hot", "lifted", "dropped"]
    assert data["celsius"] == {"stringing": 15.0, "cold": -5.0, "hot": 40.0, "cold_up": 0.0}
    assert data_of(bare_plan)["totals"]["posts"] == 0
