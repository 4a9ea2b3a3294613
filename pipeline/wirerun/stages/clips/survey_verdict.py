"""Whether the survey is good enough: the error that its heights show, and what it leaves open."""

from typing import Final

import numpy as np
from scipy.special import ndtr, ndtri

from wirerun.arrays import BoolArray, FloatArray
from wirerun.findings import Findings
from wirerun.mechanics.height_errors import HeightErrors
from wirerun.mechanics.load_posterior import BETTER, LoadPosterior
from wirerun.model.clips import Need
from wirerun.model.layout import Posts
from wirerun.model.wires import WireStates
from wirerun.settings import CERTAINTY, ElevationSettings, PostSettings, UndulationSettings
from wirerun.wording import many, number

# Noise of the heights over the one said, beyond which it is worth a word; and by how much likelier it must make them,
# which chance does not: an evidence of 8 is four standard errors. Choice.
_RATIO_LOW: Final = 0.7
_RATIO_HIGH: Final = 1.4
_LEAST_EVIDENCE: Final = 8.0
# Share of posts left open above which the verdict is a warning. Choice.
_COARSE_SHARE: Final = 0.10
# A better survey is worth a word where it leaves open at most this share of what is open now. Choice.
_WORTH_IT: Final = 0.9
# Least variance, for a division.
_TINY: Final = 1e-24


def judge_survey(
    posts: Posts,
    errors: HeightErrors,
    known: LoadPosterior,
    states: WireStates,
    need: Need,
    settings: tuple[ElevationSettings, PostSettings, UndulationSettings],
    clipped: BoolArray,
    notes: Findings,
) -> None:
    """Say where the heights look unlike their accuracy, and how many posts the survey leaves open.

    A post is open where the ground makes the need of a two-way clip on any clipped wire neither certain nor out of the
    question.

    Parameters
    ----------
    posts : Posts
        The post axis.
    errors : HeightErrors
        How far off the heights may be.
    known : LoadPosterior
        Error of the load at 1 N of tension.
    states : WireStates
        Loads and tensions.
    need : Need
        How sure the need of each clip is.
    settings : ElevationSettings, PostSettings, UndulationSettings
        Accuracy of the raster's heights and of surveyed ones; the upward pull that a one-way clip still holds.
    clipped : [wire]
        Which wires are held by clips.
    notes : Findings
        Hears the verdict.
    """
    elevation, of_posts, undulation = settings
    of_points = not (errors.shared_m > 0.0).any() and of_posts.points_accuracy_m is not None
    accuracy = of_posts.points_accuracy_m if of_points else elevation.accuracy_m
    word = "posts.points_accuracy_m" if of_points else "elevation.accuracy_m"
    middle = posts.middle
    if not accuracy or not clipped.any() or not len(middle) or np.isnan(known.noise_ratio):
        return
    # A survey's filter has smoothed the ground: what is left of its errors looks smaller than they are.
    smoothed = elevation.unseen_m > 0.0 and not of_points
    _judge_noise(known, accuracy, word, notes, smoothed=smoothed)
    certain, possible = CERTAINTY["certain"], CERTAINTY["possible"]
    by_ground = need.by_ground[clipped][:, middle]
    is_open = ((by_ground >= possible) & (by_ground < certain)).any(axis=0)
    share = float(is_open.mean())
    better = _open_with_better(known, states, need, undulation.hold_down_n)
    then = float(better[clipped][:, middle].max(axis=0).mean())
    if then < _WORTH_IT * share:
        outlook = f"heights good to {BETTER * accuracy:.2g} m would leave {100.0 * then:.1f} % open"
    else:
        outlook = "better heights would hardly clear up more"
    notes.note(
        "survey-too-coarse" if share > _COARSE_SHARE else "survey-verdict",
        f"With heights good to {accuracy:g} m ({word}) the survey leaves open whether "
        f"{many(int(is_open.sum()), 'intermediate post')} of {number(len(middle))} ({100.0 * share:.1f} %) need a "
        f"two-way clip; {outlook}.",
    )


def _judge_noise(known: LoadPosterior, accuracy_m: float, word: str, notes: Findings, *, smoothed: bool) -> None:
    ratio = known.noise_ratio
    if known.noise_evidence < _LEAST_EVIDENCE or _RATIO_LOW <= ratio <= _RATIO_HIGH or (smoothed and ratio < 1.0):
        return
    why = (
        "Ground that is rough between one post and the next looks the same; if it is not that, the clips are less sure "
        "than said."
        if ratio > 1.0
        else "If the survey is that good, say so: fewer clips stay open, and gentle undulation is not taken for noise."
    )
    notes.note(
        "survey-noise",
        f"The heights of the posts look off by about {ratio * accuracy_m:.3f} m, not by the {accuracy_m:g} m of "
        f"{word}. {why}",
    )


def _open_with_better(known: LoadPosterior, states: WireStates, need: Need, hold_n: float) -> FloatArray:
    """Probability that a clip would stay open with a better survey, shape (wires, posts).

    In the state that asks most for a two-way clip. The load that a better survey would expect lies about today's with
    the variance that it clears up.
    """
    worst = np.argmax(np.nan_to_num(need.probability, nan=-1.0), axis=-1)[..., None]
    load, tension = (np.take_along_axis(each, worst, axis=-1)[..., 0] for each in (states.load_n, states.tension_n))
    total = np.zeros(load.shape)
    to_certain, to_possible = ndtri(CERTAINTY["certain"]), -ndtri(CERTAINTY["possible"])
    for weight, error, left, then in zip(known.weight.T, known.error.T, known.left.T, known.left_better.T, strict=True):
        cleared = np.sqrt(np.maximum(left**2 - then**2, _TINY))
        over = (hold_n + load) / tension - error
        total += weight * (ndtr((to_possible * then - over) / cleared) - ndtr((-to_certain * then - over) / cleared))
    return np.asarray(np.nan_to_num(total))
