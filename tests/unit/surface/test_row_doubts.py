"""Lines that no person would take for rows are told."""

import numpy as np
import pytest
import shapely
from numpy.typing import NDArray
from wirerun.surface.row_doubts import shape_doubts
from wirerun.surface.row_lines import NO_ROW, FoundRow

FloatArray = NDArray[np.float64]
BLOCK = shapely.box(0.0, 0.0, 400.0, 300.0)
CELL_M, SPACING_M = 0.1, 2.4


def row(number: int, x: FloatArray, y: FloatArray) -> FoundRow:
    """Return a row by its places, in cells."""
    return FoundRow(number, np.column_stack([x, y]), 30.0, 1.0, 1.0, 0.0)


def straight(number: int, y: float, first: float = 20.0, last: float = 380.0) -> FoundRow:
    x = np.linspace(first, last, 200)
    return row(number, x, np.full(200, y))


def test_rows_beside_one_another_are_rows() -> None:
    rows = [straight(number, 20.0 + 24.0 * number) for number in range(8)]
    pieces = [straight(9, 260.0, 20.0, 180.0), straight(9, 260.0, 184.0, 380.0)]  # of one row, end to end
    assert shape_doubts([*rows, *pieces], CELL_M, SPACING_M, BLOCK) == [""] * 10


def test_rows_that_meet() -> None:
    x = np.linspace(20.0, 380.0, 200)
    rows = [straight(0, 20.0), row(1, x, 40.0 + 0.2 * x), straight(2, 80.0), straight(3, 140.0), straight(4, 151.0)]
    told = shape_doubts(rows, CELL_M, SPACING_M, BLOCK)
    assert told[0] == ""
    assert all("crosses another row or runs into it" in words for words in told[1:3])
    # 1.1 m apart, less than half of 2.4 m.
    assert all("crosses" in words for words in told[3:])


@pytest.mark.parametrize(("radius_m", "odd"), [(4.0, True), (8.0, False)])
def test_a_row_that_bends_on_the_spot(radius_m: float, *, odd: bool) -> None:
    """A quarter of a circle with twenty metres before and behind it."""
    turn = np.linspace(0.0, np.pi / 2.0, 100)
    far = np.linspace(0.0, 10.0, 60)
    x = np.concatenate([far, 10.0 + radius_m * np.sin(turn), np.full(60, 10.0 + radius_m)])
    y = np.concatenate([np.zeros(60), radius_m * (1.0 - np.cos(turn)), radius_m + far])
    (told,) = shape_doubts([row(0, 10.0 * x + 20.0, 10.0 * y + 20.0)], CELL_M, SPACING_M, BLOCK)
    assert ("bends with a radius under 5 m" in told) is odd


def test_a_row_that_leaves_the_block() -> None:
    inside, outside = straight(0, 297.0), straight(1, 100.0, 20.0, 430.0)
    assert shape_doubts([inside, outside], CELL_M, SPACING_M, BLOCK) == ["", "leaves the block"]


def test_such_a_row_is_never_sure() -> None:
    good = straight(0, 20.0)
    assert good.confidence == 1.0
    assert good.why == ""
    odd = good._replace(odd="leaves the block")
    assert odd.confidence == NO_ROW
    assert odd.why == "leaves the block"
    assert good._replace(cut=True).why == "ends where the survey ends, within the block"
    assert good._replace(present=0.6).why == "few plants on its line"
    assert good._replace(present=0.6, cut=True).why.count(";") == 1
