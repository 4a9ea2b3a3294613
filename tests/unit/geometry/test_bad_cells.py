"""What is no ground is found where it is, and good ground passes."""

from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter, median_filter
from wirerun.geometry import bad_cells
from wirerun.geometry.bad_cells import cliffs, rounded_to, spikes, stray_zeros

Grid = NDArray[np.float64]
Floats = NDArray[np.float32] | NDArray[np.float64]
CELL_M = 0.5
SIDES = (CELL_M, CELL_M)
# Not square: swapped axes must show.
SHAPE = (170, 230)


def metres() -> tuple[Grid, Grid]:
    row, column = np.mgrid[0 : SHAPE[0], 0 : SHAPE[1]]
    return (column + 0.5) * CELL_M, (row + 0.5) * CELL_M


def everywhere(heights: Floats) -> NDArray[np.bool_]:
    return np.ones(heights.shape, dtype=np.bool_)


def noise(sigma_m: float, seed: int = 1) -> Grid:
    """Gaussian errors whose correlation falls to 5 % at 3 m: a length of 3 / sqrt(2 ln 20) = 1.22 m."""
    made = gaussian_filter(np.random.default_rng(seed).normal(size=SHAPE), 1.22 / np.sqrt(2.0) / CELL_M, mode="wrap")
    return np.asarray(sigma_m * made / made.std())


def plane() -> Grid:
    x, y = metres()
    return np.asarray(300.0 + 0.22 * x - 0.13 * y)


def gully() -> Grid:
    x, y = metres()
    return np.asarray(plane() - 2.0 * np.exp(-(((x - 0.8 * y - 10.0) / 2.0) ** 2)))


def wall(height_m: float, bearing_deg: float = 22.5, apart_m: float = 11.0, bench: float = 0.05) -> Grid:
    x, y = metres()
    angle = np.radians(bearing_deg)
    across = x * np.cos(angle) + y * np.sin(angle)
    return np.asarray(300.0 + height_m * np.floor(across / apart_m) + bench * x)


GOOD: dict[str, Callable[[], Grid]] = {
    "level": lambda: np.full(SHAPE, 300.0),
    "level at sea": lambda: np.zeros(SHAPE),
    "plane": plane,
    "plane in whole steps": lambda: 300.0 + np.round(0.1 * np.arange(SHAPE[1]), 3) + np.zeros(SHAPE),
    "noise of 1 cm": lambda: plane() + noise(0.01),
    "noise of 3 cm": lambda: plane() + noise(0.03),
    "noise of 6 cm": lambda: plane() + noise(0.06),
    "white noise": lambda: plane() + np.random.default_rng(2).normal(size=SHAPE) * 0.06,
    "centimetres": lambda: np.round(plane() + noise(0.03), 2),
    "gully": gully,
    "steps of 0.6 m": lambda: wall(0.6),
    "level steps of 0.6 m": lambda: wall(0.6, bench=0.0),
    "walls of 1.2 m": lambda: wall(1.2),
    "walls of 1.2 m with noise": lambda: wall(1.2, 45.0) + noise(0.03),
    "level walls of 1.2 m": lambda: wall(1.2, 0.0, bench=0.0),
    "walls of 3 m": lambda: wall(3.0),
    "a corner of walls": lambda: np.where((metres()[0] > 40) & (metres()[1] > 30), 1.2, 0.0) + plane() + noise(0.03),
    "steep": lambda: 300.0 + 1.2 * metres()[0],
    "mostly sea": lambda: np.maximum(0.4 * (metres()[0] - 90.0), 0.0),
    "down to the sea": lambda: np.maximum(0.4 * (metres()[0] - 30.0), 0.0),
}


@pytest.mark.parametrize("dtype", [np.float32, np.float64])
@pytest.mark.parametrize("name", GOOD)
def test_good_ground(name: str, dtype: type) -> None:
    heights: Floats = GOOD[name]().astype(dtype)
    every = everywhere(heights)
    assert stray_zeros(heights, every) is None
    assert cliffs(heights, every, SIDES) is None
    assert spikes(heights, every, every, SIDES) is None
    assert rounded_to(heights, every) is None


