"""Holes along rows: none too small to be found, each as wide as its cells, and bridged straight."""

import numpy as np
import pytest
from affine import Affine
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from pyproj import CRS
from wirerun.geometry.frame import Frame
from wirerun.geometry.holes import Holes, find_holes
from wirerun.geometry.places import PlaneXY
from wirerun.geometry.row_ground import RowGround, holes_along
from wirerun.geometry.sampling import Ground
from wirerun.geometry.station import Paths
from wirerun.records import Grid

FRAME = Frame(-7.6, 41.2, 300.0)
CELL_M = 0.5
SIDE = 128  # cells: some tiles away from each edge


def ground_of(valid: NDArray[np.bool_], heights: NDArray[np.float64] | None = None, smoothing_m: float = 0.0) -> Ground:
    """Ground round the frame's origin, off the round metre; by default a tilted plane."""
    rows, columns = valid.shape
    transform = Affine.translation(-columns * CELL_M / 2 + 0.087, rows * CELL_M / 2 - 0.061) * Affine.scale(
        CELL_M, -CELL_M
    )
    if heights is None:
        row, column = np.mgrid[0:rows, 0:columns] + 0.5
        heights = 300.0 + 0.1 * column - 0.07 * row
    grid = Grid(np.where(valid, heights, 0.0), valid, transform, CRS.from_proj4(FRAME.proj).to_wkt(), "")
    return Ground(grid, FRAME, smoothing_m)


def all_valid() -> NDArray[np.bool_]:
    return np.ones((SIDE, SIDE), dtype=np.bool_)


def line(*corners: tuple[float, float]) -> Paths:
    return Paths.from_lines([np.array(corners)])


def random_mask(rng: np.random.Generator, count: int = 12) -> NDArray[np.bool_]:
    """Missing cells, single and in rectangles of some cells."""
    valid = all_valid()
    for row, column, tall, wide in zip(
        *rng.integers(20, SIDE - 20, (2, count)), *rng.integers(1, 8, (2, count)), strict=True
    ):
        valid[row : row + tall, column : column + wide] = False
    return valid


@pytest.mark.parametrize("cells", [1, 4, 10, 16])
def test_a_hole_across_a_row_is_as_wide_as_its_cells(cells: int) -> None:
    valid = all_valid()
    valid[40:90, 60 : 60 + cells] = False
    ground = ground_of(valid)
    holes = find_holes(ground, line((-25.0, 0.3), (25.0, 0.3)))
    assert len(holes) == 1
    assert holes.width_m[0] == pytest.approx(cells * CELL_M, abs=1e-6)
    # Between the centres of the last known cells: the ground is known up to there.
    assert holes.to_m[0] - holes.from_m[0] == pytest.approx((cells + 1) * CELL_M, abs=1e-6)
    x = np.array([holes.from_m[0] - 25.0, holes.to_m[0] - 25.0])
    column, _ = ground.cells(PlaneXY(x, np.full(2, 0.3)))
    np.testing.assert_allclose(column, [59.5, 60.5 + cells], atol=1e-6)


@pytest.mark.parametrize("length_m", [1.2, 3.0, 4.1])
def test_a_row_of_a_few_metres_has_its_hole_too(length_m: float) -> None:
    """One missing cell across a row shorter than the tiles by which long ones are looked over."""
    valid = all_valid()
    valid[40:90, 63] = False
    x = ground_of(valid).grid.transform * (63.5, 0.0)
    holes = find_holes(ground_of(valid), line((x[0] - length_m / 2, 0.3), (x[0] + length_m / 2, 0.3)))
    assert holes.width_m == pytest.approx([CELL_M], abs=1e-6)
    assert (holes.from_m[0] + holes.to_m[0]) / 2 == pytest.approx(length_m / 2, abs=1e-6)


def test_along_a_diagonal_a_hole_is_as_wide_as_its_cells_are_there() -> None:
    valid = all_valid()
    valid[60:70, 60:70] = False
    ground = ground_of(valid)
    x, y = ground.grid.transform * (65.0, 65.0)
    way = 15.0 * np.array([1.0, 1.0])
    holes = find_holes(ground, line((x - way[0], y - way[1]), (x + way[0], y + way[1])))
    assert holes.width_m == pytest.approx([10 * CELL_M * np.sqrt(2.0)], abs=1e-6)


def test_a_row_that_only_brushes_a_missing_cell_has_a_hole_of_no_width() -> None:
    valid = all_valid()
    valid[64, 64] = False
    ground = ground_of(valid)
    # A corner of the ground that asks for the cell, cut off 7 cm long.
    x, y = ground.grid.transform * (63.5, 63.5)
    holes = find_holes(ground, line((x - 10.0 + 0.05, y - 10.0), (x + 10.0 + 0.05, y + 10.0)))
    assert len(holes) == 1
    assert 0.01 < holes.to_m[0] - holes.from_m[0] < 0.2
    assert holes.width_m[0] == 0.0


