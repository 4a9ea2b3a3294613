"""The ground comes out from under vines, the same however the survey is cut, and never out of nothing."""

import numpy as np
import pytest
from wirerun.surface.ground_filter import (
    LEAST_SUPPORT,
    MARGIN_M,
    FilterSettings,
    find_plants,
    ground_of,
    join_cells,
    noise_of,
)
from wirerun.surface.local_plane import local_planes

from tests.unit.surface.scenes import CELL_M, vineyard

TOLD = FilterSettings(CELL_M, 1.2, 8.0)


def test_a_plane_comes_out_as_it_is() -> None:
    """However steep, and whatever cells take part, as long as they surround the place or lie on two sides of it."""
    row, column = np.indices((90, 110)).astype(float)
    plane = 300.0 + 0.06 * column - 0.02 * row
    weight = (np.random.default_rng(1).random(plane.shape) > 0.7).astype(float)
    planes = local_planes(np.where(weight > 0.0, plane, 1e4), weight, 6.0)
    np.testing.assert_allclose(planes.height_m[planes.support > 0.01], plane[planes.support > 0.01], atol=1e-7)
    assert local_planes(plane, np.zeros_like(plane), 6.0).support.max() == 0.0


def test_support_is_that_of_least_squares() -> None:
    """Against numpy's own weighted fit at one place: height, and variance relative to a full neighbourhood."""
    rng = np.random.default_rng(2)
    z, weight = rng.normal(50.0, 1.0, (61, 61)), (rng.random((61, 61)) > 0.8).astype(float)
    sigma = 4.0
    planes = local_planes(z, weight, sigma)
    row, column = np.indices(z.shape) - 30.0
    bell = np.exp(-0.5 * (row**2 + column**2) / sigma**2) * (np.maximum(abs(row), abs(column)) <= 16)
    basis = np.stack([np.ones(z.size), row.ravel(), column.ravel()], axis=1)
    normal = basis.T @ (basis * (bell * weight).ravel()[:, None])
    fit = np.linalg.solve(normal, basis.T @ (bell * weight * z).ravel())
    assert planes.height_m[30, 30] == pytest.approx(fit[0], abs=1e-9)
    assert planes.support[30, 30] == pytest.approx(1.0 / np.linalg.inv(normal)[0, 0] / bell.sum(), rel=1e-9)


def test_vines_are_taken_out() -> None:
    scene = vineyard()
    valid = np.ones(scene.surface_m.shape, dtype=bool)
    noise = noise_of(scene.surface_m, valid, TOLD)
    assert 0.005 < noise < 0.03
    made = ground_of(scene.surface_m, valid, TOLD, noise)
    off = (made.ground_m - scene.ground_m)[scene.planted]
    assert np.sqrt(np.mean(off**2)) < 0.03
    under = np.abs(scene.row - np.round(scene.row))[scene.planted] < 0.12
    assert np.sqrt(np.mean(off[under] ** 2)) < 0.035
    assert (made.reach_m > 0.0).all()


def test_low_cells_weigh_more_and_bare_ground_stays_where_it_is() -> None:
    """Normal noise on a plane: weighing the low cells more would lower it by 0.37 sigma, which is given back."""
    rng = np.random.default_rng(7)
    noise = rng.normal(0.0, 0.02, (400, 400))
    plane = 100.0 + 0.02 * np.arange(400.0)
    valid = np.ones(noise.shape, dtype=bool)
    found = noise_of(plane + noise, valid, TOLD)
    assert found == pytest.approx(0.02, rel=0.02)
    made = ground_of(plane + noise, valid, TOLD, found)
    assert np.mean((made.ground_m - plane)[50:-50, 50:-50]) == pytest.approx(0.0, abs=4e-4)
    # The weights' own fixed point, by hand: the mean is lowered until what is below it weighs as much as what is above.
    normal, low = rng.standard_normal(2_000_000), 0.0
    for _ in range(3):
        off = normal - low
        weight = np.where(off > 1.5, 0.1, np.where(off > 0.0, 0.6, 1.0))
        low = float((weight * normal).sum() / weight.sum())
    assert low == pytest.approx(-0.372, abs=0.003)


def test_grass_is_taken_off_as_it_is_told() -> None:
    scene = vineyard()
    valid = np.ones(scene.surface_m.shape, dtype=bool)
    bare, grassy = (ground_of(scene.surface_m, valid, TOLD._replace(grass_m=high), 0.015) for high in (0.0, 0.06))
    np.testing.assert_allclose(bare.ground_m - grassy.ground_m, 0.06, atol=1e-9)
    classified = ground_of(scene.surface_m, valid, TOLD._replace(grass_m=0.06, bare=True), 0.0)
    np.testing.assert_allclose(
        classified.ground_m, ground_of(scene.surface_m, valid, TOLD._replace(bare=True), 0.0).ground_m
    )