@pytest.mark.parametrize("base", ["plane", "noise of 3 cm", "gully", "walls of 1.2 m"])
def test_zeros_amid_ground(base: str) -> None:
    heights = GOOD[base]()
    heights[40:80, 61:101] = 0.0
    found = stray_zeros(heights, everywhere(heights))
    assert found is not None
    assert (found == (heights == 0.0)).all()
    only_west = everywhere(heights)
    only_west[:, 61:] = False
    assert stray_zeros(heights, only_west) is None


def test_zeros_of_ground_that_passes_zero_are_its_own() -> None:
    """Whole metres from 3 m below the sea to 20 above, as drained land has."""
    heights = np.round(0.2 * metres()[0] - 3.0)
    assert (heights == 0.0).sum() > 100
    assert stray_zeros(heights, everywhere(heights)) is None


def test_zeros_of_a_hollow_that_goes_down_to_zero_are_its_own() -> None:
    """A pit far below the rest, its bottom from 0 to 1 m, three cells of it at 0."""
    heights = plane()
    heights[50:60, 50:60] = np.linspace(0.1, 1.0, 100).reshape(10, 10)
    heights[55, 51:54] = 0.0
    assert stray_zeros(heights, everywhere(heights)) is None


@pytest.mark.parametrize("dtype", [np.float32, np.float64])
@pytest.mark.parametrize("turned", [False, True])
def test_a_cliff(turned: bool, dtype: type) -> None:  # noqa: FBT001
    """A drop of 12.5 m at x = 60.25 m, on a plane: over 3 m the plane adds 0.66 m."""
    x, y = metres()
    heights: Floats = (plane() + np.where((x > 60.2) & (y > 40.0), 12.5, 0.0)).astype(dtype)
    every = everywhere(heights)
    heights, every = (heights.T, every.T) if turned else (heights, every)
    found = cliffs(heights, every, SIDES)
    assert found is not None
    across, along = (found.row, found.column) if turned else (found.column, found.row)
    # On the western side the plane adds to the fall, on the northern side it takes from it.
    assert found.worst_m == pytest.approx(12.5 + 0.22 * 3.0, abs=1e-3)
    assert abs((across + 0.5) * CELL_M - 60.2) <= 1.6
    assert along * CELL_M > 39.0
    every[:, :] = True
    kept_out = every.T if turned else every
    kept_out[:, 118:122] = False
    kept_out[77:84, 118:] = False
    assert cliffs(heights, every, SIDES) is None


@pytest.mark.parametrize(("step_m", "fires"), [(9.9, False), (10.1, True)])
def test_the_limit_of_a_cliff(step_m: float, fires: bool) -> None:  # noqa: FBT001
    heights = 300.0 + np.where(metres()[0] > 60.0, step_m, 0.0)
    assert (cliffs(heights, everywhere(heights), SIDES) is not None) == fires


def test_large_cells_may_differ_by_more() -> None:
    """A slope of 100 % in cells of 30 m is none of 10 m in 3 m."""
    heights: Grid = 300.0 + 30.0 * np.arange(40.0) + np.zeros((30, 1))
    assert cliffs(heights, everywhere(heights), (30.0, 30.0)) is None
    assert cliffs(4.0 * heights, everywhere(heights), (30.0, 30.0)) is not None


@pytest.mark.parametrize("base", ["plane", "noise of 3 cm", "gully", "steps of 0.6 m"])
def test_spikes(base: str) -> None:
    """One cell, four and nine; the two that are too low are found, too. Against a plain median of seven by seven."""
    heights = GOOD[base]()
    true = heights.copy()
    heights[50, 190] -= 2.0
    heights[120:122, 40:42] += 1.4
    heights[20:23, 100:103] += 1.7
    every = everywhere(heights)
    found = spikes(heights, every, every, SIDES)
    assert found is not None
    assert found.cells == 1 + 4 + 9
    assert (found.column, found.row) == (190, 50)
    assert found.worst_m == pytest.approx(-2.0, abs=0.35)
    off = heights - median_filter(heights, 7)
    assert abs(off[50, 190]) > 1.5
    assert np.abs(heights - true).max() == pytest.approx(2.0)
    elsewhere = every.copy()
    elsewhere[50, 190] = False
    left = spikes(heights, every, elsewhere, SIDES)
    assert left is not None
    assert left.worst_m == pytest.approx(1.7, abs=0.35)


