"""Slope along and across the row, on planes whose slope is known, and the classes."""

import numpy as np
import pytest
from affine import Affine
from wirerun.arrays import words
from wirerun.geometry.frame import Frame, direction
from wirerun.geometry.sampling import Ground
from wirerun.geometry.station import Paths
from wirerun.model.layout import Posts, Rows
from wirerun.records import Grid
from wirerun.settings.supply import class_names
from wirerun.stages.layout.slopes import slopes_of

FRAME = Frame(-7.6, 41.2, 300.0)


def plane(east: float, north: float) -> Ground:
    """Ground that rises so much per metre eastward and northward, in the frame's own metres."""
    row, column = np.mgrid[0:200, 0:200] + 0.5
    heights = 300.0 + east * (column - 100.0) + north * (100.0 - row)
    here = Affine.translation(-100.0, 100.0) * Affine.scale(1.0, -1.0)
    return Ground(Grid(heights, np.ones_like(heights, dtype=bool), here, FRAME.crs.to_wkt(), "plane"), FRAME, 0.0)


def posts_on(paths: Paths, ground: Ground) -> Posts:
    """Six posts on every path."""
    count = len(paths.length_m)
    row = np.repeat(np.arange(count), 6)
    station = np.tile(np.linspace(0.0, 1.0, 6), count) * paths.length_m[row]
    place = paths.place(row, station)
    rows = Rows("B01", words("abcdefg"[:count]), np.zeros(count), paths.length_m, paths)
    ids = words(f"P{number}" for number in range(len(row)))
    return Posts(rows, row, ids, station, place, ground.height(place), station, np.zeros(len(row)))


def test_the_example_of_the_docstring() -> None:
    ground = plane(0.0, -0.10)
    paths = Paths.straight(np.array([[-20.0, 0.0]]), np.array([[20.0, 0.0]]))
    made = slopes_of(posts_on(paths, ground), ground, 2.4, (10.0,))
    np.testing.assert_allclose(made.grade_pct, 0.0, atol=1e-6)
    np.testing.assert_allclose(made.cross_pct, 10.0, atol=1e-6)


@pytest.mark.parametrize("bearing", [0.0, 62.0, 135.0, 278.5])
def test_a_plane_has_its_slope_in_every_direction(bearing: float) -> None:
    slope = np.array([0.13, -0.21])
    ground, (east, north) = plane(*slope), direction(bearing)
    start = np.array([[-15.0, 4.0], [-12.0, 7.0]])
    paths = Paths.straight(start, start + 30.0 * np.array([east, north]))
    made = slopes_of(posts_on(paths, ground), ground, 2.4, (10.0, 20.0, 30.0))
    np.testing.assert_allclose(made.grade_pct, 100.0 * slope @ (east, north), atol=1e-5)
    np.testing.assert_allclose(made.cross_pct, 100.0 * slope @ (north, -east), atol=1e-5)
    np.testing.assert_allclose(made.mean_pct, 100.0 * np.hypot(*slope), atol=1e-5)
    assert list(made.slope_class) == ["20-30 %"] * 2


@pytest.mark.parametrize(
    ("slope_pct", "name"),
    [
        (0.0, "0-10 %"),
        (9.99, "0-10 %"),
        (10.01, "10-30 %"),
        (29.99, "10-30 %"),
        (30.01, "30 % and over"),
        (90.0, "30 % and over"),
    ],
)
def test_classes_on_both_sides_of_their_limits(slope_pct: float, name: str) -> None:
    ground = plane(slope_pct / 100.0, 0.0)
    paths = Paths.straight(np.array([[-20.0, 0.0]]), np.array([[20.0, 0.0]]))
    assert list(slopes_of(posts_on(paths, ground), ground, 2.4, (10.0, 30.0)).slope_class) == [name]
    assert class_names(()) == ["0 % and over"]


def test_a_post_beside_a_hole_counts_with_its_grade() -> None:
    """12 % along the row, 5 % across; where the ground across is not known, only the grade is left."""
    ground = plane(0.12, 0.05)
    paths = Paths.straight(np.array([[-99.0, 98.5]]), np.array([[-60.0, 98.5]]))  # half a spacing from the edge
    made = slopes_of(posts_on(paths, ground), ground, 2.4, (10.0,))
    assert np.isnan(made.cross_pct).all()
    np.testing.assert_allclose(made.mean_pct, 12.0, atol=1e-5)
