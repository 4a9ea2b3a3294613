"""Measuring, units, the reader's own position, what may lie under the plan, and paper."""

import dataclasses
import io
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic
from pypdf import PdfReader
from wirerun.records import Orthophoto, Plan
from wirerun.settings import MapSettings
from wirerun.tables import as_lines
from wirerun.write.html_map import write_map

Opener = Callable[..., Any]
PHONE = {"viewport": {"width": 390, "height": 844}, "has_touch": True, "is_mobile": True, "device_scale_factor": 2}
EQUATOR_RADIUS_M = 6_378_137.0  # WGS 84
NUMBER = re.compile(r"[\d.\s]+")


def metres_in(text: str) -> list[float]:
    """Return the numbers of a sentence, blanks between thousands taken out."""
    joined = re.sub(r"(?<=\d)\s(?=\d{3})", "", text)
    return [float(number) for number in re.findall(r"\d+(?:\.\d+)?", joined)]


def with_map(plan: Plan, **changes: Any) -> Plan:  # noqa: ANN401 - any setting of the map
    """Return a plan whose config has these settings of the map."""
    return dataclasses.replace(plan, config=plan.config.model_copy(update={"map": MapSettings(**changes)}))


def corners(plan: Plan) -> list[tuple[float, float]]:
    """Return three places on the first block, latitude first."""
    west, south, east, north = plan.blocks.total_bounds
    shares = ((0.2, 0.3), (0.6, 0.35), (0.45, 0.8))
    return [(south + b * (north - south), west + a * (east - west)) for a, b in shares]


def test_distances_and_areas_are_those_of_the_geodesic(estate: Plan, estate_map: Path, open_map: Opener) -> None:
    """On the ground, which lies the blocks' mean height above the ellipsoid."""
    sheet = open_map(estate_map)
    sheet.page.click("button[aria-label^=Measure]")
    places = corners(estate)
    for lat, lon in places:
        sheet.click_at(lon, lat, zoom=18)
    at = sheet.page.evaluate("plan_map.getZoom()")
    assert at == 18
    height = float(np.mean([frame.mean_height_m for frame in estate.frames]))
    up = 1.0 + height / EQUATOR_RADIUS_M
    pairs = list(zip(places, [*places[1:], places[0]], strict=True))
    sides = [Geodesic.WGS84.Inverse(*a, *b)["s12"] * up for a, b in pairs]
    # A click lands on a whole pixel, 0.45 m at this zoom.
    (told,) = metres_in(sheet.page.inner_text("#measure-says"))
    assert told == pytest.approx(sides[0] + sides[1], abs=2.0)
    sheet.page.click("#measure [data-do=close]")
    ring = Geodesic.WGS84.Polygon()
    for lat, lon in places:
        ring.AddPoint(lat, lon)
    square = abs(ring.Compute()[2]) * up**2
    round_it, area, hectares = metres_in(sheet.page.inner_text("#measure-says"))[:3]
    assert round_it == pytest.approx(sum(sides), abs=3.0)
    assert area == pytest.approx(square, rel=0.02)
    assert hectares == pytest.approx(area / 1e4, abs=0.0006)
    assert sheet.trouble() == []


def test_measuring_takes_back_and_ends_by_keyboard(estate_map: Path, open_map: Opener) -> None:
    sheet = open_map(estate_map)
    sheet.page.focus("button[aria-label^=Measure]")
    sheet.page.keyboard.press("Enter")
    add = sheet.page.locator("#measure [data-do=middle]")
    add.press("Enter")
    sheet.page.evaluate("() => { plan_map.panBy([100, 0], {animate: false}); }")
    add.press("Enter")
    (first,) = metres_in(sheet.page.inner_text("#measure-says"))
    assert first > 10.0
    assert sheet.page.is_disabled("#measure [data-do=close]")
    sheet.page.click("#measure [data-do=back]")
    assert metres_in(sheet.page.inner_text("#measure-says")) == []
    # A click while measuring is no question about a post.
    sheet.page.mouse.click(400, 400)
    assert not sheet.open_sheet()
    sheet.page.keyboard.press("Escape")
    assert not sheet.page.is_visible("#measure")
    assert sheet.page.get_attribute("button[aria-label^=Measure]", "aria-pressed") == "false"
    assert sheet.page.locator(".leaflet-overlay-pane svg path").count() == 0
    assert sheet.trouble() == []


