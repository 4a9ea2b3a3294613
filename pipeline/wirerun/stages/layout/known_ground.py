"""Which rows have ground to stand on, and how sure the bridged parts of it are.

A hole in the ground up to a set width is bridged straight along the row. A row with a wider one, or with one at its
end, cannot be planned and is left out of everything alike.
"""

from typing import Final, NamedTuple

import numpy as np

from wirerun.arrays import BoolArray, FloatArray, IntArray, TextArray, words
from wirerun.findings import Findings, name_some
from wirerun.geometry.holes import Holes
from wirerun.geometry.row_ground import RowGround, holes_along
from wirerun.geometry.sampling import Ground
from wirerun.mechanics.undulation import height_covariance
from wirerun.model.layout import Bridges, LeftOut, Posts, Rows
from wirerun.settings import ElevationSettings
from wirerun.wording import many

# A hole is no wider than the limit to a centimetre: neither rounding nor a map's scale must decide. Choice.
_TOLERANCE_M: Final = 1e-2
# Places on known ground at which each bridge is tried. Choice: how far off it is comes out to a few percent.
_TRIALS: Final = 400
# With fewer that fit, a bridge is taken to be off by this share of its hole's width, one sigma. Choice.
_LEAST_TRIALS: Final = 30
_UNTRIED_SHARE: Final = 0.03
# Shares this small are rounding of a sum.
_NO_SHARE: Final = 1e-12


class Standing(NamedTuple):
    """What `stand_on_ground` makes of the rows of a block.

    Attributes
    ----------
    rows : Rows
        Those that can be planned.
    ground : RowGround
        Their ground.
    kept : shape (given rows,)
        Which of the given rows these are.
    left_out : LeftOut
        The others.
    """

    rows: Rows
    ground: RowGround
    kept: BoolArray
    left_out: LeftOut


def stand_on_ground(rows: Rows, ground: Ground, bridge_m: float, surveyed: BoolArray, notes: Findings) -> Standing:
    """Part the rows that can be planned from those that cannot.

    A row can be planned where its ground is known, or bridged, from end to end. At a row's end there is no ground of
    the row on the far side of a hole, so nothing to bridge to. A row whose posts all have surveyed heights can be
    planned over any hole: between its posts the ground is taken to run straight.

    Parameters
    ----------
    rows : Rows
        As laid.
    ground : Ground
        The block's ground.
    bridge_m : float
        Widest hole that is bridged; 0 for none. [m]
    surveyed : [row]
        Rows whose posts all have surveyed heights.
    notes : Findings
        Hears of rows left out, and why, and of surveyed rows over holes.
    """
    holes = holes_along(ground, rows.paths)
    bridged = holes.is_closed & (holes.width_m <= bridge_m + _TOLERANCE_M) & (bridge_m > 0.0)
    whole = np.bincount(holes.path[~bridged], minlength=len(rows)) == 0
    kept = whole | surveyed
    planned = rows.only(kept)
    left_out = LeftOut(rows.only(~kept), _reasons(holes.only(~bridged & ~kept[holes.path]), bridge_m))
    _note_left_out(left_out, notes)
    _note_over_holes(rows.row_id[surveyed & ~whole], bridge_m, notes)
    return Standing(planned, RowGround(ground, planned.paths, holes.only(bridged).of_paths(kept)), kept, left_out)


