"""The wires through the season on the map: the switch of states, what it recolours, and what the sheet tells."""

import dataclasses
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest
from wirerun.records import Plan
from wirerun.rounding import rounded
from wirerun.state import IN_CLIPS
from wirerun.tables import as_lines
from wirerun.write.html_map import write_map

Opener = Callable[..., Any]
PHONE = {"viewport": {"width": 390, "height": 844}, "has_touch": True, "is_mobile": True, "device_scale_factor": 2}
VIEWS = ["planned", *IN_CLIPS, "dropped"]
POST_LAYERS = ("two-way", "look", "plain", "end", "unknown")
ROW_LAYERS = ("row-drops", "row-adjuster", "row-beyond", "row-uncomputed", "row-fixed")

# Pixels of the drawing by colour, one of four, and near enough that edges do not count.
COLOURS = """() => {
    const canvas = document.querySelector(".plan-canvas");
    const { data } = canvas.getContext("2d").getImageData(0, 0, canvas.width, canvas.height);
    const wanted = { triangle: [203, 52, 0], diamond: [237, 164, 8], green: [53, 164, 106], blue: [0, 88, 148] };
    const found = Object.fromEntries(Object.keys(wanted).map((name) => [name, 0]));
    for (let i = 0; i < data.length; i += 16) {
        for (const [name, [r, g, b]] of Object.entries(wanted)) {
            const off = Math.abs(data[i] - r) + Math.abs(data[i + 1] - g) + Math.abs(data[i + 2] - b);
            found[name] += data[i + 3] === 255 && off < 8;
        }
    }
    return found;
}"""


def posts_by_state(plan: Plan, state: str) -> dict[str, int]:
    """Return how many posts there are of each class in a state, from the tables alone."""
    inner = plan.clips["post_id"].nunique()
    load, clip = plan.clips[f"load_{state}_n"], plan.clips[f"clip_{state}"]
    two_way = set(plan.clips.loc[clip == "two-way", "post_id"])
    look = set(plan.clips.loc[(clip == "one-way") & (load < 0.0), "post_id"]) - two_way
    ends = int((plan.posts["kind"] == "end").sum())
    rest = inner - len(two_way) - len(look)
    return {"two-way": len(two_way), "look": len(look), "plain": rest, "end": ends, "unknown": 0}


def rows_when_dropped(plan: Plan) -> dict[str, int]:
    """Return how many rows drop by themselves and how many don't, from the tables alone."""
    says = plan.wires.dropna(subset="drops_by_itself").groupby("row_id")["drops_by_itself"]
    alone = int(says.apply(lambda words: (words == "yes").all()).sum())
    return {"row-drops": alone, "row-adjuster": len(says) - alone}


def number(value: float, decimals: int = 1) -> str:
    """Return a number as the sheet writes it."""
    return "\N{EN DASH}" if np.isnan(value) else f"{rounded(value, decimals):.{decimals}f}"


def first(frame: pd.DataFrame) -> pd.Series:
    """Return the first line, which must be there."""
    assert len(frame), "the sample has no such case any more"
    return frame.iloc[0]


@pytest.fixture(scope="session")
def cold_only(estate: Plan) -> str:
    """Return a post one of whose wires pulls up so far only on the coldest day."""
    others = [estate.clips[f"clip_{state}"] != "two-way" for state in IN_CLIPS if state != "cold"]
    found = estate.clips[(estate.clips["clip_cold"] == "two-way") & np.logical_and.reduce(others)]
    return str(first(found.sort_values("load_cold_n"))["post_id"])


