"""The ground under the map: shaded relief, slope classes and contour lines of the user's own heights."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from contourpy import LineType, contour_generator
from shapely import LineString, get_coordinates, length, simplify

from wirerun.arrays import FloatArray
from wirerun.records import Grid
from wirerun.write.colours import rgb, slope_colours
from wirerun.write.html_map.frames import Frame, Picture, make_frames, picture, smooth, to_degrees

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
CALM_SMOOTHING_M: Final = 3.0  # of contours and slopes: what a person walks on, not clods (choice)

CONTOUR_STEPS_M: Final = (0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0)
CONTOUR_STEPS_FT: Final = (2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0, 500.0)
FOOT_M: Final = 0.3048  # the international foot, exact by definition
MOST_CONTOURS: Final = 25
SHORTEST_CONTOUR_M: Final = 12.0  # shorter ones are bumps of the survey


@dataclass(frozen=True, slots=True)
class Contour:
    """One contour line: its height [m], and longitude and latitude along it, shape (n, 2) [deg]."""

    height_m: float
    lonlat: FloatArray


@dataclass(frozen=True, slots=True)
class Backdrop:
    """All that lies under the plan. Contours come twice: at whole metres, and at whole feet for those who read feet.

    `contour_step_m` and `contour_step_ft` are the heights between two of them.
    """

    shades: tuple[Picture, ...]
    slopes: tuple[Picture, ...]
    contours: tuple[Contour, ...]
    contour_step_m: float
    contours_ft: tuple[Contour, ...] = ()
    contour_step_ft: float = 0.0


def make_backdrop(grids: tuple[Grid, ...], slope_classes_pct: Sequence[float] = ()) -> Backdrop:
    """Return the shaded relief, the slope classes and the contours of all grids; empty where no grid has a height.

    Parameters
    ----------
    grids : tuple of Grid
        The heights.
    slope_classes_pct : sequence of float
        Slopes that part the slope classes, rising. [%]
    """
    frames = make_frames(grids)
    if not frames:
        return Backdrop((), (), (), 0.0)
    calm = [smooth(frame, CALM_SMOOTHING_M) for frame in frames]
    relief = max(float(np.ptp(heights[frame.known])) for frame, heights in zip(frames, calm, strict=True))
    step, step_ft = contour_step(relief), contour_step(relief / FOOT_M, CONTOUR_STEPS_FT)

    def lines(step_m: float) -> tuple[Contour, ...]:
        return tuple(line for each in zip(frames, calm, strict=True) for line in _contours(*each, step_m))

    return Backdrop(
        tuple(shade(frame) for frame in frames),
        tuple(_slopes(*each, slope_classes_pct) for each in zip(frames, calm, strict=True)),
        lines(step),
        step,
        lines(step_ft * FOOT_M),
        step_ft,
    )


def contour_step(relief: float, steps: Sequence[float] = CONTOUR_STEPS_M) -> float:
    """Return the height between two contours that keeps their number readable for that relief, both in m or in ft."""
    return next((step for step in steps if relief / step <= MOST_CONTOURS), steps[-1])


def shade(frame: Frame, smoothing_m: float = SHADE_SMOOTHING_M) -> Picture:
    """Return the relief of one frame: pale grey, see-through where there is no height."""
    known = frame.known
    south, east = np.asarray(np.gradient(smooth(frame, smoothing_m) * RELIEF, frame.pixel_m))[:, known]
    upright = np.sqrt(1.0 + east**2 + south**2)
    lights = (_light(south, east, upright, bearing) for bearing in LIGHT_BEARINGS_DEG)
    light = max(lights, key=lambda one: round(float(one.std()), 4))
    # A hillside that faces away from the light is as pale as one that faces it: only the differences are drawn.
    grey = (MIDDLE_GREY + CONTRAST * (light - np.median(light))).clip(*GREY_RANGE)
    bands = np.stack([np.full(known.shape, 255, dtype=np.uint8), np.where(known, 255, 0).astype(np.uint8)])
    bands[0, known] = np.rint(grey / GREY_STEP) * GREY_STEP
    return picture(bands, frame.transform)


def _slopes(frame: Frame, heights: FloatArray, classes_pct: Sequence[float]) -> Picture:
    """Return the slope classes of one frame in their colours, see-through where there is no height."""
    south, east = np.gradient(heights, frame.pixel_m)
    colours = np.array([rgb(colour) for colour in slope_colours(len(classes_pct) + 1)], dtype=np.uint8)
    painted = colours.T[:, np.searchsorted(classes_pct, 100.0 * np.hypot(south, east), side="right")]
    alpha = np.where(frame.known, 255, 0).astype(np.uint8)
    return picture(np.stack([*painted, alpha]), frame.transform)


def _light(south: FloatArray, east: FloatArray, upright: FloatArray, bearing_deg: float) -> FloatArray:
    """Return the light on matt ground, 0 (none) to 1 (faces the light), from its slopes, same shape.

    `upright` is the length of the ground's normal whose vertical part is 1.

    Not stretched to the full range, unlike the usual shading of plotting libraries: level ground would turn into a
    landscape of survey noise.
    """
    bearing, height = np.radians(bearing_deg), np.radians(LIGHT_HEIGHT_DEG)
    towards_east, towards_north = np.sin(bearing) * np.cos(height), np.cos(bearing) * np.cos(height)
    lit = np.sin(height) - towards_east * east + towards_north * south
    light: FloatArray = (lit / upright).clip(0.0, 1.0)
    return light


def _contours(frame: Frame, heights: FloatArray, step: float) -> list[Contour]:
    """Return the contour lines of one frame at whole multiples of the step [m], thinned to a third of a pixel."""
    known = heights[frame.known]
    levels = np.arange(np.ceil(known.min() / step), np.floor(known.max() / step) + 1) * step
    if not levels.size or min(heights.shape) < 2:
        return []
    tracer = contour_generator(z=np.ma.masked_array(heights, ~frame.known), line_type=LineType.Separate)
    traced = [(float(level), LineString(np.asarray(piece))) for level in levels for piece in tracer.lines(float(level))]
    thin = simplify(np.array([line for _, line in traced], dtype=object), 0.35)
    long = length(thin) >= SHORTEST_CONTOUR_M / frame.pixel_m
    points, of_line = get_coordinates(thin[long], return_index=True)
    # The tracer counts from the middle of the first pixel.
    column, row = points.T + 0.5
    lonlat = np.split(
        to_degrees(np.column_stack(frame.transform * (column, row))), np.flatnonzero(np.diff(of_line)) + 1
    )
    heights_m = [level for (level, _), kept in zip(traced, long, strict=True) if kept]
    return [Contour(level, path) for level, path in zip(heights_m, lonlat, strict=False)]
