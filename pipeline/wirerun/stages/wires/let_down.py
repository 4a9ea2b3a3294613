"""The foliage wires let down: whether they lie out of the way, and what it takes where they don't."""

from typing import Final, NamedTuple

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from wirerun.findings import Finding
from wirerun.geometry.frame import FloatArray
from wirerun.geometry.station import first_and_last
from wirerun.mechanics.drop import length_to_drop, level_drop_span
from wirerun.mechanics.hull import neighbours, upper_hull
from wirerun.mechanics.rest import rest_on_ground
from wirerun.settings import Config, WireSettings

_NEW: Final = (
    "dropped_height_m",
    "take_up_mm",
    "start_dropped_n",
    "far_dropped_n",
    "pull_start_dropped_n",
    "pull_far_dropped_n",
)


def let_down(
    posts: pd.DataFrame, humps_m: FloatArray, loads: pd.DataFrame, totals: pd.DataFrame, config: Config
) -> tuple[pd.DataFrame, pd.DataFrame, list[Finding]]:
    """Foliage wires freed from all intermediate clips, hanging from the end posts and lying where they touch.

    Parameters
    ----------
    posts : DataFrame
        row, block_id, run_m, ground_m.
    humps_m : shape (spans, places)
        Ground above the line between the posts' feet, at equal parts of each span. [m]
    loads, totals : DataFrame
        As the wires stage leaves them.
    config : Config
        Which are foliage wires and how high, the height at which one is out of the way and its tolerance, the least
        take-up that is worth an adjuster, and the longest span: how far to both sides of the middle a wire may lie on
        the ground to count as down.

    Returns
    -------
    loads : DataFrame
        With dropped_height_m, the height of the freed wire above the ground at the post; NaN for fixed wires.
    totals : DataFrame
        With drops_by_itself, dropped_height_m, take_up_mm, and pull_start_dropped_n, pull_far_dropped_n,
        start_dropped_n and far_dropped_n; NaN or None for fixed wires. The tolerance decides whether a wire is down;
        one that is not is let out until it is down without it, or left as it is where that takes too little wire.
    findings : list of Finding
        The row length from which the wires drop by themselves, and how high those hang that are left as they are.
    """
    land, states, least_mm = _profile(posts, humps_m), config.states, config.adjusters.least_take_up_mm
    # A row whose middle has no height is not looked at anyway.
    clearance = states.drop_clearance_m + np.nan_to_num(_straddled(land, config.posts.max_span_m))
    loads = loads.assign(dropped_height_m=np.nan)
    parts, findings = [pd.DataFrame(columns=_NEW, dtype="float64")], []
    for wire in config.wires:
        if wire.kind != "foliage":
            continue
        mine = totals[totals["wire_id"] == wire.id]
        strung = mine["cut_m_per_line"].to_numpy()
        weight, stiffness = (float(mine[name].iloc[0]) for name in ("weight_n_per_m", "stiffness_n"))
        ends = (land.station_m, land.ground_m, land.row, wire.height_m, wire.height_m)
        freed = rest_on_ground(*ends, strung, weight, stiffness)
        needed = length_to_drop(*ends, clearance, weight, stiffness)
        too_high = freed.middle_above_m - clearance
        short_mm = 1000.0 * np.maximum(needed - strung, 0.0)
        down = too_high <= states.drop_tolerance_m
        left = ~down & (short_mm < least_mm)
        values = (
            freed.middle_above_m,
            np.where(down | left, 0.0, short_mm),
            freed.tension_start_n,
            freed.tension_far_n,
            freed.horizontal_n,
            freed.horizontal_n,
        )
        above = (freed.wire_m - land.ground_m)[land.is_post]
        of_wire = (loads["wire_id"] == wire.id).to_numpy()
        loads.loc[of_wire, "dropped_height_m"] = above[loads["post"].to_numpy()[of_wire]]
        part = pd.DataFrame(dict(zip(_NEW, values, strict=True)), index=mine.index)
        parts.append(part)
        level = float(level_drop_span(wire.height_m, wire.tension_n, weight, stiffness, states.drop_clearance_m))
        findings.append(_drop_span(part["take_up_mm"], str(mine["block_id"].iloc[0]), wire, level, too_high[left]))
    totals = totals.join(pd.concat(parts))
    alone = pd.Series(np.where(totals["take_up_mm"] > 0.0, "no", "yes"), index=totals.index)
    return loads, totals.assign(drops_by_itself=alone.where(totals["take_up_mm"].notna())), findings


