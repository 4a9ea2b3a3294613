"""Shifts of clips that cost least, on the probability of the need: one rule for the clips and for where posts stand."""

from typing import Final, NamedTuple

import numpy as np
from scipy.special import ndtr

from wirerun.arrays import FloatArray, IntArray
from wirerun.mechanics.load_posterior import LoadPosterior
from wirerun.mechanics.supports import Supports
from wirerun.mechanics.undulation import load_sensitivity
from wirerun.optimise.levelling import NEVER, StepCosts, cheapest_steps
from wirerun.rules.post_prices import PostPrices

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
# Whole steps within rounding.
_WHOLE: Final = 1e-6
# Least spread, so that a load without error is on one side or the other.
_TINY: Final = 1e-12


class Hung(NamedTuple):
    """What decides how likely each post needs a two-way clip.

    Attributes
    ----------
    spare : [post]
        Least pull, of all wires and states, that a one-way clip has in hand over the tension; NaN at row ends, and
        where no load is known. [N/N]
    slope : [post, 3]
        By how much a step of the previous, the own and the next post adds to it. [N/N]
    reach : [post]
        The most that steps add. [N/N]
    marked : [post]
        One sigma of it from the error with which clips are set. [N/N]
    most : int
        Steps allowed up or down.
    """

    spare: FloatArray
    slope: FloatArray
    reach: FloatArray
    marked: FloatArray
    most: int

    @classmethod
    def on(cls, feet: Supports, spare: FloatArray, level_m: float, marking_m: float) -> "Hung":
        """Clips on posts that stand so, allowed to be set off their heights by so much [m]."""
        most = int(np.floor(level_m / STEP_M + _WHOLE))
        sensitivity = load_sensitivity(feet, 1.0)
        slope = STEP_M * np.nan_to_num(sensitivity)
        marked = marking_m * np.sqrt((sensitivity**2).sum(axis=1))
        return cls(spare, slope, np.maximum(most * np.abs(slope).sum(axis=1), _TINY), marked, most)

    def chance(self, known: LoadPosterior) -> FloatArray:
        """Probability of the need at even places from -reach to reach, [post, place]; 0 where no load is known."""
        place = np.linspace(-1.0, 1.0, _PLACES) if self.most else np.zeros(1)
        spare = np.where(np.isnan(self.spare), np.inf, self.spare)[:, None] + self.reach[:, None] * place
        sigma = np.maximum(np.hypot(known.left, self.marked[:, None]), _TINY)
        total = np.zeros(spare.shape)
        for weight, error, spread in zip(known.weight.T, known.error.T, sigma.T, strict=True):
            total += np.nan_to_num(weight)[:, None] * ndtr(np.nan_to_num((error[:, None] - spare) / spread[:, None]))
        part = np.arange(_PARTS) / _PARTS
        between = total[:, :-1, None] * (1.0 - part) + total[:, 1:, None] * part
        return np.concatenate((between.reshape(len(total), -1), total[:, -1:]), axis=1)

    def at_steps(self, chance: FloatArray, steps: IntArray) -> FloatArray:
        """Probability of the need of each post at given steps, [post]; 0 at row ends."""
        around = np.pad(steps, 1)[np.arange(len(steps))[:, None] + np.arange(3)]
        place = ((self.slope * around).sum(axis=1) / self.reach + 1.0) * (chance.shape[1] - 1) / 2.0
        return np.asarray(chance[np.arange(len(steps)), np.rint(place).astype(np.int64)])

    def level(self, feet: Supports, chance: FloatArray, room_steps: FloatArray, prices: PostPrices) -> IntArray:
        """Steps of all posts that cost least, [post].

        A post costs a two-way clip, or a missed one (twice over) times the probability of the need; from one kind to
        the other costs a change, so that what joins sections is counted. A step costs its work.

        Parameters
        ----------
        feet : Supports
            The posts.
        chance : [post, place]
            From `chance`.
        room_steps : [post]
            Steps that the clips of a post have room for, up.
        prices : PostPrices
            What two-way clips, missed ones and shifts cost.
        """
        of_post = np.rint(_PARTS_PER_UNIT * _MISSED * prices.missed * chance).astype(np.int64)
        steps, is_end = np.arange(-self.most, self.most + 1), np.ones(feet.rows.size, dtype=np.bool_)
        is_end[feet.rows.inner] = False
        work = _PARTS_PER_UNIT * prices.shift * ((steps != 0) + _EACH_CM * np.abs(steps))
        barred = (is_end[:, None] & (steps != 0)) | ((steps > 0) & (steps > room_steps[:, None]))
        of_step = np.where(barred, NEVER, np.rint(work).astype(np.int64))
        two_way, change = (round(_PARTS_PER_UNIT * price) for price in (prices.two_way, prices.change))
        return cheapest_steps(feet.rows, StepCosts(self.slope, self.reach, of_post, of_step, two_way, change))


def room_for_steps(top_m: FloatArray, height_out_m: FloatArray) -> FloatArray:
    """Whole steps up from the highest clip of each post to its top, [post]."""
    return np.asarray(np.floor((height_out_m - top_m) / STEP_M + _WHOLE))
