"""Bands of straight parallel rows: a case by hand, a twin place by place, and which lines are rows side by side."""

import numpy as np
import pytest
import shapely
from numpy.typing import NDArray
from wirerun.arrays import FloatArray
from wirerun.geometry.areas import strips
from wirerun.geometry.bands import SideBySide, bands, side_by_side
from wirerun.geometry.lines import cut_lines, from_row_axes

ShapeArray = NDArray[np.object_]


def rows_at(bearing_deg: float, *rows: tuple[float, float, float]) -> ShapeArray:
    """Straight lines given by across, start and end."""
    across, start, end = np.array(rows, dtype=np.float64).T
    ends = [np.column_stack(from_row_axes(along, across, bearing_deg)) for along in (start, end)]
    return np.asarray(shapely.linestrings(np.stack(ends, axis=1)))


def found(lines: ShapeArray) -> SideBySide:
    rows = side_by_side(lines)
    assert rows is not None
    return rows


def test_two_rows_of_which_one_ends_first() -> None:
    """By hand, reach 3: the border is midway, at across 1, until 3 m past the first row; then all is the second's."""
    first, second = bands(found(rows_at(0.0, (0.0, 0.0, 40.0), (2.0, 0.0, 50.0))), np.arange(2), 3.0)
    assert first.equals(shapely.box(-3.0, -3.0, 1.0, 43.0))
    assert second.equals(shapely.union(shapely.box(1.0, -3.0, 5.0, 53.0), shapely.box(-1.0, 43.0, 5.0, 53.0)))


def test_pieces_of_one_row_part_half_way() -> None:
    """By hand: a gap of 4 m between pieces of one row is parted in the middle, and each end goes on by the reach."""
    first, second = bands(found(rows_at(0.0, (0.0, 0.0, 10.0), (0.0, 14.0, 30.0))), np.arange(2), 3.0)
    assert first.equals(shapely.box(-3.0, -3.0, 3.0, 12.0))
    assert second.equals(shapely.box(-3.0, 12.0, 3.0, 33.0))


@pytest.mark.parametrize("seed", range(12))
def test_every_place_is_in_the_band_of_the_nearest_row_across(seed: int) -> None:
    """Every row in turn, place by place: of those that are there (lengthened by the reach), the nearest across."""
    rng = np.random.default_rng(seed)
    count, reach_m = int(rng.integers(2, 14)), float(rng.uniform(0.5, 9.0))
    start = rng.uniform(0.0, 20.0, count)
    across: FloatArray = 2.4 * np.arange(count, dtype=np.float64)
    end: FloatArray = start + rng.uniform(2.0, 25.0, count)
    group = np.unique(rng.integers(0, 4, count), return_inverse=True)[1]
    shapes = bands(SideBySide(0.0, across, start, end), group, reach_m)
    xy = rng.uniform([-10.0, -10.0], [2.4 * count + 10.0, 55.0], (3000, 2))
    away = np.abs(xy[:, :1] - across)
    away[(xy[:, 1:] < start - reach_m) | (xy[:, 1:] > end + reach_m) | (away > reach_m)] = np.inf
    nearest = np.where(np.isinf(away.min(axis=1)), -1, group[away.argmin(axis=1)])
    inside = shapely.contains_xy(shapes[:, None], xy[None, :, 0], xy[None, :, 1])
    assert inside.sum(axis=0).max() <= 1
    assert np.where(inside.any(axis=0), inside.argmax(axis=0), -1).tolist() == nearest.tolist()


@pytest.mark.parametrize("bearing_deg", [0.0, 62.0, 110.0, 179.99, 271.3])
def test_rows_are_known_at_any_bearing_and_either_way_round(bearing_deg: float) -> None:
    lines = rows_at(bearing_deg, (0.0, 5.0, 60.0), (2.4, 0.0, 20.0), (2.4, 24.0, 50.0), (7.2, -9.0, 30.0))
    rows = found(np.array([lines[0], shapely.reverse(lines[1]), *lines[2:]]))
    assert rows.bearing_deg % 360.0 == pytest.approx(bearing_deg)
    assert rows.across_m == pytest.approx([0.0, 2.4, 2.4, 7.2])
    assert rows.across_m[1] == rows.across_m[2]
    assert rows.start_m == pytest.approx([5.0, 0.0, 24.0, -9.0])
    assert rows.end_m == pytest.approx([60.0, 20.0, 50.0, 30.0])
    # There and back again.
    assert shapely.distance(rows.turn_back(rows.turn(lines)), lines).max() < 1e-9


