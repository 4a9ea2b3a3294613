"""Which rows are laid and where their posts stand, as the config would have them."""

from typing import NamedTuple

import numpy as np

from wirerun.arrays import BoolArray, words
from wirerun.findings import Findings
from wirerun.geometry.frame import direction
from wirerun.geometry.lines import to_row_axes
from wirerun.geometry.row_ground import RowGround
from wirerun.mechanics.load_posterior import KnownHeights
from wirerun.model.layout import Bridges, LeftOut, NamedRows, Posts, Rows
from wirerun.model.site import Site
from wirerun.records import Drawn
from wirerun.settings import Catalogue, Config
from wirerun.stages.layout.fitted import Fitted, place_fitted
from wirerun.stages.layout.known_ground import doubt_bridges, stand_on_ground
from wirerun.stages.layout.placing import place_equal, place_on_baseline, place_on_vines, vine_places
from wirerun.stages.layout.posts import has_all_heights, set_posts
from wirerun.stages.layout.posts_from_survey import StoodOn, stand_on_points
from wirerun.stages.layout.rows import lay_parallel, spacing_in_plan
from wirerun.stages.layout.rows_from_lines import lay_follow, lay_given


def lay_rows(site: Site, drawn: Drawn, block_id: str, config: Config, notes: Findings) -> NamedRows:
    """Rows of one block, with their ids: straight, along a guide, or on given lines."""
    heading = direction(float(config.rows.bearing_deg or 0.0))
    settings = spacing_in_plan(config.rows, site.slope, heading, notes)
    if settings.layout == "follow" and drawn.guide is not None:
        return lay_follow(site, drawn, block_id, settings, notes)
    if settings.layout == "given":
        return lay_given(site, drawn, block_id, settings, notes)
    return lay_parallel(site, block_id, settings, notes, drawn.earlier)


class Layout(NamedTuple):
    """Posts of a block and the ground they stand on; rows that cannot be planned.

    `posts` and what belongs to them are None where no row is left. `measured`: rows whose posts all have surveyed
    heights, [row]. `more`: heights beside the posts' that tell of the ground, from posts as they might have stood.
    `surveyed`: what was measured of surveyed posts; its rows are those of the posts.
    """

    left_out: LeftOut
    posts: Posts | None
    ground: RowGround | None
    bridges: Bridges | None
    measured: BoolArray | None
    more: KnownHeights | None
    surveyed: StoodOn | None = None


def stand_posts(rows: Rows, site: Site, drawn: Drawn, config: Config, catalogue: Catalogue, notes: Findings) -> Layout:
    """Posts of the rows that have ground: where they were surveyed, else where the config would have them.

    Surveyed posts shorten their rows to the first and the last of them.
    """
    if not len(rows):  # told where they were laid
        return Layout(LeftOut(rows, words([])), None, None, None, None, None)
    more: KnownHeights | None = None
    surveyed: StoodOn | None = None
    measured = np.zeros(len(rows), dtype=np.bool_)
    if drawn.posts is not None:
        surveyed = stand_on_points(rows, site, drawn.posts, config.posts, notes)
        rows = surveyed.rows
        if not len(rows):  # told there
            return Layout(LeftOut(rows, words([])), None, None, None, None, None)
        measured = has_all_heights(surveyed.stations.row, surveyed.height_m)
    stand = stand_on_ground(rows, site.ground, config.elevation.bridge_m, measured, notes)
    if not len(stand.rows):
        return Layout(stand.left_out, None, None, None, None, None)
    if surveyed is None:
        stations, more = _place(stand.rows, stand.ground, config, catalogue, notes)
        height = None
    else:
        surveyed = surveyed.of_rows(stand.kept)
        stations, height = surveyed.stations, surveyed.height_m
    posts = set_posts(stand.rows, stand.ground, stations, config.posts, notes, height)
    bridges = doubt_bridges(posts, stand.ground, measured[stand.kept], config.elevation, notes)
    return Layout(stand.left_out, posts, stand.ground, bridges, measured[stand.kept], more, surveyed)


def _place(rows: Rows, ground: RowGround, config: Config, catalogue: Catalogue, notes: Findings) -> Fitted:
    settings, paths, along = config.posts, rows.paths, None
    if settings.align == "baseline":
        starts = paths.vertices
        along, _ = to_row_axes(starts.x_m[paths.first], starts.y_m[paths.first], float(config.rows.bearing_deg or 0.0))
    equal = place_equal(ground, settings) if along is None else place_on_baseline(ground, settings, along)
    if settings.placing == "equal":
        return Fitted(equal, None)
    vines = vine_places(ground, settings, along)
    if settings.placing == "vine_grid":
        return Fitted(place_on_vines(ground, vines, settings), None)
    return place_fitted(rows, ground, vines, equal, config, catalogue, notes)
