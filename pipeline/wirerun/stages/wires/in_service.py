"""The wires in service: where they are, and what they pull and push under what bears on them."""

from typing import NamedTuple

import numpy as np

from wirerun.arrays import BoolArray, FloatArray, TextArray
from wirerun.findings import Findings, name_some
from wirerun.mechanics.gauge import mid_span_deflection, pushed_tension, side_force_for
from wirerun.mechanics.give import Give
from wirerun.mechanics.season import warmed
from wirerun.mechanics.service_loads import Loaded, under_load
from wirerun.mechanics.supports import Supports
from wirerun.mechanics.wire import Wire
from wirerun.model.clips import ClipPositions
from wirerun.model.layout import NamedRows, Posts
from wirerun.model.service import InService, OnWires, ServicePlaces
from wirerun.rules.wire import hung, wire_of
from wirerun.service_state import ServiceState
from wirerun.settings import Config, WireSettings
from wirerun.stages.wires.chains import back_to_tension
from wirerun.stages.wires.end_give import EndGive
from wirerun.wording import many, number


def edge_rows(named: NamedRows, row_id: TextArray, count: int) -> BoolArray:
    """Which rows are among the outermost on either side of the block, [row]; pieces of one line are one.

    Parameters
    ----------
    named : NamedRows
        Rows as they were laid, and the line of each.
    row_id : [row]
        The rows that are asked for.
    count : int
        Rows on either side.
    """
    lines, place = np.unique(named.line, return_inverse=True)
    outer = (place < count) | (place >= len(lines) - count)
    of_row = dict(zip(named.rows.row_id, outer, strict=True))
    return np.array([of_row[one] for one in row_id], dtype=np.bool_)


def service_places(posts: Posts, places: ClipPositions, config: Config) -> ServicePlaces:
    """Where each wire is in service: in its highest clips, or where it is strung.

    Parameters
    ----------
    posts : Posts
        The posts.
    places : ClipPositions
        Where clips stand, and which wire is lifted to which.
    config : Config
        Wires, and `service.wires_at`.
    """
    wires = config.wires
    strung = np.repeat([[wire.height_m] for wire in wires], len(posts), axis=1)
    which = np.repeat(np.arange(len(wires))[:, None], len(posts), axis=1)
    lifted = places.lifted & (config.service.wires_at == "lifted")
    goes = np.asarray(lifted.any(axis=2))
    # Places rise, so that the last is the highest.
    top = lifted.shape[2] - 1 - lifted[:, :, ::-1].argmax(axis=2)
    height = np.where(goes, places.height_m[top], strung)
    wire, post = np.nonzero(goes)
    host = which.copy()
    lent = places.lent[wire, post, top[wire, post]]
    owner = places.own[:, post, top[wire, post]].argmax(axis=0)
    host[wire, post] = np.where(lent, owner, wire)
    moves = np.array([[wire.ends_move] for wire in wires], dtype=np.bool_)
    return ServicePlaces(height, np.where(moves, height, strung), host, goes[:, posts.first])


def wires_in_service(
    posts: Posts,
    places: ServicePlaces,
    loads: tuple[OnWires, ...],
    cut_m: FloatArray,
    adjusted: BoolArray,
    ends: EndGive,
    config: Config,
) -> tuple[InService, ...]:
    """Tensions, loads on fixings and pulls on posts in every service state.

    Each wire keeps its length, or is let out by its adjuster where it was lifted, and slides without friction. A
    machine pushes one line in the middle of its row's longest span, which tightens it, or at a post. In a curved row
    the pull of the bend is added to the side, whichever way the wind blows.

    Parameters
    ----------
    posts : Posts
        Where the wires run.
    places : ServicePlaces
        How high they are.
    loads : tuple of OnWires
        What bears on them.
    cut_m : [wire, row]
        Unstretched length as strung. [m]
    adjusted : [wire, row]
        Whether the wire has an adjuster.
    ends : EndGive
        How the end posts give way.
    config : Config
        Wires, and temperatures.
    """
    asked, states = config.service, config.states
    change_k = 0.0 if asked.wire_c is None else asked.wire_c - states.stringing_c
    hung_on = []
    for which, wire in enumerate(config.wires):
        supports = hung(posts, wire, np.where(posts.is_end, places.at_ends_m[which], places.height_m[which]))
        out = adjusted[which] & places.lifted[which]
        length = np.where(out, back_to_tension(supports, wire), cut_m[which])
        spec = wire_of(wire)
        hung_on.append(_Hung(wire, supports, spec, warmed(spec, length, change_k), ends.alone[which]))
    return tuple(_in_state(posts, places, on, hung_on) for on in loads)


class _Hung(NamedTuple):
    """One wire as it hangs in service: on what, of what, how long, how its ends give."""

    wire: WireSettings
    supports: Supports
    spec: Wire
    length_m: FloatArray
    give: Give

    def under(self, down: FloatArray, side: FloatArray) -> Loaded:
        return under_load(self.supports, self.spec, self.length_m, down, side, self.give)