def test_feet_and_pounds_are_the_same_numbers(estate: Plan, estate_map: Path, open_map: Opener) -> None:
    row_id = str(estate.adjusters["row_id"].iloc[0])
    sheet = open_map(estate_map, f"#{row_id}")
    metric = {place: sheet.facts(place) for place in ("#totals", "#card .facts")}
    wires = {line[0].partition(",")[0]: line[1:] for line in sheet.lines("wires")}
    sheet.page.check("[name=units][value=imperial]")
    feet, card = sheet.facts("#totals"), sheet.facts("#card .facts")
    length = float(metric["#totals"]["Rowlength,level"].rstrip("m"))
    assert float(feet["Rowlength,level"].rstrip("ft")) == pytest.approx(length / 0.3048, abs=2.0)
    # 4046.8564224 m2 to the international acre.
    assert float(feet["Area"].rstrip("ac")) == pytest.approx(
        estate.blocks["area_ha"].sum() * 1e4 / 4046.8564224, abs=0.01
    )
    assert card["Posts"] == metric["#card .facts"]["Posts"]
    assert float(card["Length,level"].rstrip("ft")) * 0.3048 == pytest.approx(
        float(metric["#card .facts"]["Length,level"].rstrip("m")), abs=0.01
    )
    imperial = {line[0].partition(",")[0]: line[1:] for line in sheet.lines("wires")}
    for label, factor, off in (("Run out", 0.3048, 0.01), ("Greatest", 4.4482216152605, 0.3), ("Take-up", 25.4, 0.3)):
        for other, one in zip(imperial[label], wires[label], strict=True):
            if one != "\N{EN DASH}":
                assert float(other) * factor == pytest.approx(float(one), abs=off)
    assert "ft" in sheet.page.inner_text(".leaflet-control-scale-line")
    assert "\N{DEGREE SIGN}F" in sheet.page.inner_text("#views")
    assert "59\N{NO-BREAK SPACE}\N{DEGREE SIGN}F" in sheet.page.inner_text("label[for=view-strung]")  # 15 C
    sheet.page.check("[name=units][value=metric]")
    assert sheet.facts("#totals") == metric["#totals"]
    assert sheet.facts("#card .facts") == metric["#card .facts"]
    assert sheet.trouble() == []


def test_the_readers_position_shows_where_the_browser_allows(estate: Plan, estate_map: Path, open_map: Opener) -> None:
    post = estate.posts.iloc[100]
    here = {"latitude": post["lat"], "longitude": post["lon"], "accuracy": 4.0}
    sheet = open_map(estate_map, permissions=["geolocation"], geolocation=here)
    sheet.page.click("button[aria-label*=position]")
    sheet.page.wait_for_function(
        "() => document.getElementById('position-says').textContent.startsWith('Your position')"
    )
    assert "about 4" in sheet.page.inner_text("#position-says")
    assert sheet.page.locator(".leaflet-overlay-pane svg path").count() == 2
    centre = sheet.page.evaluate("[plan_map.getCenter().lat, plan_map.getCenter().lng]")
    assert centre == pytest.approx([post["lat"], post["lon"]], abs=1e-5)
    # Far off, the map stays where it is and says so.
    sheet.page.click("button[aria-label*=position]")
    assert not sheet.page.is_visible("#position-says")
    sheet.page.context.set_geolocation({"latitude": post["lat"] + 0.1, "longitude": post["lon"], "accuracy": 4.0})
    sheet.page.click("button[aria-label*=position]")
    sheet.page.wait_for_function("() => document.getElementById('position-says').textContent.startsWith('You are')")
    (metres, *_) = metres_in(sheet.page.inner_text("#position-says"))
    assert metres == pytest.approx(11_100, abs=400)
    sheet.page.click("button[aria-label*=position]")
    assert not sheet.page.is_visible("#position-says")
    assert sheet.page.locator(".leaflet-overlay-pane svg path").count() == 0
    assert sheet.trouble() == []


