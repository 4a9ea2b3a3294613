"""Where the posts stand: equal spans along each row, measured along the slope."""

from typing import Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from pipeline.findings import Finding, name_some
from pipeline.geometry.frame import FloatArray
from pipeline.geometry.sampling import Ground
from pipeline.geometry.station import Paths
from pipeline.settings import PostSettings

IntArray = NDArray[np.int64]
_Places = tuple[FloatArray, FloatArray, FloatArray]  # east, north, ground height

# Spans are called equal, and a span within its limit, to a millimetre: nobody stakes closer.
_TOLERANCE_M: Final = 1e-3
_MOST_ROUNDS: Final = 25
_MOST_EXTRA_SPANS: Final = 3


def place_equal(
    rows: pd.DataFrame, paths: Paths, ground: Ground, settings: PostSettings
) -> tuple[pd.DataFrame, list[Finding]]:
    """Posts at the fewest equal spans no longer than the limit, ordered along each row.

    Equal means equal from ground to ground along the slope, as a tape laid from post to post measures.

    Parameters
    ----------
    rows : DataFrame
        row_id, block_id.
    paths : Paths
        The rows' lines, in the order of `rows`.
    ground : Ground
        The block's ground.
    settings : PostSettings
        Longest span.

    Returns
    -------
    posts : DataFrame
        post_id, row_id, block_id, row (index into rows), kind, station_m (along the row's line), x_m, y_m, ground_m,
        run_m (along the wire in plan, straight from post to post), turn_rad (turn of the wire at the post in plan).
    findings : list of Finding
        Posts without height; spans that stay too long.
    """
    length = paths.length_m
    spans = np.maximum(1, np.ceil(length / settings.max_span_m - _TOLERANCE_M / settings.max_span_m)).astype(np.int64)
    for _ in range(_MOST_EXTRA_SPANS + 1):
        row, station, places = _equalise(paths, ground, spans)
        longest, total = _longest_and_total(row, places, len(spans))
        over = longest > settings.max_span_m + _TOLERANCE_M
        if not over.any():
            break
        needed = np.ceil(total / settings.max_span_m - _TOLERANCE_M / settings.max_span_m).astype(np.int64)
        spans = np.where(over, np.maximum(spans + 1, needed), spans)
    x, y, height = places
    run, turn = _along_wire(row, x, y)
    posts = pd.DataFrame(
        {
            "post_id": _post_ids(rows["row_id"].to_numpy(), row),
            "row_id": rows["row_id"].to_numpy()[row],
            "block_id": rows["block_id"].to_numpy()[row],
            "row": row,
            "kind": np.where(_is_end(row), "end", "intermediate"),
            "station_m": station,
            "x_m": x,
            "y_m": y,
            "ground_m": height,
            "run_m": run,
            "turn_rad": turn,
        }
    )
    return posts, [*_without_height(posts), *_too_long(rows[over], longest[over], settings)]


def _equalise(paths: Paths, ground: Ground, spans: IntArray) -> tuple[IntArray, FloatArray, _Places]:
    """Row, station and place of every post, so that the chords of a row are alike to a millimetre.

    Posts start at equal stations and move to equal parts of the length measured from post to post, until they stay.
    """
    row = np.repeat(np.arange(len(spans)), spans + 1)
    first = np.concatenate([[0], np.cumsum(spans + 1)[:-1]])
    share = (np.arange(len(row)) - first[row]) / spans[row]
    station = share * paths.length_m[row]
    places = _stand(paths, ground, row, station)
    for _ in range(_MOST_ROUNDS):
        reach = np.concatenate([[0.0], np.cumsum(_chords(row, places))])
        # One rising axis for all rows, with a gap of 1 m between them, so that one interpolation serves all.
        axis = reach + row
        ends = axis[first + spans] - axis[first]
        moved = np.interp(axis[first][row] + share * ends[row], axis, station)
        moved[first], moved[first + spans] = 0.0, paths.length_m
        stays = np.abs(moved - station).max() < _TOLERANCE_M / 10.0
        station = moved
        places = _stand(paths, ground, row, station)
        if stays:
            break
    return row, station, places


def _stand(paths: Paths, ground: Ground, row: IntArray, station: FloatArray) -> _Places:
    x, y = paths.place(row, station)
    return x, y, ground.height_along(x, y, paths.heading(row, station))


def _chords(row: IntArray, places: _Places) -> FloatArray:
    """Distance in space from each post to the next, 0 between rows; level where a height is missing. Shape (n - 1,)."""
    x, y, height = places
    rise = np.nan_to_num(np.diff(height))
    chord = np.sqrt(np.diff(x) ** 2 + np.diff(y) ** 2 + rise**2)
    return np.where(np.diff(row) == 0, chord, 0.0)


def _along_wire(row: IntArray, x: FloatArray, y: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Distance along the wire in plan, and its turn in plan at each post (0 at end posts), shape (posts,) [m, rad]."""
    east, north, within = np.diff(x), np.diff(y), np.diff(row) == 0
    reach = np.concatenate([[0.0], np.cumsum(np.where(within, np.hypot(east, north), 0.0))])
    first = np.flatnonzero(np.diff(row, prepend=-1))
    turn = np.zeros(len(row))
    both = within[1:] & within[:-1]
    cross, dot = east[:-1] * north[1:] - north[:-1] * east[1:], east[:-1] * east[1:] + north[:-1] * north[1:]
    turn[1:-1][both] = np.abs(np.arctan2(cross, dot))[both]
    return reach - reach[first][row], turn


def _longest_and_total(row: IntArray, places: _Places, rows: int) -> tuple[FloatArray, FloatArray]:
    chord = _chords(row, places)
    longest = np.zeros(rows)
    np.maximum.at(longest, row[:-1], chord)
    return longest, np.bincount(row[:-1], weights=chord, minlength=rows).astype(np.float64)


def _is_end(row: IntArray) -> NDArray[np.bool_]:
    changes = np.diff(row) != 0
    ends: NDArray[np.bool_] = np.concatenate([[True], changes]) | np.concatenate([changes, [True]])
    return ends


def _post_ids(row_ids: NDArray[np.object_], row: IntArray) -> list[str]:
    number = pd.Series(row).groupby(row).cumcount() + 1
    return [f"{row_id}-P{n:03d}" for row_id, n in zip(row_ids[row], number, strict=True)]


def _without_height(posts: pd.DataFrame) -> list[Finding]:
    lost = posts.loc[posts["ground_m"].isna(), "post_id"]
    if lost.empty:
        return []
    place = str(posts["block_id"].iloc[0])
    return [Finding("post-without-height", place, f"{len(lost)} post(s) without a ground height: {name_some(lost)}.")]


def _too_long(rows: pd.DataFrame, longest: FloatArray, settings: PostSettings) -> list[Finding]:
    if rows.empty:
        return []
    return [
        Finding(
            "span-too-long",
            str(rows["block_id"].iloc[0]),
            f"Spans of up to {longest.max():.2f} m where {settings.max_span_m:g} m are allowed: "
            f"{name_some(rows['row_id'])}.",
        )
    ]
