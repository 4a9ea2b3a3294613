"""Two hundred random blocks: whatever the outline, rows and posts lie inside and nothing breaks."""

import numpy as np
import shapely
from affine import Affine
from hypothesis import given, reject, settings
from hypothesis import strategies as st
from pyproj import CRS
from shapely import MultiPolygon, Polygon
from wirerun.findings import Findings
from wirerun.geometry.frame import Frame, direction
from wirerun.geometry.row_ground import RowGround
from wirerun.geometry.sampling import Ground
from wirerun.model.site import Area, Site
from wirerun.records import Grid
from wirerun.settings import PostSettings, RowSettings
from wirerun.stages.layout.placing import place_equal, place_on_baseline, place_on_vines, vine_places
from wirerun.stages.layout.posts import set_posts
from wirerun.stages.layout.rows import lay_parallel

FRAME = Frame(-7.6, 41.2, 300.0)


def _ground() -> Ground:
    row, column = np.mgrid[0:300, 0:300] + 0.5
    heights = 300.0 + 0.15 * column - 0.1 * row + 0.8 * np.sin(column / 9.0) * np.cos(row / 13.0)
    transform = Affine.translation(-300.0, 300.0) * Affine.scale(2.0, -2.0)
    return Ground(
        Grid(heights, np.ones_like(heights, dtype=bool), transform, CRS.from_proj4(FRAME.proj).to_wkt(), ""), FRAME, 1.0
    )


GROUND = _ground()


@st.composite
def blocks(draw: st.DrawFn) -> Area:
    """Star-shaped outlines with spikes and bays, sometimes a hole, a bite, a second part, a sliver or a crumb."""
    count = draw(st.integers(3, 14))
    size = draw(st.sampled_from([4.0, 25.0, 80.0, 200.0]))
    radius = np.array(draw(st.lists(st.floats(0.05, 1.0), min_size=count, max_size=count))) * size
    angle = np.sort(np.array(draw(st.lists(st.floats(0.0, 2 * np.pi), min_size=count, max_size=count, unique=True))))
    x0, y0 = draw(st.tuples(st.floats(-40.0, 40.0), st.floats(-40.0, 40.0)))
    star = shapely.Polygon(np.c_[x0 + radius * np.cos(angle), y0 + radius * np.sin(angle)])
    area = shapely.make_valid(star, method="structure", keep_collapsed=False)
    if draw(st.booleans()):
        area = area.difference(shapely.Point(x0, y0).buffer(draw(st.floats(0.5, 30.0))))
    if draw(st.booleans()):
        area = area.union(shapely.box(x0 + size, y0, x0 + size + 3.0, y0 + 60.0))
    if not isinstance(area, Polygon | MultiPolygon):
        reject()  # what has collapsed to a line is no block
    return area


@settings(max_examples=200, deadline=None)
@given(
    area=blocks(),
    bearing=st.floats(0.0, 359.99),
    spacing=st.floats(1.0, 4.0),
    headland=st.floats(0.0, 10.0),
    margin=st.floats(0.0, 3.0),
    placing=st.sampled_from(["equal", "vines", "baseline"]),
)
def test_every_post_of_a_random_block_lies_inside(
    area: Area, bearing: float, spacing: float, headland: float, margin: float, placing: str
) -> None:
    if area.is_empty or not area.area:
        return
    row_settings = RowSettings(
        bearing_deg=bearing, spacing_m=spacing, headland_m=headland, side_margin_m=margin, min_length_m=3.0
    )
    notes = Findings()
    rows = lay_parallel(Site(FRAME, area, area, GROUND, (0.0, 0.0)), "B01", row_settings, notes).rows
    paths = rows.paths
    if not len(rows):
        assert [finding.code for finding in notes] == ["no-rows"]
        return
    post_settings, land = PostSettings(), RowGround(GROUND, paths)
    if placing == "equal":
        stations = place_equal(land, post_settings)
    elif placing == "vines":
        stations = place_on_vines(land, vine_places(land, post_settings), post_settings)
    else:
        east, north = direction(bearing)
        along = paths.x_m[paths.first] * east + paths.y_m[paths.first] * north
        stations = place_on_baseline(land, post_settings, along)
    posts = set_posts(rows, land, stations, post_settings, Findings())
    assert len(set(posts.post_id)) == len(posts)
    assert len(set(rows.row_id)) == len(rows)
    places = shapely.points(posts.place.x_m, posts.place.y_m)
    # 2 mm: arcs of the margin are drawn with chords, and a row may lie on the margin itself.
    assert shapely.distance(places, area).max() < 1e-6
    assert shapely.distance(places, area.boundary).min() > margin - 2e-3
    assert np.hypot(posts.dx_m, posts.rise_m).max() < 6.0 + 0.01
    assert (posts.last > posts.first).all()
    assert (rows.length_m >= 3.0).all()
