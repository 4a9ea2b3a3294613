"""The page on screens from 320 to 2560 pixels: all of it in sight, the plan where it was, no words over each other."""

import itertools
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from wirerun.records import Plan

Opener = Callable[..., Any]
SCREENS = ((320, 640), (390, 844), (768, 1024), (844, 390), (1024, 768), (1440, 900), (2560, 1300))
FINGER = {"has_touch": True, "is_mobile": True}
PLACE = """() => {
    const { lat, lng } = plan_map.getCenter();
    return [lat, lng, plan_map.getZoom(), ...Object.values(plan_map.getSize())];
}"""
BOXES = """(found) => [...document.querySelectorAll(found)].map((one) => {
    const { left, right, top, bottom } = one.getBoundingClientRect();
    return [one.textContent, left, right, top, bottom];
})"""
# Upright words on the canvas since it was last wiped: [words, left, right, top, foot].
WORDS = """
window.words = [];
const { fillText, clearRect } = CanvasRenderingContext2D.prototype;
CanvasRenderingContext2D.prototype.clearRect = function (...box) {
    if (this.canvas.classList.contains("plan-canvas")) window.words = [];
    return clearRect.apply(this, box);
};
CanvasRenderingContext2D.prototype.fillText = function (text, x, y) {
    if (this.canvas.classList.contains("plan-canvas") && this.getTransform().b === 0) {
        const { width } = this.measureText(text);
        window.words.push([text, x - width / 2, x + width / 2, y - 5, y + 5]);
    }
    return fillText.call(this, text, x, y);
};
"""


def overlaps(boxes: list[list[Any]]) -> list[tuple[str, str]]:
    """Return the pairs of words that lie over each other by more than half a pixel."""
    return [
        (a[0], b[0])
        for a, b in itertools.combinations(boxes, 2)
        if min(a[2], b[2]) - max(a[1], b[1]) > 0.5 and min(a[4], b[4]) - max(a[3], b[3]) > 0.5
    ]


@pytest.mark.parametrize("screen", SCREENS, ids=lambda size: f"{size[0]}x{size[1]}")
def test_everything_fits_and_nothing_moves(
    estate: Plan, estate_map: Path, open_map: Opener, screen: tuple[int, int]
) -> None:
    """The profile of a row has room, the sheet lies within the window, and opening and closing leaves the plan."""
    wide, high = screen
    touch = FINGER if wide < 900 else {}
    sheet = open_map(estate_map, viewport={"width": wide, "height": high}, script=WORDS, **touch)
    page = sheet.page
    before = page.evaluate(PLACE)
    assert overlaps(page.evaluate("window.words")) == []
    if wide < 900:
        page.click("#panel-toggle")
        assert page.evaluate(PLACE) == before
        assert "193" in page.inner_text("#in-view")
        page.click("#panel-toggle")
    # A post in the middle of the window: in sight where the sheet is beside it, and else not.
    post = estate.posts.iloc[(estate.posts["kind"] != "end").to_numpy().nonzero()[0][2000]]
    page.evaluate("([p, z]) => { plan_map.setView(p, z, {animate: false}); }", [[post["lat"], post["lon"]], 21])
    settled = page.evaluate(PLACE)
    sheet.click_at(post["lon"], post["lat"])
    assert sheet.title() == post["post_id"]
    seen = page.evaluate(
        "(place) => { const p = plan_map.latLngToContainerPoint(place); return [p.x, p.y]; }",
        [
            post["lat"],
            post["lon"],
        ],
    )
    box = page.locator("#sheet").bounding_box()
    chart = page.locator("#plan").bounding_box()
    assert seen[0] + chart["x"] < box["x"] or seen[1] + chart["y"] < box["y"]  # not under the sheet
    assert page.evaluate("document.documentElement.scrollWidth") == wide
    assert box["x"] >= 0
    assert box["x"] + box["width"] <= wide + 0.5
    assert box["y"] >= chart["y"] - 0.5
    drawn = page.locator("svg.profile").bounding_box()
    assert drawn["width"] >= min(280, 0.5 * wide)
    assert drawn["height"] >= 200
    assert (
        page.evaluate(
            "() => { const d = document.getElementById('profile-drawing'); return d.scrollWidth - d.clientWidth; }"
        )
        <= 0
    )
    assert overlaps(page.evaluate(BOXES, "svg.profile text")) == []
    page.click("#sheet-close")
    assert page.evaluate(PLACE) == pytest.approx(settled)
    assert sheet.trouble() == []


