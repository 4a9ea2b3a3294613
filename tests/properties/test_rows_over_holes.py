"""Random holes under straight and curved rows: whatever is planned stands on known ground, and nothing is lost."""

import numpy as np
from affine import Affine
from hypothesis import example, given, settings
from hypothesis import strategies as st
from pyproj import CRS
from wirerun.arrays import is_blank, words
from wirerun.findings import Findings
from wirerun.geometry.frame import Frame
from wirerun.geometry.row_ground import holes_along
from wirerun.geometry.sampling import Ground
from wirerun.geometry.station import Paths
from wirerun.model.layout import Rows
from wirerun.records import Grid
from wirerun.settings import ElevationSettings, PostSettings
from wirerun.stages.layout.ground import ground_above_chord
from wirerun.stages.layout.known_ground import doubt_bridges, stand_on_ground
from wirerun.stages.layout.placing import place_equal, place_on_vines, vine_places
from wirerun.stages.layout.posts import set_posts

FRAME = Frame(-7.6, 41.2, 300.0)
CELL_M = 0.4
SIDE = 160


def ground(rng: np.random.Generator, share: float, smoothing_m: float) -> Ground:
    """Rough ground with single cells and rectangles missing, and part of an edge."""
    row, column = np.mgrid[0:SIDE, 0:SIDE] + 0.5
    heights = 300.0 + 0.15 * column - 0.1 * row + 0.8 * np.sin(column / 9.0) + rng.normal(0.0, 0.05, (SIDE, SIDE))
    valid = rng.random((SIDE, SIDE)) > share
    for top, left, tall, wide in zip(*rng.integers(0, SIDE, (2, 8)), *rng.integers(1, 14, (2, 8)), strict=True):
        valid[top : top + tall, left : left + wide] = False
    transform = Affine.translation(-SIDE * CELL_M / 2, SIDE * CELL_M / 2) * Affine.scale(CELL_M, -CELL_M)
    grid = Grid(np.where(valid, heights, 0.0), valid, transform, CRS.from_proj4(FRAME.proj).to_wkt(), "")
    return Ground(grid, FRAME, smoothing_m)


@settings(max_examples=80, deadline=None)
@given(
    seed=st.integers(0, 10**6),
    share=st.sampled_from([0.0, 0.002, 0.02]),
    smoothing=st.sampled_from([0.0, 1.0, 3.0]),
    bridge=st.sampled_from([0.0, 1.0, 5.0, 12.0]),
    bend=st.sampled_from([0.0, 1.0, 6.0]),
    vines=st.booleans(),
)
# Two vines were counted where the row's end is.
@example(seed=100, share=0.0, smoothing=0.0, bridge=0.0, bend=0.0, vines=True)
def test_what_is_planned_stands_on_known_ground(
    seed: int, share: float, smoothing: float, bridge: float, bend: float, *, vines: bool
) -> None:
    rng = np.random.default_rng(seed)
    here = ground(rng, share, smoothing)
    along = np.linspace(-28.0, 28.0, 113 if bend else 2)
    lines = [np.column_stack([along, offset + bend * np.cos(along / 11.0)]) for offset in np.arange(-20.0, 20.0, 3.7)]
    paths = Paths.from_lines(lines)
    ids = words(f"B01-R{n + 1:03d}" for n in range(len(lines)))
    rows, notes = Rows("B01", ids, np.full(len(lines), 90.0), paths.length_m, paths), Findings()
    no_survey = np.zeros(len(rows), dtype=np.bool_)
    stand = stand_on_ground(rows, here, bridge, no_survey, notes)
    # Every row is planned or named, once.
    assert sorted([*stand.rows.row_id, *stand.left_out.rows.row_id]) == list(ids)
    assert not is_blank(stand.left_out.reason).any()
    holes = holes_along(here, paths)
    if bridge == 0.0:
        assert set(np.flatnonzero(~stand.kept)) == set(holes.path)
    if not len(stand.rows):
        return
    limits = PostSettings()
    stations = place_equal(stand.ground, limits)
    if vines:
        stations = place_on_vines(stand.ground, vine_places(stand.ground, limits), limits)
    assert (np.diff(stations[1])[np.diff(stations[0]) == 0] > 0.0).all()
    posts = set_posts(stand.rows, stand.ground, stations, limits, notes)
    assert np.isfinite(posts.ground_m).all()
    # Bridged ground lies between what is known: no blend with a missing cell's 0.
    assert ((posts.ground_m > 280.0) & (posts.ground_m < 330.0)).all()
    assert np.isfinite(ground_above_chord(posts, stand.ground, limits.max_span_m)).all()
    row, at = np.repeat(np.arange(len(stand.rows)), 300), np.tile(np.linspace(0.0, 1.0, 300), len(stand.rows))
    assert np.isfinite(stand.ground.stand(row, at * stand.ground.paths.length_m[row])[1]).all()
    elevation = ElevationSettings(raster="-", smoothing_m=smoothing, bridge_m=bridge)
    made = doubt_bridges(posts, stand.ground, no_survey[stand.kept], elevation, notes)
    over = ~np.isnan(made.width_m)
    assert (~np.isnan(made.error_m) == over).all()
    assert (made.error_m[over] > 0.0).all()
    assert (made.width_m[over] <= bridge + 0.01).all()
