"""The map page and its data, without a browser."""

import base64
import dataclasses
import hashlib
import json
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pandas as pd
import pytest

from pipeline import tables
from pipeline.findings import Finding
from pipeline.records import Plan
from pipeline.write.map import inert_json, map_page, write_map
from pipeline.write.map_backdrop import Backdrop
from pipeline.write.map_data import file_name, map_data, post_classes

NO_GROUND = Backdrop((), (), 0.0)


def data_of(plan: Plan) -> dict[str, Any]:
    """Return what the page of a plan is given."""
    return map_data(plan, NO_GROUND)


def test_each_post_is_of_one_class(plan: Plan) -> None:
    classes = dict(zip(plan.posts["post_id"], post_classes(plan).tolist(), strict=True))
    assert classes["B01-R001-P001"] == 4  # end post
    assert classes["B01-R001-P002"] == 2  # two-way
    assert classes["B01-R001-P003"] == 1  # look on site
    assert classes["B01-R001-P004"] == 0  # plain
    assert classes["B01-R002-P004"] == 4  # an end post without height is an end post


def test_a_post_without_loads_is_unknown(plan: Plan) -> None:
    clips = plan.clips.copy()
    clips.loc[clips["post_id"] == "B01-R001-P004", "load_min_n"] = float("nan")
    classes = post_classes(dataclasses.replace(plan, clips=clips))
    assert classes[plan.posts["post_id"].tolist().index("B01-R001-P004")] == 3


def test_totals_are_those_of_the_tables(plan: Plan) -> None:
    totals = data_of(plan)["totals"]
    assert totals["posts"] == len(plan.posts) == sum(totals["classes"].values())
    assert totals["rows"] == len(plan.rows)
    assert totals["classes"]["two-way"] == plan.rows["two_way_posts"].sum()
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
    by_code = {one["code"]: one for one in data_of(dataclasses.replace(plan, finding_list=found))["findings"]}
    assert by_code["low-clearance"]["at"] == span["from_post"]
    assert by_code["relief"]["place"] == "ground.tif"
    assert list(by_code) == ["low-clearance", "relief"]  # a warning before a note


def test_post_ids_that_do_not_start_with_their_row_survive(plan: Plan) -> None:
    posts = plan.posts.copy()
    posts.loc[0, "post_id"] = "corner"
    packed = data_of(dataclasses.replace(plan, posts=posts))["posts"]["id"]
    assert packed["words"][packed["at"][0]] == "=corner"
    assert packed["words"][packed["at"][1]] == "+-P002"


def test_a_plan_without_rows_has_a_map(bare_plan: Plan) -> None:
    assert data_of(bare_plan)["totals"]["posts"] == 0
    assert map_page(bare_plan).startswith("<!DOCTYPE html>")


def test_the_same_plan_gives_the_same_bytes(plan: Plan, tmp_path: Path) -> None:
    first, second = tmp_path / "a.html", tmp_path / "b.html"
    write_map(plan, first)
    write_map(plan, second)
    assert first.read_bytes() == second.read_bytes()
    assert b"\r" not in first.read_bytes()


def test_the_page_names_nothing_outside_itself(plan: Plan) -> None:
    page = map_page(plan)
    fetched = re.findall(r"(?:src|href|action)\s*=\s*[\"']?([^\"'\s>]+)", page.partition("<body>")[2])
    assert fetched == []
    assert "<link" not in page
    assert "sourceMappingURL" not in page
    assert "@import" not in page
    styles = "".join(re.findall(r"<style>(.*?)</style>", page, re.DOTALL))
    assert set(re.findall(r"url\((.{5})", styles)) == {"data:"}


def test_every_script_and_style_is_in_the_policy_and_nothing_else_may_run(plan: Plan) -> None:
    page = map_page(plan)
    (policy,) = re.findall(r'<meta http-equiv="Content-Security-Policy" content="([^"]*)">', page)
    rules = dict(rule.strip().split(" ", 1) for rule in policy.split(";"))
    assert rules["default-src"] == "'none'"
    assert rules["img-src"] == "data: blob:"
    for tag in ("script", "style"):
        texts = re.findall(rf"<{tag}>(.*?)</{tag}>", page, re.DOTALL)
        digests = [base64.b64encode(hashlib.sha256(text.encode()).digest()).decode() for text in texts]
        assert rules[f"{tag}-src"].split() == [f"'sha256-{digest}'" for digest in digests]
    assert page.index("Content-Security-Policy") < page.index("<script")


@pytest.mark.parametrize("text", ["</script><script>x()</script>", "<!--<script>", "a&b", "\u2028\u2029", "\ud800"])
def test_data_means_nothing_to_the_parser(text: str) -> None:
    written = inert_json({"name": text})
    assert not set("<>&\u2028\u2029") & set(written)
    assert json.loads(written) == {"name": text.replace("\ud800", "?")}


def test_a_strange_name_stays_text_in_the_page(plan: Plan) -> None:
    blocks = plan.blocks.assign(name="</script><script>window.hurt = 1</script>")
    config = plan.config.model_copy(update={"name": "</title><script>window.hurt = 1</script>"})
    page = map_page(dataclasses.replace(plan, blocks=blocks, config=config))
    assert "window.hurt = 1</script>" not in page


def test_a_name_is_no_template(plan: Plan) -> None:
    """The library under the page reads its parts as templates: names must not get there."""
    page = map_page(dataclasses.replace(plan, blocks=plan.blocks.assign(name="{{ 6 * 7 }} {% raw %} {# gone #}")))
    assert "{{ 6 * 7 }} {% raw %} {# gone #}" in page


@pytest.mark.parametrize("path", ["a/b/ground.tif", "C:\\data\\ground.tif", "ground.tif", "..\\x/ground.tif"])
def test_only_a_files_name_is_shown(path: str) -> None:
    assert file_name(path) == "ground.tif"


def test_a_large_plan_stays_small_on_disk(plan_maker: Callable[..., Plan]) -> None:
    large = plan_maker((28,) * 200)
    assert len(large.posts) == 5600
    assert len(map_page(large).encode()) < 1_500_000


def test_columns_named_in_popups_are_in_the_dictionary(plan: Plan) -> None:
    data = data_of(plan)
    units = {line["label"]: line["unit"] for line in data["posts"]["lines"] + data["sections"]["lines"]}
    assert units["From row start"] == "m"
    assert units["Greatest pull-up"] == "N"
    assert data["sections"]["lines"][2]["values"] == [1307]  # 130.7 N


def test_what_was_promised_of_the_fixture_holds(plan: Plan) -> None:
    """Guards the tests above: they would say little if the hand-made plan lost its two-way post."""
    assert isinstance(tables.conform(tables.CLIPS, plan.clips), pd.DataFrame)
    assert (plan.clips["clip"] == "two-way").sum() == 1
