"""Slope along and across the row, on planes whose slope is known, and the classes."""

import numpy as np
import pandas as pd
import pytest
from affine import Affine
from wirerun.geometry.frame import Frame, direction
from wirerun.geometry.sampling import Ground
from wirerun.geometry.station import Paths
from wirerun.records import Grid
from wirerun.settings.supply import class_names
from wirerun.stages.layout.slopes import slope_at_posts, slope_class

FRAME = Frame(-7.6, 41.2, 300.0)


def plane(east: float, north: float) -> Ground:
    """Ground that rises so much per metre eastward and northward, in the frame's own metres."""
    row, column = np.mgrid[0:200, 0:200] + 0.5
    heights = 300.0 + east * (column - 100.0) + north * (100.0 - row)
    here = Affine.translation(-100.0, 100.0) * Affine.scale(1.0, -1.0)
    return Ground(Grid(heights, np.ones_like(heights, dtype=bool), here, FRAME.crs.to_wkt(), "plane"), FRAME, 0.0)


def posts_on(paths: Paths, ground: Ground) -> pd.DataFrame:
    row = np.repeat(np.arange(len(paths.length_m)), 6)
    station = np.tile(np.linspace(0.0, 1.0, 6), len(paths.length_m)) * paths.length_m[row]
    x, y = paths.place(row, station)
    return pd.DataFrame(
        {"row": row, "station_m": station, "run_m": station, "x_m": x, "y_m": y, "ground_m": ground.height(x, y)}
    )


def test_the_example_of_the_docstring() -> None:
    ground = plane(0.0, -0.10)
    paths = Paths.straight(np.array([[-20.0, 0.0]]), np.array([[20.0, 0.0]]))
    made = slope_at_posts(posts_on(paths, ground), paths, ground, 2.4)
    np.testing.assert_allclose(made["grade_pct"], 0.0, atol=1e-6)
    np.testing.assert_allclose(made["cross_slope_pct"], 10.0, atol=1e-6)


@pytest.mark.parametrize("bearing", [0.0, 62.0, 135.0, 278.5])
def test_a_plane_has_its_slope_in_every_direction(bearing: float) -> None:
    slope = np.array([0.13, -0.21])
    ground, (east, north) = plane(*slope), direction(bearing)
    start = np.array([[-15.0, 4.0], [-12.0, 7.0]])
    paths = Paths.straight(start, start + 30.0 * np.array([east, north]))
    made = slope_at_posts(posts_on(paths, ground), paths, ground, 2.4)
    np.testing.assert_allclose(made["grade_pct"], 100.0 * slope @ (east, north), atol=1e-5)
    np.testing.assert_allclose(made["cross_slope_pct"], 100.0 * slope @ (north, -east), atol=1e-5)
    rows = slope_class(pd.DataFrame({"row_id": ["a", "b"]}), made, (10.0, 20.0, 30.0))
    np.testing.assert_allclose(rows["slope_pct"], 100.0 * np.hypot(*slope), atol=1e-5)
    assert list(rows["slope_class"]) == ["20-30 %"] * 2


def test_classes_at_their_limits_and_without_heights() -> None:
    slopes = [0.0, 9.99, 10.0, 29.99, 30.0, 90.0, np.nan]
    posts = pd.DataFrame({"row": range(7), "grade_pct": slopes, "cross_slope_pct": np.nan})
    rows = slope_class(pd.DataFrame({"row_id": list("abcdefg")}), posts, (10.0, 30.0))
    named = [None if pd.isna(name) else name for name in rows["slope_class"]]
    assert named == ["0-10 %", "0-10 %", "10-30 %", "10-30 %", "30 % and over", "30 % and over", None]
    assert class_names(()) == ["0 % and over"]
