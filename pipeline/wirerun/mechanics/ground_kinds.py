"""Kinds of ground tried on the heights of a block, tile by tile: how likely each makes them, what errors it leaves.

Symbols and formulas as in `load_posterior`, which weighs the kinds by what is found here.
"""

from typing import Final, NamedTuple

import numpy as np
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
_SOLVED_AT_ONCE: Final = 2


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
    """Sums of the errors of three heights that are asked about: [sum, 3]; the middle one is where it is asked."""

    of: IntArray
    share: FloatArray

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
    u = distance_m / length_m
    if kind == "smooth":
        return np.asarray(np.exp(-0.5 * u * u))
    v = np.sqrt(5.0) * u
    return np.asarray((1.0 + v + v * v / 3.0) * np.exp(-v))


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
    distance = np.hypot(*np.moveaxis(xy[:, :, None] - xy[:, None, :], -1, 0))
    noise = covariance.at(distance, hood[:, :, None], hood[:, None, :])
    nugget = _NUGGET * np.einsum("tii->ti", noise).mean(axis=1) + _LEAST_NOISE_M2
    noise += nugget[:, None, None] * np.eye(n)
    asked = Sums(sums.of[member], sums.share[member])
    with_load = np.einsum("tmkn,tmk->tmn", covariance.between(asked.of[..., None], hood[:, None, None, :]), asked.share)
    alone = covariance.of_sums(asked.of.reshape(-1, 3), asked.share.reshape(-1, 3)).reshape(member.shape)
    under, share = _without_ground(noise, with_load, xy, heights.z[hood]), 1.0
    if bank.by_row:
        row = heights.row[hood]
        share = row[:, :, None] == row[:, None, :]
        under[:, :n, :n] += _free_lines(heights.along[hood], share)
    grounds = [_per_bend(*name) * _kernel(*name, distance) * share for name in bank.kernels]
    made = []
    for at in range(0, len(hood), _SOLVED_AT_ONCE):
        here = slice(at, at + _SOLVED_AT_ONCE)
        solved = [_solve(under[here, None], n, alone[here])]
        solved += [_solve(_on_ground(under[here], ground[here]), n, alone[here]) for ground in grounds]
        made.append(Evidence(*(np.concatenate(part, axis=-1) for part in zip(*solved, strict=True))))
    return Evidence(*(np.concatenate(part) for part in zip(*made, strict=True)))


def _without_ground(noise: FloatArray, with_load: FloatArray, xy: FloatArray, z: FloatArray) -> FloatArray:
    """Covariances of the heights, noise and wide plane, then c of each load, then z: [tile, row, column]."""
    n = noise.shape[1]
    at = xy - xy.mean(axis=1, keepdims=True)
    plane = np.concatenate((np.ones((*z.shape, 1)), _PLANE_SLOPE * at), axis=-1)
    z = z - z.mean(axis=1, keepdims=True)
    z -= (plane @ (np.linalg.pinv(plane) @ z[..., None]))[..., 0]
    side = n + with_load.shape[1] + 1
    base = np.zeros((len(noise), side, side))
    base[:, n:-1, :n] = with_load
    base[:, -1, :n] = z
    base[:, np.arange(n, side), np.arange(n, side)] = _BIG
    base[:, :n, :n] = noise + _PLANE_M2 * (plane @ plane.transpose(0, 2, 1))
    return base


def _free_lines(along: FloatArray, same_row: BoolArray) -> FloatArray:
    """Covariances of heights on a free line for each row, [tile, place, place]."""
    on = along - along.mean(axis=1, keepdims=True)
    return np.asarray(_LINE_M2 * same_row * (1.0 + _LINE_SLOPE**2 * on[:, :, None] * on[:, None, :]))


def _on_ground(under: FloatArray, ground: FloatArray) -> FloatArray:
    """Covariances with the ground's added to the heights', one kind for each amplitude."""
    (tiles, side, _), n, kinds = under.shape, ground.shape[-1], len(AMPLITUDES_M)
    both = np.zeros((tiles, 2, side, side))
    both[:, 0] = under
    both[:, 1, :n, :n] = ground
    share = np.stack((np.ones(kinds), AMPLITUDES_M**2), axis=-1)
    return np.asarray((share @ both.reshape(tiles, 2, -1)).reshape(tiles, kinds, side, side))


def _solve(full: FloatArray, n: int, alone: FloatArray) -> Evidence:
    """Evidence of the kinds of `full`, [tile, kind, ...]: covariance of the heights, then c of each load, then z."""
    factor = np.linalg.cholesky(full)
    core = slice(n - min(CORE, n), n)
    load, z = factor[:, :, n:-1, :n], factor[:, :, -1, :n]
    log_det = -2.0 * np.log(np.einsum("tkii->tki", factor)[..., core]).sum(axis=-1)
    square = (z[..., core] ** 2).sum(axis=-1)
    error = (load @ z[..., None])[..., 0]
    left2 = alone[:, None] - np.einsum("tkmn,tkmn->tkm", load, load)
    # Kinds last.
    return Evidence(log_det, square, error.transpose(0, 2, 1), np.maximum(left2, 0.0).transpose(0, 2, 1))
