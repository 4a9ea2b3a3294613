"""Make the demo estate: two invented blocks on an invented hillside.

Run ``python sample_data/encosta_nova/make.py``: it writes the blocks, the keep-out, the ground raster, a key line to
lay rows by, rows as somebody digitised them, and posts as somebody surveyed them, beside itself, with the same bytes
every time.

Shapes are drawn in a plane of their own: u runs along the rows and w to their left, both in metres from one anchor
point. Example: with rows at 62 degrees from true north, (u, w) = (100, 0) lies 100 m to the east-north-east of the
anchor and (0, 100) lies 100 m to its north-north-west.

Nothing here is symmetric, on purpose: a swapped axis, a mirrored row or a reversed line must show.
"""

import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import rasterio
from numpy.typing import NDArray
from pyproj import Proj
from rasterio.features import rasterize
from rasterio.transform import from_origin
from scipy.ndimage import binary_fill_holes, binary_opening, distance_transform_edt

FloatArray = NDArray[np.float64]
Ring = list[tuple[float, float]]

HERE = Path(__file__).resolve().parent
CRS = "EPSG:25829"
UTM = Proj(CRS)
ANCHOR_LON, ANCHOR_LAT = -7.6, 41.2
ROW_BEARING_DEG = 62.0  # clockwise from true north

CELL_M = 0.5
SURVEYED_M = 20.0  # how far beyond the blocks the survey reaches ...
RAGGED_M = 3.0  # ... give or take, for a real survey never ends on a clean line
NODATA = -9999.0
# A power of two: the low bytes of every height are then zero, and the file packs to half the size that 5 mm gives.
STEP_M = 1 / 256
SEED = 20_620

# Corners in (u, w), counter-clockwise as RFC 7946 wants outer rings. Each block has one corner that bends inwards.
UPPER: Ring = [
    (14.0, -3.0),
    (88.0, -21.0),
    (163.0, -14.0),
    (181.0, 23.0),
    (249.0, 41.0),
    (271.0, 92.0),
    (263.0, 139.0),
    (236.0, 191.0),
    (214.0, 238.0),
    (141.0, 219.0),
    (71.0, 191.0),
    (6.0, 144.0),
    (29.0, 97.0),
    (-9.0, 46.0),
]
LOWER: Ring = [
    (176.0, -24.0),
    (152.0, -73.0),
    (187.0, -137.0),
    (244.0, -163.0),
    (318.0, -151.0),
    (361.0, -96.0),
    (331.0, -58.0),
    (366.0, -17.0),
    (338.0, 31.0),
    (262.0, 28.0),
    (193.0, 7.0),
]
TANK_ROCK: Ring = [
    (196.0, 112.0),
    (207.0, 106.0),
    (221.0, 109.0),
    (224.0, 119.0),
    (213.0, 127.0),
    (199.0, 123.0),
]


@dataclass(frozen=True)
class Fold:
    """A spur (rise > 0) or a gully (rise < 0) that runs down the hill, about square to the rows.

    Its middle lies at u = at_u_m - lean * w, plus a slow bend; across it the height follows a bell curve. Its rise is
    the one at w = 0: folds start small near the hill's top and grow downhill.
    """

    at_u_m: float
    lean: float
    bend_m: float
    rise_m: float
    half_width_m: float


# The hillside. A row climbs by SLOPE x cos of the angle between the row and the line straight uphill.
SLOPE = 0.22
UPHILL_FROM_ROWS_DEG = 103.0  # to the left of the row's direction: the rows fall gently along their bearing
ANCHOR_HEIGHT_M = 353.0
FOLDS = (
    Fold(at_u_m=96.0, lean=0.30, bend_m=12.0, rise_m=-3.4, half_width_m=18.0),  # the gully
    Fold(at_u_m=185.0, lean=0.34, bend_m=-13.0, rise_m=4.2, half_width_m=32.0),  # the spur
    Fold(at_u_m=296.0, lean=0.19, bend_m=9.0, rise_m=-1.7, half_width_m=16.0),  # a lesser hollow, lower block
)
BEND_LENGTH_M = 55.0  # the bend is a sine of w over this
GROWTH_LENGTH_M = 600.0  # w at which the folds would begin
# The bench follows one contour round spur and gully: less than half the slope for some 20 m, steeper above and below.
BENCH_HEIGHT_M = 372.0
BENCH_HALF_WIDTH_M = 18.0
BENCH_FLATNESS = 0.85  # share of the slope that is gone in its middle

