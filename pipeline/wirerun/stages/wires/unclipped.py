"""Wires strained in the air, before they are in their clips: at what tension they end once they are drawn into them."""

import numpy as np

from wirerun.arrays import FloatArray
from wirerun.findings import Findings, name_some
from wirerun.geometry.station import first_and_last
from wirerun.mechanics.chain import solve_chain, unstretched_totals
from wirerun.mechanics.hull import upper_hull
from wirerun.mechanics.season import chain_at_length
from wirerun.mechanics.supports import Supports
from wirerun.mechanics.wire import Wire
from wirerun.model.layout import Posts
from wirerun.rules.order_of_work import STRAIN
from wirerun.rules.wire import hung, wire_of
from wirerun.settings import WireSettings
from wirerun.wording import many


def strained_unclipped(posts: Posts, wires: tuple[WireSettings, ...], notes: Findings) -> FloatArray:
    """Tension at the first post of a wire that is strained first and put into its clips afterwards, [wire, row] [N].

    In the air the wire bears on the posts over the crests, at its own height, and hangs free over the hollows, at the
    set tension. Drawn down into its clips with both ends fast it has to go a longer way on the same length. On even
    ground that is the set tension; NaN where the wire is too slack to hang free.

    Parameters
    ----------
    posts : Posts
        Where the wires run.
    wires : tuple of WireSettings
        The wire axis.
    notes : Findings
        Hears of wires whose end knot would not bear it.
    """
    ends = np.stack([_drawn_down(hung(posts, wire), wire_of(wire), wire.tension_n) for wire in wires])
    for wire, found in zip(wires, ends, strict=True):
        over = np.flatnonzero(found > wire.knot_n)
        if len(over):
            notes.note(
                "strained-unclipped",
                f"{STRAIN} Strained before, wire {wire.id} would end at up to {found[over].max():.0f} N in "
                f"{many(len(over), 'row')}, more than the {wire.knot_n:.0f} N its end knot bears: "
                f"{name_some(posts.rows.row_id[over])}.",
            )
    return ends


def _drawn_down(clips: Supports, wire: Wire, tension_n: float) -> FloatArray:
    """Tension at the start of each row once a wire strained in the air is in its clips, shape (rows,) [N]."""
    weight = float(np.asarray(wire.weight_n_per_m))
    outer = np.zeros(len(clips.x_m), dtype=np.bool_)
    outer[np.concatenate(first_and_last(clips.rows.ordinal))] = True
    # With w x^2 / (2 T) off the heights, a hanging wire is a straight line, and so this hull is where it bears.
    bears = upper_hull(clips.x_m, clips.z_m - weight * clips.x_m**2 / (2.0 * tension_n), outer)
    row = clips.rows.ordinal[bears]
    borne = Supports(clips.x_m[bears], clips.z_m[bears], row)
    # A span that its own weight bends into an arc has no such tension (at 0.75 w L on the level); well before that:
    arc = weight * (borne.dx_m + 2.0 * np.abs(borne.rise_m)) > tension_n
    slack = np.zeros(len(clips.rows.first), dtype=np.bool_)
    slack[borne.rows.of_span[arc]] = True
    borne = borne.at_heights(np.where(slack[row], np.nan, borne.z_m))
    length = unstretched_totals(solve_chain(borne, wire, tension_n))
    return chain_at_length(clips, wire, length).start_tension_n
