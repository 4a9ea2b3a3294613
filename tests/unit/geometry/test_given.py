"""Given lines: cleaned, turned, ordered and cut, against layouts whose answer is known."""

from itertools import pairwise

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from shapely import Polygon, box
from wirerun.geometry.frame import direction
from wirerun.geometry.given import clean_lines, cut_given

FloatArray = NDArray[np.float64]


def line(*places: tuple[float, float]) -> FloatArray:
    return np.array(places, dtype=np.float64)


def row(across: float, start: float, end: float, bearing: float = 0.0) -> FloatArray:
    """Return a straight row: `across` to the right of the origin as one looks along the bearing."""
    east, north = direction(bearing)
    return np.array([[a * east + across * north, a * north - across * east] for a in (start, end)])


def test_nothing_to_do_is_left_alone() -> None:
    lines = [line((0, 0), (0, 40)), line((2.4, -1), (2.4, 41))]
    cleaned = clean_lines(lines, 2.0)
    assert [path.tolist() for path in cleaned.lines] == [path.tolist() for path in lines]
    assert cleaned.sources == ((0,), (1,))
    assert cleaned.bearing_deg == pytest.approx(0.0)
    assert (cleaned.joined, cleaned.duplicates, cleaned.reversed, cleaned.meetings) == ((), (), (), ())


def test_no_lines_at_all() -> None:
    assert clean_lines([], 2.0).lines == ()
    assert cut_given([], box(0, 0, 1, 1), box(0, 0, 1, 1), 0.0, 0.0, 0.0).paths == ()


def test_numbers_grow_to_the_right() -> None:
    """As one looks east, north is to the left."""
    cleaned = clean_lines([row(0.0, 0, 50, 90.0), row(-5.0, 0, 50, 90.0), row(5.0, 0, 50, 90.0)], 0.0)
    assert cleaned.bearing_deg == pytest.approx(90.0)
    assert cleaned.sources == ((1,), (0,), (2,))
    assert cleaned.lines[0][0].tolist() == pytest.approx([0.0, 5.0])


def test_bent_rows_run_as_their_chords_do_and_not_as_their_first_steps() -> None:
    """Each starts with a step to the north-east and ends with one to the north-west: north, all in all."""
    lines = [line((x, 0), (x + 3, 3), (x + 3, 57), (x, 60)) for x in (0.0, 2.4)]
    assert clean_lines(lines, 0.0).bearing_deg == pytest.approx(0.0, abs=1e-9)


def test_rows_that_begin_with_a_hook_are_still_drawn_the_way_they_end() -> None:
    """Both are drawn northwards, but for a first step back south; a third one, shorter, is drawn southwards."""
    hooked = [line((x, 2), (x + 0.5, 0), (x + 0.5, 60)) for x in (0.0, 2.4)]
    cleaned = clean_lines([*hooked, line((5.3, 40), (5.3, 0))], 0.0)
    assert cleaned.bearing_deg == pytest.approx(0.0, abs=1.0)
    assert cleaned.reversed == (2,)


def test_doubles_drawn_either_way_are_left_out() -> None:
    first, shorter = line((0, 0), (0, 30), (0.5, 60)), line((0.1, 5), (0.1, 25))
    cleaned = clean_lines([shorter, first, first[::-1] + np.array([0.15, 0.0]), line((2.4, 0), (2.4, 60))], 1.0)
    assert cleaned.duplicates == ((0, 1), (2, 1))
    assert cleaned.sources == ((1,), (3,))


def test_a_line_just_beyond_the_tolerance_is_no_double_but_told() -> None:
    bent = line((0.0, 0), (0.0, 50), (2.0, 60))
    cleaned = clean_lines([line((0, 0), (0, 60)), bent], 1.0)
    assert cleaned.duplicates == ()
    assert [(meeting.first, meeting.second) for meeting in cleaned.meetings] == [(0, 1)]


