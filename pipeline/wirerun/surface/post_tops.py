"""Posts of an existing trellis: what stands thin and proud of its row, at near-regular distances.

A survey blurs a post of a hand's breadth to a low thin peak, so no height tells it; what does is that it stands out of
the row before and behind it, is no wider than a blurred post, and has others like it at the same distance. Where
nothing is regular (a canopy in leaf, canes alone) nothing is a post.
"""

from collections.abc import Sequence
from typing import Final, NamedTuple

import numpy as np
from scipy.ndimage import maximum_filter1d, median_filter, minimum_filter1d

from wirerun.arrays import BoolArray, FloatArray, IntArray

#: How far to either side of its row's line a post is looked for: choice, lines are off by centimetres, tops lean. [m]
ASIDE_M: Final = 0.3
# Choices by trials on made-up scenes (tests/benchmarks/bench_posts.py).
_BIN_M, _BASE_M = 0.1, 2.5  # the row itself: median of so much of it, in bins
_LEAST_PROUD_M: Final = 0.1
_CLEAR, _FAINT = 8.0, 4.5  # robust sigmas of the row's own roughness
_WIDEST_M: Final = 0.4  # at half of what stands proud
_APART_M: Final = 0.6
_CLOSED_M: Final = 0.2  # between points of a cloud: an arm as wide as a hand is hit so often at 100 a square metre
# Distances of posts that are looked for: choice (two vines, to farther than any wire is left alone).
_SHORTEST_M, _LONGEST_M = 2.0, 12.0
_NEAR_M: Final = 0.3  # of a multiple of the distance: how near a neighbour is
_LEAST_REGULAR: Final = 3.0  # times as many pairs at that distance as chance would have
_LEAST_POSTS: Final = 8
_LIMITS: Final = 12
_CROWDED: Final = 0.6  # of the usual distance
# Of what was found so many were posts, by how many neighbours stand at the usual distance (none, one, two), and by
# whether one that stands prouder is much closer; of these so many where it stands out faintly. Counted in such scenes.
_TRUE: Final = np.array([[0.6, 0.96, 0.99], [0.05, 0.45, 0.9]])
_TRUE_IF_FAINT: Final = 0.9


class RowProfile(NamedTuple):
    """What stands along a row, at equal steps: greatest height in its strip [m], NaN unknown; and how far aside [m]."""

    step_m: float
    top_m: FloatArray
    aside_m: FloatArray


class FoundPosts(NamedTuple):
    """Posts of a block, in the order of rows and along each.

    Attributes
    ----------
    row : shape (n,)
        Which of the profiles.
    station_m, aside_m : shape (n,)
        Where along it, and how far to its left (positive) or right. [m]
    proud_m, seen_m : shape (n,)
        How far the top stands over the row, and over the ground, as the survey saw it: less than it is. [m]
    confidence : shape (n,)
        0 to 1: how likely it is a post, by its neighbours and how clear it is.
    span_m : float
        Usual distance from post to post. [m]
    """

    row: IntArray
    station_m: FloatArray
    aside_m: FloatArray
    proud_m: FloatArray
    seen_m: FloatArray
    confidence: FloatArray
    span_m: float


class _Peaks(NamedTuple):
    """Thin peaks of all rows; `sigmas` is how proud they stand, in sigmas of the block's roughness."""

    row: IntArray
    station_m: FloatArray
    aside_m: FloatArray
    proud_m: FloatArray
    seen_m: FloatArray
    sigmas: FloatArray

    def only(self, kept: BoolArray) -> "_Peaks":
        return _Peaks(
            self.row[kept],
            self.station_m[kept],
            self.aside_m[kept],
            self.proud_m[kept],
            self.seen_m[kept],
            self.sigmas[kept],
        )


