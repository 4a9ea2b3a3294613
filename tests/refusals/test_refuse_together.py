"""Faults of several files come in one go, and the worst decides the exit code."""

from typing import TYPE_CHECKING

import numpy as np
from wirerun.errors import Exit

if TYPE_CHECKING:
    from tests.refusals.conftest import Estate


def test_good_estate_is_read(estate: "Estate") -> None:
    inputs = estate.read()
    assert [block.block_id for block in inputs.blocks] == ["B01"]
    assert inputs.findings == ()


def test_faults_of_three_files_at_once(estate: "Estate") -> None:
    estate.boundary(None, {"type": "Point", "coordinates": [-7.6, 41.2]})
    estate.settings["block"].update(exclusions="missing.geojson", id_field="name")
    estate.ground(np.ones((3, 100, 110), dtype=np.uint8), unit="fathom", crs=None)
    sentences, code = estate.refusal()
    assert sentences == [
        'block.geojson: no feature has the attribute "name" (block.id_field); the attributes are plot',
        "block.geojson, feature 1: it has no geometry",
        "block.geojson, feature 2: it is a Point, where a Polygon or MultiPolygon is wanted",
        "missing.geojson: there is no such file; looked for missing.geojson",
        "ground.tif: the raster has 3 bands; a height raster has one",
        "ground.tif: the raster names no CRS that ties it to the earth; say which it is in elevation.raster_crs",
        'ground.tif: the band\'s height unit "fathom" is not known; known are m, ft, us-ft, ind-ft',
    ]
    assert code == Exit.BAD_INPUT


def test_bad_input_outranks_missing_elevation(estate: "Estate") -> None:
    estate.named("one", "two")
    data = np.full((100, 110), np.nan, dtype=np.float32)
    data[:40] = 300.0
    estate.ground(data)
    (missing,) = estate.read().missing
    assert (missing.block_id, missing.exit_code) == ("one", Exit.ELEVATION)
    data[:40] = np.nan
    estate.ground(data)
    sentences, code = estate.refusal()
    assert code == Exit.ELEVATION
    assert [sentence.split(":")[0] for sentence in sentences] == ["ground.tif, block one", "ground.tif, block two"]
    estate.settings["block"]["exclusions"] = "gone.geojson"
    sentences, code = estate.refusal()
    assert code == Exit.BAD_INPUT
    assert len(sentences) == 3
