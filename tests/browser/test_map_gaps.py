"""The map of plans that lack something: rows, heights, zones, posts between the ends."""

import dataclasses
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from wirerun.records import Plan
from wirerun.state import IN_CLIPS
from wirerun.tables import TABLES
from wirerun.write.html_map import write_map

Opener = Callable[..., Any]
LOADS = ["load_min_n", "load_max_n", *(f"load_{state}_n" for state in IN_CLIPS)]


def test_a_plan_without_rows_opens(estate: Plan, tmp_path: Path, open_map: Opener) -> None:
    empty = {name: getattr(estate, name).iloc[:0] for name in TABLES if name != "findings"}
    path = tmp_path / "map.html"
    write_map(dataclasses.replace(estate, **empty), path)
    sheet = open_map(path)
    assert not sheet.page.is_visible("#zones")
    assert sheet.facts("#in-view")["Rows"] == "0"
    sheet.find("B01")
    assert sheet.title() == "B01"
    sheet.page.check("[name=units][value=imperial]")
    sheet.page.select_option("#bands", "along")
    assert sheet.trouble() == []


@pytest.mark.parametrize("share", [1.0, 0.4], ids=["all", "some"])
def test_a_row_without_heights_says_so(estate: Plan, tmp_path: Path, open_map: Opener, share: float) -> None:
    row_id = str(estate.rows["row_id"].iloc[40])
    in_row = (estate.posts["row_id"] == row_id).to_numpy()
    lost = in_row & (np.cumsum(in_row) <= share * in_row.sum())
    posts = estate.posts.copy()
    posts.loc[lost, ["ground_m", "grade_change_pct", "grade_pct", "cross_slope_pct", "uplift_n"]] = np.nan
    clips = estate.clips.copy()
    gone = clips["post_id"].isin(posts.loc[lost, "post_id"])
    clips.loc[gone, LOADS] = np.nan
    clips.loc[gone, ["clip", "seat", "certainty", *(f"clip_{state}" for state in IN_CLIPS)]] = None
    path = tmp_path / "map.html"
    write_map(dataclasses.replace(estate, posts=posts, clips=clips, grids=()), path)
    sheet = open_map(path, f"#{row_id}")
    said = "No heights are known" in sheet.page.text_content("svg.profile")
    assert said == (share == 1.0)
    for view in ("cold", "dropped", "planned"):
        sheet.show(view)
        assert "NaN" not in sheet.page.inner_html("svg.profile")
    sheet.page.check("#profile-level")
    sheet.page.click("summary")
    assert len(sheet.lines("profile")) == in_row.sum()
    sheet.page.focus("#profile-post")
    sheet.page.keyboard.press("ArrowRight")
    assert "NaN" not in sheet.page.inner_html("#sheet")
    assert sheet.trouble() == []


def test_a_row_of_two_posts_has_a_profile(estate: Plan, tmp_path: Path, open_map: Opener) -> None:
    row_id = str(estate.rows["row_id"].iloc[20])
    inner = (estate.posts["row_id"] == row_id) & (estate.posts["kind"] == "intermediate")
    clips = estate.clips[~estate.clips["post_id"].isin(estate.posts.loc[inner, "post_id"])]
    sections = estate.sections[estate.sections["row_id"] != row_id]
    plan = dataclasses.replace(estate, posts=estate.posts[~inner], clips=clips, sections=sections, grids=())
    path = tmp_path / "map.html"
    write_map(plan, path)
    sheet = open_map(path, f"#{row_id}")
    assert "2 posts over" in sheet.page.text_content("svg.profile desc")
    assert "NaN" not in sheet.page.inner_html("svg.profile")
    assert sheet.trouble() == []


def test_rows_that_are_not_planned_are_drawn_and_named_beside_the_totals(
    estate: Plan, tmp_path: Path, open_map: Opener
) -> None:
    lost = estate.rows.iloc[[40, 41, 120]]
    left_out = lost[["row_id", "block_id", "length_m", "geometry"]].assign(reason="hole of 8.0 m")
    without = {
        name: frame[~frame["row_id"].isin(lost["row_id"])]
        for name in TABLES
        if "row_id" in (frame := getattr(estate, name)).columns
    }
    path = tmp_path / "map.html"
    write_map(dataclasses.replace(estate, **without | {"left_out": left_out}, grids=()), path)
    sheet = open_map(path)
    totals = sheet.facts("#totals")
    assert (totals["Rows"], totals["Rowsnotincluded"]) == (str(len(estate.rows) - 3), "3")
    assert totals["theirlength"] == f"{lost['length_m'].sum():.0f}m"
    assert sheet.facts("#in-view")["Rowsnotincluded"] == "3"
    assert sheet.count("left-out") == 3
    block = lost["block_id"].iloc[0]
    sheet.find(block)
    assert sheet.facts("#card dl")["Rowsnotincluded"] == str((lost["block_id"] == block).sum())
    for view in ("planned", "dropped"):
        sheet.show(view)
        shown = sheet.page.evaluate("document.querySelector('.plan-canvas').toDataURL()")
        sheet.page.uncheck("#layer-left-out")
        assert sheet.page.evaluate("document.querySelector('.plan-canvas').toDataURL()") != shown
        sheet.page.check("#layer-left-out")
    assert sheet.trouble() == []


def test_a_plan_of_all_rows_has_no_word_of_any_left_out(estate_map: Path, open_map: Opener) -> None:
    sheet = open_map(estate_map)
    assert sheet.count("left-out") == 0
    assert "not included" not in sheet.page.inner_text("body")
