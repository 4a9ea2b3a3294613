"""Which adjuster a take-up gets; and what posts and knots bear, summed by hand."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from wirerun.findings import Findings
from wirerun.model.layout import Posts
from wirerun.model.wires import InState, Lift, Lifts, WireStates
from wirerun.settings import AdjusterKind, AdjusterSettings, PostSettings, WireSettings
from wirerun.stages.wires.adjusters import choose_adjusters
from wirerun.stages.wires.post_loads import load_posts
from wirerun.state import State

TIE = AdjusterKind(id="wrap-on tie", least_mm=0.0, most_mm=150.0, tail_m=0.3)
WINDER = AdjusterKind(id="winding strainer", least_mm=50.0, most_mm=600.0, tail_m=0.6, barrel_mm=40.0)
WIRES = (
    WireSettings(id="fruiting", kind="fixed", height_m=0.9, tension_n=1000.0, breaking_n=4000.0, knot_efficiency=0.5),
    WireSettings(id="lower", kind="foliage", height_m=1.2, lines=2, breaking_n=4000.0, knot_efficiency=0.5),
)


def test_the_first_kind_that_reaches_is_taken(stand: Callable[..., Posts]) -> None:
    rows, notes = stand([0.0] * 2, [0.0] * 2, [0.0] * 2, [0.0] * 2).rows, Findings("B01")
    take_up = np.array([[np.nan] * 4, [0.0, 150.0, 150.1, 600.1]])
    made = choose_adjusters(rows, take_up, AdjusterSettings(kinds=(TIE, WINDER)), notes)
    assert made.needed.tolist() == [[False] * 4, [False, True, True, True]]
    assert list(made.kind[1]) == [None, "wrap-on tie", "winding strainer", None]
    assert made.tail_m[1].tolist() == [0.0, 0.3, 0.6, 0.0]
    # A barrel of 40 mm takes 125.7 mm a turn.
    assert made.turns[1] == pytest.approx([np.nan, np.nan, 150.1 / (40.0 * np.pi), np.nan], nan_ok=True)
    (note,) = notes
    assert note.message == "No adjuster of the config takes up 600 to 600 mm, needed in 1 row: B01-R004."


def test_without_kinds_every_need_is_told(stand: Callable[..., Posts]) -> None:
    notes = Findings("B01")
    made = choose_adjusters(stand([0.0] * 2).rows, np.array([[20.0]]), AdjusterSettings(), notes)
    assert list(made.kind[0]) == [None]
    assert [note.code for note in notes] == ["no-adjuster"]


NO_LIFTS = Lifts((), np.empty(0))


def with_ends(states: WireStates, state: State, **forces: list[list[float]]) -> WireStates:
    """States in one of which the end forces are given, [wire, row] each."""
    old = states[state]
    ends = replace(old.ends, **{name: np.array(values) for name, values in forces.items()})
    return WireStates.of(
        InState(state, old.load_n, old.tension_n, ends) if s.state is state else s for s in states.states
    )


def test_uplift_is_the_worst_sum_over_wires_in_one_state(
    stand: Callable[..., Posts], year: Callable[..., WireStates]
) -> None:
    """Strung: -10 - 2 * 20 = -50 N. Cold: -30 + 2 * 5 = -20 N. Lifted: -10 as strung - 2 * 40 = -90 N."""
    posts, nan, notes = stand([0.0] * 3), np.nan, Findings("B01")
    states = year(
        posts,
        tight=np.array([[-10.0], [-20.0]]),
        cold=np.array([[-30.0], [5.0]]),
        hot=np.array([[1.0], [1.0]]),
        lifted=np.array([[nan], [-40.0]]),
    )
    loads = load_posts(posts, states, NO_LIFTS, WIRES, PostSettings(post_pull_out_n=120.0, pull_out_factor=1.5), notes)
    assert loads.uplift_n[1] == pytest.approx(90.0)
    assert np.isnan(loads.uplift_n[posts.is_end]).all()
    assert [note.code for note in notes] == ["post-uplift", "end-posts"]
    assert notes[0].message.startswith(
        "1 post is pulled up by more than 80 N (post_pull_out_n = 120 over a factor of 1.5)"
    )


def test_a_post_that_all_states_press_down_has_no_uplift(
    stand: Callable[..., Posts], year: Callable[..., WireStates]
) -> None:
    posts = stand([0.0] * 3)
    loads = load_posts(posts, year(posts, tight=np.array([[3.0], [4.0]])), NO_LIFTS, WIRES, PostSettings(), Findings())
    assert loads.uplift_n[1] == 0.0


def test_end_posts_bear_pull_and_moment_of_all_lines(
    stand: Callable[..., Posts], year: Callable[..., WireStates]
) -> None:
    """Cold, first post: 1400 + 2 * 540 = 2480 N, 1400 * 0.9 + 1080 * 1.2 = 2556 Nm; let down, far: 1000 + 2 * 900 N."""
    posts, notes = stand([0.0] * 3), Findings("B01")
    states = year(posts, tight=np.array([[1.0], [1.0]]), cold=np.array([[1.0], [1.0]]))
    tight = [[1000.0], [300.0]]
    states = with_ends(states, State.TIGHT, start_pull_n=tight, far_pull_n=tight, start_n=tight, far_n=tight)
    states = with_ends(states, State.COLD, start_pull_n=[[1400.0], [540.0]], start_n=[[2100.0], [545.0]])
    states = with_ends(states, State.DROPPED, far_pull_n=[[np.nan], [900.0]])
    loads = load_posts(posts, states, NO_LIFTS, WIRES, PostSettings(), notes)
    assert loads.end_pull_n[0] == pytest.approx(2480.0)
    assert loads.end_moment_nm[0] == pytest.approx(2556.0)
    assert loads.end_pull_n[2] == pytest.approx(2800.0)
    assert loads.end_moment_nm[2] == pytest.approx(900.0 + 1800.0 * 1.2)
    assert np.isnan(loads.end_pull_n[1])
    assert loads.greatest_tension_n[:, 0] == pytest.approx([2100.0, 545.0])
    assert [note.code for note in notes] == ["knot-overload", "end-posts"]
    assert "Wire fruiting reaches 2100 N, more than the 2000 N its end knot bears, in 1 row" in notes[0].message
    assert "2800 N" in notes[1].message
    assert "(B01-R001-P003)" in notes[1].message


def test_ends_that_move_pull_at_the_height_they_are_lifted_to(
    stand: Callable[..., Posts], year: Callable[..., WireStates]
) -> None:
    """Lifted to 1.45 m with its ends: 900 * 0.9 + 2 * 400 * 1.45 = 1970 Nm; at its own 1.2 m it would be 1770 Nm."""
    posts, one = stand([0.0] * 3), np.zeros(1)
    moving = (WIRES[0], WIRES[1].model_copy(update={"ends_move": True}))
    lifts = Lifts((Lift(1, "lifted", 1.45, np.array([0]), one, one, one, one, one, one),), np.empty(0))
    states = year(posts, tight=np.array([[1.0], [1.0]]))
    tight = [[900.0], [300.0]]
    states = with_ends(states, State.TIGHT, start_pull_n=tight, far_pull_n=tight, start_n=tight, far_n=tight)
    states = with_ends(states, State.LIFTED, start_pull_n=[[np.nan], [400.0]])
    loads = load_posts(posts, states, lifts, moving, PostSettings(), Findings())
    assert loads.end_moment_nm[0] == pytest.approx(1970.0)
    still = load_posts(posts, states, lifts, WIRES, PostSettings(), Findings())
    assert still.end_moment_nm[0] == pytest.approx(1770.0)
