"""Zones, slopes and pictures as the map page is given them."""

import base64
import dataclasses
from collections.abc import Callable
from typing import Any

import numpy as np
import pandas as pd
import pytest
from numpy.typing import NDArray
from rasterio.errors import NotGeoreferencedWarning
from rasterio.io import MemoryFile
from wirerun.records import Orthophoto, Plan
from wirerun.settings import MapSettings
from wirerun.write.html_map.backdrop import Backdrop
from wirerun.write.html_map.data import map_data
from wirerun.write.html_map.pictures import photo_data
from wirerun.write.html_map.slopes import pack_slope_classes, slope_legend

Read = Callable[..., list[Any]]
TILES = "https://tiles.example.org/{z}/{x}/{y}.png"


@pytest.fixture(scope="session")
def data(plan: Plan) -> dict[str, Any]:
    """Return what the page of the small plan is given."""
    return map_data(plan, Backdrop((), (), (), 0.0))


def test_a_zone_has_its_materials_and_its_tasks_in_order(plan: Plan, data: dict[str, Any], read: Read) -> None:
    zones = data["zones"]
    assert zones["id"] == ["B01-Z01"]
    assert (zones["first"], zones["last"]) == (["B01-R001"], ["B01-R002"])
    assert {line["name"]: read(line) for line in zones["lines"]}["row_length_m"] == [42.0]
    take = {name: read(column) for name, column in zones["materials"].items()}
    assert take["zone"] == [0, 0]
    assert dict(zip(take["item"], take["quantity"], strict=True)) == {"screw-fixed clip": 40.0, "2.5 mm wire": 112.4}
    tasks = {name: read(column) for name, column in zones["tasks"].items()}
    assert tasks["task"] == ["set posts", "run out"]
    assert tasks["hours"] == [1.5, 0.8]
    assert tasks["materials"] == ["4 x end post; 5 x line post", "C001"]
    assert tasks["note"] == [None, "Into its clips, post by post."]
    turned = dataclasses.replace(plan, programme=plan.programme.iloc[::-1])
    again = map_data(turned, Backdrop((), (), (), 0.0))["zones"]["tasks"]
    assert read(again["task"]) == ["set posts", "run out"]


def test_rows_know_their_zone_and_posts_what_they_are(data: dict[str, Any], read: Read) -> None:
    assert read(data["rows"]["zone"]) == [0, 0]
    assert read(data["rows"]["slope"]) == ["10-20 %"] * 2
    assert read(data["posts"]["item"])[:3] == ["end post", "line post", "line post"]
    lines = {line["name"]: read(line) for line in data["posts"]["lines"]}
    assert lines["height_out_m"][:4] == [1.9, 1.9, 2.2, 1.9]
    assert lines["clip_positions"][:3] == [0.0, 4.0, 5.0]
    fruiting, lower = data["posts"]["clips"]
    assert read(lower["fixing"])[1] == "screw-fixed clip"
    assert read(lower["pieces"])[:3] == [None, 8.0, 8.0]
    assert read(lower["holds_n"])[1] == 266.7
    assert read(lower["load_side_n"])[1] == pytest.approx(1.25, abs=0.051)
    assert read(fruiting["fixing"])[1] == "formed staple"
    assert read(data["rows"]["wires"][1]["lifts"]) == ["1.45 1.70"] * 2
    assert read(data["rows"]["wires"][0]["lifts"]) == [None] * 2


def test_slope_classes_go_by_the_slope_without_its_sign(data: dict[str, Any], read: Read) -> None:
    assert read(data["posts"]["slopes"]["along"]) == [0] * 9  # 1.67 %
    assert read(data["posts"]["slopes"]["across"]) == [1] * 5 + [0] * 4  # -12.5 and 8.25 %
    posts = pd.DataFrame({"grade_pct": [-10.0, 9.99, 31.0, np.nan], "cross_slope_pct": [0.0, 20.0, -29.9, 1e9]})
    packed = pack_slope_classes(posts, (10.0, 20.0, 30.0))
    assert read(packed["along"]) == [1, 0, 3, None]
    assert read(packed["across"]) == [0, 2, 2, 3]


@pytest.mark.parametrize(
    ("limits", "names"), [((10.0, 22.5), ["0-10 %", "10-22.5 %", "22.5 % and over"]), ((), ["0 % and over"])]
)
def test_the_legend_names_the_classes_as_the_schedule_does(limits: tuple[float, ...], names: list[str]) -> None:
    assert [one["name"] for one in slope_legend(limits)] == names


def photo_of(rgb: NDArray[np.uint8], covered: NDArray[np.bool_]) -> Orthophoto:
    return Orthophoto(rgb, covered, (-7.6, 41.1, -7.5, 41.2), "/home/me/may.tif")


def test_a_photo_travels_as_jpeg_with_its_corners() -> None:
    rgb = np.empty((3, 32, 48), dtype=np.uint8)
    rgb[:] = np.array([200, 90, 30])[:, None, None]
    covered = np.ones((32, 48), dtype=bool)
    covered[:, :16] = False
    packed = photo_data(photo_of(rgb, covered))
    assert packed is not None
    assert packed["edges"] == [[41.1, -7.6], [41.2, -7.5]]
    assert packed["file"] == "may.tif"
    head, _, body = packed["picture"].partition(",")
    assert head == "data:image/jpeg;base64"
    with (
        pytest.warns(NotGeoreferencedWarning),
        MemoryFile(base64.b64decode(body)) as memory,
        memory.open() as image,
    ):
        back = image.read().astype(int)
    assert back[:, 16, 40] == pytest.approx([200, 90, 30], abs=6)
    assert back[:, 16, 4] == pytest.approx([243, 243, 243], abs=6)
    assert photo_data(None) is None


def test_an_online_map_opens_the_policy_for_its_host_only(
    plan: Plan, map_page: Callable[[Plan], str], inside: Callable[[str], dict[str, Any]]
) -> None:
    assert "img-src data: blob:;" in map_page(plan)
    online = plan.config.model_copy(update={"map": MapSettings(basemap=TILES, basemap_attribution="Us")})
    page = map_page(dataclasses.replace(plan, config=online))
    assert "img-src data: blob: https://tiles.example.org;" in page
    assert page.count("https://tiles.example.org") == 1  # else in the packed data only
    assert inside(page)["basemap"]["url"] == TILES
