"""Upper convex hulls of many rows of points at once.

Every round puts a line between neighbouring hull points of each gap and takes up the point that stands
highest above it, which is always a hull point; what lies below the line is dropped for good. So the number of
rounds goes with the logarithm of the number of hull points and all gaps of all rows are worked on together.

Where many hulls of y - q x^2/2 over the same points are asked for, most points need not be looked at: one that lies
below a chord between two others at some q lies below it at every smaller one (`least_curvature`).
"""

import numpy as np

from wirerun.arrays import BoolArray, FloatArray, IntArray
from wirerun.errors import MechanicsError

# Points less than this above a line are taken to lie on it: below anything measurable, above rounding. [m]
_LEVEL_M = 1e-11
# Chords are drawn from a point over 1, 2, 4 ... points to each side, and over twice as many to one: measured.
_DOUBLINGS = 8


def neighbours(fixed: BoolArray) -> tuple[IntArray, IntArray]:
    """Index of the last fixed point up to each point and of the first from it on, shapes (n_points,).

    >>> left, right = neighbours(np.array([True, False, False, True]))
    >>> left.tolist(), right.tolist()
    ([0, 0, 0, 3], [0, 3, 3, 3])

    Parameters
    ----------
    fixed : shape (n_points,)
        Which points count; the first and the last must.

    Returns
    -------
    left, right : IntArray
        Shape (n_points,) each.
    """
    number = np.arange(fixed.size)
    left = np.maximum.accumulate(np.where(fixed, number, 0))
    right = np.minimum.accumulate(np.where(fixed, number, fixed.size)[::-1])[::-1]
    return left, right


def least_curvature(x_m: FloatArray, y_m: FloatArray, ordinal: IntArray) -> FloatArray:
    """Curvature q up to which each point is surely no corner of the hull of y - q x^2/2, shape (n_points,) [1/m].

    Twice the second divided difference over two other points of its row: at a smaller q the point lies below the chord
    between them. The greatest over some chords, so that a corner may still need a greater q. A bowl of radius 50 m
    bears no string that is bent less:

    >>> x = np.arange(-3.0, 4.0)
    >>> least_curvature(x, x**2 / 100.0, np.zeros(7, dtype=int)).round(12).tolist()
    [-inf, 0.02, 0.02, 0.02, 0.02, 0.02, -inf]

    Parameters
    ----------
    x_m : shape (n_points,), growing within a row
        Stations, row after row. [m]
    y_m : shape (n_points,)
        Heights; NaN where there is none, of which nothing follows. [m]
    ordinal : shape (n_points,)
        Row of each point.

    Returns
    -------
    FloatArray
        Shape (n_points,); -inf for the ends of a row.
    """
    least = np.full(x_m.size, -np.inf)
    slopes = {}
    for doubling in range(_DOUBLINGS):
        reach = 1 << doubling
        if reach < x_m.size:
            same = ordinal[reach:] == ordinal[:-reach]
            run = np.where(same, x_m[reach:] - x_m[:-reach], np.nan)
            slopes[reach] = (y_m[reach:] - y_m[:-reach]) / run
    for doubling in range(_DOUBLINGS):
        step = 1 << doubling
        for back, on in ((step, step), (step, 2 * step), (2 * step, step)):
            if back + on < x_m.size and {back, on} <= slopes.keys():
                bend = slopes[on][back:] - slopes[back][: x_m.size - back - on]
                inner = least[back : x_m.size - on]
                np.fmax(inner, 2.0 * bend / (x_m[back + on :] - x_m[: -back - on]), out=inner)
    return least


def _alternate(first: IntArray, second: IntArray) -> IntArray:
    """Both by turns: first[0], second[0], first[1] ..."""
    both = np.empty(2 * first.size, dtype=np.int64)
    both[::2], both[1::2] = first, second
    return both


def upper_hull(x_m: FloatArray, y_m: FloatArray, fixed: BoolArray, may: BoolArray | None = None) -> BoolArray:
    """Which points are corners of their row's upper convex hull, shape (n_points,).

    Point 1 stands above the line from 0 to 3, point 2 below that from 1 to 3:

    >>> ends = np.array([True, False, False, False, True])
    >>> upper_hull(np.arange(5.0), np.array([0.0, 1.0, 1.0, 2.0, 0.0]), ends).tolist()
    [True, True, False, True, True]

    Parameters
    ----------
    x_m : shape (n_points,), growing within a row
        Stations of the points, row after row. [m]
    y_m : shape (n_points,)
        Heights. [m]
    fixed : shape (n_points,)
        Points known to be corners, among them the first and the last of every row.
    may : shape (n_points,), optional
        Points that may be corners; all others are known to be none. Default: every point may.

    Returns
    -------
    BoolArray
        Shape (n_points,); the fixed points among them.

    Raises
    ------
    MechanicsError
        If the first or the last point of all is not fixed.

    References
    ----------
    C. B. Barber, D. P. Dobkin and H. Huhdanpaa, The Quickhull algorithm for convex hulls, ACM Trans. Math. Softw. 22
    (1996) 469-483 (not read; the entry is in CGAL's bibliography), for vertical distances and many hulls at a time.
    """
    if fixed.size and not (fixed[0] and fixed[-1]):
        message = "The first and the last point of an upper hull must be fixed."
        raise MechanicsError(message)
    corner = fixed.copy()
    post = np.flatnonzero(fixed)
    point = np.flatnonzero(~fixed if may is None else may & ~fixed)
    gap = np.searchsorted(post, point) - 1
    x, y = x_m[point], y_m[point]
    a, b = post[:-1], post[1:]  # where each gap begins and ends
    while point.size:
        # Gaps without points are done: those left are numbered anew.
        begins = np.ones(point.size, dtype=np.bool_)
        np.not_equal(gap[1:], gap[:-1], out=begins[1:])
        starts = begins.nonzero()[0]
        left = gap[starts]
        a, b, gap = a[left], b[left], begins.cumsum() - 1
        x_a, y_a = x_m[a], y_m[a]
        slope = (y_m[b] - y_a) / (x_m[b] - x_a)
        excess = y - y_a[gap] - slope[gap] * (x - x_a[gap])
        most = np.maximum.reduceat(excess, starts)
        top = ((excess == most[gap]) & (excess > _LEVEL_M)).nonzero()[0]
        if top.size == 0:
            break
        which = gap[top]
        if (which[1:] == which[:-1]).any():
            first = np.append(True, which[1:] != which[:-1])  # of equals
            top, which = top[first], which[first]
        pivot = np.full(starts.size, -1)  # before all points of a gap that has none above its line
        pivot[which] = point[top]
        corner[pivot[which]] = True
        excess[top] = -np.inf
        rest = (excess > _LEVEL_M).nonzero()[0]
        point, gap, x, y = point[rest], gap[rest], x[rest], y[rest]
        a, b = _alternate(a, pivot), _alternate(pivot, b)
        gap = 2 * gap + (point > pivot[gap])
    return corner
