"""Which posts are worth a look on site, and what a person who looks goes by.

A post is looked at once the wires are strained: a string from the clip before to the clip after shows whether the wire
will lift, whatever made it so, the survey's error or the crew's. Who does not look comes back later to each clip that
has let its wire go. Where two-way clips cost less than either, they are planned and there is nothing to look at
(`clip_prices`). The change of clips is the same work and the same clips both times, so the choice is between minutes:

    a look takes L; not looking takes P times V, the coming back, where P is the probability of the need.

So a look is worth its time where P V > L, at a one-way clip. It saves P V - L, and posts come in the order of that.
Labour costs the same both times and stays out.
"""

from collections.abc import Sequence
from typing import Final, NamedTuple

import numpy as np

from wirerun.arrays import FloatArray
from wirerun.mechanics import lifting_dip
from wirerun.model.layout import Posts
from wirerun.rules.wire import wire_of
from wirerun.settings import Catalogue, WireSettings

#: Rates of the catalogue, each for one post: a look at it with the wires strained, and coming back to it later.
LOOK: Final = "look"
COME_BACK: Final = "come back"
# Where the catalogue is silent: two people with a string, a minute each; a walk of some 200 m on a slope, with tools.
# Choices.
_LOOK_MINUTES: Final = 2.0
_COME_BACK_MINUTES: Final = 6.0


class LookMinutes(NamedTuple):
    """Minutes of one person for a look at a post, and for coming back to it later [min]."""

    look: float
    come_back: float

    @classmethod
    def of(cls, catalogue: Catalogue) -> "LookMinutes":
        """Return the catalogue's, or ours where it has none."""
        given = {rate.id: rate.minutes for rate in catalogue.rates}
        return cls(given.get(LOOK, _LOOK_MINUTES), given.get(COME_BACK, _COME_BACK_MINUTES))

    def saved(self, probability: FloatArray) -> FloatArray:
        """Minutes that a look is expected to save, by the probability of the need, any shape; below 0 where none [min].

        >>> LookMinutes(2.0, 6.0).saved(np.array([0.1, 0.5])).round(1).tolist()
        [-1.4, 1.0]
        """
        return np.asarray(probability * self.come_back - self.look)


def lifts_below_m(posts: Posts, wires: Sequence[WireSettings], tension_n: FloatArray, hold_down_n: float) -> FloatArray:
    """How far below the line of its neighbours' clips a clip may lie before the wire lifts, [wire, row] [m].

    Parameters
    ----------
    posts : Posts
        The post axis; spans of the mean length of their row are taken.
    wires : sequence of WireSettings
        Their weight.
    tension_n : [wire, row]
        Greatest tension of each: that at which it lifts soonest. [N]
    hold_down_n : float
        Pull upwards that a one-way clip bears. [N]
    """
    chord = np.add.reduceat(np.hypot(posts.dx_m, posts.rise_m), posts.first_span) / (posts.last - posts.first)
    weight = np.array([wire_of(wire).weight_n_per_m for wire in wires], dtype=np.float64)[:, None]
    return lifting_dip(chord, tension_n, weight, hold_down_n)
