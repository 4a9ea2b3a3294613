"""How the end posts of every row give way to a wire, as all wires change together, it alone, or the foliage wires."""

from typing import NamedTuple

import numpy as np

from wirerun.arrays import BoolArray
from wirerun.mechanics.give import Give, give_of_some, give_together
from wirerun.model.layout import Posts
from wirerun.rules.wire import wire_of
from wirerun.settings import PostSettings, WireSettings


class EndGive(NamedTuple):
    """Give of both end posts to one line, a `Give` of all rows for each wire.

    Attributes
    ----------
    together : tuple of Give
        When all wires of the row get colder or hotter.
    alone : tuple of Give
        When the wire is moved and the others stay.
    let_down : tuple of Give
        When all foliage wires are freed and the fixed ones stay.
    """

    together: tuple[Give, ...]
    alone: tuple[Give, ...]
    let_down: tuple[Give, ...]

    def of(self, row: BoolArray) -> "EndGive":
        """Those of some rows."""
        return EndGive(*(tuple(give.of(row) for give in gives) for gives in self))


def end_give(posts: Posts, wires: tuple[WireSettings, ...], settings: PostSettings) -> EndGive:
    """Give of the end posts of every row.

    Parameters
    ----------
    posts : Posts
        Where the wires run.
    wires : tuple of WireSettings
        Lines and stiffness; each stands where it is at its set tension.
    settings : PostSettings
        How far an end post gives.
    """
    per_n = settings.end_give_mm_per_kn * 1e-6
    lines = np.array([wire.lines for wire in wires], dtype=np.float64)
    stiffness = np.array([float(wire_of(wire).axial_stiffness_n) for wire in wires])
    foliage = np.array([wire.kind == "foliage" for wire in wires])
    length = np.add.reduceat(np.hypot(posts.dx_m, posts.rise_m), posts.first_span)
    of_all = give_together(per_n, lines, stiffness)
    freed = give_of_some(per_n, lines, stiffness, length, foliage)
    which, strung_n = np.arange(len(wires)), np.array([wire.tension_n for wire in wires])
    strung = np.broadcast_to(strung_n[:, None], (len(wires), len(length)))
    return EndGive(
        together=tuple(map(Give, np.broadcast_to(of_all[:, None], strung.shape), strung)),
        alone=tuple(
            Give(give_of_some(per_n, lines, stiffness, length, which == number), strung[number]) for number in which
        ),
        let_down=tuple(Give(freed, each) for each in strung),
    )
