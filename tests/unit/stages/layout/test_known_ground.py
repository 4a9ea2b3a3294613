"""Which rows can be planned over holes, and whether bridged heights are off by as much as they are said to be.

The ground of the truth tests is simulated, so its height under each hole is known.
"""

import re
from collections.abc import Callable

import numpy as np
import pytest
from affine import Affine
from numpy.typing import NDArray
from pyproj import CRS
from wirerun.arrays import FloatArray, IntArray, words
from wirerun.findings import Finding, Findings
from wirerun.geometry.frame import Frame
from wirerun.geometry.row_ground import RowGround
from wirerun.geometry.sampling import Ground
from wirerun.geometry.station import Paths
from wirerun.model.layout import Posts, Rows
from wirerun.records import Grid
from wirerun.settings import ElevationSettings
from wirerun.stages.layout.known_ground import Standing, doubt_bridges, stand_on_ground

FRAME = Frame(-7.6, 41.2, 300.0)
CELL_M = 0.5
SIDE = 280  # cells
HALF_M = SIDE * CELL_M / 2.0
SLOPE = 300.0 + 0.08 * np.mgrid[0:SIDE, 0:SIDE][1] - 0.05 * np.mgrid[0:SIDE, 0:SIDE][0]


def ground_of(heights: FloatArray, valid: NDArray[np.bool_], smoothing_m: float = 0.0) -> Ground:
    transform = Affine.translation(-HALF_M, HALF_M) * Affine.scale(CELL_M, -CELL_M)
    grid = Grid(np.where(valid, heights, 0.0), valid, transform, CRS.from_proj4(FRAME.proj).to_wkt(), "")
    return Ground(grid, FRAME, smoothing_m)


def rows_of(offsets: FloatArray, half_m: float = 48.0) -> Rows:
    """Rows eastward at distances from the middle, off the cells' centres as rows are."""
    paths = Paths.straight(
        np.column_stack([np.full(len(offsets), -half_m), offsets]),
        np.column_stack([np.full(len(offsets), half_m), offsets]),
    )
    ids = words(f"B01-R{number + 1:03d}" for number in range(len(offsets)))
    return Rows("B01", ids, np.full(len(offsets), 90.0), paths.length_m, paths)


def cut(valid: NDArray[np.bool_], x_m: float, y_m: float, width_m: float, tall_m: float = 1.0) -> None:
    """Take a rectangle of cells out, so wide along the rows, round a place."""
    column, row = (x_m + HALF_M) / CELL_M, (HALF_M - y_m) / CELL_M
    wide, tall = round(width_m / CELL_M), round(tall_m / CELL_M)
    left, top = round(column - wide / 2.0), round(row - tall / 2.0)
    valid[top : top + tall, left : left + wide] = False


def standing(
    *holes: tuple[float, float, float], bridge_m: float = 5.0, smoothing_m: float = 0.0, surveyed: tuple[int, ...] = ()
) -> tuple[Standing, list[Finding]]:
    """Five rows 4 m apart over a plane with holes: place along the rows, row, width."""
    rows, notes = rows_of(np.linspace(0.1, 16.1, 5)), Findings()
    valid = np.ones((SIDE, SIDE), dtype=np.bool_)
    for x, row, width in holes:
        cut(valid, x, 4.0 * row, width)
    measured = np.isin(np.arange(5), surveyed)
    stand = stand_on_ground(rows, ground_of(SLOPE, valid, smoothing_m), bridge_m, measured, notes)
    return stand, list(notes)


@pytest.mark.parametrize(("width", "kept"), [(2.0, True), (5.0, True), (5.5, False), (8.0, False)])
@pytest.mark.parametrize("smoothing", [0.0, 1.0])
def test_a_hole_up_to_the_limit_is_bridged_and_a_wider_one_takes_the_row_out(
    width: float,
    kept: bool,  # noqa: FBT001
    smoothing: float,
) -> None:
    stand, found = standing((3.0, 2, width), smoothing_m=smoothing)
    assert stand.kept.tolist() == [True, True, kept, True, True]
    if kept:
        assert stand.ground.bridged_length_m.tolist() == pytest.approx([0.0, 0.0, width, 0.0, 0.0], abs=1e-6)
        assert len(stand.left_out.rows) == 0
        assert found == []
    else:
        assert stand.left_out.rows.row_id.tolist() == ["B01-R003"]
        assert f"hole of {width:.2f} m" in stand.left_out.reason[0]
        assert "elevation.bridge_m = 5 m" in stand.left_out.reason[0]
        assert [finding.code for finding in found] == ["row-left-out"]
        assert "1 row, 96.0 m" in found[0].message
        assert "B01-R003" in found[0].message
        # The others keep their ids, and their lines stay theirs.
        assert stand.rows.row_id.tolist() == ["B01-R001", "B01-R002", "B01-R004", "B01-R005"]
        np.testing.assert_allclose(stand.ground.paths.y_m[stand.ground.paths.first], [0.1, 4.1, 12.1, 16.1])


