"""Where everything lies on the globe: plane metres of a block's frame back to longitude and latitude."""

from typing import Final

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from wirerun.geometry.areas import strips
from wirerun.geometry.frame import Frame
from wirerun.geometry.station import Paths, first_and_last

WGS84: Final = "EPSG:4326"
# Enough for a curved section to be seen as one.
_SECTION_POINTS: Final = 13


def place_rows(
    rows: pd.DataFrame, paths: Paths, posts: pd.DataFrame, clips: pd.DataFrame, frame: Frame
) -> gpd.GeoDataFrame:
    """Rows as lines in WGS 84, with the measures that come from their posts.

    Parameters
    ----------
    rows : DataFrame
        row_id, length_m.
    paths : Paths
        Their lines in plane metres.
    posts : DataFrame
        post_id, row, run_m, ground_m, ordered along each row.
    clips : DataFrame
        post_id, clip.
    frame : Frame
        The block's frame.

    Returns
    -------
    GeoDataFrame
        The columns of `tables.ROWS` and the line.
    """
    lon, lat = frame.to_lonlat(paths.x_m, paths.y_m)
    row, run_m, ground = (posts[name].to_numpy() for name in ("row", "run_m", "ground_m"))
    first, last = first_and_last(row)
    run, rise, near = np.diff(run_m), np.diff(ground), row[:-1] == row[1:]
    steepest = np.maximum.reduceat(np.abs(rise / np.where(near, run, np.inf)), first)
    two_way = posts["post_id"].isin(clips.loc[clips["clip"] == "two-way", "post_id"]).to_numpy()
    return gpd.GeoDataFrame(
        rows.assign(
            given_attributes=rows.get("given_attributes"),
            slope_length_m=np.bincount(row[:-1][near], weights=np.hypot(run, rise)[near]),
            start_lon=lon[paths.first],
            start_lat=lat[paths.first],
            end_lon=lon[paths.last],
            end_lat=lat[paths.last],
            start_ground_m=ground[first],
            end_ground_m=ground[last],
            posts=last - first + 1,
            spans=last - first,
            max_grade_pct=100.0 * steepest,
            two_way_posts=np.add.reduceat(two_way.astype(np.int64), first),
        ),
        geometry=shapely.linestrings(np.c_[lon, lat], indices=paths.path),
        crs=WGS84,
    )


def place_left_out(left_out: pd.DataFrame, paths: Paths, frame: Frame) -> gpd.GeoDataFrame:
    """Rows that are not planned as lines in WGS 84, in the order of `paths`."""
    lon, lat = frame.to_lonlat(paths.x_m, paths.y_m)
    return gpd.GeoDataFrame(left_out, geometry=shapely.linestrings(np.c_[lon, lat], indices=paths.path), crs=WGS84)


def place_posts(posts: pd.DataFrame, frame: Frame) -> gpd.GeoDataFrame:
    """Posts as points in WGS 84, from x_m and y_m; adds lon and lat."""
    lon, lat = frame.to_lonlat(posts["x_m"].to_numpy(), posts["y_m"].to_numpy())
    return gpd.GeoDataFrame(posts.assign(lon=lon, lat=lat), geometry=shapely.points(lon, lat), crs=WGS84)


def place_spans(spans: pd.DataFrame, posts: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    """Spans as lines in WGS 84 between placed posts, from from_index."""
    lonlat = posts[["lon", "lat"]].to_numpy()
    near = spans["from_index"].to_numpy()
    return gpd.GeoDataFrame(
        spans, geometry=shapely.linestrings(np.stack([lonlat[near], lonlat[near + 1]], axis=1)), crs=WGS84
    )


def place_sections(sections: pd.DataFrame, paths: Paths, frame: Frame) -> gpd.GeoDataFrame:
    """Undulating sections as lines in WGS 84 along their row, from row, start_m and end_m."""
    row = sections["row"].to_numpy(dtype=np.int64)
    share = np.linspace(0.0, 1.0, 2 if paths.is_straight.all() else _SECTION_POINTS)
    start, end = sections["start_m"].to_numpy()[:, None], sections["end_m"].to_numpy()[:, None]
    lon, lat = frame.to_lonlat(*paths.place(row[:, None], start + share * (end - start)))
    return gpd.GeoDataFrame(sections, geometry=shapely.linestrings(np.stack([lon, lat], axis=-1)), crs=WGS84)


def place_zones(
    zones: pd.DataFrame, rows: gpd.GeoDataFrame, workable: shapely.Geometry, spacing_m: float, frame: Frame
) -> gpd.GeoDataFrame:
    """Work zones of one block as areas in WGS 84: the strips of their rows, a row spacing beyond the outer ones.

    Parameters
    ----------
    zones : DataFrame
        zone_id.
    rows : GeoDataFrame
        zone_id and the line in WGS 84, of the same block.
    workable : Polygon or MultiPolygon
        The block's workable ground, in plane metres.
    spacing_m : float
        Distance between rows. [m]
    frame : Frame
        The block's frame.
    """
    lines = np.array([frame.flatten(line) for line in rows.geometry], dtype=object)
    zone = pd.Index(zones["zone_id"]).get_indexer(rows["zone_id"])
    areas = np.array(strips(lines, zone, workable, spacing_m), dtype=object)
    return gpd.GeoDataFrame(zones, geometry=frame.unflatten(areas), crs=WGS84)
