"""Where a wire pulls up: the certainty that a two-way clip is needed, and undulating sections."""

from typing import Final

import numpy as np

from wirerun.arrays import BoolArray, FloatArray, IntArray, TextArray
from wirerun.ids import section_ids
from wirerun.mechanics.undulation import load_sigma, need_probability
from wirerun.model.clips import Need, Sections
from wirerun.model.layout import Bridges, Posts
from wirerun.model.wires import Lifts, WireStates
from wirerun.settings import CERTAINTY, ElevationSettings, UndulationSettings
from wirerun.state import IN_CLIPS, State

_NAMES: Final = np.array(list(CERTAINTY), dtype=object)
_FROM: Final = np.array(list(CERTAINTY.values()))


def judge_need(
    posts: Posts,
    bridges: Bridges,
    states: WireStates,
    lifts: Lifts,
    elevation: ElevationSettings,
    hold_down_n: float,
) -> Need:
    """Probability and certainty that each clip must hold its wire down, in each state and in the worst.

    The error of the ground heights goes through to the load: three neighbouring heights, correlated and smoothed. The
    probability of a clip is that of its worst state: one error of the ground stands behind all of them.

    Parameters
    ----------
    posts : Posts
        Where the wires run.
    bridges : Bridges
        Where the ground was bridged over a hole, and how far off it may be.
    states : WireStates
        Loads and tensions.
    lifts : Lifts
        The greatest load of all lift positions.
    elevation : ElevationSettings
        Accuracy, correlation and smoothing of the heights.
    hold_down_n : float
        Upward pull that a one-way clip still holds. [N]
    """
    # The load's error is in proportion to the tension: find it once at 1 N.
    per_newton = load_sigma(
        posts.feet,
        1.0,
        elevation.accuracy_m,
        elevation.correlation_m,
        elevation.smoothing_m,
        bridges.error_m,
    )
    load, tension = states.load_n, states.tension_n
    sigma = per_newton[:, None] * tension
    probability = need_probability(load, sigma, hold_down_n)
    bears_down = need_probability(-load, sigma, hold_down_n)
    lifted = need_probability(-lifts.greatest_n, sigma[..., IN_CLIPS.index(State.LIFTED)], hold_down_n)
    need = np.fmax.reduce(probability, axis=-1)
    return Need(
        probability=probability,
        need=need,
        certainty=_certainty(need),
        least_n=np.fmin.reduce(load, axis=-1),
        greatest_n=np.fmax(np.fmax.reduce(load, axis=-1), lifts.greatest_n),
        side_n=np.fmax.reduce(tension, axis=-1) * 2.0 * np.sin(posts.turn_rad / 2.0),
        bears_down=np.fmax(np.fmax.reduce(bears_down, axis=-1), lifted),
    )


def find_sections(
    posts: Posts, grade_change_pct: FloatArray, need: Need, clipped: BoolArray, undulation: UndulationSettings
) -> Sections:
    """Undulating sections: runs of posts on which a two-way clip is planned, joined across small gaps.

    Wires held by staples are held both ways already and make no section.

    Parameters
    ----------
    posts : Posts
        The post axis.
    grade_change_pct : [post]
        Grade behind the post less grade before it. [%]
    need : Need
        How sure the need of each clip is.
    clipped : [wire]
        Which wires are held by clips.
    undulation : UndulationSettings
        From which certainty on to plan, and the gap to join.
    """
    if clipped.any():
        probability = np.fmax.reduce(need.need[clipped], axis=0)
        pull_up = np.fmax(np.fmax.reduce(-need.least_n[clipped], axis=0), 0.0)
    else:
        probability = pull_up = np.zeros(len(posts))
    first, last = _runs(probability >= undulation.planned_from, posts.row, undulation.join_posts)
    return Sections(
        section_id=section_ids(posts.row_id[first]),
        first=first,
        last=last,
        start_m=(posts.station_m[first - 1] + posts.station_m[first]) / 2.0,
        end_m=(posts.station_m[last] + posts.station_m[last + 1]) / 2.0,
        pull_up_n=_greatest(pull_up, first, last),
        grade_change_pct=_greatest(grade_change_pct, first, last),
    )


def _certainty(probability: FloatArray) -> TextArray:
    known = np.nan_to_num(probability)
    named: TextArray = _NAMES[(known[..., None] >= _FROM).argmax(axis=-1)]
    named[np.isnan(probability)] = None
    return named


def _runs(need: BoolArray, row: IntArray, join: int) -> tuple[IntArray, IntArray]:
    """First and last post of each run of need within a row, across gaps of at most `join` posts."""
    at = np.flatnonzero(need)
    if not len(at):
        return at, at
    breaks = (np.diff(at) > join + 1) | (np.diff(row[at]) != 0)
    return at[np.concatenate([[True], breaks])], at[np.concatenate([breaks, [True]])]


def _greatest(values: FloatArray, first: IntArray, last: IntArray) -> FloatArray:
    """Greatest value from the first to the last post of each section, [section]."""
    if not len(first):
        return np.empty(0)
    # Between two sections lie posts of none: every other piece is one of those.
    edges = np.stack([first, last + 1], axis=-1).ravel()
    return np.asarray(np.maximum.reduceat(np.append(values, np.nan), edges)[::2])
