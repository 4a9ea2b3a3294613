"""How many posts get two-way clips, by what a one-way clip still holds: shown beside the order until that is tested."""

from collections.abc import Callable, Iterable
from typing import Final

import numpy as np

from wirerun.arrays import IntArray
from wirerun.findings import Findings
from wirerun.model.clips import Clips, HoldDownOption
from wirerun.wording import number

#: Upward pulls to compare [N]: an open hook holds none. Choice.
PULLS_N: Final = (0.0, 5.0, 10.0, 20.0)


def compare_hold_downs(
    planned_n: float,
    planned: Clips,
    clips_at: Callable[[float], Clips],
    pieces: IntArray,
    known: Iterable[float],
    notes: Findings,
) -> tuple[HoldDownOption, ...]:
    """Two-way clips that the plan would have if its one-way clips held more or less.

    Parameters
    ----------
    planned_n : float
        What they are taken to hold. [N]
    planned : Clips
        The plan's.
    clips_at : callable
        Clips as planned at another pull: by the plan's own way.
    pieces : [wire, post]
        Clips bought.
    known : iterable of float
        What the catalogue says of one-way clips; nothing where none is tested. [N]
    notes : Findings
        Hears of the counts where none is.

    Returns
    -------
    tuple of HoldDownOption
        By rising pull.
    """
    made = []
    for pull in sorted({*PULLS_N, planned_n}):
        two_way = (planned if pull == planned_n else clips_at(pull)).kind == "two-way"
        made.append(
            HoldDownOption(
                pull, int(two_way.any(axis=0).sum()), int(np.where(two_way, pieces, 0).sum()), pull == planned_n
            )
        )
    if not list(known):
        counts = ", ".join(f"{number(each.posts)} at {each.hold_n:g} N" for each in made)
        notes.note(
            "clips-untested",
            f"One-way clips are taken to hold their wire down by {planned_n:g} N (undulation.hold_down_n); the "
            f"catalogue has no test of them. Posts with two-way clips by what they hold: {counts}. Try ten clips "
            "and put the pulls into the catalogue (hold_down_tests_n in fixings.csv) before ordering.",
        )
    return tuple(made)
