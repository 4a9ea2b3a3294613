"""The profile of a row under the map: what it shows, how one walks along it, and who else can read it."""

import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest
from wirerun.records import Plan
from wirerun.tables import as_lines
from wirerun.wording import number

Opener = Callable[..., Any]
DASH = "\N{EN DASH}"


@pytest.fixture(scope="session")
def row_id(estate: Plan) -> str:
    """Return a row with two-way posts in two sections and more."""
    sections = estate.posts.dropna(subset="section_id").groupby("row_id")["section_id"].nunique()
    return str(sections[sections >= 2].index[0])


def posts_of(plan: Plan, row_id: str) -> pd.DataFrame:
    """Return the posts of a row in order."""
    return plan.posts[plan.posts["row_id"] == row_id].reset_index(drop=True)


def slider(sheet: Any) -> tuple[str, str]:  # noqa: ANN401 - the test's own page
    """Return what the slider stands on, and what it says of it."""
    where = sheet.page.locator("#profile-post")
    return str(where.input_value()), str(where.get_attribute("aria-valuetext"))


def test_a_row_opens_its_profile_with_its_figures(
    estate: Plan, estate_map: Path, open_map: Opener, row_id: str
) -> None:
    sheet = open_map(estate_map, f"#{row_id}")
    (row,) = as_lines(estate.rows[estate.rows["row_id"] == row_id])
    posts = posts_of(estate, row_id)
    assert sheet.page.locator("svg.profile").get_attribute("role") == "img"
    said = sheet.page.text_content("svg.profile desc")
    assert f"{len(posts)} posts over {number(row['length_m'], 1)}\N{NO-BREAK SPACE}m" in said
    assert f"{number(posts['ground_m'].min(), 1)} and {number(posts['ground_m'].max(), 1)}" in said
    assert f"Undulating sections: {posts['section_id'].nunique()}." in said
    two_way = estate.clips[(estate.clips["row_id"] == row_id) & (estate.clips["clip"] == "two-way")]
    names = sorted(set(two_way["post_id"].str.rpartition("-")[2]))
    assert f"Two-way posts: {', '.join(names)}." in said
    # A post has a line, a wire a path each, and every clip a mark.
    lines = sheet.page.locator("svg.profile > g:nth-of-type(3) line")
    assert lines.count() == len(posts)
    facts = sheet.facts("#card .facts")
    assert facts["Labourhours"] == f"{number(row['hours'], 1)}h"
    assert facts["Workzone"] == row["zone_id"]
    wires = estate.wires[estate.wires["row_id"] == row_id].set_index("wire_id")
    told = {line[0]: line[1:] for line in sheet.lines("wires")}
    for label, column in (("One line, ends cut, m", "cut_m_per_line"), ("Tails of one line, m", "tails_m_per_line")):
        assert told[label] == [number(wires.loc[wire, column], 2) for wire in wires.index]
    assert sheet.trouble() == []


def test_the_ground_is_drawn_where_the_posts_stand(
    estate: Plan, estate_map: Path, open_map: Opener, row_id: str
) -> None:
    """One scale along, one upright: the drawing is the table, but for a shift and two factors."""
    sheet = open_map(estate_map, f"#{row_id}")
    posts = posts_of(estate, row_id)
    lines = sheet.page.locator("svg.profile > g:nth-of-type(3) line")
    drawn = np.array(
        lines.evaluate_all("all => all.map((one) => ['x1', 'y1', 'y2'].map((a) => Number(one.getAttribute(a))))")
    )
    across = np.polyfit(posts["station_m"], drawn[:, 0], 1)
    up = np.polyfit(posts["ground_m"], drawn[:, 1], 1)
    assert np.abs(np.polyval(across, posts["station_m"]) - drawn[:, 0]).max() < 0.05
    assert np.abs(np.polyval(up, posts["ground_m"]) - drawn[:, 1]).max() < 0.6  # ground heights travel as centimetres
    assert up[0] < 0.0 < across[0]
    assert (drawn[:, 1] - drawn[:, 2]) / -up[0] == pytest.approx(posts["height_out_m"].to_numpy(), abs=0.02)
    sheet.page.check("#profile-level")
    level = np.array(lines.evaluate_all("all => all.map((one) => Number(one.getAttribute('y1')))"))
    assert level[0] == pytest.approx(level[-1], abs=0.01)  # both end posts on one line: the slope is out


