"""The foliage wires let down: whether they lie out of the way, and what it takes where they don't."""

import numpy as np

from wirerun.arrays import BoolArray, FloatArray
from wirerun.findings import Findings
from wirerun.geometry.station import first_and_last
from wirerun.mechanics.drop import length_to_drop, level_drop_span
from wirerun.mechanics.hull import neighbours, upper_hull
from wirerun.mechanics.rest import rest_on_ground
from wirerun.mechanics.supports import Supports
from wirerun.model.layout import Posts
from wirerun.model.wires import Drop, InState, RowEnds
from wirerun.rules.wire import wire_of
from wirerun.settings import Config, WireSettings
from wirerun.state import State


def let_down(
    posts: Posts, above_chord_m: FloatArray, cut_m: FloatArray, config: Config, notes: Findings
) -> tuple[InState, Drop]:
    """Foliage wires freed from all intermediate clips, hanging from the end posts and lying where they touch.

    The tolerance decides whether a wire is down; one that is not is let out until it is down without it, or left as it
    is where that takes too little wire to be worth an adjuster.

    Parameters
    ----------
    posts : Posts
        Where the wires run.
    above_chord_m : [span, place]
        Ground above the line between the posts' feet, at equal parts of each span. [m]
    cut_m : [wire, row]
        Unstretched length as strung. [m]
    config : Config
        Which are foliage wires and how high, the height at which one is out of the way and its tolerance, the least
        take-up that is worth an adjuster, and the longest span: how far to both sides of the middle a wire may lie on
        the ground to count as down.
    notes : Findings
        Hears from which length on rows drop their wires by themselves.

    Returns
    -------
    state : InState
        End forces of the freed wires; no loads on clips.
    drop : Drop
        How they lie, and the take-up they need.
    """
    ground, is_post = _profile(posts, above_chord_m)
    states, least_mm = config.states, config.adjusters.least_take_up_mm
    clearance = states.drop_clearance_m + _straddled(ground, config.posts.max_span_m)
    rows, many = len(posts.rows), len(config.wires)
    middle, take_up, start, far, pull = (np.full((many, rows), np.nan) for _ in range(5))
    at_post = np.full((many, len(posts)), np.nan)
    for number, wire in enumerate(config.wires):
        if wire.kind != "foliage":
            continue
        spec = wire_of(wire)
        freed = rest_on_ground(ground, spec, (wire.height_m, wire.height_m), cut_m[number])
        needed = length_to_drop(ground, spec, (wire.height_m, wire.height_m), clearance)
        too_high = freed.middle_above_m - clearance
        short_mm = 1000.0 * np.maximum(needed - cut_m[number], 0.0)
        down = too_high <= states.drop_tolerance_m
        left = ~down & (short_mm < least_mm)
        middle[number], take_up[number] = freed.middle_above_m, np.where(down | left, 0.0, short_mm)
        start[number], far[number], pull[number] = freed.tension_start_n, freed.tension_far_n, freed.horizontal_n
        at_post[number] = (freed.wire_m - ground.z_m)[is_post]
        level = float(level_drop_span(wire.height_m, spec, wire.tension_n, states.drop_clearance_m))
        _note_drop(take_up[number], wire, level, too_high[left], notes)
    free = np.full((many, len(posts)), np.nan)
    state = InState(State.DROPPED, free, free, RowEnds(start, far, pull, pull))
    return state, Drop(middle, at_post, take_up)


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


def _straddled(ground: Supports, reach_m: float) -> FloatArray:
    """Height of a tight wire over the middle of each row that lies on the ground to both sides, shape (rows,) [m].

    On both sides means within one span: a wire that lies on the lips of a rut or between two clods is down, though it
    does not touch the very middle. The ground is straight between its points, so the height is that of the upper
    convex hull of the points within reach, the ground half-way and at the end of the reach among them. The end posts
    bear the wire at its own height: the ground at their feet does not count.

    0 on level ground and on a hump, 9 cm in a hollow of 200 m radius at 6 m.
    """
    station, height, first, last = ground.x_m, ground.z_m, ground.rows.first, ground.rows.last
    rows, places = np.arange(len(first)), np.array([-reach_m, 0.0, reach_m])
    number, middle = np.repeat(rows, last - first + 1), 0.5 * (station[first] + station[last])
    # One rising axis for all rows, on which the ground is read at the places.
    lap = station.max() + 1.0
    read = np.interp((rows * lap + middle)[:, None] + places, number * lap + station, height)
    inside = np.abs(places) < 0.5 * (station[last] - station[first])[:, None]
    aside = station - middle[number]
    near = np.abs(aside) < reach_m
    near[first] = near[last] = False
    of_row = np.concatenate([number[near], np.nonzero(inside)[0]])
    x = np.concatenate([aside[near], np.broadcast_to(places, inside.shape)[inside]])
    z = np.concatenate([height[near], read[inside]])
    order = np.lexsort((x, of_row))
    half_way = (order >= near.sum()) & (x[order] == 0.0)
    of_row, x, z = of_row[order], x[order], z[order]
    outer = np.zeros(len(x), dtype=np.bool_)
    outer[np.concatenate(first_and_last(of_row))] = True
    left, right = (side[half_way] for side in neighbours(upper_hull(x, z, outer)))
    share = np.divide(-x[left], x[right] - x[left], out=np.zeros(len(rows)), where=right > left)
    return np.asarray(np.maximum(z[left] + share * (z[right] - z[left]) - read[:, 1], 0.0))


def _note_drop(take_up_mm: FloatArray, wire: WireSettings, level_m: float, left_m: FloatArray, notes: Findings) -> None:
    alone = int((take_up_mm == 0.0).sum())
    left = f" ({len(left_m)} of them up to {left_m.max():.2f} m too high, not worth an adjuster)" if len(left_m) else ""
    notes.note(
        "drop-span",
        f"Wire {wire.id} ({wire.tension_n:g} N at {wire.height_m:g} m) drops by itself in {alone} of "
        f"{len(take_up_mm)} rows{left}; on level ground rows of about {level_m:.0f} m and longer do.",
    )
