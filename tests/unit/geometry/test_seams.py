"""Straight steps are found, with their place and height; slopes, waves, berms and terraces are none."""

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter
from wirerun.geometry.seams import find_seam, seam_limit_m

FloatArray = NDArray[np.float64]
SHAPE = (400, 320)


def hillside(seed: int = 3) -> FloatArray:
    """A slope of 30 % with folds, and noise of 3 cm that is alike over a metre."""
    row, column = np.mgrid[0 : SHAPE[0], 0 : SHAPE[1]] * 0.5
    smooth = 300.0 + 0.3 * column - 0.1 * row + 2.0 * np.sin(column / 20.0 + row / 35.0)
    noise = gaussian_filter(np.random.default_rng(seed).standard_normal(SHAPE), 1.5)
    ground: FloatArray = smooth + 0.03 * noise / noise.std() + np.random.default_rng(seed + 1).normal(0.0, 0.01, SHAPE)
    return ground


EVERYWHERE = np.ones(SHAPE, dtype=bool)


@pytest.mark.parametrize("step_m", [0.08, -0.12, 1.5])
@pytest.mark.parametrize("turned", [False, True])
def test_a_step_is_found_where_it_is(step_m: float, *, turned: bool) -> None:
    ground = hillside()
    ground[:, 131:] += step_m
    looked = EVERYWHERE.copy()
    looked[:90, :200] = False
    ground, looked = (ground.T, looked.T) if turned else (ground, looked)
    seam = find_seam(ground, looked, seam_limit_m(0.025, 0.5))
    assert seam is not None
    assert (seam.along_columns, seam.at) == (not turned, 131)
    assert seam.step_m == pytest.approx(step_m, abs=0.01)
    assert (seam.start, seam.stop) == (64, 384)


def test_a_step_over_half_the_ground_is_enough() -> None:
    ground = hillside()
    # It grows from nothing over 40 m, so that there is no step across it.
    ground[:, 131:] += 0.15 * np.clip((np.arange(SHAPE[0])[:, None] - 180) / 60.0, 0.0, 1.0)
    seam = find_seam(ground, EVERYWHERE, 0.05)
    assert seam is not None
    assert seam.at == 131
    assert (seam.start, seam.stop) == (192, 384)


@pytest.mark.parametrize("seed", range(5))
def test_ground_has_none(seed: int) -> None:
    ground = hillside(seed)
    assert find_seam(ground, EVERYWHERE, 0.05) is None
    # Berms of 15 cm along the grid, every 2.5 m, with their crests within two cells.
    berms = ground + 0.15 * (np.arange(SHAPE[1]) % 5 < 2)
    assert find_seam(berms, EVERYWHERE, 0.05) is None
    # Cells of 1 m, each written as four of half.
    coarse = np.kron(hillside(seed)[::2, ::2], np.ones((2, 2)))
    assert find_seam(coarse, EVERYWHERE, 0.05) is None
    assert find_seam(ground, EVERYWHERE & False, 0.05) is None


def test_the_limit() -> None:
    assert seam_limit_m(0.0) == 0.05
    assert seam_limit_m(0.1) == 0.2
    assert seam_limit_m(0.025, 1.0) == 0.1
