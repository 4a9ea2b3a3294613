"""How sure the need of a clip is, by the normal distribution worked out by hand; and what a clip asks for others."""

from collections.abc import Callable

import numpy as np
import pytest
from scipy.special import ndtr
from wirerun.arrays import BoolArray, FloatArray
from wirerun.findings import Findings
from wirerun.mechanics.load_posterior import LoadPosterior
from wirerun.model.clips import Need, PostNeed, Sections
from wirerun.model.layout import Posts
from wirerun.model.moved_wires import Lifts
from wirerun.model.wires import WireStates
from wirerun.rules.look_on_site import LookMinutes
from wirerun.settings import UndulationSettings
from wirerun.stages.clips.choose_clips import choose_clips, what_posts_ask
from wirerun.stages.clips.undulation import find_sections, judge_if_held, judge_need
from wirerun.state import IN_CLIPS, State

Stand = Callable[..., Posts]
Year = Callable[..., WireStates]
MINUTES = LookMinutes(look=2.0, come_back=6.0)
AXIS = {state: number for number, state in enumerate(IN_CLIPS)}


def known_by(posts: Posts, kinds: FloatArray) -> LoadPosterior:
    """Error of the load; kinds of ground are lines of weight, error and what is left of it, at 1 N."""
    each = np.repeat(kinds[:, None, :], len(posts), axis=1)
    return LoadPosterior(each[..., 0].T, each[..., 1].T, each[..., 2].T, each[..., 2].T, each[0, :, 2], np.nan, np.nan)


def judged(
    posts: Posts, states: WireStates, kinds: FloatArray, marking_m: float = 0.0, lifted_n: float = np.nan
) -> Need:
    """Need of one wire's clips."""
    known = known_by(posts, kinds)
    lifts = Lifts((), np.full((1, len(posts)), lifted_n))
    return judge_need(posts, known, states, lifts, marking_m, 5.0)


def test_kinds_of_ground_count_by_their_weight(stand: Stand, year: Year) -> None:
    """300 N, 3 N down as seen; a kind sees the load 6 N lower with 3 N left, another 3 N higher with 9 N left."""
    posts = stand([0.0] * 3)
    kinds = np.array([[0.7, 0.02, 0.01], [0.3, -0.01, 0.03]])
    need = judged(posts, year(posts, strung=np.array([[3.0]])), kinds)
    up = 0.7 * ndtr((-5.0 + 3.0) / 3.0) + 0.3 * ndtr((-5.0 - 6.0) / 9.0)
    down = 0.7 * ndtr((-3.0 - 5.0) / 3.0) + 0.3 * ndtr((6.0 - 5.0) / 9.0)
    assert need.need[0, 1] == pytest.approx(up, rel=1e-9)
    assert need.bears_down[0, 1] == pytest.approx(down, rel=1e-9)
    assert need.by_ground[0, 1] == pytest.approx(up, rel=1e-9)


def test_the_error_with_which_clips_are_set_is_none_of_the_grounds(stand: Stand, year: Year) -> None:
    """1 cm at each of three clips over 6 m spans: sqrt(1 + 4 + 1)/6 hundredths of 300 N, 1.2247 N, beside 3 N."""
    posts = stand([0.0] * 3)
    need = judged(posts, year(posts, strung=np.array([[-4.0]])), np.array([[1.0, 0.0, 0.01]]), marking_m=0.01)
    assert need.need[0, 1] == pytest.approx(ndtr(-1.0 / np.hypot(3.0, 3.0 * np.sqrt(6.0) / 6.0)), rel=1e-9)
    assert need.by_ground[0, 1] == pytest.approx(ndtr(-1.0 / 3.0), rel=1e-9)
    assert need.certainty[0, 1] == "possible"


def test_the_worst_state_decides_and_a_lift_can_press_hardest(stand: Stand, year: Year) -> None:
    """Lifted to a higher clip the wire presses with 20 N; at its own clip it never does."""
    posts = stand([0.0] * 3)
    states = year(
        posts,
        strung=np.array([[-2.0]]),
        cold=np.array([[-8.0]]),
        cold_tension=np.array([[500.0]]),
        lifted=np.array([[-1.0]]),
        lifted_tension=np.array([[400.0]]),
    )
    kinds = np.array([[1.0, 0.0, 0.01]])
    need = judged(posts, states, kinds, lifted_n=20.0)
    assert need.probability[0, 1, AXIS[State.STRUNG]] == pytest.approx(ndtr(-3.0 / 3.0), rel=1e-9)
    assert need.probability[0, 1, AXIS[State.COLD]] == pytest.approx(ndtr(3.0 / 5.0), rel=1e-9)
    assert need.need[0, 1] == need.probability[0, 1, AXIS[State.COLD]]
    assert (need.least_n[0, 1], need.greatest_n[0, 1]) == (-8.0, 20.0)
    assert need.bears_down[0, 1] == pytest.approx(ndtr(15.0 / 4.0), rel=1e-9)
    assert judged(posts, states, kinds).greatest_n[0, 1] == -1.0


