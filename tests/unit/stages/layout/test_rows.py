"""Rows in blocks whose answer can be worked out by hand. Plane metres; the frame's origin carries the lattice."""

import numpy as np
import pandas as pd
import pytest
from affine import Affine
from shapely import LineString, MultiPolygon, Point, Polygon, box
from shapely.geometry.base import BaseGeometry
from wirerun.findings import Findings
from wirerun.geometry.frame import Frame
from wirerun.geometry.places import PlaneXY
from wirerun.geometry.sampling import Ground
from wirerun.model.site import Area, Site
from wirerun.records import Grid
from wirerun.settings import RowSettings
from wirerun.stages.layout.rows import lay_parallel

FRAME = Frame(-7.6, 41.2, 300.0)


def settings(**changes: float) -> RowSettings:
    plain = {"bearing_deg": 0.0, "spacing_m": 2.0, "headland_m": 5.0, "side_margin_m": 1.0}
    return RowSettings.model_validate({**plain, **changes})


# No height is asked for when rows are laid.
NO_GROUND = Ground(
    Grid(np.zeros((2, 2)), np.ones((2, 2), dtype=bool), Affine.identity(), FRAME.crs.to_wkt(), "x"), FRAME
)


def lay(area: Area, workable: BaseGeometry, chosen: RowSettings) -> tuple[pd.DataFrame, Findings]:
    """Rows with their ends in plane metres beside them."""
    assert isinstance(workable, Polygon | MultiPolygon)
    notes = Findings("B01")
    laid = lay_parallel(Site(FRAME, area, workable, NO_GROUND, (0.0, 0.0)), "B01", chosen, notes).rows
    paths, rows = laid.paths, pd.DataFrame({"row_id": laid.row_id.astype("str"), "length_m": laid.length_m})
    ends = {"start_x_m": paths.x_m[paths.first], "start_y_m": paths.y_m[paths.first]}
    ends |= {"end_x_m": paths.x_m[paths.last], "end_y_m": paths.y_m[paths.last]}
    return rows.assign(**ends), notes


def test_a_rectangle_gives_the_rows_one_can_count() -> None:
    """20 m wide, 100 m long, rows north: offsets -8 ... 8 keep 1 m from the sides, 90 m long between headlands."""
    block = box(-9.5, 0.0, 9.5, 100.0)
    rows, findings = lay(block, block, settings())
    assert rows["start_x_m"].tolist() == pytest.approx(np.arange(-8.0, 9.0, 2.0).tolist(), abs=1e-9)
    assert rows["start_y_m"].tolist() == pytest.approx([5.0] * 9)
    assert rows["length_m"].tolist() == pytest.approx([90.0] * 9)
    assert findings == []
    # 4166.7 m of row per hectare at 2.4 m: 10 000 / spacing.
    wide = box(-500.0, 0.0, 500.0, 1000.0)
    many, _ = lay(wide, wide, settings(spacing_m=2.4, headland_m=0.0, side_margin_m=0.0))
    assert many["length_m"].sum() / 100.0 == pytest.approx(4166.7, abs=4.2)


def test_rows_are_numbered_from_the_left_as_one_looks_along_the_bearing() -> None:
    block = box(-9.5, -40.0, 9.5, 60.0)
    north, _ = lay(block, block, settings())
    south, _ = lay(block, block, settings(bearing_deg=180.0))
    assert north["start_x_m"].is_monotonic_increasing
    assert south["start_x_m"].is_monotonic_decreasing
    for rows in (north, south):
        assert rows["row_id"].tolist() == [f"B01-R{number:03d}" for number in range(1, 10)]


def test_an_exclusion_cuts_rows_and_the_second_piece_is_lettered() -> None:
    block, keep_out = box(-9.5, 0.0, 9.5, 100.0), box(-0.9, 40.0, 0.9, 50.0)
    rows, _ = lay(block, block.difference(keep_out), settings())
    cut = rows[rows["start_x_m"].abs() < 1e-9]
    assert cut["row_id"].tolist() == ["B01-R005", "B01-R005b"]
    assert cut["start_y_m"].tolist() == pytest.approx([5.0, 55.0])
    assert cut["end_y_m"].tolist() == pytest.approx([35.0, 95.0])
    # Its neighbours pass 1.1 m from the exclusion: just outside the side margin.
    assert rows["row_id"].is_unique
    assert len(rows) == 10


def test_margins_hold_everywhere_in_an_awkward_block() -> None:
    outline = Polygon([(-70, -30), (45, -50), (80, -5), (30, 0), (60, 45), (-40, 40), (-30, 5)])
    block = outline.difference(Point(0, -20).buffer(8.0))
    assert isinstance(block, Polygon)
    rows, findings = lay(block, block, settings(bearing_deg=62.0, min_length_m=12.0))
    lines = [
        LineString(np.reshape(ends, (2, 2)))
        for ends in rows[["start_x_m", "start_y_m", "end_x_m", "end_y_m"]].to_numpy()
    ]
    east, north = np.sin(np.radians(62.0)), np.cos(np.radians(62.0))
    for line in lines:
        # 1 mm: corners of the margin are rounded with short chords.
        assert line.distance(block.boundary) >= 1.0 - 1e-3
        assert block.contains(line)
        assert line.length >= 12.0
        for (x, y), sign in zip(line.coords, (-1.0, 1.0), strict=True):
            ahead = LineString([(x, y), (x + sign * 4.999 * east, y + sign * 4.999 * north)])
            assert block.contains(ahead)
    assert [finding.code for finding in findings] == ["rows-dropped"]


def test_no_room_for_a_row_is_a_finding() -> None:
    block = box(-9.0, 0.0, 9.0, 15.0)
    rows, findings = lay(block, block, settings())
    assert rows.empty
    assert [finding.code for finding in findings] == ["no-rows"]


def test_a_row_passes_through_the_anchor() -> None:
    block = box(-9.5, 0.0, 9.5, 100.0)
    at = FRAME.to_lonlat(PlaneXY(np.array([0.7]), np.array([50.0])))
    lon, lat = at.lon, at.lat
    rows, _ = lay(block, block, settings(anchor_lon=float(lon[0]), anchor_lat=float(lat[0])))
    starts = rows.set_index("row_id")["start_x_m"]
    assert starts["B01-R005"] == pytest.approx(0.7, abs=1e-6)
    assert starts["B01-R006"] == pytest.approx(2.7, abs=1e-6)


@pytest.mark.parametrize("anchor_m", [-100.3, 100.7, 1000.7])
def test_an_anchor_far_from_the_block_leaves_out_no_row(anchor_m: float) -> None:
    """From -8.5 to 8.5 m stand all lines of the lattice, numbered from 1."""
    block = box(-9.5, 0.0, 9.5, 100.0)
    ((lon, lat),) = FRAME.to_lonlat(PlaneXY(np.array([anchor_m]), np.array([50.0]))).stacked()
    rows, _ = lay(block, block, settings(anchor_lon=float(lon), anchor_lat=float(lat)))
    step = np.arange(-600, 100)
    lattice = anchor_m + 2.0 * step
    inside = np.abs(lattice) <= 8.5
    assert inside.sum() in {8, 9}
    np.testing.assert_allclose(rows["start_x_m"], lattice[inside], atol=1e-4)
    assert rows["row_id"].tolist() == [f"B01-R{number + 1:03d}" for number in range(inside.sum())]