def doubt_bridges(
    posts: Posts, row_ground: RowGround, surveyed: BoolArray, elevation: ElevationSettings, notes: Findings
) -> Bridges:
    """What was bridged where, and one sigma of a bridged post's ground height.

    How far off a bridge is, the survey itself tells: the same hole is laid over known ground of the block's rows, at
    `_TRIALS` places spread evenly along them, bridged there, and compared with what the raster has. The mean square of
    these misses has two parts: what the true ground does in such a hole, which is wanted, and the survey's own errors
    at the edges and in between. The second is known, for a bridged and a measured height are both sums of heights with
    known shares: sum_ij m_i m_j C(d_ij), with m the difference of the shares and C the covariance of two errors
    (`accuracy_m`, `correlation_m`). It is taken off, and the errors that the edges carry into the bridged height are
    added, sum_ij s_i s_j C(d_ij) with s its own shares. So the error grows with the hole as the ground is rough. A
    bridged post is never called surer than a measured one.

    Example: ground of 1 in 20, even otherwise, is bridged without a miss, and only the survey's error is left; ground
    that bends with a radius of 50 m is missed by g^2/400 amid a hole of g, 6 cm in one of 5 m.

    Parameters
    ----------
    posts : Posts
        Where the error is asked for.
    row_ground : RowGround
        The rows' ground.
    surveyed : [row]
        Rows whose posts all have surveyed heights: nothing was bridged there.
    elevation : ElevationSettings
        Accuracy, correlation and smoothing of the heights, and the widest hole that is bridged.
    notes : Findings
        Hears what was bridged where.
    """
    width = np.where(surveyed[posts.row], np.nan, row_ground.bridged_m(posts.row, posts.station_m))
    over, error = ~np.isnan(width), np.full(len(posts), np.nan)
    if over.any():
        error[over] = _bridge_error(posts.row[over], posts.station_m[over], width[over], row_ground, elevation)
    bridges = Bridges(width, error, row_ground.bridged_length_m)
    _note_bridged(posts, bridges, row_ground, elevation.bridge_m, notes)
    return bridges


def _bridge_error(
    row: IntArray, station_m: FloatArray, width_m: FloatArray, row_ground: RowGround, elevation: ElevationSettings
) -> FloatArray:
    """One sigma of the ground height of bridged posts, shape (posts,) [m]."""
    made = row_ground.made_from(row, station_m)
    step = row_ground.ground.cell_m / 2.0
    half = int(np.ceil(np.abs(made.offset_m).max() / step)) + 1
    along = np.asarray(np.arange(-half, half + 1) * step, dtype=np.float64)
    averaged = row_ground.ground.offsets_m[None]
    share = _on_lattice(made.offset_m, made.share, step, half)
    measured = _on_lattice(averaged, np.full(averaged.shape, 1.0 / averaged.size), step, half)
    miss = share - measured
    seen, trials = _misses(_trial_ground(row_ground, along), miss)
    accuracy, correlation = elevation.accuracy_m, elevation.correlation_m
    covariance = height_covariance(along[:, None] - along, accuracy, correlation, 0.0)
    rough = np.where(
        trials >= _LEAST_TRIALS,
        np.maximum(seen - _variance(miss, covariance), 0.0),
        (_UNTRIED_SHARE * width_m) ** 2,
    )
    least = height_covariance(0.0, accuracy, correlation, elevation.smoothing_m)
    return np.asarray(np.sqrt(np.maximum(rough + _variance(share, covariance), least)))


def _on_lattice(offset_m: FloatArray, share: FloatArray, step_m: float, half: int) -> FloatArray:
    """Shares of places between the points of a lattice given to the points beside them; shape (places, 2 half + 1)."""
    place = offset_m / step_m + half
    low = np.floor(place).astype(np.int64)
    out = np.zeros((len(offset_m), 2 * half + 1))
    line = np.broadcast_to(np.arange(len(offset_m))[:, None], low.shape)
    np.add.at(out, (line, low), share * (1.0 - (place - low)))
    np.add.at(out, (line, low + 1), share * (place - low))
    return out


def _trial_ground(row_ground: RowGround, along_m: FloatArray) -> FloatArray:
    """Heights along the rows round each trial's place, NaN where the raster has none; shape (trials, along) [m]."""
    length = row_ground.paths.length_m
    reach = np.cumsum(length)
    place = (np.arange(_TRIALS) + 0.5) / _TRIALS * reach[-1]
    row = np.searchsorted(reach, place, side="right")
    station = (place - (reach - length)[row])[:, None] + along_m
    within = (station >= 0.0) & (station <= length[row, None])
    place = row_ground.paths.place(np.broadcast_to(row[:, None], station.shape), station)
    return np.where(within, row_ground.ground.height(place), np.nan)


