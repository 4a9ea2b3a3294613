"""Where on a curve beside a line another part of the line is nearer than the part the curve belongs to.

A line is moved sideways by a distance d: segments become segments, and each corner on the outside of a bend an arc.
The places on such an element that are nearer than d to one given segment are one unbroken stretch, since that segment
and everything within d of it is one shape without dents. Its two ends are written down here.

Axes belong to the element: for a segment x runs along it from its start, y square to it towards the side; for an arc
both start at the corner and belong to the segment before it, and angles count from y towards x.
"""

from typing import Final

import numpy as np

from wirerun.arrays import FloatArray

# Parts of the line this little above an element's tangent are taken to lie on it: rounding, not ground. [m]
FLAT_M: Final = 1e-9


def least_for_lines(x: FloatArray, y: FloatArray, size: FloatArray) -> FloatArray:
    """Distance below which segments cannot be nearer to moved segments than their own, infinite if never [m].

    A circle that touches the element's segment and a point at height y, a run g beside the segment's end, has radius
    (g2 + y2) / 2y: smallest at y = g. `x`, `y`: vertices in the elements' axes, shape (elements, vertices).
    """
    left, right = np.minimum(x[:, :-1], x[:, 1:]), np.maximum(x[:, :-1], x[:, 1:])
    gap = np.maximum(np.maximum(left - size, -right), 0.0)
    top, bottom = np.maximum(y[:, :-1], y[:, 1:]), np.minimum(y[:, :-1], y[:, 1:])
    height = np.clip(gap, np.maximum(bottom, FLAT_M), np.maximum(top, FLAT_M))
    return np.where(top > FLAT_M, (gap**2 + height**2) / (2.0 * height), np.inf)


def least_for_arcs(x: FloatArray, y: FloatArray, size: FloatArray) -> FloatArray:
    """Distance below which segments cannot be nearer to arcs than the arc's corner, infinite if never [m].

    A circle that touches the corner and a point q away from it, with its centre in the direction n, has radius
    |q|2 / (2 q.n). The greatest q.n over the arc is at most its greatest at the arc's ends over the cosine of half
    the arc.
    """
    step_x, step_y = np.diff(x, axis=1), np.diff(y, axis=1)
    length2 = step_x**2 + step_y**2
    part = np.clip(-(x[:, :-1] * step_x + y[:, :-1] * step_y) / length2, 0.0, 1.0)
    distance2 = (x[:, :-1] + part * step_x) ** 2 + (y[:, :-1] + part * step_y) ** 2
    height = np.maximum(y, np.cos(size) * y + np.sin(size) * x)
    top = np.maximum(height[:, :-1], height[:, 1:])
    least = distance2 * np.cos(size / 2.0) / (2.0 * np.maximum(top, FLAT_M))
    return np.where(top > FLAT_M, np.maximum(least, np.sqrt(distance2) / 2.0), np.inf)


