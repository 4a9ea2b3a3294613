"""Heights as a browser can lie them under a map: on north-up grids in web Mercator, and pictures of such grids.

A browser stretches an image evenly in web Mercator, so heights are warped there first. Grids that overlap share one
frame, so that no seam and no double line shows.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import numpy as np
from affine import Affine
from numpy.typing import NDArray
from pyproj import Transformer
from rasterio.crs import CRS
from rasterio.io import MemoryFile
from rasterio.transform import array_bounds
from rasterio.warp import Resampling, calculate_default_transform, reproject, transform_bounds
from scipy.ndimage import distance_transform_edt, gaussian_filter
from shapely import box, unary_union

from wirerun.arrays import BoolArray, FloatArray
from wirerun.records import Grid

Bounds = tuple[float, float, float, float]

MERCATOR: Final = "EPSG:3857"
MOST_PIXELS: Final = 1_000_000  # of all images together: what keeps the page under 2 MB
MOST_ON_A_SIDE: Final = 1_200
_CELLS_A_PIXEL: Final = 2  # on a side, when many small cells are joined before they are warped (choice)
_STRIP_CELLS: Final = 4_000_000
EARTH_RADIUS_M: Final = 6_378_137.0  # of the sphere that web Mercator is drawn from


@dataclass(frozen=True, slots=True)
class Frame:
    """Heights [m] in web Mercator, north up; `pixel_m` is a pixel's side on the ground.

    Where there is no height, `known` is false and the nearest one stands: else an edge would look like a cliff.
    """

    heights: FloatArray
    known: BoolArray
    transform: Affine
    pixel_m: float


@dataclass(frozen=True, slots=True)
class _Heights:
    """Heights [m] in the raster's CRS, NaN where there is none; `transform` as a grid's."""

    heights: FloatArray
    transform: Affine
    crs_wkt: str


@dataclass(frozen=True, slots=True)
class Picture:
    """A picture of the ground: PNG, and its edges as (south, west, north, east) in degrees."""

    png: bytes
    edges: Bounds


def make_frames(grids: tuple[Grid, ...]) -> list[Frame]:
    """Heights of all grids in as few frames as have no overlap, all with one pixel size."""
    some = [grid for grid in grids if grid.valid.any()]
    if not some:
        return []
    places = [_place(grid) for grid in some]
    regions = _regions([edges for edges, _ in places])
    sides = np.array([(east - west, north - south) for west, south, east, north in regions])
    pixel = max(
        min(cell for _, cell in places),
        float(sides.prod(axis=1).sum() / MOST_PIXELS) ** 0.5,
        float(sides.max()) / MOST_ON_A_SIDE,
    )
    made = (
        _warp(
            (
                _thinned(grid, int(pixel / (_CELLS_A_PIXEL * cell)))
                for grid, (edges, cell) in zip(some, places, strict=True)
                if box(*edges).intersects(box(*region))
            ),
            region,
            pixel,
        )
        for region in regions
    )
    return [frame for frame in made if frame is not None]


def _place(grid: Grid) -> tuple[Bounds, float]:
    """Return where a grid lies in web Mercator (west, south, east, north), and its cell size there [Mercator m]."""
    rows, columns = grid.heights_m.shape
    edges = transform_bounds(CRS.from_wkt(grid.crs_wkt), MERCATOR, *_edges(grid))
    there, _, _ = calculate_default_transform(CRS.from_wkt(grid.crs_wkt), MERCATOR, columns, rows, *_edges(grid))
    return edges, float(there.a)


def _edges(grid: Grid) -> Bounds:
    """Return the rectangle round a grid in its own CRS, however its rows and columns are turned."""
    rows, columns = grid.heights_m.shape
    corners = [grid.transform * corner for corner in ((0, 0), (columns, 0), (0, rows), (columns, rows))]
    x, y = np.array(corners, dtype=np.float64).T
    return float(x.min()), float(y.min()), float(x.max()), float(y.max())


def _regions(every: list[Bounds]) -> list[Bounds]:
    """Return rectangles that cover the given ones and do not overlap, from west to east."""
    regions = [box(*edges) for edges in every]
    while True:
        joined = unary_union(regions)
        parts = [part.envelope for part in getattr(joined, "geoms", [joined])]
        if len(parts) == len(regions):
            return sorted(part.bounds for part in parts)
        regions = parts


def _thinned(grid: Grid, join: int) -> _Heights:
    """Heights of a grid, so many cells by so many made one, their mean; NaN where none of them has a height.

    Strip by strip: the heights of a large block take gigabytes.
    """
    if join < 2:
        return _Heights(np.where(grid.valid, grid.heights_m, np.nan).astype(np.float64), grid.transform, grid.crs_wkt)
    rows, columns = (size // join for size in grid.heights_m.shape)
    mean = np.empty((rows, columns))
    step = max(1, _STRIP_CELLS // (join * join * columns))
    for start in range(0, rows, step):
        strip = slice(start * join, min(rows, start + step) * join)
        known, total = (
            # First down, then across by a product: several times as fast as both at once.
            part[strip, : columns * join].reshape(-1, join, columns * join).sum(axis=1, dtype=np.float64)
            for part in (grid.valid, grid.heights_m)  # a height that is missing is 0
        )
        known, total = (part.reshape(-1, columns, join) @ np.ones(join) for part in (known, total))
        mean[start : start + step] = np.where(known > 0.0, total / np.maximum(known, 1.0), np.nan)
    return _Heights(mean, grid.transform * Affine.scale(join), grid.crs_wkt)


def _warp(grids: Iterable[_Heights], region: Bounds, pixel: float) -> Frame | None:
    """Return the heights of the grids on one north-up frame; where two grids have a height, the first one's.

    None where there is no height at all.
    """
    west, south, east, north = region
    shape = (max(2, round((north - south) / pixel)), max(2, round((east - west) / pixel)))
    transform = Affine(pixel, 0.0, west, 0.0, -pixel, north)
    heights = np.full(shape, np.nan)
    for grid in grids:
        one = np.full(shape, np.nan)
        reproject(
            grid.heights,
            one,
            src_transform=grid.transform,
            src_crs=CRS.from_wkt(grid.crs_wkt),
            src_nodata=np.nan,
            dst_transform=transform,
            dst_crs=MERCATOR,
            dst_nodata=np.nan,
            resampling=Resampling.bilinear,
        )
        heights = np.where(np.isnan(heights), one, heights)
    # Web Mercator's metres grow towards the poles: cosh(y / R) of them make one on the ground.
    ground_m = pixel / float(np.cosh((north + south) / 2 / EARTH_RADIUS_M))
    known = np.isfinite(heights)
    if not known.any():
        return None
    nearest = distance_transform_edt(~known, return_distances=False, return_indices=True)
    return Frame(heights[tuple(nearest)], known, transform, ground_m)


def smooth(frame: Frame, over_m: float) -> FloatArray:
    """Heights averaged with a bell curve of that width [m]."""
    return np.asarray(gaussian_filter(frame.heights, max(0.7, over_m / frame.pixel_m)))


def picture(bands: NDArray[np.uint8], transform: Affine) -> Picture:
    """Picture of a frame, from bands of shape (bands, rows, columns): grey or colour, the last one transparency.

    Packed at 7 of 9: a tenth larger than at 9, in a fifth of the time.
    """
    count, rows, columns = bands.shape
    with MemoryFile() as memory:
        with memory.open(
            driver="PNG", width=columns, height=rows, count=count, dtype="uint8", transform=transform, zlevel=7
        ) as image:
            image.write(bands)
        png = bytes(memory.read())
    edges = array_bounds(rows, columns, transform)
    west, south, east, north = to_degrees(np.array(edges).reshape(2, 2)).ravel().tolist()
    return Picture(png, (south, west, north, east))


@lru_cache(maxsize=1)
def _to_lonlat() -> Transformer:
    return Transformer.from_crs(MERCATOR, "EPSG:4326", always_xy=True)


def to_degrees(points: FloatArray) -> FloatArray:
    """Longitude and latitude [deg] of web Mercator points, shape (n, 2)."""
    lon, lat = _to_lonlat().transform(points[:, 0], points[:, 1])
    return np.column_stack([lon, lat])
