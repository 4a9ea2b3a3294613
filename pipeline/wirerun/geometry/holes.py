"""Holes in the ground along lines: every stretch over which the raster has no height, to its very edges."""

from collections.abc import Callable
from dataclasses import dataclass, fields, replace
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import binary_erosion

from wirerun.arrays import BoolArray, FloatArray, IntArray
from wirerun.geometry.sampling import Ground, bilinear
from wirerun.geometry.station import Paths
from wirerun.records import Grid

# Cells of a tile, by which lines far from any hole are passed over.
_TILE: Final = 16
# Ground shorter than this between two stretches without any is none: it is rounding where cells meet.
_LEAST_GROUND_M: Final = 1e-3
# So far outside a hole its edge is measured: on the edge itself rounding decides which cells take part.
_OUTSIDE_M: Final = 1e-6


@dataclass(frozen=True)
class Holes:
    """Stretches of lines without ground, shape (holes,) each, in the order of the lines and along them.

    `path` numbers the line. `from_m` and `to_m` are the stations of the last ground before the hole and the first
    after it, `from_ground_m` and `to_ground_m` its heights there; NaN where the hole reaches the line's end, and so has
    no other side.

    `width_m` is the length of the line over missing cells: eight of 0.5 m make 4 m, though 4.5 m lie between the known
    centres on both sides. A line that runs beside missing cells, less than a cell off, has no ground there either: then
    it is the length without ground less two cells, and about 0 where the line only brushes a cell.
    """

    path: IntArray
    from_m: FloatArray
    to_m: FloatArray
    from_ground_m: FloatArray
    to_ground_m: FloatArray
    width_m: FloatArray

    def __len__(self) -> int:
        return len(self.path)

    @property
    def is_closed(self) -> BoolArray:
        """Which holes have ground on both sides, shape (holes,)."""
        return np.isfinite(self.from_ground_m + self.to_ground_m)

    @classmethod
    def none(cls) -> "Holes":
        """No holes."""
        nothing = np.empty(0)
        return cls(np.empty(0, dtype=np.int64), nothing, nothing, nothing, nothing, nothing)

    def only(self, which: BoolArray | NDArray[np.intp]) -> "Holes":
        """Some of the holes, by a mask of shape (holes,), or by their numbers and in their order."""
        return Holes(*(getattr(self, column.name)[which] for column in fields(self)))

    def of_paths(self, kept: BoolArray) -> "Holes":
        """Those on the lines for which `kept`, shape (lines,), is true, the lines numbered anew."""
        mine = self.only(kept[self.path])
        return replace(mine, path=(np.cumsum(kept) - 1)[mine.path])

    def shifted(self, by_m: float) -> "Holes":
        """The same, their stations greater by so much."""
        return replace(self, from_m=self.from_m + by_m, to_m=self.to_m + by_m)


def find_holes(ground: Ground, lines: Paths) -> Holes:
    """All holes of the ground along lines.

    Between the lines that join the centres of the cells the same four cells take part in a height, so ground begins and
    ends only where a row crosses one of those: looked at piece by piece, no hole is too small to be found.

    Parameters
    ----------
    ground : Ground
        The block's ground.
    lines : Paths
        The lines.
    """
    near = _near_holes(ground, lines)
    of_stretch, station = _places(near.begin_m, near.end_m, ground.cell_m / 2.0)
    of_stretch, station = _with_bends(near, lines, of_stretch, station)
    track = _Track(of_stretch, station, *ground.cells(lines.place(near.path[of_stretch], station)))
    stretch, begin, end = _lost_pieces(track, 0.5, lambda *cells: np.isfinite(bilinear(ground.grid, *cells)))
    holes = _joined(ground, lines, near.path[stretch], begin, end)
    stretch, begin, end = _lost_pieces(track, 0.0, lambda *cells: _is_valid(ground.grid, *cells))
    missing = np.zeros(len(holes))
    which = _last_before(lines, holes.path, holes.from_m, near.path[stretch], (begin + end) / 2.0)
    np.add.at(missing, which, end - begin)
    return replace(holes, width_m=np.maximum(missing, holes.width_m))


class _Stretches(NamedTuple):
    """Stretches of lines, in order, none touching another; shape (stretches,) each."""

    path: IntArray
    begin_m: FloatArray
    end_m: FloatArray


class _Track(NamedTuple):
    """Places along stretches, half a cell apart at most, and where they lie in the grid; shape (places,) each."""

    stretch: IntArray
    station_m: FloatArray
    column: FloatArray
    row: FloatArray


def _lost_pieces(
    track: _Track, lattice: float, is_known: Callable[[FloatArray, FloatArray], BoolArray]
) -> tuple[IntArray, FloatArray, FloatArray]:
    """Stretch, begin and end of the pieces that are not known, in order; shape (pieces,) each.

    Columns and rows at whole numbers plus `lattice` part the pieces, and each piece is known or not as its middle is.
    """
    stretch, station, column, row = track
    near = np.flatnonzero(np.diff(stretch) == 0)
    # Half a cell on, a line has crossed at most one line of the lattice each way: three pieces at most.
    crossed = [_crossing(cells[near], cells[near + 1], lattice) for cells in (column, row)]
    edge = np.stack([np.zeros(len(near)), *np.sort(crossed, axis=0), np.ones(len(near))], axis=1)
    share = (edge[:, :-1] + edge[:, 1:]) / 2.0
    middle = (cells[near, None] + share * (cells[near + 1] - cells[near])[:, None] for cells in (column, row))
    lost = ~is_known(*middle) & (np.diff(edge, axis=1) > 0.0)
    at = station[near, None] + edge * (station[near + 1] - station[near])[:, None]
    return np.repeat(stretch[near], lost.sum(axis=1)), at[:, :-1][lost], at[:, 1:][lost]


