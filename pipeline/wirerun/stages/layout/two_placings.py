"""Two placings of posts on one ground: where they stand, and what the heights of both tell of the loads of each."""

from typing import Final, NamedTuple

import numpy as np

from wirerun.arrays import BoolArray, IntArray
from wirerun.findings import Findings
from wirerun.geometry.row_ground import RowGround
from wirerun.mechanics.height_errors import HeightErrors
from wirerun.mechanics.load_posterior import Choice, KnownHeights, LoadPosterior, load_posterior, load_posteriors
from wirerun.model.layout import Posts, Rows, Stations
from wirerun.settings import Config
from wirerun.stages.layout.height_errors import errors_of_heights
from wirerun.stages.layout.known_ground import doubt_bridges
from wirerun.stages.layout.posts import set_posts

# Posts of two placings nearer than this along the row are one place: its height is known once. Choice.
_ONE_PLACE_M: Final = 0.05


class Standing(NamedTuple):
    """Posts of a placing, and how far off their heights may be."""

    posts: Posts
    errors: HeightErrors


def stand(rows: Rows, ground: RowGround, stations: Stations, config: Config) -> Standing:
    """Posts at stations and the errors of their heights; what is noticed of them is not of this plan."""
    posts = set_posts(rows, ground, stations, config.posts, Findings())
    none = np.zeros(len(rows), dtype=np.bool_)
    bridges = doubt_bridges(posts, ground, none, config.elevation, Findings())
    return Standing(posts, errors_of_heights(posts, ground, bridges, none, config.elevation, config.posts))


def known_of(mine: Standing, more: KnownHeights | None) -> LoadPosterior:
    """Error of the loads of a placing, as its own heights and more of them tell."""
    return load_posterior(mine.posts.place.stacked(), mine.posts.feet, mine.errors, more)


def known_together(mine: Standing, other: Standing) -> list[LoadPosterior]:
    """Error of the loads of two placings, as the heights of both tell, weighed together."""
    posts, stations = mine.posts, Stations(mine.posts.row, mine.posts.station_m)
    own = KnownHeights(posts.place.stacked(), posts.along_m, posts.ground_m, posts.row, mine.errors)
    more, (near, apart) = beside(other, stations), nearest(other.posts, stations)
    place = np.where(apart, len(posts) - 1 + np.cumsum(apart), near)
    choices = Choice(posts.feet, np.arange(len(posts))), Choice(other.posts.feet, place)
    return load_posteriors(own.joined(more), choices)


def nearest(posts: Posts, others: Stations) -> tuple[IntArray, BoolArray]:
    """Of each post the nearest of the others in its row, and whether it stands elsewhere, [post]."""
    lap = 1.0 + max(posts.station_m.max(), others.station_m.max())
    at, axis = posts.row * lap + posts.station_m, others.row * lap + others.station_m
    after = np.searchsorted(axis, at).clip(1, len(axis) - 1)
    near = np.where(at - axis[after - 1] < axis[after] - at, after - 1, after)
    return near, np.abs(axis[near] - at) > _ONE_PLACE_M


def beside(standing: Standing, others: Stations) -> KnownHeights | None:
    """Heights of posts where none of the others stands; None where there are none."""
    posts, apart = standing.posts, nearest(standing.posts, others)[1]
    if not apart.any():
        return None
    xy = posts.place.stacked()[apart]
    errors = standing.errors.of(apart)
    return KnownHeights(xy, posts.along_m[apart], posts.ground_m[apart], posts.row[apart], errors)
