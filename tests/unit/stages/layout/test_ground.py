"""The ground between posts, over a round hill: d (L - d)/2R above a chord of L, at d from its end.

Source: rise of a circular arc, any handbook of surveying (from memory).
"""

import numpy as np
import pytest
from wirerun.arrays import FloatArray, words
from wirerun.findings import Findings
from wirerun.geometry.row_ground import RowGround
from wirerun.geometry.station import Paths
from wirerun.model.layout import Posts, Rows, Stations
from wirerun.settings import PostSettings
from wirerun.stages.layout.ground import ground_above_chord
from wirerun.stages.layout.known_ground import stand_on_ground
from wirerun.stages.layout.posts import set_posts

from tests.unit.stages.layout.test_boundary import EAST, EVERYWHERE, NORTH
from tests.unit.stages.layout.test_known_ground import cut, ground_of, rows_of

RADIUS_M = 25.0
# Every half metre of a span of 6 m.
PLACES = np.linspace(0.0, 6.0, 13)
RISE = PLACES * (6.0 - PLACES) / (2.0 * RADIUS_M)


def hill(along_m: FloatArray) -> FloatArray:
    """A hill that bends in one direction, on ground that rises 10 % that way."""
    return 300.0 + 0.1 * along_m - along_m**2 / (2.0 * RADIUS_M)


def posts_on(rows: Rows, ground: RowGround, station_m: FloatArray, surveyed_m: FloatArray | None = None) -> Posts:
    row = np.repeat(np.arange(len(rows)), len(station_m))
    stations = Stations(row, np.tile(station_m, len(rows)))
    return set_posts(rows, ground, stations, PostSettings(max_span_m=6.0), Findings(), surveyed_m)


def test_between_posts_the_ground_is_averaged_along_the_row_as_it_is_under_them() -> None:
    """One row over the hill, one along its side, by 3-4-5. Averaged over 3 m all of it lies 15 mm lower alike."""
    paths = Paths.straight(np.array([[-9.0, -12.0], [8.0, -6.0]]), np.array([[9.0, 12.0], [-8.0, 6.0]]))
    rows = Rows("B01", words(["over", "along"]), np.zeros(2), paths.length_m, paths)
    ground = RowGround(ground_of(hill(0.6 * EAST + 0.8 * NORTH), EVERYWHERE, 3.0), paths)
    above = ground_above_chord(posts_on(rows, ground, np.linspace(0.0, 18.0, 4)), ground, 6.0)
    np.testing.assert_allclose(above, np.vstack([np.tile(RISE, (3, 1)), np.zeros((3, 13))]), atol=2e-3)


def test_over_a_bridged_hole_the_ground_is_the_bridge() -> None:
    """A hole of 2 m, 2.5 m from ground to ground, amid a span of 6 m: level where its edges are."""
    rows, valid = rows_of(np.array([0.1]), half_m=9.0), EVERYWHERE.copy()
    cut(valid, 0.0, 0.0, 2.0)
    stand = stand_on_ground(rows, ground_of(hill(EAST) - 0.1 * EAST, valid), 5.0, np.array([False]), Findings())
    above = ground_above_chord(posts_on(rows, stand.ground, np.linspace(0.0, 18.0, 4)), stand.ground, 6.0)
    off = np.maximum(np.abs(PLACES - 3.0), 1.25)
    np.testing.assert_allclose(above[[0, 2]], np.tile(RISE, (2, 1)), atol=2e-3)
    np.testing.assert_allclose(above[1], (9.0 - off**2) / (2.0 * RADIUS_M), atol=2e-3)


def test_where_the_ground_is_not_known_nothing_rises_above_the_chord() -> None:
    """Between two surveyed posts on both sides of a hole of 4 m."""
    rows, valid = rows_of(np.array([0.1]), half_m=3.0), EVERYWHERE.copy()
    cut(valid, 0.0, 0.0, 4.0)
    ground = RowGround(ground_of(hill(EAST), valid), rows.paths)
    (above,) = ground_above_chord(posts_on(rows, ground, np.array([0.0, 6.0]), np.array([300.0, 300.0])), ground, 6.0)
    assert above[2:11].tolist() == [0.0] * 9
    assert above[[1, 11]] == pytest.approx([-0.25 - 0.125, 0.25 - 0.125], abs=2e-3)
