"""The posts of one block as they stand: which is which planned one, in order along their rows."""

from dataclasses import dataclass

import numpy as np
import pandas as pd
from pyproj import Transformer

from wirerun.arrays import FloatArray, IntArray, TextArray, words
from wirerun.geometry.snap import snap_points, twins
from wirerun.geometry.station import first_and_last
from wirerun.records import SurveyedPosts
from wirerun.stages.compare.match_posts import OFF_M, Matched, match_posts


@dataclass(frozen=True, slots=True, eq=False)
class Built:
    """Planned posts of a block, what was surveyed of them, and all that stand, along their rows.

    Attributes
    ----------
    planned : DataFrame
        The planned posts, row by row and along each.
    matched : Matched
        Which surveyed post each is, and how far off.
    used : [standing post]
        Places in the survey: posts that were found, and extra ones on a row.
    again, row_of_again : [repeating post]
        Places in the survey of those on a row that repeat another, and their rows. One that was found is none of them,
        though it does not stand beside one less than 30 cm away.
    row, xy_m, ground_m, measured, of_planned, name : [standing post]
        Row by its place among the block's, where it stands, ground height (surveyed, the shift taken off; as planned
        where it was not measured), whether it was measured, the planned post (-1: extra) and what to call it.
    row_id : [row]
    shift_m : float
        Median of surveyed less planned heights; 0 where none was measured. [m]
    """

    block_id: str
    planned: pd.DataFrame
    matched: Matched
    used: IntArray
    again: IntArray
    row_of_again: IntArray
    row: IntArray
    xy_m: FloatArray
    ground_m: FloatArray
    measured: FloatArray
    of_planned: IntArray
    name: TextArray
    row_id: TextArray
    shift_m: float

    @property
    def on_rows(self) -> IntArray:
        """Return the places in the survey of all that is on this block's rows."""
        return np.concatenate([self.matched.found[self.matched.found >= 0], self.used, self.again])


def build_block(
    planned: pd.DataFrame, to_plane: Transformer, survey: SurveyedPosts, spacing_m: float, within_m: float
) -> Built:
    """Planned and surveyed posts of a block put together.

    Parameters
    ----------
    planned : DataFrame
        Posts of one block, row by row and along each: post_id, row_id, block_id, station_m, lon, lat, ground_m.
    to_plane : Transformer
        From longitude and latitude to the block's plane.
    survey : SurveyedPosts
        All surveyed posts.
    spacing_m : float
        Between rows: an extra post belongs to a row within half of it. [m]
    within_m : float
        Farthest that a post may stand from where it was planned. [m]
    """
    xy = np.stack(to_plane.transform(planned["lon"].to_numpy(), planned["lat"].to_numpy()), axis=-1)
    places = np.stack(to_plane.transform(*survey.lonlat.T), axis=-1)
    row, row_id = pd.factorize(planned["row_id"])
    lines = np.split(xy, np.flatnonzero(np.diff(row)) + 1)
    matched = match_posts(xy, _headings(xy, row), places, within_m)
    height = survey.height_m[matched.found] - planned["ground_m"].to_numpy()
    height = height[(matched.found >= 0) & np.isfinite(height)]
    shift = float(np.median(height)) if len(height) else 0.0
    snapped = snap_points([line for line in lines if len(line) > 1], places[matched.extra], spacing_m / 2.0)
    beside = snapped.row >= 0
    station = planned["station_m"].to_numpy(dtype=np.float64)
    extra = matched.extra[beside]
    at = np.flatnonzero(matched.found >= 0)
    rows = np.concatenate([row[at], snapped.row[beside]])
    along = np.concatenate([station[at] + matched.along_m[at], snapped.station_m[beside]])
    every = np.concatenate([matched.found[at], extra])
    # Those that were planned come first: what lies near them repeats them.
    repeats = twins(rows, along) >= 0
    order = np.lexsort((along, rows))
    order = order[~repeats[order]]
    surveyed = every[order]
    again = len(at) + np.flatnonzero(repeats[len(at) :])
    lap = station.max() + 1.0
    # Beyond its end posts a row goes on as high as they are, not towards the next row.
    first, last = first_and_last(row)
    within = np.clip(along, station[first][rows], station[last][rows])
    between = np.interp(rows * lap + within, row * lap + station, planned["ground_m"].to_numpy())[order]
    seen = survey.height_m[surveyed] - shift
    called = np.concatenate([planned["post_id"].to_numpy(dtype=object)[at], _called(extra)])
    return Built(
        block_id=str(planned["block_id"].iloc[0]),
        planned=planned,
        matched=matched,
        used=surveyed,
        again=every[again],
        row_of_again=rows[again],
        row=rows[order],
        xy_m=places[surveyed],
        ground_m=np.where(np.isfinite(seen), seen, between),
        measured=np.isfinite(seen),
        of_planned=np.concatenate([at, np.full(len(extra), -1)])[order],
        name=called[order],
        row_id=np.asarray(row_id, dtype=object),
        shift_m=shift,
    )


