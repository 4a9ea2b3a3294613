"""Which rows have ground to stand on, and how sure the bridged parts of it are.

A hole in the ground up to a set width is bridged straight along the row. A row with a wider one, or with one at its
end, cannot be planned and is left out of everything alike.
"""

from typing import Final, NamedTuple

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from wirerun.findings import Finding, name_some
from wirerun.geometry.frame import FloatArray
from wirerun.geometry.holes import Holes
from wirerun.geometry.row_ground import RowGround, holes_along
from wirerun.geometry.sampling import Ground
from wirerun.geometry.station import Paths
from wirerun.mechanics.undulation import height_covariance
from wirerun.records import left_out_words
from wirerun.settings import ElevationSettings

BoolArray = NDArray[np.bool_]

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
    rows : DataFrame
        Those that can be planned, numbered anew, with bridged_m, the length of their bridged holes.
    ground : RowGround
        Their lines and their ground.
    kept : shape (rows,)
        Which of the given rows these are.
    left_out : DataFrame
        row_id, block_id, length_m and reason of the others.
    findings : list of Finding
        Rows left out, and why; surveyed rows over holes.
    """

    rows: pd.DataFrame
    ground: RowGround
    kept: BoolArray
    left_out: pd.DataFrame
    findings: list[Finding]


def stand_on_ground(rows: pd.DataFrame, paths: Paths, ground: Ground, bridge_m: float, surveyed: BoolArray) -> Standing:
    """Part the rows that can be planned from those that cannot.

    A row can be planned where its ground is known, or bridged, from end to end. At a row's end there is no ground of
    the row on the far side of a hole, so nothing to bridge to. A row whose posts all have surveyed heights can be
    planned over any hole: between its posts the ground is taken to run straight.

    Parameters
    ----------
    rows : DataFrame
        row_id, block_id, length_m.
    paths : Paths
        Their lines.
    ground : Ground
        The block's ground.
    bridge_m : float
        Widest hole that is bridged; 0 for none. [m]
    surveyed : shape (rows,)
        Rows whose posts all have surveyed heights.
    """
    holes = holes_along(ground, paths)
    bridged = holes.is_closed & (holes.width_m <= bridge_m + _TOLERANCE_M) & (bridge_m > 0.0)
    whole = np.bincount(holes.path[~bridged], minlength=len(rows)) == 0
    kept = whole | surveyed
    row_ground = RowGround(ground, paths.only(kept), holes.only(bridged).of_paths(kept))
    ours = row_ground.bridged
    length = np.zeros(int(kept.sum()))
    np.add.at(length, ours.path, ours.width_m)
    left_out = rows.loc[~kept, ["row_id", "block_id", "length_m"]].assign(
        reason=_reasons(holes.only(~bridged & ~kept[holes.path]), bridge_m)
    )
    findings = [*_left_out(left_out), *_over_holes(rows[surveyed & ~whole], bridge_m)]
    planned = rows[kept].reset_index(drop=True).assign(bridged_m=length)
    return Standing(planned, row_ground, kept, left_out, findings)


def doubt_bridges(
    posts: pd.DataFrame, row_ground: RowGround, elevation: ElevationSettings
) -> tuple[pd.DataFrame, list[Finding]]:
    """Posts with bridged_error_m, one sigma of a bridged post's ground height, and what was bridged where.

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
    posts : DataFrame
        post_id, row_id, block_id, row, station_m, bridged_m.
    row_ground : RowGround
        The rows' ground.
    elevation : ElevationSettings
        Accuracy, correlation and smoothing of the heights, and the widest hole that is bridged.
    """
    over = posts["bridged_m"].notna().to_numpy()
    error = np.full(len(posts), np.nan)
    if over.any():
        error[over] = _bridge_error(posts[over], row_ground, elevation)
    posts = posts.assign(bridged_error_m=error)
    return posts, _bridged(posts, row_ground, elevation.bridge_m)


def _bridge_error(posts: pd.DataFrame, row_ground: RowGround, elevation: ElevationSettings) -> FloatArray:
    """One sigma of the ground height of bridged posts, shape (posts,) [m]."""
    made = row_ground.made_from(posts["row"].to_numpy(), posts["station_m"].to_numpy())
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
        (_UNTRIED_SHARE * posts["bridged_m"].to_numpy()) ** 2,
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
    x, y = row_ground.paths.place(np.broadcast_to(row[:, None], station.shape), station)
    return np.where(within, row_ground.ground.height(x, y), np.nan)


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


def _reasons(holes: Holes, bridge_m: float) -> NDArray[np.object_]:
    """Why each row is left out: its worst hole, one at an end before one that is only too wide; shape (rows,)."""
    worst = holes.only(np.lexsort((-holes.width_m, holes.is_closed, holes.path)))
    worst = worst.only(np.diff(worst.path, prepend=-1) != 0)
    too_wide = [
        f"hole of {width:.2f} m, {begin:.1f} m from the row's start; elevation.bridge_m = {bridge_m:g} m"
        for width, begin in zip(worst.width_m, worst.from_m, strict=True)
    ]
    end = np.where(np.isnan(worst.from_ground_m), "start", "far end")
    at_end = [f"no ground height at the row's {name}, so nothing to bridge to" for name in end]
    return np.where(worst.is_closed, np.array(too_wide, dtype=object), np.array(at_end, dtype=object))


def _left_out(left_out: pd.DataFrame) -> list[Finding]:
    if left_out.empty:
        return []
    which = [f"{row} ({reason})" for row, reason in zip(left_out["row_id"], left_out["reason"], strict=True)]
    sentence = (
        f"{left_out_words(left_out)} cannot be planned for want of ground heights and are in no table, total or card: "
        f"{name_some(which)}. left_out.csv lists them."
    )
    return [Finding("row-left-out", str(left_out["block_id"].iloc[0]), sentence)]


def _over_holes(rows: pd.DataFrame, bridge_m: float) -> list[Finding]:
    if rows.empty:
        return []
    sentence = (
        f"{len(rows)} row(s) run over holes in the ground wider than elevation.bridge_m = {bridge_m:g} m, or at their "
        "ends. Their posts have surveyed heights, so the ground there is taken to run straight from post to post: "
        f"{name_some(rows['row_id'])}."
    )
    return [Finding("hole-bridged", str(rows["block_id"].iloc[0]), sentence)]


def _bridged(posts: pd.DataFrame, row_ground: RowGround, bridge_m: float) -> list[Finding]:
    holes = row_ground.bridged
    if not len(holes):
        return []
    row_ids = posts.groupby("row")["row_id"].first().to_numpy()[holes.path]
    places = [f"{row} at {begin:.1f} m" for row, begin in zip(row_ids, holes.from_m, strict=True)]
    sentence = (
        f"{len(holes)} hole(s) in the ground of {len(np.unique(holes.path))} row(s), up to {holes.width_m.max():.1f} m "
        f"wide (elevation.bridge_m = {bridge_m:g} m), are bridged straight from edge to edge: {name_some(places)}."
    )
    over = posts[posts["bridged_m"].notna()]
    if len(over):
        sentence += (
            f" {len(over)} post(s) stand there, their ground good to {over['bridged_error_m'].max():.2f} m or better "
            f"(one sigma): {name_some(over['post_id'])}."
        )
    return [Finding("hole-bridged", str(posts["block_id"].iloc[0]), sentence)]
