"""Rows that follow a guide: their distance from it measured, their number and cover checked against brute force."""

from functools import cache
from itertools import pairwise

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from shapely import LineString, MultiPolygon, Polygon, box
from shapely.geometry.base import BaseGeometry
from wirerun.geometry.lines import Pieces, cut_lines, from_row_axes, shorten
from wirerun.geometry.offsets import Curve, FollowReport, GuideError, extend_guide, follow_guide

FloatArray = NDArray[np.float64]

BLOCK = box(0.0, 0.0, 200.0, 150.0)
# Asymmetric, with a bay in one side and a pond.
BAY = Polygon([(5, 0), (190, 12), (205, 140), (120, 150), (105, 70), (80, 145), (-10, 120)]).difference(
    shapely.Point(60, 40).buffer(9.0)
)
TOLERANCE_M = 0.01


def wave(height_m: float, radius_m: float, step_m: float = 0.5) -> FloatArray:
    """S-shaped contour across the block, shorter than it."""
    x = np.arange(20.0, 181.0, step_m)
    return np.column_stack([x, 75.0 + height_m * np.sin(x / radius_m)])


def arc(radius_m: float, degrees: float) -> FloatArray:
    """Arc about (100, 75) that turns to the left, drawn with a vertex every half degree."""
    angle = np.radians(np.arange(-90.0, degrees - 89.9, 0.5))
    return np.column_stack([100.0 + radius_m * np.cos(angle), 75.0 + radius_m * np.sin(angle)])


def bottle() -> FloatArray:
    """A guide round a bulb of radius 30 m with a neck 20 m wide."""
    angle = np.radians(np.arange(-70.0, 250.1, 1.0))
    bulb = np.column_stack([100.0 + 30.0 * np.cos(angle), 90.0 + 30.0 * np.sin(angle)])
    return np.concatenate([[(110.26, 0.0)], bulb, [(89.74, 0.0)]])


GUIDES = {
    "wave": wave(15.0, 40.0),
    "tight wave": wave(25.0, 12.0),
    "rough": wave(10.0, 30.0) + np.column_stack([np.zeros(322), np.random.default_rng(4).normal(0.0, 0.1, 322)]),
    "corners": np.array([(30, 20), (80, 60), (85, 120), (95, 61), (150, 90), (190, 40)], dtype=np.float64),
    "arc": arc(50.0, 150.0),
    "nearly closed": arc(50.0, 300.0),
    "bottle": bottle(),
    "jog": np.array([(0, 70), (100, 70), (100.05, 70.05), (200, 70.05)], dtype=np.float64),
    "dent": np.array([(0, 20), (40, 20), (100, 19.3), (160, 20), (200, 20)], dtype=np.float64),
    "outside": wave(15.0, 40.0) - (0.0, 130.0),
}


def follow(guide: FloatArray, area: BaseGeometry = BLOCK, spacing_m: float = 2.5) -> tuple[list[Curve], FollowReport]:
    """Rows in an area without margins, headlands or least length."""
    return follow_guide(guide, area, area, spacing_m, 0.0, 0.0, 0.0, TOLERANCE_M)


@cache
def rows_of(name: str) -> tuple[list[Curve], FollowReport]:
    """Rows of one of the guides above, worked out once."""
    return follow(GUIDES[name])


def lines_of(curves: list[Curve]) -> NDArray[np.object_]:
    return np.array([LineString(curve.xy) for curve in curves], dtype=object)


