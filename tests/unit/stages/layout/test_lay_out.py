"""Which rows a config lays and where it stands posts: the block of 40 by 100 m over ground that rises to the east."""

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from wirerun.findings import Findings
from wirerun.geometry.station import Paths
from wirerun.model.layout import NamedRows, Rows
from wirerun.records import Drawn, SurveyedPosts
from wirerun.stages.layout.lay_out import Layout, lay_rows, stand_posts
from wirerun.stages.layout.numbering import nameless

from tests.unit.rules.test_joining import catalogue
from tests.unit.rules.test_joining import config as wired
from tests.unit.stages.layout.test_boundary import EAST, EVERYWHERE
from tests.unit.stages.layout.test_drawn import SITE, ends, lonlat
from tests.unit.stages.layout.test_known_ground import cut, ground_of

ROWS = {"bearing_deg": 0.0, "spacing_m": 3.0, "headland_m": 5.0, "side_margin_m": 1.2}


def laid(drawn: Drawn | None = None, **rows: Any) -> tuple[NamedRows, set[str]]:  # noqa: ANN401
    """Rows of the block, whose ground rises by 75 % to the east: by 3-4-5 a metre of it is 1.25 m along the ground."""
    notes = Findings("B01")
    site = replace(SITE, slope=(0.75, 0.0))
    made = lay_rows(site, drawn or Drawn(), "B01", wired(rows=ROWS | rows), notes)
    return made, {note.code for note in notes}


def test_parallel_rows_unless_the_config_has_others() -> None:
    made, said = laid()
    assert [row[0] for row in ends(made)] == pytest.approx([3.0 * n for n in range(1, 13)])
    assert said == set()
    drawn = Drawn(guide=lonlat([(10.5, -50), (10.5, 150)]), lines=(lonlat([(20, -20), (20, 120)]),), attributes=("{}",))
    assert [row[0] for row in ends(laid(drawn, layout="follow", guide="guide.geojson")[0])] == pytest.approx(
        [1.5 + 3.0 * n for n in range(13)], abs=1e-3
    )
    assert ends(laid(drawn, layout="given", lines="rows.geojson")[0]) == [[20.0, 5.0, 20.0, 95.0]]


@pytest.mark.parametrize(("bearing_deg", "apart_m"), [(0.0, 2.4), (90.0, 3.0)])
def test_a_spacing_along_the_ground_is_shorter_in_plan_across_the_slope_only(
    bearing_deg: float, apart_m: float
) -> None:
    made, said = laid(bearing_deg=bearing_deg, spacing_measured="slope")
    places = np.array(ends(made))[:, int(bearing_deg > 0.0)]
    assert np.abs(np.diff(places)) == pytest.approx(apart_m)
    assert said == {"slope-spacing"}


def stood(
    *east_m: float,
    hole: bool = False,
    points: list[tuple[float, float, float]] | None = None,
    **posts: Any,  # noqa: ANN401
) -> tuple[Layout, set[str]]:
    """Rows from 2 m to 64 m north; a hole of 8 m about (10, 30); points surveyed at east, north, height."""
    valid, drawn, notes = EVERYWHERE.copy(), Drawn(), Findings("B01")
    if hole:
        cut(valid, 10.0, 30.0, 8.0, 8.0)
    if points is not None:
        at = lonlat([(east, north) for east, north, _ in points])
        names = tuple(f"point {number}" for number in range(len(points)))
        drawn = Drawn(posts=SurveyedPosts(at, np.array([height for *_, height in points]), names))
    paths = Paths.from_lines([np.array([[x, 2.0], [x, 64.0]]) for x in east_m])
    rows = Rows("B01", nameless(len(east_m)), np.zeros(len(east_m)), paths.length_m, paths)
    site = replace(SITE, ground=ground_of(300.0 + 0.1 * EAST, valid))
    made = stand_posts(rows, site, drawn, wired(posts=posts), catalogue(1.0), notes)
    return made, {note.code for note in notes}


def stations(made: Layout) -> list[list[float]]:
    assert made.posts is not None
    return [made.posts.station_m[made.posts.row == row].round(3).tolist() for row in range(len(made.posts.rows))]


def test_posts_stand_at_equal_spans_or_on_vines_or_in_line_from_row_to_row() -> None:
    """62 m: 11 spans of 5.64 m, or ten of five vines and 2 m; from row to row at multiples of 6 m from the origin.

    On vines in line the first is 0.4 m from the end post, which is in the place of one: five on are 5.2 m.
    """
    equal, said = stood(10.0, 12.0)
    assert stations(equal) == [pytest.approx([62.0 * n / 11.0 for n in range(12)], abs=2e-3)] * 2
    assert said == set()
    assert (equal.more, equal.surveyed) == (None, None)
    assert equal.measured is not None
    assert equal.measured.tolist() == [False, False]
    lines = {
        ("vine_grid", "row_start"): [*(6.0 * n for n in range(11)), 62.0],
        ("equal", "baseline"): [0.0, *(4.0 + 6.0 * n for n in range(10)), 62.0],
        ("vine_grid", "baseline"): [0.0, *(5.2 + 6.0 * n for n in range(10)), 62.0],
    }
    for (placing, align), places in lines.items():
        assert stations(stood(10.0, placing=placing, align=align)[0]) == [pytest.approx(places, abs=2e-3)]


def test_fitted_posts_are_told_what_they_save() -> None:
    fitted, said = stood(10.0, placing="fitted")
    assert said == {"fitted-saving"}
    assert stations(fitted)[0][:1] + stations(fitted)[0][-1:] == [0.0, 62.0]


def test_a_row_over_a_hole_is_left_out_and_one_whose_posts_were_surveyed_is_not() -> None:
    """The first row runs over it; one post of the second was surveyed without a height."""
    without, said = stood(10.0, 20.0, hole=True)
    assert without.left_out.rows.row_id.tolist() == ["row 1"]
    assert said == {"row-left-out"}
    assert without.posts is not None
    assert without.posts.rows.row_id.tolist() == ["row 2"]
    points = [(east, north, 310.0) for east in (10.0, 20.0) for north in (10.0, 30.0, 50.0)]
    points[4] = (20.0, 30.0, np.nan)
    made, said = stood(10.0, 20.0, hole=True, points=points)
    assert said == {"hole-bridged", "span-too-long"}
    assert stations(made) == [[0.0, 20.0, 40.0]] * 2
    assert made.measured is not None
    assert made.measured.tolist() == [True, False]
    assert made.posts is not None
    assert made.posts.ground_m == pytest.approx([310.0] * 3 + [302.0] * 3, abs=1e-3)
    # Without heights the first is left out, and its posts with it.
    gone, _ = stood(10.0, 20.0, hole=True, points=[(east, north, np.nan) for east, north, _ in points])
    assert gone.left_out.rows.row_id.tolist() == ["row 1"]
    assert stations(gone) == [[0.0, 20.0, 40.0]]
    assert gone.surveyed is not None
    assert gone.surveyed.rows.row_id.tolist() == ["row 2"]


def test_nothing_to_stand_on_is_no_posts() -> None:
    """No rows; a row over a hole; one of which one post was surveyed."""
    for made in (stood()[0], stood(10.0, hole=True)[0], stood(10.0, points=[(10.0, 5.0, 310.0)])[0]):
        assert (made.posts, made.ground, made.bridges, made.measured, made.more) == (None,) * 5
