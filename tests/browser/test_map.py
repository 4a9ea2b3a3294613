"""The map in a real browser, from disk, with the network off."""

import dataclasses
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pandas as pd
import pytest
from shapely import LineString, Point, Polygon
from wirerun.errors import printable
from wirerun.findings import Finding
from wirerun.records import Plan, finding_table
from wirerun.write.html_map import write_map

Opener = Callable[..., Any]
PHONE = {"viewport": {"width": 390, "height": 844}, "has_touch": True, "is_mobile": True, "device_scale_factor": 2}
NASTY = (
    "</script><script>window.hurt=1</script>",
    "<img src=x onerror=window.hurt=1>",
    "`${window.hurt=1}`",
    "\"'><svg onload=window.hurt=1>",
    "{{ 7*7 }} {% raw %} \\u003cb\\u003e",
    "\u202egnp.exe \u2066x\u2069 \u2028 \u2029",
)


def first_two_way(plan: Plan) -> pd.Series:
    """Return the first post in the table that pulls up hard, with its place."""
    clip = plan.clips[plan.clips["clip"] == "two-way"].nsmallest(1, "load_min_n").iloc[0]
    posts: pd.DataFrame = plan.posts[plan.posts["post_id"] == clip["post_id"]]
    return posts.iloc[0]


def test_it_opens_from_disk_and_asks_for_nothing(estate_map: Path, open_map: Opener) -> None:
    sheet = open_map(estate_map)
    sheet.page.wait_for_timeout(200)
    assert [url for url in sheet.requests if not url.startswith("data:")] == [estate_map.as_uri()]
    assert sheet.trouble() == []
    assert sheet.page.title() == "encosta-nova: trellis wire plan"
    assert "ground.tif" in sheet.page.inner_text("#plan-source")
    assert estate_map.stat().st_size < 1_300_000


def test_a_request_is_refused_by_the_page_itself(estate_map: Path, open_map: Opener) -> None:
    sheet = open_map(estate_map)
    sheet.page.evaluate("new Image().src = 'http://127.0.0.1:9/x.png'")
    sheet.page.wait_for_function("() => window.broken.length > 0")
    assert sheet.page.evaluate("window.broken") == ["img-src"]


def test_a_click_on_a_two_way_post_tells_what_the_table_tells(estate: Plan, estate_map: Path, open_map: Opener) -> None:
    sheet = open_map(estate_map)
    post = first_two_way(estate)
    sheet.click_at(post["lon"], post["lat"], zoom=21)
    assert sheet.title() == post["post_id"]
    lines = sheet.lines("planned")
    clips = estate.clips[estate.clips["post_id"] == post["post_id"]].set_index("wire_id")
    assert len(lines) == len(clips)
    for line in lines:
        wire, load, need, clip, seat = line
        assert load == f"{clips.loc[wire, 'load_min_n']:.1f}"
        assert need.startswith(clips.loc[wire, "certainty"])
        assert (clip, seat) == (clips.loc[wire, "clip"], clips.loc[wire, "seat"])
    assert f"{post['ground_m']:.2f}" in sheet.page.inner_text("#card .facts")
    assert sheet.trouble() == []


def test_a_click_on_a_wire_between_posts_opens_the_row(estate: Plan, estate_map: Path, open_map: Opener) -> None:
    sheet = open_map(estate_map)
    posts = estate.posts[estate.posts["section_id"].isna()]
    near, far = next(
        (a, b)
        for (_, a), (_, b) in zip(posts.iterrows(), posts.iloc[1:].iterrows(), strict=False)
        if a["row_id"] == b["row_id"] and b["station_m"] - a["station_m"] < 7.0
    )
    sheet.click_at((near["lon"] + far["lon"]) / 2, (near["lat"] + far["lat"]) / 2, zoom=22)
    row = estate.rows[estate.rows["row_id"] == near["row_id"]].iloc[0]
    assert sheet.title() == row["row_id"]
    facts = sheet.page.inner_text("#card .facts")
    assert f"{row['length_m']:.2f}" in facts
    assert f"{row['slope_length_m']:.2f}" in facts
    wires = estate.wires[estate.wires["row_id"] == row["row_id"]]
    run_out = next(line[1:] for line in sheet.lines("wires") if line[0] == "Run out, m")
    assert sorted(run_out) == sorted(f"{metres:.2f}" for metres in wires["run_out_m"])


