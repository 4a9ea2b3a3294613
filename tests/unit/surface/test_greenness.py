"""Greenness by hand, and what becomes of it before rows are looked for."""

import numpy as np
import pytest
from numpy.typing import NDArray
from wirerun.surface.block_canopy import UNKNOWN_CM
from wirerun.surface.greenness import green_canopy_cm, index_of, parting

FloatArray = NDArray[np.float64]


def test_indices_by_hand() -> None:
    """Excess green of (r, g, b) = (0.2, 0.5, 0.3) is 1.0 - 0.2 - 0.3; NDVI of 0.1 and 0.5 is 0.4 / 0.6."""
    bands = np.array([[[20.0, 0.0]], [[50.0, 0.0]], [[30.0, 0.0]]])
    index, known = index_of(bands)
    assert index[0, 0] == pytest.approx(0.5)
    assert known.tolist() == [[True, False]]
    index, known = index_of(np.array([[[0.1]], [[0.3]], [[0.2]], [[0.5]]]))
    assert index[0, 0] == pytest.approx(2.0 / 3.0)
    assert index_of(7.0 * bands)[0][0, 0] == pytest.approx(0.5)  # brighter light changes nothing


def test_two_groups_are_parted_between_them() -> None:
    rng = np.random.default_rng(1)
    values = np.concatenate([rng.normal(0.1, 0.02, 3000), rng.normal(0.5, 0.05, 1000)])
    assert 0.15 < parting(values) < 0.4
    assert parting(np.full(10, 0.3)) == pytest.approx(0.3)


def test_rows_stand_out_and_a_meadow_lies_low() -> None:
    row, column = np.indices((300, 300))
    index: FloatArray = np.where(row % 12 < 3, 0.3, 0.05)
    index = index + 0.1 * column / 300.0  # the light falls off
    index[200:, 220:] = 0.35
    inside = np.ones(index.shape, dtype=bool)
    known = inside.copy()
    known[:40, :40] = False
    canopy = green_canopy_cm(index, known, inside, 0.2, 1.2)
    rows = canopy[100:180]
    assert rows[row[100:180] % 12 == 1].min() > 60
    assert rows[row[100:180] % 12 > 4].max() < 30
    assert canopy[240:, 250:].max() < 50
    assert set(canopy[:40, :40].ravel().tolist()) == {UNKNOWN_CM}


def test_a_row_of_a_metre_is_green_all_across() -> None:
    """Five cells of 0.2 m in rows of 2.4 m: what is slow is six metres wide, not a hand."""
    row = np.indices((300, 300))[0]
    inside = np.ones(row.shape, dtype=bool)
    canopy = green_canopy_cm(np.where(row % 12 < 5, 0.3, 0.05), inside, inside, 0.2, 1.5)
    assert canopy[48:252][row[48:252] % 12 < 5].min() > 60
    assert canopy[48:252][row[48:252] % 12 > 6].max() < 30


def test_one_colour_has_no_rows() -> None:
    inside = np.ones((50, 50), dtype=bool)
    flat = np.full(inside.shape, 0.2)
    assert green_canopy_cm(flat, inside, inside, 0.2, 1.2).max() == 0
    assert green_canopy_cm(flat, ~inside, inside, 0.2, 1.2).max() == 0