def test_beside_missing_cells_there_is_no_ground_either() -> None:
    """A row 0.3 cells outside of 40 missing ones: 41 cells from known centre to known centre, less two."""
    valid = all_valid()
    valid[64:70, 44:84] = False
    ground = ground_of(valid)
    x, y = ground.grid.transform * (64.0, 63.7)
    holes = find_holes(ground, line((x - 20.0, y), (x + 20.0, y)))
    assert holes.width_m == pytest.approx([39 * CELL_M], abs=1e-6)


def test_a_hole_at_a_rows_end_has_one_side_only() -> None:
    valid = all_valid()
    valid[:, 100:] = False
    valid[:, :30] = False
    holes = find_holes(ground_of(valid), line((-25.0, 0.0), (25.0, 1.0)))
    assert holes.is_closed.tolist() == [False, False]
    assert np.isnan(holes.from_ground_m).tolist() == [True, False]
    assert np.isnan(holes.to_ground_m).tolist() == [False, True]


def test_off_the_grid_there_is_a_hole() -> None:
    holes = find_holes(ground_of(all_valid()), line((0.0, 0.0), (50.0, 0.0)))
    assert len(holes) == 1
    assert holes.from_m[0] == pytest.approx(SIDE * CELL_M / 2 + 0.087 - CELL_M / 2, abs=1e-6)


def test_without_holes_there_are_none() -> None:
    assert len(find_holes(ground_of(all_valid()), line((-25.0, 0.0), (25.0, 9.0)))) == 0


@settings(max_examples=60, deadline=None)
@given(seed=st.integers(0, 10**6), turn=st.floats(0.0, 6.3), bent=st.booleans())
def test_between_holes_there_is_ground_and_in_them_none(seed: int, turn: float, bent: bool) -> None:  # noqa: FBT001
    """Against the raster itself, asked every 2 mm."""
    rng = np.random.default_rng(seed)
    ground = ground_of(random_mask(rng))
    along = np.linspace(-25.0, 25.0, 41 if bent else 2)
    side = 3.0 * np.sin(along / 9.0) if bent else 0.0 * along
    paths = Paths.from_lines(
        [
            np.column_stack(
                [
                    along * np.cos(turn) - (side + off) * np.sin(turn),
                    along * np.sin(turn) + (side + off) * np.cos(turn),
                ]
            )
            for off in (-4.0, 0.0, 2.5)
        ]
    )
    holes = find_holes(ground, paths)
    for path in range(3):
        station = np.arange(0.0, paths.length_m[path], 0.002)
        known = np.isfinite(ground.height(paths.place(np.full(len(station), path), station)))
        mine = holes.only(holes.path == path)
        inside = ((station[:, None] > mine.from_m + 1e-5) & (station[:, None] < mine.to_m - 1e-5)).any(axis=1)
        outside = ((station[:, None] < mine.from_m - 1e-5) | (station[:, None] > mine.to_m + 1e-5)).all(axis=1)
        assert known[outside].all()
        # A hair of ground between two missing cells is none.
        assert known[inside].sum() <= 1 + len(mine)
    closed = holes.only(holes.is_closed)
    row, column = (part - 0.5 for part in ground.cells(paths.place(closed.path, closed.from_m))[::-1])
    assert np.isfinite(closed.from_ground_m).all()
    np.testing.assert_allclose(closed.from_ground_m, 300.0 + 0.1 * (column + 0.5) - 0.07 * (row + 0.5), atol=1e-5)


@settings(max_examples=60, deadline=None)
@given(seed=st.integers(0, 10**6), turn=st.floats(0.0, 6.3), smoothing=st.sampled_from([0.0, 0.3, 1.0, 4.0]))
def test_on_a_plane_a_bridged_row_is_the_plane(seed: int, turn: float, smoothing: float) -> None:
    """A straight bridge from known ground to known ground misses a plane by nothing, wherever one asks."""
    rng = np.random.default_rng(seed)
    valid = random_mask(rng)
    ground, whole = ground_of(valid, smoothing_m=smoothing), ground_of(all_valid(), smoothing_m=smoothing)
    way = np.array([np.cos(turn), np.sin(turn)])
    off = np.array([-3.0, 0.4, 5.0])[:, None] * np.array([-way[1], way[0]])
    paths = Paths.straight(off - 22.0 * way, off + 22.0 * way)
    holes = holes_along(ground, paths)
    row = np.repeat(np.arange(3), 400)
    station = np.tile(np.linspace(0.0, 44.0, 400), 3)
    closed = np.bincount(holes.path[~holes.is_closed], minlength=3) == 0
    land = RowGround(ground, paths, holes.only(holes.is_closed))
    place, height = land.stand(row, station)
    expected = whole.height_along(place, paths.heading(row, station))
    on = closed[row]
    np.testing.assert_allclose(height[on], expected[on], atol=1e-6)
    # Where nothing is missing nothing is changed, to the last bit.
    plain = ground.height_along(place, paths.heading(row, station))
    known = np.isfinite(plain)
    np.testing.assert_array_equal(height[known], plain[known])
    np.testing.assert_array_equal(np.isnan(land.bridged_m(row, station))[on], known[on])