def test_a_position_that_is_refused_is_a_plain_sentence(estate_map: Path, open_map: Opener) -> None:
    sheet = open_map(estate_map, permissions=[])
    sheet.page.click("button[aria-label*=position]")
    sheet.page.wait_for_function("() => document.getElementById('position-says').textContent.includes('does not let')")
    assert sheet.page.get_attribute("button[aria-label*=position]", "aria-pressed") == "false"
    assert sheet.page.get_attribute("#position-says", "role") == "status"


def test_the_users_own_photo_lies_under_the_plan(estate: Plan, tmp_path: Path, open_map: Opener) -> None:
    west, south, east, north = estate.blocks.total_bounds.tolist()
    rgb = np.zeros((3, 40, 60), dtype=np.uint8)
    rgb[1] = np.linspace(60, 200, 60).astype(np.uint8)
    photo = Orthophoto(rgb, np.ones((40, 60), dtype=bool), (west, south, east, north), "C:\\photos\\<b>may.tif")
    path = tmp_path / "map.html"
    write_map(dataclasses.replace(estate, orthophoto=photo), path)
    sheet = open_map(path)
    assert "<b>may.tif" in sheet.page.inner_text("#backdrop option[value=photo]")
    assert sheet.page.input_value("#backdrop") == "photo"  # who gives one wants to see it
    picture = sheet.page.locator(".ground img")
    sheet.page.wait_for_function("() => document.querySelector('.ground img').naturalWidth === 60")
    box = picture.bounding_box()
    edges = sheet.page.evaluate(
        """([s, w, n, e]) => [plan_map.latLngToContainerPoint([n, w]), plan_map.latLngToContainerPoint([s, e])]
            .flatMap((point) => [point.x, point.y])""",
        [south, west, north, east],
    )
    top = sheet.page.locator(".folium-map").bounding_box()["y"]
    assert [box["x"], box["y"] - top] == pytest.approx(edges[:2], abs=1.5)
    assert [box["x"] + box["width"], box["y"] + box["height"] - top] == pytest.approx(edges[2:], abs=1.5)
    assert sheet.trouble() == []


def test_an_online_map_is_asked_for_only_where_the_config_opts_in_and_the_reader_chooses(
    estate: Plan, estate_map: Path, tmp_path: Path, open_map: Opener
) -> None:
    assert open_map(estate_map).page.query_selector("#backdrop option[value=basemap]") is None
    path = tmp_path / "map.html"
    address = "https://tiles.example.org/{z}/{x}/{y}.png"
    write_map(with_map(estate, basemap=address, basemap_attribution="Map data: <i>somebody</i>"), path)
    sheet = open_map(path)
    own = [url for url in sheet.requests if not url.startswith("data:")]
    assert own == [path.as_uri()]
    sheet.page.select_option("#backdrop", "basemap")
    sheet.page.wait_for_function("() => document.querySelectorAll('.ground img').length > 0")
    asked = [url for url in sheet.requests if url.startswith("http")]
    assert asked
    assert all(url.startswith("https://tiles.example.org/") for url in asked)
    assert sheet.page.inner_text("#backdrop-note") == "Map: Map data: <i>somebody</i>"
    # The policy lets this host's pictures in, and nobody else's.
    assert sheet.page.evaluate("window.broken") == []
    sheet.page.evaluate("new Image().src = 'https://other.example.org/x.png'")
    sheet.page.wait_for_function("() => window.broken.length > 0")


