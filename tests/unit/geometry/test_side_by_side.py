"""Lines beside lines, in places where the answer can be read off a sketch. Plane metres."""

import numpy as np
import pytest
import shapely
from wirerun.geometry.side_by_side import Pairs, side_by_side

Xy = list[tuple[float, float]]


def beside(ones: list[Xy], others: list[Xy], within_m: float = 1.2) -> Pairs:
    one, other = np.empty(len(ones), dtype=object), np.empty(len(others), dtype=object)
    one[:], other[:] = [shapely.LineString(xy) for xy in ones], [shapely.LineString(xy) for xy in others]
    return side_by_side(one, other, within_m)


@pytest.mark.parametrize(
    ("one", "other", "beside_m", "apart_m", "start_m"),
    [
        ([(0, 0), (100, 0)], [(0, 1), (100, 1)], 100.0, 1.0, 1.0),
        # Longer at both ends, and drawn the other way: 60 m of it have the other beside them.
        ([(0, 0), (100, 0)], [(150, 1), (40, 1)], 60.0, 1.0, np.hypot(40.0, 1.0)),
        ([(0, 0), (100, 0)], [(20, 0.5), (50, 0.5)], 30.0, 0.5, np.hypot(20.0, 0.5)),
        # Turned about its middle by 1 m at each end: 0.5 m off on the mean, to a part in 17 of the places.
        ([(0, 0), (100, 0)], [(0, -1), (100, 1)], 100.0, pytest.approx(0.529, abs=0.001), 1.0),
    ],
)
def test_how_far_two_lines_run_side_by_side(
    one: Xy, other: Xy, beside_m: float, apart_m: float, start_m: float
) -> None:
    found = beside([one], [other])
    assert found.beside_m == pytest.approx([beside_m], abs=0.02)
    assert found.apart_m[0] == pytest.approx(apart_m) if isinstance(apart_m, float) else found.apart_m[0] == apart_m
    assert found.start_m == pytest.approx([start_m], abs=0.02)


@pytest.mark.parametrize(
    "other",
    [
        [(0, 1.3), (100, 1.3)],
        [(0, -1), (100, 1.5)],  # near at one end only
        [(90, 0), (190, 0)],  # the next piece of a line, begun a little early
        [(50, -60), (50, 60)],  # across
        [(101, 0), (150, 0)],  # beyond
    ],
)
def test_lines_that_are_not_the_same(other: Xy) -> None:
    assert len(beside([[(0, 0), (100, 0)]], [other]).one) == 0


def test_each_line_finds_its_own_and_a_curve_runs_beside_a_curve() -> None:
    """Arcs about one middle: 100 m and 101 m in radius are 1 m apart all along, 100 m and 103 m are not the same."""
    angle = np.radians(np.linspace(0.0, 120.0, 200))
    arc = np.column_stack([np.cos(angle), np.sin(angle)])
    now = [arc * radius for radius in (100.0, 103.0)]
    before = [arc[::-1] * radius for radius in (104.0, 101.0)]
    found = beside([list(map(tuple, line)) for line in now], [list(map(tuple, line)) for line in before])
    assert list(zip(found.one, found.other, strict=True)) == [(0, 1), (1, 0)]
    np.testing.assert_allclose(found.apart_m, 1.0, atol=0.01)
    np.testing.assert_allclose(found.start_m, 1.0, atol=0.02)
    np.testing.assert_allclose(found.beside_m, np.radians(120.0) * np.array([100.0, 103.0]), rtol=1e-3)


def test_no_lines_give_no_pairs() -> None:
    assert [len(part) for part in beside([], [[(0, 0), (1, 0)]])] == [0] * 5
    assert [len(part) for part in beside([[(0, 0), (1, 0)]], [])] == [0] * 5
