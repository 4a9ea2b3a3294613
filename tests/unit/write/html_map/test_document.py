"""The map page, without a browser."""

import base64
import dataclasses
import hashlib
import re
from collections.abc import Callable
from html import escape
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest
from wirerun import tables
from wirerun.records import Plan
from wirerun.write.html_map import build_map, write_map

Page = Callable[[Plan], str]
Inside = Callable[[str], dict[str, Any]]


def test_a_plan_without_rows_has_a_map(bare_plan: Plan, map_page: Page) -> None:
    assert map_page(bare_plan).startswith("<!DOCTYPE html>")


def test_the_same_plan_gives_the_same_bytes(plan: Plan, tmp_path: Path) -> None:
    first, second = tmp_path / "a.html", tmp_path / "b.html"
    write_map(plan, first)
    write_map(plan, second)
    assert first.read_bytes() == second.read_bytes()
    assert b"\r" not in first.read_bytes()


def test_saving_the_map_writes_the_page_however_often(plan: Plan, tmp_path: Path) -> None:
    plan_map = build_map(plan)
    for name in ("written", "saved", "again"):
        if name == "written":
            write_map(plan, tmp_path / name)
        else:
            plan_map.save(tmp_path / name)
    assert (tmp_path / "saved").read_bytes() == (tmp_path / "written").read_bytes()
    assert (tmp_path / "again").read_bytes() == (tmp_path / "written").read_bytes()


def test_the_page_names_nothing_outside_itself(plan: Plan, map_page: Page) -> None:
    page = map_page(plan)
    fetched = re.findall(r"(?:src|href|action)\s*=\s*[\"']?([^\"'\s>]+)", page.partition("<body>")[2])
    # Links lead to places of the page itself only.
    assert [place for place in fetched if not place.startswith("#")] == []
    assert "<link" not in page
    assert "sourceMappingURL" not in page
    assert "@import" not in page
    styles = "".join(re.findall(r"<style>(.*?)</style>", page, re.DOTALL))
    assert set(re.findall(r"url\((.{5})", styles)) == {"data:"}


def test_every_script_and_style_is_in_the_policy_and_nothing_else_may_run(plan: Plan, map_page: Page) -> None:
    page = map_page(plan)
    (policy,) = re.findall(r'<meta http-equiv="Content-Security-Policy" content="([^"]*)">', page)
    rules = dict(rule.strip().split(" ", 1) for rule in policy.split(";"))
    assert list(rules) == ["default-src", "script-src", "style-src", "img-src", "base-uri", "form-action"]
    assert rules["default-src"] == "'none'"
    assert rules["img-src"] == "data: blob:"
    for tag in ("script", "style"):
        texts = re.findall(rf"<{tag}>(.*?)</{tag}>", page, re.DOTALL)
        digests = [base64.b64encode(hashlib.sha256(text.encode()).digest()).decode() for text in texts]
        assert rules[f"{tag}-src"].split() == [f"'sha256-{digest}'" for digest in digests]
    assert page.index("Content-Security-Policy") < page.index("<script")


def test_a_strange_name_stays_text_in_the_page(plan: Plan, map_page: Page, inside: Inside) -> None:
    nasty = "</script><script>window.hurt = 1</script>"
    config = plan.config.model_copy(update={"name": "</title><script>window.hurt = 1</script>"})
    page = map_page(dataclasses.replace(plan, blocks=plan.blocks.assign(name=nasty), config=config))
    assert "window.hurt = 1</script>" not in page
    assert inside(page)["blocks"][0]["name"] == nasty


@pytest.mark.parametrize("name", ["{{ 6 * 7 }} {% raw %} {# gone #}", "<!-- policy -->"])
def test_a_name_is_no_template(plan: Plan, map_page: Page, inside: Inside, name: str) -> None:
    """The library under the page reads its parts as templates: names must not get there."""
    config = plan.config.model_copy(update={"name": name})
    page = map_page(dataclasses.replace(plan, blocks=plan.blocks.assign(name=name), config=config))
    assert inside(page)["blocks"][0]["name"] == name
    assert f"<title>{escape(name)}: trellis wire plan</title>" in page
    assert page.count("Content-Security-Policy") == 1
    assert page.index("Content-Security-Policy") < page.index("<script")


def test_a_large_plan_stays_small_on_disk(plan_maker: Callable[..., Plan], map_page: Page) -> None:
    large = plan_maker((28,) * 610)
    chance = np.random.default_rng(7)
    # Loads that no packing can make shorter: the made-up ones are all alike.
    loads = {name.load: chance.normal(0.0, 60.0, len(large.clips)) for name in tables.OF_STATE.values()}
    large = dataclasses.replace(large, clips=large.clips.assign(**loads))
    assert len(large.posts) > 17_000
    assert len(map_page(large).encode()) < 1_200_000  # the ground takes up to some 300 kB more


def test_what_was_promised_of_the_fixture_holds(plan: Plan) -> None:
    """Guards the tests above: they would say little if the hand-made plan lost its two-way post."""
    assert isinstance(tables.conform(tables.CLIPS, plan.clips), pd.DataFrame)
    assert (plan.clips["clip"] == "two-way").sum() == 1