class _Profile(NamedTuple):
    """Ground points along every row, from its first post to its last; shape (points,) each."""

    row: NDArray[np.int64]
    station_m: FloatArray
    ground_m: FloatArray
    is_post: NDArray[np.bool_]


def _profile(posts: pd.DataFrame, humps_m: FloatArray) -> _Profile:
    row, station, ground = (posts[name].to_numpy() for name in ("row", "run_m", "ground_m"))
    near = np.flatnonzero(np.diff(row) == 0)
    _, last = first_and_last(row)
    share = np.linspace(0.0, 1.0, humps_m.shape[1])[:-1]  # the far post is the next span's near one
    along = station[near, None] + share * (station[near + 1] - station[near])[:, None]
    height = ground[near, None] + share * (ground[near + 1] - ground[near])[:, None] + humps_m[:, :-1]
    of_point = np.concatenate([np.repeat(row[near], len(share)), row[last]])
    at = np.concatenate([along.ravel(), station[last]])
    is_post = np.concatenate([np.tile(share == 0.0, len(near)), np.ones(len(last), dtype=np.bool_)])
    order = np.lexsort((at, of_point))
    return _Profile(of_point[order], at[order], np.concatenate([height.ravel(), ground[last]])[order], is_post[order])


def _straddled(land: _Profile, reach_m: float) -> FloatArray:
    """Height of a tight wire over the middle of each row that lies on the ground to both sides, shape (rows,) [m].

    On both sides means within one span: a wire that lies on the lips of a rut or between two clods is down, though it
    does not touch the very middle. The ground is straight between its points, so the height is that of the upper
    convex hull of the points within reach, the ground half-way and at the end of the reach among them. The end posts
    bear the wire at its own height: the ground at their feet does not count.

    0 on level ground and on a hump, 9 cm in a hollow of 200 m radius at 6 m.
    """
    row, station, ground, _ = land
    first, last = first_and_last(row)
    rows, places = np.arange(len(first)), np.array([-reach_m, 0.0, reach_m])
    number, middle = np.repeat(rows, last - first + 1), 0.5 * (station[first] + station[last])
    # One rising axis for all rows, on which the ground is read at the places.
    lap = station.max() + 1.0
    read = np.interp((rows * lap + middle)[:, None] + places, number * lap + station, ground)
    inside = np.abs(places) < 0.5 * (station[last] - station[first])[:, None]
    aside = station - middle[number]
    near = np.abs(aside) < reach_m
    near[first] = near[last] = False
    of_row = np.concatenate([number[near], np.nonzero(inside)[0]])
    x = np.concatenate([aside[near], np.broadcast_to(places, inside.shape)[inside]])
    z = np.concatenate([ground[near], read[inside]])
    order = np.lexsort((x, of_row))
    half_way = (order >= near.sum()) & (x[order] == 0.0)
    of_row, x, z = of_row[order], x[order], z[order]
    outer = np.zeros(len(x), dtype=np.bool_)
    outer[np.concatenate(first_and_last(of_row))] = True
    left, right = (side[half_way] for side in neighbours(upper_hull(x, z, outer)))
    share = np.divide(-x[left], x[right] - x[left], out=np.zeros(len(rows)), where=right > left)
    return np.asarray(np.maximum(z[left] + share * (z[right] - z[left]) - read[:, 1], 0.0))


def _drop_span(take_up_mm: pd.Series, block_id: str, wire: WireSettings, level_m: float, left_m: FloatArray) -> Finding:
    alone, known = int((take_up_mm == 0.0).sum()), int(take_up_mm.notna().sum())
    left = f" ({len(left_m)} of them up to {left_m.max():.2f} m too high, not worth an adjuster)" if len(left_m) else ""
    return Finding(
        "drop-span",
        block_id,
        f"Wire {wire.id} ({wire.tension_n:g} N at {wire.height_m:g} m) drops by itself in {alone} of {known} rows"
        f"{left}; on level ground rows of about {level_m:.0f} m and longer do.",
    )
