"""Parallel lines across an area, checked on shapes whose answer is known."""

import numpy as np
import pytest
from shapely import LineString, Polygon, box
from shapely.affinity import rotate
from wirerun.geometry.lines import Pieces, cut_lines, from_row_axes, shorten, to_row_axes


def test_row_axes_worked_example() -> None:
    along, across = to_row_axes(np.array([3.0]), np.array([5.0]), 90.0)
    assert (along[0], across[0]) == pytest.approx((3.0, -5.0))


@pytest.mark.parametrize("bearing", [0.0, 62.0, 181.0, 299.5])
def test_row_axes_there_and_back(bearing: float) -> None:
    x, y = np.array([3.0, -7.0]), np.array([5.0, 11.0])
    np.testing.assert_allclose(from_row_axes(*to_row_axes(x, y, bearing), bearing), (x, y), atol=1e-12)


def test_lines_are_cut_by_a_hole_and_by_a_concave_edge() -> None:
    area = Polygon([(0, 0), (10, 0), (10, 20), (6, 20), (6, 12), (4, 12), (4, 20), (0, 20)]).difference(box(1, 3, 3, 5))
    pieces = cut_lines(area, np.array([-1.0, 2.0, 5.0, 8.0]), 0.0)
    assert pieces.line.tolist() == [1, 1, 2, 3]
    assert pieces.start_m.tolist() == pytest.approx([0.0, 5.0, 0.0, 0.0])
    assert pieces.end_m.tolist() == pytest.approx([3.0, 20.0, 12.0, 20.0])


def test_a_line_that_only_touches_leaves_nothing() -> None:
    diamond = Polygon([(0, 0), (5, 5), (0, 10), (-5, 5)])
    assert cut_lines(diamond, np.array([5.0]), 0.0).line.tolist() == []


@pytest.mark.parametrize("bearing", [0.0, 17.0, 90.0, 242.0])
def test_pieces_agree_with_plain_intersection(bearing: float) -> None:
    """Each piece against shapely's own intersection of the same line, drawn without row axes."""
    area = rotate(Polygon([(0, 0), (60, 5), (80, 40), (40, 30), (20, 70), (-10, 30)]), 13.0)
    across = np.arange(-100.0, 100.0, 7.3)
    pieces = cut_lines(area, across, bearing)
    total = 0.0
    for offset in across:
        x, y = from_row_axes(np.array([-500.0, 500.0]), np.array([offset, offset]), bearing)
        total += area.intersection(LineString(np.c_[x, y])).length
    assert (pieces.end_m - pieces.start_m).sum() == pytest.approx(total, abs=1e-6)


def test_shorten_keeps_away_from_the_ends_of_the_longer_piece() -> None:
    line = np.array([0, 0, 3])
    within = Pieces(line, np.array([0.0, 50.0, -20.0]), np.array([40.0, 90.0, 20.0]))
    pieces = Pieces(line, np.array([2.0, 58.0, -19.0]), np.array([38.0, 89.0, 19.0]))
    kept = shorten(pieces, within, 6.0, 7.0)
    assert kept.start_m.tolist() == [6.0, 58.0, -14.0]
    assert kept.end_m.tolist() == [33.0, 83.0, 13.0]
