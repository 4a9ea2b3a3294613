"""Which adjuster a take-up gets; and what posts and knots bear, summed by hand."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from wirerun.arrays import FloatArray
from wirerun.findings import Findings
from wirerun.model.layout import Posts
from wirerun.model.moved_wires import Drop, Lift, Lifts, Lying, Slack
from wirerun.model.wires import InState, WireStates
from wirerun.settings import AdjusterKind, Config, PostSettings, WireSettings
from wirerun.stages.wires.adjusters import choose_adjusters
from wirerun.stages.wires.post_loads import load_posts
from wirerun.stages.wires.ways_down import choose_ways
from wirerun.state import State

TIE = AdjusterKind(id="wrap-on tie", least_mm=0.0, most_mm=150.0, tail_m=0.3)
WINDER = AdjusterKind(id="winding strainer", least_mm=50.0, most_mm=600.0, tail_m=0.6, barrel_mm=40.0)
WIRES = (
    WireSettings(id="fruiting", kind="fixed", height_m=0.9, tension_n=1000.0, breaking_n=4000.0, knot_efficiency=0.5),
    WireSettings(id="lower", kind="foliage", height_m=1.2, lines=2, breaking_n=4000.0, knot_efficiency=0.5),
)


def config(*kinds: AdjusterKind, **states: float) -> Config:
    return Config.model_validate(
        {
            "name": "x",
            "block": {"boundary": "b"},
            "elevation": {"raster": "r"},
            "rows": {"bearing_deg": 0.0, "spacing_m": 2.4},
            "wires": [wire.model_dump() for wire in WIRES],
            "adjusters": {"kinds": [kind.model_dump() for kind in kinds]},
            "states": states,
        }
    )


def slack(lift_mm: FloatArray, park_mm: FloatArray | None = None, lifted_n: float = 900.0) -> Slack:
    """Slack of so many millimetres; NaN where the wire has nowhere to go."""
    park = np.full(lift_mm.shape, np.nan) if park_mm is None else park_mm
    return Slack(np.where(np.isnan(lift_mm), np.nan, lifted_n), np.where(np.isnan(park), np.nan, 700.0), lift_mm, park)


NO_SLACK = slack(np.full((2, 4), np.nan))


def test_the_first_kind_that_reaches_is_taken(stand: Callable[..., Posts]) -> None:
    rows, notes = stand([0.0] * 2, [0.0] * 2, [0.0] * 2, [0.0] * 2).rows, Findings("B01")
    take_up = np.array([[np.nan] * 4, [0.0, 150.0, 150.1, 600.1]])
    made = choose_adjusters(rows, take_up, NO_SLACK, config(TIE, WINDER), notes)
    assert made.needed.tolist() == [[False] * 4, [False, True, True, True]]
    assert list(made.kind[1]) == [None, "wrap-on tie", "winding strainer", None]
    assert made.tail_m[1].tolist() == [0.0, 0.3, 0.6, 0.0]
    # A barrel of 40 mm takes 125.7 mm a turn.
    assert made.turns[1] == pytest.approx([np.nan, np.nan, 150.1 / (40.0 * np.pi), np.nan], nan_ok=True)
    (note,) = notes
    assert note.message == (
        "No adjuster of the config takes up 600 mm, needed in 1 row; one end of the wire has to be undone there "
        "each winter: B01-R004."
    )
    assert made.fitted.tolist() == [[False] * 4, [False, True, True, False]]


def test_a_kind_reaches_from_its_least_to_its_most(stand: Callable[..., Posts]) -> None:
    take_up = np.array([[np.nan] * 4, [49.9, 50.0, 600.0, 600.1]])
    made = choose_adjusters(stand(*[[0.0] * 2] * 4).rows, take_up, NO_SLACK, config(WINDER), Findings())
    assert list(made.kind[1]) == [None, "winding strainer", "winding strainer", None]


def test_without_kinds_every_need_is_told(stand: Callable[..., Posts]) -> None:
    notes = Findings("B01")
    take_up, none = np.array([[np.nan], [20.0]]), slack(np.full((2, 1), np.nan))
    made = choose_adjusters(stand([0.0] * 2).rows, take_up, none, config(), notes)
    assert list(made.kind[1]) == [None]
    assert [note.code for note in notes] == ["no-adjuster"]


def test_an_adjuster_gives_what_lifting_asks_for_too(stand: Callable[..., Posts]) -> None:
    """Down by 40 and up by 200 mm; up alone by 30 mm; down by 100 and up by 900 mm; down alone by 60 mm."""
    rows, notes = stand(*[[0.0] * 2] * 4).rows, Findings("B01")
    take_up = np.array([[np.nan] * 4, [40.0, 0.0, 100.0, 60.0]])
    lift = np.array([[np.nan] * 4, [200.0, 30.0, 900.0, 0.0]])
    made = choose_adjusters(rows, take_up, slack(lift), config(TIE, WINDER), notes)
    assert made.take_up_mm[1].tolist() == [200.0, 30.0, 100.0, 60.0]
    assert made.kind[1].tolist() == ["winding strainer", "wrap-on tie", "wrap-on tie", "wrap-on tie"]
    assert made.down_mm[1].tolist() == [40.0, 0.0, 100.0, 60.0]
    assert made.lift_mm[1].tolist() == [200.0, 30.0, 900.0, 0.0]
    assert [note.code for note in notes] == ["lift-slack", "lift-too-tight"]
    assert (
        "wire lower passes the 600 N that a hand moves (states.lift_limit_n) in 2 rows, up to 900 N" in notes[0].message
    )
    assert notes[1].message.endswith("B01-R003.")


def test_a_parked_wire_is_let_out_by_what_parking_asks(stand: Callable[..., Posts]) -> None:
    rows, notes = stand([0.0] * 2, [0.0] * 2).rows, Findings("B01")
    none, park = np.full((2, 2), np.nan), np.array([[np.nan] * 2, [80.0, 0.0]])
    made = choose_adjusters(rows, np.array([[np.nan] * 2, [0.0, 0.0]]), slack(none, park), config(TIE, WINDER), notes)
    assert made.needed[1].tolist() == [True, False]
    assert made.down_mm[1].tolist() == [80.0, 0.0]
    drop = drop_of([0.3, 0.3], made.down_mm[1])
    ways = choose_ways(drop, slack(none, park), np.array([[False] * 2, [True] * 2]), made)
    assert ways.way.tolist() == [[None, None], ["park", "park"]]
    assert ways.reason[1].tolist() == [
        "parked, by hand at 700 N; wrap-on tie lets it out by 80 mm",
        "parked, by hand at 700 N",
    ]


def drop_of(clear: list[float], take_up_mm: FloatArray, lacks_mm: FloatArray | float = 0.0) -> Drop:
    """The lower wire freed with so much of the middle clear; the fixed one stays up."""
    wide = np.full((2, len(clear)), np.nan)
    shares, out, lacks = wide.copy(), wide.copy(), wide.copy()
    shares[1], out[1], lacks[1] = clear, take_up_mm, lacks_mm
    lying = Lying(shares, wide, wide)
    return Drop(np.array([np.nan, 0.807]), wide, np.full((2, 3), np.nan), lying, lying, out, lacks)


def test_of_three_ways_down_the_least_that_will_do_is_taken(stand: Callable[..., Posts]) -> None:
    rows = stand(*[[0.0] * 2] * 4).rows
    take_up, lacks = np.array([0.0, 0.0, 120.0, 900.0]), np.array([0.0, 6.0, 0.0, 0.0])
    drop = drop_of([0.93, 0.8, 0.54, 0.2], take_up, lacks)
    made = choose_adjusters(rows, drop.take_up_mm, NO_SLACK, config(TIE, WINDER), Findings())
    ways = choose_ways(drop, NO_SLACK, np.zeros((2, 4), dtype=bool), made)
    assert ways.way[1].tolist() == ["nothing", "nothing", "adjuster", "undo an end"]
    assert ways.reason[1].tolist() == [
        "93 % of its middle is clear, 81 % asked",
        "80 % of its middle is clear, 81 % asked; lacks 6 mm, not worth an adjuster",
        "54 % of its middle is clear, 81 % asked; wrap-on tie lets it out by 120 mm",
        "20 % of its middle is clear, 81 % asked; no adjuster takes up 900 mm",
    ]
    assert ways.way[0].tolist() == [None] * 4


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
        strung=np.array([[-10.0], [-20.0]]),
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
    loads = load_posts(posts, year(posts, strung=np.array([[3.0], [4.0]])), NO_LIFTS, WIRES, PostSettings(), Findings())
    assert loads.uplift_n[1] == 0.0


def test_end_posts_bear_pull_and_moment_of_all_lines(
    stand: Callable[..., Posts], year: Callable[..., WireStates]
) -> None:
    """Cold, first post: 1400 + 2 * 540 = 2480 N, 1400 * 0.9 + 1080 * 1.2 = 2556 Nm; let down, far: 1000 + 2 * 900 N."""
    posts, notes = stand([0.0] * 3), Findings("B01")
    states = year(posts, strung=np.array([[1.0], [1.0]]), cold=np.array([[1.0], [1.0]]))
    tight = [[1000.0], [300.0]]
    states = with_ends(states, State.STRUNG, start_pull_n=tight, far_pull_n=tight, start_n=tight, far_n=tight)
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
    states = year(posts, strung=np.array([[1.0], [1.0]]))
    tight = [[900.0], [300.0]]
    states = with_ends(states, State.STRUNG, start_pull_n=tight, far_pull_n=tight, start_n=tight, far_n=tight)
    states = with_ends(states, State.LIFTED, start_pull_n=[[np.nan], [400.0]])
    loads = load_posts(posts, states, lifts, moving, PostSettings(), Findings())
    assert loads.end_moment_nm[0] == pytest.approx(1970.0)
    still = load_posts(posts, states, lifts, WIRES, PostSettings(), Findings())
    assert still.end_moment_nm[0] == pytest.approx(1770.0)