def test_lines_in_steps_of_the_tolerance_do_not_all_take_one_another_out() -> None:
    steps = [line((0.15 * i, 0), (0.15 * i, 60 + 0.3 * i)) for i in range(3)]
    cleaned = clean_lines(steps, 0.0)
    assert cleaned.duplicates == ((1, 2),)
    assert cleaned.sources == ((0,), (2,))


@pytest.mark.parametrize("drawn_back", [False, True])
def test_a_gap_is_closed_up_to_the_limit(drawn_back: bool) -> None:  # noqa: FBT001
    near, far = line((0, 0), (0, 30)), line((0.1, 31.5), (0.1, 60))
    lines = [near, far[::-1] if drawn_back else far, line((2.4, 60), (2.4, 0)), line((4.8, 0), (4.8, 60))]
    gap = float(np.hypot(0.1, 1.5))
    (join,) = clean_lines(lines, gap + 1e-3).joined
    assert (join.first, join.second) == (0, 1)
    assert join.gap_m == pytest.approx(gap)
    cleaned = clean_lines(lines, gap + 1e-3)
    assert cleaned.sources == ((0, 1), (2,), (3,))
    assert cleaned.lines[0] == pytest.approx(np.array([[0, 0], [0.05, 30.75], [0.1, 60]]))
    assert cleaned.reversed == ((1, 2) if drawn_back else (2,))
    assert clean_lines(lines, gap - 1e-3).joined == ()


def test_a_wide_gap_is_bridged_as_it_is() -> None:
    cleaned = clean_lines([line((0, 0), (0, 10), (0, 30)), line((0, 38), (0, 60))], 8.0)
    assert cleaned.lines[0].tolist() == [[0, 0], [0, 10], [0, 30], [0, 38], [0, 60]]


def test_overlapping_ends_do_not_run_back() -> None:
    cleaned = clean_lines([line((0, 0), (0, 29.95), (0, 30.1)), line((0.1, 30), (0.1, 30.05), (0.1, 60))], 1.0)
    (path,) = cleaned.lines
    assert (np.diff(path[:, 1]) > 0.0).all()
    assert cleaned.joined[0].gap_m == pytest.approx(np.hypot(0.1, 0.1))


@pytest.mark.parametrize(
    ("other", "why"),
    [
        (line((1.2, 30.5), (1.2, 60)), "the next row"),
        (line((1.2, 29.5), (1.2, 0)), "a turn at the headland"),
        (line((0, 30), (10, 50)), "a bend of 27 degrees"),
        (line((0, 29), (0.3, 60)), "an overlap of a metre"),
    ],
)
def test_what_is_not_joined(other: FloatArray, why: str) -> None:
    assert clean_lines([line((0, 0), (0, 30)), other], 2.0).joined == (), why


def test_the_nearest_ends_are_joined_first_and_each_once() -> None:
    lines = [line((0, 0), (0, 30)), line((0.1, 31), (0, 60)), line((-0.1, 30.5), (-5, 59))]
    (join,) = clean_lines(lines, 2.0).joined
    assert (join.first, join.second) == (0, 2)


def test_a_ring_of_pieces_keeps_two_ends() -> None:
    """Sixty pieces of a circle: fifty-nine joins, and the last gap stays."""
    angle = np.radians(np.arange(0, 361, 6))
    circle = 50.0 * np.column_stack([np.sin(angle), np.cos(angle)])
    pieces = [circle[i : i + 2] for i in range(60)]
    cleaned = clean_lines(pieces, 0.0)
    assert len(cleaned.lines) == 1
    assert len(cleaned.joined) == 59


def test_most_metres_decide_the_direction_not_most_lines() -> None:
    lines = [line((0, 40), (0, 0)), line((2.4, 0), (2.4, 100)), line((4.8, 40), (4.8, 0))]
    cleaned = clean_lines(lines, 0.0)
    assert cleaned.bearing_deg == pytest.approx(0.0, abs=1e-9)
    assert cleaned.reversed == (0, 2)
    assert cleaned.sources == ((0,), (1,), (2,))


