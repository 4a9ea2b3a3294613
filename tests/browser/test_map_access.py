"""The map for those who use no mouse, or do not see it: WCAG 2.2 AA as far as axe-core tells, and the keyboard."""

from collections.abc import Callable
from importlib.resources import files
from pathlib import Path
from typing import Any

import pytest
from wirerun.records import Plan

Opener = Callable[..., Any]
PHONE = {"viewport": {"width": 390, "height": 844}, "has_touch": True, "is_mobile": True}
DESK = {"viewport": {"width": 1400, "height": 900}}


@pytest.fixture(scope="session")
def axe() -> str:
    """Return the script of axe-core, which the tests' extra brings along."""
    return (files("axe_playwright_python") / "axe.min.js").read_text("utf-8")


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("screen", [PHONE, DESK], ids=["phone", "desk"])
@pytest.mark.parametrize("opened", ["", "#B01-R050", "#B01-R050-P008", "#B01-Z12"])
def test_axe_finds_nothing(
    estate_map: Path, open_map: Opener, axe: str, screen: dict[str, Any], scheme: str, opened: str
) -> None:
    sheet = open_map(estate_map, opened, color_scheme=scheme, **screen)
    if screen is PHONE and not opened:
        sheet.page.click("#panel-toggle")
    sheet.page.evaluate(axe)
    told = sheet.page.evaluate("() => axe.run(document, { resultTypes: ['violations'] })")
    assert [(one["id"], one["nodes"][0]["html"]) for one in told["violations"]] == []
    assert len(told["passes"]) > 20


def test_every_control_is_at_most_forty_tabs_from_the_start(estate: Plan, estate_map: Path, open_map: Opener) -> None:
    """From the top to all before the panel, and by the second link into the panel to all in it; print stands last."""
    worst = estate.rows.nlargest(1, "two_way_posts")["row_id"].iloc[0]
    for opened in ("", f"#{worst}", "#B01-R050-P008"):
        page = open_map(estate_map, opened).page
        page.evaluate("() => document.querySelector('[data-skip]').focus()")
        where = "() => { const one = document.activeElement; return [one.id, one.closest('aside')?.id || ''] }"
        stops = [page.evaluate(where)]
        while len(stops) < 90 and stops[-1][0] != "print":
            page.keyboard.press("Tab")
            stops.append(page.evaluate(where))
        assert stops[-1][0] == "print"
        of_panel = sum(part == "panel" for _, part in stops)
        assert 5 < len(stops) - of_panel <= 40
        assert 10 < of_panel + 2 <= 40


def test_arrows_go_along_the_findings_and_into_what_is_unfolded(estate_map: Path, open_map: Opener) -> None:
    page = open_map(estate_map).page
    there = "() => document.activeElement.tagName + ' ' + document.activeElement.closest('details').dataset.code"
    codes = page.evaluate("() => [...document.querySelectorAll('#findings details')].map((one) => one.dataset.code)")
    page.focus("#findings summary")
    page.keyboard.press("ArrowDown")
    assert page.evaluate(there) == f"SUMMARY {codes[1]}"
    page.keyboard.press("End")
    assert page.evaluate(there) == f"SUMMARY {codes[-1]}"
    page.evaluate("() => document.querySelector('#findings details:has(button)').open = true")
    page.focus("#findings details:has(button) summary")
    page.keyboard.press("ArrowDown")
    assert page.evaluate(there).startswith("BUTTON")
    assert page.locator("#findings [tabindex='0']").count() <= 2


def test_the_zones_are_one_tab_and_arrows_go_along(estate: Plan, estate_map: Path, open_map: Opener) -> None:
    page = open_map(estate_map).page
    page.focus("#zone-list button")
    page.keyboard.press("ArrowDown")
    page.keyboard.press("ArrowDown")
    assert page.evaluate("document.activeElement.textContent") == estate.zones["zone_id"].iloc[2]
    page.keyboard.press("End")
    assert page.evaluate("document.activeElement.textContent") == estate.zones["zone_id"].iloc[-1]
    assert page.locator("#zone-list [tabindex='0']").count() == 1


