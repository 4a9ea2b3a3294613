"""How each foliage wire gets out of the way for winter: left to drop, let out by an adjuster, undone, or parked."""

import numpy as np

from wirerun.arrays import BoolArray, no_words
from wirerun.model.moved_wires import Adjusters, Drop, Slack, WaysDown


def choose_ways(drop: Drop, slack: Slack, parked: BoolArray, adjusters: Adjusters) -> WaysDown:
    """Way of every foliage wire: nothing where it drops by itself, else an adjuster, else undoing one end.

    An end that is undone lets the wire lie along all the ground, but it is under tension when it is undone, and has to
    be strained and tied off again every spring; so it comes last.

    Parameters
    ----------
    drop : Drop
        How much is clear of the freed wires.
    slack : Slack
        How tight they are where they are parked.
    parked : [wire, row]
        Whether the wire is parked in clips of its own.
    adjusters : Adjusters
        Which wires have one.
    """
    shape = parked.shape
    way, reason = no_words(parked.size).reshape(shape), no_words(parked.size).reshape(shape)
    let_down = ~np.isnan(adjusters.down_mm)
    alone = let_down & (adjusters.down_mm == 0.0)
    for word, where in (
        ("undo an end", let_down & ~alone),
        ("adjuster", let_down & ~alone & adjusters.fitted),
        ("nothing", alone),
        ("park", let_down & parked),
    ):
        way[where] = word
    for at in zip(*np.nonzero(let_down), strict=True):
        tight = "" if np.isnan(slack.parked_n[at]) else f" at {slack.parked_n[at]:.0f} N"
        clear = f"{100.0 * drop.freed.clear[at]:.0f} % of its middle is clear, {100.0 * drop.asked[at[0]]:.0f} % asked"
        said = f"parked, by hand{tight}" if parked[at] else clear
        if alone[at]:
            lacks = drop.lacks_mm[at]
            reason[at] = (
                f"{said}; lacks {lacks:.0f} mm, not worth an adjuster" if lacks > 0.0 and not parked[at] else said
            )
        elif adjusters.fitted[at]:
            reason[at] = f"{said}; {adjusters.kind[at]} lets it out by {adjusters.down_mm[at]:.0f} mm"
        else:
            reason[at] = f"{said}; no adjuster takes up {adjusters.down_mm[at]:.0f} mm"
    return WaysDown(way, reason)
