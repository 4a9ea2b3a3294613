"""Kinds of ground tried on the heights of a block, tile by tile: how likely each makes them, what errors it leaves.

Symbols and formulas as in `load_posterior`, which weighs the kinds by what is found here.
"""

from typing import Final, NamedTuple

import numpy as np
from scipy.linalg.lapack import dpotrf
from scipy.spatial import cKDTree

from wirerun.arrays import BoolArray, FloatArray, IntArray
from wirerun.mechanics.height_errors import ErrorCovariance

# Posts taken together: the core of each tile, and the tile itself. The near neighbourhood of the banks below keeps a
# step 20 m off from making the plane beside it doubtful.
CORE: Final = 12
_MOST_IN_TILE: Final = 9
# Posts of a strip of tiles lie no further apart than this many sides, or a tile ends between them.
_LONGEST: Final = 1.5
# Amplitudes: rms second difference of the ground at spans of 6 m. [m]
AMPLITUDE_STEP: Final = 2.5
AMPLITUDES_M: Final = 0.005 * AMPLITUDE_STEP ** np.arange(6)
_SPAN_M: Final = 6.0
# The wide plane: 5 m of height and 50 % of slope, one sigma. A free line for each row: 1 m and 5 %.
_PLANE_M2: Final = 25.0
_PLANE_SLOPE: Final = 0.1
_LINE_M2: Final = 1.0
_LINE_SLOPE: Final = 0.05
# Of the noise's variance: keeps two posts at one place from being one equation twice.
_NUGGET: Final = 1e-4
# A tenth of a millimetre: keeps heights without error, as between bridged holes, from having no spread at all. [m2]
_LEAST_NOISE_M2: Final = 1e-8
_BIG: Final = 1e12
#: Further heights in a neighbourhood, to its posts: these must reach as far as without them.
MORE_SHARE: Final = 0.4
# Off the middle of each tile, from where its neighbours are looked for: of posts equally far the same are then taken
# whatever their order. [m]
_NUDGE_M: Final = np.array([1.3e-3, 0.7e-3])
# Tiles whose covariances are reckoned at once, and whose kinds are solved at once: those stay in a processor's cache.
_TILES_AT_ONCE: Final = 12
_SOLVED_AT_ONCE: Final = 3


class Bank(NamedTuple):
    """Kinds of ground tried on neighbourhoods of so many posts, and the kernels, (kind, length [m]).

    The ground goes on across rows or, `by_row`, each row has one of its own, as on terraces between walls. Rows then
    tell little of each other, and the neighbourhood reaches further along them: `across` is what a metre across them
    counts.
    """

    posts: int
    kernels: tuple[tuple[str, float], ...]
    by_row: bool = False
    across: float = 1.0


# Each length twice the last. Choice, tried on grounds whose truth is known: with 8 and 20 m alone the bends of waves of
# 40 m were taken for less than they are, and clips were missed there.
BANKS: Final = (
    Bank(64, (("smooth", 8.0), ("smooth", 16.0), ("smooth", 32.0), ("rough", 8.0))),
    Bank(48, (("smooth", 8.0), ("smooth", 16.0)), by_row=True, across=3.0),
    Bank(20, (("smooth", 8.0), ("rough", 8.0))),
)


def louder() -> IntArray:
    """For each kind the one with the next amplitude, itself where there is none.

    What noise s^2 N leaves of ground a^2 K is s^2 times what N leaves of ground (a/s)^2 K, so that the bank also tells
    what a survey with less noise would leave.
    """
    last = len(AMPLITUDES_M) - 1
    # Flat ground has no amplitude, and stays what it is like the greatest one.
    amplitude = np.concatenate([[last, *list(range(last + 1)) * len(bank.kernels)] for bank in BANKS])
    return np.arange(len(amplitude)) + (amplitude < last)


class Tiles(NamedTuple):
    """Posts asked about, tile by tile: [tile, member], -1 for none, and the middle of each tile, [tile, xy]."""

    member: IntArray
    middle: FloatArray


