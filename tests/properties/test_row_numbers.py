"""Numbers of rows, whatever the block, the bearing and the side: 1, 2, 3 ... from the side, and kept by an edit."""

import numpy as np
import shapely
from affine import Affine
from hypothesis import HealthCheck, assume, example, given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon
from wirerun.findings import Findings
from wirerun.geometry.frame import Frame
from wirerun.geometry.places import LonLat, PlaneXY
from wirerun.geometry.sampling import Ground
from wirerun.ids import row_parts
from wirerun.model.layout import NamedRows
from wirerun.model.site import Area, Site
from wirerun.records import EarlierRows, Grid
from wirerun.settings import RowSettings
from wirerun.stages.layout.rows import lay_parallel

FRAME = Frame(-7.6, 41.2, 300.0)
GROUND = Ground(Grid(np.zeros((2, 2)), np.ones((2, 2), bool), Affine.identity(), FRAME.crs.to_wkt(), ""), FRAME)
# Which way a bearing points that lies to the side.
TOWARDS = {"north": 0.0, "east": 90.0, "south": 180.0, "west": 270.0}
OPPOSITE = {"left": "right", "north": "south", "east": "west"}

CORNER = st.tuples(st.integers(-80, 80), st.integers(-80, 80))
BLOCKS = st.builds(
    lambda corners, hole, radius: shapely.MultiPoint(corners).convex_hull.difference(
        shapely.Point(hole).buffer(radius)
    ),
    st.lists(CORNER, min_size=3, max_size=8, unique=True),
    CORNER,
    st.integers(5, 25),
).filter(lambda area: area.area > 500.0)
BEARINGS = st.one_of(st.integers(0, 359), st.floats(0.0, 359.99))


def lay(area: Area, bearing: float, *, side: str = "left", earlier: EarlierRows | None = None) -> NamedRows:
    rules = RowSettings.model_validate(
        {"bearing_deg": bearing, "spacing_m": 2.4, "headland_m": 2.0, "min_length_m": 5.0, "first_row": side}
    )
    return lay_parallel(Site(FRAME, area, area, GROUND, (0.0, 0.0)), "B01", rules, Findings(), earlier)


def as_earlier(named: NamedRows) -> EarlierRows:
    """Rows as a later plan would find them."""
    paths = named.rows.paths
    lonlat = FRAME.to_lonlat(paths.vertices).stacked()
    parts = np.array([row_parts(row, "B01") for row in named.rows.row_id])
    lines = tuple(lonlat[paths.path == path] for path in range(len(paths.first)))
    ids, living = tuple(named.rows.row_id), np.ones(len(lines), bool)
    return EarlierRows("outputs/old", ids, parts[:, 0], parts[:, 1], living, lines)


def numbers(named: NamedRows) -> NDArray[np.int64]:
    return np.array([parts[0] for row in named.rows.row_id if (parts := row_parts(row, "B01"))], dtype=np.int64)


def starts(named: NamedRows) -> NDArray[np.float64]:
    paths = named.rows.paths
    return np.column_stack([paths.x_m[paths.first], paths.y_m[paths.first]])


@given(area=BLOCKS, bearing=BEARINGS, side=st.sampled_from(sorted(OPPOSITE)))
@settings(max_examples=150, suppress_health_check=[HealthCheck.filter_too_much])
@example(area=shapely.box(-80, -30, 80, 30), bearing=0.0, side="east")
@example(area=shapely.box(-80, -30, 80, 30), bearing=270.0, side="north")
def test_rows_count_from_the_named_side_without_a_gap(area: Area, bearing: float, side: str) -> None:
    square = abs((bearing - TOWARDS.get(side, bearing + 90.0) + 90.0) % 180.0 - 90.0)
    assume(square > 5.1)
    made = lay(area, bearing, side=side)
    assume(len(made.rows) > 1)
    number = numbers(made)
    assert set(number) == set(range(1, number.max() + 1))
    assert (np.diff(number) >= 0).all()
    # From each line to the next one goes away from the side, square to the rows.
    away = TOWARDS.get(side, bearing - 90.0) + 180.0
    across = np.array([np.cos(np.radians(bearing)), -np.sin(np.radians(bearing))])
    sense = np.sign(np.cos(np.radians(bearing + 90.0 - away)))
    step = np.diff(starts(made) @ across) * sense
    assert (step[np.diff(number) == 1] > 2.39).all()
    assert (np.abs(step[np.diff(number) == 0]) < 1e-6).all()
    # From the other side the numbers run the other way; the pieces of a line keep their letters.
    other = lay(area, bearing, side=OPPOSITE[side])
    here = {row: tuple(place) for row, place in zip(made.rows.row_id, starts(made).round(6), strict=True)}
    for row, place in zip(other.rows.row_id, starts(other).round(6), strict=True):
        turned, piece = row_parts(row, "B01") or (0, 0)
        twin = f"B01-R{number.max() + 1 - turned:03d}" + ("" if not piece else chr(ord("a") + piece))
        assert here[twin] == tuple(place)


