"""Made-up vineyards whose truth is known: canopies of known shape over ground that is real or made, seen by a survey.

Widths, heights and errors are choices, of the order that surveys of vineyards show.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import distance_transform_edt, gaussian_filter

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]
_OUTLINE_M = 0.8  # from the outline to the middles of the first rows, and to the first vines


@dataclass(frozen=True)
class Rows:
    """Rows along a bearing, or on arcs about a point; every other alley may have a cover crop."""

    spacing_m: float = 2.4
    bearing_deg: float = 62.0
    radius_m: float = 0.0  # 0: straight
    canopy_m: float = 0.7
    high_m: float = 1.3
    cover_m: float = 0.0

    def place(self, x: FloatArray, y: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Rows away from the first, and metres along the row, of places [m]; y runs north."""
        if self.radius_m:
            east, north = x + 0.3 * self.radius_m, y + self.radius_m
            far = np.hypot(east, north)
            return far / self.spacing_m, far * np.arctan2(east, north)
        along = np.radians(self.bearing_deg)
        across = x * np.cos(along) - y * np.sin(along)
        return across / self.spacing_m, x * np.sin(along) + y * np.cos(along)

    def middle(self, x: FloatArray, y: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Places on the middle of the nearest row, beside places [m]."""
        row = self.place(x, y)[0]
        off = (row - np.round(row)) * self.spacing_m
        if self.radius_m:
            east, north = x + 0.3 * self.radius_m, y + self.radius_m
            share = off / np.hypot(east, north)
            return x - share * east, y - share * north
        along = np.radians(self.bearing_deg)
        return x - off * np.cos(along), y + off * np.sin(along)


@dataclass(frozen=True)
class Scene:
    """A survey and its truth, arrays of shape (rows, columns), the first row in the north.

    `floor_m` is the ground as the survey alone would give it, smoothed by 0.6 m: no filter can be better. `planted` is
    where rows stand; `row` is how far a place is from the first row, in spacings, `along_m` where along it;
    `vines` are the middles of canopies.
    """

    surface_m: FloatArray
    ground_m: FloatArray
    floor_m: FloatArray
    planted: BoolArray
    trees: BoolArray
    row: FloatArray
    along_m: FloatArray
    vines: BoolArray
    rows: Rows
    cell_m: float


def made_ground(slope: float, seed: int) -> Callable[[FloatArray, FloatArray], FloatArray]:
    """Return a hillside of a slope, with folds, a bank and bumps."""
    rng = np.random.default_rng(seed)
    turn = rng.uniform(0.0, 2.0 * np.pi)

    def height(x: FloatArray, y: FloatArray) -> FloatArray:
        z: FloatArray = 300.0 + slope * (x * np.cos(turn) + y * np.sin(turn))
        for length, rise in ((60.0, 1.5), (25.0, 0.35), (11.0, 0.08)):
            angle, start = rng.uniform(0.0, 2.0 * np.pi, 2)
            z = z + rise * np.sin(2.0 * np.pi * (x * np.cos(angle) + y * np.sin(angle)) / length + start)
        return z

    return height


def correlated(shape: tuple[int, int], sigma_m: float, range_m: float, cell_m: float, seed: int) -> FloatArray:
    """Noise that is alike over a range."""
    noise = gaussian_filter(np.random.default_rng(seed).standard_normal(shape), range_m / cell_m / 2.0, mode="wrap")
    return np.asarray(sigma_m * noise / noise.std())


def make_scene(  # noqa: PLR0913 - what a vineyard can be
    ground_of: Callable[[FloatArray, FloatArray], FloatArray],
    rows: Rows,
    *,
    wide_m: float = 100.0,
    high_m: float = 90.0,
    cell_m: float = 0.1,
    grass_m: float = 0.04,
    berm_m: float = 0.0,
    noise_m: float = 0.03,
    gaps: float = 0.1,
    trees: bool = True,
    seed: int = 1,
) -> Scene:
    """A scene."""
    rng = np.random.default_rng(seed)
    shape = round(high_m / cell_m), round(wide_m / cell_m)
    down, right = np.mgrid[0 : shape[0], 0 : shape[1]]
    x, y = (right + 0.5) * cell_m, high_m - (down + 0.5) * cell_m
    row, along = rows.place(x, y)
    number = np.round(row).astype(np.int64)
    off = (row - number) * rows.spacing_m

    def in_block(x: FloatArray, y: FloatArray, by_m: float) -> BoolArray:
        low, high = 7.0 + 0.06 * x + by_m, high_m - 8.0 - 0.04 * x - by_m
        return (x > 8.0 + by_m) & (x < wide_m - 9.0 - by_m) & (y > low) & (y < high)

    planted = in_block(x, y, 0.0)
    # No canopy is cut lengthwise by the outline: it goes round the rows.
    stand = in_block(*rows.middle(x, y), _OUTLINE_M)
    ground = ground_of(x, y) + berm_m * np.exp(-0.5 * (off / 0.35) ** 2)
    first = int(number.min())
    station = np.floor((along - along.min()) / 0.1).astype(np.int64)
    # Each row by stations of 0.1 m: gaps, width and height, and how far the canopy leans.
    size = int(number.max()) - first + 1, int(station.max()) + 1
    gone = np.zeros(size, dtype=bool)
    for one in gone:
        at = 0.0
        while at < size[1]:
            at += rng.exponential(30.0 * (1.0 - gaps) / max(gaps, 1e-9))
            length = rng.uniform(10.0, 50.0)
            one[int(at) : int(at + length)] = True
            at += length
    ragged = gaussian_filter(rng.standard_normal(size), (0.0, 4.0))
    ragged /= ragged.std()
    tall = gaussian_filter(rng.standard_normal(size), (0.0, 6.0))
    tall /= tall.std()
    cell = number - first, station
    half = 0.5 * rows.canopy_m * (1.0 + 0.25 * ragged[cell])
    inside = stand & ~gone[cell] & (np.abs(off) < half)
    vines = np.where(inside, rows.high_m * (1.0 + 0.12 * tall[cell]) * (1.0 - 0.4 * (off / half) ** 2), 0.0)
    stems = stand & ~gone[cell] & (np.abs(off) < 0.1)
    strip = np.abs(off) < 0.4
    grass = np.where(strip, 2.0, 1.0) * grass_m
    grass = grass * np.clip(1.0 + correlated(shape, 0.4, 0.5, cell_m, seed + 7), 0.2, 2.5) if grass_m else 0.0 * x
    if rows.cover_m:
        alley = np.abs(np.mod(row, 2.0) - 0.5) < 0.3
        grass = grass + np.where(alley & planted, rows.cover_m, 0.0)
    cover = np.maximum(vines, grass)
    crowns = np.zeros(shape, dtype=bool)
    if trees:
        for _ in range(5):
            cx, cy, radius = rng.uniform(0.0, wide_m), rng.choice([2.0, high_m - 2.0]), rng.uniform(2.0, 3.5)
            far = np.hypot(x - cx, y - cy)
            cover = np.maximum(
                cover, np.where(far < radius, 5.0 * np.sqrt(1.0 - np.minimum(far / radius, 1.0) ** 2), 0.0)
            )
            crowns |= far < radius + 0.3
    white = rng.normal(0.0, 0.015, shape)
    noise = correlated(shape, noise_m, 1.5, cell_m, seed + 3) + white
    surface = gaussian_filter(ground + cover, 0.06 / cell_m) + noise
    floor = ground + gaussian_filter(noise, 0.6 / cell_m)
    return Scene(surface, ground, floor, planted, crowns, row, along, stems, rows, cell_m)


def row_length_m(scene: Scene) -> float:
    """Length of all rows, each from its first vine to its last that stands clear of trees [m]."""
    seen = scene.vines & ~scene.trees
    number = np.round(scene.row[seen]).astype(np.int64)
    along = scene.along_m[seen]
    return float(sum(np.ptp(along[number == one]) for one in np.unique(number)))


def judge_ground(scene: Scene, ground_m: FloatArray, margin_m: float = 2.0) -> dict[str, float]:
    """Errors in the alleys and below the vines, and of the survey alone [m]: root mean squares and means."""
    core = distance_transform_edt(scene.planted & ~scene.trees) * scene.cell_m > margin_m
    off = np.abs(scene.row - np.round(scene.row)) * scene.rows.spacing_m
    under = off < scene.rows.canopy_m / 2.0
    parts = {"alley": core & ~under, "vines": core & under}
    said = {}
    for name, where in parts.items():
        by = (ground_m - scene.ground_m)[where]
        floor = (scene.floor_m - scene.ground_m)[where]
        said[f"{name}_rmse"], said[f"{name}_bias"] = float(np.sqrt(np.mean(by**2))), float(np.mean(by))
        said[f"{name}_floor"] = float(np.sqrt(np.mean(floor**2)))
    return said
