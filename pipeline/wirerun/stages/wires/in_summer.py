"""Foliage wires in the heat: where they get too slack to hold the shoots, and what would keep them tight."""

import numpy as np

from wirerun.arrays import BoolArray, FloatArray
from wirerun.errors import MechanicsError
from wirerun.findings import Findings, name_some
from wirerun.mechanics.chain import solve_chain, unstretched_totals
from wirerun.mechanics.give import Give
from wirerun.mechanics.season import chain_at_length, warmed
from wirerun.model.layout import Posts
from wirerun.model.wires import InState
from wirerun.rules.wire import hung, wire_of
from wirerun.settings import StateSettings, WireSettings
from wirerun.stages.wires.end_give import EndGive
from wirerun.wording import many


def note_soft(
    posts: Posts,
    cut_m: FloatArray,
    hot: InState,
    ends: EndGive,
    wires: tuple[WireSettings, ...],
    states: StateSettings,
    notes: Findings,
) -> None:
    """Say where foliage wires are too slack on the hottest day, at the row's start, and what would avoid it.

    Either a greater tension at the temperature of stringing, or the set tension on a warmer day: both leave the wire
    shorter by the same, and tighter in the cold.

    Parameters
    ----------
    posts : Posts
        Where the wires run.
    cut_m : [wire, row]
        Unstretched length as strung. [m]
    hot : InState
        The wires on the hottest day.
    ends : EndGive
        How the end posts give way.
    wires : tuple of WireSettings
        The wire axis.
    states : StateSettings
        The least tension in the heat, and temperatures.
    notes : Findings
        Hears of it.
    """
    for number, wire in enumerate(wires):
        tension = hot.ends.start_n[number]
        soft = tension < states.hot_least_n
        if wire.kind != "foliage" or not soft.any():
            continue
        rows = posts.rows.row_id[soft]
        notes.note(
            "soft-in-heat",
            f"At {states.hot_c:g} \N{DEGREE SIGN}C wire {wire.id} has less than the {states.hot_least_n:g} N that hold "
            f"the shoots (states.hot_least_n) in {many(len(rows), 'row')}, down to {tension[soft].min():.0f} N"
            f"{_remedy(posts, cut_m[number], soft, number, ends, wire, states)}: {name_some(rows)}.",
        )


def _remedy(
    posts: Posts,
    cut_m: FloatArray,
    soft: BoolArray,
    number: int,
    ends: EndGive,
    wire: WireSettings,
    states: StateSettings,
) -> str:
    """What would keep one wire tight enough in the rows where it gets too slack, in words; nothing if nothing does."""
    spec, supports, give = wire_of(wire), hung(posts, wire), ends.together[number]
    least = states.hot_least_n
    try:
        hot_m = unstretched_totals(solve_chain(supports, spec, least))
    except MechanicsError:  # so slack that it hangs in no span: there is no such length
        return ""
    from_hot = Give(give.m_per_n, np.full(len(posts.rows), least))
    cooled = warmed(spec, hot_m, states.stringing_c - states.hot_c)
    needed = chain_at_length(supports, spec, cooled, from_hot).start_tension_n[soft].max()
    said = f"; strung at {5.0 * np.ceil(needed / 5.0):.0f} N it would keep them"
    if wire.tension_n > least and wire.expansion_per_k > 0.0:
        # The set length, grown from the wanted temperature to the hottest, is then that of the least tension.
        short = (hot_m - give.m_per_n * (least - wire.tension_n)) / cut_m - 1.0
        warm_c = np.ceil((states.hot_c - short / wire.expansion_per_k)[soft].max())
        said += f", and so it would at the set {wire.tension_n:g} N on a day of {warm_c:.0f} \N{DEGREE SIGN}C"
    return f"{said}; either pulls harder in the cold"
