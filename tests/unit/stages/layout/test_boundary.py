"""A block set out over planes and peaks: its slope, its height, and what is known where its raster has a hole."""

import numpy as np
import pytest
from shapely import MultiPolygon, Polygon, box
from wirerun.arrays import BoolArray, FloatArray
from wirerun.findings import Findings
from wirerun.model.site import Site
from wirerun.records import Block
from wirerun.stages.layout.boundary import set_out

from tests.unit.stages.layout.test_known_ground import CELL_M, FRAME, HALF_M, SIDE, ground_of

ROW, COLUMN = np.mgrid[0:SIDE, 0:SIDE] + 0.5
EAST, NORTH = COLUMN * CELL_M - HALF_M, HALF_M - ROW * CELL_M
PLANE = 300.0 + 0.1 * EAST - 0.2 * NORTH
EVERYWHERE = np.ones((SIDE, SIDE), dtype=np.bool_)
# 40 m wide and 60 m to the north, amid a raster of 140 m.
AREA = box(-20.0, -30.0, 20.0, 30.0)


def laid(heights_m: FloatArray, valid: BoolArray = EVERYWHERE) -> tuple[Site, list[str]]:
    (outline,) = FRAME.unflatten(np.array([AREA], dtype=object))
    assert isinstance(outline, Polygon)
    notes = Findings("B01")
    block = Block("B01", "B01", outline, MultiPolygon())
    return set_out(block, ground_of(heights_m, valid).grid, 0.0, notes), [note.message for note in notes]


def test_a_block_on_a_plane_has_its_slope_and_its_height() -> None:
    site, said = laid(PLANE)
    assert site.slope == pytest.approx((0.1, -0.2), abs=1e-5)
    assert site.frame.height_m == pytest.approx(300.0, abs=0.01)
    assert site.area.area == pytest.approx(40.0 * 60.0, rel=1e-6)
    assert said == []


def test_a_block_over_a_hole_has_slope_and_height_of_the_cells_beside_it() -> None:
    """20 m by 40 m of cells about (50, 10) are all there is: 300 + 5 - 2 m in the mean."""
    site, _ = laid(PLANE, (np.abs(EAST - 50.0) < 10.0) & (np.abs(NORTH - 10.0) < 20.0))
    assert site.slope == pytest.approx((0.1, -0.2), abs=1e-5)
    assert site.frame.height_m == pytest.approx(303.0, abs=0.01)


@pytest.mark.parametrize("way", [1.0, -1.0])
def test_relief_that_costs_a_millimetre_is_told_whether_it_rises_or_falls(way: float) -> None:
    """A quarter of the block goes up or down by 100 m, 12.5 m in the mean: 87.5 m off it at its edge.

    By R = 6370 km (any handbook) 81 to 88 m are 1.3 to 1.4 mm in 100 m.
    """
    _, (said,) = laid(300.0 + way * 10.0 * np.maximum(EAST - 10.0, 0.0))
    assert 80.0 < float(said.split("up to ")[1].split(" m ")[0]) < 87.5
    assert "off by up to 1.3 mm in 100 m" in said
    assert laid(300.0 + way * 5.0 * np.maximum(EAST - 10.0, 0.0))[1] == []
