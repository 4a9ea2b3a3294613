"""Rows that somebody drew and posts that somebody surveyed, in a block one can count: 40 m wide, 100 m to the north."""

import numpy as np
import pytest
from shapely import box
from wirerun.arrays import FloatArray
from wirerun.errors import SettingError
from wirerun.findings import Findings
from wirerun.geometry.places import PlaneXY
from wirerun.geometry.station import Paths
from wirerun.model.layout import NamedRows, Rows
from wirerun.model.site import Site
from wirerun.records import Drawn, SurveyedPosts
from wirerun.settings import PostSettings
from wirerun.stages.layout.numbering import nameless
from wirerun.stages.layout.posts_from_survey import StoodOn, stand_on_points
from wirerun.stages.layout.rows_from_lines import lay_follow, lay_given

from tests.unit.stages.layout.test_rows import FRAME, NO_GROUND, settings

BLOCK = box(0.0, 0.0, 40.0, 100.0)
SITE = Site(FRAME, BLOCK, BLOCK, NO_GROUND, (0.0, 0.0))
Line = list[tuple[float, float]]


def lonlat(line: Line) -> FloatArray:
    return FRAME.to_lonlat(PlaneXY.of(np.array(line, dtype=np.float64))).stacked()


def given(*lines: Line, **changes: float) -> tuple[NamedRows, dict[str, str]]:
    """Rows on lines, a number of its own in what the file says of each; headlands of 5 m, 1 m from the sides."""
    drawn = Drawn(lines=tuple(map(lonlat, lines)), attributes=tuple(f'{{"n": {n}}}' for n in range(1, len(lines) + 1)))
    notes = Findings("B01")
    made = lay_given(SITE, drawn, "B01", settings(**changes), notes)
    return made, {note.code: note.message for note in notes}


def follow(guide: Line, **changes: float) -> tuple[NamedRows, dict[str, str]]:
    notes = Findings("B01")
    made = lay_follow(SITE, Drawn(guide=lonlat(guide)), "B01", settings(**changes), notes)
    return made, {note.code: note.message for note in notes}


def ends(made: NamedRows) -> list[list[float]]:
    """Start and end of each row, east and north, to the millimetre."""
    paths = made.rows.paths
    corners = np.c_[paths.x_m[paths.first], paths.y_m[paths.first], paths.x_m[paths.last], paths.y_m[paths.last]]
    return [[round(float(value), 3) for value in row] for row in corners]


def test_given_rows_are_cut_to_the_block_and_keep_what_the_file_says() -> None:
    made, said = given([(10, -20), (10, 120)], [(12, -20), (12, 120)])
    assert said == {}
    assert ends(made) == [[10.0, 5.0, 10.0, 95.0], [12.0, 5.0, 12.0, 95.0]]
    assert made.rows.length_m.tolist() == pytest.approx([90.0, 90.0])
    assert made.rows.bearing_deg.tolist() == pytest.approx([0.0, 0.0], abs=1e-6)
    assert made.rows.given is not None
    assert made.rows.given.tolist() == ['[{"n": 1}]', '[{"n": 2}]']


@pytest.mark.parametrize(
    ("far", "bearing_deg"), [((30.0, 80.0), 18.435), ((30.0, 20.0), 90.0), ((10.0, 80.0), 0.0), ((4.0, 80.0), 354.289)]
)
def test_the_bearing_is_clockwise_from_north(far: tuple[float, float], bearing_deg: float) -> None:
    """By hand: atan(20/60) = 18.435 degrees; 6 m west in 60 m north is 360 - 5.711."""
    made, _ = given([(10.0, 20.0), far], min_length_m=4.0)
    assert made.rows.bearing_deg[0] == pytest.approx(bearing_deg, abs=0.02)


