"""Each row of a planting as a line: laid on the canopy's middle, gaps bridged, ends found."""

from typing import Final, NamedTuple

import numpy as np
from contourpy import LineType, contour_generator
from scipy.ndimage import gaussian_filter1d

from wirerun.arrays import BoolArray, FloatArray
from wirerun.surface.block_canopy import BlockCanopy
from wirerun.surface.row_waves import RowWave

# Choices by trials.
_STATION_M: Final = 0.25
_ACROSS_M: Final = 0.1
_FIRST_REACH, _REACH = 0.45, 0.3  # of the spacing: how far aside the canopy is looked for
_PASSES: Final = 3
_LOW_SHARE: Final = 0.6
_ALONG_SIGMA_M: Final = 2.0
_LEAST_MASS_M: Final = 0.12  # of canopy across, within ...
_MASS_REACH_M: Final = 0.35
# A gap is bridged up to the first length, and up to the second where vines stand beside it: a track goes through all.
_BRIDGED_M, _BRIDGED_BESIDE_M = 8.0, 15.0
_BESIDE_SHARE: Final = 0.5
_LEAST_PIECE_M: Final = 3.0
_LEAST_ROW_M: Final = 3.0
_OFF_LINE_M: Final = 0.15
# Beyond a row's end so much is looked at, and so many stations of it, a metre, have to be there.
_CUT_M: Final = 3.0
_LEAST_CUT: Final = 4
_GRID_M: Final = 1.0
#: Rows that are trusted less than this are to be looked at: choice.
DOUBTFUL: Final = 0.7
#: A row that is none, by its shape, is trusted no more than this, whatever stands on it: choice.
NO_ROW: Final = 0.5
_MOST_LOOKED_AT: Final = 2_000_000  # cells of a block that tell which rows cross it


class FoundRow(NamedTuple):
    """A row, or a piece of one.

    Attributes
    ----------
    number
        Whole number of the wave's phase: pieces of one row share it.
    cells
        The line (x, y) in cells of the canopy raster, the middle of the first cell at 0; shape (n, 2).
    length_m
        Its length. [m]
    present
        Share of it on which a canopy stands.
    on_line
        Of that, the share where the canopy's middle lies within 0.15 m of the line.
    longest_gap_m
        Longest stretch without a canopy. [m]
    cut
        Whether it ends at an end of what was seen, within the block.
    odd
        What is odd about its shape, in words; "" where nothing is.
    """

    number: int
    cells: FloatArray
    length_m: float
    present: float
    on_line: float
    longest_gap_m: float
    cut: bool = False
    odd: str = ""

    @property
    def confidence(self) -> float:
        """Return how far to trust the line, 0 to 1."""
        told = self.present * self.on_line
        return min(told, NO_ROW) if self.odd else told

    @property
    def why(self) -> str:
        """Return why it is to be looked at, in words; "" where it is not."""
        words = [
            self.odd,
            "" if self.odd or self.confidence >= DOUBTFUL else "few plants on its line",
            "ends where the survey ends, within the block" if self.cut else "",
        ]
        return "; ".join(part for part in words if part)


def trace_rows(canopy: BlockCanopy, cell_m: float, wave: RowWave) -> list[FoundRow]:
    """Rows of a block, from the first to the last across it.

    Parameters
    ----------
    canopy : BlockCanopy
        What stands in the block.
    cell_m : float
        Side of a cell. [m]
    wave : RowWave
        As `find_wave` returns it.
    """
    step = max(1, round(_GRID_M / cell_m))
    rows, columns = canopy.shape
    x, y = (np.arange(-step, count + step, step, dtype=np.float64) for count in (columns, rows))
    phase = wave.phase(*np.meshgrid(x, y))
    contours = contour_generator(x, y, phase, line_type=LineType.Separate)
    seen = canopy.seen
    at_rows, at_columns = seen.thinned(max(7, seen.count // _MOST_LOOKED_AT))
    there = wave.phase(at_columns.astype(float), at_rows.astype(float))
    found = []
    for number in range(int(np.floor(there.min())), int(np.ceil(there.max())) + 1):
        for line in contours.lines(float(number)):
            for part in _within(_stations(np.asarray(line), cell_m), canopy.inside):
                found += _row(number, _same_way(part, wave), canopy, cell_m, wave.spacing_m)
    return found


def _stations(line: FloatArray, cell_m: float) -> FloatArray:
    """Places on a line every quarter of a metre."""
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(line, axis=0).T))])
    at = np.arange(0.0, along[-1], _STATION_M / cell_m)
    return np.column_stack([np.interp(at, along, line[:, axis]) for axis in (0, 1)])


def _within(line: FloatArray, inside: BoolArray) -> list[FloatArray]:
    """Parts of a line whose stations lie in the block."""
    if len(line) < 3:
        return []
    column, row = np.round(line).astype(np.intp).T
    there = (row >= 0) & (column >= 0) & (row < inside.shape[0]) & (column < inside.shape[1])
    there[there] = inside[row[there], column[there]]
    return [line[start:stop] for start, stop in _runs(there) if (stop - start) * _STATION_M >= _LEAST_PIECE_M]


def _same_way(line: FloatArray, wave: RowWave) -> FloatArray:
    """The line in the direction of the others."""
    return line if (line[-1] - line[0]) @ np.array(wave.along) >= 0.0 else line[::-1]


