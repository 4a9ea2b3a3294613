"""The foliage wires let down for winter: how much of each row is clear of them, and what clears the rest."""

from dataclasses import fields
from typing import Final

import numpy as np

from wirerun.arrays import BoolArray, FloatArray
from wirerun.findings import Findings
from wirerun.mechanics.drop import MIDDLE, clear_along, length_to_drop, level_drop_span, level_share
from wirerun.mechanics.rest import RestState, rest_on_ground
from wirerun.mechanics.season import warmed
from wirerun.mechanics.supports import Supports
from wirerun.model.layout import Posts
from wirerun.model.wires import Drop, InState, Lying, RowEnds
from wirerun.rules.wire import wire_of
from wirerun.settings import Config, StateSettings, WireSettings
from wirerun.stages.wires.end_give import EndGive
from wirerun.state import State
from wirerun.wording import many

# A post this near the edge of the middle stands in it. [m]
_HAIR_M: Final = 1e-6


def let_down(
    posts: Posts,
    above_chord_m: FloatArray,
    cut_m: FloatArray,
    give: EndGive,
    parked: BoolArray,
    config: Config,
    notes: Findings,
) -> tuple[InState, Drop]:
    """Foliage wires freed from all intermediate clips in winter, hanging from the end posts and lying where they touch.

    A row is walked, so it is judged along its middle: as much of it must be clear as on level ground when the wire just
    lies half-way, which is the trade's own measure. The tolerance decides whether a wire is down; one that is not is
    let out until it is down without it, or left as it is where that takes too little wire to be worth an adjuster.

    Parameters
    ----------
    posts : Posts
        Where the wires run.
    above_chord_m : [span, place]
        Ground above the line between the posts' feet, at equal parts of each span. [m]
    cut_m : [wire, row]
        Unstretched length as strung. [m]
    give : EndGive
        How the end posts give way.
    parked : [wire, row]
        Whether the wire hangs in clips of its own in winter: nothing is asked of it then.
    config : Config
        Which are foliage wires and how high, how warm they are when let down, the height up to which one is out of the
        way and its tolerance, and the least take-up that is worth an adjuster.
    notes : Findings
        Hears in how many rows the wires drop by themselves, and from which length on.

    Returns
    -------
    state : InState
        End forces of the freed wires; no loads on clips.
    drop : Drop
        How they lie, and the take-up they need.
    """
    ground, is_post = _profile(posts, above_chord_m)
    states, least_mm = config.states, config.adjusters.least_take_up_mm
    shape = (len(config.wires), len(posts.rows))
    middle, take_up, lacks, start, far, pull = (np.full(shape, np.nan) for _ in range(6))
    asked, at_post = np.full(shape[0], np.nan), np.full((len(config.wires), len(posts)), np.nan)
    freed, let_out = ([np.full(shape, np.nan) for _ in fields(Lying)] for _ in range(2))
    for number, wire in enumerate(config.wires):
        if wire.kind != "foliage":
            continue
        spec, ends = wire_of(wire), (wire.height_m, wire.height_m)
        length = warmed(spec, cut_m[number], states.winter_c - states.stringing_c)
        soft = give.let_down[number]
        hung = rest_on_ground(ground, spec, ends, length, soft)
        asked[number] = level_share(wire.height_m, states.drop_height_m, states.drop_clearance_m)
        nearly = clear_along(ground, hung, states.computed_drop_m + states.drop_tolerance_m)
        down = (nearly.share >= asked[number]) | parked[number]
        wanted = np.where(down, np.nan, states.computed_drop_m)
        needed, pull_n = length_to_drop(ground, spec, ends, wanted, asked[number])
        needed -= soft.at(np.where(np.isfinite(pull_n), pull_n, soft.from_n))  # let out, the wire lets the posts back
        short_mm = np.where(down, 0.0, 1000.0 * np.maximum(needed - length, 0.0))
        take_up[number] = np.where(short_mm < least_mm, 0.0, short_mm)
        lacks[number] = short_mm - take_up[number]
        out = rest_on_ground(ground, spec, ends, length + take_up[number] / 1000.0, soft)
        for lie, found in ((freed, hung), (let_out, out)):
            for part, values in zip(lie, _lying(posts, ground, is_post, found, states), strict=True):
                part[number] = values
        middle[number], at_post[number] = hung.middle_above_m, (hung.wire_m - ground.z_m)[is_post]
        start[number], far[number], pull[number] = hung.tension_start_n, hung.tension_far_n, hung.horizontal_n
        _note_drop(~parked[number], take_up[number], lacks[number], freed[1][number], wire, states, notes)
    free = np.full(at_post.shape, np.nan)
    state = InState(State.DROPPED, free, free, RowEnds(start, far, pull, pull))
    return state, Drop(asked, middle, at_post, Lying(*freed), Lying(*let_out), take_up, lacks)