def test_loads_point_up_where_the_wire_pulls_up(estate: Plan, estate_map: Path, open_map: Opener, row_id: str) -> None:
    sheet = open_map(estate_map, f"#{row_id}")
    clips = estate.clips[estate.clips["row_id"] == row_id]
    for view, column in (("planned", "load_min_n"), ("cold", "load_cold_n"), ("hot", "load_hot_n")):
        sheet.show(view)
        bars = sheet.page.locator("svg.profile rect[data-kind]")
        kinds = bars.evaluate_all("all => all.map((one) => one.getAttribute('data-kind'))")
        loads = clips[column].dropna()
        assert len(kinds) == len(loads)
        # Loads travel in tenths of a newton: what rounds to zero bears down.
        assert sum(kind != "plain" for kind in kinds) == (loads.round(1) < 0.0).sum()
        # Bars stand wire by wire from the lowest up, post by post, one scale for all.
        heights = np.array(bars.evaluate_all("all => all.map((one) => Number(one.getAttribute('height')))"))
        order = [wire.id for wire in sorted(estate.config.wires, key=lambda wire: wire.height_m)]
        sizes = np.concatenate([clips.loc[clips["wire_id"] == wire, column].dropna().abs() for wire in order])
        large = sizes > 0.2 * sizes.max()
        assert heights[large] / heights.max() == pytest.approx(sizes[large] / sizes.max(), abs=0.01)
    sheet.show("dropped")
    assert sheet.page.locator("svg.profile rect[data-kind]").count() == 0
    assert sheet.trouble() == []


def test_two_way_posts_are_told_with_why(estate: Plan, estate_map: Path, open_map: Opener, row_id: str) -> None:
    sheet = open_map(estate_map, f"#{row_id}")
    clips = estate.clips[(estate.clips["row_id"] == row_id) & (estate.clips["clip"] == "two-way")]
    worst = clips.sort_values("load_min_n", kind="stable").drop_duplicates("post_id").set_index("post_id").sort_index()
    lines = sheet.lines("twoway")
    assert len(lines) == len(worst) == estate.rows.set_index("row_id").loc[row_id, "two_way_posts"]
    for (tail, load, need, change), clip in zip(lines, as_lines(worst.reset_index()), strict=True):
        (post,) = as_lines(estate.posts[estate.posts["post_id"] == clip["post_id"]])
        assert clip["post_id"].endswith(tail)
        assert load.split("\n")[0] == number(clip["load_min_n"], 1)
        wanted = clip["certainty"] if clip["certainty"] in {"certain", "likely"} else "lies in the section"
        assert need.startswith(wanted)
        assert need.endswith(post["section_id"].rpartition("-")[2])
        assert change == number(post["grade_change_pct"], 1)


def test_one_walks_along_the_row_with_the_arrow_keys(
    estate: Plan, estate_map: Path, open_map: Opener, row_id: str
) -> None:
    sheet = open_map(estate_map)
    sheet.find(row_id)
    assert sheet.page.evaluate("document.activeElement.id") == "sheet-title"
    for _ in range(6):
        sheet.page.keyboard.press("Tab")
        if sheet.page.evaluate("document.activeElement.id") == "profile-post":
            break
    posts = posts_of(estate, row_id)
    third = as_lines(posts)[2]
    sheet.page.keyboard.press("ArrowRight")
    sheet.page.keyboard.press("ArrowRight")
    assert sheet.title() == third["post_id"]
    place, said = slider(sheet)
    assert place == "3"
    assert said.startswith(f"{third['post_id']}, {number(third['station_m'], 1)}\N{NO-BREAK SPACE}m")
    assert sheet.page.evaluate("document.activeElement.id") == "profile-post"
    assert sheet.page.text_content("svg.profile text.chosen") == third["post_id"].rpartition("-")[2]
    sheet.page.keyboard.press("End")
    assert sheet.title() == posts["post_id"].iloc[-1]
    sheet.page.keyboard.press("Home")
    assert sheet.title() == posts["post_id"].iloc[0]
    sheet.page.keyboard.press("Escape")
    assert not sheet.open_sheet()
    assert sheet.page.evaluate("document.activeElement.id") == "search-box"
    assert sheet.trouble() == []


