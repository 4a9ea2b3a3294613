"""The sheet of a row in service and for machines: every number as the tables have it, with its caution."""

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from wirerun import plan_config
from wirerun.records import Plan
from wirerun.rounding import rounded
from wirerun.write.html_map import write_map

Opener = Callable[..., Any]
SERVICE = {
    "crop_n_per_m": {"lower": 10.0},
    "wind_speed_ms": 20.0,
    "wind_speed_is": "gust",
    "canopy_open": 0.5,
    "sheltered_share": 0.3,
}


@pytest.fixture
def served(make_estate: Callable[..., Any], tmp_path: Path) -> tuple[Plan, Path]:
    """A small plan in service, with a limit for machines that its rows pass and one that they do not, and its map."""
    estate = make_estate(B01=[(-60.0, -8.0), (-10.0, -8.0), (-10.0, 8.0), (-60.0, 8.0)])
    (estate.folder / "limits.csv").write_text(
        "id,most_grade_pct,most_cross_pct,most_slope_pct,about,source,date\n"
        'mine,0.01,,,"",my <b>tractor</b>,2026-11-29\nyours,,,90,"",a guess,2026-11-29\n'
    )
    plan = plan_config(estate.config(service=SERVICE, machines={"limits": "limits.csv"}))
    write_map(plan, tmp_path / "map.html")
    return plan, tmp_path / "map.html"


def whole(value: float) -> str:
    return f"{rounded(value):.0f}"


def test_a_row_tells_what_it_bears_in_service(served: tuple[Plan, Path], open_map: Opener) -> None:
    plan, path = served
    row = plan.rows["row_id"].iloc[0]
    sheet = open_map(path, f"#{row}")
    told = plan.service[plan.service["row_id"] == row].set_index(["state", "wire_id"])
    over = [state for state in ("crop", "wind", "crop and wind") if "over" in set(told.loc[state, "verdict"])]
    assert over, "the scene has no such case any more"
    first, second = (sheet.page.locator("details.in-service summary").nth(at) for at in (0, 1))
    assert first.inner_text() == f"In service: over in {', '.join(over)}"
    first.click()
    lines = sheet.lines("service")
    head = sheet.page.locator("#card table.service thead th").all_inner_texts()
    assert head == ["Wire", "lower", "upper"]
    for at, state in enumerate(("crop", "wind", "crop and wind")):
        title, tension, loads, used, verdict = lines[5 * at : 5 * at + 5]
        assert title == [state]
        for column, wire in enumerate(head[1:], start=1):
            is_so = told.loc[(state, wire)]
            assert tension[column] == whole(is_so["tension_n"])
            assert loads[column] == " / ".join(whole(is_so[name]) for name in ("down_n", "up_n", "side_n"))
            assert used[column] == " / ".join(whole(is_so[name]) for name in ("knot_used_pct", "fixing_used_pct"))
            assert is_so["verdict"] in verdict[column]
            assert is_so["gives_first"] in verdict[column].replace("\n", " ")
    note = sheet.page.locator("details.in-service .small").first.inner_text()
    assert "No safety determination" in note
    assert "licensed practice" in note
    second.click()
    assert second.inner_text() == "For machines: over mine"
    limits = sheet.lines("machines")
    assert [line[0].split("\n") for line in limits] == [["mine", "my <b>tractor</b>"], ["yours", "a guess"]]
    assert ["over" in limits[0][-1], limits[1][-1]] == [True, "within"]
    assert sheet.trouble() == []


def test_without_the_sections_there_is_none_of_it(served: tuple[Plan, Path], tmp_path: Path, open_map: Opener) -> None:
    plan, _ = served
    bare = replace(plan, service=plan.service.iloc[:0], machine_rows=plan.machine_rows.iloc[:0])
    write_map(bare, tmp_path / "bare.html")
    sheet = open_map(tmp_path / "bare.html", f"#{plan.rows['row_id'].iloc[0]}")
    assert sheet.page.locator("details.in-service").count() == 0
    assert sheet.trouble() == []
