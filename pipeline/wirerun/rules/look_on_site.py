"""What a person who looks at a post on site goes by."""

from collections.abc import Sequence

import numpy as np

from wirerun.arrays import FloatArray
from wirerun.mechanics import lifting_dip
from wirerun.model.layout import Posts
from wirerun.rules.wire import wire_of
from wirerun.settings import WireSettings


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
