"""The plan for a handheld receiver: posts as waypoints with short names, rows as tracks."""

import string
from pathlib import Path
from typing import Final

import geopandas as gpd
import gpxpy.gpx
import pandas as pd
import shapely

from wirerun.geometry.places import WGS84
from wirerun.records import Plan
from wirerun.write.gis.layers import layer_frame, layer_named

# A tenth of a millimetre on the ground.
_DEGREE_DECIMALS: Final = 9
_CREATOR: Final = "wirerun"


def write_gpx(plan: Plan, path: Path) -> None:
    """Write posts and rows as GPX 1.1.

    Rows are tracks, not routes: a receiver would lead along the nearest road to the next point of a route.

    References
    ----------
    GPX 1.1 schema, topografix.com/GPX/1/1, 2004.
    """
    rows = layer_frame(plan, layer_named("rows"), WGS84)
    posts = layer_frame(plan, layer_named("posts"), WGS84)
    document = gpxpy.gpx.GPX()
    document.creator = _CREATOR
    document.name = plan.config.name
    document.waypoints = _waypoints(posts, short_names(posts, rows))
    document.tracks = _tracks(rows)
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(document.to_xml("1.1", prettyprint=False), encoding="utf-8", newline="\n")


def short_names(posts: pd.DataFrame, rows: pd.DataFrame) -> list[str]:
    """Return a short, unique name for each post: row and number, such as ``12b-7`` for B01-R012b-P007.

    In a plan of several blocks a letter goes before it: A for the first block, B for the second.

    Parameters
    ----------
    posts : DataFrame
        `post_id`, `row_id`.
    rows : DataFrame
        `row_id`, `block_id`.
    """
    block = posts["row_id"].map(rows.set_index("row_id")["block_id"])
    number, blocks = pd.factorize(block)
    row = posts["row_id"].str.extract(r"-R0*(\d+[a-z]?\d*)$")[0]
    post = posts["post_id"].str.extract(r"-P0*(\d+)$")[0]
    letters = [_letters(i) if len(blocks) > 1 else "" for i in range(len(blocks))]
    return [f"{letters[i]}{r}-{p}" for i, r, p in zip(number, row, post, strict=True)]


def _letters(number: int) -> str:
    """Return A, B, ... Z, AA, AB, ... for 0, 1, ..."""
    before, last = divmod(number, 26)
    return (_letters(before - 1) if before else "") + string.ascii_uppercase[last]


def _waypoints(posts: gpd.GeoDataFrame, names: list[str]) -> list[gpxpy.gpx.GPXWaypoint]:
    lonlat = shapely.get_coordinates(posts.geometry).round(_DEGREE_DECIMALS).tolist()
    columns = (posts[name].tolist() for name in ("post_id", "ground_m", "kind", "clip_need", "standing"))
    return [
        gpxpy.gpx.GPXWaypoint(
            latitude=lat,
            longitude=lon,
            elevation=None if pd.isna(height) else height,
            name=name,
            description=post,
            type=("end post" if kind == "end" else f"post, clip: {need}") + ", stands" * (stands == "yes"),
        )
        for (lon, lat), name, post, height, kind, need, stands in zip(lonlat, names, *columns, strict=True)
    ]


def _tracks(rows: gpd.GeoDataFrame) -> list[gpxpy.gpx.GPXTrack]:
    tracks = []
    for row, line in zip(rows["row_id"], rows.geometry, strict=True):
        points = shapely.get_coordinates(line).round(_DEGREE_DECIMALS).tolist()
        track = gpxpy.gpx.GPXTrack(name=row)
        track.segments = [gpxpy.gpx.GPXTrackSegment([gpxpy.gpx.GPXTrackPoint(lat, lon) for lon, lat in points])]
        tracks.append(track)
    return tracks
