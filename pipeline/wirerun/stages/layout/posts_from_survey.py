"""Posts that stand already, or are staked: surveyed points on their rows."""

import math
from dataclasses import replace
from typing import NamedTuple

import numpy as np
import shapely
from shapely.ops import substring

from wirerun.arrays import BoolArray, FloatArray, IntArray
from wirerun.findings import Findings, name_some
from wirerun.geometry.bad_cells import step_of
from wirerun.geometry.places import LonLat
from wirerun.geometry.snap import Snapped, snap_points
from wirerun.geometry.station import Paths, first_and_last
from wirerun.model.layout import Rows, Stations
from wirerun.model.site import Site
from wirerun.records import SurveyedPosts
from wirerun.settings import PostSettings
from wirerun.wording import many


class StoodOn(NamedTuple):
    """Rows from their first surveyed post to their last, and the posts on them.

    Attributes
    ----------
    rows : Rows
        Those with two posts or more, cut to the first and last of each.
    stations : Stations
        Where the posts stand.
    height_m : [post]
        NaN where the survey has none. [m]
    stands : [post]
        Whether the post stands already.
    out_m : [post]
        How far it is out of the ground; NaN where that was not measured. [m]
    aside_m : [post]
        How far to the left of its row's line it was measured. [m]
    """

    rows: Rows
    stations: Stations
    height_m: FloatArray
    stands: BoolArray
    out_m: FloatArray
    aside_m: FloatArray

    def of_rows(self, kept: BoolArray) -> "StoodOn":
        """Posts of the rows for which `kept`, [row], is true, the rows numbered anew."""
        on = kept[self.stations.row]
        row = (np.cumsum(kept) - 1)[self.stations.row[on]]
        return StoodOn(
            self.rows.only(kept),
            Stations(row, self.stations.station_m[on]),
            self.height_m[on],
            self.stands[on],
            self.out_m[on],
            self.aside_m[on],
        )


def stand_on_points(rows: Rows, site: Site, points: SurveyedPosts, settings: PostSettings, notes: Findings) -> StoodOn:
    """Rows from their first surveyed post to their last, and where the posts stand on them.

    Parameters
    ----------
    rows : Rows
        As laid.
    site : Site
        The block.
    points : SurveyedPosts
        All points of the file, of other blocks too.
    settings : PostSettings
        How far a point may lie off its row.
    notes : Findings
        Hears of points off the rows, points that repeat one another, rows without posts.
    """
    xy = site.frame.to_plane(LonLat.of(points.lonlat)).stacked()
    vertices, paths = rows.paths.vertices.stacked(), rows.paths
    lines = [vertices[first : last + 1] for first, last in zip(paths.first, paths.last, strict=True)]
    snapped = snap_points(lines, xy, settings.snap_m)
    used = np.flatnonzero(snapped.used)
    order = used[np.lexsort((snapped.station_m[used], snapped.row[used]))]
    row, station = snapped.row[order], snapped.station_m[order]
    kept = np.bincount(row, minlength=len(rows)) >= 2
    on_kept = kept[row]
    order, row, station = order[on_kept], row[on_kept], station[on_kept]
    aside = _aside(rows, row, station, xy[order])
    row = (np.cumsum(kept) - 1)[row]
    first, last = first_and_last(row)
    remaining = (line for line, keep in zip(lines, kept, strict=True) if keep)
    cut = [_cut(*piece) for piece in zip(remaining, station[first], station[last], strict=True)]
    _note(rows, kept, snapped, shapely.contains_xy(site.area, xy[:, 0], xy[:, 1]), points, settings, notes)
    _note_rounded(points.height_m[order], notes)
    shorter = Paths.from_lines(cut)
    standing = replace(rows.only(kept), length_m=shorter.length_m, paths=shorter)
    return StoodOn(
        standing,
        Stations(row, station - station[first][row]),
        points.height_m[order],
        np.zeros(len(order), dtype=np.bool_) if points.stands is None else points.stands[order],
        np.full(len(order), np.nan) if points.out_m is None else points.out_m[order],
        aside,
    )


def _aside(rows: Rows, row: IntArray, station_m: FloatArray, xy: FloatArray) -> FloatArray:
    """How far to the left of its row's line each point lies, negative to the right, [post] [m]."""
    on = rows.paths.place(row, station_m).stacked()
    east, north = rows.paths.heading(row, station_m)
    off = xy - on
    return np.asarray(east * off[:, 1] - north * off[:, 0])


def _cut(line: FloatArray, begin_m: float, end_m: float) -> FloatArray:
    piece = substring(shapely.LineString(line), begin_m, end_m)
    return np.asarray(shapely.get_coordinates(piece))


def _note(
    rows: Rows,
    kept: BoolArray,
    snapped: Snapped,
    inside: BoolArray,
    points: SurveyedPosts,
    settings: PostSettings,
    notes: Findings,
) -> None:
    if not len(rows):
        return
    off = np.flatnonzero(inside & (snapped.row < 0))
    if len(off):
        places = name_some(points.places[point] for point in off)
        notes.note(
            "posts-off-rows",
            f"{many(len(off), 'surveyed post', 'lie')} in the block more than {settings.snap_m:g} m off every row: "
            f"{places}.",
        )
    twins = np.flatnonzero(snapped.twin_of >= 0)
    if len(twins):
        places = name_some(points.places[point] for point in twins)
        notes.note(
            "posts-doubled",
            f"{many(len(twins), 'surveyed post', 'repeat')} another: {places}.",
        )
    if not kept.all():
        without = rows.row_id[~kept]
        notes.note(
            "rows-without-posts",
            f"{many(len(without), 'row', 'have')} fewer than two surveyed posts; left out: {name_some(without)}.",
        )


def _note_rounded(height_m: FloatArray, notes: Findings) -> None:
    step = step_of(height_m)
    if step is not None:
        notes.note(
            "ground-rounded",
            f"Heights of the surveyed posts are rounded to {step:.3g} m, so each is off by "
            f"{100.0 * step / math.sqrt(12.0):.1f} cm (one sigma); have them to the centimetre, or say so in "
            "posts.points_accuracy_m.",
        )
