"""A small vineyard whose truth is known, for tests: straight canopies over a slope with folds."""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter

FloatArray = NDArray[np.float64]
CELL_M = 0.1


class Scene(NamedTuple):
    """What a survey saw, the ground below [m], and where the rows are."""

    surface_m: FloatArray
    ground_m: FloatArray
    row: FloatArray  # rows away from the first
    planted: NDArray[np.bool_]


def vineyard(
    high_m: float = 40.0,
    wide_m: float = 50.0,
    *,
    slope: float = 0.35,
    spacing_m: float = 2.4,
    bearing_deg: float = 62.0,
    radius_m: float = 0.0,
    cover_m: float = 0.0,
    seed: int = 5,
) -> Scene:
    rng = np.random.default_rng(seed)
    shape = round(high_m / CELL_M), round(wide_m / CELL_M)
    down, right = np.indices(shape)
    x, y = (right + 0.5) * CELL_M, high_m - (down + 0.5) * CELL_M
    ground = 200.0 + slope * x - 0.1 * y + 0.8 * np.sin(x / 7.0 + y / 11.0) + 0.1 * np.sin(x / 1.9)
    if radius_m:
        row = np.hypot(x + 5.0, y + radius_m) / spacing_m
    else:
        turn = np.radians(bearing_deg)
        row = (x * np.cos(turn) - y * np.sin(turn)) / spacing_m
    off = np.abs(row - np.round(row)) * spacing_m
    planted = (x > 4.0) & (x < wide_m - 5.0) & (y > 4.0) & (y < high_m - 3.0)
    cover = np.where(planted & (off < 0.35), 1.3 - 1.5 * off, 0.0)
    if cover_m:
        alley = np.abs(np.mod(row, 2.0) - 0.5) < 0.3
        cover = np.where(planted & alley, np.maximum(cover, cover_m), cover)
    noise = gaussian_filter(rng.standard_normal(shape), 7.0)
    surface = gaussian_filter(ground + cover, 0.6) + 0.02 * noise / noise.std() + rng.normal(0.0, 0.01, shape)
    return Scene(surface, ground, row, planted)


class Dormant(NamedTuple):
    """What a survey saw of arms and posts in cells of 0.05 m, and where the posts stand: (x, y), y to the north [m]."""

    surface_m: FloatArray
    posts: FloatArray


class Points(NamedTuple):
    """What a scanner saw of arms and posts: its points (x, y, z), which stand off the ground; and the posts [m]."""

    places: FloatArray
    off_ground: NDArray[np.bool_]
    posts: FloatArray


def dormant(*, posts: bool = True, seed: int = 3) -> Dormant:
    """Rows due east, 2.4 m apart, posts of 10 cm every 5 m over arms; 50 by 40 m."""
    rng = np.random.default_rng(seed)
    fine, times = CELL_M / 4.0, 2
    ground, cover, tops = _dormant_cover(fine, posts, rng)
    seen = gaussian_filter(ground + cover, 0.045 / fine)
    shape = cover.shape
    surface = seen.reshape(shape[0] // times, times, shape[1] // times, times).mean(axis=(1, 3))
    noise = gaussian_filter(rng.standard_normal(surface.shape), 14.0)
    surface = surface + 0.02 * noise / noise.std() + rng.normal(0.0, 0.01, surface.shape)
    return Dormant(surface, tops)


def dormant_points(per_m2: float, *, posts: bool = True, seed: int = 3) -> Points:
    """The same vineyard as points at random places, each on what lies highest there, 1.5 cm off it."""
    rng = np.random.default_rng(seed)
    fine = CELL_M / 4.0
    ground, cover, tops = _dormant_cover(fine, posts, rng)
    x, y = rng.uniform(0.0, [[50.0], [40.0]], (2, round(2000.0 * per_m2)))
    cell = ((40.0 - y) / fine).astype(int), (x / fine).astype(int)
    z = (ground + cover)[cell] + rng.normal(0.0, 0.015, len(x))
    return Points(np.column_stack([x, y, z]), cover[cell] > 0.0, tops)


def _dormant_cover(fine: float, posts: bool, rng: np.random.Generator) -> tuple[FloatArray, FloatArray, FloatArray]:  # noqa: FBT001
    """Ground, what stands on it, and the posts' places."""
    shape = round(40.0 / fine), round(50.0 / fine)
    down, right = np.indices(shape)
    x, y = (right + 0.5) * fine, 40.0 - (down + 0.5) * fine
    cover = np.zeros(shape)
    tops = []
    for number, north in enumerate(np.arange(5.0, 36.0, 2.4)):
        cover[(np.abs(y - north) < 0.035) & (x > 4.0) & (x < 46.0)] = 0.9
        for east in np.arange(4.5 + 0.7 * (number % 3), 46.0, 5.0) if posts else ():
            place = east + rng.normal(0.0, 0.04), north + rng.normal(0.0, 0.03)
            cover[np.hypot(x - place[0], y - place[1]) < 0.05] = 1.8
            tops.append(place)
    ground = 200.0 + 0.25 * x - 0.1 * y + 0.5 * np.sin(x / 9.0)
    return ground, cover, np.array(tops).reshape(-1, 2)
