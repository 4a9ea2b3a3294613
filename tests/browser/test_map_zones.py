"""Work zones on the map, slopes on the rows, and the totals of what is in view."""

import dataclasses
import re
from collections.abc import Callable
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest
import shapely
from wirerun.records import Plan
from wirerun.write.html_map import write_map
from wirerun.write.html_map.slopes import slope_legend

Opener = Callable[..., Any]
NASTY = "</script><script>window.hurt=1</script> `${window.hurt=1}` \"'><svg onload=window.hurt=1> \u202e{{ 7*7 }}"
PIXELS = """(wanted) => {
    const canvas = document.querySelector(".plan-canvas");
    const { data } = canvas.getContext("2d").getImageData(0, 0, canvas.width, canvas.height);
    const rgb = [1, 3, 5].map((at) => parseInt(wanted.slice(at, at + 2), 16));
    let found = 0;
    for (let i = 0; i < data.length; i += 4) {
        found += data[i + 3] === 255 && rgb.every((value, k) => Math.abs(data[i + k] - value) < 3);
    }
    return found;
}"""


def quantity(value: float) -> str:
    """Return a number as the zone's card writes it, blanks taken out."""
    rounded = round(value, 1)
    return f"{rounded:.0f}" if rounded == int(rounded) else f"{rounded:.1f}"


def squeezed(text: str) -> str:
    """Return a text without blanks of any width."""
    return re.sub(r"\s", "", text)


def test_the_list_of_zones_answers_what_to_take_there(estate: Plan, estate_map: Path, open_map: Opener) -> None:
    sheet = open_map(estate_map)
    zone = estate.zones.iloc[min(4, len(estate.zones) - 1)]
    sheet.page.click(f'#zone-list button:text-is("{zone["zone_id"]}")')
    assert sheet.title() == zone["zone_id"]
    facts = sheet.facts("#card .facts")
    assert facts["Rows"] == str(zone["rows"])
    assert facts["Posts"] == str(zone["posts"])
    assert facts["Two-wayposts"] == str(zone["two_way_posts"])
    assert facts["Labourhours"] == f"{zone['hours']:.1f}h"
    assert f"{zone['first_row']} to {zone['last_row']}" in sheet.page.inner_text("#card")
    take = estate.zone_materials[estate.zone_materials["zone_id"] == zone["zone_id"]]
    told = {(item, kind): squeezed(many) for item, kind, many in sheet.lines("take")}
    assert told == {
        (line.item, line.kind): quantity(line.quantity) + ("" if line.unit == "piece" else line.unit)
        for line in take.itertuples()
    }
    tasks = estate.programme[estate.programme["zone_id"] == zone["zone_id"]].sort_values("step")
    lines = sheet.lines("tasks")
    assert [line[1].split("\n")[0] for line in lines] == list(tasks["task"])
    (strain,) = (line[1] for line in lines if line[1].startswith("tension"))
    assert strain.split("\n")[1] == "Strain only when the wire is in every clip."
    assert [float(line[3]) for line in lines] == pytest.approx(tasks["hours"].to_list(), abs=0.0501)
    # The map shows where it is, and the other zones.
    assert sheet.page.is_checked("#layer-zones")
    inside = zone.geometry.representative_point()
    assert sheet.page.evaluate("(place) => plan_map.getBounds().contains(place)", [inside.y, inside.x])
    assert sheet.trouble() == []


def test_a_click_between_the_rows_opens_the_zone(estate: Plan, estate_map: Path, open_map: Opener) -> None:
    sheet = open_map(estate_map)
    sheet.page.check("#layer-zones")
    rows = estate.rows[estate.rows["zone_id"] == estate.zones["zone_id"].iloc[2]]
    middles = [rows.geometry.iloc[k].interpolate(0.5, normalized=True) for k in (0, 1)]
    place = ((middles[0].x + middles[1].x) / 2, (middles[0].y + middles[1].y) / 2)
    sheet.click_at(*place, zoom=23)
    assert sheet.title() == estate.zones["zone_id"].iloc[2]
    sheet.page.keyboard.press("Escape")
    sheet.page.uncheck("#layer-zones")
    sheet.click_at(*place)
    assert sheet.title() == rows["block_id"].iloc[0]