def distances(curves: list[Curve], guide: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Distance from the guide of places every metre along all rows, and the distance their number says."""
    places, row = shapely.get_coordinates(shapely.segmentize(lines_of(curves), 1.0), return_index=True)
    line = LineString(extend_guide(guide, 2000.0))
    number = np.array([curve.number for curve in curves])
    return np.asarray(shapely.distance(line, shapely.points(places))), np.abs(number)[row]


def crossings(curves: list[Curve]) -> int:
    """Pairs of rows that meet anywhere but end to end; a row that meets itself counts too."""
    lines = lines_of(curves)
    count = int((~shapely.is_simple(lines)).sum())
    for i, j in shapely.STRtree(lines).query(lines, predicate="intersects").T:
        if i < j:
            ends = shapely.MultiPoint(np.concatenate([curves[k].xy[[0, -1]] for k in (i, j)]))
            count += not lines[i].intersection(lines[j]).within(ends.buffer(1e-6))
    return count


@pytest.mark.parametrize("name", GUIDES)
def test_every_row_keeps_its_distance_and_meets_no_other(name: str) -> None:
    curves, _ = rows_of(name)
    assert len(curves) > 20
    measured, number = distances(curves, GUIDES[name])
    np.testing.assert_allclose(measured, number * 2.5, atol=TOLERANCE_M)
    assert crossings(curves) == 0


@pytest.mark.parametrize("name", GUIDES)
def test_no_row_is_missing(name: str) -> None:
    """From random places walk towards the guide to the next whole distance: there must be a row of that number."""
    guide, spacing = GUIDES[name], 2.5
    curves, _ = rows_of(name)
    line = LineString(extend_guide(guide, 2000.0))
    places = np.random.default_rng(7).uniform((0.0, 0.0), (200.0, 150.0), (1500, 2))
    feet = shapely.get_coordinates(line.interpolate(line.project(shapely.points(places))))
    away = np.hypot(*(places - feet).T)
    # Round the tip of a guide that had to stop no row is promised.
    ends = shapely.get_coordinates(line)[[0, -1]]
    at_tip = np.hypot(*(feet[:, None] - ends[None]).transpose(2, 0, 1)).min(axis=1) < 1e-6
    step = np.floor(away / spacing).astype(int)
    target = feet + (places - feet) * (step * spacing / away)[:, None]
    asked = ~at_tip & (step > 0) & shapely.intersects_xy(box(0.1, 0.1, 199.9, 149.9), target)
    assert asked.sum() > 800
    # Which side, by the turn from the guide's direction just before the foot to just after it.
    at = line.project(shapely.points(feet))
    ahead = shapely.get_coordinates(line.interpolate(at + 1e-4)) - shapely.get_coordinates(line.interpolate(at - 1e-4))
    sign = np.where(ahead[:, 0] * (places - feet)[:, 1] > ahead[:, 1] * (places - feet)[:, 0], -1, 1)
    number = np.array([curve.number for curve in curves])
    rows = {int(k): shapely.union_all(lines_of(curves)[number == k]) for k in np.unique(number)}
    off = [rows[int(k)].distance(shapely.Point(xy)) for k, xy in zip((sign * step)[asked], target[asked], strict=True)]
    # Two tolerances: the foot on the guide as drawn, and the row.
    assert max(off) < 2.0 * TOLERANCE_M


def test_left_is_negative_and_rows_run_with_the_guide() -> None:
    curves, _ = follow(np.array([(0.0, 0.0), (0.0, 10.0)]), box(-7.0, -5.0, 5.0, 40.0), 2.0)
    assert [curve.number for curve in curves] == [-3, -2, -1, 0, 1, 2]
    for curve in curves:
        np.testing.assert_allclose(curve.xy, [(2.0 * curve.number, -5.0), (2.0 * curve.number, 40.0)], atol=1e-9)


@pytest.mark.parametrize("bearing", [0.0, 62.0, 181.0, 299.5])
def test_a_straight_guide_gives_the_straight_rows(bearing: float) -> None:
    spacing, anchor = 2.5, 3.1
    x, y = from_row_axes(np.array([40.0, 60.0, 61.0, 90.0]), np.full(4, anchor), bearing)
    margin = BAY.buffer(-1.5)
    curves, report = follow_guide(np.column_stack([x, y]), BAY, margin, spacing, 5.0, 8.0, 12.0)
    number = np.arange(-120, 121)
    across = np.asarray(anchor + number * spacing, dtype=np.float64)
    pieces = shorten(cut_lines(margin, across, bearing), cut_lines(BAY, across, bearing), 5.0, 8.0)
    length = pieces.end_m - pieces.start_m
    keep = length >= 12.0
    kept = Pieces(pieces.line[keep], pieces.start_m[keep], pieces.end_m[keep])
    assert [curve.number for curve in curves] == number[kept.line].tolist()
    for station, end in ((kept.start_m, 0), (kept.end_m, -1)):
        expected = np.column_stack(from_row_axes(station, across[kept.line], bearing))
        np.testing.assert_allclose([curve.xy[end] for curve in curves], expected, atol=1e-6)
    assert all(len(curve.xy) == 2 for curve in curves)
    short = (length > 0.0) & ~keep
    assert report.short_number.tolist() == number[pieces.line[short]].tolist()
    np.testing.assert_allclose(report.short_m, length[short], atol=1e-6)
    assert len(report.kink_number) == len(report.tight_number) == 0


def test_rows_round_an_arc_have_its_radius_less_or_more() -> None:
    """A quarter turn to the left: inside (left) the radii shrink, outside they grow, and all share the centre."""
    curves, _ = follow(arc(50.0, 90.0))
    for curve in curves:
        places = shapely.get_coordinates(LineString(curve.xy).segmentize(0.5)) - (100.0, 75.0)
        sector = places[(places[:, 0] > 0.0) & (places[:, 1] < 0.0)]
        if curve.number * 2.5 > -50.0:
            # At the block's corner a row may have a step or two on the arc only.
            assert len(sector) >= 2
            np.testing.assert_allclose(np.hypot(*sector.T), 50.0 + 2.5 * curve.number, atol=TOLERANCE_M)
        else:
            # Beyond the centre there are only the two straight rows, which meet on the bisector.
            assert (places[:, 0] < places[:, 1] + 100.0).all()
            assert len(sector) == 0


def test_inside_a_u_there_is_no_row_past_the_centre() -> None:
    guide = arc(50.0, 180.0)
    curves, report = follow(guide)
    number = np.array([curve.number for curve in curves])
    assert number.min() >= -20
    # Beyond, all of the U is lost; and no place of the block is further from its guide than the block is long.
    assert set(report.tight_number.tolist()) >= set(range(-39, -20))
    assert report.tight_number.min() >= -100
    half_way = report.tight_m[report.tight_number == -22]
    # 55 m to the left of the U's round end lies past its centre, inside the block; so do both arms' 100 m.
    assert half_way == pytest.approx(np.pi * 50.0 + 2.0 * 100.0, abs=6.0)


@pytest.mark.parametrize("back", [1, -1])
def test_midway_between_two_parts_of_the_guide_runs_one_row(back: int) -> None:
    """Arms 100 m apart, 20 spacings from each: not two rows on top of each other."""
    guide = np.array([(50.0, 25.0), (150.0, 25.0), (150.0, 125.0), (50.0, 125.0)])[::back]
    curves, _ = follow(guide)
    assert min(curve.number * back for curve in curves) == -20
    (middle,) = [curve for curve in curves if curve.number == -20 * back]
    assert sorted(middle.xy[:, 0]) == pytest.approx([0.0, 100.0])
    np.testing.assert_allclose(middle.xy[:, 1], 75.0, atol=1e-9)
    assert crossings(curves) == 0


def test_a_corner_is_one_kinked_row_on_the_inside_and_an_arc_outside() -> None:
    guide = np.array([(20.0, 130.0), (20.0, 20.0), (180.0, 20.0)])
    curves, report = follow(guide, spacing_m=3.0)
    inside = [curve for curve in curves if curve.number < 0]
    assert len(inside) == len({curve.number for curve in inside}) == 43
    np.testing.assert_array_equal(report.kink_number, np.arange(-43, 0))
    expected = 20.0 - 3.0 * report.kink_number
    np.testing.assert_allclose(report.kink_xy, np.column_stack([expected, expected]), atol=1e-6)
    np.testing.assert_allclose(report.kink_turn_deg, 90.0)
    # Each arm has no row over its last stretch, as long as the row is away from it.
    np.testing.assert_allclose(report.tight_m, np.minimum(-6.0 * report.tight_number, 260.0), rtol=0.5)
    assert report.tight_m[report.tight_number == -5] == pytest.approx(30.0)
    outside = next(curve for curve in curves if curve.number == 4)
    corner = np.hypot(*(outside.xy[1:-1] - (20.0, 20.0)).T)
    np.testing.assert_allclose(corner, 12.0, atol=TOLERANCE_M)


def test_a_bulb_behind_a_neck_keeps_rings_without_loops() -> None:
    curves, _ = follow(bottle(), spacing_m=4.0)
    inner = [curve for curve in curves if curve.number in {-3, -4, -5, -6}]
    # Past half the neck's width (10.26 m) nothing passes the neck: what is left is one closed row in the bulb.
    assert [curve.number for curve in inner] == [-6, -5, -4, -3]
    for curve in inner:
        assert LineString(curve.xy).is_ring
        # Walking with the guide, counterclockwise.
        assert shapely.LinearRing(curve.xy).is_ccw


@pytest.mark.parametrize("spacing", [1.8, 3.0])
def test_neighbours_are_one_spacing_apart(spacing: float) -> None:
    # Kinked rows among them: even there the next row is a spacing away.
    curves, report = follow(GUIDES["tight wave"], spacing_m=spacing)
    assert len(report.kink_number) > 20
    number = np.array([curve.number for curve in curves])
    lines = lines_of(curves)
    for k in np.unique(number):
        if k == 0:
            continue
        inner = shapely.union_all(lines[number == k - np.sign(k)])
        places = shapely.get_coordinates(shapely.segmentize(lines[number == k], 1.0))
        # Away from the block's edge, where the neighbour may have ended.
        places = places[shapely.intersects_xy(BLOCK.buffer(-3.0), places)]
        np.testing.assert_allclose(shapely.distance(inner, shapely.points(places)), spacing, atol=2.0 * TOLERANCE_M)


@pytest.mark.parametrize("area", [BLOCK, BAY], ids=["block", "bay"])
def test_rows_fill_the_workable_area(area: BaseGeometry) -> None:
    spacing = 2.0
    curves, _ = follow(wave(8.0, 45.0), area, spacing)
    lines = lines_of(curves)
    # Each place of the edge may be off by half a spacing either way, and does so evenly: a tenth remains.
    assert shapely.length(lines).sum() * spacing == pytest.approx(area.area, abs=0.1 * spacing * area.length)
    strip = shapely.union_all(shapely.buffer(lines, spacing / 2.0 + TOLERANCE_M, quad_segs=4))
    bare = area.difference(strip)
    # Only slivers between the outermost row and the edge.
    assert bare.difference(area.boundary.buffer(spacing)).area < 1e-6 * area.area
    assert bare.area < 0.5 * spacing * area.length


def test_headlands_are_measured_along_the_row_at_each_end() -> None:
    guide = arc(60.0, 150.0)
    margin = BAY.buffer(-1.0)
    free, _ = follow_guide(guide, BAY, BAY, 2.5, 0.0, 0.0, 0.0)
    kept, _ = follow_guide(guide, BAY, margin, 2.5, 6.0, 11.0, 0.0)
    assert shapely.covers(margin.buffer(1e-6), lines_of(kept)).all()
    tight = 0
    for curve in kept:
        holder = next(
            line
            for line, whole in zip(lines_of(free), free, strict=True)
            if whole.number == curve.number and line.distance(LineString(curve.xy)) < 1e-6
        )
        start, end = (holder.project(shapely.Point(xy)) for xy in curve.xy[[0, -1]])
        assert start >= 6.0 - 1e-6
        assert holder.length - end >= 11.0 - 1e-6
        tight += (start < 6.0 + 1e-6) and (holder.length - end < 11.0 + 1e-6)
    assert tight > 0.8 * len(kept)


def test_pieces_of_one_number_are_ordered_as_one_walks() -> None:
    guide = wave(8.0, 45.0)
    curves, _ = follow(guide, BAY)
    number = [curve.number for curve in curves]
    assert number == sorted(number)
    assert len(set(number)) < len(number)
    line = LineString(extend_guide(guide, 500.0))
    for before, after in pairwise(curves):
        if before.number == after.number:
            assert line.project(shapely.Point(before.xy[-1])) < line.project(shapely.Point(after.xy[0]))
    for curve in curves:
        start, end = (line.project(shapely.Point(xy)) for xy in curve.xy[[0, -1]])
        assert start < end


def test_a_row_that_touches_the_edge_in_passing_is_one_row() -> None:
    """A notch comes down to the guide itself, and a pond stands up to it: neither cuts the row that it touches."""
    area = box(0.0, -10.0, 100.0, 10.0).difference(Polygon([(30, 10), (50, 0), (70, 10)]))
    area = area.difference(Polygon([(10, -8), (20, 0), (30, -8)]))
    curves, _ = follow(np.array([(0.0, 0.0), (100.0, 0.0)]), area, 5.0)
    (touching,) = [curve for curve in curves if curve.number == 0]
    np.testing.assert_allclose(touching.xy, [(0.0, 0.0), (100.0, 0.0)], atol=1e-9)


def test_turning_the_guide_round_mirrors_the_numbers() -> None:
    guide = GUIDES["corners"]
    forth, there = follow(guide, BAY)
    back, here = follow(guide[::-1], BAY)
    assert sorted(-curve.number for curve in back) == [curve.number for curve in forth]
    for k in {curve.number for curve in forth}:
        ours = shapely.union_all(lines_of([curve for curve in forth if curve.number == k]))
        theirs = shapely.union_all(lines_of([curve for curve in back if curve.number == -k]))
        assert ours.hausdorff_distance(theirs) < 2.0 * TOLERANCE_M
    np.testing.assert_allclose(here.tight_m[::-1], there.tight_m, atol=0.01)
    assert sorted((-here.kink_number).tolist()) == there.kink_number.tolist()


def test_numbers_and_places_do_not_hang_on_the_block() -> None:
    guide = GUIDES["tight wave"]
    whole, _ = rows_of("tight wave")
    part = box(60.0, 20.0, 150.0, 149.0)
    some, _ = follow(guide, part)
    cut = {
        k: part.intersection(shapely.union_all(lines_of([c for c in whole if c.number == k]))) for k in range(-60, 61)
    }
    assert {c.number for c in some} == {k for k, line in cut.items() if line.length > 0.0}
    for k in {c.number for c in some}:
        ours = shapely.union_all(lines_of([c for c in some if c.number == k]))
        assert ours.hausdorff_distance(cut[k]) < 3.0 * TOLERANCE_M


def test_same_input_same_rows() -> None:
    one, two = rows_of("rough")[0], follow(GUIDES["rough"])[0]
    assert [c.number for c in one] == [c.number for c in two]
    assert all(np.array_equal(a.xy, b.xy) for a, b in zip(one, two, strict=True))


def test_round_bends_take_few_vertices() -> None:
    curves, _ = follow(wave(15.0, 40.0, step_m=0.1))
    vertices = sum(len(curve.xy) for curve in curves)
    assert vertices < 0.6 * shapely.length(lines_of(curves)).sum()


@pytest.mark.parametrize(
    "area",
    [
        box(100.0, 70.0, 100.4, 70.3),
        box(0.0, 80.0, 200.0, 80.02),
        Polygon([(0, 0), (200, 0.05), (200, 0)]),
        MultiPolygon([box(0, 0, 30, 40), box(150, 100, 180, 150)]),
        Polygon(),
        MultiPolygon(),
    ],
    ids=["tiny", "sliver", "needle", "two parts", "nothing", "no parts"],
)
def test_odd_areas(area: BaseGeometry) -> None:
    curves, report = follow(wave(15.0, 40.0), area)
    assert shapely.covers(area.buffer(1e-6), lines_of(curves)).all()
    assert len(report.short_m) == 0
    if area.area > 100.0:
        assert shapely.length(lines_of(curves)).sum() * 2.5 == pytest.approx(area.area, rel=0.05)


def test_a_margin_that_eats_the_block_leaves_no_row() -> None:
    curves, report = follow_guide(wave(15.0, 40.0), BLOCK, BLOCK.buffer(-80.0), 2.5, 0.0, 0.0, 0.0)
    assert curves == []
    assert len(report.short_m) == 0


def test_short_pieces_are_left_out_and_counted() -> None:
    guide = wave(15.0, 40.0)
    every, _ = follow_guide(guide, BAY, BAY, 2.5, 4.0, 4.0, 0.0)
    kept, report = follow_guide(guide, BAY, BAY, 2.5, 4.0, 4.0, 25.0)
    length = shapely.length(lines_of(every))
    assert 0 < len(report.short_m) == (length < 25.0).sum()
    assert report.short_m.sum() == pytest.approx(length[length < 25.0].sum())
    assert len(kept) == (length >= 25.0).sum()


def test_a_guide_is_carried_on_straight() -> None:
    guide = np.array([(0.0, 0.0), (10.0, 0.0), (16.0, 8.0)])
    np.testing.assert_allclose(extend_guide(guide, 50.0), [(-50, 0), (0, 0), (10, 0), (16, 8), (46, 48)])


def test_a_slip_in_the_last_vertex_does_not_turn_the_guide() -> None:
    extended = extend_guide(np.array([(0.0, 0.0), (10.0, 0.0), (10.0, 0.02)]), 100.0)
    assert abs(extended[-1, 1]) < 100.0 * 0.025


def test_a_guide_carried_on_stops_before_itself() -> None:
    hook = np.array([(0.0, 0.0), (100.0, 0.0), (100.0, 50.0), (50.0, 50.0), (50.0, 20.0)])
    np.testing.assert_allclose(extend_guide(hook, 500.0)[-1], (50.0, 0.001), atol=1e-9)
    roof = np.array([(2.0, 10.0), (0.0, 0.0), (10.0, 0.0), (8.0, 10.0)])
    ends = extend_guide(roof, 500.0)[[0, -1]]
    np.testing.assert_allclose(ends, [(5.0, 25.0), (5.0, 25.0)], atol=2e-3)
    assert LineString(extend_guide(roof, 500.0)).is_simple


@pytest.mark.parametrize(
    ("guide", "message", "place"),
    [
        ([(0, 0), (10, 0), (10, 10), (5, 10), (5, -5)], "crosses or touches itself", (5.0, 0.0)),
        ([(0, 0), (10, 0), (10, 10), (4, 10), (4, 0)], "crosses or touches itself", (4.0, 0.0)),
        ([(0, 0), (10, 0), (3, 0)], "crosses or touches itself", None),
        ([(1, 2), (10, 0), (10, 10), (1, 2)], "closes on itself", (1.0, 2.0)),
        ([(1, 2), (1, 2), (1, 2)], "has no length", (1.0, 2.0)),
        ([(0, 0), (np.nan, 2), (5, 5)], "vertex 1 of the guide is no position", None),
    ],
)
def test_guides_that_cannot_be_followed(
    guide: list[tuple[float, float]], message: str, place: tuple[float, float] | None
) -> None:
    with pytest.raises(GuideError, match=message) as caught:
        follow(np.array(guide, dtype=np.float64))
    if place:
        assert (caught.value.x_m, caught.value.y_m) == pytest.approx(place)


def test_a_guide_that_crosses_itself_is_a_value_error_that_says_where() -> None:
    with pytest.raises(ValueError, match=r"at x = 5\.00 m, y = 0\.00 m"):
        follow(np.array([(0.0, 0.0), (10.0, 0.0), (10.0, 10.0), (5.0, 10.0), (5.0, -5.0)]))


@pytest.mark.parametrize(("spacing", "tolerance"), [(0.0, 0.01), (-2.0, 0.01), (0.03, 0.01), (2.0, 0.0)])
def test_a_spacing_near_the_tolerance_is_refused(spacing: float, tolerance: float) -> None:
    with pytest.raises(ValueError, match="spacing must be over four times the tolerance"):
        follow_guide(wave(15.0, 40.0), BLOCK, BLOCK, spacing, 0.0, 0.0, 0.0, tolerance)


@settings(max_examples=40, deadline=None)
@given(
    bends=st.lists(st.floats(-0.35, 0.35), min_size=3, max_size=12),
    heading=st.floats(0.0, 6.28),
    start=st.tuples(st.floats(-40.0, 240.0), st.floats(-40.0, 190.0)),
    spacing=st.floats(4.0, 9.0),
)
def test_random_guides(bends: list[float], heading: float, start: tuple[float, float], spacing: float) -> None:
    """Guides of smooth random curvature, drawn every 2 m: rows inside, at their distance, meeting nothing."""
    curvature = np.interp(np.arange(60), np.linspace(0, 59, len(bends)), bends)
    angle = heading + np.cumsum(curvature)
    guide = np.array(start) + np.cumsum(2.0 * np.column_stack([np.cos(angle), np.sin(angle)]), axis=0)
    if not LineString(guide).is_simple:
        with pytest.raises(GuideError):
            follow(guide, BAY, spacing)
        return
    curves, _ = follow_guide(guide, BAY, BAY.buffer(-1.0), spacing, 2.0, 3.0, 5.0)
    if not curves:
        return
    assert shapely.covers(BAY.buffer(-1.0 + 1e-6), lines_of(curves)).all()
    measured, number = distances(curves, guide)
    np.testing.assert_allclose(measured, number * spacing, atol=TOLERANCE_M)
    assert crossings(curves) == 0
    # On one side of the guide, rows of different numbers are never closer than their spacing.
    lines = lines_of(curves)
    numbers = np.array([curve.number for curve in curves])
    for k in np.unique(numbers):
        if k + 1 in numbers:
            apart = shapely.union_all(lines[numbers == k]).distance(shapely.union_all(lines[numbers == k + 1]))
            assert apart >= spacing - TOLERANCE_M
