"""The page of a study in a browser: chart, table and maps tell the same, it asks nobody, and fits a phone."""

import re
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest
from wirerun.model.study import Study
from wirerun.settings import Config
from wirerun.tables import empty
from wirerun.tables.study import MEASURES, STUDY_ROWS
from wirerun.write.pages import write_study_page

RING = np.array([[0.0, 0.0], [100.0, 20.0], [70.0, 90.0], [0.0, 0.0]])


def by_hand() -> Study:
    """Return a study of four directions: the second is ruled out, the third is on the front."""
    config = Config.model_validate(
        {
            "name": "by-hand",
            "block": {"boundary": "b.geojson"},
            "elevation": {"raster": "g.tif"},
            "rows": {"bearing_deg": 10.0, "spacing_m": 2.4},
        }
    )
    cases = pd.DataFrame(
        {"case": ["C000", "C001", "C002", "C003"], "rows.bearing_deg": ["10.0", "50.0", "90.0", "130.0"]}
    )
    for at, column in enumerate(MEASURES):
        cases[column.name] = 10.0 * at + np.arange(4.0)
    cases["cost"] = [4000.0, np.nan, 3000.0, 3500.0]
    cases["whole"] = ["yes", "no", "yes", "yes"]
    cases["ruled_out"] = ["", "grade_max_pct 22 is above 20 <b>", "", ""]
    cases["front"] = ["no", None, "yes", "no"]
    cases["failed"] = ""
    lines = {"C000": (RING[:2],), "C002": (RING[1:3], RING[:2])}
    return Study(config, ("rows.bearing_deg",), (), cases, empty(STUDY_ROWS), (RING,), lines, config.study.measures)


@pytest.fixture(scope="module")
def page_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("study") / "study.html"
    write_study_page(by_hand(), path)
    return path


def test_a_direction_stands_on_both_sides_of_the_outline(page: Any) -> None:  # noqa: ANN401 - the driver's own type
    # Three directions have a cost: each twice, opposite each other.
    dots = page.locator("#chart .case")
    assert dots.count() == 6
    boxes = [dots.nth(at).bounding_box() for at in range(6)]
    by_case: dict[str, list[tuple[float, float]]] = {}
    for at, box in enumerate(boxes):
        name = dots.nth(at).get_attribute("data-case")
        by_case.setdefault(name, []).append((box["x"] + box["width"] / 2, box["y"] + box["height"] / 2))
    middles = np.array([np.mean(two, axis=0) for two in by_case.values()])
    assert np.ptp(middles, axis=0).max() < 2.0
    # 90 degrees lies east and west of the middle.
    (_, one), (_, two) = by_case["C002"]
    assert one == pytest.approx(two, abs=1.0)


def test_a_click_in_the_chart_picks_the_case_everywhere(page: Any) -> None:  # noqa: ANN401
    page.locator('#chart [data-case="C002"]').first.click()
    assert page.inner_text("#picked h2") == "C002: rows.bearing_deg 90.0"
    cost = page.locator("#picked tr", has_text="cost").inner_text().split("\t")
    assert [re.sub(r"\s", "", cell) for cell in cost[1:]] == ["3000", "\N{MINUS SIGN}1000"]
    assert page.locator("#table tr.picked th").inner_text() == "C002"
    assert page.locator('#maps [aria-pressed="true"]').count() == 1


def test_the_table_sorts_and_is_narrowed_down(page: Any) -> None:  # noqa: ANN401
    def first_column() -> list[str]:
        return list(page.locator("#table tbody th").all_inner_texts())

    head = page.locator("#table thead button", has_text="cost")
    head.click()
    assert first_column() == ["C002", "C003", "C000", "C001"]  # what is not known comes last
    page.locator("#table thead button", has_text="cost").click()
    assert first_column()[-1] == "C002"
    page.select_option("#which", "allowed")
    assert "C001" not in first_column()
    page.select_option("#which", "front")
    assert sorted(first_column()) == ["C000", "C002"]


def test_one_measure_against_another_and_what_is_ruled_out(page: Any) -> None:  # noqa: ANN401
    page.select_option("#against", "posts")
    page.select_option("#measure", "rows")
    assert page.locator("#chart .case").count() == 4
    page.locator('#chart [data-case="C001"]').first.click()
    assert "Ruled out: grade_max_pct 22 is above 20 <b>" in page.inner_text("#picked")
    assert "Not planned whole" in page.inner_text("#picked")


def test_it_fits_its_window(page: Any) -> None:  # noqa: ANN401
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")