def test_every_state_has_its_legend_and_counts(estate: Plan, estate_map: Path, open_map: Opener) -> None:
    sheet = open_map(estate_map)
    assert sheet.page.locator("#views input").evaluate_all("all => all.map((one) => one.value)") == VIEWS
    assert sheet.page.is_checked("#view-planned")
    heads = set()
    for state in IN_CLIPS:
        sheet.show(state)
        assert {name: sheet.count(name) for name in POST_LAYERS} == posts_by_state(estate, state)
        assert not sheet.page.is_visible('[data-layer="row-drops"]')
        heads.add(sheet.page.inner_text("#layers-note"))
        heads.add(sheet.page.inner_text(".view-name"))
    assert len(heads) == 2 * len(IN_CLIPS)
    sheet.show("dropped")
    rows = {name: sheet.count(name) for name in ROW_LAYERS}
    assert {name: count for name, count in rows.items() if count} == rows_when_dropped(estate)
    assert sheet.count("plain") + sheet.count("end") == len(estate.posts)
    assert sheet.count("two-way") == sheet.count("sections") == sheet.count("rows") == 0
    sheet.show("planned")
    assert sheet.count("two-way") == estate.rows["two_way_posts"].sum()
    assert sheet.trouble() == []


def test_every_state_is_drawn_as_its_legend_says(estate: Plan, estate_map: Path, open_map: Opener) -> None:
    sheet = open_map(estate_map)
    drawn = {}
    for view in VIEWS:
        sheet.show(view)
        drawn[view] = sheet.page.evaluate(COLOURS)
    counted: dict[str, int] = {state: posts_by_state(estate, state)["two-way"] for state in IN_CLIPS}
    # The more posts, the more of their colour.
    by_count = sorted(IN_CLIPS, key=lambda state: counted[state])
    by_colour = sorted(IN_CLIPS, key=lambda state: drawn[state]["triangle"])
    assert by_colour == by_count
    assert (drawn["hot"]["triangle"] == 0) == (counted["hot"] == 0)
    assert all(drawn[view]["green"] == 0 for view in VIEWS if view != "dropped")
    assert drawn["dropped"]["triangle"] == drawn["dropped"]["diamond"] == 0
    assert drawn["dropped"]["green"] > 1000
    assert drawn["dropped"]["blue"] > 1000


def test_a_post_tells_load_clip_and_seat_of_every_state(
    estate: Plan, estate_map: Path, open_map: Opener, cold_only: str
) -> None:
    sheet = open_map(estate_map, f"#{cold_only}")
    clips = estate.clips[estate.clips["post_id"] == cold_only].set_index("wire_id")
    lines = sheet.lines("states")
    assert [line[0] for line in lines] == list(clips.index)
    for wire, *cells in lines:
        for state, cell in zip(IN_CLIPS, cells, strict=True):
            clip = clips.loc[wire]
            words = [clip[f"clip_{state}"], clip[f"seat_{state}"]]
            wanted = [number(clip[f"load_{state}_n"]), *(word for word in words if isinstance(word, str))]
            assert cell.split() == wanted
    (post,) = as_lines(estate.posts[estate.posts["post_id"] == cold_only])
    assert f"{number(post['uplift_n'])}\N{NO-BREAK SPACE}N" in sheet.page.inner_text("#card .facts")
    # It pulls up so far only in the cold, and one sees it: the map's mark stands in that column and no other.
    columns = sheet.page.eval_on_selector_all(".states td.pulls", "all => all.map((one) => one.cellIndex)")
    assert set(columns) == {1 + IN_CLIPS.index("cold")}
    assert sheet.trouble() == []


def test_an_open_sheet_follows_the_switch(estate_map: Path, open_map: Opener, cold_only: str) -> None:
    sheet = open_map(estate_map, f"#{cold_only}")
    for view, words in (
        ("cold", "Pulls up: asks for a two\N{NON-BREAKING HYPHEN}way clip"),
        ("hot", "Presses down"),
        ("dropped", "Row "),
    ):
        sheet.show(view)
        said = sheet.page.inner_text("#card .card p >> nth=2")
        assert sheet.title() == cold_only
        assert sheet.page.inner_text(".view-name") + ": " in said
        if view != "hot":
            assert words in said
    assert sheet.page.locator(".states th .now").count() == 0
    sheet.show("lifted")
    assert sheet.page.inner_text(".states th .now") == "Lifted"
    sheet.page.keyboard.press("Escape")
    sheet.page.wait_for_selector("#sheet", state="hidden")
    sheet.show("cold")
    assert not sheet.open_sheet()
    assert sheet.trouble() == []


