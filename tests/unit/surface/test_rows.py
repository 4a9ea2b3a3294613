"""Rows are found where they stand: straight, curved, with a cover crop between them, with gaps."""

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter
from wirerun.surface.block_canopy import UNKNOWN_CM, BlockCanopy, stature_of
from wirerun.surface.canopy import canopy_cm, lift_of_block, lift_of_rows
from wirerun.surface.row_lines import FoundRow, trace_rows
from wirerun.surface.row_waves import find_wave

from tests.unit.surface.scenes import CELL_M, vineyard

FloatArray = NDArray[np.float64]
SIDE_M = 2 * CELL_M
RANGE = (1.2, 4.2)


def joined(values: FloatArray) -> FloatArray:
    rows, columns = values.shape[0] // 2, values.shape[1] // 2
    return np.asarray(values.reshape(rows, 2, columns, 2).mean(axis=(1, 3)))


def standing(canopy_m: FloatArray, inside: NDArray[np.bool_], lift: float = 1.0) -> BlockCanopy:
    """Plants of a block, as a survey keeps them."""
    return BlockCanopy(np.clip(np.rint(100.0 * canopy_m), 0.0, 250.0).astype(np.uint8), inside, lift)


def offsets(rows: list[FoundRow], row: FloatArray, spacing_m: float) -> FloatArray:
    """How far the found lines are off the true rows [m]."""
    at = np.concatenate([found.cells for found in rows])
    column, line = np.round(2.0 * at + 0.5).astype(int).T
    there = row[line.clip(0, row.shape[0] - 1), column.clip(0, row.shape[1] - 1)]
    return np.asarray(np.abs(there - np.round(there)) * spacing_m)


def test_how_much_of_a_vine_stands_in_a_cell() -> None:
    """Grass of 0.2 m is none, and a tree is no more than a vine of 1.5 m."""
    assert stature_of(np.array([0.0, 0.2, 0.21, 1.0, 1.5, 9.0])).tolist() == [0.0, 0.0, 0.21, 1.0, 1.5, 1.5]


def test_straight_rows() -> None:
    scene = vineyard(60.0, 60.0)
    inside = joined(scene.planted.astype(float)) > 0.5
    canopy = joined(scene.surface_m - scene.ground_m)
    wave = find_wave(standing(canopy, inside), SIDE_M, RANGE)
    assert wave is not None
    assert wave.straight
    assert wave.turn_deg == 0.0
    assert wave.spacing_m == pytest.approx(2.4, abs=0.003)
    bearing = np.degrees(np.arctan2(wave.along[0], -wave.along[1])) % 180.0
    assert bearing == pytest.approx(62.0, abs=0.05)
    rows = trace_rows(standing(canopy, inside), SIDE_M, wave)
    length = sum(row.length_m for row in rows)
    assert length == pytest.approx(scene.planted.sum() * CELL_M**2 / 2.4, rel=0.03)
    off = offsets(rows, scene.row, 2.4)
    # Read off the true rows at whole cells of 0.1 m: the limit allows for that.
    assert np.median(off) < 0.05
    assert np.quantile(off, 0.95) < 0.1
    assert min(row.confidence for row in rows) > 0.8
    assert [row.number for row in rows] == sorted(row.number for row in rows)


def test_curved_rows() -> None:
    scene = vineyard(60.0, 60.0, radius_m=90.0)
    inside = joined(scene.planted.astype(float)) > 0.5
    canopy = joined(scene.surface_m - scene.ground_m)
    wave = find_wave(standing(canopy, inside), SIDE_M, RANGE)
    assert wave is not None
    assert not wave.straight
    assert wave.spacing_m == pytest.approx(2.4, abs=0.01)
    # Rows lie round a place 5 m west and 90 m south of the corner: what of their turn lies between 5 and 95 %.
    down, right = np.nonzero(scene.planted)
    turn = np.degrees(np.arctan2(60.0 - (down + 0.5) * CELL_M + 90.0, (right + 0.5) * CELL_M + 5.0))
    assert wave.turn_deg == pytest.approx(float(np.ptp(np.quantile(turn, [0.05, 0.95]))), abs=1.0)
    rows = trace_rows(standing(canopy, inside), SIDE_M, wave)
    assert np.quantile(offsets(rows, scene.row, 2.4), 0.95) < 0.1


def test_what_nobody_saw_says_nothing_of_the_rows() -> None:
    """Most of the block unseen: spacing, turn and height are those of the rest, and lines end there."""
    scene = vineyard(60.0, 60.0, bearing_deg=90.0)
    inside = joined(scene.planted.astype(float)) > 0.5
    seen = standing(joined(scene.surface_m - scene.ground_m), inside).height_cm
    seen[:, 150:] = UNKNOWN_CM
    part = BlockCanopy(seen, inside)
    whole = standing(joined(scene.surface_m - scene.ground_m)[:, :150], inside[:, :150])
    assert lift_of_block(part) == lift_of_block(whole)
    wave = find_wave(part, SIDE_M, RANGE)
    assert wave is not None
    assert wave.straight
    assert wave.spacing_m == pytest.approx(2.4, abs=0.005)
    rows = trace_rows(part, SIDE_M, wave)
    assert len(rows) > 15
    assert all(row.cut for row in rows)
    assert max(row.cells[:, 0].max() for row in rows) < 152.0
    # Bare ground beyond is seen: there rows end by themselves.
    seen[:, 150:] = 0
    assert not any(row.cut for row in trace_rows(BlockCanopy(seen, inside), SIDE_M, wave))


