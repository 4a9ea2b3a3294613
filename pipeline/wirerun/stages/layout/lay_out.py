"""Which rows are laid and where their posts stand, as the config would have them."""

from wirerun.arrays import FloatArray
from wirerun.findings import Findings
from wirerun.geometry.frame import direction
from wirerun.geometry.lines import to_row_axes
from wirerun.geometry.sampling import Ground
from wirerun.model.layout import Posts, Rows, Stations
from wirerun.model.site import Site
from wirerun.records import Drawn
from wirerun.settings import Config
from wirerun.stages.layout.fitted import place_fitted
from wirerun.stages.layout.placing import place_equal, place_on_baseline, place_on_vines, vine_places
from wirerun.stages.layout.posts import set_posts
from wirerun.stages.layout.posts_from_survey import stand_on_points
from wirerun.stages.layout.rows import lay_parallel, spacing_in_plan
from wirerun.stages.layout.rows_from_lines import lay_follow, lay_given


def lay_rows(site: Site, drawn: Drawn, block_id: str, config: Config, notes: Findings) -> Rows:
    """Rows of one block: straight, along a guide, or on given lines."""
    heading = direction(float(config.rows.bearing_deg or 0.0))
    settings = spacing_in_plan(config.rows, site.slope, heading, notes)
    if settings.layout == "follow" and drawn.guide is not None:
        return lay_follow(site, drawn.guide, block_id, settings, notes)
    if settings.layout == "given":
        return lay_given(site, drawn.lines, drawn.attributes, block_id, settings, notes)
    return lay_parallel(site, block_id, settings, notes)


def stand_posts(rows: Rows, site: Site, drawn: Drawn, config: Config, notes: Findings) -> Posts | None:
    """Posts of the rows: where they were surveyed, else where the config would have them; None where no row is left.

    Surveyed posts shorten their rows to the first and the last of them.
    """
    surveyed: FloatArray | None = None
    if drawn.posts is not None:
        rows, stations, surveyed = stand_on_points(rows, site, drawn.posts, config.posts, notes)
    if not len(rows):
        return None
    if drawn.posts is None:
        stations = _place(rows, site.ground, config, notes)
    return set_posts(rows, site.ground, stations, config.posts, notes, surveyed)


def _place(rows: Rows, ground: Ground, config: Config, notes: Findings) -> Stations:
    settings, paths, along = config.posts, rows.paths, None
    if settings.align == "baseline":
        starts = paths.vertices
        along, _ = to_row_axes(starts.x_m[paths.first], starts.y_m[paths.first], float(config.rows.bearing_deg or 0.0))
    equal = place_equal(paths, ground, settings) if along is None else place_on_baseline(paths, ground, settings, along)
    if settings.placing == "equal":
        return equal
    vines = vine_places(paths, ground, settings, along)
    on_vines = place_on_vines(paths, ground, vines, settings)
    if settings.placing == "vine_grid":
        return on_vines
    return place_fitted(rows, ground, {"places": vines, "equal": equal, "vine_grid": on_vines}, config, notes)
