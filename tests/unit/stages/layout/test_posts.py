"""Posts at given stations: along the wire in plan, turns, heights, and spans that are too long."""

from math import atan2, radians, tan

import numpy as np
import pytest
from wirerun.arrays import words
from wirerun.findings import Findings
from wirerun.geometry.row_ground import RowGround
from wirerun.geometry.station import Paths
from wirerun.model.layout import Posts, Rows, Stations
from wirerun.settings import PostSettings
from wirerun.stages.layout.posts import set_posts

from tests.unit.stages.layout.test_boundary import EAST, EVERYWHERE
from tests.unit.stages.layout.test_known_ground import ground_of

# By 3-4-5: 10 m to the north-east, 10 m due east, 10 m to the south-east; and a row of 12 m due south beside it.
BENT = np.array([[0.0, 0.0], [6.0, 8.0], [16.0, 8.0], [22.0, 0.0]])
STRAIGHT = np.array([[30.0, 6.0], [30.0, -6.0]])
STATIONS = Stations(np.array([0, 0, 0, 0, 0, 1, 1, 1]), np.array([0.0, 5.0, 10.0, 20.0, 30.0, 0.0, 6.0, 12.0]))


def posts(surveyed_m: list[float] | None = None, **changes: float) -> tuple[Posts, list[str]]:
    """Posts on ground that rises 10 % to the east from 300 m."""
    paths = Paths.from_lines([BENT, STRAIGHT])
    rows = Rows("B01", words(["B01-R001", "B01-R002"]), np.zeros(2), paths.length_m, paths)
    ground, notes = RowGround(ground_of(300.0 + 0.1 * EAST, EVERYWHERE), paths), Findings("B01")
    heights = None if surveyed_m is None else np.array(surveyed_m)
    made = set_posts(rows, ground, STATIONS, PostSettings.model_validate(changes), notes, heights)
    return made, [note.message for note in notes]


def test_the_wire_runs_straight_from_post_to_post_and_turns_at_them() -> None:
    """At the bends by atan(8/6) = 53.13 degrees, to either side alike; at end posts nothing turns."""
    made, said = posts(max_span_m=12.0)
    assert made.along_m == pytest.approx([0.0, 5.0, 10.0, 20.0, 30.0, 0.0, 6.0, 12.0])
    bend = atan2(8.0, 6.0)
    assert made.turn_rad == pytest.approx([0.0, 0.0, bend, bend, 0.0, 0.0, 0.0, 0.0], abs=1e-9)
    assert made.place.x_m == pytest.approx([0.0, 3.0, 6.0, 16.0, 22.0, 30.0, 30.0, 30.0])
    assert made.ground_m == pytest.approx(300.0 + 0.1 * made.place.x_m, abs=1e-4)
    assert made.post_id.tolist()[4:6] == ["B01-R001-P005", "B01-R002-P001"]
    assert said == []


def test_between_posts_a_bend_is_cut() -> None:
    """A post 5 m before a bend and the next 5 m behind it, 2 x 5 x cos(53.13/2) m apart, which is 8.94 m."""
    paths = Paths.from_lines([BENT])
    rows = Rows("B01", words(["B01-R001"]), np.zeros(1), paths.length_m, paths)
    stations = Stations(np.zeros(4, dtype=np.int64), np.array([0.0, 5.0, 15.0, 30.0]))
    ground = RowGround(ground_of(300.0 + 0.0 * EAST, EVERYWHERE), paths)
    made = set_posts(rows, ground, stations, PostSettings(max_span_m=20.0), Findings())
    assert made.dx_m[:2] == pytest.approx([5.0, 8.944], abs=1e-3)
    assert made.turn_rad[1] == pytest.approx(radians(53.130) / 2.0, abs=1e-5)
    assert tan(made.turn_rad[1]) == pytest.approx(0.5, abs=1e-5)


def test_a_row_takes_its_surveyed_heights_where_it_has_them_all() -> None:
    made, _ = posts([301.0, 302.0, 303.0, np.nan, 305.0, 306.0, 307.0, 308.0], max_span_m=12.0)
    assert made.ground_m == pytest.approx([300.0, 300.3, 300.6, 301.6, 302.2, 306.0, 307.0, 308.0], abs=1e-4)


def test_spans_longer_than_the_limit_are_told_by_their_first_post() -> None:
    """10 m in plan that rise by 1 m are 10.05 m; a centimetre over the limit is none."""
    _, said = posts(max_span_m=9.0)
    assert said == ["2 spans of up to 10.05 m where 9 m are allowed, from B01-R001-P003, B01-R001-P004."]
    assert posts(max_span_m=10.045)[1] == []
