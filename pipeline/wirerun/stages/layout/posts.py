"""The posts of every row, once it is decided where they stand: place, ground, and how the wire runs over them."""

import numpy as np

from wirerun.arrays import BoolArray, FloatArray, IntArray, words
from wirerun.findings import Findings, name_some
from wirerun.geometry.places import PlaneXY
from wirerun.geometry.row_ground import RowGround
from wirerun.geometry.station import first_and_last
from wirerun.ids import post_ids
from wirerun.model.layout import Posts, Rows, Stations
from wirerun.settings import PostSettings
from wirerun.wording import many

# Posts are staked to a centimetre at best; a span may be that much over its limit.
_TOLERANCE_M = 0.01


def set_posts(
    rows: Rows,
    ground: RowGround,
    stations: Stations,
    settings: PostSettings,
    notes: Findings,
    surveyed_m: FloatArray | None = None,
) -> Posts:
    """Posts at given stations of their rows.

    Parameters
    ----------
    rows : Rows
        Where they stand.
    ground : RowGround
        The rows' ground.
    stations : Stations
        Row and station of every post; the first and last post of a row stand at its ends.
    settings : PostSettings
        Longest span.
    notes : Findings
        Hears of spans longer than the limit.
    surveyed_m : [post], optional
        Ground heights from a survey of the posts; rows with a height for every post take them. [m]
    """
    row, station = stations
    place, height = ground.stand(row, station)
    if surveyed_m is not None:
        whole = has_all_heights(row, surveyed_m)[row]  # two sources in one row would make a step in it
        height = np.where(whole, surveyed_m, height)
    along, turn = _along_wire(row, place)
    post_id = words(post_ids(rows.row_id, row))
    posts = Posts(rows, row, post_id, station, place, height, along, turn)
    _note_too_long(posts, settings, notes)
    return posts


def has_all_heights(row: IntArray, height_m: FloatArray) -> BoolArray:
    """Which rows have a height at every post, [row], from row and height of the posts [m]."""
    return np.asarray(np.bincount(row, weights=np.isnan(height_m)) == 0)


def _along_wire(row: IntArray, place: PlaneXY) -> tuple[FloatArray, FloatArray]:
    """Distance along the wire in plan, and its turn in plan at each post (0 at end posts), [post] [m, rad]."""
    east, north, within = np.diff(place.x_m), np.diff(place.y_m), np.diff(row) == 0
    reach = np.concatenate([[0.0], np.cumsum(np.where(within, np.hypot(east, north), 0.0))])
    first, _ = first_and_last(row)
    turn = np.zeros(len(row))
    both = within[1:] & within[:-1]
    cross, dot = east[:-1] * north[1:] - north[:-1] * east[1:], east[:-1] * east[1:] + north[:-1] * north[1:]
    turn[1:-1][both] = np.abs(np.arctan2(cross, dot))[both]
    return reach - reach[first][row], turn


def _note_too_long(posts: Posts, settings: PostSettings, notes: Findings) -> None:
    chord = np.hypot(posts.dx_m, posts.rise_m)
    over = np.flatnonzero(chord > settings.max_span_m + _TOLERANCE_M)
    if len(over):
        notes.note(
            "span-too-long",
            f"{many(len(over), 'span')} of up to {chord.max():.2f} m where {settings.max_span_m:g} m are allowed, from "
            f"{name_some(posts.post_id[posts.near[over]])}.",
        )