def strip_top(strip_m: FloatArray, across_m: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Greatest height in each cross-section of a strip [m], and how far aside its middle is [m]; shape (n,).

    Parameters
    ----------
    strip_m : shape (n, k)
        Heights over the ground; NaN where unknown. [m]
    across_m : shape (k,)
        Distances from the line. [m]
    """
    known = np.isfinite(strip_m)
    some = known.any(axis=1)
    heights = np.where(known, strip_m, -np.inf)
    top = heights.max(axis=1)
    low = np.where(known, strip_m, np.inf).min(axis=1)
    half = 0.5 * (np.where(some, top, 0.0) + np.where(some, low, 0.0))
    near = np.abs(across_m - across_m[heights.argmax(axis=1)][:, None]) <= ASIDE_M / 2.0
    weight = np.where(known & near, np.maximum(heights - half[:, None], 0.0), 0.0)
    total = weight.sum(axis=1)
    aside = np.where(total > 0.0, weight @ across_m / np.maximum(total, 1e-9), 0.0)
    return np.where(some, top, np.nan), aside


def closed(top_m: FloatArray, step_m: float) -> FloatArray:
    """Heights along a row without the gaps that the points of a cloud leave between them, shape as given [m].

    Between two points a hand's breadth or two apart the row goes on as high as the lower of them; nothing that stands
    out of it becomes wider, or lower.

    Parameters
    ----------
    top_m : shape (n,)
        Greatest height at equal steps; NaN where unknown. [m]
    step_m : float
        The step. [m]
    """
    wide = 2 * max(1, round(_CLOSED_M / step_m / 2.0)) + 1
    heights = np.where(np.isfinite(top_m), top_m, -np.inf)
    filled = minimum_filter1d(maximum_filter1d(heights, wide, mode="nearest"), wide, mode="nearest")
    return np.where(np.isfinite(filled), filled, np.nan)


def find_posts(profiles: Sequence[RowProfile]) -> FoundPosts | None:
    """Posts along the rows of a block; None where nothing stands proud of them at regular distances.

    Parameters
    ----------
    profiles : sequence of RowProfile
        One a row.
    """
    peaks = _peaks_of(profiles)
    if peaks is None:
        return None
    best = _best_limit(peaks, profiles)
    if best is None:
        return None
    limit, span = best
    # What is less clear counts where a clear one has it at its distance.
    clear = peaks.sigmas >= limit
    regular = _neighbours(peaks, clear, span)
    kept = clear | ((peaks.sigmas >= limit * _FAINT / _CLEAR) & (regular > 0))
    found, beside = peaks.only(kept), regular[kept]
    faint = np.where(found.sigmas < limit, _TRUE_IF_FAINT, 1.0)
    confidence = _TRUE[_crowded(found, span).astype(np.intp), beside] * faint
    return FoundPosts(
        found.row, found.station_m, found.aside_m, found.proud_m, found.seen_m, np.asarray(confidence), span
    )


def _best_limit(peaks: _Peaks, profiles: Sequence[RowProfile]) -> tuple[float, float] | None:
    """How proud a post stands at least [sigmas], and the usual distance [m]; None where nothing is regular.

    Heads of vines stand proud as well, lower than posts and closer together: the limit is the one that leaves most at
    regular distances and least else.
    """
    best, most = None, _LEAST_POSTS - 1
    highest = float(peaks.sigmas.max(initial=_CLEAR))
    for limit in np.geomspace(_CLEAR, max(highest, _CLEAR), _LIMITS):
        clear = peaks.only(peaks.sigmas >= limit)
        gaps = _gaps(clear)
        if not gaps.size or float(np.median(gaps)) < _SHORTEST_M:
            continue
        span = _usual_span(clear, profiles)
        if span is None:
            continue
        # By neighbours alone: where posts stand at every sixth vine, any two heads are so far apart.
        multiple = np.maximum(np.round(gaps / span), 1.0)
        gain = 2 * int((np.abs(gaps - multiple * span) <= _NEAR_M).sum()) - len(gaps)
        if gain > most:
            best, most = (float(limit), span), gain
    return best


def _peaks_of(profiles: Sequence[RowProfile]) -> _Peaks | None:
    """Thin peaks over the row; None where there is no row."""
    proud = [_over_row(profile) for profile in profiles]
    every = np.concatenate([np.zeros(0), *proud])
    every = every[np.isfinite(every)]
    if not every.size:
        return None
    sigma = max(1.4826 * float(np.median(np.abs(every - np.median(every)))), 1e-3)
    parts = [
        _peaks_in(number, profile, over, sigma)
        for number, (profile, over) in enumerate(zip(profiles, proud, strict=True))
    ]
    return _Peaks(*(np.concatenate(part) for part in zip(*parts, strict=True)))


def _over_row(profile: RowProfile) -> FloatArray:
    """How far each place stands over the row before and behind it [m]."""
    top, step = profile.top_m, profile.step_m
    known = np.isfinite(top)
    if not known.any():
        return np.full(top.shape, np.nan)
    bins = (np.arange(len(top)) * step / _BIN_M).astype(np.intp)
    count = np.bincount(bins, known)
    mean = np.bincount(bins, np.where(known, top, 0.0)) / np.maximum(count, 1.0)
    filled = np.interp(np.arange(len(mean)), np.flatnonzero(count > 0.0), mean[count > 0.0])
    base = median_filter(filled, 2 * round(_BASE_M / _BIN_M / 2.0) + 1, mode="nearest")
    middle = (np.arange(len(base)) + 0.5) * _BIN_M
    return np.asarray(top - np.interp((np.arange(len(top)) + 0.5) * step, middle, base))


def _peaks_in(number: int, profile: RowProfile, proud: FloatArray, sigma: float) -> _Peaks:
    """Peaks of one row, none closer to a higher one than two posts can be."""
    step, size = profile.step_m, len(proud)
    over = np.where(np.isfinite(proud), proud, -np.inf)
    reach = max(1, round(_APART_M / step))
    padded = np.pad(over, reach, constant_values=-np.inf)
    around = np.lib.stride_tricks.sliding_window_view(padded, 2 * reach + 1) if size else np.zeros((0, 1))
    least = max(_LEAST_PROUD_M, _FAINT * sigma)
    # Of equal ones the first counts.
    at = np.flatnonzero((over >= least) & (around.argmax(axis=1) == reach)) if size else np.zeros(0, dtype=np.intp)
    # Width and middle of what is over half of each.
    half = max(1, round(_WIDEST_M / step))
    place = at[:, None] + np.arange(-half, half + 1)
    there = (place >= 0) & (place < size)
    place = place.clip(0, max(size - 1, 0))
    value = np.where(there, over[place], -np.inf)
    above = value >= 0.5 * over[at][:, None]
    # Only what hangs together with the peak.
    left = np.cumprod(above[:, half::-1], axis=1)[:, ::-1]
    right = np.cumprod(above[:, half:], axis=1)
    joined = np.concatenate([left, right[:, 1:]], axis=1).astype(bool)
    thin = joined.sum(axis=1) * step <= _WIDEST_M
    weight = np.where(joined, value - 0.5 * over[at][:, None] + 1e-6, 0.0)
    total = weight.sum(axis=1)
    station = (weight * (place + 0.5)).sum(axis=1) / np.maximum(total, 1e-12) * step
    aside = (weight * profile.aside_m[place]).sum(axis=1) / np.maximum(total, 1e-12)
    at, station, aside = at[thin], station[thin], aside[thin]
    return _Peaks(
        np.full(len(at), number, dtype=np.int64), station, aside, proud[at], profile.top_m[at], proud[at] / sigma
    )


def _crowded(peaks: _Peaks, span_m: float) -> BoolArray:
    """Whether one that stands prouder is much closer than posts are."""
    close = (np.diff(peaks.row) == 0) & (np.diff(peaks.station_m) < _CROWDED * span_m)
    less = np.diff(peaks.proud_m) < 0.0
    crowded = np.zeros(len(peaks.row), dtype=bool)
    crowded[1:] |= close & less
    crowded[:-1] |= close & ~less
    return crowded


def _gaps(peaks: _Peaks) -> FloatArray:
    """Distances of neighbours in a row [m]."""
    same = np.diff(peaks.row) == 0
    return np.asarray(np.diff(peaks.station_m)[same])


def _usual_span(peaks: _Peaks, profiles: Sequence[RowProfile]) -> float | None:
    """Distance at which many more pairs stand than chance would have; None where there is none."""
    far: list[FloatArray] = []
    for number in np.unique(peaks.row):
        station = peaks.station_m[peaks.row == number]
        pairs = station[None, :] - station[:, None]
        far.append(pairs[(pairs > 0.5 * _SHORTEST_M) & (pairs <= _LONGEST_M + _NEAR_M)])
    distance = np.sort(np.concatenate([np.zeros(0), *far]))
    if not distance.size:
        return None
    span = np.arange(_SHORTEST_M, _LONGEST_M, 0.05)
    count = np.searchsorted(distance, span + _NEAR_M) - np.searchsorted(distance, span - _NEAR_M)
    length = sum(len(profile.top_m) * profile.step_m for profile in profiles)
    chance = 2.0 * _NEAR_M * len(peaks.row) ** 2 / max(length, 1.0)
    # The shortest of those that nearly all agree on: farther ones are its multiples.
    best = int(np.flatnonzero(count >= 0.75 * count.max())[0])
    best += int(count[best : best + round(2.0 * _NEAR_M / 0.05)].argmax())
    if count[best] < max(_LEAST_REGULAR * chance, chance + 5.0 * np.sqrt(chance), _LEAST_POSTS / 2.0):
        return None
    return float(np.median(distance[np.abs(distance - span[best]) <= _NEAR_M]))


def _neighbours(peaks: _Peaks, clear: BoolArray, span_m: float) -> IntArray:
    """On how many sides of each a clear one stands at the usual distance, or twice that: 0, 1 or 2."""
    sides = np.zeros(len(peaks.row), dtype=np.int64)
    # Rows one behind the other, too far apart to meet.
    apart = 10.0 * _LONGEST_M + (float(peaks.station_m.max()) if peaks.station_m.size else 0.0)
    line = peaks.row * apart + peaks.station_m
    others = np.sort(line[clear])
    for sign in (-1.0, 1.0):
        near = np.zeros(len(line), dtype=bool)
        for times in (1.0, 2.0):
            want = line + sign * times * span_m
            after = np.searchsorted(others, want).clip(1, max(len(others) - 1, 1))
            off = np.minimum(np.abs(others[after - 1] - want), np.abs(others[after] - want))
            near |= off <= _NEAR_M
        sides += near
    return sides
