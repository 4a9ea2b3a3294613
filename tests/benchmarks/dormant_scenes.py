"""Made-up dormant vineyards whose posts are known: thin posts over arms and canes, seen by a survey in cells.

Widths, heights and errors are choices, of the order that such vineyards and surveys show. A post is far thinner than
what a survey can tell apart: what it sees of one is blurred (`BLUR_M`), and then averaged over a cell.
"""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter
from survey_scenes import Rows, correlated, made_ground

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

#: What a survey blurs a surface by, one sigma, by the side of its cells: choice (some pixels of its photos). [m]
BLUR_M = {0.02: 0.025, 0.05: 0.045, 0.1: 0.07}
# Parts of a cell's side in which a scene is drawn.
_PARTS = {0.02: 1, 0.05: 3, 0.1: 5}
_STATION_M = 0.05
_FINE_M = 0.02  # in which a cloud is drawn


@dataclass(frozen=True)
class Planting:
    """What stands in a vineyard; lengths in metres.

    Attributes
    ----------
    posts, thick_m, out_m, span_m
        Whether there are any; least and greatest diameter, height out of the ground, distance along the row.
    missing, lean_m
        Share of posts that are not there; how far a top leans, one sigma.
    arms_m, canes, cane_m
        Height of the arms; canes a metre of row, and mean length of one above the arms.
    heads_m
        How far a vine's head stands over the arms, every 1.1 m; 0 without.
    leaves
        Whether a full canopy stands instead.
    """

    posts: bool = True
    thick_m: tuple[float, float] = (0.08, 0.12)
    out_m: float = 1.8
    span_m: float = 5.0
    missing: float = 0.05
    lean_m: float = 0.05
    arms_m: float = 0.9
    canes: float = 3.0
    cane_m: float = 0.3
    heads_m: float = 0.0
    leaves: bool = False
    gaps: float = 0.1


#: What is reported: a name, what stands there, and what else of the scene.
PLANTINGS: dict[str, tuple[Planting, dict[str, float]]] = {
    "arms, few canes": (Planting(), {}),
    "slope 40 %, many canes": (Planting(canes=10.0, cane_m=0.5), {"slope": 0.4}),
    "noise 4 + 3 cm, posts of 8 cm": (Planting(thick_m=(0.08, 0.08)), {"noise_m": 0.04, "white_m": 0.03}),
    "leaning, one in five missing": (Planting(lean_m=0.12, missing=0.2), {}),
    "heads of vines 0.3 m over the arms": (Planting(heads_m=0.3), {}),
    "posts 0.3 m over unpruned canes": (Planting(out_m=1.7, arms_m=1.0, canes=60.0, cane_m=0.25), {}),
    "no posts": (Planting(posts=False), {}),
    "no posts, heads of vines": (Planting(posts=False, heads_m=0.3), {}),
    "in leaf, no posts": (Planting(posts=False, leaves=True), {}),
    "in leaf, posts 0.3 m over it": (Planting(leaves=True), {}),
}


@dataclass(frozen=True)
class Dormant:
    """A survey of a dormant vineyard, and its truth, arrays of shape (rows, columns), the first row in the north.

    `posts` are (x, y) of the posts' tops, shape (n, 2), `foot` of their feet, y to the north; `inside` is the block.
    """

    surface_m: FloatArray
    ground_m: FloatArray
    inside: BoolArray
    row: FloatArray
    posts: FloatArray
    foot: FloatArray
    rows: Rows
    cell_m: float


@dataclass
class _Canvas:
    """Fine cells that a scene is drawn in: what covers the ground, and where it may."""

    fine_m: float
    x: FloatArray
    y: FloatArray
    inside: BoolArray
    cover: FloatArray = field(init=False)

    def __post_init__(self) -> None:
        self.cover = np.zeros(self.x.shape)

    def cell(self, place: FloatArray) -> tuple[int, int]:
        """Row and column of a place."""
        return int((self.y[0, 0] - place[1]) / self.fine_m + 0.5), int((place[0] - self.x[0, 0]) / self.fine_m + 0.5)

    def within(self, place: FloatArray) -> bool:
        """Whether a place is in the block."""
        row, column = self.cell(place)
        return 0 <= row < self.x.shape[0] and 0 <= column < self.x.shape[1] and bool(self.inside[row, column])

    def stamp(self, place: FloatArray, radius_m: float, height_m: float) -> None:
        """Stand something round at a place."""
        row, column = self.cell(place)
        reach = int(np.ceil(radius_m / self.fine_m)) + 2
        part = np.s_[max(row - reach, 0) : row + reach + 1, max(column - reach, 0) : column + reach + 1]
        far = np.hypot(self.x[part] - place[0], self.y[part] - place[1])
        share = np.clip((radius_m - far) / self.fine_m + 0.5, 0.0, 1.0)
        self.cover[part] = np.maximum(self.cover[part], height_m * share)


