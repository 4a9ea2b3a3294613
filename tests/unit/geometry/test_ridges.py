"""Ridges at the rows' spacing are found where they are, and nothing else is taken for them."""

from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter
from scipy.signal import periodogram
from wirerun.geometry.ridges import Ridges, find_ridges

Grid = NDArray[np.float64]


def metres(cell_m: float, wide_m: float = 105.0, high_m: float = 80.0) -> tuple[Grid, Grid]:
    """To the right and down."""
    row, column = np.mgrid[0 : int(high_m / cell_m), 0 : int(wide_m / cell_m)]
    return (column + 0.5) * cell_m, (row + 0.5) * cell_m


def across(x: Grid, y: Grid, angle_deg: float) -> Grid:
    angle = np.radians(angle_deg)
    return np.asarray(x * np.cos(angle) + y * np.sin(angle))


def hill(x: Grid, y: Grid) -> Grid:
    return np.asarray(300.0 + 0.25 * x - 0.1 * y + 1.5 * np.sin(x / 14.0) * np.cos(y / 19.0))


def noise(shape: tuple[int, ...], cell_m: float, sigma_m: float, *, white: float = 0.0) -> Grid:
    """Gaussian errors whose correlation falls to 5 % at 3 m, and white ones."""
    random = np.random.default_rng(4)
    made = gaussian_filter(random.normal(size=shape), 1.22 / np.sqrt(2.0) / cell_m, mode="wrap")
    return np.asarray(sigma_m * made / made.std() + white * random.normal(size=shape))


def find(heights: Grid, cell_m: float, spacing_m: float) -> Ridges | None:
    every = np.ones(heights.shape, dtype=np.bool_)
    return find_ridges(heights.astype(np.float32), every, every, (cell_m, cell_m), spacing_m)


@pytest.mark.parametrize("spacing_m", [1.8, 2.4, 3.5])
@pytest.mark.parametrize("height_m", [0.25, 0.5, 1.0])
@pytest.mark.parametrize("share", [0.08, 0.21, 1.0 / 3.0])
@pytest.mark.parametrize("angle_deg", [0.0, 28.0, 107.0])
def test_waves(spacing_m: float, height_m: float, share: float, angle_deg: float) -> None:
    cell_m = share * spacing_m
    x, y = metres(cell_m)
    wave = height_m / 2.0 * np.cos(2.0 * np.pi * across(x, y, angle_deg) / spacing_m)
    found = find(hill(x, y) + noise(x.shape, cell_m, 0.03) + wave, cell_m, spacing_m)
    assert found is not None
    assert found.height_m == pytest.approx(height_m, rel=0.06)
    assert found.spacing_m == pytest.approx(spacing_m, rel=0.01)
    assert abs(found.along[0] * np.cos(np.radians(angle_deg)) + found.along[1] * np.sin(np.radians(angle_deg))) < 0.01
    assert np.hypot(*found.along) == pytest.approx(1.0)
    assert found.share > 0.9
    assert found.coherence > 0.98


def test_ridges_along_a_line_of_cells_are_the_same_across_and_down() -> None:
    """A raster and the same one mirrored at its diagonal, with so much noise that some tiles have none: as many."""
    x, y = metres(0.4, 96.0, 96.0)
    heights = hill(x, y) + 0.2 * np.cos(2.0 * np.pi * x / 2.4) + noise(x.shape, 0.4, 0.001, white=0.5)
    across_it, down_it = find(heights, 0.4, 2.4), find(heights.T, 0.4, 2.4)
    assert across_it is not None
    assert down_it is not None
    assert down_it.height_m == pytest.approx(across_it.height_m, rel=1e-5)
    assert down_it.spacing_m == pytest.approx(across_it.spacing_m, rel=1e-5)
    assert down_it.share == across_it.share < 1.0
    assert np.abs(down_it.along) == pytest.approx(np.abs(across_it.along)[::-1], abs=1e-5)


