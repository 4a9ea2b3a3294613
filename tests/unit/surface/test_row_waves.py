"""The parts of a wave's search: the peak of a window, what a window counts, the first fit, the canopy less its mean."""

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter
from wirerun.surface import row_waves
from wirerun.surface.block_canopy import BlockCanopy

FloatArray = NDArray[np.float64]
# Behind an underscore: a block is looked at as a whole, and there one part hides another's fault.
picked, local_waves = row_waves._picked, row_waves._local_waves  # noqa: SLF001
fit_gradient, without_mean = row_waves._fit_gradient, row_waves._without_mean  # noqa: SLF001
CELL_M, BEARING = 0.2, np.radians(35.0)


def planted(height_cm: FloatArray | float, inside: NDArray[np.bool_]) -> BlockCanopy:
    """Rows 2.4 m apart whose plants are so high at their crests, and half of it in the alleys."""
    row, column = np.indices(inside.shape) * CELL_M
    crest = np.cos(2.0 * np.pi * (np.sin(BEARING) * column + np.cos(BEARING) * row) / 2.4)
    return BlockCanopy(np.rint(height_cm * (0.75 + 0.25 * crest)).astype(np.uint8), inside)


@pytest.mark.parametrize("bins", [(7.0, 4.0), (7.3, 4.0), (7.0, 4.4), (6.6, -3.7)])
def test_a_peak_between_two_bins(bins: tuple[float, float]) -> None:
    """A cosine under a Hann window: a parabola through three amplitudes finds it to a tenth of a bin."""
    size = 64
    hann = np.sin(np.pi * (np.arange(size) + 0.5) / size) ** 2
    down, right = np.indices((size, size))
    wave = np.cos(2.0 * np.pi * (bins[0] * right + bins[1] * down) / size + 0.4) * np.outer(hann, hann)
    frequency: FloatArray = np.fft.fftfreq(size).astype(np.float64)
    half = np.broadcast_to(frequency[None, :] > 0.0, (size, size))
    power = (np.abs(np.fft.fft2(wave)) ** 2)[None].astype(np.float32)
    found = picked(power, half, frequency)
    assert found is not None
    np.testing.assert_allclose(found[0][0] * size, bins, atol=0.1)
    assert found[1][0] == pytest.approx(power.max())
    assert picked(power, np.zeros((size, size), dtype=bool), frequency) is None


def test_a_window_counts_by_what_stands_there() -> None:
    """Plants of half the height make a window count half."""
    inside = np.ones((150, 400), dtype=bool)
    height = np.where(np.arange(400) < 200, 140.0, 70.0)
    found = local_waves(planted(height, inside), CELL_M, (1.2, 4.2))
    assert found is not None
    at, wave, weight = found
    high, low = at[:, 0] < 150.0, at[:, 0] > 250.0
    assert high.sum() >= 3
    assert low.sum() >= 3
    assert np.median(weight[low]) / np.median(weight[high]) == pytest.approx(0.5, abs=0.02)
    np.testing.assert_allclose(np.hypot(*wave.T), CELL_M / 2.4, rtol=0.02)
    np.testing.assert_allclose(np.abs(wave[:, 0] / wave[:, 1]), np.tan(BEARING), rtol=0.05)


def test_a_window_counts_by_how_much_of_it_lies_inside() -> None:
    """Half a window in the block: half the cells make half the amplitude, and the share inside halves it again."""
    inside = np.zeros((140, 300), dtype=bool)
    inside[:, :190] = True  # windows of 100 cells begin every 40: that at 140 has half its cells in the block
    found = local_waves(planted(140.0, inside), CELL_M, (1.2, 4.2))
    assert found is not None
    at, _, weight = found
    left = at[:, 0] - 49.5
    assert sorted(set(left)) == [0.0, 40.0, 80.0, 120.0]
    # By the Hann window's own sum: of one with 70 of 100 cells inside 0.70 + sin(2 pi 0.30) / (2 pi) are in it.
    summed = 0.70 + np.sin(2.0 * np.pi * 0.30) / (2.0 * np.pi)
    whole, cut = np.median(weight[left == 0.0]), np.median(weight[left == 120.0])
    assert cut / whole == pytest.approx(0.70 * summed, abs=0.05)


def test_the_first_fit_goes_with_most_windows() -> None:
    """A bent field of waves: what counts little and what is far off move it little."""
    at = np.stack(np.meshgrid(np.arange(0.0, 400.0, 40.0), np.arange(0.0, 400.0, 40.0)), axis=-1).reshape(-1, 2)
    centre, scale = np.array([180.0, 180.0]), 180.0
    powers = row_waves._powers(2)  # noqa: SLF001
    true = np.array([0.0, 9.0, 14.0, 0.6, -0.4, 0.3])
    u, v = ((at - centre) / scale).T
    i, j = powers.T
    wave = (
        np.column_stack(
            [
                (i * u[:, None] ** np.maximum(i - 1, 0) * v[:, None] ** j) @ true,
                (j * u[:, None] ** i * v[:, None] ** np.maximum(j - 1, 0)) @ true,
            ]
        )
        / scale
    )
    weight = np.ones(len(at))
    np.testing.assert_allclose(fit_gradient(at, wave, weight, powers, centre, scale), true, atol=2e-3)
    wild = wave.copy()
    wild[::9] *= 1.8
    np.testing.assert_allclose(fit_gradient(at, wild, weight, powers, centre, scale), true, atol=0.05)
    wild = wave.copy()
    wild[:60] *= 1.05
    weight[:60] = 0.01
    np.testing.assert_allclose(fit_gradient(at, wild, weight, powers, centre, scale), true, atol=0.05)


def test_the_canopy_less_its_mean_in_joined_cells() -> None:
    """Cells joined by two are their mean; what is taken off is the mean of the block's own cells round about."""
    draw = np.random.default_rng(4)
    inside = np.ones((60, 81), dtype=bool)
    inside[:, 50:] = False
    canopy = BlockCanopy(draw.integers(30, 150, (60, 81)).astype(np.uint8), inside)
    made, within = without_mean(canopy, 2, 3.0)
    assert made.shape == within.shape == (30, 40)
    assert within[:, :25].all()
    assert not within[:, 25:].any()
    stature = np.where(inside, canopy.height_cm / 100.0, 0.0)[:, :80].reshape(30, 2, 40, 2).mean(axis=(1, 3))
    share = inside[:, :80].reshape(30, 2, 40, 2).mean(axis=(1, 3))
    expected = stature - gaussian_filter(stature, 3.0) / np.maximum(gaussian_filter(share, 3.0), 1e-6)
    np.testing.assert_allclose(made[within], expected[within], atol=1e-5)
    assert (made[~within] == 0.0).all()
    # Plants of one height leave nothing, at the block's edge too.
    level, _ = without_mean(BlockCanopy(np.full((60, 81), 90, dtype=np.uint8), inside), 2, 3.0)
    np.testing.assert_allclose(level, 0.0, atol=1e-5)