class Heights(NamedTuple):
    """All heights that tell of the ground, posts first and so many: [place, xy], [place], ...

    A neighbourhood takes `wide` times the posts of its bank: more where posts of several choices are among them.
    """

    xy: FloatArray
    along: FloatArray
    z: FloatArray
    row: IntArray
    posts: int
    wide: float = 1.0

    def hoods(self, middle: FloatArray, bank: Bank) -> IntArray:
        """Neighbourhood of each middle, posts and further heights, not so many, [tile, place]: the core's come last."""
        parts, middle = [], middle + _NUDGE_M
        for begin, end, share in ((0, self.posts, self.wide), (self.posts, len(self.z), MORE_SHARE)):
            if end > begin:
                most = min(round(share * bank.posts), end - begin)
                wide = min(round(bank.across * most), end - begin)
                found = cKDTree(self.xy[begin:end]).query(middle, k=np.arange(1, wide + 1))
                apart, place = np.asarray(found[0]), np.asarray(found[1] + begin)
                # The nearest of all stay, for they are the core.
                reach = np.where(np.arange(wide) < CORE, -1.0, self._stretched(middle, place, bank.across))
                keep = np.argsort(reach, axis=1, kind="stable")[:, :most] if wide > most else np.arange(most)[None]
                parts.append((np.take_along_axis(apart, keep, axis=1), np.take_along_axis(place, keep, axis=1)))
        apart, place = (np.concatenate(part, axis=1) for part in zip(*parts, strict=True))
        order = np.argsort(apart, axis=1, kind="stable")
        near = np.take_along_axis(place, order, axis=1)
        return np.concatenate((np.sort(near[:, CORE:], axis=1), np.sort(near[:, :CORE], axis=1)), axis=1)

    def _stretched(self, middle: FloatArray, place: IntArray, across: float) -> FloatArray:
        """Distance of each place from its middle, what lies across the rows counted more, [tile, place]."""
        core = place[:, :CORE]
        row = self.row[core]
        along, xy = self.along[core], self.xy[core]
        same = row[:, :, None] == row[:, None, :]
        step = np.where(same, along[:, :, None] - along[:, None, :], 0.0)
        way = np.einsum("tij,tijk->tk", step, xy[:, :, None] - xy[:, None, :])
        way /= np.maximum(np.hypot(way[:, 0], way[:, 1]), 1e-12)[:, None]
        off = self.xy[place] - middle[:, None]
        with_row = np.einsum("tpk,tk->tp", off, way)
        return np.asarray(np.sqrt(with_row**2 + across**2 * np.maximum((off**2).sum(axis=-1) - with_row**2, 0.0)))


class Sums(NamedTuple):
    """Sums of the errors of three heights that are asked about: [sum, 3]; the middle one is where it is asked.

    `alone` is the variance of each by itself, [sum].
    """

    of: IntArray
    share: FloatArray
    alone: FloatArray

    @property
    def at(self) -> IntArray:
        """The height that each sum is about."""
        return self.of[:, 1]


class Evidence(NamedTuple):
    """Of each tile and kind: log determinant and square of the core's density; each member's error and what is left.

    log_det, square : [tile, kind]; error, left2 : [tile, member, kind].
    """

    log_det: FloatArray
    square: FloatArray
    error: FloatArray
    left2: FloatArray


