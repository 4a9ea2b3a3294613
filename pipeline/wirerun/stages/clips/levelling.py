"""Clips set a little higher or lower on each post, so that fewer wires pull up, and fewer posts are in doubt."""

from dataclasses import replace
from typing import Final, NamedTuple

import numpy as np

from wirerun.arrays import BoolArray, FloatArray, IntArray
from wirerun.findings import Findings
from wirerun.mechanics.load_posterior import BETTER, LoadPosterior
from wirerun.model.clips import ClipPositions
from wirerun.model.layout import PostHeights, Posts
from wirerun.model.wires import WireStates
from wirerun.rules.levelling import STEP_M, Hung, room_for_steps
from wirerun.rules.post_prices import PostPrices
from wirerun.settings import ClipSettings, Config, UndulationSettings
from wirerun.wording import many, number

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

    The cheapest shifts are those of `rules.levelling`. The probability is that of `judge_need`: errors and shifts move
    the loads of all wires and states in proportion to their tension, so the wire and state with the least pull in hand
    for its tension is the worst at every shift. On a hard limit instead posts would be put just inside it, where the
    ground's error and the crew's leave half of them wrong. That loads go with the shifts in a straight line holds to
    some tenths of a newton; the plan's loads are reckoned anew, exactly.

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
    heights, places = standing
    with np.errstate(invalid="ignore"):
        spare = (undulation.hold_down_n + states.load_n[clipped]) / states.tension_n[clipped]
    least = np.fmin.reduce(spare.transpose(1, 0, 2).reshape(len(posts), -1), axis=1)
    hung = Hung.on(posts.feet, least, clips.level_m, clips.marking_m)
    top = np.where(places.used[clipped].any(axis=0), places.height_m, 0.0).max(axis=1, initial=0.0)
    room = room_for_steps(top, heights.out_m)

    def tally(chance: FloatArray, steps: IntArray) -> Tally:
        return Tally.of(hung.at_steps(chance, steps)[posts.middle], undulation.planned_from)

    chance = hung.chance(known)
    steps = hung.level(posts.feet, chance, room, prices)
    better = None
    if not np.isnan(known.noise_ratio):
        chance_then = hung.chance(_seen_better(known))
        better = tally(chance_then, hung.level(posts.feet, chance_then, room, prices))
    shift = np.asarray(STEP_M * steps, dtype=np.float64)
    return Levelling(shift, tally(chance, np.zeros_like(steps)), better)


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


def _seen_better(known: LoadPosterior) -> LoadPosterior:
    """What a better survey might tell: one draw, each post by itself."""
    rng = np.random.default_rng(_SEED)
    past = np.cumsum(np.nan_to_num(known.weight), axis=1)
    kind = (rng.random(len(past))[:, None] > past).sum(axis=1).clip(0, past.shape[1] - 1)[:, None]
    error, left, then = (
        np.take_along_axis(each, kind, axis=1) for each in (known.error, known.left, known.left_better)
    )
    cleared = np.sqrt(np.maximum(left**2 - then**2, 0.0))
    weight = np.where(np.isnan(known.weight[:, :1]), np.nan, 1.0)
    return replace(
        known, weight=weight, error=error + cleared * rng.standard_normal(error.shape), left=then, left_better=then
    )
