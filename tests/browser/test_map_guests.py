"""The map as a folium map in a real browser: with what people add to one, in a notebook, and where it cannot run."""

import dataclasses
import json
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import folium
import pytest
from folium.plugins import MiniMap
from wirerun.records import Plan
from wirerun.write.html_map import build_map

Opener = Callable[..., Any]
# What the plugin would fetch, as far as the page asks: the host answers, so the policy alone decides.
MINI_MAP = "L.Control.MiniMap = L.Control.extend({ onAdd: () => L.DomUtil.create('p', 'mini') });"
JQUERY = (
    "window.$ = (text) => { const box = document.createElement('div'); box.innerHTML = text; return box.children; };"
)


@pytest.fixture(scope="module")
def quick(estate: Plan) -> Plan:
    """Return the sample estate without its ground, which takes longest to draw."""
    return dataclasses.replace(estate, grids=())


def middle(plan: Plan) -> tuple[float, float]:
    """Return the middle of all blocks, latitude first."""
    west, south, east, north = plan.blocks.total_bounds
    return (south + north) / 2, (west + east) / 2


def saved(plan_map: folium.Map, folder: Path) -> Path:
    """Return the file of a map."""
    path = folder / "map.html"
    plan_map.save(path)
    return path


def test_a_marker_and_geojson_lie_on_the_plan(quick: Plan, tmp_path: Path, open_map: Opener) -> None:
    plan_map = build_map(quick)
    plan_map.add_child(folium.Marker(middle(quick), tooltip="Gate"))
    blocks = json.loads(quick.blocks[["block_id", "geometry"]].to_json())
    plan_map.add_child(folium.GeoJson(blocks, tooltip=folium.GeoJsonTooltip(["block_id"])))
    plan_map.add_child(folium.LayerControl())
    sheet = open_map(saved(plan_map, tmp_path))
    assert sheet.page.evaluate("document.body.dataset.plan") == "shown"
    pin = sheet.page.locator(".leaflet-marker-icon")
    assert pin.evaluate("(image) => [image.complete, image.naturalWidth > 0]") == [True, True]
    pin.hover()
    assert sheet.page.inner_text(".leaflet-tooltip") == "Gate"
    assert sheet.page.locator("canvas").count() >= 2  # ours, and the map library's for the outlines
    assert [url for url in sheet.requests if not url.startswith("data:")] == [(tmp_path / "map.html").as_uri()]
    assert sheet.trouble() == []


def test_the_plan_is_a_layer_among_layers(quick: Plan, tmp_path: Path, open_map: Opener) -> None:
    plan_map = build_map(quick)
    plan_map.add_child(folium.FeatureGroup(name="Gates").add_child(folium.Marker(middle(quick))))
    plan_map.add_child(folium.LayerControl(collapsed=False))
    sheet = open_map(saved(plan_map, tmp_path))
    assert sheet.page.locator(".leaflet-control-layers-overlays label").all_inner_texts() == [
        " Trellis wire plan",
        " Gates",
    ]
    at = sheet.page.evaluate("[plan_map.getZoom(), plan_map.getCenter().lng]")
    box = sheet.page.locator(".leaflet-control-layers-overlays input").first
    box.uncheck()
    assert sheet.page.locator(".plan-canvas").count() == 0
    box.check()
    assert sheet.page.locator(".plan-canvas").count() == 1
    painted = "(canvas) => new Set(canvas.getContext('2d').getImageData(0, 0, 900, 600).data).size"
    assert sheet.page.locator(".plan-canvas").evaluate(painted) > 10
    # It comes back where the map is now, and its panel is not filled twice.
    assert sheet.page.evaluate("[plan_map.getZoom(), plan_map.getCenter().lng]") == at
    assert sheet.page.locator("#views input").count() == len(set(sheet.page.locator("#views label").all_inner_texts()))
    assert sheet.trouble() == []


def test_whoever_moves_the_map_after_the_plan_has_the_last_word(quick: Plan, tmp_path: Path, open_map: Opener) -> None:
    plan_map = build_map(quick)
    lat, lon = middle(quick)
    plan_map.fit_bounds([[lat, lon], [lat + 0.0002, lon + 0.0002]])
    sheet = open_map(saved(plan_map, tmp_path))
    assert sheet.page.evaluate("plan_map.getZoom()") > 19
    assert sheet.trouble() == []