def tiles_of(xy_m: FloatArray, at: IntArray) -> Tiles:
    """Tiles, as square as posts allow, with up to nine of the posts asked about: strips, cut into equal numbers."""
    tree = cKDTree(xy_m)
    near = min(10, len(xy_m))
    radius = float(np.median(np.asarray(tree.query(xy_m[at], k=near)[0])[:, -1]))
    side = max(np.sqrt(np.pi * radius**2 * _MOST_IN_TILE / near), 1e-3)
    x, y = xy_m[at].T
    strip = np.floor((x - xy_m[:, 0].min()) / side).astype(np.int64)
    # By place, so that the order of the posts decides nothing.
    order = np.lexsort((x, y, strip))
    apart = (np.diff(strip[order]) != 0) | (np.diff(y[order]) > side)
    first = np.flatnonzero(np.concatenate(([True], apart)))
    count = np.diff(np.append(first, len(order)))
    long = y[order[first + count - 1]] - y[order[first]]
    parts = np.maximum(
        -(-count // _MOST_IN_TILE), np.minimum(np.ceil(long / (_LONGEST * side)).astype(np.int64), count)
    )
    rank = np.arange(len(order)) - np.repeat(first, count)
    part = rank * np.repeat(parts, count) // np.repeat(count, count)
    tile = np.repeat(np.cumsum(parts) - parts, count) + part
    begin = np.flatnonzero(np.diff(tile, prepend=-1))
    member = np.full((int(parts.sum()), _MOST_IN_TILE), -1)
    member[tile, np.arange(len(order)) - begin[tile]] = order
    some = member >= 0
    places = np.where(some[..., None], xy_m[at[member]], 0.0)
    return Tiles(member, places.sum(axis=1) / some.sum(axis=1)[:, None])


def _kernel(kind: str, length_m: float, distance_m: FloatArray) -> FloatArray:
    """Covariance of heights of one kind of ground, 1 at distance 0."""
    if kind == "smooth":
        return np.asarray(np.exp((-0.5 / length_m**2) * distance_m**2))
    v = (np.sqrt(5.0) / length_m) * distance_m
    return np.asarray((1.0 + v * (1.0 + v / 3.0)) * np.exp(-v))


def _per_bend(kind: str, length_m: float) -> float:
    """Variance of heights whose second difference at the spans of the bank has variance 1."""
    one, near, far = _kernel(kind, length_m, np.array([0.0, _SPAN_M, 2.0 * _SPAN_M]))
    return float(1.0 / (6.0 * one - 8.0 * near + 2.0 * far))


def try_kinds(tiles: Tiles, heights: Heights, sums: Sums, covariance: ErrorCovariance) -> Evidence:
    """Every kind of ground tried on every tile."""
    parts = [_try_bank(bank, tiles, heights, sums, covariance) for bank in BANKS]
    return Evidence(*(np.concatenate(part, axis=-1) for part in zip(*parts, strict=True)))


def _try_bank(bank: Bank, tiles: Tiles, heights: Heights, sums: Sums, covariance: ErrorCovariance) -> Evidence:
    """Every kind of one bank tried on every tile, a few tiles at a time."""
    hood = heights.hoods(tiles.middle, bank)
    some = [slice(at, at + _TILES_AT_ONCE) for at in range(0, len(hood), _TILES_AT_ONCE)]
    made = [_try_on(tiles.member[here], hood[here], heights, sums, covariance, bank) for here in some]
    return Evidence(*(np.concatenate(part) for part in zip(*made, strict=True)))


def _try_on(
    member: IntArray, hood: IntArray, heights: Heights, sums: Sums, covariance: ErrorCovariance, bank: Bank
) -> Evidence:
    """Every kind of a bank on a few tiles with neighbourhoods [tile, place]."""
    n = hood.shape[1]
    xy = heights.xy[hood]
    distance2 = _squares(xy[:, :, None], xy[:, None, :])
    distance = np.sqrt(distance2)
    noise = covariance.at(distance, hood[:, :, None], hood[:, None, :])
    diagonal = np.einsum("tii->ti", noise)
    diagonal += _NUGGET * diagonal.mean(axis=1, keepdims=True) + _LEAST_NOISE_M2
    of, share = sums.of[member], sums.share[member]
    apart = np.sqrt(_squares(heights.xy[of][:, :, :, None], xy[:, None, None]))
    with_load = (share[:, :, None] @ covariance.at(apart, of[..., None], hood[:, None, None, :]))[:, :, 0]
    under = _without_ground(noise, with_load, xy, heights.z[hood])
    grounds = [_kernel(*name, distance) for name in bank.kernels]
    if bank.by_row:
        row = heights.row[hood]
        same = row[:, :, None] == row[:, None, :]
        under[:, :n, :n] += _free_lines(heights.along[hood], same)
        grounds = [ground * same for ground in grounds]
    return _solve(under, grounds, [_per_bend(*name) for name in bank.kernels], sums.alone[member])


def _squares(xy: FloatArray, others: FloatArray) -> FloatArray:
    """Squares of the distances of places that broadcast, [..., xy]."""
    return np.asarray((xy[..., 0] - others[..., 0]) ** 2 + (xy[..., 1] - others[..., 1]) ** 2)


def _without_ground(noise: FloatArray, with_load: FloatArray, xy: FloatArray, z: FloatArray) -> FloatArray:
    """Covariances of the heights, noise and wide plane, beside them c of each load and z: [tile, row, column]."""
    n = noise.shape[1]
    at = xy - xy.mean(axis=1, keepdims=True)
    plane = np.concatenate((np.ones((*z.shape, 1)), _PLANE_SLOPE * at), axis=-1)
    z = z - z.mean(axis=1, keepdims=True)
    z -= (plane @ (np.linalg.pinv(plane) @ z[..., None]))[..., 0]
    side = n + with_load.shape[1] + 1
    base = np.zeros((len(noise), side, side))
    base[:, :n, n:-1] = with_load.swapaxes(1, 2)
    base[:, :n, -1] = z
    base[:, np.arange(n, side), np.arange(n, side)] = _BIG
    base[:, :n, :n] = noise + _PLANE_M2 * (plane @ plane.transpose(0, 2, 1))
    return base


def _free_lines(along: FloatArray, same_row: BoolArray) -> FloatArray:
    """Covariances of heights on a free line for each row, [tile, place, place]."""
    on = along - along.mean(axis=1, keepdims=True)
    return np.asarray(_LINE_M2 * same_row * (1.0 + _LINE_SLOPE**2 * on[:, :, None] * on[:, None, :]))


def _solve(under: FloatArray, grounds: list[FloatArray], per_bend: list[float], alone: FloatArray) -> Evidence:
    """Evidence of the kinds of one bank: flat ground, and each of `grounds` with every amplitude.

    A few matrices at a time, in one place of memory, so that they stay in the processor's cache.
    """
    (tiles, side, _), n, loud, kernels = under.shape, grounds[0].shape[-1], len(AMPLITUDES_M), len(grounds)
    kinds, core = 1 + loud * kernels, slice(n - min(CORE, n), n)
    right, pivots = np.empty((tiles, kinds, n, side - n)), np.empty((tiles, kinds, min(CORE, n)))
    both, full = np.zeros((_SOLVED_AT_ONCE, 2, side, side)), np.empty((_SOLVED_AT_ONCE, loud, side, side))
    shares = [np.stack((np.ones(loud), one * AMPLITUDES_M**2), axis=-1) for one in per_bend]

    def keep(some: FloatArray, here: slice, first: int) -> None:
        _factor(some)
        of = slice(first, first + some.shape[1])
        right[here, of] = some[:, :, :n, n:]
        pivots[here, of] = np.einsum("tkii->tki", some)[..., core]

    for at in range(0, tiles, _SOLVED_AT_ONCE):
        here, few = slice(at, at + _SOLVED_AT_ONCE), min(_SOLVED_AT_ONCE, tiles - at)
        both[:few, 0] = under[here]
        for number in range(kernels):
            both[:few, 1, :n, :n] = grounds[number][here]
            np.matmul(shares[number], both[:few].reshape(few, 2, -1), out=full[:few].reshape(few, loud, -1))
            keep(full[:few], here, 1 + loud * number)
        keep(under[here, None], here, 0)
    load, z = right[..., :-1], right[..., -1]
    # Kinds last.
    error = np.einsum("tknm,tkn->tmk", load, z)
    left2 = np.maximum(alone[..., None] - np.einsum("tknm,tknm->tmk", load, load), 0.0)
    return Evidence(-2.0 * np.log(pivots).sum(axis=-1), (z[..., core] ** 2).sum(axis=-1), error, left2)


def _factor(full: FloatArray) -> None:
    """Turn the upper triangle of each matrix, [tile, kind, row, column], into its Cholesky factor, in its place.

    The library's factor of a stack copies each matrix to and fro, which is a third of its time.
    """
    if any(dpotrf(one.T, lower=1, clean=0, overwrite_a=1)[1] for one in full.reshape(-1, *full.shape[2:])):
        raise np.linalg.LinAlgError