NOISE_M = 0.025  # one sigma
NOISE_RANGE_M = 3.0  # covariance sigma^2 exp(-3 d / range)


@dataclass(frozen=True)
class Grid:
    """A north-up raster frame in UTM: west and north edges [m], and its size in cells."""

    west_m: float
    north_m: float
    rows: int
    columns: int

    def cell_centres(self) -> tuple[FloatArray, FloatArray]:
        """Easting and northing [m] of each cell's middle, each of shape (rows, columns)."""
        east = self.west_m + CELL_M * (np.arange(self.columns) + 0.5)
        north = self.north_m - CELL_M * (np.arange(self.rows) + 0.5)
        east_2d, north_2d = np.meshgrid(east, north)
        return east_2d, north_2d


def row_direction() -> tuple[float, float]:
    """East and north parts of one metre along a row, on the UTM grid."""
    # Away from the zone's middle, grid north is not true north: here it lies 0.92 degrees clockwise of it.
    convergence_deg = UTM.get_factors(ANCHOR_LON, ANCHOR_LAT).meridian_convergence
    grid_bearing = np.radians(ROW_BEARING_DEG - convergence_deg)
    return float(np.sin(grid_bearing)), float(np.cos(grid_bearing))


def to_utm(ring: Ring) -> Ring:
    """Easting and northing [m] of points given in (u, w) [m]."""
    east_0, north_0 = UTM(ANCHOR_LON, ANCHOR_LAT)
    east, north = row_direction()
    return [(east_0 + u * east - w * north, north_0 + u * north + w * east) for u, w in ring]