@pytest.mark.parametrize(("x", "end"), [(-48.0, "start"), (48.0, "far end")])
def test_a_hole_at_a_rows_end_cannot_be_bridged_however_small(x: float, end: str) -> None:
    stand, _ = standing((x, 1, 1.0), smoothing_m=1.0)
    assert stand.kept.tolist() == [True, False, True, True, True]
    assert f"no ground height at the row's {end}" in stand.left_out.reason[0]


def test_without_bridging_every_hole_takes_its_row_out() -> None:
    assert standing((3.0, 2, 1.0), bridge_m=0.0)[0].kept.tolist() == [True, True, False, True, True]


def test_a_wider_limit_bridges_a_wider_hole() -> None:
    assert standing((3.0, 2, 8.0), bridge_m=8.0)[0].kept.all()


def test_the_worst_of_several_holes_is_the_reason() -> None:
    stand, _ = standing((-20.0, 0, 6.0), (3.0, 0, 2.0), (20.0, 0, 9.0), (-20.0, 3, 7.0), (48.0, 3, 1.0))
    reasons = dict(zip(stand.left_out.rows.row_id, stand.left_out.reason, strict=True))
    assert reasons["B01-R001"].startswith("hole of 9.00 m, 63.")
    assert "far end" in reasons["B01-R004"]


def test_rows_of_surveyed_posts_are_planned_over_any_hole() -> None:
    stand, found = standing((3.0, 2, 8.0), (3.0, 4, 8.0), surveyed=(2,))
    assert stand.kept.tolist() == [True, True, True, True, False]
    assert [finding.code for finding in found] == ["row-left-out", "hole-bridged"]
    assert found[1].message.startswith("1 row runs over holes in the ground wider than elevation.bridge_m = 5 m")
    assert found[1].message.endswith("to run straight from post to post: B01-R003.")
    # Its hole is too wide to be bridged all the same: between the posts the ground is taken to run straight.
    assert len(stand.ground.bridged) == 0


# Of the truth tests: where posts stand in their holes, and how often.
PLACES = np.arange(-40.0, 41.0, 16.0)
OFFSETS = np.linspace(-57.6, 57.6, 49)


def posts_at(stand: Standing, row: IntArray, station: FloatArray) -> Posts:
    place, ground = stand.ground.stand(row, station)
    ids = words(f"P{number}" for number in range(len(row)))
    return Posts(stand.rows, row, ids, station, place, ground, station, np.zeros(len(row)))


@pytest.mark.parametrize("in_a_hole", [True, False])
def test_bridges_are_told_with_the_posts_on_them(in_a_hole: bool) -> None:  # noqa: FBT001
    """Two in one row and one in another; on a plane a post there is as sure as any other, 0.03 m."""
    stand, _ = standing((3.0, 2, 5.0), (20.0, 2, 2.0), (-10.0, 4, 1.0))
    row, station = np.repeat(np.arange(5), 2), np.tile([0.0, 96.0], 5)
    if in_a_hole:
        row, station = np.insert(row, 5, 2), np.insert(station, 5, 51.0)
    notes, elevation = Findings(), ElevationSettings(raster="-", smoothing_m=0.0)
    made = doubt_bridges(posts_at(stand, row, station), stand.ground, np.zeros(5, dtype=np.bool_), elevation, notes)
    assert made.length_m.tolist() == pytest.approx([0.0, 0.0, 7.0, 0.0, 1.0], abs=1e-6)
    (said,) = notes
    holes = r"B01-R003 at 48\.\d m, B01-R003 at 66\.\d m, B01-R005 at 37\.\d m\."
    bridged = (
        r"3 holes in the ground of 2 rows, up to 5\.0 m wide \(elevation\.bridge_m = 5 m\), bridged straight from edge"
    )
    posts = r" 1 post stands there, on ground good to 0\.03 m or better \(one sigma\): P5\." if in_a_hole else ""
    assert re.fullmatch(f"{bridged} to edge: {holes}{posts}", said.message)