@pytest.mark.parametrize("nasty", [NASTY, "x" * 10_000], ids=["nasty", "long"])
def test_names_of_zones_items_and_fixings_stay_text(nasty: str, estate: Plan, tmp_path: Path, open_map: Opener) -> None:
    zone = estate.zones["zone_id"].iloc[0]
    config = estate.config.model_copy(
        update={"map": estate.config.map.model_copy(update={"basemap_attribution": nasty})}
    )
    named = dataclasses.replace(
        estate,
        config=config,
        zones=estate.zones.assign(zone_id=estate.zones["zone_id"].replace(zone, nasty), slope_class=nasty),
        zone_materials=estate.zone_materials.assign(
            zone_id=estate.zone_materials["zone_id"].replace(zone, nasty), item=nasty
        ),
        programme=estate.programme.assign(
            zone_id=estate.programme["zone_id"].replace(zone, nasty),
            task=nasty,
            note=nasty,
            materials=nasty,
            tools=nasty,
        ),
        clips=estate.clips.assign(fixing=nasty, fixing_reason=nasty),
        wires=estate.wires.assign(wire_item=nasty),
        posts=estate.posts.assign(post_item=nasty),
        grids=(),
    )
    path = tmp_path / "map.html"
    write_map(named, path)
    post = estate.clips["post_id"].iloc[5]
    sheet = open_map(path, f"#{post}")
    assert nasty in sheet.page.text_content("#card .held")
    assert nasty in sheet.page.text_content("#card .facts")
    sheet.find(post.rpartition("-")[0])
    assert nasty in sheet.page.text_content("#card .wires")
    sheet.page.click("#zone-list button >> nth=0")
    assert sheet.page.text_content("#sheet-title") == nasty
    for part in ("take", "tasks"):
        assert nasty in sheet.page.text_content(f"#card .{part}")
    assert sheet.page.evaluate("window.hurt") is None
    assert sheet.page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")
    assert sheet.trouble() == []


@pytest.mark.parametrize(("band", "column"), [("along", "grade_pct"), ("across", "cross_slope_pct")])
def test_slope_classes_are_painted_on_the_rows(
    estate: Plan, estate_map: Path, open_map: Opener, band: str, column: str
) -> None:
    sheet = open_map(estate_map)
    sheet.page.select_option("#backdrop", "none")
    for layer in ("two-way", "look", "plain", "end", "sections", "rows", "contours"):
        sheet.page.uncheck(f"#layer-{layer}")
    colours = slope_legend(estate.config.work.slope_classes_pct)
    before = [sheet.page.evaluate(PIXELS, one["screen"]) for one in colours]
    sheet.page.select_option("#bands", band)
    painted = [sheet.page.evaluate(PIXELS, one["screen"]) - old for one, old in zip(colours, before, strict=True)]
    limits = [0.0, *estate.config.work.slope_classes_pct, np.inf]
    steep = estate.posts[column].abs()
    counts = [int(((steep >= low) & (steep < high)).sum()) for low, high in pairwise(limits)]
    assert [pixels > 0 for pixels in painted] == [count > 0 for count in counts]
    assert sheet.page.locator("#slope-legend li").all_inner_texts() == [one["name"] for one in colours]
    assert sheet.trouble() == []


def test_the_legend_names_the_classes_only_where_they_are_shown(estate_map: Path, open_map: Opener) -> None:
    sheet = open_map(estate_map)
    assert not sheet.page.is_visible("#slope-legend")
    sheet.page.select_option("#backdrop", "slopes")
    assert sheet.page.is_visible("#slope-legend")
    assert sheet.page.locator(".ground img").count() == 1
    sheet.page.select_option("#backdrop", "none")
    assert not sheet.page.is_visible("#slope-legend")
    assert sheet.page.locator(".ground img").count() == 0


def test_totals_of_what_is_in_view(estate: Plan, estate_map: Path, open_map: Opener) -> None:
    sheet = open_map(estate_map)
    whole, plan = sheet.facts("#in-view"), sheet.facts("#totals")
    for label in ("Rows", "Posts", "ofthesetwo-way", "Rowlength,level", "Adjusters"):
        assert whole[label] == plan[label]
    middle = estate.posts.iloc[len(estate.posts) // 3]
    sheet.page.evaluate("(place) => { plan_map.setView(place, 21, {animate: false}); }", [middle["lat"], middle["lon"]])
    edges = sheet.page.evaluate(
        "(() => { const b = plan_map.getBounds(); return [b.getWest(), b.getSouth(), b.getEast(), b.getNorth()]; })()"
    )
    window = shapely.box(*edges)
    posts = estate.posts[estate.posts.geometry.within(window)]
    two_way = estate.clips[(estate.clips["clip"] == "two-way") & estate.clips["post_id"].isin(posts["post_id"])]
    lines = estate.rows.geometry.to_numpy()
    share = pd.Series(
        shapely.length(shapely.intersection(lines, window)) / shapely.length(lines), index=estate.rows["row_id"]
    )
    seen = sheet.facts("#in-view")
    assert 20 < len(posts) < len(estate.posts) / 10
    assert int(seen["Posts"]) == pytest.approx(len(posts), abs=2)  # a post on the very edge of the window
    assert int(seen["ofthesetwo-way"]) == pytest.approx(two_way["post_id"].nunique(), abs=2)
    assert int(seen["Rows"]) == pytest.approx((share > 0).sum(), abs=1)
    metres = float((share * estate.rows.set_index("row_id")["length_m"]).sum())
    assert float(seen["Rowlength,level"].rstrip("m")) == pytest.approx(metres, rel=0.005)
    for wire, totals in estate.wires.groupby("wire_id"):
        run_out = float((share * totals.set_index("row_id")["run_out_m"]).sum())
        assert float(seen[f"Wire{wire}"].rstrip("m")) == pytest.approx(run_out, rel=0.005)
    assert sheet.trouble() == []
