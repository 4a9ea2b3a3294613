"""Where the posts of a row stand: at equal spans, or on the vines."""

from typing import Final

import numpy as np

from wirerun.arrays import FloatArray, IntArray
from wirerun.geometry.places import PlaneXY
from wirerun.geometry.row_ground import RowGround
from wirerun.geometry.station import Paths, first_and_last
from wirerun.model.layout import Stations
from wirerun.settings import PostSettings

# Spans are called equal, and a span within its limit, to a millimetre: nobody stakes closer.
_TOLERANCE_M: Final = 1e-3
_MOST_ROUNDS: Final = 25
_MOST_EXTRA_SPANS: Final = 3
# A post this close to an end post is left out where the span stays within its limit.
_CROWDED_M: Final = 0.5


def place_equal(ground: RowGround, settings: PostSettings) -> Stations:
    """Posts at the fewest equal spans no longer than the limit.

    Equal means equal from ground to ground along the slope, as a tape laid from post to post measures.

    Parameters
    ----------
    ground : RowGround
        The rows' lines and ground.
    settings : PostSettings
        Longest span.
    """
    limit, length = settings.max_span_m, ground.paths.length_m
    spans = np.maximum(1, np.ceil((length - _TOLERANCE_M) / limit)).astype(np.int64)
    todo, placed = np.arange(len(spans)), []
    for extra in range(_MOST_EXTRA_SPANS + 1):
        row, station, chord = _equalise(ground, todo, spans[todo])
        over = _longest(row, chord, len(todo)) > limit + _TOLERANCE_M
        good = ~over[row] | (extra == _MOST_EXTRA_SPANS)
        placed.append((todo[row[good]], station[good]))
        total = np.bincount(row[:-1], weights=chord, minlength=len(todo))
        needed = np.ceil((total - _TOLERANCE_M) / limit).astype(np.int64)
        spans[todo] = np.where(over, np.maximum(spans[todo] + 1, needed), spans[todo])
        todo = todo[over]
        if not len(todo):
            break
    row, station = (np.concatenate(part) for part in zip(*placed, strict=True))
    order = np.argsort(row, kind="stable")
    return Stations(row[order], station[order])


def place_on_baseline(ground: RowGround, settings: PostSettings, along_m: FloatArray) -> Stations:
    """Posts at whole multiples of one distance from a line square to all rows, so that they line up across rows.

    The distance is the longest span less what the steepest span of the block takes of it; end posts stand where their
    rows end.

    Parameters
    ----------
    along_m : shape (rows,)
        How far each row's start lies beyond the baseline, along the rows. [m]
    ground, settings
        As for `place_equal`.
    """
    step = settings.max_span_m
    for _ in range(_MOST_EXTRA_SPANS):
        row, station = _marks(ground.paths, along_m, step)
        run = np.diff(station)
        chord = _chords(row, *ground.stand(row, station))
        within = np.diff(row) == 0
        stretch = float((chord[within] / run[within]).max(initial=1.0))
        if chord.max(initial=0.0) <= settings.max_span_m + _TOLERANCE_M:
            break
        step = min(step, settings.max_span_m / stretch)
    return _uncrowd(ground, Stations(row, station), settings.max_span_m)


def vine_places(ground: RowGround, settings: PostSettings, along_m: FloatArray | None = None) -> Stations:
    """Start of each row, every vine, and the far end: the places where a post may stand among vines.

    Vines stand `vine_spacing_m` apart along the slope, the first at the row's start; with a baseline they stand at
    whole multiples of it in plan instead, so that they line up across rows.
    """
    vine, paths = settings.vine_spacing_m, ground.paths
    if along_m is not None:
        return _marks(paths, along_m, vine)
    # As many vines as the row holds, measured at about their own spacing.
    row, station = _even(np.maximum(1, np.round(paths.length_m / vine)).astype(np.int64), paths.length_m)
    chord = _chords(row, *ground.stand(row, station))
    total = np.bincount(row[:-1], weights=chord, minlength=len(paths.length_m))
    gaps = np.maximum(1, np.ceil((total - _TOLERANCE_M) / vine)).astype(np.int64)
    row, station = _even(gaps, paths.length_m)
    number = np.arange(len(row)) - np.concatenate([[0], np.cumsum(gaps + 1)[:-1]])[row]
    last = number == gaps[row]
    for _ in range(_MOST_ROUNDS):
        chord = _chords(row, *ground.stand(row, station))
        moved = _move(row, station, chord, np.where(last, np.inf, number * vine), paths.length_m)
        stays = np.abs(moved - station).max() < _TOLERANCE_M / 10.0
        station = moved
        if stays:
            break
    # On rough ground a row holds fewer vines than were counted at first: those pushed on to its end are none.
    stands = last | (station < paths.length_m[row] - _TOLERANCE_M)
    return Stations(row[stands], station[stands])


