"""Clips set a little higher or lower on each post, so that fewer wires pull up, and fewer posts are in doubt."""

from typing import Final, NamedTuple

import numpy as np
from scipy.special import ndtr

from wirerun.arrays import BoolArray, FloatArray, IntArray
from wirerun.findings import Findings
from wirerun.mechanics.load_posterior import BETTER, LoadPosterior
from wirerun.mechanics.row_index import RowIndex
from wirerun.mechanics.undulation import load_sensitivity
from wirerun.model.clips import ClipPositions
from wirerun.model.layout import PostHeights, Posts
from wirerun.model.wires import WireStates
from wirerun.optimise.levelling import NEVER, StepCosts, cheapest_steps
from wirerun.rules.post_prices import PostPrices
from wirerun.settings import ClipSettings, Config, UndulationSettings
from wirerun.wording import many, number

#: Clips are set off their heights in whole centimetres: nobody marks closer on a post. [m]
STEP_M: Final = 0.01
# Among shifts that are worth as much the smaller: so much more for each centimetre, in prices of a shift. Choice.
_EACH_CM: Final = 0.02
# A missed clip counts so many times its price: of many ways to set clips the least cost finds those that the ground's
# posterior flatters, and without this posts were missed beside steps that are not with clips at their heights. Choice,
# tried on grounds whose truth is known.
_MISSED: Final = 2.0
# Places along a post's axis at which its probability is reckoned, and in how many parts each is then cut. Choice: the
# parts are a few percent of the load's error.
_PLACES: Final = 129
_PARTS: Final = 4
_PARTS_PER_UNIT: Final = 1_000_000
# Least spread, so that a load without error is on one side or the other.
_TINY: Final = 1e-12
# Seed of the draw of what a better survey would see.
_SEED: Final = 13


class Tally(NamedTuple):
    """Posts whose own need asks for two-way clips; and those expected, of the others to need them, of these not to."""

    asked: int
    missed: float
    needless: float

    @classmethod
    def of(cls, probability: FloatArray, planned_from: float) -> "Tally":
        """Counted over all posts."""
        asks = probability >= planned_from
        return cls(int(asks.sum()), float(probability[~asks].sum()), float((1.0 - probability[asks]).sum()))


class Levelling(NamedTuple):
    """Where the clips go.

    Attributes
    ----------
    shift_m : [post]
        How much higher than their heights all clips of the post are set, in whole centimetres. [m]
    before : Tally
        With all clips at their heights.
    better : Tally or None
        What levelling would make of heights with `BETTER` times their error; None where the posterior cannot tell.
    """

    shift_m: FloatArray
    before: Tally
    better: Tally | None


class _Hung(NamedTuple):
    """What decides the probability of every post; axis of kinds as in `LoadPosterior`.

    spare : [post], pull that the worst wire's clip has in hand over its tension [N/N]; NaN at row ends, and where no
    load is known. slope : [post, 3], by how much a step of the previous, the own and the next post adds to it.
    reach : [post], the most that steps add.
    """

    spare: FloatArray
    slope: FloatArray
    reach: FloatArray


def level_clips(
    posts: Posts,
    known: LoadPosterior,
    states: WireStates,
    standing: tuple[PostHeights, ClipPositions],
    clipped: BoolArray,
    prices: PostPrices,
    settings: tuple[ClipSettings, UndulationSettings],
) -> Levelling:
    """How much higher or lower the clips of each post are set, within `clips.level_m`.

    A post costs the least of a two-way clip and of a missed one (twice over) times the probability of the need; a shift
    costs its work. The probability is that of `judge_need`: errors and shifts move the loads of all wires and states in
    proportion to their tension, so the wire and state with the least pull in hand for its tension is the worst at every
    shift. On a hard limit instead posts would be put just inside it, where the ground's error and the crew's leave half
    of them wrong. That loads go with the shifts in a straight line holds to some tenths of a newton; the plan's loads
    are reckoned anew, exactly.

    All clips of a post are shifted alike, so that wires are lifted as before; end posts are not, nor clips above the
    top of their post, nor staples.

    Parameters
    ----------
    posts : Posts
        With clips at their heights.
    known : LoadPosterior
        Error of the load at 1 N of tension.
    states : WireStates
        Loads and tensions with clips at their heights.
    standing : PostHeights, ClipPositions
        The tops of the posts, and where clips stand.
    clipped : [wire]
        Which wires are held by clips.
    prices : PostPrices
        What two-way clips, missed ones and shifts cost.
    settings : ClipSettings, UndulationSettings
        How far clips are shifted, and how well they are set; the upward pull that a one-way clip still holds, and from
        which probability on a two-way one is planned.
    """
    clips, undulation = settings
    most = int(np.floor(clips.level_m / STEP_M + 1e-6))
    sensitivity = load_sensitivity(posts.feet, 1.0)
    marked = clips.marking_m * np.sqrt((sensitivity**2).sum(axis=1))
    with np.errstate(invalid="ignore"):
        spare = (undulation.hold_down_n + states.load_n[clipped]) / states.tension_n[clipped]
    least = np.fmin.reduce(spare.transpose(1, 0, 2).reshape(len(posts), -1), axis=1)
    slope = STEP_M * np.nan_to_num(sensitivity)
    hung = _Hung(least, slope, np.maximum(most * np.abs(slope).sum(axis=1), _TINY))
    of_step = _step_costs(posts, standing, clipped, most, prices)
    rows = RowIndex.of(posts.row)

    def level(weight: FloatArray, error: FloatArray, left: FloatArray) -> tuple[IntArray, FloatArray]:
        curve = _curves(hung, weight, error, np.hypot(left, marked[:, None]))
        price = np.minimum(prices.two_way, _MISSED * prices.missed * curve)
        of_post = np.rint(_PARTS_PER_UNIT * price).astype(np.int64)
        return cheapest_steps(rows, StepCosts(hung.slope, hung.reach, of_post, of_step)), curve

    steps, curve = level(known.weight, known.error, known.left)
    before = Tally.of(_at_steps(curve, hung, rows, np.zeros_like(steps)), undulation.planned_from)
    better = None
    if not np.isnan(known.noise_ratio):
        then, curve = level(*_seen_better(known))
        better = Tally.of(_at_steps(curve, hung, rows, then), undulation.planned_from)
    return Levelling(np.asarray(STEP_M * steps, dtype=np.float64), before, better)


