"""Lines of any shape and the places along them: station to position and heading, for many lines at once."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from wirerun.arrays import FloatArray, IntArray
from wirerun.geometry.places import PlaneXY


def first_and_last(row: IntArray) -> tuple[IntArray, IntArray]:
    """Index of the first and last entry of each row, shape (rows,); `row` is that of every entry, never falling."""
    first, last = np.ones((2, len(row)), dtype=np.bool_)
    first[1:] = last[:-1] = row[1:] != row[:-1]
    return np.flatnonzero(first), np.flatnonzero(last)


@dataclass(frozen=True)
class Paths:
    """Lines in the plane, their vertices one after another; shape (vertices,) each.

    `path` numbers the line of each vertex, 0, 1, 2 ... without gaps; `station_m` is the distance along the line from
    its first vertex. A station beyond a line's end is taken as the end.
    """

    x_m: FloatArray
    y_m: FloatArray
    path: IntArray
    station_m: FloatArray

    @classmethod
    def from_lines(cls, lines: Sequence[FloatArray]) -> "Paths":
        """Paths from vertices, one array of shape (n, 2), n >= 2, for each line [m]."""
        counts = np.array([len(line) for line in lines], dtype=np.int64)
        xy = np.concatenate(lines) if len(lines) else np.empty((0, 2))
        path = np.repeat(np.arange(len(lines)), counts)
        step = np.hypot(*np.diff(xy, axis=0, prepend=xy[:1]).T)
        reach = np.cumsum(np.where(np.diff(path, prepend=-1) != 0, 0.0, step))
        first, _ = first_and_last(path)
        return cls(xy[:, 0], xy[:, 1], path, reach - reach[first][path])

    @classmethod
    def straight(cls, start_m: FloatArray, end_m: FloatArray) -> "Paths":
        """Straight paths from start to end, shape (n, 2) each [m]."""
        return cls.from_lines(list(np.stack([start_m, end_m], axis=1)))

    @cached_property
    def first(self) -> IntArray:
        """Index of the first vertex of each line, shape (lines,)."""
        return first_and_last(self.path)[0]

    @cached_property
    def last(self) -> IntArray:
        """Index of the last vertex of each line, shape (lines,)."""
        return first_and_last(self.path)[1]

    @cached_property
    def length_m(self) -> FloatArray:
        """Length of each line, shape (lines,) [m]."""
        return self.station_m[self.last]

    @cached_property
    def is_straight(self) -> NDArray[np.bool_]:
        """Which lines have two vertices only, shape (lines,)."""
        straight: NDArray[np.bool_] = self.last - self.first == 1
        return straight

    @cached_property
    def _lap(self) -> float:
        # One rising axis for all lines: each gets a stretch of its own, longer than the longest.
        return float(self.station_m.max(initial=0.0)) + 1.0

    def only(self, kept: NDArray[np.bool_]) -> "Paths":
        """Those lines for which `kept`, shape (lines,), is true, numbered anew."""
        on = kept[self.path]
        path = (np.cumsum(kept) - 1)[self.path[on]]
        return Paths(self.x_m[on], self.y_m[on], path, self.station_m[on])

    def taken(self, order: IntArray) -> "Paths":
        """The lines in another order, numbered anew; `order` are their numbers, shape (lines,)."""
        count = (self.last - self.first + 1)[order]
        begin = np.cumsum(count) - count
        path = np.repeat(np.arange(len(order)), count)
        at = np.arange(len(path)) + (self.first[order] - begin)[path]
        return Paths(self.x_m[at], self.y_m[at], path, self.station_m[at])

    def prolonged(self, by_m: float) -> "Paths":
        """The same lines, carried on straight by `by_m` at both ends; stations count from the new start."""
        x, y, station = self.x_m.copy(), self.y_m.copy(), self.station_m + by_m
        for end, way, reach in ((self.first, -1.0, 0.0), (self.last, 1.0, self.length_m + 2.0 * by_m)):
            east, north = self.heading(self.path[end], self.station_m[end])
            x[end], y[end], station[end] = x[end] + way * by_m * east, y[end] + way * by_m * north, reach
        return Paths(x, y, self.path, station)

    def _on_axis(self, path: IntArray, station_m: FloatArray) -> FloatArray:
        return np.asarray(path * self._lap + np.clip(station_m, 0.0, self.length_m[path]))

    @property
    def vertices(self) -> PlaneXY:
        """Where the vertices lie, shape (vertices,)."""
        return PlaneXY(self.x_m, self.y_m)

    def place(self, path: IntArray, station_m: FloatArray) -> PlaneXY:
        """Places along the lines, shape of `path` and `station_m` broadcast."""
        at, axis = self._on_axis(path, station_m), self.path * self._lap + self.station_m
        return PlaneXY(np.asarray(np.interp(at, axis, self.x_m)), np.asarray(np.interp(at, axis, self.y_m)))

    def heading(self, path: IntArray, station_m: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Unit vector (east, north) along the line at places; at a bend that of the piece ahead."""
        axis = self.path * self._lap + self.station_m
        at = np.searchsorted(axis, self._on_axis(path, station_m), side="right") - 1
        at = np.minimum(at, self.last[path] - 1)
        east, north = self.x_m[at + 1] - self.x_m[at], self.y_m[at + 1] - self.y_m[at]
        length = np.hypot(east, north)
        return east / length, north / length