def test_a_cover_crop_in_every_other_alley_is_no_row() -> None:
    scene = vineyard(60.0, 60.0, cover_m=0.6)
    inside = joined(scene.planted.astype(float)) > 0.5
    canopy = joined(scene.surface_m - scene.ground_m)
    wave = find_wave(standing(canopy, inside), SIDE_M, RANGE)
    assert wave is not None
    assert wave.spacing_m == pytest.approx(2.4, abs=0.01)
    rows = trace_rows(standing(canopy, inside), SIDE_M, wave)
    assert np.quantile(offsets(rows, scene.row, 2.4), 0.95) < 0.1


def test_gaps_are_bridged_and_ends_found() -> None:
    scene = vineyard(60.0, 60.0, bearing_deg=90.0)
    inside = joined(scene.planted.astype(float)) > 0.5
    canopy = joined(scene.surface_m - scene.ground_m)
    canopy[:, 100:125] = 0.0  # 5 m across all rows
    canopy[:, 230:] = 0.0  # nothing stands beyond
    wave = find_wave(standing(canopy, inside), SIDE_M, RANGE)
    assert wave is not None
    rows = trace_rows(standing(canopy, inside), SIDE_M, wave)
    assert len({row.number for row in rows}) == len(rows) > 15
    assert all(4.0 <= row.longest_gap_m <= 6.0 for row in rows)
    assert all(row.confidence < 0.95 for row in rows)
    ends = np.array([row.cells[:, 0].max() for row in rows]) * SIDE_M
    np.testing.assert_allclose(ends, 46.0, atol=0.7)
    canopy[:, 100:150] = 0.0  # 10 m: too wide to bridge
    assert len(trace_rows(standing(canopy, inside), SIDE_M, wave)) > 1.8 * len(rows)


def test_a_gap_with_vines_beside_it_is_no_track() -> None:
    """10 m are bridged in one row; 20 m are not, and 10 m through all rows are a track (above)."""
    scene = vineyard(60.0, 60.0, bearing_deg=90.0)
    inside = joined(scene.planted.astype(float)) > 0.5
    row = joined(scene.row)
    canopy = joined(scene.surface_m - scene.ground_m)
    wave = find_wave(standing(canopy, inside), SIDE_M, RANGE)
    assert wave is not None
    numbers = np.unique(np.round(row[inside]))
    middle = np.abs(row - numbers[len(numbers) // 2]) < 0.5
    column = np.indices(canopy.shape)[1]
    pieces = {}
    for cells in (50, 100):
        gone = np.where(middle & (column >= 100) & (column < 100 + cells), 0.0, canopy)
        found = trace_rows(standing(gone, inside), SIDE_M, wave)
        pieces[cells] = len(found) - len({one.number for one in found})
        if cells == 50:
            assert max(one.longest_gap_m for one in found) == pytest.approx(10.0, abs=1.0)
    assert pieces == {50: 0, 100: 1}


@pytest.mark.parametrize("seed", range(3))
def test_no_rows_where_there_are_none(seed: int) -> None:
    rng = np.random.default_rng(seed)
    bushes: FloatArray = np.where(rng.random((250, 250)) > 0.97, 1.0, 0.0)
    inside = np.ones(bushes.shape, dtype=bool)
    wave = find_wave(standing(bushes, inside), SIDE_M, RANGE)
    rows = [] if wave is None else trace_rows(standing(bushes, inside), SIDE_M, wave)
    assert sum(row.length_m for row in rows if row.confidence > 0.7) < 60.0
    assert find_wave(standing(np.zeros((250, 250)), inside), SIDE_M, RANGE) is None


def test_crowns_are_no_canopy() -> None:
    row, column = np.indices((200, 200))
    height = np.where(abs(row % 12 - 6) < 2, 1.2, 0.0)
    tree = np.hypot(row - 100, column - 100) < 12
    height[tree] = 5.0
    kept = canopy_cm(height, np.ones(height.shape, dtype=bool), SIDE_M, 1.2)
    assert kept[tree].max() == 0
    assert kept[6 + 12, 20] == 120
    assert kept.dtype == np.uint8


def test_low_rows_are_lifted_and_high_ones_are_not() -> None:
    """Arms of dormant vines, seen 0.15 m high; vines in leaf stay as they are."""
    scene = vineyard(60.0, 60.0)
    inside = joined(scene.planted.astype(float)) > 0.5
    leaves = joined(scene.surface_m - scene.ground_m)
    assert lift_of_block(standing(leaves, inside)) == 1.0
    arms = 0.12 * leaves
    low = find_wave(standing(arms, inside), SIDE_M, RANGE)
    assert low is None or not trace_rows(standing(arms, inside), SIDE_M, low)
    wave = find_wave(standing(arms, inside, lift_of_block(standing(arms, inside))), SIDE_M, RANGE)
    assert wave is not None
    assert wave.spacing_m == pytest.approx(2.4, abs=0.003)
    lift = lift_of_rows(standing(arms, inside), wave)
    assert 4.0 < lift < 6.0
    length = sum(row.length_m for row in trace_rows(standing(arms, inside, lift), SIDE_M, wave))
    assert length == pytest.approx(scene.planted.sum() * CELL_M**2 / 2.4, rel=0.04)


@pytest.mark.parametrize("seed", range(3))
def test_bare_ground_stays_bare_when_lifted(seed: int) -> None:
    rough: FloatArray = gaussian_filter(np.random.default_rng(seed).standard_normal((250, 250)), 1.5)
    bare = np.abs(0.03 * rough / rough.std())
    inside = np.ones(bare.shape, dtype=bool)
    assert find_wave(standing(bare, inside, lift_of_block(standing(bare, inside))), SIDE_M, RANGE) is None