def test_lines_that_are_no_rows_side_by_side() -> None:
    plain = ((0.0, 0.0, 40.0), (2.4, 0.0, 40.0))
    assert side_by_side(rows_at(30.0, *plain)) is not None
    assert side_by_side(rows_at(30.0, *plain, (2.4, 39.9, 60.0))) is None  # one lies on another
    assert side_by_side(rows_at(30.0, *plain, (2.45, 50.0, 60.0))) is None  # nearly in line
    for bend_m, straight in ((0.0005, True), (0.002, False)):
        bent = shapely.LineString([(0.0, 0.0), (bend_m, 20.0), (0.0, 40.0)])
        assert (side_by_side(np.array([bent, shapely.LineString([(2.4, 0.0), (2.4, 40.0)])])) is not None) == straight
    askew = shapely.linestrings([[(0.0, 0.0), (0.0, 40.0)], [(2.4, 0.0), (2.41, 40.0)]])
    assert side_by_side(np.asarray(askew)) is None


def test_bands_are_the_cells_of_nearest_ground_but_for_the_ends() -> None:
    """The same rows with a bend of 2 mm are shared out the other way: 1 % of the ground differs, past the ends."""
    rng = np.random.default_rng(3)
    start = rng.uniform(0.0, 4.0, 20)
    across, end = 2.4 * np.arange(20), start + 60.0
    straight = np.stack([np.c_[across, start], np.c_[across, end]], axis=1)
    bent = np.stack([straight[:, 0], straight.mean(axis=1) + np.array([0.002, 0.0]), straight[:, 1]], axis=1)
    within, group = shapely.box(-9.0, -9.0, 60.0, 80.0), np.arange(20) // 3
    ways = [np.array(strips(np.asarray(shapely.linestrings(xy)), group, within, 2.4)) for xy in (straight, bent)]
    differ = shapely.area(shapely.symmetric_difference(ways[0], ways[1])) / shapely.area(ways[0])
    assert 0.0 < differ.max() < 0.02
    beside = shapely.box(-9.0, 6.5, 60.0, 57.5)
    middle = [shapely.intersection(areas, beside) for areas in ways]
    assert shapely.hausdorff_distance(*middle).max() < 0.003


@pytest.mark.parametrize("seed", range(12))
def test_holes_that_touch_the_edge_do_not_stop_it(seed: int) -> None:
    """A hole's corner on the edge lies beside it by a hair, at times outside: then the block is not valid."""
    rng = np.random.default_rng(seed)
    angle, distance = np.sort(rng.uniform(0.0, 2.0 * np.pi, 5)), rng.uniform(40.0, 60.0, 5)
    shell = np.c_[distance * np.cos(angle), distance * np.sin(angle)]
    share = rng.uniform(0.3, 0.7, (3, 1))
    touch = (1.0 - share) * shell[:3] + share * shell[1:4]
    aside = 0.1 * np.c_[-touch[:, 1], touch[:, 0]]
    block = shapely.Polygon(shell, list(np.stack([touch, 0.6 * touch + aside, 0.6 * touch - aside], axis=1)))
    across = np.arange(-60.0, 60.0, 2.4)
    room = shapely.make_valid(block, method="structure", keep_collapsed=False)
    pieces = cut_lines(room.buffer(-1.0), across, bearing_deg := float(rng.uniform(0.0, 360.0)))
    lines = rows_at(bearing_deg, *zip(across[pieces.line], pieces.start_m, pieces.end_m, strict=True))
    group = np.arange(len(lines)) // 3
    areas = np.array(strips(lines, group, block, 2.4), dtype=object)
    assert shapely.length(shapely.difference(lines, areas[group])).max() < 1e-6
