"""The ground under the map: shaded relief and contour lines of the user's own heights.

A browser stretches an image evenly in web Mercator, so the heights are warped there first. Grids that overlap share one
frame, so that no seam and no double line shows.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from affine import Affine
from contourpy import LineType, contour_generator
from numpy.typing import NDArray
from pyproj import Transformer
from rasterio.crs import CRS
from rasterio.io import MemoryFile
from rasterio.transform import array_bounds
from rasterio.warp import Resampling, calculate_default_transform, reproject, transform_bounds
from scipy.ndimage import distance_transform_edt, gaussian_filter
from shapely import LineString, box, unary_union

from pipeline.records import Grid

FloatArray = NDArray[np.float64]
Bounds = tuple[float, float, float, float]

MERCATOR: Final = "EPSG:3857"
MOST_PIXELS: Final = 1_000_000  # of all images together: what keeps the page under 2 MB
MOST_ON_A_SIDE: Final = 1_200
EARTH_RADIUS_M: Final = 6_378_137.0  # of the sphere that web Mercator is drawn from

# Light from the top half of the page: from below, many people see hills as hollows (common practice). Of these bearings
# the one that shows most of the relief is taken; the north-west, where it usually comes from, stands first.
LIGHT_BEARINGS_DEG: Final = (315.0, 330.0, 345.0, 0.0, 15.0, 30.0, 45.0, 60.0, 300.0)
LIGHT_HEIGHT_DEG: Final = 45.0
RELIEF: Final = 1.4  # heights are stretched by this before shading (choice)
MIDDLE_GREY: Final = 224.0  # pale, so that posts and wires read on top (choice)
GREY_RANGE: Final = (150.0, 250.0)
CONTRAST: Final = 190.0  # greys per unit of light (choice)
GREY_STEP: Final = 2  # half the greys, and a smaller file: the eye does not see the steps (choice)
SHADE_SMOOTHING_M: Final = 1.2  # a clod is no relief (choice)
CONTOUR_SMOOTHING_M: Final = 2.5

CONTOUR_STEPS_M: Final = (0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0)
MOST_CONTOURS: Final = 25
SHORTEST_CONTOUR_M: Final = 12.0  # shorter ones are bumps of the survey


@dataclass(frozen=True, slots=True)
class Shade:
    """A picture of relief: PNG, and its edges as (south, west, north, east) in degrees."""

    png: bytes
    edges: Bounds


@dataclass(frozen=True, slots=True)
class Contour:
    """One contour line: its height [m], and longitude and latitude along it, shape (n, 2) [deg]."""

    height_m: float
    lonlat: FloatArray


@dataclass(frozen=True, slots=True)
class Backdrop:
    """All that lies under the plan. `contour_step_m` is the height between two contours."""

    shades: tuple[Shade, ...]
    contours: tuple[Contour, ...]
    contour_step_m: float


@dataclass(frozen=True, slots=True)
class _Frame:
    """Heights [m] in web Mercator, north up, NaN where there is none; `pixel_m` is a pixel's side on the ground."""

    heights: FloatArray
    transform: Affine
    pixel_m: float


def make_backdrop(grids: tuple[Grid, ...]) -> Backdrop:
    """Return the shaded relief and the contours of all grids; empty where no grid has a height."""
    frames = _frames([grid for grid in grids if grid.valid.any()])
    frames = [frame for frame in frames if np.isfinite(frame.heights).any()]
    if not frames:
        return Backdrop((), (), 0.0)
    calm = [_smooth(frame, CONTOUR_SMOOTHING_M) for frame in frames]
    step = contour_step(max(float(np.nanmax(h) - np.nanmin(h)) for h in calm))
    contours = [line for frame, heights in zip(frames, calm, strict=True) for line in _contours(frame, heights, step)]
    return Backdrop(tuple(_shade(frame) for frame in frames), tuple(contours), step)


def contour_step(relief_m: float) -> float:
    """Return the height between two contours [m] that keeps their number readable for that relief [m]."""
    return next((step for step in CONTOUR_STEPS_M if relief_m / step <= MOST_CONTOURS), CONTOUR_STEPS_M[-1])


def _frames(grids: list[Grid]) -> list[_Frame]:
    """Warp the grids into as few frames as have no overlap, all with one pixel size."""
    if not grids:
        return []
    places = [_place(grid) for grid in grids]
    regions = _regions([edges for edges, _ in places])
    sides = np.array([(east - west, north - south) for west, south, east, north in regions])
    pixel = max(
        min(cell for _, cell in places),
        float(sides.prod(axis=1).sum() / MOST_PIXELS) ** 0.5,
        float(sides.max()) / MOST_ON_A_SIDE,
    )
    return [
        _warp(
            [grid for grid, (edges, _) in zip(grids, places, strict=True) if box(*edges).intersects(box(*region))],
            region,
            pixel,
        )
        for region in regions
    ]


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