def doubted(
    true: FloatArray, noise: FloatArray, width_m: float, elevation: ElevationSettings, place_m: float = 0.0
) -> tuple[FloatArray, FloatArray]:
    """Error and its claimed sigma at posts that stand in holes, so far from their middles; shape (posts,) each [m]."""
    valid = np.ones((SIDE, SIDE), dtype=np.bool_)
    for offset in OFFSETS[::3]:
        for x in PLACES:
            cut(valid, x, offset, width_m)
    everywhere = np.ones_like(valid)
    rows, notes = rows_of(OFFSETS), Findings()
    ground = ground_of(true + noise, valid, elevation.smoothing_m)
    no_survey = np.zeros(len(rows), dtype=np.bool_)
    stand = stand_on_ground(rows, ground, elevation.bridge_m, no_survey, notes)
    assert stand.kept.all()
    every = np.arange(len(rows))
    row = np.concatenate([every, every, np.repeat(every[::3], len(PLACES))])
    station = np.concatenate(
        [np.zeros(len(rows)), np.full(len(rows), 96.0), np.tile(PLACES + place_m + 48.0, len(every[::3]))]
    )
    order = np.lexsort((station, row))
    row, station = row[order], station[order]
    posts = posts_at(stand, row, station)
    made = doubt_bridges(posts, stand.ground, no_survey, elevation, notes)
    over = ~np.isnan(made.width_m)
    assert over.sum() == len(PLACES) * len(every[::3])
    assert np.isnan(made.error_m[~over]).all()
    assert [finding.code for finding in notes] == ["hole-bridged"]
    truth = RowGround(ground_of(true, everywhere, elevation.smoothing_m), rows.paths)
    error = posts.ground_m - truth.stand(row, station)[1]
    return error[over], made.error_m[over]


def field(rng: np.random.Generator, covariance: Callable[[FloatArray], FloatArray]) -> FloatArray:
    """Gaussian field on the grid with a covariance by distance, by circulant embedding.

    Source: Dietrich and Newsam, Fast and exact simulation of stationary Gaussian processes through circulant embedding
    of the covariance matrix, SIAM J. Sci. Comput. 18 (1997) 1088-1107.
    """
    lag = np.minimum(np.arange(2 * SIDE), 2 * SIDE - np.arange(2 * SIDE)) * CELL_M
    power = np.maximum(np.fft.fft2(covariance(np.hypot(lag[:, None], lag))).real, 0.0)
    white = rng.normal(size=power.shape) + 1j * rng.normal(size=power.shape)
    return np.asarray((np.fft.ifft2(np.sqrt(power) * white).real * 2 * SIDE)[:SIDE, :SIDE])


# Standard deviation and range: clods and ruts, gullies and spurs of some spans, a gentle hillside.
GROUNDS: dict[str, Callable[[FloatArray], FloatArray]] = {
    "rough": lambda d: 0.15**2 * np.exp(-d / 3.0),
    "rolling": lambda d: 0.3**2 * np.exp(-((d / 6.0) ** 2)),
    "smooth": lambda d: 0.5**2 * np.exp(-((d / 15.0) ** 2)),
}


@pytest.mark.parametrize("width", [2.0, 5.0])
@pytest.mark.parametrize("accuracy", [0.0, 0.03])
@pytest.mark.parametrize("kind", GROUNDS)
def test_bridged_heights_are_off_by_as_much_as_they_are_said_to_be(kind: str, accuracy: float, width: float) -> None:
    """Root mean square of error over sigma near 1; below where the survey's own error is all, see the next test."""
    errors, sigmas = [], []
    for seed in range(3):
        rng = np.random.default_rng(seed)
        true = SLOPE + field(rng, GROUNDS[kind])
        noise = field(rng, lambda d: accuracy**2 * np.exp(-3.0 * d / 3.0)) if accuracy else np.zeros_like(true)
        elevation = ElevationSettings(raster="-", accuracy_m=accuracy)
        for place in (0.0, 0.3 * width):
            error, sigma = doubted(true, noise, width, elevation, place)
            errors.append(error)
            sigmas.append(sigma)
    error, sigma = np.concatenate(errors), np.concatenate(sigmas)
    ratio = np.sqrt(np.mean((error / sigma) ** 2))
    survey_only = np.sqrt(np.mean(error**2)) < accuracy
    assert (0.75 if survey_only else 0.88) < ratio < 1.18
    # And no more false than a normal law allows: 95 % within two sigma.
    assert np.mean(np.abs(error) < 2.0 * sigma) > 0.90