def note_levelling(posts: Posts, levelling: Levelling, need: FloatArray, config: Config, notes: Findings) -> None:
    """Say how many clips are shifted and what comes of it.

    Parameters
    ----------
    posts : Posts
        With their clips shifted.
    levelling : Levelling
        What was chosen, and what would be without.
    need : [wire, post]
        Probability of the need on each clipped wire, clips shifted.
    config : Config
        How far clips may be shifted, and from which probability on a two-way clip is planned.
    notes : Findings
        Hears of it.
    """
    before, better = levelling.before, levelling.better
    after = Tally.of(np.nan_to_num(np.fmax.reduce(need[:, posts.middle], axis=0)), config.undulation.planned_from)
    shifted = int((levelling.shift_m != 0.0).sum())
    outlook = ""
    if better is not None and config.elevation.accuracy_m:
        outlook = (
            f" With heights good to {BETTER * config.elevation.accuracy_m:.2g} m it would be about "
            f"{number(better.asked)}, with {better.missed:.0f} missed."
        )
    notes.note(
        "levelled",
        f"The clips of {many(shifted, 'intermediate post')} of {number(len(posts.middle))} are set up to "
        f"{100.0 * np.abs(levelling.shift_m).max():.0f} cm off their heights (clips.level_m = "
        f"{config.clips.level_m:g}): {many(after.asked, 'post')} by themselves ask for two-way clips, "
        f"{after.needless:.0f} of them needlessly and {after.missed:.0f} others missed, expected. All at their heights "
        f"it would be {number(before.asked)}, {before.needless:.0f} and {before.missed:.0f}.{outlook}",
    )


def _step_costs(
    posts: Posts, standing: tuple[PostHeights, ClipPositions], clipped: BoolArray, most: int, prices: PostPrices
) -> IntArray:
    """Cost of each step of each post, [post, step]."""
    heights, places = standing
    steps = np.arange(-most, most + 1)
    cost = np.rint(_PARTS_PER_UNIT * prices.shift * ((steps != 0) + _EACH_CM * np.abs(steps))).astype(np.int64)
    top = np.where(places.used[clipped].any(axis=0), places.height_m, 0.0).max(axis=1, initial=0.0)
    room = np.floor((heights.out_m - top) / STEP_M + 1e-6)
    barred = (posts.is_end[:, None] & (steps != 0)) | ((steps > 0) & (steps > room[:, None]))
    return np.where(barred, NEVER, cost)


def _curves(hung: _Hung, weight: FloatArray, error: FloatArray, sigma: FloatArray) -> FloatArray:
    """Probability of the need at even places along each post's axis, [post, place]; 0 where no load is known."""
    place = np.linspace(-1.0, 1.0, _PLACES)
    spare = np.where(np.isnan(hung.spare), np.inf, hung.spare)[:, None] + hung.reach[:, None] * place
    total = np.zeros(spare.shape)
    for of_kind, mean, spread in zip(weight.T, error.T, np.maximum(sigma, _TINY).T, strict=True):
        total += np.nan_to_num(of_kind)[:, None] * ndtr(np.nan_to_num((mean[:, None] - spare) / spread[:, None]))
    part = np.arange(_PARTS) / _PARTS
    between = total[:, :-1, None] * (1.0 - part) + total[:, 1:, None] * part
    return np.concatenate((between.reshape(len(total), -1), total[:, -1:]), axis=1)


def _at_steps(curve: FloatArray, hung: _Hung, rows: RowIndex, steps: IntArray) -> FloatArray:
    """Probability of the need of each inner post at given steps."""
    inner = rows.inner
    moved = (hung.slope[inner] * steps[inner[:, None] + np.arange(-1, 2)]).sum(axis=1)
    place = (moved / hung.reach[inner] + 1.0) * (curve.shape[1] - 1) / 2.0
    return np.asarray(curve[inner, np.rint(place).astype(np.int64)])


def _seen_better(known: LoadPosterior) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Weight, error and what is left as a better survey might have them: one draw, each post by itself."""
    rng = np.random.default_rng(_SEED)
    past = np.cumsum(np.nan_to_num(known.weight), axis=1)
    kind = (rng.random(len(past))[:, None] > past).sum(axis=1).clip(0, past.shape[1] - 1)[:, None]
    error, left, then = (
        np.take_along_axis(each, kind, axis=1) for each in (known.error, known.left, known.left_better)
    )
    cleared = np.sqrt(np.maximum(left**2 - then**2, 0.0))
    weight = np.where(np.isnan(known.weight[:, :1]), np.nan, 1.0)
    return weight, error + cleared * rng.standard_normal(error.shape), then
