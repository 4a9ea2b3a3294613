"""Make the sample survey: an old planting as a drone saw it, vines, grass, trees and a shed included.

Run ``python sample_data/encosta_nova/make_survey.py``: it writes the surface, the outline of the planting and check
points beside itself, with the same bytes every time. Ground and frame are those of the estate (`make.py`); vines, weeds
and errors are invented, of the order that surveys of vineyards show.
"""

from pathlib import Path

import numpy as np
import rasterio
from make import (
    CRS,
    UTM,
    FloatArray,
    Ring,
    correlated_noise,
    feature,
    ground_height,
    to_own_plane,
    to_utm,
    write_geojson,
)
from rasterio.transform import from_origin
from scipy.ndimage import gaussian_filter

HERE = Path(__file__).resolve().parent
CELL_M = 0.1
NODATA = -9999.0
STEP_M = 1 / 64  # a power of two packs well; far below what the survey is off
SEED = 41_762

# The planting, in the (u, w) of make.py; rows run along u, gently bent.
PLANTED: Ring = [(206.0, -84.0), (268.0, -92.0), (281.0, -58.0), (262.0, -37.0), (215.0, -43.0)]
SURVEYED_M = 14.0
SPACING_M = 2.2
CANOPY_M, HIGH_M = 0.6, 1.35
GRASS_M = 0.04
NOISE_M, WHITE_M = 0.02, 0.012
CHECK_POINTS = 14


def main() -> None:
    """Write all files."""
    corners = np.array(to_utm(PLANTED))
    west, south = np.floor(corners.min(axis=0) - SURVEYED_M)
    east, north = np.ceil(corners.max(axis=0) + SURVEYED_M)
    shape = round((north - south) / CELL_M), round((east - west) / CELL_M)
    x = west + CELL_M * (np.arange(shape[1]) + 0.5)
    y = north - CELL_M * (np.arange(shape[0]) + 0.5)
    u, w = to_own_plane(*np.meshgrid(x, y))
    surface, ground = surveyed(u, w)
    heights = np.round(surface / STEP_M) * STEP_M
    # A hole where nothing matched: water on the track.
    heights[np.hypot(u - 212.0, (w + 33.0) * 1.6) < 2.2] = NODATA
    profile = {
        "driver": "GTiff",
        "dtype": "float32",
        "count": 1,
        "height": shape[0],
        "width": shape[1],
        "crs": CRS,
        "transform": from_origin(west, north, CELL_M, CELL_M),
        "nodata": NODATA,
        "tiled": True,
        "blockxsize": 256,
        "blockysize": 256,
        "compress": "deflate",
        "predictor": 3,
        "zlevel": 9,
    }
    with rasterio.open(HERE / "surface.tif", "w", **profile) as raster:
        raster.write(heights.astype(np.float32), 1)
        raster.update_tags(AREA_OR_POINT="Area")
        raster.set_band_description(1, "surface height")
        raster.set_band_unit(1, "metre")
    write_geojson(HERE / "planting.geojson", [feature(PLANTED, {"block": "B02-old", "name": "Old planting"})])
    write_check_points(u, w, ground)


def surveyed(u: FloatArray, w: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Heights that the survey saw, and the ground below, shape as given [m]."""
    rng = np.random.default_rng(SEED)
    ground = ground_height(u, w)
    row = (w + 60.0 + 0.9 * np.sin((u - 206.0) / 42.0)) / SPACING_M
    number = np.round(row).astype(int)
    off = (row - number) * SPACING_M
    station = ((u - u.min()) / 0.1).astype(int)
    size = int(np.ptp(number)) + 1, int(station.max()) + 1
    gone = np.zeros(size, dtype=bool)
    for one in gone:
        for at in np.cumsum(rng.exponential(220.0, 12)).astype(int):
            one[at : at + rng.integers(10, 40)] = True
    ragged, tall = (gaussian_filter(rng.standard_normal(size), (0.0, along)) for along in (4.0, 7.0))
    at = number - number.min(), station
    half = 0.5 * CANOPY_M * (1.0 + 0.25 * ragged[at] / ragged.std())
    planted = inside(u, w)
    vines = planted & ~gone[at] & (np.abs(off) < half)
    cover = np.where(vines, HIGH_M * (1.0 + 0.1 * tall[at] / tall.std()) * (1.0 - 0.4 * (off / half) ** 2), 0.0)
    clumps = 1.0 + 0.5 * gaussian_filter(rng.standard_normal(u.shape), 2.5) / 0.11
    grass = GRASS_M * np.where(np.abs(off) < 0.4, 2.0, 1.0) * np.clip(clumps, 0.1, 3.0)
    cover = np.maximum(cover, grass)
    for at_u, at_w, radius, high in ((229.0, -34.0, 2.8, 4.5), (286.0, -66.0, 3.1, 5.5), (203.0, -70.0, 2.2, 3.6)):
        far = np.hypot(u - at_u, w - at_w) / radius
        cover = np.maximum(cover, high * np.sqrt(np.clip(1.0 - far**2, 0.0, None)))
    shed = (np.abs(u - 251.0) < 2.5) & (np.abs(w + 31.0) < 1.8)
    cover = np.where(shed, 2.6, cover)
    rows, columns = u.shape
    noise = NOISE_M * correlated_noise(rows, columns, 7.0, SEED + 1) + rng.normal(0.0, WHITE_M, u.shape)
    return gaussian_filter(ground + cover, 0.6) + noise, ground


def inside(u: FloatArray, w: FloatArray) -> FloatArray:
    """Where vines stand: in the planting, three metres from its corners' lines."""
    there = np.ones(u.shape, dtype=bool)
    for (u0, w0), (u1, w1) in zip(PLANTED, [*PLANTED[1:], PLANTED[0]], strict=True):
        length = np.hypot(u1 - u0, w1 - w0)
        there &= ((u1 - u0) * (w - w0) - (w1 - w0) * (u - u0)) / length > 2.0
    return there


def write_check_points(u: FloatArray, w: FloatArray, ground: FloatArray) -> None:
    """Write points on bare ground, measured to two centimetres."""
    rng = np.random.default_rng(SEED + 2)
    lines = ["id,lon,lat,height"]
    alley = inside(u, w) & (np.abs((w + 60.0 + 0.9 * np.sin((u - 206.0) / 42.0)) / SPACING_M % 1.0 - 0.5) < 0.1)
    places = np.argwhere(alley)
    for number, (row, column) in enumerate(places[rng.choice(len(places), CHECK_POINTS, replace=False)], start=1):
        ((east, north),) = to_utm([(float(u[row, column]), float(w[row, column]))])
        lon, lat = UTM(east, north, inverse=True)
        height = ground[row, column] + rng.normal(0.0, 0.015)
        lines.append(f"K{number:02d},{lon:.9f},{lat:.9f},{height:.3f}")
    (HERE / "check_points.csv").write_text("\n".join(lines) + "\n", encoding="utf-8", newline="\n")


if __name__ == "__main__":
    main()