def make_dormant(  # noqa: PLR0913 - what a survey can be
    planting: Planting,
    *,
    cell_m: float = 0.05,
    wide_m: float = 60.0,
    high_m: float = 50.0,
    slope: float = 0.2,
    noise_m: float = 0.03,
    white_m: float = 0.015,
    grass_m: float = 0.03,
    seed: int = 1,
) -> Dormant:
    """A scene."""
    times = _PARTS[cell_m]
    fine = cell_m / times
    drawn = _draw(planting, fine, (high_m, wide_m), slope, grass_m, seed)
    shape = drawn.ground.shape
    blurred = gaussian_filter(drawn.ground + drawn.cover, BLUR_M[cell_m] / fine)

    def joined(values: FloatArray) -> FloatArray:
        return np.asarray(values.reshape(shape[0] // times, times, shape[1] // times, times).mean(axis=(1, 3)))

    surface = joined(blurred)
    noise = correlated(surface.shape, noise_m, 1.5, cell_m, seed + 3) + drawn.rng.normal(0.0, white_m, surface.shape)
    middle = np.s_[times // 2 :: times, times // 2 :: times]
    return Dormant(
        surface + noise,
        joined(drawn.ground),
        drawn.inside[middle],
        drawn.row[middle],
        drawn.tops,
        drawn.feet,
        drawn.rows,
        cell_m,
    )


@dataclass(frozen=True)
class DormantCloud:
    """Points (x, y, z) of a dormant vineyard, shape (n, 3), and its truth: `posts` and `foot` as of a `Dormant` [m]."""

    points: FloatArray
    posts: FloatArray
    foot: FloatArray
    wide_m: float
    high_m: float


def make_cloud(  # noqa: PLR0913 - as above
    planting: Planting,
    per_m2: float,
    *,
    wide_m: float = 60.0,
    high_m: float = 50.0,
    slope: float = 0.2,
    noise_m: float = 0.02,
    white_m: float = 0.02,
    grass_m: float = 0.03,
    seed: int = 1,
) -> DormantCloud:
    """A scene as a scanner sees it from above: points at random places, each on what lies highest there.

    Each is off by `white_m` in height and place, one sigma (choice: the order of a good scanner on a drone).
    """
    drawn = _draw(planting, _FINE_M, (high_m, wide_m), slope, grass_m, seed)
    x, y = drawn.rng.uniform(0.0, [[wide_m], [high_m]], (2, round(per_m2 * wide_m * high_m)))
    cell = ((high_m - y) / _FINE_M).astype(int), (x / _FINE_M).astype(int)
    slow = correlated((round(high_m / 0.1), round(wide_m / 0.1)), noise_m, 1.5, 0.1, seed + 3)
    z = (drawn.ground + drawn.cover)[cell] + slow[
        cell[0] * round(high_m / 0.1) // drawn.ground.shape[0], (x / 0.1).astype(int)
    ]
    places = np.column_stack([x, y, z]) + drawn.rng.normal(0.0, white_m, (len(x), 3))
    return DormantCloud(places, drawn.tops, drawn.feet, wide_m, high_m)


@dataclass(frozen=True)
class _Drawn:
    """What stands where, in fine cells: ground, what covers it, and the truth."""

    ground: FloatArray
    cover: FloatArray
    inside: BoolArray
    row: FloatArray
    tops: FloatArray
    feet: FloatArray
    rows: Rows
    rng: np.random.Generator


def _draw(
    planting: Planting, fine: float, size_m: tuple[float, float], slope: float, grass_m: float, seed: int
) -> _Drawn:
    rng = np.random.default_rng(seed)
    (high_m, wide_m), rows = size_m, Rows(2.4, 62.0)
    shape = round(high_m / fine), round(wide_m / fine)
    down, right = np.indices(shape).astype(np.float64)
    x, y = (right + 0.5) * fine, high_m - (down + 0.5) * fine
    row, along = rows.place(x, y)
    inside = (x > 5.0) & (x < wide_m - 5.0) & (y > 5.0) & (y < high_m - 5.0)
    ground = made_ground(slope, seed)(x, y)
    canvas = _Canvas(fine, x, y, inside)
    gone = _draw_vines(canvas, planting, rows, (row, along), rng)
    if not planting.leaves:
        _draw_canes(canvas, planting, rows, (row, along), gone, rng)
    tops, feet = _draw_posts(canvas, planting, rows, (row, along), rng)
    grass = grass_m * np.clip(1.0 + correlated(shape, 0.4, 0.5, fine, seed + 7), 0.2, 2.5)
    return _Drawn(ground, np.maximum(canvas.cover, grass), inside, row, tops, feet, rows, rng)


def _draw_vines(
    canvas: _Canvas, planting: Planting, rows: Rows, place: tuple[FloatArray, FloatArray], rng: np.random.Generator
) -> BoolArray:
    """Arms or a canopy along all rows; return where vines are gone, [row, station]."""
    row, along = place
    number = np.round(row)
    off = (row - number) * rows.spacing_m
    cell = (number - number.min()).astype(np.int64), ((along - along.min()) / _STATION_M).astype(np.int64)
    size = int(cell[0].max()) + 1, int(cell[1].max()) + 1
    gone = np.zeros(size, dtype=bool)
    for one in gone:
        at = 0.0
        while at < size[1]:
            at += rng.exponential(600.0 * (1.0 - planting.gaps))
            length = rng.uniform(20.0, 100.0)
            one[int(at) : int(at + length)] = True
            at += length
    rough = gaussian_filter(rng.standard_normal(size), (0.0, 3.0))
    rough = (rough / rough.std())[cell]
    there = canvas.inside & ~gone[cell]
    if planting.leaves:
        half = 0.35 * (1.0 + 0.25 * rough)
        ragged = gaussian_filter(rng.standard_normal(row.shape), 0.08 / canvas.fine_m)
        high = 1.5 * (1.0 + 0.1 * rough) * (1.0 - 0.4 * (off / half) ** 2) + 0.12 * ragged / ragged.std()
        canvas.cover = np.where(there & (np.abs(off) < half), high, 0.0)
    else:
        arm = np.abs(off - 0.02 * rough) < 0.03
        canvas.cover = np.where(there & arm, planting.arms_m * (1.0 + 0.05 * rough), 0.0)
    return gone


def _lines(rows: Rows, row: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Numbers of all rows, and unit vectors along and across them."""
    turn = np.radians(rows.bearing_deg)
    numbers = np.arange(np.round(row.min()), np.round(row.max()) + 1.0)
    return numbers, np.array([np.sin(turn), np.cos(turn)]), np.array([np.cos(turn), -np.sin(turn)])


def _draw_canes(
    canvas: _Canvas,
    planting: Planting,
    rows: Rows,
    place: tuple[FloatArray, FloatArray],
    gone: BoolArray,
    rng: np.random.Generator,
) -> None:
    row, along = place
    least, most = float(along.min()), float(along.max())
    numbers, ahead, aside = _lines(rows, row)
    for which, one in enumerate(numbers):
        middle = one * rows.spacing_m * aside
        canes = rng.uniform(least, most, rng.poisson(planting.canes * (most - least)))
        heads = np.arange(least + rng.uniform(0.0, 1.1), most, 1.1) if planting.heads_m else np.zeros(0)
        for at, head in [*((at, False) for at in canes), *((at, True) for at in heads)]:
            spot = middle + at * ahead + rng.normal(0.0, 0.04, 2)
            station = min(int((at - least) / _STATION_M), gone.shape[1] - 1)
            if not canvas.within(spot) or gone[which, station]:
                continue
            if head:
                canvas.stamp(spot, 0.08, planting.arms_m + planting.heads_m * rng.uniform(0.6, 1.4))
            else:
                canvas.stamp(spot, 0.01, planting.arms_m + rng.exponential(planting.cane_m))


def _draw_posts(
    canvas: _Canvas, planting: Planting, rows: Rows, place: tuple[FloatArray, FloatArray], rng: np.random.Generator
) -> tuple[FloatArray, FloatArray]:
    """Posts, which lean; tops and feet, shape (n, 2)."""
    row, along = place
    tops, feet = [], []
    numbers, ahead, aside = _lines(rows, row)
    for one in numbers if planting.posts else ():
        middle = one * rows.spacing_m * aside
        start = float(along.min()) + rng.uniform(0.0, planting.span_m)
        for at in np.arange(start, float(along.max()), planting.span_m):
            foot = middle + (at + rng.normal(0.0, 0.05)) * ahead + rng.normal(0.0, 0.03) * aside
            top = foot + rng.normal(0.0, planting.lean_m, 2)
            if rng.random() < planting.missing or not canvas.within(foot):
                continue
            height, radius = planting.out_m + rng.normal(0.0, 0.06), rng.uniform(*planting.thick_m) / 2.0
            for part in np.linspace(0.0, 1.0, 6):
                canvas.stamp(foot + part * (top - foot), radius, part * height)
            tops.append(top)
            feet.append(foot)
    return np.array(tops).reshape(-1, 2), np.array(feet).reshape(-1, 2)