def blocked_on_line(
    near: FloatArray, far: FloatArray, distance_m: float, reach_m: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Where moved segments are within reach of other segments: start and end, shape (p,) each [m].

    The place t is within r of a point (x, y) if (t - x)2 < r2 - (d - y)2. Over a segment, the outermost such t belong
    to its ends (cut to d - r <= y <= d + r) or to the point square to which t is exactly r away. Infinite and empty
    (start > end) where there is none.

    Parameters
    ----------
    near, far : shape (p, 2)
        Ends of the other segment in the element's axes. [m]
    distance_m : float
        How far the element is moved, d. [m]
    reach_m : shape (p,)
        What counts as near, r: the distance, or a hair more to settle a tie. [m]
    """
    step = far - near
    length = np.hypot(step[:, 0], step[:, 1])
    w = step / length[:, None]
    low, high = distance_m - reach_m, distance_m + reach_m
    with np.errstate(divide="ignore", invalid="ignore"):
        floor, ceiling = (low - near[:, 1]) / step[:, 1], (high - near[:, 1]) / step[:, 1]
        level = step[:, 1] == 0.0
        first = np.where(level, 0.0, np.clip(np.minimum(floor, ceiling), 0.0, 1.0))
        last = np.where(level, 1.0, np.clip(np.maximum(floor, ceiling), 0.0, 1.0))
        start, end = np.full(len(near), np.inf), np.full(len(near), -np.inf)
        for part in (first, last):
            x, y = (near + part[:, None] * step).T
            half = np.sqrt(np.maximum((y - low) * (high - y), 0.0))
            start, end = np.minimum(start, x - half), np.maximum(end, x + half)
        for sign in (-1.0, 1.0):
            at = near[:, 0] + ((distance_m - near[:, 1]) * w[:, 0] + sign * reach_m) / w[:, 1]
            foot = (at - near[:, 0]) * w[:, 0] + (distance_m - near[:, 1]) * w[:, 1]
            good = (foot >= 0.0) & (foot <= length)
            start, end = np.where(good, np.minimum(start, at), start), np.where(good, np.maximum(end, at), end)
    none = (first >= last) | (level & ((near[:, 1] <= low) | (near[:, 1] >= high)))
    return np.where(none, np.inf, start), np.where(none, -np.inf, end)


def blocked_on_arc(near: FloatArray, far: FloatArray, distance_m: float) -> tuple[FloatArray, FloatArray]:
    """Where arcs are nearer to segments than to their own corner: start and end, shape (p,) each [rad].

    The place at angle f from n is nearer to a point r away from the corner, in the direction g, than `distance_m` if
    |f - g| < acos(r / 2d). As for lines, the outermost belong to the segment's ends (cut to r <= 2 d) or to a point
    square to which the place is exactly d away. Angles may be a full turn off.
    """
    step = far - near
    length = np.hypot(step[:, 0], step[:, 1])
    w = step / length[:, None]
    middle = -np.sum(near * w, axis=1)
    miss2 = np.sum(near**2, axis=1) - middle**2
    half = np.sqrt(np.maximum(4.0 * distance_m**2 - miss2, 0.0))
    first, last = np.maximum(middle - half, 0.0), np.minimum(middle + half, length)
    nearest = near + np.clip(middle, first, last)[:, None] * w
    centre = np.arctan2(nearest[:, 0], nearest[:, 1])

    def off(angle: FloatArray) -> FloatArray:
        return np.asarray((angle - centre + np.pi) % (2.0 * np.pi) - np.pi)

    start, end = np.full(len(near), np.inf), np.full(len(near), -np.inf)
    for part in (first, last):
        x, y = (near + part[:, None] * w).T
        reach = np.arccos(np.minimum(np.hypot(x, y) / (2.0 * distance_m), 1.0))
        angle = off(np.arctan2(x, y))
        start, end = np.minimum(start, angle - reach), np.maximum(end, angle + reach)
    # Normal of the segment, and the corner's distance from its line.
    normal = np.arctan2(w[:, 1], -w[:, 0])
    beyond = near[:, 0] * w[:, 1] - near[:, 1] * w[:, 0]
    for sign in (-1.0, 1.0):
        cosine = beyond / distance_m + sign
        reach = np.arccos(np.clip(cosine, -1.0, 1.0))
        for angle in (normal - reach, normal + reach):
            x, y = distance_m * np.sin(angle), distance_m * np.cos(angle)
            foot = (x - near[:, 0]) * w[:, 0] + (y - near[:, 1]) * w[:, 1]
            good = (np.abs(cosine) <= 1.0) & (foot >= first) & (foot <= last)
            start = np.where(good, np.minimum(start, off(angle)), start)
            end = np.where(good, np.maximum(end, off(angle)), end)
    none = first >= last
    return np.where(none, np.inf, centre + start), np.where(none, -np.inf, centre + end)