def test_a_plugin_runs_from_the_host_that_it_names_and_from_no_other(
    quick: Plan, tmp_path: Path, open_map: Opener
) -> None:
    plan_map = build_map(quick)
    plan_map.add_child(MiniMap())  # type: ignore[no-untyped-call]
    asked: list[str] = []

    def answer(route: Any) -> None:  # noqa: ANN401 - the driver's own type
        asked.append(route.request.url)
        if route.request.resource_type == "script":
            route.fulfill(body=MINI_MAP, content_type="text/javascript")
        else:
            route.fulfill(body="", content_type="text/css")

    path = saved(plan_map, tmp_path)
    sheet = open_map(path, route=(re.compile("^https:"), answer))
    assert sheet.page.evaluate("document.body.dataset.plan") == "shown"
    assert sheet.page.locator(".leaflet-control.mini").count() == 1
    assert set(asked) == {url for _, url in MiniMap.default_js + MiniMap.default_css}
    assert sheet.trouble() == []
    sheet.page.evaluate(
        "document.head.append(Object.assign(document.createElement('script'), {src: 'https://a.example/x.js'}))"
    )
    sheet.page.wait_for_function("() => window.broken.length > 0")
    assert sheet.page.evaluate("window.broken") == ["script-src-elem"]


def test_without_its_host_a_plugin_is_missing_and_the_plan_is_not(
    quick: Plan, tmp_path: Path, open_map: Opener
) -> None:
    plan_map = build_map(quick)
    plan_map.add_child(MiniMap())  # type: ignore[no-untyped-call]
    sheet = open_map(saved(plan_map, tmp_path))
    assert sheet.page.evaluate("document.body.dataset.plan") == "shown"
    assert sheet.count("two-way") > 0
    assert any("MiniMap" in one for one in sheet.trouble())


def test_a_popup_opens_with_its_own_styles(quick: Plan, tmp_path: Path, open_map: Opener) -> None:
    plan_map = build_map(quick)
    plan_map.add_child(folium.Marker(middle(quick), popup='<b style="color: rgb(255, 0, 0)">Gate</b>'))

    def answer(route: Any) -> None:  # noqa: ANN401 - the driver's own type
        route.fulfill(body=JQUERY, content_type="text/javascript")

    sheet = open_map(saved(plan_map, tmp_path), route=(re.compile("^https://code.jquery.com/"), answer))
    sheet.page.locator(".leaflet-marker-icon").click(force=True)
    sheet.page.wait_for_selector(".leaflet-popup-content b")
    assert (
        sheet.page.locator(".leaflet-popup-content b").evaluate("(b) => getComputedStyle(b).color") == "rgb(255, 0, 0)"
    )
    assert sheet.trouble() == []


def test_a_notebook_shows_it_in_a_frame(quick: Plan, tmp_path: Path, open_map: Opener) -> None:
    path = tmp_path / "notebook.html"
    shown = build_map(quick)._repr_html_()
    # The frame's own script says when it is done, not the notebook's page.
    path.write_text(f'<!DOCTYPE html><meta charset="utf-8"><body data-plan="frame">{shown}</body>', encoding="utf-8")
    sheet = open_map(path)
    frame = sheet.page.frame_locator("iframe")
    frame.locator('body[data-plan="shown"]').wait_for(state="attached")
    assert frame.locator("#plan-name").inner_text() == quick.config.name
    assert frame.locator(".plan-canvas").count() == 1
    assert sheet.trouble() == []


def test_a_browser_that_cannot_unpack_the_plan_says_which_can(quick: Plan, tmp_path: Path, open_map: Opener) -> None:
    sheet = open_map(saved(build_map(quick), tmp_path), script="delete window.DecompressionStream;")
    says = sheet.page.inner_text("#page-says")
    # The first releases that have it, by the compatibility data of MDN Web Docs.
    assert re.findall(r"\d+(?:\.\d+)?", says) == ["80", "113", "16.4"]
    assert says.count(".") == 2  # one sentence, and the one in 16.4
    assert sheet.page.locator("#page-says").get_attribute("role") == "alert"
    assert sheet.trouble() == []


def test_a_file_that_was_cut_short_says_so(quick: Plan, tmp_path: Path, open_map: Opener) -> None:
    path = saved(build_map(quick), tmp_path)
    page = path.read_text(encoding="utf-8")
    (data,) = re.findall(r'id="plan-data">([^<]*)<', page)
    path.write_text(page.replace(data, data[: len(data) // 2]), encoding="utf-8")
    sheet = open_map(path)
    assert "damaged" in sheet.page.inner_text("#page-says")
    assert sheet.trouble() == []