def test_a_layer_that_is_off_is_neither_drawn_nor_hit(estate: Plan, estate_map: Path, open_map: Opener) -> None:
    sheet = open_map(estate_map)
    post = first_two_way(estate)
    sheet.page.uncheck("#layer-two-way")
    sheet.click_at(post["lon"], post["lat"], zoom=21)
    assert sheet.title() == post["section_id"]
    sheet.page.uncheck("#layer-sections")
    sheet.page.keyboard.press("Escape")
    sheet.click_at(post["lon"], post["lat"])
    assert sheet.title() == post["row_id"]


def test_a_bent_row_is_hit_and_marked_where_it_bends(estate: Plan, tmp_path: Path, open_map: Opener) -> None:
    row = estate.rows.iloc[40]
    (x1, y1), (x2, y2) = row.geometry.coords[0], row.geometry.coords[-1]
    # Far off the straight line, in the middle of nothing.
    bend = ((x1 + x2) / 2 + 0.004, (y1 + y2) / 2 + 0.004)
    bent = LineString([(x1, y1), bend, (x2, y2)])
    rows = estate.rows.set_geometry([bent if at == 40 else line for at, line in enumerate(estate.rows.geometry)])
    path = tmp_path / "map.html"
    found = (Finding("steep-row", row["row_id"], "Bent."),)
    write_map(dataclasses.replace(estate, rows=rows, findings=finding_table(found), grids=()), path)
    sheet = open_map(path)
    sheet.click_at(*bend, zoom=20)
    assert sheet.title() == row["row_id"]
    sheet.page.click("#findings button.show")
    assert sheet.title() == "Warning"
    at = sheet.page.evaluate(
        """() => {
            const size = plan_map.getSize();
            const over = document.getElementById("sheet").getBoundingClientRect().height;
            const place = plan_map.containerPointToLatLng([size.x / 2, (size.y - over) / 2]);
            return [place.lng, place.lat];
        }"""
    )
    # What is seen of the map has the finding's mark in its middle: on the bent row, to a pixel at the zoom it goes to.
    assert LineString([(x1, y1), bend, (x2, y2)]).distance(Point(at)) < 2e-6
    assert sheet.trouble() == []


def test_the_legend_counts_what_the_tables_hold(estate: Plan, estate_map: Path, open_map: Opener) -> None:
    sheet = open_map(estate_map)
    clips, posts = estate.clips, estate.posts
    two_way = set(clips.loc[clips["clip"] == "two-way", "post_id"])
    look = set(clips.loc[clips["look_on_site"] == "yes", "post_id"]) - two_way
    assert sheet.count("two-way") == len(two_way) == estate.rows["two_way_posts"].sum()
    assert sheet.count("look") == len(look)
    assert sheet.count("end") == (posts["kind"] == "end").sum() == 2 * len(estate.rows)
    assert sheet.count("plain") == len(posts) - len(two_way) - len(look) - 2 * len(estate.rows)
    assert sheet.count("sections") == len(estate.sections)
    assert sheet.count("rows") == len(estate.rows)
    assert sheet.count("exclusions") == len(estate.exclusions)
    totals = re.sub(r"\s", "", sheet.page.inner_text("#totals"))
    for metres in estate.wires.groupby("wire_id")["run_out_m"].sum():
        assert f"{metres:.0f}m" in totals
    assert f"{estate.blocks['area_ha'].sum():.2f}ha" in totals


def test_search_finds_a_post_however_it_is_typed(estate_map: Path, open_map: Opener) -> None:
    sheet = open_map(estate_map)
    for typed in ("B01-R022-P008", "b01-r022-p008", "b1 r22 p8", "  B1R22P8 "):
        sheet.page.fill("#search-box", typed)
        sheet.page.keyboard.press("Enter")
        assert sheet.title() == "B01-R022-P008"
        sheet.page.keyboard.press("Escape")
        sheet.page.wait_for_selector("#sheet", state="hidden")


