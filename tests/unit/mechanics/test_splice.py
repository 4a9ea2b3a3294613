"""A wire that parts: by hand, and spans that are none."""

import numpy as np
import pytest
from wirerun.arrays import FloatArray
from wirerun.errors import MechanicsError
from wirerun.mechanics.chain import solve_chain
from wirerun.mechanics.splice import drawn_back
from wirerun.mechanics.supports import Supports
from wirerun.mechanics.wire import Wire

WIRE = Wire.from_diameter(2.5)


def level(row: list[int]) -> Supports:
    x: FloatArray = 6.0 * np.arange(0.0, len(row))
    return Supports(x, np.zeros(len(row)), np.array(row))


def test_both_ends_draw_back_by_what_their_part_was_stretched() -> None:
    """Ten level spans of 6 m: 300 N over EA a metre; parted amid the last, nineteen halves go back one way."""
    back = drawn_back(solve_chain(level([0] * 11), WIRE, 300.0), 9, 0.5)
    half = 3.0 * 300.0 / float(WIRE.axial_stiffness_n)
    assert back.near_m == pytest.approx(19 * half, rel=1e-3)
    assert back.far_m == pytest.approx(half, rel=1e-3)


@pytest.mark.parametrize("span", [-1, 10])
def test_a_span_that_the_row_does_not_have(span: int) -> None:
    with pytest.raises(MechanicsError, match=rf"span {span} of 10 in 1 rows; one is wanted"):
        drawn_back(solve_chain(level([0] * 11), WIRE, 300.0), span, 0.5)


def test_two_rows_at_once() -> None:
    with pytest.raises(MechanicsError, match="span 0 of 2 in 2 rows; one is wanted"):
        drawn_back(solve_chain(level([0, 0, 1, 1]), WIRE, 300.0), 0, 0.5)
