"""The ground under the map: shaded relief, slope classes and contour lines of the user's own heights."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from contourpy import LineType, contour_generator
from shapely import LineString

from wirerun.arrays import FloatArray
from wirerun.records import Grid
from wirerun.write.colours import rgb, slope_colours
from wirerun.write.html_map.frames import Frame, Picture, make_frames, picture, smooth, to_degrees, without_holes

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
SLOPE_SMOOTHING_M: Final = 3.0  # a calm picture of what a person walks on, not of clods (choice)

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
    calm = [smooth(frame, CONTOUR_SMOOTHING_M) for frame in frames]
    relief = max(float(np.nanmax(h) - np.nanmin(h)) for h in calm)
    step, step_ft = contour_step(relief), contour_step(relief / FOOT_M, CONTOUR_STEPS_FT)

    def lines(step_m: float) -> tuple[Contour, ...]:
        return tuple(line for frame, h in zip(frames, calm, strict=True) for line in _contours(frame, h, step_m))

    return Backdrop(
        tuple(shade(frame) for frame in frames),
        tuple(_slopes(frame, slope_classes_pct) for frame in frames),
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
    heights = smooth(frame, smoothing_m)
    known = np.isfinite(heights)
    whole = without_holes(heights)
    lights = (_light(whole, frame.pixel_m, bearing) for bearing in LIGHT_BEARINGS_DEG)
    light = max(lights, key=lambda one: round(float(one[known].std()), 4))
    # A hillside that faces away from the light is as pale as one that faces it: only the differences are drawn.
    grey = (MIDDLE_GREY + CONTRAST * (light - np.median(light[known]))).clip(*GREY_RANGE)
    grey = (np.rint(grey / GREY_STEP) * GREY_STEP).astype(np.uint8)
    return picture(np.stack([np.where(known, grey, 255), np.where(known, 255, 0)]).astype(np.uint8), frame.transform)


def _slopes(frame: Frame, classes_pct: Sequence[float]) -> Picture:
    """Return the slope classes of one frame in their colours, see-through where there is no height."""
    heights = smooth(frame, SLOPE_SMOOTHING_M)
    south, east = np.gradient(without_holes(heights), frame.pixel_m)
    colours = np.array([rgb(colour) for colour in slope_colours(len(classes_pct) + 1)], dtype=np.uint8)
    painted = colours[np.searchsorted(classes_pct, 100.0 * np.hypot(south, east), side="right")]
    alpha = np.where(np.isfinite(heights), 255, 0).astype(np.uint8)
    return picture(np.stack([*np.moveaxis(painted, -1, 0), alpha]), frame.transform)


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


def _contours(frame: Frame, heights: FloatArray, step: float) -> list[Contour]:
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
            lines.append(Contour(float(level), to_degrees(np.column_stack([x, y]))))
    return lines