def test_height_is_that_of_a_periodogram() -> None:
    """Against scipy.signal.periodogram of lines square to the ridges, canopies of 0.8 m by 1.1 m at 2.4 m.

    Its spectrum of peaks ("spectrum" scaling) is A^2/2 at the wave of a whole number of periods; crest over trough is
    twice A.
    """
    cell_m, spacing_m = 0.2, 2.4
    x, y = metres(cell_m, 96.0, 80.0)
    canopy = np.where(np.abs((x / spacing_m) % 1.0 - 0.5) * spacing_m < 0.4, 1.1, 0.0)
    frequency, power = periodogram(canopy, fs=1.0 / cell_m, axis=1, scaling="spectrum")
    at = int(np.argmin(np.abs(frequency - 1.0 / spacing_m)))
    wanted = 2.0 * np.sqrt(2.0 * power[:, at].mean())
    found = find(hill(x, y) + canopy, cell_m, spacing_m)
    assert found is not None
    assert found.height_m == pytest.approx(wanted, rel=0.05)
    # A hand's check: the first term of a pulse train, 4/pi h sin(pi w/s).
    assert wanted == pytest.approx(4.0 / np.pi * 1.1 * np.sin(np.pi * 0.8 / spacing_m), rel=0.02)


def test_curved_and_gappy_rows() -> None:
    cell_m, spacing_m = 0.5, 2.4
    x, y = metres(cell_m)
    bow = np.hypot(x - 50.0, y + 150.0)
    wave = 0.25 * np.cos(2.0 * np.pi * bow / spacing_m)
    wave[:, 60:70] = 0.0
    assert find(hill(x, y) + wave, cell_m, spacing_m) is not None


def test_part_of_a_block_and_holes() -> None:
    cell_m, spacing_m = 0.5, 2.4
    x, y = metres(cell_m)
    wave = np.where(x < 60.0, 0.2, 0.0) * np.cos(2.0 * np.pi * across(x, y, 30.0) / spacing_m)
    heights = hill(x, y) + wave
    valid = np.random.default_rng(6).random(x.shape) > 0.02
    heights[~valid] = 0.0
    found = find_ridges(heights, valid, valid, (cell_m, cell_m), spacing_m)
    assert found is not None
    assert 0.4 < found.share < 0.75
    assert found.height_m == pytest.approx(0.4, rel=0.1)
    east = valid & (x > 65.0)
    assert find_ridges(heights, valid, east, (cell_m, cell_m), spacing_m) is None


@pytest.mark.parametrize("bearing_deg", [0.0, 20.0, 45.0, 62.0])
def test_a_narrow_block(bearing_deg: float) -> None:
    """Nine spacings wide, at any angle to the raster."""
    cell_m, spacing_m = 0.5, 2.4
    x, y = metres(cell_m)
    inside = np.abs(across(x - 52.0, y - 40.0, bearing_deg)) < 4.5 * spacing_m
    wave = 0.15 * np.cos(2.0 * np.pi * across(x, y, 30.0) / spacing_m)
    every = np.ones(x.shape, dtype=np.bool_)
    assert find_ridges(hill(x, y) + wave, every, inside, (cell_m, cell_m), spacing_m) is not None


def test_cells_that_are_no_squares() -> None:
    spacing_m, sides = 2.4, (0.4, 0.6)
    row, column = np.mgrid[0:140, 0:260]
    x, y = column * sides[0], row * sides[1]
    wave = 0.2 * np.cos(2.0 * np.pi * across(x, y, 40.0) / spacing_m)
    every = np.ones(x.shape, dtype=np.bool_)
    found = find_ridges(hill(x, y) + wave, every, every, sides, spacing_m)
    assert found is not None
    assert found.spacing_m == pytest.approx(spacing_m, rel=0.01)
    assert abs(found.along[0] * np.cos(np.radians(40.0)) + found.along[1] * np.sin(np.radians(40.0))) < 0.01


GOOD: dict[str, Callable[[Grid, Grid], Grid]] = {
    "plane": lambda x, y: 300.0 + 0.2 * x - 0.1 * y,
    "level": lambda x, _: 300.0 + 0.0 * x,
    "hill": hill,
    "gully": lambda x, y: hill(x, y) - 2.0 * np.exp(-(((x - 0.8 * y - 10.0) / 1.5) ** 2)),
    "one wall": lambda x, y: hill(x, y) + np.where(across(x, y, 33.0) > 45.0, 1.2, 0.0),
    "low waves": lambda x, y: hill(x, y) + 0.03 * np.cos(2.0 * np.pi * across(x, y, 28.0) / 2.4),
}