def test_a_row_tells_of_its_wires_and_adjusters(estate: Plan, estate_map: Path, open_map: Opener) -> None:
    row_id = str(first(estate.adjusters.dropna(subset="turns"))["row_id"])
    sheet = open_map(estate_map, f"#{row_id}")
    wires = estate.wires[estate.wires["row_id"] == row_id].set_index("wire_id")
    adjusters = estate.adjusters[estate.adjusters["row_id"] == row_id].drop_duplicates("wire_id").set_index("wire_id")
    head, *lines = sheet.page.locator(".wires tr").all_inner_texts()
    told = {name: dict(zip(head.split("\t")[1:], cells, strict=True)) for name, *cells in map(_cells, lines) if cells}
    dash = number(np.nan)
    for line in as_lines(wires.reset_index()):
        wire = line["wire_id"]
        here = {name: cells[wire] for name, cells in told.items()}
        assert here["Run out, m"] == number(line["run_out_m"], 2)
        assert here["Strain from"].replace("\N{NO-BREAK SPACE}", " ") == line["strain_from"]
        assert [here[name] for name in here if name.startswith(("Strung", "Cold", "Hot"))] == [
            number(line[f"{name}tension_n"]) for name in ("", "cold_", "hot_")
        ]
        assert here["Greatest, any state, N"] == number(line["greatest_tension_n"])
        assert here["Far end when strung, N"] == number(line["far_end_tension_n"])
        lifted = estate.lifts[(estate.lifts["row_id"] == row_id) & (estate.lifts["wire_id"] == wire)]
        assert here["Lifted, tightest"] == number(lifted["tension_n"].max())
        assert here["Drops by itself"] == (
            line["drops_by_itself"] if isinstance(line["drops_by_itself"], str) else dash
        )
        assert here["Height at mid-row, m"] == number(line["dropped_height_m"], 2)
        assert here["Middle 80 % clear of it, %"] == number(line["clear_pct"], 1)
        assert here["Greatest height there, m"] == number(line["greatest_up_m"], 2)
        assert here["What is done"].replace("\N{NO-BREAK SPACE}", " ") == (
            line["let_down_by"] if isinstance(line["let_down_by"], str) else dash
        )
        assert here["Then at most so high, m"] == number(line["left_up_m"], 2)
        assert here["Take-up, mm"] == number(line["take_up_mm"], 0)
        assert here["Slack to lift, mm"] == number(line["lift_slack_mm"], 0)
        (fitted,) = as_lines(adjusters[adjusters.index == wire]) or (None,)
        assert here["Adjuster"] == (dash if fitted is None else fitted["kind"])
        assert here["At which end"] == (dash if fitted is None else fitted["end"])
        assert here["Turns"] == (dash if fitted is None else number(fitted["turns"]))
    ends = estate.posts[(estate.posts["row_id"] == row_id) & (estate.posts["kind"] == "end")].sort_values("station_m")
    wanted = [[number(post["end_pull_n"]), number(post["end_moment_nm"], 0)] for _, post in ends.iterrows()]
    assert sheet.lines("ends") == [["First", *wanted[0]], ["Last", *wanted[1]]]
    sheet.page.click("#card button.link >> text=Last post")
    facts = sheet.page.inner_text("#card .facts").replace("\N{NO-BREAK SPACE}", " ")
    assert f"{wanted[1][0]} N" in facts
    assert f"{wanted[1][1]} Nm" in facts
    assert sheet.trouble() == []


def _cells(line: str) -> list[str]:
    return line.split("\t")