def test_with_equal_shares_the_longest_line_decides() -> None:
    lines = [line((0, 0), (0, 30)), line((2.4, 50), (2.4, 0)), line((4.8, 0), (4.8, 20))]
    cleaned = clean_lines(lines, 0.0)
    assert cleaned.bearing_deg == pytest.approx(180.0)
    assert cleaned.reversed == (0, 2)
    assert cleaned.sources == ((2,), (1,), (0,))


def test_pieces_of_one_row_are_numbered_along_it() -> None:
    lines = [line((0.05, 60), (0.05, 100)), line((0.1, 0), (0.1, 40)), line((2.4, 0), (2.4, 100))]
    assert clean_lines(lines, 2.0).sources == ((1,), (0,), (2,))


def test_short_rows_beside_bent_ones_keep_their_place() -> None:
    """Rows along a contour: the short one lies between its neighbours, whatever its mean distance across is."""
    along = np.linspace(0.0, 200.0, 41)
    bent = [np.column_stack([along**2 / 800.0 + 3.0 * i, along]) for i in range(4)]
    bent[1] = bent[1][:5]  # at the foot, where all rows lie furthest left
    cleaned = clean_lines([bent[2], bent[1], bent[3], bent[0]], 0.0)
    assert cleaned.sources == ((3,), (1,), (0,), (2,))


def test_crossing_lines_are_told_with_the_place() -> None:
    cleaned = clean_lines([line((0, 0), (4, 60)), line((4, 0), (0, 60))], 0.0)
    (meeting,) = cleaned.meetings
    assert (meeting.first, meeting.second, meeting.x_m, meeting.y_m) == pytest.approx((0, 1, 2.0, 30.0))


@settings(max_examples=60, deadline=None)
@given(st.data())
def test_broken_shuffled_reversed_rows_come_out_as_they_were(data: st.DataObject) -> None:
    """Rows of a field, each broken into pieces with small gaps, in any order and drawn either way."""
    bearing = data.draw(st.floats(0.0, 359.9))
    count = data.draw(st.integers(1, 6))
    spacing = data.draw(st.floats(1.0, 4.0))
    starts = data.draw(st.lists(st.floats(-20.0, 20.0), min_size=count, max_size=count))
    pieces: list[tuple[int, FloatArray]] = []
    for number in range(count):
        cuts = [0.0, *np.cumsum(data.draw(st.lists(st.floats(8.0, 30.0), min_size=1, max_size=4)))]
        for low, high in pairwise(cuts):
            gap = data.draw(st.floats(0.0, 0.9)) if high < cuts[-1] else 0.0
            pieces.append((number, row(number * spacing, starts[number] + low, starts[number] + high - gap, bearing)))
    pieces = data.draw(st.permutations(pieces))
    turned = data.draw(st.lists(st.booleans(), min_size=len(pieces), max_size=len(pieces)))
    lines = [path[::-1] if turn else path for (_, path), turn in zip(pieces, turned, strict=True)]
    cleaned = clean_lines(lines, 1.0)
    assert len(cleaned.lines) == count
    assert len(cleaned.joined) == len(pieces) - count
    assert sorted(index for chain in cleaned.sources for index in chain) == list(range(len(pieces)))
    off = (cleaned.bearing_deg - bearing + 90.0) % 180.0 - 90.0
    assert off == pytest.approx(0.0, abs=1e-6)
    back = abs((cleaned.bearing_deg - bearing + 180.0) % 360.0 - 180.0) > 90.0
    rows_in_order = [pieces[chain[0]][0] for chain in cleaned.sources]
    assert rows_in_order == list(range(count))[:: -1 if back else 1]
    assert set(cleaned.reversed) == {index for index, turn in enumerate(turned) if turn != back}
    for number, path in zip(rows_in_order, cleaned.lines, strict=True):
        mine = shapely.union_all([shapely.LineString(p) for n, p in pieces if n == number])
        assert shapely.LineString(path).hausdorff_distance(mine) < 0.5
        assert (path[-1] - path[0]) @ np.array(direction(cleaned.bearing_deg)) > 0.0