def test_what_was_drawn_badly_is_mended_and_told() -> None:
    """Of five lines one is drawn twice, one in two parts 1.5 m apart, one the other way; two cross."""
    lines: list[Line] = [
        [(10, -20), (10, 120)],
        [(10.05, -20), (10.05, 120)],
        [(14, -20), (14, 49)],
        [(14, 50.5), (14, 120)],
        [(18, 120), (18, -20)],
    ]
    made, said = given(*lines, join_gap_m=2.0)
    assert ends(made) == [[x, 5.0, x, 95.0] for x in (10.0, 14.0, 18.0)]
    assert made.rows.given is not None
    assert made.rows.given.tolist()[1] == '[{"n": 3}, {"n": 4}]'
    assert set(said) == {"lines-joined", "lines-doubled", "lines-turned"}
    assert said["lines-joined"].startswith("1 pair of given lines joined across gaps of up to 1.50 m")
    assert said["lines-doubled"].startswith("1 given line lies on another; left out: feature 2")
    assert said["lines-turned"].startswith("1 given line was turned")
    # What was made of two features is called by the first of them.
    _, said = given([(10, -20), (10, 49)], [(10, 50.5), (10, 120)], [(6, -20), (14, 120)], join_gap_m=2.0)
    assert "1 pair of given rows crossing or touching: feature 1 and 3" in said["lines-meet"]


def test_what_is_left_out_is_told_with_its_feature() -> None:
    lines: list[Line] = [[(10, -20), (10, 120)], [(80, 0), (80, 100)], [(0.5, -20), (0.5, 120)], [(20, 50), (20, 63)]]
    made, said = given(*lines, min_length_m=4.0)
    assert len(made.rows) == 1
    assert said["lines-outside"].startswith("1 given row does not enter the block: feature 2")
    # One lies within the margin; of one 3 m are left between headlands, a piece too short.
    assert said["lines-lost"].startswith("2 given rows enter the block without a row left in it: feature 3, 4")
    assert said["rows-dropped"] == "1 piece of row shorter than 4 m left out, 3.0 m in all."
    none, said = given([(80, 0), (80, 100)])
    assert len(none.rows) == 0
    assert "no-rows" in said


def test_lines_that_all_cross_are_no_rows() -> None:
    """Twelve rows and six lines across each: 72 places, four a line, is a lot; with fourteen across it is too many."""
    rows: list[Line] = [[(2.0 * n + 2, 2), (2.0 * n + 2, 98)] for n in range(12)]
    across: list[Line] = [[(1, 4.0 * n + 10), (35, 4.0 * n + 10)] for n in range(14)]
    _, said = given(*rows, *across[:6])
    assert "72 pairs" in said["lines-meet"]
    with pytest.raises(SettingError, match="the 26 lines cross or touch one another in 168 places"):
        given(*rows, *across)


def test_rows_follow_a_guide_at_whole_spacings() -> None:
    made, said = follow([(10.5, -50), (10.5, 150)], spacing_m=3.0)
    assert said == {}
    # Within 1 to 39 m: at 1.5, 4.5 ... 37.5.
    assert [row[0] for row in ends(made)] == pytest.approx([1.5 + 3.0 * n for n in range(13)], abs=1e-3)
    assert {tuple(row[1::2]) for row in ends(made)} == {(5.0, 95.0)}


def test_a_guide_that_bends_tightly_is_told_and_one_that_cannot_be_followed_is_refused() -> None:
    _, said = follow([(20, -50), (20, 50), (60, 60)], spacing_m=3.0)
    assert {"guide-too-tight", "row-kink"} & set(said)
    with pytest.raises(
        SettingError, match=r"the guide cannot be followed: .* at longitude -7\.\d{6}, latitude 41\.\d{6}"
    ):
        follow([(20, -50), (20, 150), (30, 150), (30, 50), (0, 50)], spacing_m=3.0)
    with pytest.raises(SettingError, match="rows that follow need a guide"):
        lay_follow(SITE, Drawn(), "B01", settings(), Findings("B01"))