def test_over_even_ground_a_bridge_is_as_sure_as_a_measured_height_and_no_surer() -> None:
    """On a plane only the survey errs: 0.03 m, averaged over 1 m at a range of 3 m: 0.0258 m (`height_covariance`)."""
    rng = np.random.default_rng(4)
    noise = field(rng, lambda d: 0.03**2 * np.exp(-d))
    error, sigma = doubted(SLOPE, noise, 5.0, ElevationSettings(raster="-"))
    np.testing.assert_allclose(sigma, 0.0258, atol=0.0015)
    assert 0.7 < np.sqrt(np.mean((error / sigma) ** 2)) < 1.1
    _, exact = doubted(SLOPE, 0.0 * SLOPE, 5.0, ElevationSettings(raster="-", accuracy_m=0.0))
    np.testing.assert_allclose(exact, 0.0, atol=1e-6)


def test_over_a_bend_the_miss_is_its_rise_above_the_chord() -> None:
    """A parabola of radius 50 m misses a chord of g by g^2/(8 R) amid it: 5.5 m from ground to ground give 0.0756 m.

    Source: by hand, x^2/(2 R) at half the chord.
    """
    x = (np.mgrid[0:SIDE, 0:SIDE][1] + 0.5) * CELL_M - HALF_M
    elevation = ElevationSettings(raster="-", accuracy_m=0.0, smoothing_m=0.0)
    error, sigma = doubted(300.0 + x**2 / 100.0, 0.0 * x, 5.0, elevation)
    np.testing.assert_allclose(error, 5.5**2 / 400.0, atol=0.002)
    np.testing.assert_allclose(sigma, 5.5**2 / 400.0, atol=0.002)


@pytest.mark.parametrize("share", [0.5, 0.8])
def test_on_a_random_walk_the_error_is_that_of_a_brownian_bridge(share: float) -> None:
    """Ground that walks at random along the row: the miss at share t of a hole g has the variance s^2 g t (1 - t).

    Source: variance of the Brownian bridge, W(t) - t/T W(T): t - 2 t^2/T + t^2/T = t (T - t)/T, for W(t) and W(T) have
    t in common.
    """
    per_metre, gap = 0.05**2, 9.5
    elevation = ElevationSettings(raster="-", accuracy_m=0.0, smoothing_m=0.0, bridge_m=9.0)
    sigmas = []
    for seed in range(6):
        rng = np.random.default_rng(seed)
        # Two metres walk alike, so that a row lies on one walk.
        walk = 300.0 + np.cumsum(rng.normal(0.0, np.sqrt(per_metre * CELL_M), (SIDE, SIDE)), axis=1)
        walk = np.repeat(walk[::4], 4, axis=0)
        sigmas.append(doubted(walk, 0.0 * walk, 9.0, elevation, (share - 0.5) * gap)[1])
    expected = np.sqrt(per_metre * gap * share * (1.0 - share))
    assert np.sqrt(np.mean(np.concatenate(sigmas) ** 2)) == pytest.approx(expected, rel=0.1)


def test_the_error_grows_with_the_hole() -> None:
    rng = np.random.default_rng(9)
    true = SLOPE + field(rng, GROUNDS["rolling"])
    elevation = ElevationSettings(raster="-", bridge_m=9.0)
    said = [float(doubted(true, 0.0 * true, width, elevation)[1].mean()) for width in (1.0, 2.0, 4.0, 8.0)]
    assert said == sorted(said)
    assert said[-1] > 2.0 * said[1]


def test_where_no_trial_fits_a_bridge_is_off_by_a_share_of_its_width() -> None:
    """A row of 12 m with a hole of 4 m amid: no known ground is long enough to lay the hole on."""
    rows, notes = rows_of(np.array([0.1]), half_m=6.0), Findings()
    valid = np.ones((SIDE, SIDE), dtype=np.bool_)
    cut(valid, 0.0, 0.0, 4.0)
    elevation = ElevationSettings(raster="-", accuracy_m=0.0, smoothing_m=0.0)
    stand = stand_on_ground(rows, ground_of(SLOPE, valid), 5.0, np.array([False]), notes)
    posts = posts_at(stand, np.zeros(3, dtype=np.int64), np.array([0.0, 6.0, 12.0]))
    made = doubt_bridges(posts, stand.ground, np.array([False]), elevation, notes)
    np.testing.assert_allclose(made.error_m, [np.nan, 0.03 * 4.0, np.nan], atol=1e-6)