def _headings(xy: FloatArray, row: IntArray) -> FloatArray:
    """Unit vector along the row at each post, from the post before to the one after, shape (n, 2)."""
    index = np.arange(len(xy))
    before = np.where(np.diff(row, prepend=-1) != 0, index, index - 1)
    after = np.where(np.diff(row, append=-1) != 0, index, index + 1)
    way = xy[after] - xy[before]
    return np.asarray(way / np.maximum(np.hypot(*way.T), 1e-9)[:, None])


def post_table(built: Built, survey: SurveyedPosts) -> pd.DataFrame:
    """What became of each planned post and of extra ones on the rows, as table `BUILT_POSTS` has it."""
    planned, matched = built.planned, built.matched
    there = matched.found >= 0
    moved = np.hypot(matched.along_m, matched.across_m) >= OFF_M
    lon, lat = (
        np.where(there, survey.lonlat[matched.found, axis], planned[name]) for axis, name in enumerate(("lon", "lat"))
    )
    made = pd.DataFrame(
        {
            "post_id": planned["post_id"].to_numpy(dtype=object),
            "row_id": planned["row_id"].to_numpy(dtype=object),
            "mark": np.select([~there, moved], ["missing", "moved"], "stands").astype(object),
            "along_m": matched.along_m,
            "across_m": matched.across_m,
            "height_m": np.where(
                there, survey.height_m[matched.found] - planned["ground_m"].to_numpy() - built.shift_m, np.nan
            ),
            "lon": lon,
            "lat": lat,
            "planned_lon": planned["lon"].to_numpy(),
            "planned_lat": planned["lat"].to_numpy(),
            "surveyed_as": words([survey.places[at] if at >= 0 else None for at in matched.found]),
        }
    )
    extra = built.of_planned < 0
    more = [
        not_planned(survey, built.used[extra], built.row_id[built.row[extra]], "extra"),
        not_planned(survey, built.again, built.row_id[built.row_of_again], "again"),
    ]
    return pd.concat([made, *(one for one in more if len(one))], ignore_index=True)


def not_planned(survey: SurveyedPosts, at: IntArray, row_id: TextArray | None, mark: str) -> pd.DataFrame:
    """Surveyed posts, by their places in the survey, that none was planned for, as table `BUILT_POSTS` has them."""
    lon, lat = survey.lonlat[at].T
    return pd.DataFrame(
        {
            "post_id": _called(at),
            "row_id": row_id,
            "mark": mark,
            **dict.fromkeys(("along_m", "across_m", "height_m"), np.nan),
            "lon": lon,
            "lat": lat,
            "planned_lon": lon,
            "planned_lat": lat,
            "surveyed_as": words([survey.places[one] for one in at]),
        }
    )


def _called(at: IntArray) -> TextArray:
    """What a surveyed post is called that none was planned for."""
    return words([f"X{one + 1:04d}" for one in at])


def long_spans(built: Built, max_span_m: float) -> pd.DataFrame:
    """Spans between posts that stand which are over the limit, as table `BUILT_SPANS` has them."""
    near = np.flatnonzero(np.diff(built.row) == 0)
    chord = np.hypot(
        np.hypot(*(built.xy_m[near + 1] - built.xy_m[near]).T), built.ground_m[near + 1] - built.ground_m[near]
    )
    over = chord > max_span_m + OFF_M
    at = near[over]
    return pd.DataFrame(
        {
            "row_id": built.row_id[built.row[at]],
            "from_post": built.name[at],
            "to_post": built.name[at + 1],
            "chord_m": chord[over],
            "over_m": chord[over] - max_span_m,
        }
    )
