"""The page of a comparison in a browser: it draws itself, keeps its policy, asks nobody, and fits a phone."""

from pathlib import Path
from typing import Any

import pandas as pd
import pytest
from wirerun.compare import compare_plans
from wirerun.records import FinishedPlan
from wirerun.write.pages import write_comparison_page


def plan(folder: str, *posts: tuple[str, str, str, str]) -> FinishedPlan:
    """Return a plan of one row by hand: post, station, longitude, clip."""
    frame = pd.DataFrame(posts, columns=["post_id", "station_m", "lon", "clip"], dtype="str")
    frame = frame.assign(row_id="B01-R001", kind="intermediate", lat="41.2", clip_need=frame["clip"])
    clips = frame[["post_id", "row_id", "clip"]].assign(wire_id="<b>lower</b>")
    rows = pd.DataFrame({"row_id": ["B01-R001"], "length_m": ["12"], "two_way_posts": ["0"]}, dtype="str")
    record = {"name": "by hand", "config": {"rows": {"spacing_m": 2.4}}}
    return FinishedPlan(folder, record, {"rows": rows, "posts": frame.drop(columns="clip"), "clips": clips})


@pytest.fixture(scope="module")
def page_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    first = plan(
        "a", ("P1", "0", "-7.6", "one-way"), ("P2", "6", "-7.5999", "one-way"), ("P3", "12", "-7.5998", "one-way")
    )
    other = plan(
        "<i>b</i>",
        ("P1", "0", "-7.6", "two-way"),
        ("P2", "7", "-7.59988", "one-way"),
        ("P4", "13", "-7.5997", "one-way"),
    )
    path = tmp_path_factory.mktemp("compare") / "compare.html"
    write_comparison_page(compare_plans([first, other, first]), path)
    return path


def test_it_counts_what_became_of_posts(page: Any) -> None:  # noqa: ANN401 - the driver's own type
    words = page.inner_text("#legend")
    for line in ("posts added: 1", "posts gone: 1", "posts moved, with where they stood: 1", "get other clips: 1"):
        assert line in words
    assert page.inner_text("#verdict") == "B is not the same plan as A."
    assert "<i>b</i>" in page.inner_text("#plans")
    page.click("#which button:nth-child(2)")
    assert page.inner_text("#verdict") == "C is the same plan as A: no line of any table differs."
    assert "posts gone: 0" in page.inner_text("#legend")


def test_it_fits_its_window(page: Any) -> None:  # noqa: ANN401
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")


def test_a_mark_tells_what_it_is(page: Any) -> None:  # noqa: ANN401
    box = page.query_selector("#map").bounding_box()
    for x in range(0, int(box["width"]), 4):
        page.mouse.click(box["x"] + x, box["y"] + box["height"] / 2)
        if page.is_visible("#card"):
            break
    assert page.inner_text("#card strong") == "P1"
    assert "<b>lower</b>: clip one-way > two-way" in page.inner_text("#card")
