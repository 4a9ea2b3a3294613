"""Foliage wires moved by hand: how tight they get at the length they have, and how much slack that asks for."""

import numpy as np

from wirerun.arrays import FloatArray
from wirerun.model.clips import ClipPositions
from wirerun.model.layout import Posts
from wirerun.model.moved_wires import Slack
from wirerun.settings import StateSettings, WireSettings
from wirerun.stages.wires.chains import moved
from wirerun.stages.wires.end_give import EndGive


def slack_to_move(
    posts: Posts,
    cut_m: FloatArray,
    ends: EndGive,
    wires: tuple[WireSettings, ...],
    states: StateSettings,
    places: ClipPositions,
) -> Slack:
    """Slack that foliage wires need to be lifted, and to be parked for winter.

    A wire that gets tighter than a hand can bear on its way is let out until its set tension is back. One that is
    strung tighter than that is moved at what it is strung to: no slack would ease it.

    Parameters
    ----------
    posts : Posts
        Where the wires run.
    cut_m : [wire, row]
        Unstretched length as strung. [m]
    ends : EndGive
        How the end posts give way.
    wires : tuple of WireSettings
        The wire axis.
    states : StateSettings
        Temperatures of stringing, which is that of lifting too, and of winter; the tension that a hand moves.
    places : ClipPositions
        Which wire is moved to which clips.
    """
    found = {use: np.full((2, *cut_m.shape), np.nan) for use in ("lifted", "winter")}
    still = np.zeros(cut_m.shape[1], dtype=np.bool_)
    for use, change_k in (("lifted", 0.0), ("winter", states.winter_c - states.stringing_c)):
        there = getattr(places, use)[:, posts.first]
        for number, wire in enumerate(wires):
            greatest, slack = found[use][:, number]
            for place in np.flatnonzero(there[number].any(axis=0)):
                height, give = float(places.height_m[place]), ends.alone[number]
                here = moved(posts, wire, height, cut_m[number], still, change_k, give)
                tension = np.fmax(*here.chain.support_tension_n[[posts.first, posts.last]])
                hard = tension > max(states.lift_limit_n, wire.tension_n)
                short_mm = np.where(hard, 1000.0 * np.maximum(here.back_m - cut_m[number], 0.0), 0.0)
                for kept, value in ((greatest, tension), (slack, short_mm)):
                    kept[:] = np.where(there[number, :, place], np.fmax(kept, value), kept)
    return Slack(found["lifted"][0], found["winter"][0], found["lifted"][1], found["winter"][1])