def to_own_plane(east_m: FloatArray, north_m: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return (u, w) [m] of UTM points [m]: the way back from `to_utm`."""
    east_0, north_0 = UTM(ANCHOR_LON, ANCHOR_LAT)
    east, north = row_direction()
    de, dn = east_m - east_0, north_m - north_0
    return de * east + dn * north, dn * east - de * north


def ground_height(u: FloatArray, w: FloatArray) -> FloatArray:
    """Height [m] of the smooth ground, without noise; same shape as u and w [m]."""
    uphill = np.radians(UPHILL_FROM_ROWS_DEG)
    height = ANCHOR_HEIGHT_M + SLOPE * (u * np.cos(uphill) + w * np.sin(uphill))
    for fold in FOLDS:
        middle = fold.at_u_m - fold.lean * w + fold.bend_m * np.sin(w / BEND_LENGTH_M)
        rise = fold.rise_m * (1.0 - w / GROWTH_LENGTH_M)
        height = height + rise * np.exp(-0.5 * ((u - middle) / fold.half_width_m) ** 2)
    uphill_of_bench = (height - BENCH_HEIGHT_M) / SLOPE
    fading = np.exp(-0.5 * (uphill_of_bench / BENCH_HALF_WIDTH_M) ** 2)
    bench: FloatArray = height - BENCH_FLATNESS * SLOPE * uphill_of_bench * fading
    return bench


def correlated_noise(rows: int, columns: int, range_m: float, seed: int) -> FloatArray:
    """Gaussian noise with sigma 1 and covariance exp(-3 d / range), shape (rows, columns)."""
    # The filter works on a torus. A margin of two ranges keeps one edge from knowing of the other.
    margin = int(np.ceil(2 * range_m / CELL_M))
    shape = (rows + margin, columns + margin)
    steps = [np.minimum(np.arange(n), n - np.arange(n)) * CELL_M for n in shape]
    distance = np.hypot(steps[0][:, None], steps[1][None, :])
    spectrum = np.fft.fft2(np.exp(-3.0 * distance / range_m)).real.clip(min=0.0)
    white = np.random.default_rng(seed).standard_normal(shape)
    noise = np.fft.ifft2(np.sqrt(spectrum) * np.fft.fft2(white)).real
    return noise[:rows, :columns]


def frame_around(rings: list[Ring]) -> Grid:
    """Return the raster frame that holds the rings and the surveyed strip around them, on whole metres."""
    points = np.array([point for ring in rings for point in ring])
    reach = SURVEYED_M + 3 * RAGGED_M
    west, south = np.floor(points.min(axis=0) - reach)
    east, north = np.ceil(points.max(axis=0) + reach)
    return Grid(float(west), float(north), rows=int((north - south) / CELL_M), columns=int((east - west) / CELL_M))


def surveyed(rings: list[Ring], grid: Grid) -> NDArray[np.bool_]:
    """Cells that the survey reached, shape (rows, columns)."""
    shapes = [{"type": "Polygon", "coordinates": [[*ring, ring[0]]]} for ring in rings]
    transform = from_origin(grid.west_m, grid.north_m, CELL_M, CELL_M)
    inside = rasterize(shapes, out_shape=(grid.rows, grid.columns), transform=transform, all_touched=True)
    away: FloatArray = distance_transform_edt(inside == 0) * CELL_M
    ragged = RAGGED_M * correlated_noise(grid.rows, grid.columns, range_m=40.0, seed=SEED + 1).clip(-2.0, 2.0)
    # Without specks and pinholes: a survey's edge is trimmed before it is handed over.
    reached: NDArray[np.bool_] = binary_fill_holes(binary_opening(away <= SURVEYED_M + ragged, iterations=2))
    return reached


def write_ground(path: Path, rings: list[Ring]) -> None:
    """Write the ground raster: smooth ground plus noise, rounded, and nodata where no survey went."""
    grid = frame_around(rings)
    noise = NOISE_M * correlated_noise(grid.rows, grid.columns, NOISE_RANGE_M, SEED)
    height = ground_height(*to_own_plane(*grid.cell_centres())) + noise
    height = np.round(height / STEP_M) * STEP_M
    height[~surveyed(rings, grid)] = NODATA
    profile: dict[str, Any] = {
        "driver": "GTiff",
        "dtype": "float32",
        "count": 1,
        "height": grid.rows,
        "width": grid.columns,
        "crs": CRS,
        "transform": from_origin(grid.west_m, grid.north_m, CELL_M, CELL_M),
        "nodata": NODATA,
        "tiled": True,
        "blockxsize": 256,
        "blockysize": 256,
        "compress": "deflate",
        "predictor": 3,
        "zlevel": 9,
    }
    with rasterio.open(path, "w", **profile) as raster:
        raster.write(height.astype(np.float32), 1)
        raster.update_tags(AREA_OR_POINT="Area")
        raster.set_band_description(1, "ground height")
        raster.set_band_unit(1, "metre")


def feature(ring: Ring, properties: dict[str, str]) -> dict[str, Any]:
    """Return a GeoJSON feature in WGS 84, closed, to 9 decimals (a tenth of a millimetre)."""
    corners = [UTM(east, north, inverse=True) for east, north in to_utm(ring)]
    rounded = [[round(lon, 9), round(lat, 9)] for lon, lat in corners]
    geometry = {"type": "Polygon", "coordinates": [[*rounded, rounded[0]]]}
    return {"type": "Feature", "properties": properties, "geometry": geometry}


def write_geojson(path: Path, features: list[dict[str, Any]]) -> None:
    """Write a feature collection, one feature a line so that a change can be read in a diff."""
    lines = ",\n".join(json.dumps(one) for one in features)
    path.write_text(f'{{"type": "FeatureCollection", "features": [\n{lines}\n]}}\n', encoding="utf-8", newline="\n")


def line_feature(points: Ring, properties: dict[str, str]) -> dict[str, Any]:
    """Return a GeoJSON line in WGS 84, to 9 decimals."""
    places = [UTM(east, north, inverse=True) for east, north in to_utm(points)]
    coordinates = [[round(lon, 9), round(lat, 9)] for lon, lat in places]
    return {"type": "Feature", "properties": properties, "geometry": {"type": "LineString", "coordinates": coordinates}}


def key_line() -> Ring:
    """Return the bed of an old mule track, gently bent along the hillside, well beyond the blocks at both ends."""
    u = np.arange(-30.0, 520.0, 10.0)
    w = 86.0 + 17.0 * np.sin((u - 40.0) / 78.0) - 0.05 * u
    return list(zip(u.tolist(), w.tolist(), strict=True))


def digitised_rows(seed: int) -> list[Ring]:
    """Return the lower block's rows as drawn on an orthophoto: wavering, some backwards, one in two pieces."""
    rng = np.random.default_rng(seed)
    drawn: list[Ring] = []
    for number, w in enumerate(np.arange(-166.0, 36.0, 2.5)):
        u = np.arange(140.0, 390.0, 20.0)
        wander = 0.6 * np.sin(u / 90.0) + rng.normal(0.0, 0.04, u.size)
        row = list(zip(u.tolist(), (w + wander).tolist(), strict=True))
        drawn.append(row[::-1] if number % 7 == 3 else row)
        if number == 40:
            gap = (row[4][0] + 1.2, row[4][1])
            drawn[-1] = row[:5]
            drawn.append([gap, *row[5:]])
    return drawn


def surveyed_posts(rows: list[Ring], seed: int) -> list[tuple[str, float, float, float]]:
    """Return id, longitude, latitude and ground height of posts every 5.8 m or so along drawn rows."""
    rng = np.random.default_rng(seed)
    posts: list[tuple[str, float, float, float]] = []
    for number, row in enumerate(rows):
        u, w = np.transpose(sorted(row))
        at = np.arange(u[0] + rng.uniform(0.0, 5.0), u[-1], 5.8)
        at = at + rng.normal(0.0, 0.08, at.size)
        aside = np.interp(at, u, w) + rng.normal(0.0, 0.05, at.size)
        height = ground_height(at, aside) + rng.normal(0.0, 0.015, at.size)
        for place, (east, north) in enumerate(to_utm(list(zip(at.tolist(), aside.tolist(), strict=True)))):
            lon, lat = UTM(east, north, inverse=True)
            posts.append((f"{number + 1}/{place + 1}", round(lon, 9), round(lat, 9), round(float(height[place]), 3)))
    return posts


def write_posts(path: Path, posts: list[tuple[str, float, float, float]]) -> None:
    """Write surveyed posts as CSV."""
    lines = [f"{name},{lon:.9f},{lat:.9f},{height:.3f}" for name, lon, lat, height in posts]
    path.write_text("\n".join(["id,lon,lat,height", *lines]) + "\n", encoding="utf-8", newline="\n")


def main() -> None:
    """Write the files."""
    upper = feature(UPPER, {"block": "B01", "name": "Talho de Cima"})
    lower = feature(LOWER, {"block": "B02", "name": "Talho de Baixo"})
    write_geojson(HERE / "block.geojson", [upper, lower])
    write_geojson(HERE / "keep_out.geojson", [feature(TANK_ROCK, {"name": "Rock outcrop with the old water tank"})])
    write_ground(HERE / "ground.tif", [to_utm(UPPER), to_utm(LOWER)])
    write_geojson(HERE / "key_line.geojson", [line_feature(key_line(), {"name": "Old mule track"})])
    drawn = digitised_rows(SEED + 2)
    twice = [(u + 0.03, w + 0.02) for u, w in drawn[50]]  # somebody drew this one again
    named = [line_feature(row, {"drawn": str(number + 1)}) for number, row in enumerate([*drawn, twice])]
    write_geojson(HERE / "rows.geojson", named)
    write_posts(HERE / "posts.csv", surveyed_posts(drawn, SEED + 3))


if __name__ == "__main__":
    main()
