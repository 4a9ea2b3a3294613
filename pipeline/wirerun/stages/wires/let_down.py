"""The foliage wires let down for winter: how much of each row is clear of them, and what clears the rest."""

from typing import Final, NamedTuple

import numpy as np

from wirerun.arrays import BoolArray, FloatArray, IntArray
from wirerun.findings import Findings
from wirerun.mechanics.clearing import MIDDLE
from wirerun.mechanics.drop import clear_along, length_to_drop, level_drop_span, level_share
from wirerun.mechanics.give import Give
from wirerun.mechanics.rest import RestState, rest_on_ground
from wirerun.mechanics.season import warmed
from wirerun.mechanics.supports import Supports
from wirerun.mechanics.wire import Wire
from wirerun.model.layout import Posts
from wirerun.model.moved_wires import Drop, Lying
from wirerun.model.wires import InState, RowEnds
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
    foliage = _foliage(config)
    free = np.full((len(config.wires), len(posts)), np.nan)
    nothing = free[:, posts.first]
    if not len(foliage):
        lying = Lying(nothing, nothing, nothing)
        ends = RowEnds(nothing, nothing, nothing, nothing)
        return InState(State.DROPPED, free, free, ends), Drop(free[:, 0], nothing, free, lying, lying, nothing, nothing)

    def spread(values: FloatArray, over: FloatArray = nothing) -> FloatArray:
        """Values of foliage wires among those of all wires."""
        among = over.copy()
        among[foliage] = values.reshape(len(foliage), *over.shape[1:])
        return among

    freed = _free(ground, cut_m[foliage], give, parked[foliage], config)
    hung, take_up, lacks = freed.hung, spread(freed.take_up_mm), spread(freed.lacks_mm)
    longer = freed.take_up_mm > 0.0
    length = np.where(longer, freed.length_m + freed.take_up_mm / 1000.0, np.nan)
    out = rest_on_ground(freed.ground, freed.wire, (freed.height_m, freed.height_m), length, freed.soft)
    up_to_m = config.states.computed_drop_m
    alone, slack = (_lying(posts, freed.ground, is_post, found, up_to_m) for found in (hung, out))
    let_out = [np.where(longer, with_slack, as_it_is) for with_slack, as_it_is in zip(slack, alone, strict=True)]
    pull = spread(hung.horizontal_n)
    state = InState(
        State.DROPPED, free, free, RowEnds(spread(hung.tension_start_n), spread(hung.tension_far_n), pull, pull)
    )
    drop = Drop(
        asked=spread(freed.asked[:: len(posts.rows)], free[:, 0]),
        middle_m=spread(hung.middle_above_m),
        post_m=spread((hung.wire_m - freed.ground.z_m)[np.tile(is_post, len(foliage))], free),
        freed=Lying(*map(spread, alone)),
        let_out=Lying(*map(spread, let_out)),
        take_up_mm=take_up,
        lacks_mm=lacks,
    )
    for at in foliage:
        high = drop.freed.greatest_m[at]
        _note_drop(~parked[at], take_up[at], lacks[at], high, config.wires[at], config.states, notes)
    return state, drop


def take_up_to_let_down(
    posts: Posts, above_chord_m: FloatArray, cut_m: FloatArray, give: EndGive, parked: BoolArray, config: Config
) -> FloatArray:
    """Take-up alone, as `let_down` finds it, [wire, row]; NaN for wires that stay up [mm]."""
    foliage, found = _foliage(config), np.full(cut_m.shape, np.nan)
    if len(foliage):
        ground, _ = _profile(posts, above_chord_m)
        freed = _free(ground, cut_m[foliage], give, parked[foliage], config)
        found[foliage] = freed.take_up_mm.reshape(len(foliage), -1)
    return found


def _foliage(config: Config) -> IntArray:
    """Which wires are foliage wires."""
    return np.flatnonzero([wire.kind == "foliage" for wire in config.wires])