def test_search_by_keyboard_alone_and_escape_goes_back(estate_map: Path, open_map: Opener) -> None:
    sheet = open_map(estate_map)
    for _ in range(3):  # two links that skip to the map and to the panel stand before it
        sheet.page.keyboard.press("Tab")
    assert sheet.page.evaluate("document.activeElement.id") == "search-box"
    sheet.page.keyboard.type("b1 r22")
    assert sheet.page.inner_text("#found button >> nth=0").startswith("B01-R022")
    sheet.page.keyboard.press("Enter")
    assert sheet.title() == "B01-R022"
    assert sheet.page.evaluate("document.activeElement.textContent") == "B01-R022"
    sheet.page.keyboard.press("Escape")
    sheet.page.wait_for_selector("#sheet", state="hidden")
    assert sheet.page.evaluate("document.activeElement.id") == "search-box"
    sheet.page.fill("#search-box", "nowhere")
    assert "No row, post" in sheet.page.inner_text("#search-status")


def test_what_fits_several_things_is_listed_and_not_guessed(estate_map: Path, open_map: Opener) -> None:
    sheet = open_map(estate_map)
    for typed in ("R12", "r012", "row 12"):
        sheet.find(typed)
        assert not sheet.open_sheet(), typed
        assert sheet.page.locator("#found button").all_inner_texts()[:2] == [
            "B01-R012 Row \N{MIDDLE DOT} B01",
            "B02-R012 Row \N{MIDDLE DOT} B02",
        ]
        assert "2 are called so" in sheet.page.text_content("#search-status")
    # The first of them has the focus; an arrow goes to the next.
    sheet.page.keyboard.press("ArrowDown")
    sheet.page.keyboard.press("Enter")
    assert sheet.title() == "B02-R012"
    for typed, found in (("block 2 row 12", "B02-R012"), ("b2 zone 3", "B02-Z03"), ("block 1", "B01")):
        sheet.find(typed)
        assert sheet.title() == found


def test_a_blocks_own_name_is_found_and_narrows_down(estate: Plan, tmp_path: Path, open_map: Opener) -> None:
    path = tmp_path / "map.html"
    write_map(dataclasses.replace(estate, blocks=estate.blocks.assign(name=["Encosta", "Talh\u00e3o do Rio"])), path)
    sheet = open_map(path)
    sheet.find("talhao do rio")
    assert sheet.title() == "B02"
    sheet.find("Talh\u00e3o do Rio row 12")
    assert sheet.title() == "B02-R012"


def test_the_address_goes_along_and_back_goes_back(estate_map: Path, open_map: Opener) -> None:
    sheet = open_map(estate_map)
    sheet.find("b1 r22")
    sheet.find("b2 r12 p3")
    assert sheet.page.url.endswith("#B02-R012-P003")
    # Walking from post to post is one step, however far one goes.
    sheet.page.locator("#profile-post").press("ArrowRight")
    sheet.page.locator("#profile-post").press("ArrowRight")
    assert sheet.page.url.endswith("#B02-R012-P005")
    sheet.page.go_back()
    sheet.page.wait_for_function("document.getElementById('sheet-title').textContent === 'B01-R022'")
    sheet.page.go_back()
    sheet.page.wait_for_selector("#sheet", state="hidden")
    sheet.page.go_forward()
    sheet.page.wait_for_selector("#sheet")
    assert sheet.title() == "B01-R022"
    sheet.page.click("#sheet-close")
    assert sheet.page.evaluate("location.hash") == ""
    assert sheet.trouble() == []


def test_a_link_with_an_id_opens_there(estate_map: Path, open_map: Opener) -> None:
    assert open_map(estate_map, "#B02-R030-P003").title() == "B02-R030-P003"
    assert not open_map(estate_map, "#%zz<b>").open_sheet()


def test_one_can_walk_along_a_row(estate_map: Path, open_map: Opener) -> None:
    sheet = open_map(estate_map, "#B01-R022-P001")
    assert "End post" in sheet.page.inner_text("#card .card")
    for number in (2, 3, 4):
        sheet.page.click("#card button.step >> nth=-1")
        assert sheet.title() == f"B01-R022-P{number:03d}"
    sheet.page.click("#card button.step >> nth=0")
    assert sheet.title() == "B01-R022-P003"
    sheet.page.click("#card button.link >> nth=0")
    assert sheet.title() == "B01-R022"