BLOCK = Polygon([(-10, 0), (50, 0), (50, 100), (30, 100), (30, 60), (20, 60), (20, 100), (-10, 100)])


def test_pieces_keep_margin_and_headlands() -> None:
    lines = [line((0, -20), (0, 120)), line((25, 10), (25, 300)), line((70, 0), (70, 50)), line((-9.5, 5), (-9.5, 95))]
    cut = cut_given(lines, BLOCK.buffer(-1.2), BLOCK, 6.0, 8.0, 12.0)
    assert cut.pieces.line.tolist() == [0, 1]
    assert cut.pieces.start_m.tolist() == pytest.approx([26.0, 6.0])
    assert cut.pieces.end_m.tolist() == pytest.approx([112.0, 42.0])
    assert [path.tolist() for path in cut.paths] == [[[0, 6], [0, 92]], [[25, 16], [25, 52]]]
    # The third lies outside; the fourth within the side margin.
    assert (cut.outside, cut.lost, cut.dropped) == ((2,), (3,), 0)


def test_a_hole_cuts_a_line_and_short_pieces_are_counted() -> None:
    area = BLOCK.difference(box(-5, 20, 5, 40))
    cut = cut_given([line((0, -20), (0, 120))], area.buffer(-1.2), area, 6.0, 6.0, 12.0)
    assert cut.pieces.start_m.tolist() == pytest.approx([66.0])
    assert cut.dropped == 1
    assert cut.dropped_m == pytest.approx(8.0)
    assert (cut.outside, cut.lost) == ((), ())


def test_a_line_that_touches_an_edge_from_within_stays_whole() -> None:
    area = Polygon([(0, 0), (40, 0), (40, 30), (20, 20), (0, 30)])
    cut = cut_given([line((2, 20), (10, 20), (38, 20))], area, area, 0.0, 0.0, 1.0)
    assert cut.paths[0] == pytest.approx(np.array([[2, 20], [10, 20], [38, 20]]))


@settings(max_examples=80, deadline=None)
@given(
    st.lists(st.tuples(st.floats(-30, 130), st.floats(-30, 130)), min_size=2, max_size=6, unique=True),
    st.floats(0.0, 10.0),
    st.floats(0.0, 10.0),
)
def test_pieces_are_what_is_left_of_the_intersection(
    places: list[tuple[float, float]], start_m: float, end_m: float
) -> None:
    path = np.array(places)
    drawn = shapely.LineString(path)
    if not drawn.is_simple or np.hypot(*np.diff(path, axis=0).T).min() < 0.01:
        return
    margin = BLOCK.buffer(-1.2)
    bare = cut_given([path], margin, BLOCK, 0.0, 0.0, 0.0)
    assert sum(shapely.LineString(p).length for p in bare.paths) == pytest.approx(
        drawn.intersection(margin).length, abs=1e-6
    )
    cut = cut_given([path], margin, BLOCK, start_m, end_m, 5.0)
    whole = cut_given([path], BLOCK, BLOCK, 0.0, 0.0, 0.0)
    for piece, low, high in zip(cut.paths, cut.pieces.start_m, cut.pieces.end_m, strict=True):
        made = shapely.LineString(piece)
        assert made.length == pytest.approx(high - low, abs=1e-6)
        assert made.length >= 5.0 - 1e-9
        assert margin.buffer(1e-6).covers(made)
        holder = np.flatnonzero((whole.pieces.start_m <= low) & (high <= whole.pieces.end_m))
        assert len(holder) == 1
        assert low - whole.pieces.start_m[holder[0]] >= start_m - 1e-6
        assert whole.pieces.end_m[holder[0]] - high >= end_m - 1e-6