def test_the_switch_works_by_keyboard_alone(estate: Plan, estate_map: Path, open_map: Opener) -> None:
    sheet = open_map(estate_map)
    for _ in range(40):
        sheet.page.keyboard.press("Tab")
        if sheet.page.evaluate("document.activeElement.name") == "view":
            break
    assert sheet.page.evaluate("document.activeElement.id") == "view-planned"
    for view in [*VIEWS[1:], VIEWS[0], VIEWS[1]]:
        sheet.page.keyboard.press("ArrowDown")
        assert sheet.page.evaluate("document.activeElement.id") == f"view-{view}"
        assert sheet.page.is_checked(f"#view-{view}")
    assert sheet.count("two-way") == posts_by_state(estate, "strung")["two-way"]
    sheet.page.keyboard.press("ArrowUp")
    assert sheet.count("two-way") == estate.rows["two_way_posts"].sum()
    # One stop for the group, then the legend.
    sheet.page.keyboard.press("Tab")
    assert sheet.page.evaluate("document.activeElement.id") == "layer-two-way"
    assert sheet.page.locator("#views").get_attribute("role") is None
    assert sheet.page.inner_text("#views legend") == "State of the wires"


def test_rows_of_a_class_that_is_off_are_neither_drawn_nor_hit(
    estate: Plan, estate_map: Path, open_map: Opener
) -> None:
    sheet = open_map(estate_map)
    sheet.show("dropped")
    long = estate.rows.loc[estate.rows["posts"] > 10, "row_id"]
    needs = first(estate.adjusters[estate.adjusters["row_id"].isin(long)])["row_id"]
    posts = estate.posts[estate.posts["row_id"] == needs]
    near, far = posts.iloc[3], posts.iloc[4]
    place = ((near["lon"] + far["lon"]) / 2, (near["lat"] + far["lat"]) / 2)
    sheet.click_at(*place, zoom=22)
    assert sheet.title() == needs
    sheet.page.keyboard.press("Escape")
    sheet.page.uncheck("#layer-adjusters")
    sheet.page.uncheck("#layer-row-adjuster")
    sheet.page.uncheck("#layer-zones")
    assert sheet.page.evaluate(COLOURS)["blue"] == 0
    sheet.click_at(*place)
    assert sheet.title() == estate.rows.set_index("row_id").loc[needs, "block_id"]
    # What is switched off stays so from state to state, and rows are drawn in the others all the same.
    sheet.show("cold")
    sheet.click_at(*place)
    assert sheet.title() in {needs, near["section_id"]}
    sheet.show("dropped")
    assert not sheet.page.is_checked("#layer-row-adjuster")


def test_totals_and_blocks_tell_how_rows_drop(estate: Plan, estate_map: Path, open_map: Opener) -> None:
    sheet = open_map(estate_map, "#B02")
    block = estate.rows.loc[estate.rows["block_id"] == "B02", "row_id"]
    parts = {
        "#totals": estate,
        "#card .facts": dataclasses.replace(
            estate,
            wires=estate.wires[estate.wires["row_id"].isin(block)],
            adjusters=estate.adjusters[estate.adjusters["row_id"].isin(block)],
        ),
    }
    for place, part in parts.items():
        told = re.sub(r"[^\S\n]", "", sheet.page.inner_text(place)).split("\n")
        facts = dict(zip(told[::2], told[1::2], strict=True))
        rows = rows_when_dropped(part)
        assert facts["droppingbythemselves"] == str(rows["row-drops"])
        assert facts["needinganadjuster"] == str(rows["row-adjuster"])
        assert facts["Adjusters"] == str(part.adjusters["kind"].notna().sum())
    told = sheet.page.text_content("#findings").replace("\N{NO-BREAK SPACE}", " ")
    assert all(f.message in told for f in estate.findings.itertuples() if f.code == "drop-span")


