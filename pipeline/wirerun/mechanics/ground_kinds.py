"""Kinds of ground tried on the heights of a block, tile by tile: how likely each makes them, what errors it leaves.

Symbols and formulas as in `load_posterior`, which weighs the kinds by what is found here.
"""

from typing import Final, NamedTuple

import numpy as np
from scipy.spatial import cKDTree

from wirerun.arrays import BoolArray, FloatArray, IntArray
from wirerun.mechanics.height_errors import ErrorCovariance

# Posts taken together: the core of each tile, and the neighbourhoods, wide and near, that the kinds are tried in. A
# near one keeps a step 20 m off from making the plane beside it doubtful.
CORE: Final = 12
_MOST_IN_TILE: Final = 12
_AIM_IN_TILE: Final = 9.0
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
# Further heights in a neighbourhood, to its posts: these must reach as far as without them.
_MORE_SHARE: Final = 0.4
_TILES_AT_ONCE: Final = 4


class Bank(NamedTuple):
    """Kinds of ground tried on neighbourhoods of so many posts: kernels (kind, length [m]), and what rows share.

    Modes: the ground goes on across rows ("shared"), or each row has one of its own ("by row"), as on terraces between
    walls.
    """

    posts: int
    kernels: tuple[tuple[str, float], ...]
    modes: tuple[str, ...]


_KERNELS: Final = (("smooth", 8.0), ("smooth", 20.0), ("rough", 8.0))
BANKS: Final = (
    Bank(64, _KERNELS, ("shared", "by row")),
    Bank(20, (("smooth", 8.0), ("rough", 8.0)), ("shared",)),
)


def louder() -> IntArray:
    """For each kind the one with the next amplitude, itself where there is none.

    What noise s^2 N leaves of ground a^2 K is s^2 times what N leaves of ground (a/s)^2 K, so that the bank also tells
    what a survey with less noise would leave.
    """
    last = len(AMPLITUDES_M) - 1
    # Flat ground has no amplitude, and stays what it is like the greatest one.
    of_mode = [[last, *list(range(last + 1)) * len(bank.kernels)] for bank in BANKS for _ in bank.modes]
    amplitude = np.concatenate(of_mode)
    return np.arange(len(amplitude)) + (amplitude < last)


class Tiles(NamedTuple):
    """Posts asked about, tile by tile: [tile, member], -1 for none, and the middle of each tile, [tile, xy]."""

    member: IntArray
    middle: FloatArray