def test_vines_with_a_cover_crop_between_them() -> None:
    """Canopy, cover and canopy make one block, wider than an opening of the canopy's width alone."""
    scene = vineyard(60.0, 60.0, cover_m=0.6)
    valid = np.ones(scene.surface_m.shape, dtype=bool)
    made = ground_of(scene.surface_m, valid, TOLD, noise_of(scene.surface_m, valid, TOLD))
    off = (made.ground_m - scene.ground_m)[scene.planted]
    assert np.sqrt(np.mean(off**2)) < 0.045


@pytest.mark.parametrize("cell_m", [0.1, 0.3, 1.0])
def test_no_height_comes_out_of_nothing_at_the_survey_s_ends(cell_m: float) -> None:
    """Strewn cells of a plane far above 0: what has a height has that of the plane."""
    rng = np.random.default_rng(3)
    row, column = np.indices((100, 150)) * cell_m
    plane = 400.0 + 0.3 * column - 0.1 * row
    valid = (rng.random(plane.shape) < 0.3) & (row < 70 * cell_m) & (column > 20 * cell_m)
    told = TOLD._replace(cell_m=cell_m)
    made = ground_of(np.where(valid, plane, 0.0), valid, told, 0.001)
    there = made.reach_m > 0.0
    assert there[valid].mean() > 0.9
    assert np.abs(made.ground_m - plane)[there].max() < 0.05
    assert (made.ground_m[~there] == 0.0).all()


def test_the_cut_of_a_survey_changes_nothing() -> None:
    scene = vineyard(70.0, 75.0)
    valid = np.ones(scene.surface_m.shape, dtype=bool)
    valid[300:340, 400:430] = False
    whole = ground_of(scene.surface_m, valid, TOLD, 0.015)
    margin = round(MARGIN_M / CELL_M)
    top, left = 300 - margin, 350 - margin
    cut = slice(top, 380 + margin), slice(left, 450 + margin)
    part = ground_of(scene.surface_m[cut], valid[cut], TOLD, 0.015)
    inner = slice(300, 380), slice(350, 450)
    mine = slice(margin, margin + 80), slice(margin, margin + 100)
    np.testing.assert_allclose(part.ground_m[mine], whole.ground_m[inner], atol=2e-4)
    np.testing.assert_array_equal(part.reach_m[mine], whole.reach_m[inner])
    np.testing.assert_allclose(part.confidence[mine], whole.confidence[inner], atol=1e-6)


def test_holes_are_filled_from_the_nearest_and_marked() -> None:
    row, column = np.indices((600, 600)).astype(float)
    plane = 100.0 + 0.03 * column + 0.01 * row
    valid = np.ones(plane.shape, dtype=bool)
    valid[100:130, 100:130] = False  # 3 m
    valid[250:, 250:] = False  # beyond any reach in its middle
    made = ground_of(np.where(valid, plane, 0.0), valid, TOLD, 1e-4)
    hole = (slice(100, 130), slice(100, 130))
    np.testing.assert_allclose(made.ground_m[hole], plane[hole], atol=1e-3)
    assert made.reach_m[115, 115] in {1.2, 2.4}
    assert made.confidence[115, 115] < LEAST_SUPPORT
    assert made.reach_m[500, 500] == 0.0
    assert made.ground_m[500, 500] == 0.0
    assert made.reach_m[20, 20] == 0.5


def test_trees_and_a_shed_are_no_ground() -> None:
    scene = vineyard(60.0, 60.0)
    surface = scene.surface_m.copy()
    row, column = np.indices(surface.shape)
    tree = np.hypot(row - 300, column - 300) < 30
    shed = (abs(row - 150) < 20) & (abs(column - 420) < 25)
    surface[tree] += 4.0
    surface[shed] += 2.6
    valid = np.ones(surface.shape, dtype=bool)
    made = ground_of(surface, valid, TOLD, 0.015)
    for what in (tree, shed):
        assert made.plants[what].all()
        assert np.abs(made.ground_m - scene.ground_m)[what].max() < 0.6
        assert np.quantile(np.abs(made.ground_m - scene.ground_m)[what], 0.5) < 0.2


def test_bare_ground_has_no_plants() -> None:
    row, column = np.indices((400, 400)).astype(float)
    ground = 100.0 + 0.06 * column + 1.5 * np.sin(row / 90.0)
    valid = np.ones(ground.shape, dtype=bool)
    assert not find_plants(ground, valid, TOLD)[50:-50, 50:-50].any()


def test_cells_are_joined_to_a_low_quantile() -> None:
    heights = np.arange(16.0).reshape(4, 4)
    joined, known = join_cells(heights, np.ones((4, 4), dtype=bool), 2)
    # 20 % of the way from the least to the greatest of four: 0.6 steps up.
    expected = np.quantile(heights.reshape(2, 2, 2, 2).swapaxes(1, 2).reshape(2, 2, 4), 0.2, axis=2)
    np.testing.assert_allclose(joined, expected)
    assert known.all()
    holes = np.ones((4, 4), dtype=bool)
    holes[:2, :2] = [[False, False], [False, True]]
    assert not join_cells(heights, holes, 2)[1][0, 0]
