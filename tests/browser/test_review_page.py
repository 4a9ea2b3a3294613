"""The review of a survey in a browser: it opens without a network, the doubtful shows by shape, and it fits a phone."""

from collections.abc import Callable
from importlib.resources import files
from pathlib import Path
from typing import Any

import geopandas as gpd
import numpy as np
import pytest
import shapely
from affine import Affine
from pyproj import CRS
from wirerun.findings import Finding
from wirerun.model.survey import BlockRows, PhotoPicture, Survey
from wirerun.settings import Config
from wirerun.surface.accuracy import Accuracy, Checked
from wirerun.surface.preview import Preview
from wirerun.surface.row_waves import RowWave
from wirerun.surface.work_grid import Cells, WorkGrid
from wirerun.write.survey.review import write_review

Opener = Callable[..., Any]
UTM = "EPSG:32629"
EAST, NORTH = 617_400.0, 4_562_000.0
DESK = {"viewport": {"width": 1440, "height": 900}}
PHONE = {"viewport": {"width": 390, "height": 844}, "has_touch": True, "is_mobile": True}


def by_hand(*, heights: bool = True) -> Survey:
    """Return a survey of ten rows of 40 m: two doubtful, twenty posts of which three are, three check points."""
    wkt = CRS(UTM).to_wkt()
    grid = WorkGrid(Affine(0.1, 0.0, EAST, 0.0, -0.1, NORTH + 40.0), wkt, (400, 600), 0.1)
    down, right = np.indices(grid.shape)
    vines = np.where((down % 24 < 6) & (right > 80) & (right < 500), 1.2, 0.0)
    ground = 200.0 + 0.02 * right + np.sin(right / 60.0)
    preview = Preview.of(grid)
    whole = Cells(0, 0, *grid.shape)
    sure = np.where(vines > 0.0, 0.2, 1.0)
    reach = np.where(right > 590, 0.0, np.where(right > 560, 1.2, 0.6))
    layers = np.stack([ground + vines, ground, vines, np.where(right > 560, 0.0, sure), reach])
    preview.put(whole, layers, np.ones(grid.shape, dtype=bool))
    number = np.arange(10)
    rows = gpd.GeoDataFrame(
        {
            "block_id": "B<1>",
            "row": number + 1,
            "confidence": np.where(number % 5 == 3, 0.5, 0.95),
            "doubtful": number % 5 == 3,
            "why": np.where(number % 5 == 3, "few plants on its line", ""),
            "present": 0.9,
            "longest_gap_m": 1.5,
            "length_m": 40.0,
            "bearing_deg": 90.0,
        },
        geometry=[
            shapely.LineString([(EAST + 8.0, NORTH + 39.7 - 2.4 * at), (EAST + 48.0, NORTH + 39.7 - 2.4 * at)])
            for at in number
        ],
        crs=wkt,
    )
    post = np.arange(20)
    posts = gpd.GeoDataFrame(
        {
            "name": [f"{1 + at // 2}-{1 + at % 2}" for at in post],
            "block_id": "B<1>",
            "row": 1 + post // 2,
            "confidence": np.where(post % 7 == 6, 0.4, 1.0),
            "doubtful": post % 7 == 6,
            "proud_m": 0.5,
            "seen_m": 0.9,
        },
        geometry=shapely.points(EAST + 15.0 + 15.0 * (post % 2), NORTH + 39.7 - 2.4 * (post // 2)),
        crs=wkt,
    )
    if not heights:
        posts = posts.iloc[:0]
    at = shapely.points([EAST + 10.0, EAST + 25.0, EAST + 40.0], [NORTH + 38.5] * 3)
    check = gpd.GeoDataFrame(
        {"name": ["K1", "K2", "K3"], "off_m": [0.02, -0.01, np.nan], "used": [True, True, False]}, geometry=at, crs=wkt
    ).to_crs("EPSG:4326")
    wave = RowWave(
        np.zeros(1),
        np.zeros((1, 2), dtype=np.int64),
        np.zeros(2),
        1.0,
        straight=True,
        along=(1.0, 0.0),
        spacing_m=2.4,
        turn_deg=0.0,
    )
    area = shapely.box(EAST + 6.0, NORTH + 14.0, EAST + 52.0, NORTH + 40.0)
    bands = np.stack([np.where(vines > 0.0, 40.0, 100.0), np.full(grid.shape, 90.0), np.full(grid.shape, 50.0)])
    given = {"spacing_m": 2.4, "layout": "given", "lines": "r"}
    config = {"name": "reviewed", "block": {"boundary": "b"}, "elevation": {"raster": "g"}, "rows": given}
    return Survey(
        config=Config.model_validate(config),
        crs_wkt=wkt,
        cell_m=0.1,
        noise_m=0.02,
        counts={"seen": 90, "filled": 7, "void": 3},
        accuracy=Accuracy(0.03, 3.0, 0.0, Checked(2, 0.005, 0.016, 0.026, 0.02), ("two check points",))
        if heights
        else None,
        blocks=(BlockRows("B<1>", wave, 90.0, (), span_m=5.0),),
        areas=gpd.GeoDataFrame({"block_id": ["B<1>"]}, geometry=[area], crs=wkt).to_crs("EPSG:4326"),
        rows=rows,
        posts=posts,
        check=check if heights else check.iloc[:0],
        preview=preview if heights else None,
        photo=PhotoPicture(bands, np.ones(grid.shape, dtype=bool), grid.transform, "excess green"),
        findings=(Finding("rows-doubtful", "B<1>", "2 rows <i>have</i> a low confidence."),),
        sources=(),
    )


@pytest.fixture(scope="module")
def page_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("review") / "review.html"
    write_review(by_hand(), path)
    return path


@pytest.fixture(scope="module")
def axe() -> str:
    """Return the script of axe-core, which the tests' extra brings along."""
    return (files("axe_playwright_python") / "axe.min.js").read_text("utf-8")


@pytest.mark.parametrize("screen", [PHONE, DESK], ids=["phone", "desk"])
def test_it_opens_without_a_network_and_asks_nobody(page_file: Path, open_map: Opener, screen: dict[str, Any]) -> None:
    sheet = open_map(page_file, **screen)
    page = sheet.page
    assert page.inner_text("#plan-name") == "reviewed"
    size = page.evaluate("(() => { const box = plan_map.getSize(); return [box.x, box.y] })()")
    assert min(size) > 300
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")
    # All of the block is in view, and fills a good part of it.
    assert page.evaluate("plan_map.getZoom()") > 18
    assert page.locator(".leaflet-image-layer").count() >= 1
    assert "10 rows, 20 posts, 3 check points" in page.text_content("#map-words")
    assert not sheet.trouble()
    assert sheet.requests == [page_file.as_uri()]


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("screen", [PHONE, DESK], ids=["phone", "desk"])
def test_axe_finds_nothing(page_file: Path, open_map: Opener, axe: str, screen: dict[str, Any], scheme: str) -> None:
    sheet = open_map(page_file, color_scheme=scheme, **screen)
    sheet.page.evaluate(axe)
    told = sheet.page.evaluate("() => axe.run(document, { resultTypes: ['violations'] })")
    assert [(one["id"], one["nodes"][0]["html"]) for one in told["violations"]] == []
    assert len(told["passes"]) > 20


def test_layers_go_and_come(page_file: Path, open_map: Opener) -> None:
    page = open_map(page_file).page
    shown = """() => { let lines = 0; plan_map.eachLayer((one) => {
        lines += one instanceof L.Polyline && one.options.interactive ? 1 : 0; }); return lines }"""
    counts = dict(
        zip(
            page.locator("#layers li:visible span:not(.count)").all_inner_texts(),
            page.locator("#layers li:visible .count").all_inner_texts(),
            strict=True,
        )
    )
    assert counts == {
        "Rows": "8",
        "Rows to look at": "2",
        "Posts": "18",
        "Posts to look at": "2",
        "Check points": "3",
        "Block": "1",
    }
    assert page.evaluate(shown) == 10
    page.locator("#layers label", has_text="Rows to look at").click()
    assert page.evaluate(shown) == 8
    page.locator("#layers label", has_text="Rows to look at").click()
    assert page.evaluate(shown) == 10
    page.locator("#layers label", has_text="Posts to look at").click()
    assert page.locator(".doubtful-post").count() == 0


def test_what_is_doubtful_has_a_shape_of_its_own(page_file: Path, open_map: Opener) -> None:
    page = open_map(page_file).page
    looks = page.evaluate(
        """() => { const found = []; plan_map.eachLayer((one) => {
            if (one instanceof L.Polyline && one.options.interactive) found.push(one.options.dashArray || ""); });
            return found }"""
    )
    assert sorted(looks) == [""] * 8 + ["7 5"] * 2
    # Triangles among circles.
    assert page.locator(".doubtful-post svg path").count() == 2
    assert page.locator("#doubtful button").all_inner_texts() == [
        f"B<1> row {row}: confidence 50 %, few plants on its line" for row in (4, 9)
    ]
    assert page.locator("#doubtful-posts button").count() == 2


def test_a_doubtful_one_is_gone_to_from_the_list(page_file: Path, open_map: Opener) -> None:
    sheet = open_map(page_file)
    page = sheet.page
    before = page.evaluate("plan_map.getZoom()")
    page.locator("#doubtful button").first.click()
    assert page.inner_text("#chosen").startswith("B<1> row 4: confidence 50 %. 40.0 m at 90.0 degrees")
    page.locator("#doubtful-posts button").last.click()
    assert page.inner_text("#chosen").startswith("B<1> post 7-2: confidence 40 %. As the survey saw it, 0.50 m over")
    assert page.evaluate("plan_map.getZoom()") > before
    assert not sheet.trouble()


def test_pictures_under_the_rows(page_file: Path, open_map: Opener) -> None:
    sheet = open_map(page_file)
    page = sheet.page
    names = page.locator("#views label").all_inner_texts()
    assert [name.strip() for name in names] == ["Surface", "Ground", "Difference", "Confidence", "Photo", "Greenness"]
    for name, legend in (("Confidence", 3), ("Difference", 6), ("Photo", 0), ("Greenness", 0)):
        page.get_by_label(name, exact=True).check()
        assert page.locator("#legend li").count() == legend
        assert page.inner_text("#under-note")
    assert not sheet.trouble()


def test_a_photo_alone(tmp_path: Path, open_map: Opener) -> None:
    path = tmp_path / "review.html"
    write_review(by_hand(heights=False), path)
    sheet = open_map(path)
    names = sheet.page.locator("#views label").all_inner_texts()
    assert [name.strip() for name in names] == ["Photo", "Greenness"]
    assert sheet.page.locator(".leaflet-image-layer").count() == 1
    assert "none: an orthophoto alone" in sheet.page.inner_text("#accuracy")
    assert not sheet.trouble()


def test_the_same_survey_gives_the_same_bytes(page_file: Path, tmp_path: Path) -> None:
    write_review(by_hand(), tmp_path / "again.html")
    assert (tmp_path / "again.html").read_bytes() == page_file.read_bytes()