def test_rows_that_no_adjuster_reaches_are_told_apart(estate: Plan, tmp_path: Path, open_map: Opener) -> None:
    adjusters = estate.adjusters.copy()
    lost = adjusters["row_id"] == adjusters["row_id"].iloc[0]
    adjusters.loc[lost, "kind"] = None
    adjusters.loc[lost, "turns"] = np.nan
    path = tmp_path / "map.html"
    write_map(dataclasses.replace(estate, adjusters=adjusters, grids=()), path)
    sheet = open_map(path, f"#{adjusters['row_id'].iloc[0]}")
    sheet.show("dropped")
    assert sheet.count("row-beyond") == 1
    assert sheet.count("row-adjuster") == rows_when_dropped(estate)["row-adjuster"] - 1
    assert "none reaches" in next(line for line in sheet.lines("wires") if line[0] == "Adjuster")
    assert sheet.trouble() == []


def test_states_that_nothing_is_known_of_are_not_offered(estate: Plan, tmp_path: Path, open_map: Opener) -> None:
    clips = estate.clips.assign(load_lifted_n=np.nan)
    wires = estate.wires.assign(drops_by_itself=pd.Series([None] * len(estate.wires), dtype="str"))
    none = estate.adjusters.iloc[:0]
    path = tmp_path / "map.html"
    write_map(dataclasses.replace(estate, clips=clips, wires=wires, adjusters=none, grids=()), path)
    sheet = open_map(path, f"#{estate.rows['row_id'].iloc[0]}")
    assert sheet.page.locator("#views input").evaluate_all("all => all.map((one) => one.value)") == VIEWS[:4]
    assert "Adjusters" not in sheet.page.inner_text("#totals")
    assert "Letting down" not in sheet.page.inner_text(".wires")
    assert sheet.trouble() == []


def test_on_a_phone_it_switches_and_scrolls_inside(
    estate: Plan, estate_map: Path, open_map: Opener, cold_only: str
) -> None:
    sheet = open_map(estate_map, **PHONE)
    sheet.page.tap("#panel-toggle")
    sheet.page.tap("label[for=view-cold]")
    assert sheet.count("two-way") == posts_by_state(estate, "cold")["two-way"]
    sheet.page.tap("#panel-toggle")
    assert sheet.page.is_visible(".view-name")
    for thing in (cold_only, str(estate.adjusters["row_id"].iloc[0])):
        sheet.page.fill("#search-box", thing)
        sheet.page.keyboard.press("Enter")
        assert sheet.title() == thing
        box = sheet.page.locator("#sheet").bounding_box()
        assert box["y"] + box["height"] <= 844
        wide, room = sheet.page.eval_on_selector(".sheet-parts", "one => [one.scrollWidth, one.clientWidth]")
        assert wide <= room
        last = sheet.page.locator("#card .links button >> nth=-1")
        last.scroll_into_view_if_needed()
        assert last.bounding_box()["y"] < 844
    assert sheet.page.evaluate("document.documentElement.scrollWidth") == 390
    assert sheet.trouble() == []


def test_paper_says_which_state_it_shows(estate_map: Path, open_map: Opener) -> None:
    sheet = open_map(estate_map)
    sheet.page.emulate_media(media="print")
    for view in ("cold", "dropped"):
        sheet.page.evaluate("(view) => document.getElementById(`view-${view}`).click()", view)
        assert sheet.page.locator("#views label:visible").all_inner_texts() == [sheet.page.inner_text(".view-name")]
    sheet.page.emulate_media(media="screen")
    # The map takes its new size when it gets to it: what it looks like counts once it looks the same twice.
    settled = f"""async () => {{
        for (let last = ""; ;) {{
            await new Promise((done) => setTimeout(done, 200));
            const now = JSON.stringify(({COLOURS})());
            if (now === last) return JSON.parse(now);
            last = now;
        }}
    }}"""
    before = sheet.page.evaluate(settled)
    assert sheet.page.pdf(prefer_css_page_size=True).startswith(b"%PDF")
    # Back in colour, a moment after the printer has let go of the page.
    # The map may come back a pixel aside, so the counts of coloured pixels may differ by a few.
    same = f"""(before) => Object.entries(({COLOURS})()).every(([name, count]) =>
        Math.abs(count - before[name]) <= 0.02 * before[name])"""
    sheet.page.wait_for_function(same, arg=before)
    assert sheet.trouble() == []