def _in_state(posts: Posts, places: ServicePlaces, on: OnWires, hung_on: list[_Hung]) -> InService:
    wires = len(hung_on)
    tension, end_pull = (np.full((wires, len(posts.rows)), np.nan) for _ in range(2))
    load, aside = (np.full((wires, len(posts)), np.nan) for _ in range(2))
    side, moment, pull, turning = (np.zeros(len(posts)) for _ in range(4))
    bend = 2.0 * np.sin(posts.turn_rad / 2.0)
    for which, hangs in enumerate(hung_on):
        most = hangs.under(on.down_n_per_m[which], on.side_n_per_m[which])
        rest = hangs.under(on.down_n_per_m[which], on.beside_n_per_m[which])
        others = hangs.wire.lines - 1
        push = on.push_n[which]
        at_most = np.maximum.reduceat(most.tension_n, posts.first)
        tension[which] = _pushed(posts, hangs, at_most, push)
        more = (tension[which] / at_most)[posts.row]
        along, along_rest = np.abs(most.along_n) * more, np.abs(rest.along_n)
        end_pull[which] = np.fmax(along[posts.first], along[posts.last])
        across = most.side_n + most.tension_n * more * bend + push
        load[which] = np.where(posts.is_end, np.nan, most.down_n)
        aside[which] = np.where(posts.is_end, np.nan, across)
        height = np.where(posts.is_end, places.at_ends_m[which], places.height_m[which])
        whole = across + others * (rest.side_n + rest.tension_n * bend)
        side += whole
        moment += whole * height
        pull += along + others * along_rest
        turning += (along + others * along_rest) * height
    return InService(
        on,
        tension,
        end_pull,
        load,
        aside,
        side,
        moment,
        np.where(posts.is_end, pull, np.nan),
        np.where(posts.is_end, turning, np.nan),
    )


def _pushed(posts: Posts, hangs: _Hung, tension_n: FloatArray, push_n: float) -> FloatArray:
    """Tension of a line of each row that a machine pushes in the middle of the longest span, [row] [N].

    NaN where that would draw the wire out as far as the span is long: nothing that a machine does to it.
    """
    if push_n == 0.0:
        return tension_n
    chord = np.hypot(posts.dx_m, posts.rise_m)
    span = np.maximum.reduceat(chord, posts.first_span)
    row_m = np.add.reduceat(chord, posts.first_span)
    stiff = float(np.asarray(hangs.spec.axial_stiffness_n))
    pushed = np.full(len(tension_n), np.nan)
    known = np.flatnonzero(~np.isnan(tension_n))
    known = known[side_force_for(span[known], tension_n[known], span[known], stiff, row_m[known]) > push_n]
    pulled, span, row_m = tension_n[known], span[known], row_m[known]
    out = mid_span_deflection(span, pulled, push_n, stiff, row_m)
    pushed[known] = pushed_tension(span, pulled, out, stiff, row_m)
    return pushed


def note_wires(
    posts: Posts,
    states: tuple[InService, ...],
    bare_least_n: FloatArray,
    config: Config,
    notes: Findings,
) -> None:
    """Say which wires get tighter than their knots bear, and what a crop takes off the pull upwards.

    Parameters
    ----------
    posts : Posts
        Where the wires run.
    states : tuple of InService
        What they do.
    bare_least_n : [wire, post]
        Least load of the bare wire over its own states. [N]
    config : Config
        Wires and what a one-way clip holds.
    notes : Findings
        Hears of it.
    """
    for which, wire in enumerate(config.wires):
        tension = np.stack([each.tension_n[which] for each in states])
        over = np.flatnonzero((tension > wire.knot_n).any(axis=0))
        if len(over):
            worst, row = np.unravel_index(int(np.nanargmax(tension)), tension.shape)
            notes.note(
                "service-knot",
                f"In service wire {wire.id} reaches {tension[worst, row]:.0f} N ({states[worst].on.state}, "
                f"{posts.rows.row_id[row]}), more than the {wire.knot_n:.0f} N its end knot bears, in "
                f"{many(len(over), 'row')}: shorter spans, less tension, another knot or wire: "
                f"{name_some(posts.rows.row_id[over])}.",
            )
    crop = [each for each in states if each.on.state == ServiceState.CROP]
    if not crop:
        return
    borne = (crop[0].on.down_n_per_m > 0.0)[:, posts.row]
    up = borne & (bare_least_n < -config.undulation.hold_down_n)
    if up.any():
        notes.note(
            "service-crop",
            f"Under the crop {number(int((up & (crop[0].load_n >= 0.0)).sum()))} of {many(up.sum(), 'fixing')} that "
            "the bare wire pulls up on are borne down on. No two-way clip or staple is left out for it: they are for "
            "the bare wire in winter and spring.",
        )