def place_on_vines(ground: RowGround, places: Stations, settings: PostSettings) -> Stations:
    """Posts on every so many vines, as many as the longest span holds; the remainder goes to the far end."""
    row, station = places
    every = int(np.floor(settings.max_span_m / settings.vine_spacing_m + 1e-9))
    number = np.arange(len(row)) - first_and_last(row)[0][row]
    last = np.diff(row, append=-1) != 0
    keep = (number % every == 0) | last
    return _uncrowd(ground, Stations(row[keep], station[keep]), settings.max_span_m)


def _even(spans: IntArray, length_m: FloatArray) -> Stations:
    """Places that divide each row into equal spans in plan."""
    row = np.repeat(np.arange(len(spans)), spans + 1)
    first = np.concatenate([[0], np.cumsum(spans + 1)[:-1]])
    return Stations(row, (np.arange(len(row)) - first[row]) / spans[row] * length_m[row])


def _marks(paths: Paths, along_m: FloatArray, step_m: float) -> Stations:
    """Both ends of each row and the marks of a baseline lattice between them."""
    length = paths.length_m
    low = np.ceil((along_m + _TOLERANCE_M) / step_m).astype(np.int64)
    high = np.floor((along_m + length - _TOLERANCE_M) / step_m).astype(np.int64)
    count = np.maximum(high - low + 1, 0)
    row = np.repeat(np.arange(len(length)), count)
    number = np.arange(count.sum()) - np.repeat(np.cumsum(count) - count, count) + low[row]
    every = np.arange(len(length))
    row = np.concatenate([every, row, every])
    station = np.concatenate(
        [np.zeros(len(length)), number * step_m - along_m[row[len(length) : -len(length)]], length]
    )
    order = np.lexsort((station, row))
    return Stations(row[order], station[order])


def _uncrowd(ground: RowGround, stations: Stations, max_span_m: float) -> Stations:
    """Leave out posts crowded against an end post, where the span without them is no longer than the limit."""
    row, station = stations
    length = ground.paths.length_m[row]
    crowded = (station > 0.0) & (station < length) & ((station < _CROWDED_M) | (length - station < _CROWDED_M))
    at = np.flatnonzero(crowded)
    place, height = ground.stand(row, station)
    x, y = place.x_m, place.y_m
    rise = np.nan_to_num(height[at + 1] - height[at - 1])
    without = np.sqrt((x[at + 1] - x[at - 1]) ** 2 + (y[at + 1] - y[at - 1]) ** 2 + rise**2)
    keep = np.ones(len(row), dtype=np.bool_)
    keep[at[without <= max_span_m]] = False
    return Stations(row[keep], station[keep])


def _equalise(ground: RowGround, rows: IntArray, spans: IntArray) -> tuple[IntArray, FloatArray, FloatArray]:
    """Row, station and chord ahead of every place, moved until the chords of a row are alike to a millimetre.

    The chords are those before the last move, which is less than a tenth of that. Rows are given by their number, each
    with its spans, and come back counted from 0.
    """
    length = ground.paths.length_m[rows]
    row, station = _even(spans, length)
    share, of_row = station / length[row], rows[row]
    for _ in range(_MOST_ROUNDS):
        chord = _chords(row, *ground.stand(of_row, station))
        total = np.bincount(row[:-1], weights=chord, minlength=len(spans))
        moved = _move(row, station, chord, share * total[row], length)
        stays = np.abs(moved - station).max() < _TOLERANCE_M / 10.0
        station = moved
        if stays:
            break
    return row, station, chord


def _move(
    row: IntArray, station: FloatArray, chord: FloatArray, reach_m: FloatArray, length_m: FloatArray
) -> FloatArray:
    """Stations at which the distance from the row's start, summed from place to place, is `reach_m`."""
    # One rising axis for all rows, with a gap of 1 m between them, so that one interpolation serves all.
    axis = np.concatenate([[0.0], np.cumsum(chord)]) + row
    first, last = first_and_last(row)
    wanted = np.minimum(axis[first][row] + reach_m, axis[last][row])
    moved = np.interp(wanted, axis, station)
    moved[first], moved[last] = 0.0, length_m
    return np.asarray(moved)


def _chords(row: IntArray, place: PlaneXY, height: FloatArray) -> FloatArray:
    """Distance in space to the next place, 0 between rows; level where a height is missing. Shape (n - 1,)."""
    rise = np.nan_to_num(np.diff(height))
    chord = np.sqrt(np.diff(place.x_m) ** 2 + np.diff(place.y_m) ** 2 + rise**2)
    return np.where(np.diff(row) == 0, chord, 0.0)


def _longest(row: IntArray, chord: FloatArray, rows: int) -> FloatArray:
    longest = np.zeros(rows)
    np.maximum.at(longest, row[:-1], chord)
    return longest
