"""Is the survey good enough? What it leaves open, what a better one would, and noise that is not as said."""

from collections.abc import Callable

import numpy as np
import pytest
from wirerun.findings import Findings
from wirerun.mechanics.height_errors import HeightErrors
from wirerun.mechanics.load_posterior import BETTER, LoadPosterior
from wirerun.model.layout import Posts
from wirerun.model.moved_wires import Lifts
from wirerun.model.wires import WireStates
from wirerun.settings import ElevationSettings, PostSettings, UndulationSettings
from wirerun.stages.clips.survey_verdict import judge_survey
from wirerun.stages.clips.undulation import judge_need

SIGMA_N = 10.0  # of each load, at 300 N
CLIPPED = np.array([False, True])


@pytest.fixture
def verdict(stand: Callable[..., Posts], year: Callable[..., WireStates]) -> Callable[..., Findings]:
    """Findings on a row whose foliage wire has these loads, its fruiting wire pulling up by what leaves it in doubt."""

    def run(
        loads: list[float],
        accuracy_m: float = 0.025,
        ratio: float = 1.0,
        evidence: float = 0.0,
        better: float = BETTER,
        points_m: float | None = None,
        *,
        unseen_m: float = 0.0,
        error_n: float = 0.0,
        **more: list[float],
    ) -> Findings:
        posts = stand([0.0] * (len(loads) + 2))
        by_state = {"strung": loads, **more}
        states = year(posts, **{state: np.array([[-5.0] * len(loads), each]) for state, each in by_state.items()})
        one = np.ones((len(posts), 1))
        sigma = SIGMA_N / 300.0 * one
        known = LoadPosterior(one, error_n / 300.0 * one, sigma, better * sigma, sigma[:, 0], ratio, evidence)
        need = judge_need(posts, known, states, Lifts((), np.full((2, len(posts)), np.nan)), 0.0, 5.0)
        settings = (
            ElevationSettings(raster="x", accuracy_m=accuracy_m, unseen_m=unseen_m),
            PostSettings() if points_m is None else PostSettings(points_accuracy_m=points_m),
            UndulationSettings(hold_down_n=5.0),
        )
        shared = np.full(len(posts), accuracy_m if points_m is None else 0.0)
        errors = HeightErrors(shared, np.zeros(len(posts)), 0.0, 0.0)
        notes = Findings("B01")
        judge_survey(posts, errors, known, states, need, settings, CLIPPED, notes)
        return notes

    return run


def test_a_post_in_doubt_is_counted_and_so_is_what_a_better_survey_would_leave(
    verdict: Callable[..., Findings],
) -> None:
    """One of 20 loads lies on the limit of 5 N, the others far off.

    Of that one a survey with 4 N, two fifths of 10 N, is told nothing of beforehand: it will expect the limit give or
    take sqrt(10^2 - 4^2) = 9.165 N, and be in doubt within 1.6449 * 4 = 6.579 N of it, a chance of 2 Phi(0.7179) - 1 =
    52.7 % (normal distribution, any table): 2.6 % of 20 posts.
    """
    (told,) = verdict([-5.0, *[500.0] * 10, *[-500.0] * 9])
    assert told.code == "survey-verdict"
    assert "good to 0.025 m (elevation.accuracy_m)" in told.message
    assert "1 intermediate post of 20 (5.0 %)" in told.message
    assert "good to 0.01 m would leave 2.6 % open" in told.message


def test_what_the_survey_is_known_to_be_off_by_is_taken_off_what_a_better_one_would_find(
    verdict: Callable[..., Findings],
) -> None:
    """The same loads, all seen 300 N too low on the wire: 500 N would be 200, and -305 N the limit."""
    (told,) = verdict([295.0, *[800.0] * 10, *[-200.0] * 9], error_n=300.0)
    assert "1 intermediate post of 20 (5.0 %)" in told.message
    assert "good to 0.01 m would leave 2.6 % open" in told.message


def test_what_a_better_survey_would_leave_is_that_of_the_state_that_asks_most(
    verdict: Callable[..., Findings],
) -> None:
    (told,) = verdict([500.0] * 20, hot=[-5.0, *[500.0] * 19])
    assert "good to 0.01 m would leave 2.6 % open" in told.message


def test_many_posts_in_doubt_are_a_warning(verdict: Callable[..., Findings]) -> None:
    (told,) = verdict([-5.0] * 3 + [500.0] * 17)
    assert (told.code, told.level) == ("survey-too-coarse", "warning")
    assert "3 intermediate posts of 20 (15.0 %)" in told.message


@pytest.mark.parametrize(
    ("ratio", "evidence", "words"),
    [
        (2.0, 30.0, "off by about 0.050 m, not by the 0.025 m"),
        (0.5, 30.0, "If the survey is that good"),
        (2.0, 5.0, None),
        (1.3, 30.0, None),
        (0.75, 30.0, None),
    ],
)
def test_noise_unlike_its_word_is_told_where_the_heights_are_sure_of_it(
    verdict: Callable[..., Findings], ratio: float, evidence: float, words: str | None
) -> None:
    told = [finding.message for finding in verdict([500.0] * 20, 0.025, ratio, evidence) if "noise" in finding.code]
    assert len(told) == (words is not None)
    assert words is None or words in told[0]


def test_what_a_better_survey_would_hardly_clear_up_is_not_promised(verdict: Callable[..., Findings]) -> None:
    """With 9.99 N of 10 N left, nearly as many stay in doubt."""
    (told,) = verdict([-5.0, *[500.0] * 19], better=0.999)
    assert "two-way clip; better heights would hardly clear up more." in told.message


def test_surveyed_posts_are_judged_by_their_own_accuracy(verdict: Callable[..., Findings]) -> None:
    (noise, open_) = verdict([-5.0, *[500.0] * 19], ratio=2.0, evidence=30.0, points_m=0.01)
    assert "off by about 0.020 m, not by the 0.01 m of posts.points_accuracy_m" in noise.message
    assert "good to 0.01 m (posts.points_accuracy_m)" in open_.message


def test_ground_that_a_filter_smoothed_is_not_praised_for_it(verdict: Callable[..., Findings]) -> None:
    """Its errors look smaller than they are; where they look larger that is told as ever."""
    codes = [
        [finding.code for finding in verdict([500.0] * 20, 0.025, ratio, 30.0, unseen_m=0.015)].count("survey-noise")
        for ratio in (0.5, 2.0)
    ]
    assert codes == [0, 1]


def test_heights_without_error_get_no_verdict(verdict: Callable[..., Findings]) -> None:
    assert list(verdict([-5.0] * 20, accuracy_m=0.0)) == []
    assert list(verdict([-5.0] * 20, ratio=np.nan)) == []