def _warp(grids: list[Grid], region: Bounds, pixel: float) -> _Frame:
    """Return the heights of the grids on one north-up frame; where two grids have a height, the first one's."""
    west, south, east, north = region
    shape = (max(2, round((north - south) / pixel)), max(2, round((east - west) / pixel)))
    transform = Affine(pixel, 0.0, west, 0.0, -pixel, north)
    heights = np.full(shape, np.nan)
    for grid in grids:
        one = np.full(shape, np.nan)
        reproject(
            np.where(grid.valid, grid.heights_m, np.nan).astype(np.float64),
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
    return _Frame(heights, transform, ground_m)


def _smooth(frame: _Frame, over_m: float) -> FloatArray:
    """Return the heights averaged with a bell curve of that width [m]; empty cells stay empty and weigh nothing."""
    known = np.isfinite(frame.heights)
    width = max(0.7, over_m / frame.pixel_m)
    weight = gaussian_filter(known.astype(np.float64), width)
    total = gaussian_filter(np.where(known, frame.heights, 0.0), width)
    return np.where(known, total / np.where(known, weight, 1.0), np.nan)


def _shade(frame: _Frame) -> Shade:
    """Return the picture of one frame: pale grey, see-through where there is no height."""
    heights = _smooth(frame, SHADE_SMOOTHING_M)
    known = np.isfinite(heights)
    # The nearest height stands in for a missing one, or the edge of the survey would look like a cliff.
    nearest = distance_transform_edt(~known, return_distances=False, return_indices=True)
    whole = heights[tuple(nearest)]
    lights = (_light(whole, frame.pixel_m, bearing) for bearing in LIGHT_BEARINGS_DEG)
    light = max(lights, key=lambda one: round(float(one[known].std()), 4))
    # A hillside that faces away from the light is as pale as one that faces it: only the differences are drawn.
    grey = (MIDDLE_GREY + CONTRAST * (light - np.median(light[known]))).clip(*GREY_RANGE)
    grey = (np.rint(grey / GREY_STEP) * GREY_STEP).astype(np.uint8)
    rows, columns = heights.shape
    edges = array_bounds(rows, columns, frame.transform)
    west, south, east, north = _to_degrees(np.array(edges).reshape(2, 2)).ravel().tolist()
    return Shade(_png(np.where(known, grey, 255), np.where(known, 255, 0), frame.transform), (south, west, north, east))


def _light(heights: FloatArray, pixel_m: float, bearing_deg: float) -> FloatArray:
    """Return the light on matt ground, 0 (none) to 1 (faces the light), same shape as the heights [m].

    Not stretched to the full range, unlike the usual shading of plotting libraries: level ground would turn into a
    landscape of survey noise.
    """
    south, east = np.gradient(heights * RELIEF, pixel_m)
    bearing, height = np.radians(bearing_deg), np.radians(LIGHT_HEIGHT_DEG)
    towards_east, towards_north = np.sin(bearing) * np.cos(height), np.cos(bearing) * np.cos(height)
    lit = np.sin(height) - towards_east * east + towards_north * south
    light: FloatArray = (lit / np.sqrt(1.0 + east**2 + south**2)).clip(0.0, 1.0)
    return light


def _png(grey: NDArray[np.uint8], alpha: NDArray[np.uint8], transform: Affine) -> bytes:
    """Return a grey picture with transparency as PNG."""
    rows, columns = grey.shape
    with MemoryFile() as memory:
        with memory.open(
            driver="PNG", width=columns, height=rows, count=2, dtype="uint8", transform=transform, zlevel=9
        ) as image:
            image.write(np.stack([grey, alpha]).astype(np.uint8))
        return bytes(memory.read())


def _to_degrees(points: FloatArray) -> FloatArray:
    """Return longitude and latitude [deg] of web Mercator points, shape (n, 2)."""
    lon, lat = Transformer.from_crs(MERCATOR, "EPSG:4326", always_xy=True).transform(points[:, 0], points[:, 1])
    return np.column_stack([lon, lat])


def _contours(frame: _Frame, heights: FloatArray, step: float) -> list[Contour]:
    """Return the contour lines of one frame at whole multiples of the step [m], thinned to a third of a pixel."""
    levels = np.arange(np.ceil(np.nanmin(heights) / step), np.floor(np.nanmax(heights) / step) + 1) * step
    if not levels.size or min(heights.shape) < 2:
        return []
    tracer = contour_generator(z=np.ma.masked_invalid(heights), line_type=LineType.Separate)
    lines = []
    for level in levels:
        for piece in tracer.lines(float(level)):
            thin = LineString(np.asarray(piece)).simplify(0.35)
            if thin.length < SHORTEST_CONTOUR_M / frame.pixel_m:
                continue
            # The tracer counts from the middle of the first pixel.
            column, row = np.array(thin.coords).T + 0.5
            x, y = frame.transform * (column, row)
            lines.append(Contour(float(level), _to_degrees(np.column_stack([x, y]))))
    return lines