@pytest.mark.parametrize("name", GOOD)
@pytest.mark.parametrize("sigma_m", [0.0, 0.01, 0.03, 0.06])
@pytest.mark.parametrize("cell_m", [0.25, 0.5])
def test_good_ground(name: str, sigma_m: float, cell_m: float) -> None:
    x, y = metres(cell_m)
    heights = GOOD[name](x, y) + (noise(x.shape, cell_m, sigma_m, white=0.02) if sigma_m else 0.0)
    for spacing_m in (1.8, 2.4, 3.5):
        assert find(heights, cell_m, spacing_m) is None


@pytest.mark.parametrize("apart_m", [4.0, 4.8, 5.0, 6.0, 7.2, 10.0, 12.0, 20.0])
@pytest.mark.parametrize("wall_m", [0.6, 1.2])
@pytest.mark.parametrize("angle_deg", [0.0, 30.0])
def test_terraces_of_other_widths(apart_m: float, wall_m: float, angle_deg: float) -> None:
    """Their overtones fall on the rows' spacing: the second of 4.8 m, the third of 7.2 m."""
    x, y = metres(0.5)
    heights = hill(x, y) + wall_m * np.floor(across(x, y, angle_deg) / apart_m)
    assert find(heights, 0.5, 2.4) is None


@pytest.mark.parametrize("apart_m", [1.9, 3.0])
def test_ridges_of_another_spacing(apart_m: float) -> None:
    x, y = metres(0.5)
    assert find(hill(x, y) + 0.3 * np.cos(2.0 * np.pi * across(x, y, 28.0) / apart_m), 0.5, 2.4) is None


def test_ridges_in_all_directions_are_none_of_rows() -> None:
    """Bumps of the right size without a direction."""
    x, y = metres(0.5)
    random = np.random.default_rng(8).normal(size=x.shape)
    bumps = gaussian_filter(random, 0.9) - gaussian_filter(random, 1.4)
    assert find(hill(x, y) + 0.15 * bumps / bumps.std(), 0.5, 2.4) is None


@pytest.mark.parametrize("long", [1.2, 1.6, 2.0, 2.4])
def test_bumps_that_are_longer_one_way_are_none_of_rows(long: float) -> None:
    """Their tiles agree on a direction, but not on a spacing."""
    x, y = metres(0.5)
    random = np.random.default_rng(8).normal(size=x.shape)
    bumps = gaussian_filter(random, (long, 0.9)) - gaussian_filter(random, (long, 1.4))
    assert find(hill(x, y) + 0.2 * bumps / bumps.std(), 0.5, 2.4) is None


def test_a_few_tiles_that_agree_by_chance_are_no_rows() -> None:
    """Seven of these small blocks would have rows, did not each tile's wave have to stand out of the rest."""
    x, y = metres(0.5, 30.0, 30.0)
    for seed in range(200):
        random = np.random.default_rng(seed).normal(size=x.shape)
        bumps = gaussian_filter(random, 0.9) - gaussian_filter(random, 1.4)
        assert find(hill(x, y) + 0.2 * bumps / bumps.std(), 0.5, 2.4) is None


def test_ridges_of_many_directions_are_none_of_rows() -> None:
    x, y = metres(0.5)
    patch = (x // 35.0 + y // 35.0) % 2.0
    wave = np.where(patch > 0.0, np.cos(2.0 * np.pi * x / 2.4), np.cos(2.0 * np.pi * y / 2.4))
    assert find(hill(x, y) + 0.3 * wave, 0.5, 2.4) is None


def test_cells_too_coarse_to_tell() -> None:
    x, y = metres(0.9)
    assert find(hill(x, y) + 0.3 * np.cos(2.0 * np.pi * x / 2.4), 0.9, 2.4) is None


def test_a_block_too_small_to_tell() -> None:
    x, y = metres(0.5, 18.0, 18.0)
    assert find(hill(x, y) + 0.3 * np.cos(2.0 * np.pi * x / 2.4), 0.5, 2.4) is None