class _Freed(NamedTuple):
    """Foliage wires let down, wire after wire over the same rows: axis (wire, row) in one.

    Attributes
    ----------
    ground : Supports
        The rows' ground, once for each wire.
    wire, height_m, length_m, soft
        Their wires, height at the ends and unstretched length in winter [m], and how the ends give way.
    hung : RestState
        How they hang from both ends.
    asked : FloatArray
        Share of the middle that is asked for. [-]
    take_up_mm, lacks_mm : FloatArray
        Take-up, and what is too little for one. [mm]
    """

    ground: Supports
    wire: Wire
    height_m: FloatArray
    length_m: FloatArray
    soft: Give
    hung: RestState
    asked: FloatArray
    take_up_mm: FloatArray
    lacks_mm: FloatArray


def _free(ground: Supports, cut_m: FloatArray, give: EndGive, parked: BoolArray, config: Config) -> _Freed:
    states, foliage, rows = config.states, _foliage(config), ground.rows.count
    wires, stays = [config.wires[number] for number in foliage], parked.ravel()
    of_row = np.repeat(np.arange(len(wires)), rows)
    height = np.array([wire.height_m for wire in wires])[of_row]
    asked = [level_share(wire.height_m, states.drop_height_m, states.drop_clearance_m) for wire in wires]
    share = np.array(asked)[of_row]
    spec, soft = Wire.each(map(wire_of, wires)).of(of_row), Give.joined([give.let_down[number] for number in foliage])
    length = warmed(spec, cut_m.ravel(), states.winter_c - states.stringing_c)
    land = ground.repeated(len(wires))
    hung = rest_on_ground(land, spec, (height, height), length, soft)
    nearly = clear_along(land, hung, states.computed_drop_m + states.drop_tolerance_m)
    down = (nearly.share >= share) | stays
    needed, pull_n = length_to_drop(
        land, spec, (height, height), np.where(down, np.nan, states.computed_drop_m), share, hung
    )
    needed -= soft.at(np.where(np.isfinite(pull_n), pull_n, soft.from_n))  # let out, the wire lets the posts back
    short_mm = np.where(down, 0.0, 1000.0 * np.maximum(needed - length, 0.0))
    take_up_mm = np.where(short_mm < config.adjusters.least_take_up_mm, 0.0, short_mm)
    return _Freed(land, spec, height, length, soft, hung, share, take_up_mm, short_mm - take_up_mm)


def _lying(
    posts: Posts, ground: Supports, is_post: BoolArray, hung: RestState, up_to_m: float
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Values of `Lying`, wire after wire."""
    clear = clear_along(ground, hung, up_to_m)
    times = ground.rows.count // len(posts.rows)
    above = (hung.wire_m - ground.z_m)[np.tile(is_post, times)].reshape(times, -1)
    long = posts.along_m[posts.last][posts.row]
    looked_at = np.abs(posts.along_m - 0.5 * long) <= 0.5 * MIDDLE * long + _HAIR_M
    up = np.where(looked_at, np.where(np.isnan(above), np.nan, above > up_to_m), 0.0)
    return clear.share, clear.greatest_m, np.add.reduceat(up, posts.first, axis=1).ravel()


def _profile(posts: Posts, above_chord_m: FloatArray) -> tuple[Supports, BoolArray]:
    """Ground points along every row, from its first post to its last, and which of them are posts."""
    near, far = posts.near, posts.last
    share = np.linspace(0.0, 1.0, above_chord_m.shape[1])[:-1]  # the far post is the next span's near one
    along = posts.along_m[near, None] + share * posts.dx_m[:, None]
    height = posts.ground_m[near, None] + share * posts.rise_m[:, None] + above_chord_m[:, :-1]
    behind = (posts.last_span + 1) * len(share)  # where the last post of each row comes in
    at, z, row, is_post = (
        np.insert(of_spans.ravel(), behind, of_last)
        for of_spans, of_last in (
            (along, posts.along_m[far]),
            (height, posts.ground_m[far]),
            (np.repeat(posts.row[near], len(share)), posts.row[far]),
            (np.tile(share == 0.0, len(near)), np.ones(len(far), dtype=np.bool_)),
        )
    )
    return Supports(at, z, row), is_post


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