def test_a_click_in_the_profile_chooses_the_post_there(
    estate: Plan, estate_map: Path, open_map: Opener, row_id: str
) -> None:
    sheet = open_map(estate_map, f"#{row_id}")
    posts = posts_of(estate, row_id)
    line = sheet.page.locator("svg.profile > g:nth-of-type(3) line >> nth=4").bounding_box()
    sheet.page.mouse.click(line["x"] + 1, line["y"] + 5)
    assert sheet.title() == posts.loc[4, "post_id"]
    # The map came along: the post is in sight.
    assert sheet.page.evaluate(
        "(place) => plan_map.getBounds().contains(place)", [posts.loc[4, "lat"], posts.loc[4, "lon"]]
    )


def test_the_profile_is_there_as_a_table_too(estate: Plan, estate_map: Path, open_map: Opener, row_id: str) -> None:
    sheet = open_map(estate_map, f"#{row_id}")
    sheet.page.click("summary")
    posts = posts_of(estate, row_id)
    lines = sheet.lines("profile")
    assert len(lines) == len(posts)
    clips = estate.clips.set_index(["post_id", "wire_id"])
    order = [wire.id for wire in sorted(estate.config.wires, key=lambda wire: wire.height_m)]
    for line, post in zip(lines, as_lines(posts), strict=True):
        assert line[:3] == [
            post["post_id"].rpartition("-")[2],
            number(post["station_m"], 2),
            number(post["ground_m"], 2),
        ]
        for cell, wire in zip(line[4:], order, strict=True):
            if post["kind"] == "end":
                assert cell == DASH
            else:
                (clip,) = as_lines(clips.loc[[(post["post_id"], wire)]])
                load, held = re.split(r"\s+", cell)
                assert float(load) == pytest.approx(clip["load_min_n"], abs=0.0501)
                assert held == clip["clip"]
    sheet.show("cold")
    assert sheet.page.locator("details.every-post").get_attribute("open") is not None  # it stays unfolded


def test_a_post_tells_what_holds_each_wire(estate: Plan, estate_map: Path, open_map: Opener, row_id: str) -> None:
    post = posts_of(estate, row_id).iloc[3]
    sheet = open_map(estate_map, f"#{post['post_id']}")
    facts = sheet.facts("#card .facts")
    assert facts["Heightoutoftheground"] == f"{number(post['height_out_m'], 2)}m"
    assert facts["Clippositions"] == str(post["clip_positions"])
    assert facts["Gradealongtherow"] == f"{number(post['grade_pct'], 1)}%"
    assert facts["Slopeacrosstherow"] == f"{number(post['cross_slope_pct'], 1)}%"
    assert facts["Postfromthecatalogue"] == post["post_item"].replace(" ", "")
    clips = estate.clips[estate.clips["post_id"] == post["post_id"]].set_index("wire_id")
    lifts = estate.lifts[estate.lifts["row_id"] == row_id]
    for wire, fixing, pieces, holds, sideways, lifted in sheet.lines("held"):
        clip = clips.loc[wire]
        assert fixing.split("\n")[0] == clip["fixing"]
        assert clip["fixing_reason"] in fixing
        assert pieces == str(clip["pieces"])
        assert float(holds) == pytest.approx(clip["holds_n"], abs=0.0501)
        assert float(sideways) == pytest.approx(clip["load_side_n"], abs=0.0501)
        heights = lifts.loc[lifts["wire_id"] == wire, "height_m"].sort_values()
        assert lifted == (" ".join(number(height, 2) for height in heights) or DASH)