@pytest.mark.parametrize(("paper", "size", "high"), [("a4", (842, 595), 713), ("a3", (1191, 842), 1043)])
def test_a_sheet_of_paper_has_all_that_a_map_needs(
    estate_map: Path, open_map: Opener, paper: str, size: tuple[int, int], high: int
) -> None:
    sheet = open_map(estate_map)
    sheet.page.select_option("#paper", paper)
    pdf = sheet.page.pdf(prefer_css_page_size=True)
    boxes = [
        tuple(round(float(edge)) for edge in found.split()) for found in re.findall(rb"/MediaBox \[([^\]]+)\]", pdf)
    ]
    assert boxes == [(0, 0, *size)]  # one page
    sheet.page.emulate_media(media="print")
    sheet.page.evaluate("() => { window.dispatchEvent(new Event('beforeprint')); }")
    shown = (
        *("#plan-name", "#headline-order", "#headline-facts", "#headline-lacks", "#layers", "#print-scale"),
        *(".north", ".leaflet-control-scale-line", ".view-name", ".cautions"),
    )
    for part in shown:
        assert sheet.page.is_visible(part), part
    for part in ("#search", ".tools", ".leaflet-control-zoom", "#findings", "#backdrop"):
        assert not sheet.page.is_visible(part), part
    # The last word stands on the page: so many pixels are between its margins (210 or 297 mm less 9 and 12).
    last = max(
        box["y"] + box["height"] for box in (sheet.page.locator(one).bounding_box() for one in ("#sources", "#view"))
    )
    assert last <= high
    # The ratio is that of the map: a pixel of a page is 0.0254 / 96 m, and the distance is the map library's own.
    said = sheet.page.inner_text("#print-scale").partition("1 : ")[2].partition(" on")[0]
    told = int(re.sub(r"\D", "", said))
    ground = sheet.page.evaluate(
        """() => {
            const [a, b] = [[100, 200], [300, 200]].map((point) => plan_map.containerPointToLatLng(point));
            return plan_map.distance(a, b);
        }"""
    )
    assert ground / (200 * 0.0254 / 96) == pytest.approx(told, rel=0.003)
    coloured = sheet.page.evaluate(
        """() => {
            const canvas = document.querySelector(".plan-canvas");
            const { data } = canvas.getContext("2d").getImageData(0, 0, canvas.width, canvas.height);
            let found = 0;
            for (let i = 0; i < data.length; i += 4) {
                const [r, g, b] = [data[i], data[i + 1], data[i + 2]];
                found += data[i + 3] > 0 && Math.max(r, g, b) - Math.min(r, g, b) > 6;
            }
            return found;
        }"""
    )
    assert coloured == 0
    sheet.page.evaluate("() => { window.dispatchEvent(new Event('afterprint')); }")


def test_a_longer_legend_is_not_cut(estate_map: Path, open_map: Opener) -> None:
    sheet = open_map(estate_map)
    sheet.page.select_option("#bands", "along")
    assert len(re.findall(rb"/MediaBox", sheet.page.pdf(prefer_css_page_size=True))) <= 2
    sheet.page.emulate_media(media="print")
    sheet.page.evaluate("() => { window.dispatchEvent(new Event('beforeprint')); }")
    # No part of it has less room than it needs.
    assert sheet.page.evaluate("(() => { const p = panel; return p.scrollHeight - p.clientHeight; })()") <= 0
    assert sheet.page.is_visible("#slope-legend li >> nth=3")


@pytest.mark.parametrize("paper", ["a4", "a3"])
@pytest.mark.parametrize("kind", ["row", "post", "zone"])
def test_what_is_open_is_printed_on_a_page_of_its_own(
    estate: Plan, estate_map: Path, open_map: Opener, paper: str, kind: str
) -> None:
    """The map, then what is open on one page, the row with most two-way posts too; numbered, neither of them blank."""
    (row,) = as_lines(estate.rows.nlargest(1, "two_way_posts"))
    chosen = {"row": row["row_id"], "post": f"{row['row_id']}-P005", "zone": row["zone_id"]}[kind]
    sheet = open_map(estate_map, f"#{chosen}")
    sheet.page.select_option("#paper", paper)
    pages = PdfReader(io.BytesIO(sheet.page.pdf(prefer_css_page_size=True))).pages
    first, second = texts = [page.extract_text() for page in pages]
    assert "At a glance" in first
    assert "Scale 1 :" in first
    assert chosen in second
    for number, text in enumerate(texts, start=1):
        assert f"{number} / {len(texts)}" in text
        assert len(text) > 200
    assert sheet.trouble() == []


