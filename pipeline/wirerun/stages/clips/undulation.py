"""Where a wire pulls up: the certainty that a two-way clip is needed, and undulating sections."""

from dataclasses import replace
from typing import Final

import numpy as np

from wirerun.arrays import BoolArray, FloatArray, IntArray, TextArray
from wirerun.ids import section_ids
from wirerun.mechanics.load_posterior import LoadPosterior
from wirerun.mechanics.undulation import load_sensitivity, need_probability
from wirerun.model.clips import Need, Sections
from wirerun.model.layout import Posts
from wirerun.model.moved_wires import Lifts
from wirerun.model.wires import WireStates
from wirerun.rules.sections import runs
from wirerun.settings import CERTAINTY, UndulationSettings
from wirerun.state import IN_CLIPS, State

_NAMES: Final = np.array(list(CERTAINTY), dtype=object)
_FROM: Final = np.array(list(CERTAINTY.values()))
# Which way the wire leaves its clip.
_UP: Final = 1.0
_DOWN: Final = -1.0


def judge_need(
    posts: Posts,
    known: LoadPosterior,
    states: WireStates,
    lifts: Lifts,
    marking_m: float,
    hold_down_n: float,
) -> Need:
    """Probability and certainty that each clip must hold its wire down, in each state and in the worst.

    The load seen is that of the surveyed heights. What of it is the survey's error, the heights of all posts tell; what
    they leave open, and the error with which the crew sets the clips, make the probability. The probability of a clip
    is that of its worst state: one error of the ground stands behind all of them.

    Parameters
    ----------
    posts : Posts
        Where the wires run.
    known : LoadPosterior
        Error of the load at 1 N of tension.
    states : WireStates
        Loads and tensions.
    lifts : Lifts
        The greatest load of all lift positions.
    marking_m : float
        One sigma of the height at which a clip is set. [m]
    hold_down_n : float
        Upward pull that a one-way clip still holds. [N]
    """
    marked = _marked(posts, marking_m)
    load, tension = states.load_n, states.tension_n
    in_lifts = tension[..., IN_CLIPS.index(State.LIFTED)]
    probability = _beyond_hold(_UP, load, tension, known, marked, hold_down_n)
    bears_down = _beyond_hold(_DOWN, load, tension, known, marked, hold_down_n)
    by_ground = _beyond_hold(_UP, load, tension, known, np.zeros_like(marked), hold_down_n)
    lifted = _beyond_hold(_DOWN, lifts.greatest_n[..., None], in_lifts[..., None], known, marked, hold_down_n)
    bears_down = np.concatenate((bears_down, lifted), axis=-1)
    need = np.fmax.reduce(probability, axis=-1)
    return Need(
        probability=probability,
        need=need,
        certainty=_certainty(need),
        least_n=np.fmin.reduce(load, axis=-1),
        greatest_n=np.fmax(np.fmax.reduce(load, axis=-1), lifts.greatest_n),
        side_n=np.fmax.reduce(tension, axis=-1) * 2.0 * np.sin(posts.turn_rad / 2.0),
        by_ground=np.fmax.reduce(by_ground, axis=-1),
        bears_down=np.fmax.reduce(bears_down, axis=-1),
    )


def judge_if_held(
    need: Need, posts: Posts, known: LoadPosterior, states: WireStates, marking_m: float, hold_down_n: float
) -> Need:
    """The same if one-way clips held another pull: probability and need, by which clips are chosen; no more is new.

    Parameters
    ----------
    need : Need
        As judged for the pull that is planned for.
    posts, known, states, marking_m
        What it was judged from.
    hold_down_n : float
        The other pull. [N]
    """
    probability = _beyond_hold(_UP, states.load_n, states.tension_n, known, _marked(posts, marking_m), hold_down_n)
    return replace(need, probability=probability, need=np.fmax.reduce(probability, axis=-1))


def _marked(posts: Posts, marking_m: float) -> FloatArray:
    """One sigma of each clip's load at 1 N of tension, from the height at which the crew sets it, [post]."""
    return np.asarray(marking_m * np.sqrt((load_sensitivity(posts.feet, 1.0) ** 2).sum(axis=1)))


def _beyond_hold(
    side: float, load_n: FloatArray, tension_n: FloatArray, known: LoadPosterior, marked: FloatArray, hold_n: float
) -> FloatArray:
    """Probability that the wire pulls up by more than a clip holds or, with side -1, that it bears down by more.

    Errors of the load are in proportion to the tension. Shape (wires, posts, states); `marked` is the crew's error at
    1 N, shape (posts,).
    """
    total = np.zeros(load_n.shape)
    for weight, error, left in zip(known.weight.T, known.error.T, known.left.T, strict=True):
        sigma = np.hypot(left, marked)[:, None] * tension_n
        expected = load_n - error[:, None] * tension_n
        total += weight[:, None] * need_probability(side * expected, sigma, hold_n)
    return np.minimum(total, 1.0)


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
    first, last = runs(probability >= undulation.planned_from, posts.row, undulation.join_posts)
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


def _greatest(values: FloatArray, first: IntArray, last: IntArray) -> FloatArray:
    """Greatest value from the first to the last post of each section, [section]."""
    if not len(first):
        return np.empty(0)
    # Between two sections lie posts of none: every other piece is one of those.
    edges = np.stack([first, last + 1], axis=-1).ravel()
    return np.asarray(np.maximum.reduceat(np.append(values, np.nan), edges)[::2])
