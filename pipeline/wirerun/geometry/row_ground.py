"""The ground along the rows of a block, its holes bridged straight from the ground on both sides."""

from typing import NamedTuple

import numpy as np

from wirerun.arrays import FloatArray, IntArray
from wirerun.geometry.holes import Holes, find_holes
from wirerun.geometry.places import PlaneXY
from wirerun.geometry.sampling import Ground
from wirerun.geometry.station import Paths

_EastNorth = tuple[FloatArray, FloatArray]

# A place so far outside a hole still counts as in it: on the edge rounding decides whether the raster has a height.
_ON_EDGE_M = 2e-6


class MadeFrom(NamedTuple):
    """Known ground that a height is made from: distances along the row from its place [m], and shares that add to 1.

    Shape (places, 3 x averaged places) each: the averaged places themselves, then for each the near and the far edge
    of the hole that it lies in. The share is 0 where there is nothing to take.
    """

    offset_m: FloatArray
    share: FloatArray


class RowGround:
    """Heights along rows: those of the raster, and over bridged holes the straight line from edge to edge.

    Bridged is the ground itself, before it is averaged: a post whose average only touches a hole takes the rest of it
    from the raster.

    Parameters
    ----------
    ground : Ground
        The block's ground.
    paths : Paths
        The rows' lines.
    bridged : Holes, optional
        The holes to bridge, all closed, as `holes_along` finds them; none by default.
    """

    def __init__(self, ground: Ground, paths: Paths, bridged: Holes | None = None) -> None:
        self.ground = ground
        self.paths = paths
        self.bridged = Holes.none() if bridged is None else bridged
        self._reach_m = _reach(ground)
        self._line = paths.prolonged(self._reach_m)
        # One rising axis for all rows, on which the rows' own averages do not reach into one another.
        self._lap = float(self._line.length_m.max(initial=0.0)) + 1.0
        self._begins = self.bridged.path * self._lap + self.bridged.from_m

    def stand(self, row: IntArray, station_m: FloatArray) -> tuple[PlaneXY, FloatArray]:
        """Places on the rows and their averaged ground height, shape of `row`; NaN where not known [m]."""
        place = self.paths.place(row, station_m)
        return place, self.height_beside(row, station_m, place, self.paths.heading(row, station_m))

    def height_beside(self, row: IntArray, station_m: FloatArray, place: PlaneXY, heading: _EastNorth) -> FloatArray:
        """Averaged ground height at places that lie on a row or near it, NaN where not known [m].

        Parameters
        ----------
        row, station_m : shape (...)
            The row, and the station at which each place lies beside it. [m]
        place : PlaneXY, shape (...)
            The places.
        heading : two arrays that broadcast to (...)
            Direction (east, north) in which heights are averaged.
        """
        height = self.ground.height_along(place, heading)
        lost = np.isnan(height)
        if not lost.any():
            return height
        offset = self.ground.offsets_m
        x, y, east, north, at = (
            np.broadcast_to(part, height.shape)[lost][:, None] for part in (place.x_m, place.y_m, *heading, station_m)
        )
        of_row, at = np.broadcast_to(row, height.shape)[lost][:, None], np.asarray(at + offset)
        raw = self.ground.height(PlaneXY(x + offset * east, y + offset * north))
        height[lost] = np.where(np.isnan(raw), self._on_row(of_row, at), raw).mean(axis=-1)
        return height

    @property
    def bridged_length_m(self) -> FloatArray:
        """Length of the bridged holes of each row, shape (rows,) [m]."""
        holes = self.bridged
        length = np.bincount(holes.path, weights=holes.width_m, minlength=len(self.paths.length_m))
        return np.asarray(length, dtype=np.float64)

    def bridged_m(self, row: IntArray, station_m: FloatArray) -> FloatArray:
        """Width of the widest hole bridged for the height of each place on the rows, NaN where none was [m]."""
        width = np.append(self.bridged.width_m, np.nan)
        return np.asarray(np.fmax.reduce(width[self._hole(row, station_m)], axis=-1))

    def made_from(self, row: IntArray, station_m: FloatArray) -> MadeFrom:
        """What the height of each place is made from: the raster there, and the edges of bridged holes."""
        offset = np.broadcast_to(self.ground.offsets_m, (len(row), len(self.ground.offsets_m)))
        hole = self._hole(row, station_m)
        begin, end = (
            np.append(edge, np.nan)[hole] - station_m[:, None] for edge in (self.bridged.from_m, self.bridged.to_m)
        )
        over = hole >= 0
        far = np.where(over, (offset - begin) / (end - begin), 0.0).clip(0.0, 1.0)
        shares = np.concatenate([~over, over * (1.0 - far), far], axis=1) / offset.shape[1]
        offsets = np.concatenate([offset, np.where(over, begin, 0.0), np.where(over, end, 0.0)], axis=1)
        return MadeFrom(offsets, shares)

    def _hole(self, row: IntArray, station_m: FloatArray) -> IntArray:
        """Bridged hole that each averaged place of each place lies in, -1 for none; shape (places, averaged places)."""
        return self._hole_at(row[:, None], station_m[:, None] + self.ground.offsets_m)

    def _hole_at(self, row: IntArray, at_m: FloatArray) -> IntArray:
        hole = np.searchsorted(self._begins, row * self._lap + at_m + _ON_EDGE_M, side="right") - 1
        end = np.append(self.bridged.to_m, -np.inf)[hole]
        path = np.append(self.bridged.path, -1)[hole]
        return np.where((path == row) & (at_m <= end + _ON_EDGE_M), hole, -1)

    def _on_row(self, row: IntArray, at_m: FloatArray) -> FloatArray:
        """Ground at stations of the rows themselves, as it is or bridged, not averaged; NaN where not known [m].

        A place beside a curved row, half a hand off, may lie in a hole that the row itself passes by.
        """
        row = np.broadcast_to(row, at_m.shape)
        known = self.ground.height(self._line.place(row, at_m + self._reach_m))
        hole = self._hole_at(row, at_m)
        begin, end, low, high = (
            np.append(part, np.nan)[hole]
            for part in (self.bridged.from_m, self.bridged.to_m, self.bridged.from_ground_m, self.bridged.to_ground_m)
        )
        share = ((at_m - begin) / (end - begin)).clip(0.0, 1.0)
        return np.where(np.isnan(known), low + share * (high - low), known)


def holes_along(ground: Ground, paths: Paths) -> Holes:
    """All holes along rows, so far beyond their ends as the end posts' averages reach; stations from the rows' starts.

    Parameters
    ----------
    ground : Ground
        The block's ground.
    paths : Paths
        The rows' lines.
    """
    reach = _reach(ground)
    return find_holes(ground, paths.prolonged(reach)).shifted(-reach)


def _reach(ground: Ground) -> float:
    """How far from its place a height is averaged [m]."""
    return float(np.abs(ground.offsets_m).max())
