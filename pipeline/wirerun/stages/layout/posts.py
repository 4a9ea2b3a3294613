"""The posts of every row, once it is decided where they stand: place, ground, kind, and how the wire runs over them."""

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from wirerun.findings import Finding, name_some
from wirerun.geometry.frame import FloatArray
from wirerun.geometry.row_ground import RowGround
from wirerun.geometry.station import first_and_last
from wirerun.ids import post_ids
from wirerun.settings import PostSettings

IntArray = NDArray[np.int64]

# Posts are staked to a centimetre at best; a span may be that much over its limit.
_TOLERANCE_M = 0.01


def set_posts(
    rows: pd.DataFrame,
    ground: RowGround,
    stations: tuple[IntArray, FloatArray],
    settings: PostSettings,
    surveyed_m: FloatArray | None = None,
) -> tuple[pd.DataFrame, list[Finding]]:
    """Posts at given stations of their rows.

    Parameters
    ----------
    rows : DataFrame
        row_id, block_id.
    ground : RowGround
        The rows' lines and ground, in the order of `rows`.
    stations : row, station_m
        Row of every post, never falling, and its distance along the row, growing within it; the first and last post of
        a row stand at its ends. Shape (posts,) each. [m]
    settings : PostSettings
        Longest span.
    surveyed_m : shape (posts,), optional
        Ground heights from a survey of the posts; rows with a height for every post take them. [m]

    Returns
    -------
    posts : DataFrame
        post_id, row_id, block_id, row (index into rows), kind, station_m (along the row's line), x_m, y_m, ground_m,
        bridged_m (width of the hole in the ground there, NaN where none was bridged), run_m (along the wire in plan,
        straight from post to post), turn_rad (turn of the wire at the post in plan).
    findings : list of Finding
        Spans longer than the limit.
    """
    row, station = stations
    x, y, height = ground.stand(row, station)
    bridged = ground.bridged_m(row, station)
    if surveyed_m is not None:
        whole = has_all_heights(row, surveyed_m)[row]  # two sources in one row would make a step in it
        height, bridged = np.where(whole, surveyed_m, height), np.where(whole, np.nan, bridged)
    run, turn = _along_wire(row, x, y)
    posts = pd.DataFrame(
        {
            "post_id": post_ids(rows["row_id"].to_numpy(), row),
            "row_id": rows["row_id"].to_numpy()[row],
            "block_id": rows["block_id"].to_numpy()[row],
            "row": row,
            "kind": np.where(_is_end(row), "end", "intermediate"),
            "station_m": station,
            "x_m": x,
            "y_m": y,
            "ground_m": height,
            "bridged_m": bridged,
            "run_m": run,
            "turn_rad": turn,
        }
    )
    return posts, _too_long(posts, settings)


def has_all_heights(row: IntArray, height_m: FloatArray) -> NDArray[np.bool_]:
    """Which rows have a height at every post, shape (rows,), from row and height of the posts [m]."""
    return np.asarray(np.bincount(row, weights=np.isnan(height_m)) == 0)


def _along_wire(row: IntArray, x: FloatArray, y: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Distance along the wire in plan, and its turn in plan at each post (0 at end posts), shape (posts,) [m, rad]."""
    east, north, within = np.diff(x), np.diff(y), np.diff(row) == 0
    reach = np.concatenate([[0.0], np.cumsum(np.where(within, np.hypot(east, north), 0.0))])
    first, _ = first_and_last(row)
    turn = np.zeros(len(row))
    both = within[1:] & within[:-1]
    cross, dot = east[:-1] * north[1:] - north[:-1] * east[1:], east[:-1] * east[1:] + north[:-1] * north[1:]
    turn[1:-1][both] = np.abs(np.arctan2(cross, dot))[both]
    return reach - reach[first][row], turn


def _is_end(row: IntArray) -> NDArray[np.bool_]:
    changes = np.diff(row) != 0
    ends: NDArray[np.bool_] = np.concatenate([[True], changes]) | np.concatenate([changes, [True]])
    return ends


def _too_long(posts: pd.DataFrame, settings: PostSettings) -> list[Finding]:
    within = np.diff(posts["row"]) == 0
    chord = np.where(within, np.hypot(np.diff(posts["run_m"]), np.nan_to_num(np.diff(posts["ground_m"]))), 0.0)
    over = np.flatnonzero(chord > settings.max_span_m + _TOLERANCE_M)
    if not len(over):
        return []
    return [
        Finding(
            "span-too-long",
            str(posts["block_id"].iloc[0]),
            f"{len(over)} span(s) of up to {chord.max():.2f} m where {settings.max_span_m:g} m are allowed, from "
            f"{name_some(posts['post_id'].iloc[over])}.",
        )
    ]