@pytest.mark.parametrize("zoom", [16.5, 18, 19.5, 21])
def test_words_on_the_map_do_not_overlap_at_any_zoom(estate_map: Path, open_map: Opener, zoom: float) -> None:
    page = open_map(estate_map, script=WORDS).page
    page.evaluate("(z) => { plan_map.setZoom(z, {animate: false}); }", zoom)
    words = page.evaluate("window.words")
    assert len(words) > 5
    assert overlaps(words) == []


def test_every_rows_profile_has_its_words_apart(estate: Plan, estate_map: Path, open_map: Opener) -> None:
    """All rows with two sections or more, each with the post chosen whose name is nearest to theirs."""
    page = open_map(estate_map).page
    sections = estate.posts.dropna(subset="section_id").groupby("row_id")
    chosen = [some["post_id"].iloc[len(some) // 2] for _, some in sections if some["section_id"].nunique() > 1]
    for post in [*chosen[::4], "B01-R001-P001", "B02-R030-P002"]:
        page.evaluate("(id) => { location.hash = id; }", post)
        page.wait_for_function("(id) => document.getElementById('sheet-title').textContent === id", arg=post)
        assert overlaps(page.evaluate(BOXES, "svg.profile text")) == [], post


def test_a_long_row_can_be_spread(estate: Plan, estate_map: Path, open_map: Opener) -> None:
    row = estate.rows.nlargest(1, "posts").iloc[0]
    sheet = open_map(estate_map, f"#{row['row_id']}", viewport={"width": 390, "height": 844}, **FINGER)
    width = "() => { const d = document.getElementById('profile-drawing'); return [d.scrollWidth, d.clientWidth]; }"
    inside, room = sheet.page.evaluate(width)
    assert inside <= room
    sheet.page.check("#profile-wide")
    inside, room = sheet.page.evaluate(width)
    assert inside > 25 * (row["posts"] - 1)
    # A post far along comes into sight when it is chosen.
    sheet.page.locator("#profile-post").press("End")
    assert sheet.page.evaluate("document.getElementById('profile-drawing').scrollLeft") > inside - 1.6 * room


def test_from_afar_a_click_opens_the_zone_and_the_row_comes_with_the_zoom(
    estate: Plan, estate_map: Path, open_map: Opener
) -> None:
    posts = estate.posts[estate.posts["section_id"].isna() & (estate.posts["kind"] != "end")]
    near, far = posts.iloc[2000], posts.iloc[2001]
    assert near["row_id"] == far["row_id"]
    row = estate.rows.set_index("row_id").loc[near["row_id"]]
    lon, lat = (near["lon"] + far["lon"]) / 2, (near["lat"] + far["lat"]) / 2
    phone = open_map(estate_map, viewport={"width": 390, "height": 844}, **FINGER)
    phone.click_at(lon, lat)
    assert phone.title() == row["zone_id"]
    desk = open_map(estate_map)
    for zoom, wanted in ((16.75, row["zone_id"]), (18.0, near["row_id"])):
        desk.click_at(lon, lat, zoom=zoom)
        assert desk.title() == wanted
        desk.page.keyboard.press("Escape")
    desk.click_at(near["lon"], near["lat"], zoom=21)
    assert desk.title() == near["post_id"]


def test_what_a_click_would_open_is_named_beside_the_pointer(estate: Plan, estate_map: Path, open_map: Opener) -> None:
    sheet = open_map(estate_map)
    post = estate.posts.iloc[500]
    sheet.click_at(post["lon"], post["lat"], zoom=21)
    sheet.page.keyboard.press("Escape")
    box = sheet.page.locator("#plan").bounding_box()
    place = sheet.page.evaluate(
        "(p) => { const q = plan_map.latLngToContainerPoint(p); return [q.x, q.y]; }",
        [
            post["lat"],
            post["lon"],
        ],
    )
    sheet.page.mouse.move(box["x"] + place[0] + 1, box["y"] + place[1] + 1)
    assert sheet.page.inner_text("#hover") == post["post_id"]
    sheet.page.mouse.move(5, 5)
    sheet.page.wait_for_selector("#hover", state="hidden")


def test_at_night_the_page_is_dark_and_paper_is_not(estate_map: Path, open_map: Opener) -> None:
    sheet = open_map(estate_map, color_scheme="dark")
    light = "(found) => getComputedStyle(document.querySelector(found)).backgroundColor.match(/\\d+/g).map(Number)"
    assert max(sheet.page.evaluate(light, "header")) < 60
    assert max(sheet.page.evaluate(light, ".leaflet-container")) < 60
    sheet.page.emulate_media(media="print", color_scheme="dark")
    ink = sheet.page.evaluate("getComputedStyle(document.body).getPropertyValue('--ink')")
    assert ink == "#1c2329"