def test_if_clips_held_more_only_the_need_would_be_another(stand: Stand, year: Year) -> None:
    """8 N up as seen, 6 N strung, 3 N left of it and 1.2247 N by the crew: 10 N are held, not 5."""
    posts = stand([0.0] * 3)
    states = year(posts, strung=np.array([[-6.0]]), cold=np.array([[-8.0]]))
    kinds = np.array([[1.0, 0.0, 0.01]])
    need, sigma = judged(posts, states, kinds, marking_m=0.01), np.hypot(3.0, 3.0 * np.sqrt(6.0) / 6.0)
    other = judge_if_held(need, posts, known_by(posts, kinds), states, 0.01, 10.0)
    assert need.need[0, 1] == pytest.approx(ndtr(3.0 / sigma), rel=1e-9)
    assert other.need[0, 1] == pytest.approx(ndtr(-2.0 / sigma), rel=1e-9)
    assert other.probability[0, 1, AXIS[State.STRUNG]] == pytest.approx(ndtr(-4.0 / sigma), rel=1e-9)
    assert (other.certainty, other.bears_down) == (need.certainty, need.bears_down)


def chosen(
    posts: Posts, states: WireStates, serves: BoolArray | None = None, **changes: float
) -> tuple[list[list[str | None]], PostNeed, Findings]:
    """Clip of each wire and intermediate post, and what the posts ask for; all wires in clips, heights sure."""
    wires, settings, notes = len(states.load_n), UndulationSettings.model_validate(changes), Findings("B01")
    one, sure = np.ones((len(posts), 1)), np.full((len(posts), 1), 1e-6)
    known = LoadPosterior(one, 0.0 * one, sure, sure, sure[:, 0], np.nan, np.nan)
    lifts = Lifts((), np.full((wires, len(posts)), np.nan))
    need = judge_need(posts, known, states, lifts, 0.0, settings.hold_down_n)
    clipped = np.ones(wires, dtype=bool)
    sections = find_sections(posts, np.zeros(len(posts)), need, clipped, settings)
    none = np.zeros((wires, wires, len(posts)), dtype=bool)
    made = choose_clips(posts, states, need, sections, ~clipped, none if serves is None else serves, settings, MINUTES)
    asked = what_posts_ask(posts, need, made, settings, MINUTES, notes)
    return made.kind[:, posts.middle].tolist(), asked, notes


def test_a_clip_into_which_another_wire_is_lifted_holds_that_too(stand: Stand, year: Year) -> None:
    """The upper wire is pulled aside at every post; the lower wire's clip takes it at the second one only."""
    posts = stand([0.0] * 5, turn_rad=0.1)
    tension = np.array([[100.0] * 3, [300.0] * 3])  # 10 N and 30 N to the side
    states = year(posts, strung=np.full((2, 3), 4.0), strung_tension=tension)
    serves = np.zeros((2, 2, 5), dtype=bool)
    serves[0, 1, 2] = True
    kind, _, _ = chosen(posts, states, serves, hold_side_n=20.0)
    assert kind == [["one-way", "two-way", "one-way"], ["two-way"] * 3]
    kind, _, _ = chosen(posts, states, serves.swapaxes(0, 1), hold_side_n=20.0)
    assert kind == [["one-way"] * 3, ["two-way"] * 3]


def test_each_reason_is_the_first_state_that_asks(stand: Stand, year: Year) -> None:
    """Strung before lifted, lifted before cold, cold before hot; between two of them a post is taken in."""
    posts = stand([0.0] * 8)
    nothing = np.full((1, 6), 3.0)
    pulls = {"strung": [0, 5], "lifted": [0, 1], "cold": [0, 1, 2], "hot": [0, 1, 2, 3]}
    loads = {name: nothing.copy() for name in pulls}
    for name, at in pulls.items():
        loads[name][0, at] = -9.0
    kind, asked, _ = chosen(posts, year(posts, **loads), join_posts=1)
    assert kind == [["two-way"] * 6]
    assert list(asked.reason[posts.middle]) == ["strung", "lifted", "cold", "hot", "section", "strung"]


def test_a_load_that_is_not_known_asks_for_nothing_and_says_so(stand: Stand, year: Year) -> None:
    posts = stand([0.0] * 5)
    kind, asked, notes = chosen(posts, year(posts, strung=np.array([[-9.0, np.nan, 3.0], [4.0, np.nan, np.nan]])))
    assert kind == [["two-way", None, "one-way"], ["two-way", None, None]]
    assert list(asked.ask) == ["none", "two-way", "unknown", "one-way", "none"]
    assert list(asked.reason[posts.middle]) == ["strung", None, None]
    assert list(notes) == []


def test_without_a_wire_in_clips_there_is_no_section(stand: Stand, year: Year) -> None:
    posts = stand([0.0] * 4)
    need = judged(posts, year(posts, strung=np.array([[-50.0, -50.0]])), np.array([[1.0, 0.0, 0.01]]))
    found = find_sections(posts, np.zeros(4), need, np.zeros(1, dtype=bool), UndulationSettings())
    assert isinstance(found, Sections)
    assert len(found) == 0
    assert len(find_sections(posts, np.zeros(4), need, np.ones(1, dtype=bool), UndulationSettings())) == 1
