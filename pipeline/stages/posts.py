"""Where the posts stand: equal spans along each row, measured along the slope."""

from typing import Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from pipeline.findings import Finding, name_some
from pipeline.geometry.frame import FloatArray, direction
from pipeline.geometry.sampling import Ground
from pipeline.settings import PostSettings

IntArray = NDArray[np.int64]

# Spans are called equal, and a span within its limit, to a millimetre: nobody stakes closer.
_TOLERANCE_M: Final = 1e-3
_MOST_ROUNDS: Final = 25
_MOST_EXTRA_SPANS: Final = 3


def place_equal(rows: pd.DataFrame, ground: Ground, settings: PostSettings) -> tuple[pd.DataFrame, list[Finding]]:
    """Posts at the fewest equal spans no longer than the limit, ordered along each row.

    Equal means equal from ground to ground along the slope, as a tape laid from post to post measures.

    Parameters
    ----------
    rows : DataFrame
        As the rows stage leaves them: one bearing, row_id, length_m, start_x_m, start_y_m.
    ground : Ground
        The block's ground.
    settings : PostSettings
        Longest span.

    Returns
    -------
    posts : DataFrame
        post_id, row_id, block_id, row (index into rows), kind, station_m, x_m, y_m, ground_m.
    findings : list of Finding
        Posts without height; spans that stay too long.
    """
    length = rows["length_m"].to_numpy()
    bearing = float(rows["bearing_deg"].iloc[0])
    start = rows[["start_x_m", "start_y_m"]].to_numpy()
    spans = np.maximum(1, np.ceil(length / settings.max_span_m - _TOLERANCE_M / settings.max_span_m)).astype(np.int64)
    line = _Line(length, start, bearing, ground)
    for _ in range(_MOST_EXTRA_SPANS + 1):
        row, station, height = line.equalise(spans)
        longest, total = _longest_and_total(row, station, height, len(spans))
        over = longest > settings.max_span_m + _TOLERANCE_M
        if not over.any():
            break
        needed = np.ceil(total / settings.max_span_m - _TOLERANCE_M / settings.max_span_m).astype(np.int64)
        spans = np.where(over, np.maximum(spans + 1, needed), spans)
    x, y = line.place(row, station)
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
        }
    )
    return posts, [*_without_height(posts), *_too_long(rows[over], longest[over], settings)]


class _Line:
    """Rows of one bearing on their ground: where a station lies and how high."""

    def __init__(self, length_m: FloatArray, start_m: FloatArray, bearing_deg: float, ground: Ground) -> None:
        self._length, self._start, self._bearing, self._ground = length_m, start_m, bearing_deg, ground

    def place(self, row: IntArray, station_m: FloatArray) -> tuple[FloatArray, FloatArray]:
        east, north = direction(self._bearing)
        return self._start[row, 0] + station_m * east, self._start[row, 1] + station_m * north

    def equalise(self, spans: IntArray) -> tuple[IntArray, FloatArray, FloatArray]:
        """Row, station and height of every post, so that the chords of a row are alike to a millimetre.

        Posts start at equal stations and move to equal parts of the length measured from post to post, until they stay.
        """
        row = np.repeat(np.arange(len(spans)), spans + 1)
        first = np.concatenate([[0], np.cumsum(spans + 1)[:-1]])
        share = (np.arange(len(row)) - first[row]) / spans[row]
        station = share * self._length[row]
        height = self._ground.height_along(*self.place(row, station), self._bearing)
        for _ in range(_MOST_ROUNDS):
            chord = _chords(row, station, height)
            reach = np.concatenate([[0.0], np.cumsum(np.where(np.diff(row) == 0, chord, 0.0))])
            # One rising axis for all rows, with a gap of 1 m between them, so that one interpolation serves all.
            axis = reach + row
            ends = axis[first + spans] - axis[first]
            moved = np.interp(axis[first][row] + share * ends[row], axis, station)
            moved[first], moved[first + spans] = 0.0, self._length
            stays = np.abs(moved - station).max() < _TOLERANCE_M / 10.0
            station = moved
            height = self._ground.height_along(*self.place(row, station), self._bearing)
            if stays:
                break
        return row, station, height


def _chords(row: IntArray, station: FloatArray, height: FloatArray) -> FloatArray:
    """Distance in space from each post to the next; level where a height is missing. Shape (n - 1,)."""
    rise = np.diff(height)
    return np.hypot(np.diff(station), np.where(np.isfinite(rise) & (np.diff(row) == 0), rise, 0.0))


def _longest_and_total(
    row: IntArray, station: FloatArray, height: FloatArray, rows: int
) -> tuple[FloatArray, FloatArray]:
    within = np.diff(row) == 0
    chord, of_row = _chords(row, station, height)[within], row[:-1][within]
    longest = np.zeros(rows)
    np.maximum.at(longest, of_row, chord)
    return longest, np.bincount(of_row, weights=chord, minlength=rows).astype(np.float64)


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
