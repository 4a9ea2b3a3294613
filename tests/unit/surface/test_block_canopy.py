"""A block's plants in a byte a cell: what is looked up in them is what whole arrays would give."""

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter, map_coordinates
from wirerun.surface import block_canopy, row_waves
from wirerun.surface.block_canopy import BlockCanopy, presence_of, stature_of
from wirerun.surface.canopy import lift_of_block

from tests.unit.surface.scenes import CELL_M, vineyard


def some(seed: int = 1, lift: float = 1.0) -> BlockCanopy:
    """Plants of any height in a ragged block of 37 by 61 cells."""
    rng = np.random.default_rng(seed)
    inside = np.hypot(*(np.indices((37, 61)) - [[[18.0]], [[30.0]]])) < rng.uniform(15.0, 30.0, (37, 61))
    return BlockCanopy(rng.integers(0, 251, (37, 61), dtype=np.uint8), inside, lift)


@pytest.mark.parametrize("lift", [1.0, 2.5])
def test_between_cells_as_scipy_has_it(lift: float) -> None:
    """Against `map_coordinates`, order 1, on whole arrays; places beyond the cells and on their middles among them."""
    canopy = some(lift=lift)
    x, y = np.random.default_rng(2).uniform([[-3.0], [-3.0]], [[64.0], [40.0]], (2, 500))
    x[:4], y[:4] = [0.0, 60.0, 60.0, 12.0], [0.0, 36.0, 7.0, 36.0]
    heights = canopy.height_cm / 100.0 * lift
    for found, of in zip(canopy.sampled(x, y), (presence_of, stature_of), strict=True):
        whole = np.where(canopy.inside, of(heights), 0.0)
        np.testing.assert_allclose(found, map_coordinates(whole, [y, x], order=1, mode="constant"), atol=1e-12)


@pytest.mark.parametrize("step", [1, 2, 7, 5000])
def test_every_so_many_th_cell(step: int, monkeypatch: pytest.MonkeyPatch) -> None:
    canopy = some()
    rows, columns = np.nonzero(canopy.inside)
    for at_once in (61, 200, 1_000_000):
        monkeypatch.setattr(block_canopy, "_AT_ONCE", at_once)
        row, column = canopy.thinned(step)
        np.testing.assert_array_equal(row, rows[::step])
        np.testing.assert_array_equal(column, columns[::step])


def test_lift_is_the_quantile_that_numpy_has() -> None:
    canopy = some()
    low = BlockCanopy(canopy.height_cm // 8, canopy.inside)
    high = float(np.quantile(low.height_cm[low.inside] / 100.0, 0.95))
    assert lift_of_block(low) == pytest.approx(0.8 / high)
    assert lift_of_block(BlockCanopy(low.height_cm, np.zeros_like(low.inside))) == 1.0


def test_shapes_must_agree() -> None:
    with pytest.raises(ValueError, match="heights of shape"):
        BlockCanopy(np.zeros((3, 4), dtype=np.uint8), np.ones((4, 3), dtype=bool))


def test_a_gaussian_in_strips_is_that_of_the_whole(monkeypatch: pytest.MonkeyPatch) -> None:
    rng = np.random.default_rng(3)
    values: NDArray[np.complex128] = rng.standard_normal((300, 40)) + 1j * rng.standard_normal((300, 40))
    whole = gaussian_filter(values.real, 5.0) + 1j * gaussian_filter(values.imag, 5.0)
    for at_once in (1, 40 * 77, 1_000_000):
        monkeypatch.setattr(row_waves, "_AT_ONCE", at_once)
        made = row_waves._smoothed(lambda strip: values[strip], (300, 40), 5.0, 3)  # noqa: SLF001 - its promise
        np.testing.assert_array_equal(made, whole[::3, ::3])


def test_strips_change_no_row(monkeypatch: pytest.MonkeyPatch) -> None:
    scene = vineyard(40.0, 40.0)
    height = (scene.surface_m - scene.ground_m)[::2, ::2]
    canopy = BlockCanopy(np.clip(np.rint(100.0 * height), 0, 250).astype(np.uint8), scene.planted[::2, ::2])
    whole = row_waves.find_wave(canopy, 2.0 * CELL_M, (1.2, 4.2))
    assert whole is not None
    monkeypatch.setattr(row_waves, "_AT_ONCE", 2000)
    monkeypatch.setattr(block_canopy, "_AT_ONCE", 2000)
    cut = row_waves.find_wave(canopy, 2.0 * CELL_M, (1.2, 4.2))
    assert cut is not None
    np.testing.assert_allclose(cut.coefficients, whole.coefficients, rtol=1e-9, atol=1e-12)
    assert cut.spacing_m == whole.spacing_m