def _lying(
    posts: Posts, ground: Supports, is_post: BoolArray, hung: RestState, states: StateSettings
) -> tuple[FloatArray, ...]:
    """Values of `Lying` for one wire, [row] each."""
    clear = clear_along(ground, hung, states.computed_drop_m)
    above = (hung.wire_m - ground.z_m)[is_post]
    long = posts.along_m[posts.last][posts.row]
    looked_at = np.abs(posts.along_m - 0.5 * long) <= 0.5 * MIDDLE * long + _HAIR_M
    up = np.where(looked_at, np.where(np.isnan(above), np.nan, above > states.computed_drop_m), 0.0)
    return clear.share, clear.greatest_m, np.add.reduceat(up, posts.first)


def _profile(posts: Posts, above_chord_m: FloatArray) -> tuple[Supports, BoolArray]:
    """Ground points along every row, from its first post to its last, and which of them are posts."""
    near = posts.near
    share = np.linspace(0.0, 1.0, above_chord_m.shape[1])[:-1]  # the far post is the next span's near one
    along = posts.along_m[near, None] + share * posts.dx_m[:, None]
    height = posts.ground_m[near, None] + share * posts.rise_m[:, None] + above_chord_m[:, :-1]
    row = np.concatenate([np.repeat(posts.row[near], len(share)), posts.row[posts.last]])
    at = np.concatenate([along.ravel(), posts.along_m[posts.last]])
    z = np.concatenate([height.ravel(), posts.ground_m[posts.last]])
    is_post = np.concatenate([np.tile(share == 0.0, len(near)), np.ones(len(posts.rows), dtype=np.bool_)])
    order = np.lexsort((at, row))
    return Supports(at[order], z[order], row[order]), is_post[order]


def _note_drop(
    judged: BoolArray,
    take_up_mm: FloatArray,
    lacks_mm: FloatArray,
    greatest_m: FloatArray,
    wire: WireSettings,
    states: StateSettings,
    notes: Findings,
) -> None:
    if not judged.any():
        return
    alone, left = judged & (take_up_mm == 0.0), judged & (lacks_mm > 0.0)
    high = alone & (greatest_m > wire.height_m)
    spec = wire_of(wire)
    # Strung in the warmth and freed in the cold it is as short as one that was strung tighter.
    cooled_n = float(spec.axial_stiffness_n * spec.expansion_per_k) * (states.stringing_c - states.winter_c)
    level = ""
    if wire.height_m > states.drop_height_m and wire.tension_n + cooled_n > 0.0:
        level_m = level_drop_span(wire.height_m, spec, wire.tension_n + cooled_n, states.drop_clearance_m)
        level = f"; on level ground rows of about {float(level_m):.0f} m and longer do"
    lacking = f" ({left.sum()} of them for want of up to {lacks_mm.max():.0f} mm, not worth an adjuster)"
    over = f"; over hollows it stays up to {greatest_m[alone].max(initial=0.0):.1f} m high in {many(high.sum(), 'row')}"
    notes.note(
        "drop-span",
        f"Wire {wire.id} ({wire.tension_n:g} N at {wire.height_m:g} m), freed at {states.winter_c:g} \N{DEGREE SIGN}C, "
        f"drops by itself in {alone.sum()} of {judged.sum()} rows{lacking if left.any() else ''}"
        f"{over if high.any() else ''}{level}.",
    )
