"""Values between the chapters refuse what does not keep their promises, and say what."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from wirerun.arrays import no_words, words
from wirerun.errors import ModelError
from wirerun.geometry.places import LonLat, PlaneXY
from wirerun.geometry.station import Paths
from wirerun.model.clips import Sections
from wirerun.model.layout import Posts, Rows
from wirerun.model.wires import InState, RowEnds, WireStates
from wirerun.state import IN_CLIPS, State


def three_rows() -> Posts:
    """Rows of 4, 2 and 3 posts."""
    row = np.repeat([0, 1, 2], [4, 2, 3])
    station = 6.0 * np.array([0, 1, 2, 3, 0, 1, 0, 1, 2])
    paths = Paths.straight(np.zeros((3, 2)), np.array([[0.0, 18.0], [0.0, 6.0], [0.0, 12.0]]))
    rows = Rows("B01", words(["a", "b", "c"]), np.zeros(3), np.array([18.0, 6.0, 12.0]), paths)
    ids = words(f"P{number}" for number in range(9))
    return Posts(rows, row, ids, station, paths.place(row, station), np.arange(9.0), station, np.zeros(9))


def test_posts_know_their_rows_and_spans() -> None:
    posts = three_rows()
    assert posts.first.tolist() == [0, 4, 6]
    assert posts.last.tolist() == [3, 5, 8]
    assert posts.middle.tolist() == [1, 2, 7]
    assert posts.near.tolist() == [0, 1, 2, 4, 6, 7]
    assert posts.dx_m.tolist() == [6.0] * 6
    assert posts.rise_m.tolist() == [1.0] * 6
    np.testing.assert_allclose(posts.steepest_pct, 100.0 / 6.0)
    assert list(posts.row_id) == list("aaaabbccc")


def test_a_tape_on_the_ground_reads_the_slope_and_begins_anew_in_each_row() -> None:
    """Spans of 6 m that rise by 1, then by 2.5 m: hypot(6, 1) is 6.0828, hypot(6, 2.5) is 6.5 to the last digit."""
    posts = replace(three_rows(), ground_m=np.array([0.0, 2.5, 0.0, -2.5, 7.0, 9.5, 0.0, 0.0, 1.0]))
    expected = [0.0, 6.5, 13.0, 19.5, 0.0, 6.5, 0.0, 6.0, 6.0 + np.sqrt(37.0)]
    assert posts.taped_m.tolist() == pytest.approx(expected)


def test_supports_stand_at_one_height_at_the_ends_and_another_between() -> None:
    supports = three_rows().supports(1.2, 1.45, in_clips=True)
    above = supports.z_m - np.arange(9.0)
    assert above.tolist() == pytest.approx([1.2, 1.45, 1.45, 1.2, 1.2, 1.2, 1.2, 1.45, 1.2])


@pytest.mark.parametrize(
    ("wrong", "says"),
    [
        ({"ground_m": np.zeros(8)}, r"ground_m has the shape \(8,\) where \(9,\) is promised"),
        ({"ground_m": np.where(np.arange(9) == 5, np.nan, 0.0)}, "ground_m is nan at 5"),
        ({"row": np.array([0, 0, 0, 0, 1, 0, 2, 2, 2])}, "row is 0 at 5, after 1"),
        ({"row": np.array([0, 0, 0, 0, 2, 2, 2, 2, 2])}, "row is 2 at 4, after 0"),
        ({"row": np.array([0, 0, 0, 0, 1, 1, 1, 1, 1])}, "row ends at 1; there are 3 rows"),
        ({"row": np.array([0, 0, 0, 0, 0, 1, 2, 2, 2])}, "does not rise|has one post"),
        ({"along_m": np.zeros(9)}, "does not rise from P0 to the next"),
    ],
)
def test_posts_that_make_no_rows_are_refused(wrong: dict[str, Any], says: str) -> None:
    with pytest.raises(ModelError, match=says):
        replace(three_rows(), **wrong)


def test_a_row_id_twice_is_refused() -> None:
    rows = three_rows().rows
    with pytest.raises(ModelError, match="an id twice"):
        replace(rows, row_id=words(["a", "b", "a"]))


def in_state(state: State, wires: int = 2, posts: int = 9, rows: int = 3) -> InState:
    """A state whose numbers say which it is."""
    load = np.full((wires, posts), float(state.axis))
    return InState(state, load, load + 100.0, RowEnds(*[np.full((wires, rows), 1.0)] * 4))


def test_states_stand_on_their_axis_in_whatever_order_they_come() -> None:
    states = WireStates.of(in_state(state) for state in reversed(State))
    assert states.load_n.shape == (2, 9, len(IN_CLIPS))
    for number, state in enumerate(IN_CLIPS):
        assert (states.load_n[..., number] == state.axis).all()
        assert (states.tension_n[..., number] == 100.0 + state.axis).all()
    assert states[State.DROPPED].state is State.DROPPED


def test_a_missing_state_or_another_number_of_posts_is_refused() -> None:
    with pytest.raises(ModelError, match="all states in order are promised"):
        WireStates.of(in_state(state) for state in IN_CLIPS)
    with pytest.raises(ModelError, match=r"load_n has the shape \(2, 8\)"):
        WireStates.of(in_state(state, posts=8 if state is State.HOT else 9) for state in State)
    with pytest.raises(ModelError, match="tension_n has the shape"):
        InState(State.STRUNG, np.zeros((2, 9)), np.zeros((2, 8)), in_state(State.STRUNG).ends)


def test_sections_find_their_posts() -> None:
    ends = np.array([1, 7]), np.array([2, 7])
    none = np.zeros(2)
    sections = Sections(words(["u", "v"]), *ends, none, none, none, none)
    assert sections.at_posts(9).tolist() == [-1, 0, 0, -1, -1, -1, -1, 1, -1]
    posts, none = np.empty(0, dtype=np.int64), np.empty(0)
    empty = Sections(no_words(0), posts, posts, none, none, none, none)
    assert empty.at_posts(3).tolist() == [-1, -1, -1]


@pytest.mark.parametrize("kind", [PlaneXY, LonLat])
def test_places_need_both_their_numbers(kind: Callable[..., object]) -> None:
    with pytest.raises(ModelError, match=r"\(2,\) of one and \(3,\) of the other"):
        kind(np.zeros(2), np.zeros(3))


def test_a_place_on_the_plane_is_none_on_the_globe() -> None:
    """The two have no field in common, so that one cannot pass for the other even where nobody checks types."""
    plane = PlaneXY(np.zeros(1), np.zeros(1))
    assert not hasattr(plane, "lon")
    assert not hasattr(LonLat(plane.x_m, plane.y_m), "x_m")