def test_fingers_find_every_control_on_a_phone(estate: Plan, estate_map: Path, open_map: Opener) -> None:
    sheet = open_map(estate_map, f"#{estate.posts['post_id'].iloc[40]}", **PHONE)
    low = """() => [...document.querySelectorAll("button, select, input, summary, label")]
        .map((one) => [one, one.type === "checkbox" || one.type === "radio" ? one.closest("label, li") : one])
        .filter(([one, target]) => one.offsetParent && target.tagName !== "LABEL" || one.querySelector("input"))
        .map(([one, target]) => `${target.getBoundingClientRect().height} ${one.outerHTML.slice(0, 80)}`)
        .filter((words) => parseFloat(words) > 0 && parseFloat(words) < 43.5)"""
    assert sheet.page.evaluate(low) == []
    sheet.page.tap("#sheet-close")
    sheet.page.tap("#panel-toggle")
    assert sheet.page.evaluate(low) == []
    sheet.page.tap("#panel-toggle")
    row = estate.rows.iloc[30]
    post = estate.posts[estate.posts["row_id"] == row["row_id"]].iloc[2]
    sheet.page.wait_for_function("() => plan_map.getSize().y === plan_map.getContainer().clientHeight")
    sheet.page.evaluate("([p, z]) => { plan_map.setView(p, z, {animate: false}); }", [[post["lat"], post["lon"]], 21])
    box = sheet.page.locator(".folium-map").bounding_box()
    sheet.page.touchscreen.tap(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    sheet.page.wait_for_selector("#sheet", state="visible")
    assert sheet.title() == post["post_id"]
    slider = sheet.page.locator("#profile-post")
    slider.fill("6")
    assert sheet.title().endswith("-P006")
    assert sheet.page.evaluate("document.documentElement.scrollWidth") == 390
    assert sheet.trouble() == []


def test_words_stand_out_from_what_is_behind_them(estate: Plan, estate_map: Path, open_map: Opener) -> None:
    """WCAG 2.1, AA: 4.5 to 1; every word of the panel and of an open sheet, as the browser paints it."""
    sheet = open_map(estate_map, f"#{estate.rows['row_id'].iloc[30]}")
    sheet.page.click("summary")
    faint = sheet.page.evaluate(
        """() => {
            const channel = (c) => (c / 255 <= 0.04045 ? c / 255 / 12.92 : ((c / 255 + 0.055) / 1.055) ** 2.4);
            const parse = (text) => text.match(/[\\d.]+/g).map(Number);
            const light = ([r, g, b]) => 0.2126 * channel(r) + 0.7152 * channel(g) + 0.0722 * channel(b);
            const ground = (one) => {
                for (let at = one; at; at = at.parentElement) {
                    const colour = parse(getComputedStyle(at).backgroundColor);
                    if (colour.length === 3 || colour[3] > 0.8) {
                        return colour;
                    }
                }
                return [255, 255, 255];
            };
            const out = [];
            const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
            while (walker.nextNode()) {
                const one = walker.currentNode.parentElement;
                const shown = one.offsetParent && walker.currentNode.textContent.trim() && !one.closest("svg, script");
                if (shown && !one.disabled) {
                    const pair = [light(parse(getComputedStyle(one).color)), light(ground(one))].sort((a, b) => b - a);
                    const ratio = (pair[0] + 0.05) / (pair[1] + 0.05);
                    if (ratio < 4.5) {
                        out.push(`${ratio.toFixed(2)} ${one.outerHTML.slice(0, 90)}`);
                    }
                }
            }
            return out;
        }"""
    )
    assert faint == []