def test_links_skip_to_the_map_and_to_the_panel(estate_map: Path, open_map: Opener) -> None:
    page = open_map(estate_map).page
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.textContent") == "Skip to the map"
    page.keyboard.press("Enter")
    assert page.evaluate("document.activeElement.id") == "plan_map"
    page.focus("[data-skip=panel]")
    page.keyboard.press("Enter")
    assert page.evaluate("document.activeElement.id") == "panel"


def test_a_post_is_chosen_on_the_map_by_keys_alone(estate: Plan, estate_map: Path, open_map: Opener) -> None:
    sheet = open_map(estate_map)
    post = estate.posts.iloc[500]
    sheet.page.evaluate("([p, z]) => { plan_map.setView(p, z, {animate: false}); }", [[post["lat"], post["lon"]], 21])
    sheet.page.keyboard.press("Tab")
    sheet.page.keyboard.press("Enter")
    assert sheet.page.evaluate("getComputedStyle(document.activeElement, '::after').content") != "none"  # the cross
    sheet.page.keyboard.press("Enter")
    assert sheet.title() == post["post_id"]
    assert sheet.page.evaluate("document.activeElement.id") == "sheet-title"
    sheet.page.keyboard.press("Escape")
    assert sheet.page.evaluate("document.activeElement.id") == "plan_map"
    assert sheet.trouble() == []


def test_the_map_says_in_words_what_it_shows(estate: Plan, estate_map: Path, open_map: Opener) -> None:
    page = open_map(estate_map).page
    chart = page.locator("#plan_map")
    assert chart.get_attribute("role") == "application"
    assert chart.get_attribute("aria-label") == "Map of the plan"
    said = page.text_content(f"#{chart.get_attribute('aria-describedby')}")
    assert f"{len(estate.rows)} rows" in said
    assert page.locator("main").count() == page.locator("header").count() == page.locator("aside").count() == 1


def test_no_word_is_smaller_than_twelve_pixels(estate_map: Path, open_map: Opener) -> None:
    page = open_map(estate_map, "#B01-R050-P008").page
    small = page.evaluate(
        """() => [...document.querySelectorAll("body *")].filter((one) =>
            one.checkVisibility() && [...one.childNodes].some((node) => node.nodeType === 3 && node.data.trim()) &&
            parseFloat(getComputedStyle(one).fontSize) < 12
        ).map((one) => one.outerHTML)"""
    )
    assert small == []


def test_a_row_is_walked_and_ticks_stay(estate: Plan, estate_map: Path, open_map: Opener) -> None:
    """On a phone, with the position: the nearest post of the row comes by itself, and what is ticked stays so."""
    posts = estate.posts[estate.posts["row_id"] == "B01-R026"].reset_index(drop=True)
    there = {"latitude": posts.loc[9, "lat"], "longitude": posts.loc[9, "lon"], "accuracy": 4.0}
    sheet = open_map(estate_map, "#B01-R026", geolocation=there, permissions=["geolocation"], **PHONE)
    page = sheet.page
    page.tap("#walk")
    assert page.inner_text("#walk-post") == posts.loc[0, "post_id"]
    page.tap("#walk-tick")
    page.tap("#walk-next")
    assert page.inner_text("#walk-post") == posts.loc[1, "post_id"]
    clip = estate.clips[estate.clips["post_id"] == posts.loc[1, "post_id"]].iloc[0]
    assert f"{clip['wire_id']}: {clip['clip']}" in page.inner_text("#walk-words")
    page.check("#walk-follow")
    page.wait_for_function(
        "(id) => document.getElementById('walk-post').textContent === id", arg=posts.loc[9, "post_id"]
    )
    page.reload()
    page.wait_for_selector("body[data-plan]", state="attached")
    page.tap("#walk")
    page.uncheck("#walk-follow")
    assert "1 ticked" in page.inner_text("#walk-words")
    page.tap("#walk-end")
    assert not page.is_visible("#walk-bar")
    assert page.is_visible("#sheet")
    assert sheet.trouble() == []