def rows_north(*east_m: float) -> Rows:
    paths = Paths.from_lines([np.array([[x, 0.0], [x, 100.0]]) for x in east_m])
    return Rows("B01", nameless(len(east_m)), np.zeros(len(east_m)), paths.length_m, paths)


def stood(points: Line, *, stands: bool = False) -> tuple[StoodOn, dict[str, str]]:
    """Rows at 10, 12 and 14 m with posts surveyed within 0.5 m of them; the height of each is its place in the file."""
    count = len(points)
    survey = SurveyedPosts(
        lonlat(points),
        np.arange(count, dtype=np.float64),
        tuple(f"point {n + 1}" for n in range(count)),
        np.arange(count) % 2 == 0 if stands else None,
        np.arange(1.0, count + 1.0, dtype=np.float64) if stands else None,
    )
    notes = Findings("B01")
    made = stand_on_points(rows_north(10.0, 12.0, 14.0), SITE, survey, PostSettings(snap_m=0.5), notes)
    return made, {note.code: note.message for note in notes}


def test_posts_stand_where_they_were_surveyed_and_the_row_runs_from_first_to_last() -> None:
    """Points in no order; a point to the left of its row has a positive distance; one block is not asked of another."""
    made, said = stood([(10.2, 60), (9.9, 10), (14, 7), (10, 30), (14, 90), (12, 50), (70, 50)])
    assert made.rows.length_m.tolist() == pytest.approx([50.0, 83.0], abs=1e-6)
    assert made.stations.row.tolist() == [0, 0, 0, 1, 1]
    assert made.stations.station_m == pytest.approx([0.0, 20.0, 50.0, 0.0, 83.0], abs=1e-6)
    assert made.height_m.tolist() == [1.0, 3.0, 0.0, 2.0, 4.0]
    assert made.aside_m == pytest.approx([0.1, 0.0, -0.2, 0.0, 0.0], abs=1e-6)
    assert made.rows.paths.y_m.tolist() == pytest.approx([10.0, 60.0, 7.0, 90.0], abs=1e-6)
    assert not made.stands.any()
    assert np.isnan(made.out_m).all()
    assert set(said) == {"rows-without-posts"}
    assert said["rows-without-posts"].startswith("1 row has fewer than two surveyed posts; left out: ")


def test_what_stands_and_how_tall_goes_with_its_post() -> None:
    made, _ = stood([(10, 60), (10, 10), (14, 7), (14, 90), (12, 30), (12, 40)], stands=True)
    assert made.stands.tolist() == [False, True, True, False, True, False]
    assert made.out_m.tolist() == [2.0, 1.0, 5.0, 6.0, 3.0, 4.0]
    last = made.of_rows(np.array([False, False, True]))
    assert len(last.rows) == 1
    assert last.stations.row.tolist() == [0, 0]
    assert last.out_m.tolist() == [3.0, 4.0]
    assert last.stands.tolist() == [True, False]


def test_points_off_the_rows_and_points_that_repeat_are_told() -> None:
    """Off by 0.9 m in the block; 60 m away is of another block and not told."""
    made, said = stood([(10, 60), (10, 60.01), (10, 10), (12, 10), (12, 60), (14, 5), (14, 9), (30, 50), (90, 50)])
    assert len(made.stations.row) == 6
    assert set(said) == {"posts-off-rows", "posts-doubled"}
    assert "1 surveyed post lies in the block more than 0.5 m off every row: point 8" in said["posts-off-rows"]
    assert said["posts-doubled"] == "1 surveyed post repeats another: point 2."


def test_heights_to_the_metre_are_told() -> None:
    """Numbered heights are whole metres: 1 / sqrt(12) m is 28.9 cm."""
    _, said = stood([(x, y) for x in (10, 12, 14) for y in range(10, 90, 10)])
    assert set(said) == {"ground-rounded"}
    told = "Heights of the surveyed posts are rounded to 1 m, so each is off by 28.9 cm (one sigma)"
    assert said["ground-rounded"].startswith(told)