@pytest.mark.parametrize(("high_m", "fires"), [(4.0, False), (6.0, True)])
def test_a_knoll_between_large_cells_is_no_spike(high_m: float, fires: bool) -> None:  # noqa: FBT001
    """In cells of 10 m; at half the distance to its neighbours a knoll becomes a spike."""
    heights = plane()
    heights[50, 60] += high_m
    every = everywhere(heights)
    assert (spikes(heights, every, every, (10.0, 10.0)) is not None) == fires


def test_rough_ground_has_no_spikes() -> None:
    """Heights apart by 0.3 m from cell to cell: one in a thousand is off by 1 m, and no spike among its like."""
    heights = plane() + np.random.default_rng(5).normal(size=SHAPE) * 0.3
    every = everywhere(heights)
    assert spikes(heights, every, every, SIDES) is None


@pytest.mark.parametrize("dtype", [np.float32, np.float64])
@pytest.mark.parametrize("step_m", [1.0, 0.5, 0.3048, 0.2, 0.1, 0.05])
@pytest.mark.parametrize("base", ["plane", "noise of 3 cm", "gully"])
def test_rounded_heights(base: str, step_m: float, dtype: type) -> None:
    heights: Floats = (np.round(GOOD[base]() / step_m) * step_m).astype(dtype)
    found = rounded_to(heights, everywhere(heights))
    assert found == pytest.approx(step_m)
    # What the sentence says of it: uniform in a step. Half as much again where a plane beats with the step.
    off = heights - GOOD[base]()
    assert off.std() == pytest.approx(step_m / np.sqrt(12.0), rel=0.1)


def test_whole_feet_and_centimetres() -> None:
    feet = np.round((plane() + noise(0.03)) / 0.3048) * 0.3048
    assert rounded_to(feet.astype(np.float32), everywhere(feet), 0.3048) == pytest.approx(0.3048)
    for step in (0.01, 0.02):
        fine = np.round((plane() + noise(0.03)) / step) * step
        assert rounded_to(fine.astype(np.float32), everywhere(fine)) is None


@pytest.mark.parametrize("strip_cells", [1, 1000, 9973])
def test_strips_change_nothing(monkeypatch: pytest.MonkeyPatch, strip_cells: int) -> None:
    heights = gully() + np.where(metres()[1] > 60.0, 12.5, 0.0)
    heights[50, 190] -= 2.0
    heights[100:103, 40:42] += 1.4
    heights[10:20, 10:20] = 0.0
    every = everywhere(heights)
    zeros = stray_zeros(heights, every)
    assert zeros is not None
    whole = cliffs(heights, ~zeros, SIDES), spikes(heights, every, every, SIDES)
    monkeypatch.setattr(bad_cells, "_STRIP_CELLS", strip_cells)
    again = stray_zeros(heights, every)
    assert again is not None
    assert (again == zeros).all()
    assert (cliffs(heights, ~zeros, SIDES), spikes(heights, every, every, SIDES)) == whole


def test_nothing_to_look_at() -> None:
    for shape in ((1, 1), (1, 9), (9, 1), (4, 4)):
        heights, none, every = np.full(shape, 300.0), np.zeros(shape, bool), np.ones(shape, bool)
        for looked in (none, every):
            assert stray_zeros(heights, looked) is None
            assert cliffs(heights, looked, SIDES) is None
            assert spikes(heights, looked, looked, SIDES) is None
            assert rounded_to(heights, looked) is None


def test_heights_of_posts_that_are_whole_steps() -> None:
    true = 380.0 + 3.0 * np.sin(np.arange(60) / 7.0)
    for step in (1.0, 0.5, 0.1, 0.05):
        rounded = np.append(np.round(true / step) * step, np.nan)
        assert bad_cells.step_of(rounded) == pytest.approx(step)
        assert bad_cells.step_of(rounded[:9]) is None
    assert bad_cells.step_of(np.round(true, 2)) is None
    assert bad_cells.step_of(np.full(60, 380.0)) is None
