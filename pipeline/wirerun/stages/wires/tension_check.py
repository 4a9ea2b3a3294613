"""What a wire at its set tension shows in the field, at the temperature of the day: gauge readings, sag, and give."""

import numpy as np

from wirerun.arrays import FloatArray
from wirerun.mechanics.gauge import mid_span_deflection, side_force_for
from wirerun.mechanics.season import chain_at_length, warmed
from wirerun.model.layout import Posts
from wirerun.model.wires import TensionCheck
from wirerun.rules.wire import hung, wire_of
from wirerun.settings import CheckSettings, WireSettings
from wirerun.stages.wires.end_give import EndGive


def tension_sheet(
    posts: Posts,
    cut_m: FloatArray,
    ends: EndGive,
    wires: tuple[WireSettings, ...],
    stringing_c: float,
    check: CheckSettings,
) -> TensionCheck:
    """Gauge reading, sag and sideways give of the middle span of every row and wire, by temperature.

    Pushed at mid-span by a force, a wire that slides in its clips shares the stretch along the whole row, and one that
    sticks takes all of it in the span: the give tells the two apart as badly as a slack wire from a tight one. A short
    gauge draws it out by a few millimetres only, so that both read nearly alike.

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
    stringing_c : float
        Temperature of stringing. [degree C]
    check : CheckSettings
        Temperatures of the sheet and the side force.
    """
    middle = (posts.first_span + posts.last_span + 1) // 2  # of an even number of spans the one behind the middle
    chord = np.hypot(posts.dx_m, posts.rise_m)
    along = np.add.reduceat(chord, posts.first_span)
    wide = (len(wires), len(check.temperatures_c), len(posts.rows))
    tension, sag, pushed = (np.full(wide, np.nan) for _ in range(3))
    for number, wire in enumerate(wires):
        spec, supports = wire_of(wire), hung(posts, wire)
        for step, celsius in enumerate(check.temperatures_c):
            length = warmed(spec, cut_m[number], celsius - stringing_c)
            state = chain_at_length(supports, spec, length, ends.together[number])
            tension[number, step] = state.start_tension_n
            sag[number, step] = state.chain.spans.sag_m[middle]
            pushed[number, step] = state.chain.spans.tension_start_n[middle]
    give = np.full(wide, np.nan)
    known = ~np.isnan(pushed)  # a loose wire has no tension to push against
    stiffness = np.array([wire_of(wire).axial_stiffness_n for wire in wires])[:, None, None]
    give[known] = mid_span_deflection(
        np.broadcast_to(chord[middle], wide)[known],
        pushed[known],
        check.side_force_n,
        np.broadcast_to(stiffness, wide)[known],
        np.broadcast_to(along, wide)[known],
    )
    known &= np.broadcast_to(chord[middle] >= check.gauge_base_m, wide)
    gauge, stuck = np.full((2, *wide), np.nan)
    for reading, sharing in ((gauge, along), (stuck, chord[middle])):
        reading[known] = side_force_for(
            check.gauge_base_m,
            pushed[known],
            check.gauge_push_mm / 1000.0,
            np.broadcast_to(stiffness, wide)[known],
            np.broadcast_to(sharing, wide)[known],
        )
    temperatures = np.array(check.temperatures_c, dtype=np.float64)
    return TensionCheck(temperatures, check.side_force_n, posts.dx_m[middle], tension, sag, give, gauge, stuck)
