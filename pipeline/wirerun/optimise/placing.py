"""Posts fitted to the ground: of many places along each row, those whose posts cost least.

What a post needs depends on its neighbours on both sides, so the least cost from a post to the row's end is kept
for every span that can lead to it (dynamic programming of second order). All rows of a batch go from their far ends
to their starts together: the only loop runs over places counted from the end. The cost is in whole millionths, so
nothing is decided by rounding; see `Fit` for what is chosen among equal costs.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from wirerun.errors import MechanicsError
from wirerun.mechanics import BoolArray, FloatArray, IntArray
from wirerun.mechanics.clearance import Clearance, sag_factors, wire_gap
from wirerun.mechanics.supports import Supports
from wirerun.optimise.post_costs import (
    PARTS_PER_UNIT,
    Expected,
    FitPrices,
    PartPrices,
    PostLimits,
    Pulls,
    WireLoad,
    clip_cost,
    load_spread,
    part_prices,
    post_needs,
    pulls_at,
    side_load,
)

# A span is within its limits to a millimetre, and spans are equally even to a millimetre: nobody stakes closer.
_TOLERANCE_M: Final = 1e-3
# Cost of what is not allowed: above any sum of prices, and with room to add two of them.
_NEVER: Final = 2**61
# Combinations of two spans worked on at a time, so that the working arrays stay in the cache. Choice, by measurement.
_AT_A_TIME: Final = 30_000


@dataclass(frozen=True, slots=True)
class SpanLimits:
    """Shortest and longest span allowed, straight from foot to foot in space, to a millimetre.

    Attributes
    ----------
    min_m : float
        Shortest span, >= 0. The last span of a row may be shorter, down to the distance of the last two places: rows
        are not built to measure. [m]
    max_m : float
        Longest span, >= min_m and > 0. [m]
    """

    min_m: float
    max_m: float


@dataclass(frozen=True, slots=True)
class Fit:
    """The cheapest posts of each row.

    Among equal costs the fewest posts are taken, then the evenest spans (least sum of squares, each span to a
    millimetre), then the earliest posts from the start of the row on.

    Attributes
    ----------
    chosen : BoolArray
        Which places get a post, shape (n_places,); none in rows that are not fitted.
    cost : FloatArray
        Cost of each row, shape (n_rows,), in the currency of the prices; NaN in rows that are not fitted.
    fitted : BoolArray
        Rows with posts, shape (n_rows,): not those with a missing height, nor those in which no choice of places
        keeps the spans within their limits.
    """

    chosen: BoolArray
    cost: FloatArray
    fitted: BoolArray


class _Rules(NamedTuple):
    """Prices shifted left by `shift` bits, so that a count of posts has room below them; places from post to post.

    A span of `least` to `reach` places may be allowed anywhere; one of fewer than `least` only at the end of a row.
    """

    spans: SpanLimits
    prices: PartPrices
    shift: int
    least: int
    reach: int

    @property
    def steps(self) -> IntArray:
        """Places in every span that is not the last of its row."""
        return np.arange(self.least, self.reach + 1)


class _Batch(NamedTuple):
    """Rows side by side, ends at the same line, `reach` empty lines (NaN) before and after.

    expected is None where the ground is as seen.

    place (lines, rows) is -1 where empty; pull (pulls, lines, rows); low (lines, reach, rows) tells whether the span
    of 1, 2, ... places from here comes too close to the ground, and is None where nobody asks.
    """

    place: IntArray
    x: FloatArray
    z: FloatArray
    pull: Pulls
    expected: Expected | None
    low: BoolArray | None


class _Onward(NamedTuple):
    """Least key and unevenness from here to the end for each length of the next span, (steps, rows) each."""

    key: IntArray
    uneven: IntArray


class _Best(NamedTuple):
    """Least key, its unevenness and its step, (lines, 1 + steps, rows).

    First for a row that starts here, then for each length of the span before.
    """

    key: IntArray
    uneven: IntArray
    step: NDArray[np.int16]


def fit_posts(
    places: Supports,
    spans: SpanLimits,
    wires: Sequence[WireLoad],
    limits: PostLimits,
    prices: FitPrices,
    clearance: Clearance | None = None,
    expected: Expected | None = None,
) -> Fit:
    """The posts of each row that cost least, and their cost; no choice within the limits is cheaper.

    The first and last place of each row always get a post, which costs nothing. An intermediate post costs its
    price; where a clipped line pulls up by more than a one-way clip holds, two-way clips on all its clipped lines;
    where all lines together pull up by more than the post withstands, holding it down. A span costs a breach where
    the lowest wire comes too close to the ground at a place between its posts. Where the ground is expected to be other
    than it was seen, loads are those of the ground expected, and clips cost the least of two-way ones and of the chance
    to miss them. `post_costs.row_costs` tells the same costs of any posts.

    Parameters
    ----------
    places : Supports
        Where posts may stand, with the height of the ground.
    spans : SpanLimits
        Shortest and longest span.
    wires : sequence of WireLoad
        All wires of the row.
    limits : PostLimits
        What clip and post withstand.
    prices : FitPrices
        What things cost.
    clearance : Clearance, optional
        The lowest wire; without it no span is too low.
    expected : Expected, optional
        The ground that loads are reckoned with, and its error; without it as seen, and certain.

    Raises
    ------
    MechanicsError
        If a span limit, wire, limit or price cannot be; names the place.
    """
    x, z, rows = places.x_m, places.z_m, places.rows
    _refuse_bad_limits(spans)
    pulls = pulls_at(places, wires, limits)
    sag = None if clearance is None else sag_factors(clearance, rows)
    size = rows.last - rows.first + 1
    # A post counts 1 below the prices: among equal costs the fewest posts win without a second comparison.
    shift = int(size.max(initial=0)).bit_length()
    parts = part_prices(prices, wires, int(size.max(initial=0)) << shift)
    rules = _Rules(spans, PartPrices(*(part << shift for part in parts)), shift, *_places_in_span(places, spans))
    chosen, cost = np.zeros(rows.size, dtype=np.bool_), np.full(rows.count, np.nan)
    whole = np.flatnonzero(~places.gaps)
    whole = whole[np.argsort(size[whole], kind="stable")]  # rows of like length side by side leave little empty
    width = max(1, _AT_A_TIME // (rules.steps.size * (rules.steps.size + 1)))
    for begin in range(0, whole.size, width):
        some = whole[begin : begin + width]
        batch = _lay_out((x, z), rows.first[some], size[some], pulls, expected, rules.reach)
        if clearance is not None and sag is not None and rules.prices.breach:
            batch = batch._replace(low=_low(batch, clearance, sag[some], rules))
        posts, key = _trace(batch, _scan(batch, rules), size[some], rules)
        chosen[posts] = True
        cost[some] = np.where(key < _NEVER, (key >> shift) / PARTS_PER_UNIT, np.nan)
    return Fit(chosen, cost, ~np.isnan(cost))


def _refuse_bad_limits(spans: SpanLimits) -> None:
    if not (0.0 <= spans.min_m <= spans.max_m and 0.0 < spans.max_m < np.inf):
        message = f"Spans from {spans.min_m:g} to {spans.max_m:g} m are no limits: 0 <= min_m <= max_m, max_m above 0."
        raise MechanicsError(message)


def _places_in_span(places: Supports, spans: SpanLimits) -> tuple[int, int]:
    """Fewest and most places from one post to the next, the last span of a row left out of the fewest."""
    x, z, rows = places.x_m, places.z_m, places.rows
    least, most = 0, 1
    for step in range(1, x.size):
        near = np.flatnonzero(rows.ordinal[step:] == rows.ordinal[:-step])
        run = x[near + step] - x[near]
        if not (run <= spans.max_m + _TOLERANCE_M).any():
            break
        chord = np.hypot(run, z[near + step] - z[near])
        within = chord <= spans.max_m + _TOLERANCE_M
        most = step if within.any() else most
        if least == 0 and (within & (chord >= spans.min_m - _TOLERANCE_M)).any():
            least = step
    return least or most, most


def _lay_out(
    along: tuple[FloatArray, FloatArray],
    first: IntArray,
    size: IntArray,
    pulls: Pulls,
    expected: Expected | None,
    reach: int,
) -> _Batch:
    lines = int(size.max())
    # Line by line from the longest row's start; shorter rows begin later, so that all end together.
    ordinal = np.arange(-reach, lines + reach)[:, None] - (lines - size)
    place = np.where((ordinal >= 0) & (ordinal < size), first + ordinal, -1)
    empty = place < 0
    x, z = (np.where(empty, np.nan, values[place]) for values in along)
    if expected is not None:
        expected = Expected(*(np.where(empty, np.nan, values[place]) for values in expected))
    return _Batch(place, x, z, pulls._replace(tension_n=pulls.tension_n[:, place]), expected, None)


def _low(batch: _Batch, clearance: Clearance, sag: FloatArray, rules: _Rules) -> BoolArray:
    """Which spans come too close to the ground at a place between their posts, (lines, reach, rows)."""
    lines, width = batch.x.shape
    low = np.zeros((lines, rules.reach, width), dtype=np.bool_)
    for step in range(2, rules.reach + 1):
        begin = 0 if step >= rules.least else lines - rules.reach - 1 - step
        near = slice(begin, lines - step)
        far = slice(begin + step, lines)
        span = batch.x[far] - batch.x[near], batch.z[far] - batch.z[near]
        for between in range(1, step):
            middle = slice(begin + between, lines - step + between)
            along = batch.x[middle] - batch.x[near], batch.z[middle] - batch.z[near]
            low[near, step - 1] |= wire_gap(clearance, sag, along, span) < clearance.least_m
    return low


def _onward(batch: _Batch, rules: _Rules, best: _Best, at: int, step: IntArray) -> _Onward:
    """What lies ahead if the next post is so many places on."""
    run, rise = batch.x[at + step] - batch.x[at], batch.z[at + step] - batch.z[at]
    chord = np.sqrt(run * run + rise * rise)
    is_last = (at + step == batch.x.shape[0] - rules.reach - 1)[:, None]
    fits = (chord <= rules.spans.max_m + _TOLERANCE_M) & ((chord >= rules.spans.min_m - _TOLERANCE_M) | is_last)
    came = np.maximum(step - rules.least + 1, 0)  # at the end of the row it does not matter
    key = best.key[at + step, came]
    if batch.low is not None:
        key = key + rules.prices.breach * batch.low[at, step - 1]
    chord_mm = np.rint(1000.0 * np.where(fits, chord, 0.0)).astype(np.int64)
    return _Onward(np.where(fits, key, _NEVER), best.uneven[at + step, came] + chord_mm * chord_mm)


def _post_keys(batch: _Batch, rules: _Rules, at: int, step: IntArray) -> IntArray:
    """Key of a post by the spans after and before it, (steps after, 1 + steps, rows); 0 where the row starts."""
    pull, weight = batch.pull.tension_n[:, None, at], batch.pull.weight_n_per_m[:, None, None]
    limit, back = batch.pull.limit_n, rules.steps
    z = batch.z if batch.expected is None else batch.expected.z_m
    before = batch.x[at] - batch.x[at - back], z[at - back] - z[at]
    after = batch.x[at + step] - batch.x[at], z[at + step] - z[at]
    starts = np.full((limit.size, 1, pull.shape[2]), np.inf)  # an end post needs nothing
    load_before = np.concatenate((starts, side_load(pull, weight, *before)), axis=1)
    load_after = side_load(pull, weight, *after)
    two_way, held = post_needs(load_before[:, None], load_after[:, :, None], limit)
    clips = np.where(two_way, rules.prices.two_way_post, 0)
    if batch.expected is not None:
        run_before = np.concatenate((starts[0], before[0]), axis=0)
        spread = load_spread(batch.expected.error_m[at], run_before[None], after[0][:, None])
        load = load_before[:, None] + load_after[:, :, None]
        unshifted = PartPrices(*(part >> rules.shift for part in rules.prices))
        clips = clip_cost(load, pull[:, :, None], limit, spread, unshifted) << rules.shift
    key = clips + np.where(held, rules.prices.hold_down, 0)
    key[:, 1:] += rules.prices.post + 1
    return np.asarray(key)


def _scan(batch: _Batch, rules: _Rules) -> _Best:
    """Least cost from every place to the end of its row, from the end backwards."""
    lines, width = batch.x.shape
    last = lines - rules.reach - 1
    shape = (lines, rules.steps.size + 1, width)
    best = _Best(np.zeros(shape, dtype=np.int64), np.zeros(shape, dtype=np.int64), np.zeros(shape, dtype=np.int16))
    for back in range(1, last - rules.reach + 1):
        at = last - back
        # So near the end that only the end itself can come next, at whatever distance.
        step = rules.steps if back >= rules.least else np.array([back])
        onward = _onward(batch, rules, best, at, step)
        _choose(_post_keys(batch, rules, at, step), onward, step, _Best(*(part[at] for part in best)))
    return best


def _choose(post: IntArray, onward: _Onward, step: IntArray, best: _Best) -> None:
    """Write the best next span for each span before, into (1 + steps, rows) each."""
    best.key[:] = post[0] + onward.key[0]
    best.uneven[:] = onward.uneven[0]
    best.step[:] = step[0]
    for way in range(1, step.size):
        # Strictly better only: among equals the shorter step, which is the earlier post, stays.
        key = post[way] + onward.key[way]
        better = (key < best.key) | ((key == best.key) & (onward.uneven[way] < best.uneven))
        np.copyto(best.key, key, where=better)
        np.copyto(best.uneven, onward.uneven[way], where=better)
        np.copyto(best.step, step[way], where=better)
    np.minimum(best.key, _NEVER, out=best.key)


def _trace(batch: _Batch, best: _Best, size: IntArray, rules: _Rules) -> tuple[IntArray, IntArray]:
    """Places of the posts of all rows, (n_posts,), and the key of each row, (rows,)."""
    lines, width = batch.x.shape
    last, row = lines - rules.reach - 1, np.arange(width)
    start = last + 1 - size
    key = best.key[start, 0, row]
    row = row[key < _NEVER]
    at, came = start[row], np.zeros(row.size, dtype=np.int64)
    posts = [batch.place[at, row]]
    for _ in range(lines):
        on = at < last
        if not on.any():
            break
        row, at, came = row[on], at[on], came[on]
        step = best.step[at, came, row].astype(np.int64)
        at, came = at + step, step - rules.least + 1
        posts.append(batch.place[at, row])
    return np.concatenate(posts), key
