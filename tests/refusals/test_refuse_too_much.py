"""Files so rich that the work would never end or fill the memory: refused in a sentence that says what would do."""

import json
import math
from typing import TYPE_CHECKING

import numpy as np
import pytest
import rasterio
from affine import Affine
from wirerun.api import plan_config
from wirerun.errors import Exit, InputError
from wirerun.read.config import load_config

from tests.refusals.conftest import EAST, NORTH, UTM, Ring, lonlat, polygon

if TYPE_CHECKING:
    from tests.refusals.conftest import Estate


def draw(estate: "Estate", lines: list[Ring], role: str) -> None:
    """Draw lines as rows or as a guide."""
    features = [
        {"type": "Feature", "properties": {}, "geometry": {"type": "LineString", "coordinates": lonlat(line)[:-1]}}
        for line in lines
    ]
    estate.write("rows.geojson", json.dumps({"type": "FeatureCollection", "features": features}))
    layout = {"lines": "given", "guide": "follow"}[role]
    estate.settings["rows"] = {"layout": layout, role: "rows.geojson", "spacing_m": 2.4}


def refused_while_planning(estate: "Estate") -> str:
    with pytest.raises(InputError) as caught:
        plan_config(load_config(estate.config()))
    assert caught.value.exit_code == Exit.BAD_INPUT
    return str(caught.value).replace(f"{estate.folder}/", "").replace("\u202f", " ")


@pytest.mark.parametrize(("corners", "told"), [(60_000, "60 001"), (500_000, "500 001")])
def test_more_corners_than_a_block_has(estate: "Estate", corners: int, told: str) -> None:
    """Very many are told before the vector library takes half a gigabyte for a million."""
    turns = np.linspace(0.0, 2.0 * np.pi, corners + 1)[:-1]
    ring = [(50.0 + 30.0 * math.cos(turn), 45.0 + 30.0 * math.sin(turn)) for turn in turns.tolist()]
    estate.boundary(polygon(ring))
    (sentence,), code = estate.refusal()
    assert code == Exit.BAD_INPUT
    assert sentence.replace("\u202f", " ") == (
        f"block.geojson, feature 1: it has {told} corners (at most 50 000 are read); draw it with fewer"
    )


def test_rows_that_all_cross(estate: "Estate") -> None:
    fan: list[Ring] = [
        [(50.0, 40.0), (50.0 + 40.0 * math.cos(n / 7.0), 40.0 + 40.0 * math.sin(n / 7.0))] for n in range(20)
    ]
    draw(estate, fan, "lines")
    assert refused_while_planning(estate) == (
        "config.toml, rows.lines: the 20 lines cross or touch one another in 190 places; rows stand side by side"
    )


def test_a_guide_of_too_many_corners(estate: "Estate") -> None:
    zigzag = [(10.0 + 80.0 * n / 5000, 45.0 if n % 2 else 40.0) for n in range(5000)]
    draw(estate, [zigzag], "guide")
    found = refused_while_planning(estate)
    assert found.startswith("config.toml, rows.guide: the guide cannot be followed: with ")
    assert " corners it has too many near the block; draw it with fewer; it begins at longitude -7." in found


def test_posts_of_which_no_two_stand_on_a_row(estate: "Estate") -> None:
    """No fault of the file's: each row without posts is told, and none is left."""
    ((lon, lat),) = lonlat([(50.0, 40.0)])[:-1]
    estate.write("posts.csv", f"lon,lat\n{lon!r},{lat!r}\n")
    estate.settings["posts"] = {"placing": "given", "points": "posts.csv"}
    made = plan_config(load_config(estate.config()))
    assert len(made.rows) == 0
    assert "rows-without-posts" in set(made.findings["code"])


def test_a_raster_crs_that_is_none(estate: "Estate") -> None:
    estate.settings["elevation"]["raster_crs"] = "EPSG:1"
    sentences, code = estate.refusal()
    assert code == Exit.BAD_INPUT
    assert 'ground.tif: "EPSG:1" names no CRS of the earth; wanted is one such as EPSG:32629' in sentences


def test_a_small_file_of_very_many_cells(estate: "Estate") -> None:
    """It holds none of them: nothing is made of it."""
    side = 19_000
    cell = 100.0 / side
    place = Affine(cell, 0.0, EAST, 0.0, -cell, NORTH + 100.0)
    profile = {"dtype": "float64", "count": 1, "width": side, "height": side, "crs": UTM, "transform": place}
    with rasterio.open(estate.folder / "ground.tif", "w", driver="GTiff", sparse_ok=True, tiled=True, **profile):
        pass
    (sentence,), code = estate.refusal()
    assert code == Exit.ELEVATION
    assert sentence == "ground.tif, block B01: the block has no heights at all"
