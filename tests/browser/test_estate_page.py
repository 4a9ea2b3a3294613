"""The page of an estate in a browser: it draws itself, keeps its policy, asks nobody, and leads to each block's map."""

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from wirerun.write.pages.document import document

if TYPE_CHECKING:
    from tests.browser.conftest import Sheet

NAME = "<b>Home</b>"


def block(name: str, west: float, **more: Any) -> dict[str, Any]:  # noqa: ANN401 - figures of a block
    """Return a block a hundred metres wide, as the page gets it."""
    ring = [[41.2, west], [41.2, west + 0.0012], [41.201, west + 0.0012], [41.201, west], [41.2, west]]
    figures = {"area_ha": 1.1, "rows": 2, "row_length_m": 180.0, "posts": 40, "two_way_posts": 10, "coils": 3}
    return {
        "block_id": name,
        "there": True,
        "map": "blocks/B01/map.html",
        "rings": [ring],
        "lines": [[[41.2002, west], [41.2002, west + 0.0012]]],
        "reason": None,
        "hours": 20.0,
        "cost": 5000.0,
        "warnings": 1,
        "notes": 4,
        **figures,
        **more,
    }


@pytest.fixture
def page(tmp_path: Path, open_page: Callable[..., "Sheet"]) -> Iterator[Any]:
    lost = block("B02", -7.597, there=False, map=None, lines=[], reason="off the raster", posts=None, coils=None)
    data = {"name": "estate", "blocks": [block(NAME, -7.6), lost]}
    path = tmp_path / "map.html"
    path.write_text(document("estate", "estate", data, ["beside.css", "estate.css"], with_map=True))
    sheet = open_page(path, viewport={"width": 1200, "height": 800})
    yield sheet.page
    assert not sheet.trouble()
    assert {address.split(":")[0] for address in sheet.requests} <= {"file", "data", "blob"}


def test_numbers_names_and_the_way_to_a_blocks_map(page: Any) -> None:  # noqa: ANN401
    said = page.inner_text("#sum").replace("\u202f", " ")
    assert said.startswith("1 block, 1.1 ha; 2 rows, 180 m; 40 posts, 10 with two-way clips; 3 coils")
    assert said.endswith("1 more block NOT in these numbers.")
    assert page.locator("#blocks tbody tr").count() == 2
    assert NAME in page.inner_text("#blocks")
    page.locator("#blocks button").first.click()
    assert "10 (25 %) with two-way clips" in page.inner_text("#card")
    assert page.get_attribute("#card a", "href") == "../blocks/B01/map.html"
    page.locator("#blocks button").nth(1).click()
    assert "Missing: off the raster" in page.inner_text("#card")
    assert page.locator("#card a").count() == 0
    assert "missing" in page.inner_text("#legend")


def test_rows_come_with_the_zoom(page: Any) -> None:  # noqa: ANN401
    """From afar a block is a shade, from near it has its rows."""
    page.locator("#blocks button").first.click()
    page.wait_for_selector("body[data-near='1']")
    for _ in range(6):
        page.locator(".leaflet-control-zoom-out").click()
        page.wait_for_timeout(350)
    page.wait_for_selector("body[data-near='0']")
    page.wait_for_function("document.querySelectorAll('.leaflet-tooltip.name').length === 0")
