"""Sections, certainty, clip, seat and what posts ask for, on short hand-made rows."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
import pytest
from wirerun.arrays import FloatArray
from wirerun.findings import Findings
from wirerun.mechanics.load_posterior import LoadPosterior
from wirerun.mechanics.undulation import grade_changes, load_sigma
from wirerun.model.clips import Clips, Need, PostNeed, Sections
from wirerun.model.layout import Bridges, Posts
from wirerun.model.moved_wires import Lifts
from wirerun.model.wires import WireStates
from wirerun.rules.look_on_site import LookMinutes
from wirerun.settings import UndulationSettings
from wirerun.stages.clips.choose_clips import choose_clips, what_posts_ask
from wirerun.stages.clips.undulation import find_sections, judge_need
from wirerun.state import IN_CLIPS, State

MINUTES = LookMinutes(look=2.0, come_back=6.0)
STAPLED = np.array([True, False])  # the fruiting wire, which pulls up 100 N everywhere, and a foliage wire


@dataclass(frozen=True)
class Made:
    """What came of one case; `lower` are its intermediate posts on the foliage wire."""

    posts: Posts
    need: Need
    sections: Sections
    clips: Clips
    asked: PostNeed
    notes: Findings

    def lower(self, values: Any) -> list[Any]:  # noqa: ANN401 - an array of any kind
        """Values of the foliage wire at the intermediate posts."""
        return list(values[1, self.posts.middle])


def decide(
    posts: Posts,
    states: WireStates,
    accuracy_m: float = 0.0,
    bridges: Bridges | None = None,
    **changes: Any,  # noqa: ANN401 - settings
) -> Made:
    settings = UndulationSettings.model_validate(changes)
    notes = Findings("B01")
    none = Lifts((), np.full((2, len(posts)), np.nan))
    bridged = np.zeros(len(posts)) if bridges is None else np.nan_to_num(bridges.error_m)
    # The error of each load by itself: what neighbours tell of it is another matter, and tested there.
    alone = load_sigma(posts.feet, 1.0, accuracy_m, 0.0, 0.0, bridged)
    one, left = np.ones((len(posts), 1)), alone[:, None]
    known = LoadPosterior(one, 0.0 * one, left, left, alone, np.nan, np.nan)
    need = judge_need(posts, known, states, none, 0.0, settings.hold_down_n)
    grade = 100.0 * grade_changes(posts.supports(0.0, in_clips=True))
    sections = find_sections(posts, grade, need, ~STAPLED, settings)
    clips = choose_clips(
        posts, states, need, sections, STAPLED, np.zeros((2, 2, len(posts)), dtype=bool), settings, MINUTES
    )
    return Made(posts, need, sections, clips, what_posts_ask(posts, need, clips, settings, MINUTES, notes), notes)


@pytest.fixture
def plan(stand: Callable[..., Posts], year: Callable[..., WireStates]) -> Callable[..., Made]:
    """Two level rows, half of the foliage wire's loads in each."""

    def run(load_n: list[float], accuracy_m: float = 0.0, **changes: Any) -> Made:  # noqa: ANN401 - settings
        posts = stand(*[[0.0] * (len(load_n) // 2 + 2)] * 2)
        both: FloatArray = np.array([[-100.0] * len(load_n), load_n])
        return decide(posts, year(posts, strung=both), accuracy_m, **changes)

    return run


def test_a_wire_bears_down_where_it_presses_by_more_than_a_clip_holds_upside_down(plan: Callable[..., Made]) -> None:
    """5 N, heights being sure: a wire that pulls up, one that presses with 3 N, and one with 8 N."""
    made = plan([-20.0, 3.0, 8.0, -20.0, 3.0, 8.0])
    assert made.lower(made.need.bears_down) == [0.0, 0.0, 1.0] * 2
    assert made.lower(made.need.need) == [1.0, 0.0, 0.0] * 2


def test_runs_are_joined_across_small_gaps_but_not_across_rows(plan: Callable[..., Made]) -> None:
    #           row 1: - U - U - - U      row 2: U U - - - - U
    made = plan([*[1.0, -9, 1, -9, 1, 1, -9], *[-9.0, -9, 1, 1, 1, 1, -20]])
    sections, id_of = made.sections, made.posts.post_id
    assert list(sections.section_id) == ["B01-R001-U01", "B01-R001-U02", "B01-R002-U01", "B01-R002-U02"]
    assert [post[-4:] for post in id_of[sections.first]] == ["P003", "P008", "P002", "P008"]
    assert [post[-4:] for post in id_of[sections.last]] == ["P005", "P008", "P003", "P008"]
    # Half a span beyond each end: from 9 m to 27 m.
    assert list(sections.start_m) == [9.0, 39.0, 3.0, 39.0]
    assert list(sections.end_m) == [27.0, 45.0, 15.0, 45.0]
    assert list(sections.pull_up_n) == [9.0, 9.0, 9.0, 20.0]
    two_way = [clip == "two-way" for clip in made.lower(made.clips.kind)]
    assert two_way == [False, True, True, True, False, False, True] + [True, True] + [False] * 4 + [True]
    # The post in the gap gets a two-way clip too, and the wire sits over it: it bears down there.
    assert made.lower(made.clips.seat)[1:4] == ["under", "over", "under"]
    middle = made.posts.middle
    assert set(made.clips.kind[0, middle]) == {"staple"}
    assert set(made.clips.seat[0, middle]) == {"under"}
    assert [made.asked.reason[post] for post in middle[:4]] == [None, "strung", "section", "strung"]
    assert [made.asked.ask[post] for post in (0, *middle[:2])] == ["none", "one-way", "two-way"]


def test_the_grade_change_of_a_section_is_that_of_its_own_posts(
    stand: Callable[..., Posts], year: Callable[..., WireStates]
) -> None:
    """The hollow of a metre stands behind the section: at its last post the grade falls by 1 in 6."""
    posts = stand([0.0, 0.0, 0.0, 0.0, -1.0, 0.0, 0.0])
    load: FloatArray = np.array([[-100.0] * 5, [1.0, -9.0, -9.0, 1.0, 1.0]])
    sections = decide(posts, year(posts, strung=load), join_posts=0).sections
    assert sections.first.tolist() == [2]
    assert sections.grade_change_pct == pytest.approx([0.0])
    later = decide(posts, year(posts, strung=load[:, [1, 0, 3, 2, 4]]), join_posts=0).sections
    assert later.grade_change_pct[-1] == pytest.approx(100.0 / 3.0)


def test_without_joining_each_run_stands_alone(plan: Callable[..., Made]) -> None:
    made = plan([1.0, -9, 1, -9, 1, 1, -9, *[1.0] * 7], join_posts=0)
    assert list(made.sections.last - made.sections.first + 1) == [1, 1, 1]


def test_certainty_follows_the_error_of_the_heights(plan: Callable[..., Made]) -> None:
    """Level 6 m spans at 300 N, uncorrelated 3 cm: sigma = 300/6 * 0.03 * sqrt(1 + 4 + 1) = 3.674 N."""
    sigma = 300.0 / 6.0 * 0.03 * np.sqrt(6.0)
    load = [-5.0 - 1.7 * sigma, -5.0 - 0.5 * sigma, -5.0 + 0.4 * sigma, -5.0 + 1.6 * sigma, -5.0 + 1.7 * sigma, 40.0]
    made = plan([*load, *load], accuracy_m=0.03, join_posts=0)
    assert made.lower(made.need.certainty)[:6] == ["certain", "likely", "possible", "possible", "no", "no"]
    # Normal distribution at 1.7, 0.5, -0.4 and -1.6 sigma (any table): 0.9554, 0.6915, 0.3446, 0.0548.
    assert made.lower(made.need.need)[:4] == pytest.approx([0.9554, 0.6915, 0.3446, 0.0548], abs=5e-5)
    assert list(made.sections.last - made.sections.first + 1) == [2, 2]
    assert [finding.code for finding in made.notes] == ["look-on-site"]
    # A look takes 2 min. Not to look takes 0.3446 times 6 min at the third, and 0.0548 times 6 min at the fourth.
    assert list(made.asked.ask[1:7]) == ["two-way"] * 2 + ["look-on-site"] + ["one-way"] * 3
    np.testing.assert_allclose(made.asked.look_saves_min[:5], [np.nan, np.nan, np.nan, 0.0676, np.nan], atol=3e-4)
    for plan_for, posts in (("certain", 1), ("possible", 4)):
        sections = plan([*load, *load], accuracy_m=0.03, join_posts=0, plan_for=plan_for).sections
        assert list(sections.last - sections.first + 1) == [posts, posts]


def test_the_posts_to_look_at_are_named_the_likeliest_first(plan: Callable[..., Made]) -> None:
    """Needs of 0.3446, 0.6915 and 0.0548, none of them certain: at two a look saves time, one in all will be found."""
    sigma = 300.0 / 6.0 * 0.03 * np.sqrt(6.0)
    made = plan([-5.0 + 0.4 * sigma, -5.0 - 0.5 * sigma, -5.0 + 1.6 * sigma, *[40.0] * 3], 0.03, plan_for="certain")
    (said,) = (note.message for note in made.notes)
    assert said.startswith(
        "2 posts may need a two-way clip, less surely than where one is planned (from a probability of 0.95 on)"
    )
    assert (
        "B01-R001-P003, B01-R001-P002. About 1 of them will need one. Of all others with one-way clips about 0" in said
    )


def test_what_is_left_unlooked_at_is_told_with_what_a_look_takes(plan: Callable[..., Made]) -> None:
    """One need of 0.3446 is looked at; 40 of 0.0548 are not, and come to 2.2."""
    sigma = 300.0 / 6.0 * 0.03 * np.sqrt(6.0)
    made = plan([-5.0 + 0.4 * sigma, 40.0, *[-5.0 + 1.6 * sigma] * 40], 0.03)
    (said,) = (note.message for note in made.notes)
    assert said.startswith("1 post may need")
    assert (
        "Of all others with one-way clips about 2 will, but to come back to these (6 min each) is less work than to "
        "look for them (2 min a post)." in said
    )


def test_a_post_in_a_curve_is_pulled_aside_hardest_in_the_tightest_state(
    stand: Callable[..., Posts], year: Callable[..., WireStates]
) -> None:
    """2 T sin(turn/2): 300 N as strung are 30.0 N, 400 N when cold 40.0 N."""
    posts = stand([0.0] * 3, turn_rad=0.1)
    load, tight = np.full((2, 1), 5.0), np.full((2, 1), 400.0)
    made = decide(posts, year(posts, strung=load, cold=load, cold_tension=tight))
    assert made.lower(made.need.side_n) == pytest.approx([800.0 * np.sin(0.05)])


def test_a_wire_that_pulls_up_only_when_cold_is_seen_as_such(
    stand: Callable[..., Posts], year: Callable[..., WireStates]
) -> None:
    """The worst state decides; each state says what it alone would ask for."""
    posts, nothing = stand([0.0] * 4, [0.0] * 4), [np.nan] * 4
    made = decide(
        posts,
        year(
            posts,
            strung=np.array([[-100.0] * 4, [3.0] * 4]),
            cold=np.array([nothing, [2.0, -12.0, 2.0, -4.0]]),
            cold_tension=np.full((2, 4), 536.0),
            hot=np.array([nothing, [2.3] * 4]),
            hot_tension=np.full((2, 4), 50.0),
        ),
    )
    clips, axis = made.clips, {state: number for number, state in enumerate(IN_CLIPS)}
    assert list(made.sections.pull_up_n) == [12.0]
    assert made.lower(clips.kind) == ["one-way", "two-way", "one-way", "one-way"]
    assert made.lower(clips.kind_in[..., axis[State.STRUNG]]) == ["one-way"] * 4
    assert made.lower(clips.kind_in[..., axis[State.COLD]]) == ["one-way", "two-way", "one-way", "one-way"]
    # The two-way clip holds it down when cold; a one-way clip holds the 4 N by its hold-down, the wire over it.
    assert made.lower(clips.seat_in[..., axis[State.COLD]]) == ["over", "under", "over", "over"]
    assert made.lower(clips.seat_in[..., axis[State.STRUNG]]) == ["over"] * 4
    assert made.lower(clips.seat_in[..., axis[State.LIFTED]]) == [None] * 4
    assert made.lower(made.need.least_n) == [2.0, -12.0, 2.0, -4.0]
    assert made.lower(made.need.greatest_n) == [3.0] * 4
    assert list(made.asked.reason[posts.middle]) == [None, "cold", None, None]


def test_a_post_that_the_wire_pulls_hard_to_the_side_gets_a_two_way_clip(
    stand: Callable[..., Posts], year: Callable[..., WireStates]
) -> None:
    """2 T sin(turn/2): 300 N over 0.1 rad are 30.0 N, against a limit of 29 and of 31 N."""
    posts = stand([0.0] * 5, turn_rad=0.1)
    states = year(posts, strung=np.full((2, 3), 5.0))
    for limit, clip, reason in ((29.0, "two-way", "sideways"), (31.0, "one-way", None)):
        made = decide(posts, states, hold_side_n=limit)
        assert made.lower(made.need.side_n) == pytest.approx([600.0 * np.sin(0.05)] * 3)
        assert made.lower(made.clips.kind) == [clip] * 3
        assert len(made.sections) == 0
        assert list(made.asked.reason[posts.middle]) == [reason] * 3


def test_a_height_bridged_over_a_hole_makes_its_own_and_its_neighbours_loads_less_sure(
    stand: Callable[..., Posts], year: Callable[..., WireStates]
) -> None:
    """300 N over 6 m spans: 100 N a metre at the post, 50 at each neighbour; 10 cm are 10 N and 5 N, one sigma."""
    posts = stand([0.0] * 7)
    error = np.full(7, np.nan)
    error[3] = 0.1
    states = year(posts, strung=np.array([[-100.0] * 5, [0.0, 5.0, 0.0, -5.0, 0.0]]))
    made = decide(posts, states, bridges=Bridges(10.0 * error, error, np.array([1.0])))
    # Normal distribution: from 5 N down to 5 N up with sigma 5 (2 sigma), and from 0 with sigma 10 (0.5 sigma).
    assert made.need.need[1, 1:6] == pytest.approx([0.0, 0.0228, 0.3085, 0.5, 0.0], abs=1e-4)


def test_end_posts_ask_for_nothing(plan: Callable[..., Made]) -> None:
    made = plan([-50.0] * 6)
    ends = np.flatnonzero(made.posts.is_end)
    for values in (made.clips.kind, made.clips.seat, made.need.certainty):
        assert set(values[:, ends].ravel()) == {None}
    assert np.isnan(made.need.need[:, ends]).all()
    assert {str(made.asked.ask[post]) for post in ends} == {"none"}