def _is_valid(grid: Grid, column: FloatArray, row: FloatArray) -> BoolArray:
    """Whether the cells under places have a height; none lies off the grid."""
    rows, columns = grid.valid.shape
    inside = (column >= 0.0) & (column < columns) & (row >= 0.0) & (row < rows)
    at = (np.where(inside, part, 0.0).astype(np.int64) for part in (row, column))
    return np.asarray(inside & grid.valid[tuple(at)])


def _last_before(lines: Paths, path: IntArray, from_m: FloatArray, of_path: IntArray, at_m: FloatArray) -> IntArray:
    """Number of the last of some things along lines, in order, that begins before each place; -1 for none."""
    lap = float(lines.length_m.max(initial=0.0)) + 1.0
    return np.searchsorted(path * lap + from_m, of_path * lap + at_m, side="right") - 1


def _joined(ground: Ground, lines: Paths, path: IntArray, begin: FloatArray, end: FloatArray) -> Holes:
    """Holes from pieces without ground, in order; their width as if the lines ran beside them."""
    if not len(path):
        return Holes.none()
    apart = (begin[1:] - end[:-1] > _LEAST_GROUND_M) | (np.diff(path) != 0)
    first = np.concatenate([[True], apart])
    path, begin, end = path[first], begin[first], end[np.concatenate([apart, [True]])]
    length = lines.length_m[path]
    low = np.where(begin > _LEAST_GROUND_M, ground.height(lines.place(path, begin - _OUTSIDE_M)), np.nan)
    high = np.where(end < length - _LEAST_GROUND_M, ground.height(lines.place(path, end + _OUTSIDE_M)), np.nan)
    columns, rows = (
        np.abs(there - here)
        for here, there in zip(
            ground.cells(lines.place(path, begin)), ground.cells(lines.place(path, end)), strict=True
        )
    )
    steps = np.maximum(np.maximum(columns, rows), 2.0)  # from cell to cell, along the axis that the hole runs along
    return Holes(path, begin, end, low, high, (end - begin) * (1.0 - 2.0 / steps))


def _crossing(here: FloatArray, there: FloatArray, lattice: float) -> FloatArray:
    """Share of the way from here to there at which a line of the lattice is crossed; 1 where none is."""
    low, high = np.floor(here - lattice), np.floor(there - lattice)
    line = np.maximum(low, high) + lattice
    way = np.where(low == high, 1.0, there - here)
    return np.where(low == high, 1.0, np.clip((line - here) / way, 0.0, 1.0))


def _places(begin_m: FloatArray, end_m: FloatArray, step_m: float) -> tuple[IntArray, FloatArray]:
    """Stretch and station of places at equal steps along stretches, no further apart than given, both ends included."""
    parts = np.ceil((end_m - begin_m) / step_m).astype(np.int64) + 1
    stretch = np.repeat(np.arange(len(parts)), parts)
    number = np.arange(len(stretch)) - np.repeat(np.cumsum(parts) - parts, parts)
    return stretch, begin_m[stretch] + number / (parts[stretch] - 1) * (end_m - begin_m)[stretch]


def _with_bends(
    near: _Stretches, lines: Paths, stretch: IntArray, station_m: FloatArray
) -> tuple[IntArray, FloatArray]:
    """The same places, and the lines' own vertices within the stretches: between places a line is straight."""
    of_vertex = _last_before(lines, near.path, near.begin_m, lines.path, lines.station_m)
    within = (
        (of_vertex >= 0)
        & (np.append(near.path, -1)[of_vertex] == lines.path)
        & (lines.station_m <= np.append(near.end_m, 0.0)[of_vertex])
    )
    stretch = np.concatenate([stretch, of_vertex[within]])
    station = np.concatenate([station_m, lines.station_m[within]])
    order = np.lexsort((station, stretch))
    return stretch[order], station[order]


def _near_holes(ground: Ground, lines: Paths) -> _Stretches:
    """Stretches of lines that come near a cell without height or the edge of the grid."""
    valid = ground.grid.valid
    tall, wide = (-(-size // _TILE) for size in valid.shape)
    padded = np.zeros((tall * _TILE, wide * _TILE), dtype=np.bool_)  # what lies outside the grid counts as missing
    padded[: valid.shape[0], : valid.shape[1]] = valid
    whole = padded.reshape(tall, _TILE, wide, _TILE).all(axis=(1, 3))
    clear = binary_erosion(np.asarray(whole), np.ones((3, 3), dtype=np.bool_))
    # Half a tile apart, so that what lies between two places lies in a tile of theirs or one beside it.
    path, station = _places(np.zeros_like(lines.length_m), lines.length_m, _TILE / 2.0 * ground.cell_m)
    column, row = (np.floor(part / _TILE) for part in ground.cells(lines.place(path, station)))
    inside = (column >= 0) & (column < wide) & (row >= 0) & (row < tall)
    at = np.where(inside, row, 0).astype(np.int64), np.where(inside, column, 0).astype(np.int64)
    near = ~(inside & clear[at])
    pair = np.flatnonzero((np.diff(path) == 0) & (near[1:] | near[:-1]))
    apart = np.diff(pair) != 1
    first, last = pair[np.concatenate([[True], apart])[: len(pair)]], pair[np.concatenate([apart, [True]])[: len(pair)]]
    return _Stretches(path[first], station[first], station[last + 1])