def _misses(ground_m: FloatArray, miss: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Mean square of what each bridge misses by on the trials' ground [m2], and on how many it could be tried."""
    lost = np.isnan(ground_m).astype(np.float64) @ (np.abs(miss) > _NO_SHARE).T.astype(np.float64) > 0.0
    # The shares add up to nothing, so any height may serve as zero: one near by keeps the digits.
    level = np.nanmean(ground_m)
    by = np.where(lost, 0.0, np.nan_to_num(ground_m - level) @ miss.T)
    trials = (~lost).sum(axis=0)
    return (by**2).sum(axis=0) / np.maximum(trials, 1), trials


def _variance(share: FloatArray, covariance: FloatArray) -> FloatArray:
    """Variance of sums of heights with the given shares, shape (places,) [m2]."""
    return np.asarray(np.einsum("pi,pi->p", share @ covariance, share))


def _reasons(holes: Holes, bridge_m: float) -> TextArray:
    """Why each row is left out: its worst hole, one at an end before one that is only too wide; shape (rows,)."""
    worst = holes.only(np.lexsort((-holes.width_m, holes.is_closed, holes.path)))
    worst = worst.only(np.diff(worst.path, prepend=-1) != 0)
    too_wide = [
        f"hole of {width:.2f} m, {begin:.1f} m from the row's start; elevation.bridge_m = {bridge_m:g} m"
        for width, begin in zip(worst.width_m, worst.from_m, strict=True)
    ]
    end = np.where(np.isnan(worst.from_ground_m), "start", "far end")
    at_end = [f"no ground height at the row's {name}, so nothing to bridge to" for name in end]
    return np.where(worst.is_closed, words(too_wide), words(at_end))


def _note_left_out(left_out: LeftOut, notes: Findings) -> None:
    rows = left_out.rows
    if len(rows):
        which = [f"{row} ({reason})" for row, reason in zip(rows.row_id, left_out.reason, strict=True)]
        notes.note(
            "row-left-out",
            f"{many(len(rows), 'row')}, {rows.length_m.sum():.1f} m, cannot be planned for want of ground heights; "
            f"no table, total or card has any of it: {name_some(which)}. left_out.csv tells why.",
        )


def _note_over_holes(row_id: TextArray, bridge_m: float, notes: Findings) -> None:
    if len(row_id):
        notes.note(
            "hole-bridged",
            f"{many(len(row_id), 'row', 'run')} over holes in the ground wider than elevation.bridge_m = "
            f"{bridge_m:g} m, or without ground at an end. Every post there has a surveyed height, so the ground is "
            f"taken to run straight from post to post: {name_some(row_id)}.",
        )


def _note_bridged(posts: Posts, bridges: Bridges, row_ground: RowGround, bridge_m: float, notes: Findings) -> None:
    holes = row_ground.bridged
    if not len(holes):
        return
    places = [f"{row} at {begin:.1f} m" for row, begin in zip(posts.rows.row_id[holes.path], holes.from_m, strict=True)]
    sentence = (
        f"{many(len(holes), 'hole')} in the ground of {many(len(np.unique(holes.path)), 'row')}, up to "
        f"{holes.width_m.max():.1f} m wide (elevation.bridge_m = {bridge_m:g} m), bridged straight from edge to edge: "
        f"{name_some(places)}."
    )
    over = np.flatnonzero(~np.isnan(bridges.width_m))
    if len(over):
        sentence += (
            f" {many(len(over), 'post', 'stand')} there, on ground good to {bridges.error_m[over].max():.2f} m or "
            f"better (one sigma): {name_some(posts.post_id[over])}."
        )
    notes.note("hole-bridged", sentence)
