"""Supports and wires as values: what they refuse, that what was checked stays so, and rows of many lengths."""

from dataclasses import FrozenInstanceError

import numpy as np
import pytest
from wirerun.errors import MechanicsError
from wirerun.mechanics import IntArray
from wirerun.mechanics.row_index import RowIndex
from wirerun.mechanics.supports import Supports
from wirerun.mechanics.wire import STEEL_EXPANSION, Wire, axial_stiffness, weight_per_m

ROW = np.array([3, 3, 5, 8, 8, 8])
X = np.array([0.0, 6.0, 2.0, -1.0, 4.0, 10.0])


def test_rows_by_hand() -> None:
    rows = RowIndex.of(ROW)
    assert (rows.size, rows.count) == (6, 3)
    assert rows.ordinal.tolist() == [0, 0, 1, 2, 2, 2]
    assert rows.first.tolist() == [0, 2, 3]
    assert rows.last.tolist() == [1, 2, 5]
    assert rows.ends.tolist() == [True, True, True, True, False, True]
    assert rows.near.tolist() == [0, 3, 4]
    assert rows.of_span.tolist() == [0, 2, 2]
    assert rows.inner.tolist() == [4]
    assert rows.with_any(np.array([False, True, False, False, False, False])).tolist() == [True, False, False]
    assert rows.per_row("it", 2.0).tolist() == [2.0, 2.0, 2.0]
    with pytest.raises(MechanicsError, match=r"it must be one number or one for each of 3 rows, but has shape \(6,\)"):
        rows.per_row("it", np.ones(6))


def test_nothing_makes_no_rows() -> None:
    none: IntArray = np.empty(0, dtype=np.int64)
    rows = RowIndex.of(none)
    for found in (rows.ordinal, rows.first, rows.last, rows.near, rows.inner, rows.of_span):
        assert found.size == 0


def test_spans_and_gaps_by_hand() -> None:
    supports = Supports(X, np.array([1.0, 1.5, 0.0, np.nan, 2.0, 1.0]), ROW)
    np.testing.assert_array_equal(supports.dx_m, [6.0, 5.0, 6.0])
    np.testing.assert_array_equal(supports.rise_m, [0.5, np.nan, -1.0])
    assert supports.gaps.tolist() == [False, False, True]


def test_what_was_checked_cannot_be_changed_any_more() -> None:
    x, z = X.copy(), np.zeros(6)
    supports = Supports(x, z, ROW)
    z[0] = np.inf
    assert supports.z_m[0] == 0.0
    with pytest.raises(ValueError, match="read-only"):
        supports.x_m[1] = -5.0
    with pytest.raises(FrozenInstanceError):
        supports.x_m = x  # type: ignore[misc]
    diameter = np.array([2.5, 4.0])
    wire = Wire.from_diameter(diameter)
    diameter[0] = -1.0
    assert (np.asarray(wire.weight_n_per_m) > 0.0).all()
    with pytest.raises(ValueError, match="read-only"):
        np.asarray(wire.weight_n_per_m)[0] = -1.0


def test_other_heights_stand_on_the_same_stations_and_are_checked() -> None:
    supports = Supports(X, np.zeros(6), ROW)
    raised = supports.at_heights(np.arange(6.0))
    assert raised.rows is supports.rows
    np.testing.assert_array_equal(raised.x_m, X)
    assert raised.rise_m.tolist() == [1.0, 1.0, 1.0]
    assert supports.rise_m.tolist() == [0.0, 0.0, 0.0]
    with pytest.raises(MechanicsError, match="z_m must be finite, but is inf at index 1"):
        supports.at_heights(np.array([0.0, np.inf, 0.0, 0.0, 0.0, 0.0]))
    with pytest.raises(MechanicsError, match="equally long"):
        supports.at_heights(np.zeros(5))


def test_stations_may_fall_from_row_to_row_only() -> None:
    x = X.copy()
    x[5] = 4.0
    with pytest.raises(MechanicsError, match="must grow along a row, but goes from 4 to 4 m at index 5"):
        Supports(x, np.zeros(6), ROW)


def test_a_wire_of_given_diameter() -> None:
    wire = Wire.from_diameter(3.15, 2700.0, 70e9, 23e-6)
    assert wire.weight_n_per_m == weight_per_m(3.15, 2700.0)
    assert wire.axial_stiffness_n == axial_stiffness(3.15, 70e9)
    assert wire.expansion_per_k == 23e-6
    assert Wire.from_diameter(2.5).expansion_per_k == STEEL_EXPANSION


def test_wires_of_rows_and_of_their_spans() -> None:
    rows = RowIndex.of(ROW)
    wires = Wire(np.array([0.3, 0.4, 0.5]), 1e6).per_row(rows)
    assert np.asarray(wires.axial_stiffness_n).tolist() == [1e6, 1e6, 1e6]
    assert np.asarray(wires.of(rows.of_span).weight_n_per_m).tolist() == [0.3, 0.5, 0.5]
    with pytest.raises(MechanicsError, match="axial_stiffness_n must be one number or one for each of 3 rows"):
        Wire(0.4, np.ones(2)).per_row(rows)


@pytest.mark.parametrize(
    ("values", "sentence"),
    [
        ((0.0, 1e6), "weight_n_per_m must be above 0 and finite, but is 0"),
        ((0.4, -1.0), "axial_stiffness_n must be above 0 and finite, but is -1"),
        ((0.4, np.array([1e6, np.nan])), "axial_stiffness_n must be above 0 and finite, but is nan at index 1"),
        ((0.4, 1e6, np.inf), "expansion_per_k must be finite, but is inf"),
    ],
)
def test_wires_that_cannot_be(values: tuple[float, ...], sentence: str) -> None:
    with pytest.raises(MechanicsError, match=sentence):
        Wire(*values)