def _row(number: int, line: FloatArray, canopy: BlockCanopy, cell_m: float, spacing_m: float) -> list[FoundRow]:
    """Pieces of one line, laid on the canopy."""
    step = np.gradient(line, axis=0)
    normal = np.column_stack([-step[:, 1], step[:, 0]]) / np.hypot(*step.T)[:, None]
    shift, mass, middle = np.zeros(len(line)), np.zeros(len(line)), np.zeros(len(line))
    sigma = _ALONG_SIGMA_M / _STATION_M
    for reach in (_FIRST_REACH, *[_REACH] * (_PASSES - 1)):
        aside = np.arange(-reach * spacing_m, reach * spacing_m + 1e-9, _ACROSS_M)
        places = line[:, None, :] + (shift[:, None, None] + aside[:, None]) * normal[:, None, :] / cell_m
        there, tall = canopy.sampled(places[..., 0], places[..., 1])
        # What is much lower than the row is what grows beside it; in a gap there is nothing else, and it says nothing.
        near = tall[:, np.abs(aside) <= _MASS_REACH_M + 1e-9].max(axis=1)
        high = float(np.median(near[near > 0.0])) if (near > 0.0).any() else 0.0
        low = _LOW_SHARE * high
        tall = np.maximum(tall - low, 0.0)
        total = np.where((near > low) | (reach == _FIRST_REACH), tall.sum(axis=1), 0.0)
        middle = shift + np.where(total > 0.0, tall @ aside / np.maximum(total, 1e-9), 0.0)
        mass = there[:, np.abs(aside) <= _MASS_REACH_M + 1e-9].sum(axis=1) * _ACROSS_M
        # A middle far from its neighbours' is a bush, or a weed: it counts little.
        off = middle - shift
        trusted = np.minimum(total * _ACROSS_M, 1.0) / (1.0 + (off / 0.2) ** 2) + 1e-6
        shift = gaussian_filter1d(trusted * middle, sigma, mode="nearest") / gaussian_filter1d(
            trusted, sigma, mode="nearest"
        )
    present = mass > _LEAST_MASS_M
    found = []
    laid = line + shift[:, None] * normal / cell_m
    beside = _beside(laid, normal, canopy, cell_m, spacing_m)
    for start, stop in _pieces(present, beside):
        here = present[start:stop]
        cells = laid[start:stop]
        length = float(np.hypot(*np.diff(cells, axis=0).T).sum()) * cell_m
        if length < _LEAST_ROW_M:
            continue
        close = np.abs(middle - shift)[start:stop][here] <= _OFF_LINE_M
        gaps = [b - a for a, b in _runs(~here)]
        found.append(
            FoundRow(
                number,
                cells,
                length,
                float(here.mean()),
                float(close.mean()),
                max(gaps, default=0) * _STATION_M,
                _is_cut(laid, start, stop, canopy),
            )
        )
    return found


def _is_cut(laid: FloatArray, start: int, stop: int, canopy: BlockCanopy) -> bool:
    """Whether most of what follows on a piece's first or last station, in the block, was not seen."""
    reach = round(_CUT_M / _STATION_M)
    beyond = (laid[max(0, start - reach) : start], laid[stop : stop + reach])
    return any(2 * int(canopy.unknown(*places.T).sum()) >= max(len(places), _LEAST_CUT) for places in beyond)


def _beside(line: FloatArray, normal: FloatArray, canopy: BlockCanopy, cell_m: float, spacing_m: float) -> FloatArray:
    """Whether canopy stands in the next row on the one side or the other, at each station; 0 or 1."""
    near = np.arange(-_MASS_REACH_M, _MASS_REACH_M + 1e-9, _ACROSS_M)
    aside = np.concatenate([near - spacing_m, near + spacing_m])
    places = line[:, None, :] + aside[:, None] * normal[:, None, :] / cell_m
    there = canopy.sampled(places[..., 0], places[..., 1])[0].reshape(len(line), 2, len(near))
    return np.asarray((there.sum(axis=2) * _ACROSS_M > _LEAST_MASS_M).any(axis=1), dtype=np.float64)


def _pieces(present: BoolArray, beside: FloatArray) -> list[tuple[int, int]]:
    """Runs of a row: gaps bridged up to a length, short ones dropped."""
    joined: list[list[int]] = []
    standing = [(a, b) for a, b in _runs(present)]
    for start, stop in standing:
        if joined and _bridged(beside[joined[-1][1] : start]):
            joined[-1][1] = stop
        else:
            joined.append([start, stop])
    return [(a, b) for a, b in joined if present[a:b].sum() * _STATION_M >= _LEAST_PIECE_M]


def _bridged(beside: FloatArray) -> bool:
    """Whether a gap is bridged, by what stands beside each of its stations."""
    most = _BRIDGED_BESIDE_M if beside.mean() >= _BESIDE_SHARE else _BRIDGED_M
    return bool(len(beside) * _STATION_M <= most)


def _runs(where: BoolArray) -> list[tuple[int, int]]:
    """First index and the one behind the last of each run of true values."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], where, [False]]).astype(np.int8)))
    return [(int(a), int(b)) for a, b in edges.reshape(-1, 2)]