@given(
    area=BLOCKS, bearing=BEARINGS, cut=st.floats(0.0, 360.0), depth=st.floats(0.0, 60.0), shift=st.floats(-1.15, 1.15)
)
@settings(max_examples=100, suppress_health_check=[HealthCheck.filter_too_much])
def test_ids_stay_through_a_cut_and_a_shift_of_less_than_half_a_spacing(
    area: Area, bearing: float, cut: float, depth: float, shift: float
) -> None:
    """A brute-force twin: every row that is left lies within the shift of exactly one earlier line."""
    before = lay(area, bearing)
    assume(len(before.rows) > 0)
    earlier = as_earlier(before)
    # The block, less a half-plane, its rows moved square to themselves.
    way = np.array([np.sin(np.radians(cut)), np.cos(np.radians(cut))])
    left = np.array([-np.cos(np.radians(bearing)), np.sin(np.radians(bearing))])
    beyond = shapely.affinity.rotate(shapely.box(-400, 80 - depth, 400, 400), -cut, origin=(0, 0))
    assert beyond.covers(shapely.Point(way * 100.0))
    rest = area.difference(beyond)
    assert isinstance(rest, Polygon | MultiPolygon)
    at = FRAME.to_lonlat(PlaneXY(np.array([-left[0] * shift]), np.array([-left[1] * shift])))
    rules = {"bearing_deg": bearing, "spacing_m": 2.4, "headland_m": 2.0, "min_length_m": 5.0}
    anchored = RowSettings.model_validate({**rules, "anchor_lon": float(at.lon[0]), "anchor_lat": float(at.lat[0])})
    after = lay_parallel(Site(FRAME, rest, rest, GROUND, (0.0, 0.0)), "B01", anchored, Findings(), earlier)
    assert len(set(after.rows.row_id)) == len(after.rows)
    assert set(after.gone_id) | set(after.rows.row_id) >= set(before.rows.row_id)
    assert not set(after.gone_id) & set(after.rows.row_id)
    new = after.origin == "new"
    assert set(after.rows.row_id[~new]) <= set(before.rows.row_id)
    assert not set(after.rows.row_id[new]) & set(before.rows.row_id)
    across = -left
    was = dict(zip(numbers(before), starts(before) @ across, strict=True))
    for row, number, place in zip(after.rows.row_id, numbers(after), starts(after) @ across, strict=True):
        near = [one for one, line in was.items() if abs(line - place) < 1.2]
        assert number not in was or near == [number], row
    np.testing.assert_allclose(after.moved_m[~new], abs(shift), atol=1e-3)


@given(area=BLOCKS, bearing=BEARINGS, side=st.sampled_from(["left", "right"]))
@settings(max_examples=50)
def test_beside_itself_a_plan_keeps_every_id(area: Area, bearing: float, side: str) -> None:
    before = lay(area, bearing)
    assume(len(before.rows) > 0)
    after = lay(area, bearing, side=side, earlier=as_earlier(before))
    assert sorted(after.rows.row_id) == sorted(before.rows.row_id)
    assert set(after.origin) == {"kept"}
    places = {tuple(place): row for row, place in zip(before.rows.row_id, starts(before).round(6), strict=True)}
    assert [places[tuple(place)] for place in starts(after).round(6)] == after.rows.row_id.tolist()
    assert LonLat.of(as_earlier(before).lines[0]).lon.size == 2
