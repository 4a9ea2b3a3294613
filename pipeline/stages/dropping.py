"""The foliage wires let down: whether they lie out of the way, and what it takes where they don't."""

from typing import Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from pipeline.findings import Finding
from pipeline.geometry.frame import FloatArray
from pipeline.mechanics.drop import length_to_drop, level_drop_span
from pipeline.mechanics.rest import rest_on_ground
from pipeline.settings import StateSettings, WireSettings

_NEW: Final = (
    "dropped_height_m",
    "take_up_mm",
    "start_dropped_n",
    "far_dropped_n",
    "pull_start_dropped_n",
    "pull_far_dropped_n",
)


def let_down(
    posts: pd.DataFrame,
    humps_m: FloatArray,
    totals: pd.DataFrame,
    wires: tuple[WireSettings, ...],
    states: StateSettings,
    max_span_m: float,
) -> tuple[pd.DataFrame, list[Finding]]:
    """Foliage wires freed from all intermediate clips, hanging from the end posts and lying where they touch.

    Parameters
    ----------
    posts : DataFrame
        row, block_id, station_m, ground_m.
    humps_m : shape (spans, places)
        Ground above the line between the posts' feet, at equal parts of each span. [m]
    totals : DataFrame
        As the wires stage leaves them.
    wires : tuple of WireSettings
        Which are foliage wires, and how high.
    states : StateSettings
        Height at which a wire is out of the way.
    max_span_m : float
        How far to both sides of the middle a wire may lie on the ground to count as down. [m]

    Returns
    -------
    totals : DataFrame
        With drops_by_itself, dropped_height_m, take_up_mm, and pull_start_dropped_n, pull_far_dropped_n,
        start_dropped_n and far_dropped_n; NaN or None for fixed wires.
    findings : list of Finding
        The row length from which the wires drop by themselves.
    """
    row, station, ground = _profile(posts, humps_m)
    clearance = states.drop_clearance_m + _straddled(row, station, ground, max_span_m)
    parts, findings = [pd.DataFrame(columns=_NEW, dtype="float64")], []
    for wire in wires:
        if wire.kind != "foliage":
            continue
        mine = totals[totals["wire_id"] == wire.id]
        strung = mine["cut_m_per_line"].to_numpy()
        weight, stiffness = (float(mine[name].iloc[0]) for name in ("weight_n_per_m", "stiffness_n"))
        ends = (station, ground, row, wire.height_m, wire.height_m)
        freed = rest_on_ground(*ends, strung, weight, stiffness)
        needed = length_to_drop(*ends, clearance, weight, stiffness)
        values = (
            freed.middle_above_m,
            1000.0 * np.maximum(needed - strung, 0.0),
            freed.tension_start_n,
            freed.tension_far_n,
            freed.horizontal_n,
            freed.horizontal_n,
        )
        part = pd.DataFrame(dict(zip(_NEW, values, strict=True)), index=mine.index)
        parts.append(part)
        level = float(level_drop_span(wire.height_m, wire.tension_n, weight, stiffness, states.drop_clearance_m))
        findings.append(_drop_span(part["take_up_mm"], str(mine["block_id"].iloc[0]), wire, level))
    totals = totals.join(pd.concat(parts))
    alone = pd.Series(np.where(totals["take_up_mm"] > 0.0, "no", "yes"), index=totals.index)
    return totals.assign(drops_by_itself=alone.where(totals["take_up_mm"].notna())), findings


def _profile(posts: pd.DataFrame, humps_m: FloatArray) -> tuple[NDArray[np.int64], FloatArray, FloatArray]:
    """Row, station and height of ground points along every row, from its first post to its last."""
    row, station, ground = (posts[name].to_numpy() for name in ("row", "station_m", "ground_m"))
    near = np.flatnonzero(np.diff(row) == 0)
    last = np.flatnonzero(np.append(np.diff(row) != 0, True))
    share = np.linspace(0.0, 1.0, humps_m.shape[1])[:-1]  # the far post is the next span's near one
    along = station[near, None] + share * (station[near + 1] - station[near])[:, None]
    height = ground[near, None] + share * (ground[near + 1] - ground[near])[:, None] + humps_m[:, :-1]
    of_point = np.concatenate([np.repeat(row[near], len(share)), row[last]])
    at = np.concatenate([along.ravel(), station[last]])
    order = np.lexsort((at, of_point))
    return of_point[order], at[order], np.concatenate([height.ravel(), ground[last]])[order]


def _straddled(row: NDArray[np.int64], station: FloatArray, ground: FloatArray, reach_m: float) -> FloatArray:
    """Height of a tight wire over the middle of each row that lies on the ground to both sides, shape (rows,) [m].

    On both sides means within one span: a wire that lies on the lips of a rut or between two clods is down, though it
    does not touch the very middle. 0 on level ground and on a hump, 9 cm in a hollow of 200 m radius at 6 m.
    """
    first = np.flatnonzero(np.diff(row, prepend=-1))
    last = np.append(first[1:], len(row)) - 1
    middle = (station[first] + station[last]) / 2.0
    # Places a quarter metre apart, by interpolation on one axis for all rows.
    offset = np.linspace(0.0, reach_m, int(np.ceil(4.0 * reach_m)) + 1)[1:]
    lap = station.max() + 1.0
    axis = row * lap + station

    def height(at: FloatArray) -> FloatArray:
        inside = np.clip(at, station[first, None], station[last, None])
        return np.asarray(np.interp(row[first, None] * lap + inside, axis, ground))

    here = height(middle[:, None])
    left, right = height(middle[:, None] - offset), height(middle[:, None] + offset)
    # Chord from every place on the left to every place on the right, where it passes the middle.
    share = offset[:, None] / (offset[:, None] + offset)
    over = left[:, :, None] * (1.0 - share) + right[:, None, :] * share
    return np.asarray(np.maximum(over.max(axis=(1, 2)) - here[:, 0], 0.0))


def _drop_span(take_up_mm: pd.Series, block_id: str, wire: WireSettings, level_m: float) -> Finding:
    alone, known = int((take_up_mm == 0.0).sum()), int(take_up_mm.notna().sum())
    return Finding(
        "drop-span",
        block_id,
        f"Wire {wire.id} ({wire.tension_n:g} N at {wire.height_m:g} m) drops by itself in {alone} of {known} rows; on "
        f"level ground rows of about {level_m:.0f} m and longer do.",
    )