def test_a_bridge_runs_straight_from_edge_to_edge() -> None:
    """Ground 300 m high, and 302 m beyond a hole of 4 m: half-way over it lies 301 m, a quarter 300.5 m."""
    valid = all_valid()
    valid[:, 60:68] = False
    heights = np.where(np.arange(SIDE) < 64, 300.0, 302.0) * np.ones((SIDE, 1))
    ground = ground_of(valid, heights)
    paths = line((-25.0, 0.0), (25.0, 0.0))
    holes = holes_along(ground, paths)
    land = RowGround(ground, paths, holes)
    at = holes.from_m[0] + np.array([0.0, 0.25, 0.5, 1.0]) * (holes.to_m - holes.from_m)[0]
    zero = np.zeros(4, dtype=np.int64)
    np.testing.assert_allclose(land.stand(zero, at)[1], [300.0, 300.5, 301.0, 302.0], atol=1e-5)
    assert land.bridged_m(zero, at)[1:3] == pytest.approx(4.0)
    assert np.isnan(RowGround(ground, paths).stand(zero, at)[1][1:3]).all()


def test_a_height_is_made_from_what_it_says() -> None:
    """Against the raster: known heights at the given distances, times their shares."""
    rng = np.random.default_rng(5)
    valid = random_mask(rng, 25)
    ground = ground_of(valid, 300.0 + rng.normal(0.0, 0.5, valid.shape), smoothing_m=2.0)
    paths = Paths.straight(
        np.array([[-25.0, y] for y in (-8.0, 0.0, 8.0)]), np.array([[25.0, y] for y in (-7.0, 3.0, 8.0)])
    )
    holes = holes_along(ground, paths)
    land = RowGround(ground, paths, holes.only(holes.is_closed))
    row, station = np.repeat([0, 1, 2], 200), np.tile(np.linspace(2.0, 48.0, 200), 3)
    over = np.isfinite(land.bridged_m(row, station))
    assert over.sum() > 40
    made = land.made_from(row[over], station[over])
    np.testing.assert_allclose(made.share.sum(axis=1), 1.0, atol=1e-12)
    assert (made.share >= 0.0).all()
    # A hair outside the edges, where the raster has a height.
    third = made.offset_m.shape[1] // 3
    nudge_to = station[over, None] + made.offset_m + np.repeat([0.0, -1e-5, 1e-5], third)
    place = paths.place(np.broadcast_to(row[over, None], nudge_to.shape), nudge_to)
    raw = np.where(made.share > 0.0, np.nan_to_num(ground.height(place), nan=1e9), 0.0)
    np.testing.assert_allclose((raw * made.share).sum(axis=1), land.stand(row, station)[1][over], atol=1e-3)


def test_a_place_beside_a_curved_row_takes_the_rows_own_ground() -> None:
    """The chord of a bend touches a missing cell that the row itself passes by at a metre."""
    valid = all_valid()
    ground = ground_of(valid)
    angle = np.linspace(-0.5, 0.5, 200)
    bend = Paths.from_lines([np.column_stack([20.0 * np.sin(angle), 20.0 * np.cos(angle) - 20.0])])
    chord_y = 20.0 * np.cos(0.25) - 20.0
    column, row = ground.cells(PlaneXY(np.array([0.0]), np.array([chord_y - 0.1])))
    valid[int(row[0]), int(column[0])] = False
    ground = ground_of(valid)
    assert len(find_holes(ground, bend)) == 0
    land = RowGround(ground, bend)
    chord = PlaneXY(np.array([0.0]), np.array([chord_y]))
    beside = land.height_beside(np.array([0]), bend.length_m / 2.0, chord, (np.array([1.0]), np.array([0.0])))
    np.testing.assert_allclose(beside, land.stand(np.array([0]), bend.length_m / 2.0)[1], atol=1e-9)


def test_an_end_post_averages_ground_beyond_the_row() -> None:
    """A hole 0.3 m beyond the row's end is in the end post's average of 1 m, and has no far side there."""
    valid = all_valid()
    ground = ground_of(valid, smoothing_m=1.0)
    column, _ = ground.cells(PlaneXY(np.array([25.0 + 0.3]), np.array([0.0])))
    valid[:, int(np.ceil(column[0] + 0.5)) :] = False
    paths = line((-25.0, 0.0), (25.0, 0.0))
    holes = holes_along(ground_of(valid, smoothing_m=1.0), paths)
    assert holes.is_closed.tolist() == [False]
    assert holes.from_m[0] > 50.0
    assert len(holes_along(ground_of(valid, smoothing_m=0.0), paths)) == 0


def test_lines_left_out_take_their_holes_with_them() -> None:
    holes = Holes(np.array([0, 2, 2, 3]), *np.arange(20.0).reshape(5, 4))
    kept = holes.of_paths(np.array([True, False, True, False]))
    assert kept.path.tolist() == [0, 1, 1]
    assert kept.from_m.tolist() == [0.0, 1.0, 2.0]
