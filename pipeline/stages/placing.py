"""Where everything lies on the globe: plane metres of a block's frame back to longitude and latitude."""

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from pipeline.geometry.frame import FloatArray, Frame, direction

WGS84 = "EPSG:4326"


def place_rows(rows: pd.DataFrame, posts: pd.DataFrame, frame: Frame) -> gpd.GeoDataFrame:
    """Rows as lines in WGS 84, with the measures that come from their posts.

    Parameters
    ----------
    rows : DataFrame
        row_id, length_m, start_x_m, start_y_m, end_x_m, end_y_m.
    posts : DataFrame
        row, kind, station_m, ground_m, section_id, ordered along each row.
    frame : Frame
        The block's frame.

    Returns
    -------
    GeoDataFrame
        The columns of `tables.ROWS` and the line.
    """
    start_lon, start_lat = frame.to_lonlat(rows["start_x_m"].to_numpy(), rows["start_y_m"].to_numpy())
    end_lon, end_lat = frame.to_lonlat(rows["end_x_m"].to_numpy(), rows["end_y_m"].to_numpy())
    row, station, ground = (posts[name].to_numpy() for name in ("row", "station_m", "ground_m"))
    first = np.flatnonzero(np.diff(row, prepend=-1))
    last = np.append(first[1:], len(row)) - 1
    run, rise, near = np.diff(station), np.diff(ground), row[:-1] == row[1:]
    steepest = np.maximum.reduceat(np.where(near, np.abs(rise / run), 0.0), first[first < len(near)])
    lines = shapely.linestrings(np.stack([np.c_[start_lon, start_lat], np.c_[end_lon, end_lat]], axis=1))
    two_way = posts["section_id"].notna().to_numpy()
    return gpd.GeoDataFrame(
        rows.assign(
            slope_length_m=np.bincount(row[:-1][near], weights=np.hypot(run, rise)[near]),
            start_lon=start_lon,
            start_lat=start_lat,
            end_lon=end_lon,
            end_lat=end_lat,
            start_ground_m=ground[first],
            end_ground_m=ground[last],
            posts=last - first + 1,
            spans=last - first,
            max_grade_pct=100.0 * steepest,
            two_way_posts=np.add.reduceat(two_way.astype(np.int64), first),
        ),
        geometry=lines,
        crs=WGS84,
    )


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


def place_sections(sections: pd.DataFrame, rows: pd.DataFrame, frame: Frame) -> gpd.GeoDataFrame:
    """Undulating sections as lines in WGS 84, from their row, start_m and end_m."""
    row = sections["row"].to_numpy(dtype=np.int64)
    east, north = direction(float(rows["bearing_deg"].iloc[0]))

    def at(station_m: FloatArray) -> FloatArray:
        x = rows["start_x_m"].to_numpy()[row] + station_m * east
        y = rows["start_y_m"].to_numpy()[row] + station_m * north
        return np.column_stack(frame.to_lonlat(x, y))

    ends = np.stack([at(sections["start_m"].to_numpy()), at(sections["end_m"].to_numpy())], axis=1)
    return gpd.GeoDataFrame(sections, geometry=shapely.linestrings(ends), crs=WGS84)
