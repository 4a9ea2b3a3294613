"""Posts that stand already, or are staked: surveyed points on their rows."""

import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray

from wirerun.findings import Finding, name_some
from wirerun.geometry.frame import FloatArray, Frame
from wirerun.geometry.snap import Snapped, snap_points
from wirerun.geometry.station import Paths, first_and_last
from wirerun.records import SurveyedPosts
from wirerun.settings import PostSettings

IntArray = NDArray[np.int64]


def stand_on_points(
    rows: pd.DataFrame,
    paths: Paths,
    site: tuple[shapely.Geometry, Frame],
    points: SurveyedPosts,
    settings: PostSettings,
) -> tuple[pd.DataFrame, Paths, tuple[IntArray, FloatArray, FloatArray], list[Finding]]:
    """Rows from their first surveyed post to their last, and where the posts stand on them.

    Parameters
    ----------
    rows : DataFrame
        row_id, block_id, length_m, line.
    paths : Paths
        Their lines.
    site : area, frame
        The block in plane metres, and its frame.
    points : SurveyedPosts
        All points of the file, of other blocks too.
    settings : PostSettings
        How far a point may lie off its row.

    Returns
    -------
    rows : DataFrame
        Those with two posts or more, their length_m new.
    paths : Paths
        Cut to the first and last post of each.
    posts : row, station_m, height_m
        Shape (posts,) each, in order; height NaN where the survey has none.
    findings : list of Finding
        Points off the rows, points that repeat one another, rows without posts.
    """
    area, frame = site
    xy = np.column_stack(frame.to_plane(points.lonlat[:, 0], points.lonlat[:, 1]))
    lines = [
        np.column_stack([paths.x_m[a : b + 1], paths.y_m[a : b + 1]])
        for a, b in zip(paths.first, paths.last, strict=True)
    ]
    snapped = snap_points(lines, xy, settings.snap_m)
    used = np.flatnonzero(snapped.used)
    order = used[np.lexsort((snapped.station_m[used], snapped.row[used]))]
    row, station, height = snapped.row[order], snapped.station_m[order], points.height_m[order]
    count = np.bincount(row, minlength=len(rows))
    kept = count >= 2
    on_kept = kept[row]
    row, station, height = (np.cumsum(kept) - 1)[row[on_kept]], station[on_kept], height[on_kept]
    first, last = first_and_last(row)
    cut = [
        _cut(line, begin, end)
        for line, begin, end in zip(
            (line for line, keep in zip(lines, kept, strict=True) if keep), station[first], station[last], strict=True
        )
    ]
    findings = _report(rows, kept, snapped, shapely.contains_xy(area, xy[:, 0], xy[:, 1]), points, settings)
    shorter = Paths.from_lines(cut)
    rows = rows[kept].reset_index(drop=True).assign(length_m=shorter.length_m)
    return rows, shorter, (row, station - station[first][row], height), findings


def _cut(line: FloatArray, begin_m: float, end_m: float) -> FloatArray:
    piece = shapely.ops.substring(shapely.LineString(line), begin_m, end_m)
    return np.asarray(shapely.get_coordinates(piece))


def _report(
    rows: pd.DataFrame,
    kept: NDArray[np.bool_],
    snapped: Snapped,
    inside: NDArray[np.bool_],
    points: SurveyedPosts,
    settings: PostSettings,
) -> list[Finding]:
    if rows.empty:
        return []
    block_id, findings = str(rows["block_id"].iloc[0]), []
    off = np.flatnonzero(inside & (snapped.row < 0))
    if len(off):
        places = name_some(points.places[point] for point in off)
        sentence = (
            f"{len(off)} surveyed post(s) in the block lie more than {settings.snap_m:g} m off every row: {places}."
        )
        findings.append(Finding("posts-off-rows", block_id, sentence))
    twins = np.flatnonzero(snapped.twin_of >= 0)
    if len(twins):
        places = name_some(points.places[point] for point in twins)
        findings.append(Finding("posts-doubled", block_id, f"{len(twins)} surveyed post(s) repeat another: {places}."))
    if not kept.all():
        without = rows.loc[~kept, "row_id"]
        sentence = f"{len(without)} row(s) have fewer than two surveyed posts and were left out: {name_some(without)}."
        findings.append(Finding("rows-without-posts", block_id, sentence))
    return findings