class Heights(NamedTuple):
    """All heights that tell of the ground, posts first and so many: [place, xy], [place], ..."""

    xy: FloatArray
    along: FloatArray
    z: FloatArray
    row: IntArray
    posts: int

    def nearest(self, middle: FloatArray, posts: int) -> IntArray:
        """The nearest posts to each middle, and further heights, not so many: the nearest first, [tile, place]."""
        parts = []
        for begin, end, most in ((0, self.posts, posts), (self.posts, len(self.z), round(_MORE_SHARE * posts))):
            if end > begin:
                many = np.arange(1, min(most, end - begin) + 1)
                found = cKDTree(self.xy[begin:end]).query(middle, k=many)
                parts.append((found[0], found[1] + begin))
        apart, place = (np.concatenate(part, axis=1) for part in zip(*parts, strict=True))
        return np.asarray(np.take_along_axis(place, np.argsort(apart, axis=1, kind="stable"), axis=1))


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
    """Square tiles with some nine of the posts asked about each, a crowded one taken as several."""
    tree = cKDTree(xy_m)
    near = min(10, len(xy_m))
    radius = float(np.median(np.asarray(tree.query(xy_m[at], k=near)[0])[:, -1]))
    side = max(np.sqrt(np.pi * radius**2 * _AIM_IN_TILE / near), 1e-3)
    place = np.floor((xy_m[at] - xy_m.min(axis=0)) / side).astype(np.int64)
    # By place within the tile, so that the order of the posts decides nothing.
    order = np.lexsort((xy_m[at, 1], xy_m[at, 0], place[:, 1], place[:, 0]))
    _, begin, count = np.unique(place[order], axis=0, return_index=True, return_counts=True)
    rank = np.arange(len(order)) - np.repeat(begin, count)
    parts = -(-count // _MOST_IN_TILE)
    share = np.repeat(-(-count // parts), count)
    tile = np.repeat(np.cumsum(parts) - parts, count) + rank // share
    member = np.full((int(parts.sum()), _MOST_IN_TILE), -1)
    member[tile, rank % share] = order
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
    """Every kind of ground tried on every tile, in both neighbourhoods."""
    parts = [_try_bank(bank, tiles, heights, sums, covariance) for bank in BANKS]
    return Evidence(*(np.concatenate(part, axis=-1) for part in zip(*parts, strict=True)))


def _try_bank(bank: Bank, tiles: Tiles, heights: Heights, sums: Sums, covariance: ErrorCovariance) -> Evidence:
    """Every kind of one bank tried on every tile, a few tiles at a time."""
    near = heights.nearest(tiles.middle, bank.posts)
    core, others = np.sort(near[:, :CORE], axis=1), np.sort(near[:, CORE:], axis=1)
    hood = np.concatenate((others, core), axis=1)
    some = [slice(at, at + _TILES_AT_ONCE) for at in range(0, len(hood), _TILES_AT_ONCE)]
    made = [_try_on(tiles.member[here], hood[here], heights, sums, covariance, bank) for here in some]
    return Evidence(*(np.concatenate(part) for part in zip(*made, strict=True)))


def _try_on(
    member: IntArray, hood: IntArray, heights: Heights, sums: Sums, covariance: ErrorCovariance, bank: Bank
) -> Evidence:
    """Every kind on a few tiles with neighbourhoods [tile, place], the core's places last."""
    n = hood.shape[1]
    at = heights.xy[hood] - heights.xy[hood].mean(axis=1, keepdims=True)
    distance = np.hypot(*np.moveaxis(at[:, :, None] - at[:, None, :], -1, 0))
    noise = covariance.at(distance, hood[:, :, None], hood[:, None, :])
    nugget = _NUGGET * np.einsum("tii->ti", noise).mean(axis=1) + _LEAST_NOISE_M2
    noise += nugget[:, None, None] * np.eye(n)
    plane = np.concatenate((np.ones((*hood.shape, 1)), _PLANE_SLOPE * at), axis=-1)
    z = heights.z[hood] - heights.z[hood].mean(axis=1, keepdims=True)
    z -= (plane @ (np.linalg.pinv(plane) @ z[..., None]))[..., 0]
    asked = Sums(sums.of[member], sums.share[member])
    with_load = np.einsum("tmkn,tmk->tmn", covariance.between(asked.of[..., None], hood[:, None, None, :]), asked.share)
    alone = covariance.of_sums(asked.of.reshape(-1, 3), asked.share.reshape(-1, 3)).reshape(member.shape)
    side = n + member.shape[1] + 1
    base = np.zeros((len(hood), side, side))
    base[:, n:-1, :n] = with_load
    base[:, -1, :n] = z
    base[:, np.arange(n, side), np.arange(n, side)] = _BIG
    base[:, :n, :n] = noise + _PLANE_M2 * (plane @ plane.transpose(0, 2, 1))
    along = heights.along[hood] - heights.along[hood].mean(axis=1, keepdims=True)
    same = heights.row[hood]
    same_row = same[:, :, None] == same[:, None, :]
    line = _LINE_M2 * same_row * (1.0 + _LINE_SLOPE**2 * along[:, :, None] * along[:, None, :])
    grounds = [_per_bend(*name) * _kernel(*name, distance)[:, None] for name in bank.kernels]
    made = [
        each
        for mode in bank.modes
        for each in _in_mode(base, grounds, line if mode == "by row" else None, same_row, alone)
    ]
    return Evidence(*(np.concatenate(part, axis=-1) for part in zip(*made, strict=True)))


def _in_mode(
    base: FloatArray, grounds: list[FloatArray], line: FloatArray | None, same_row: BoolArray, alone: FloatArray
) -> list[Evidence]:
    """Flat ground, then each kernel with all amplitudes; a free line for each row, and ground of its own, if given."""
    n = same_row.shape[1]
    under = base.copy()
    if line is not None:
        under[:, :n, :n] += line
    kinds = [under[:, None]]
    kinds += [_on_ground(under, ground if line is None else ground * same_row[:, None]) for ground in grounds]
    return [_solve(full, n, alone) for full in kinds]


def _on_ground(under: FloatArray, ground: FloatArray) -> FloatArray:
    """Covariances with the ground's added to the heights', one kind for each amplitude."""
    n = ground.shape[-1]
    full = np.repeat(under[:, None], len(AMPLITUDES_M), axis=1)
    full[:, :, :n, :n] += (AMPLITUDES_M**2)[:, None, None] * ground
    return full


def _solve(full: FloatArray, n: int, alone: FloatArray) -> Evidence:
    """Evidence of the kinds of `full`, [tile, kind, ...]: covariance of the heights, then c of each load, then z."""
    factor = np.linalg.cholesky(full)
    core = slice(n - min(CORE, n), n)
    load, z = factor[:, :, n:-1, :n], factor[:, :, -1, :n]
    log_det = -2.0 * np.log(np.einsum("tkii->tki", factor)[..., core]).sum(axis=-1)
    square = (z[..., core] ** 2).sum(axis=-1)
    error = np.einsum("tkmn,tkn->tmk", load, z)
    left2 = alone[..., None] - np.einsum("tkmn,tkmn->tmk", load, load)
    return Evidence(log_det, square, error, np.maximum(left2, 0.0))