def test_a_finding_leads_to_its_place(estate: Plan, tmp_path: Path, open_map: Opener) -> None:
    found = (Finding("steep-row", "B01-R032", "Row B01-R032 climbs 31.2 %."), Finding("relief", "B02", "High."))
    path = tmp_path / "map.html"
    write_map(dataclasses.replace(estate, findings=finding_table(found)), path)
    sheet = open_map(path)
    assert sheet.count("findings") == 1
    sheet.page.click("#findings button.show >> nth=0")
    assert sheet.title() == "Warning"
    sheet.page.click("#card button.link")
    assert sheet.title() == "B01-R032"
    assert sheet.trouble() == []


@pytest.mark.parametrize("nasty", [" ".join(NASTY), "x" * 10_000], ids=["all", "long"])
def test_names_from_files_cannot_do_anything(nasty: str, estate: Plan, tmp_path: Path, open_map: Opener) -> None:
    config = estate.config.model_copy(
        update={
            "name": nasty,
            "elevation": estate.config.elevation.model_copy(update={"raster": nasty.replace("/", ":")}),
        }
    )
    blocks = estate.blocks.assign(name=nasty, block_id=[nasty, "B02"])
    rows = estate.rows.assign(block_id=estate.rows["block_id"].replace("B01", nasty))
    findings = (Finding("block-named-by-us", nasty, f"About {nasty}."), Finding("relief", nasty, nasty))
    path = tmp_path / "map.html"
    adjusters = estate.adjusters.assign(kind=nasty)
    renamed = dataclasses.replace(estate, config=config, blocks=blocks, rows=rows, adjusters=adjusters, grids=())
    write_map(dataclasses.replace(renamed, findings=finding_table(findings)), path)
    sheet = open_map(path, f"#{adjusters['row_id'].iloc[0]}")
    assert nasty in sheet.page.locator(".wires td").all_text_contents()
    sheet.page.click("#sheet-close")
    sheet.page.evaluate("() => document.getElementById('layer-zones')?.click()")
    # Inside the first block, in the headland, where there is neither row nor post.
    inside = estate.blocks.geometry.iloc[0]
    assert isinstance(inside, Polygon)
    edge = inside.exterior.interpolate(0.03, normalized=True)
    middle = inside.centroid
    sheet.click_at(edge.x + 0.012 * (middle.x - edge.x), edge.y + 0.012 * (middle.y - edge.y), zoom=22)
    assert sheet.page.text_content("#sheet-title") == nasty
    shown = sheet.page.text_content("#findings")
    assert printable(nasty) in shown
    assert sheet.page.evaluate("window.hurt") is None
    assert sheet.page.text_content("#plan-name") == nasty
    assert sheet.page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")
    assert sheet.trouble() == []


def test_it_works_on_a_phone(estate: Plan, estate_map: Path, open_map: Opener) -> None:
    sheet = open_map(estate_map, **PHONE)
    assert not sheet.page.is_visible("#panel")
    sheet.page.tap("#panel-toggle")
    assert sheet.page.is_visible("#headline")
    assert sheet.page.get_attribute("#panel-toggle", "aria-expanded") == "true"
    sheet.page.tap("#panel-toggle")
    assert not sheet.page.is_visible("#panel")
    assert sheet.page.evaluate("document.documentElement.scrollWidth") == 390
    post = first_two_way(estate)
    sheet.page.fill("#search-box", post["post_id"])
    sheet.page.keyboard.press("Enter")
    assert sheet.title() == post["post_id"]
    box = sheet.page.locator("#sheet").bounding_box()
    assert box["x"] >= 0
    assert box["x"] + box["width"] <= 390
    assert sheet.trouble() == []


def test_every_control_has_a_name(estate_map: Path, open_map: Opener) -> None:
    nameless = open_map(estate_map).page.evaluate(
        """() => [...document.querySelectorAll("button, input, a, select")].filter((one) =>
            !(one.textContent.trim() || one.getAttribute("aria-label") || (one.labels && one.labels.length))
        ).map((one) => one.outerHTML)"""
    )
    assert nameless == []


def test_printing_draws_the_map_for_paper_and_goes_back(estate_map: Path, open_map: Opener) -> None:
    sheet = open_map(estate_map)
    before = sheet.page.evaluate("[plan_map.getZoom(), plan_map.getSize().x]")
    assert sheet.page.pdf(prefer_css_page_size=True).startswith(b"%PDF")
    assert sheet.page.evaluate("[plan_map.getZoom(), plan_map.getSize().x]") == before
    assert not sheet.page.evaluate("document.body.classList.contains('printing')")
    assert sheet.trouble() == []
