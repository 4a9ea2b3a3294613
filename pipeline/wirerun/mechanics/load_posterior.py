"""What of the load seen on each clip is the survey's error: the ground as a sum of signal and noise.

A survey's heights hold the ground and the survey's error. How much of a bend at a post is which depends on how rough
the ground is round it, and that the neighbouring posts tell, those of the neighbouring rows above all: the ground goes
on across rows, the error does not. Each kind of ground of a bank is a Gaussian process; the data weigh the kinds.

Symbols, for the n posts nearest a tile: z their heights above their plane of least squares, N the covariance of their
errors, B a wide plane, K = a^2 k(d)/D^2 a kind of ground, A = N + B + K. The load's error at a post is e = g . noise,
with g from `load_sensitivity` and c its covariances with the errors of the heights. Given the heights, e is normal:

    mean c' A^-1 z,  variance g C g - c' A^-1 c.

The weight of a kind is the density of the heights of the core (the posts nearest the tile's middle), given those of the
others of the neighbourhood, times a prior of the kinds that all tiles of the block teach (expectation, maximisation).
The Cholesky factor of A with c and z as further rows gives all of it at once.

References: C. E. Rasmussen, C. K. I. Williams, Gaussian Processes for Machine Learning, MIT Press, 2006, chapters 2 and
4 (kernels, predictions, mixtures of kinds by their evidence). Bank, sizes and tiles are choices, tried on grounds whose
truth is known (tests/benchmarks).
"""

from dataclasses import dataclass, replace
from typing import Final, NamedTuple

import numpy as np
from scipy.spatial import cKDTree

from wirerun.arrays import BoolArray, FloatArray, IntArray
from wirerun.mechanics.supports import Supports
from wirerun.mechanics.undulation import height_covariance, load_sensitivity

#: Fewer posts than this tell nothing of the ground between them: the plain error of the load is all there is. Choice.
LEAST_POSTS: Final = 12

# Posts taken together: the core of each tile, and the neighbourhoods, wide and near, that the kinds are tried in. A
# near one keeps a step 20 m off from making the plane beside it doubtful.
_CORE: Final = 12
_MOST_IN_TILE: Final = 12
_AIM_IN_TILE: Final = 9.0
# Amplitudes: rms second difference of the ground at spans of 6 m. [m]
_AMPLITUDE_STEP: Final = 2.5
_AMPLITUDES_M: Final = 0.005 * _AMPLITUDE_STEP ** np.arange(6)
#: Share of today's error that a better survey has, of which `LoadPosterior.left_better` tells.
BETTER: Final = 1.0 / _AMPLITUDE_STEP
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
_LEARNING_ROUNDS: Final = 50
# Kinds kept by themselves at each post, the weightiest first; the rest becomes one normal of their mean and variance.
_KEPT: Final = 15
# Further heights in a neighbourhood, to its posts: these must reach as far as without them.
_MORE_SHARE: Final = 0.4
_TILES_AT_ONCE: Final = 4
_NOISE_RATIOS: Final = np.exp(np.linspace(np.log(0.4), np.log(2.5), 23))


@dataclass(frozen=True, slots=True, eq=False)
class HeightErrors:
    """One-sigma errors of the ground heights of posts.

    Attributes
    ----------
    shared_m : [post], >= 0
        Error that goes with those of posts near by, as correlated as `correlation_m` says. [m]
    own_m : [post], >= 0
        Error that goes with no other's. [m]
    correlation_m : float
        Distance at which the correlation has fallen to 5 %; 0 for none. [m]
    smoothing_m : float
        Length over which each height is averaged along its row. [m]
    """

    shared_m: FloatArray
    own_m: FloatArray
    correlation_m: float
    smoothing_m: float


@dataclass(frozen=True, slots=True, eq=False)
class LoadPosterior:
    """Error of the load on each clip at a tension of 1 N: a mixture of normals. Axis kind is each post's own.

    Attributes
    ----------
    weight : [post, kind]
        Adds up to 1; NaN at row ends.
    error : [post, kind]
        Mean error: the load seen less this is the load expected. [N/N]
    left : [post, kind], >= 0
        Standard deviation that is left. [N/N]
    left_better : [post, kind], >= 0
        What heights with `BETTER` times the error would leave. [N/N]
    plain : [post]
        Standard deviation of the error with the heights of other posts left out. [N/N]
    noise_ratio : float
        Noise that the heights show over the one that was said, from 0.4 to 2.5; NaN with the plain error alone.
    noise_evidence : float
        By how much the log density of the heights is greater with that noise than with the one said; NaN likewise. [-]
    """

    weight: FloatArray
    error: FloatArray
    left: FloatArray
    left_better: FloatArray
    plain: FloatArray
    noise_ratio: float
    noise_evidence: float


class KnownHeights(NamedTuple):
    """Heights of other places that tell of the ground, too: no posts, or posts of another choice.

    Attributes
    ----------
    xy_m : [place, xy]
        Where they are. [m]
    along_m, z_m : [place]
        Distance along the row, and height. [m]
    row : [place]
        Row of each, numbered as the posts' rows are.
    errors : HeightErrors
        How far off they may be; correlation and smoothing as of the posts.
    """

    xy_m: FloatArray
    along_m: FloatArray
    z_m: FloatArray
    row: IntArray
    errors: HeightErrors


class _Bank(NamedTuple):
    """Kinds of ground tried on neighbourhoods of so many posts: kernels (kind, length [m]), and what rows share.

    Modes: the ground goes on across rows ("shared"), or each row has one of its own ("by row"), as on terraces between
    walls.
    """

    posts: int
    kernels: tuple[tuple[str, float], ...]
    modes: tuple[str, ...]


_KERNELS: Final = (("smooth", 8.0), ("smooth", 20.0), ("rough", 8.0))
_BANKS: Final = (
    _Bank(64, _KERNELS, ("shared", "by row")),
    _Bank(20, (("smooth", 8.0), ("rough", 8.0)), ("shared",)),
)


def _louder() -> IntArray:
    """For each kind the one with the next amplitude, itself where there is none.

    What noise s^2 N leaves of ground a^2 K is s^2 times what N leaves of ground (a/s)^2 K, so that the bank also tells
    what a survey with less noise would leave.
    """
    last = len(_AMPLITUDES_M) - 1
    # Flat ground has no amplitude, and stays what it is like the greatest one.
    of_mode = [[last, *list(range(last + 1)) * len(bank.kernels)] for bank in _BANKS for _ in bank.modes]
    amplitude = np.concatenate(of_mode)
    return np.arange(len(amplitude)) + (amplitude < last)


class _Tiles(NamedTuple):
    """Posts asked about, tile by tile: [tile, member], -1 for none, and the middle of each tile, [tile, xy]."""

    member: IntArray
    middle: FloatArray


class _Heights(NamedTuple):
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


class _Sums(NamedTuple):
    """Sums of the errors of three heights that are asked about: [sum, 3]; the middle one is where it is asked."""

    of: IntArray
    share: FloatArray

    @property
    def at(self) -> IntArray:
        """The height that each sum is about."""
        return self.of[:, 1]


class _Evidence(NamedTuple):
    """Of each tile and kind: log determinant and square of the core's density; each member's error and what is left.

    log_det, square : [tile, kind]; error, left2 : [tile, member, kind].
    """

    log_det: FloatArray
    square: FloatArray
    error: FloatArray
    left2: FloatArray


def load_posterior(
    xy_m: FloatArray, feet: Supports, errors: HeightErrors, more: KnownHeights | None = None
) -> LoadPosterior:
    """Error of the load on each clip at 1 N of tension, given the heights of all posts.

    Ground that bends at no post: what bends is noise, and nearly all of it is known to be.

    >>> rows, at = np.divmod(np.arange(200), 20)
    >>> xy = np.stack((6.0 * at, 2.5 * rows), axis=-1)
    >>> seen = Supports(xy[:, 0], np.random.default_rng(1).normal(0.0, 0.03, 200), rows)
    >>> errors = HeightErrors(np.full(200, 0.03), np.zeros(200), 0.0, 0.0)
    >>> known = load_posterior(xy, seen, errors)
    >>> left = np.sqrt(np.nansum(known.weight * known.left**2, axis=1))
    >>> bool(left[1] < 0.5 * known.plain[1])
    True

    Parameters
    ----------
    xy_m : shape (posts, 2)
        Where the posts stand on a plane. [m]
    feet : Supports
        Their distances along the wire, ground heights and rows, in the same order.
    errors : HeightErrors
        How far off the heights may be.
    more : KnownHeights, optional
        Further heights that tell of the ground.

    Returns
    -------
    LoadPosterior
        With the plain error alone where there are fewer than `LEAST_POSTS` posts or no error is said.
    """
    inner = feet.rows.inner
    sums = _Sums(inner[:, None] + np.arange(-1, 2), load_sensitivity(feet, 1.0)[inner])
    heights, correlation = _all_heights(xy_m, feet, errors, more)
    plain = np.full(feet.rows.size, np.nan)
    plain[inner] = np.sqrt(correlation.variance(sums))
    if len(xy_m) < LEAST_POSTS or not len(inner) or not (errors.shared_m + errors.own_m > 0.0).any():
        one, sigma = np.where(np.isnan(plain), np.nan, 1.0)[:, None], plain[:, None]
        return LoadPosterior(one, 0.0 * one, sigma, BETTER * sigma, plain, np.nan, np.nan)
    kept, evidence = _tell(sums, heights, correlation, feet.rows.size)
    return LoadPosterior(*kept, plain, *_noise_shown(evidence, min(_CORE, len(heights.z))))


def height_posterior(xy_m: FloatArray, feet: Supports, errors: HeightErrors) -> tuple[FloatArray, FloatArray]:
    """Mean error of each ground height, and one sigma of what is left of it, given all heights, shape (posts,) [m].

    Parameters
    ----------
    xy_m, feet, errors
        As for `load_posterior`.
    """
    every = np.arange(feet.rows.size)
    heights, correlation = _all_heights(xy_m, feet, errors, None)
    sums = _Sums(np.repeat(every[:, None], 3, axis=1), np.tile([0.0, 1.0, 0.0], (len(every), 1)))
    if len(every) < LEAST_POSTS or not (errors.shared_m + errors.own_m > 0.0).any():
        return np.zeros(len(every)), np.sqrt(correlation.variance(sums))
    (weight, error, left, _), _ = _tell(sums, heights, correlation, len(every))
    mean = (weight * error).sum(axis=1)
    return mean, np.sqrt(np.maximum((weight * (left**2 + error**2)).sum(axis=1) - mean**2, 0.0))


def _all_heights(
    xy_m: FloatArray, feet: Supports, errors: HeightErrors, more: KnownHeights | None
) -> tuple[_Heights, "_Correlation"]:
    """Heights of the posts and further ones, and how their errors go together."""
    heights = _Heights(xy_m, feet.x_m, feet.z_m, feet.rows.number, feet.rows.size)
    if more is not None:
        heights = _Heights(
            np.concatenate((xy_m, more.xy_m)),
            np.concatenate((feet.x_m, more.along_m)),
            np.concatenate((feet.z_m, more.z_m)),
            np.concatenate((feet.rows.number, more.row)),
            feet.rows.size,
        )
        errors = replace(
            errors,
            shared_m=np.concatenate((errors.shared_m, more.errors.shared_m)),
            own_m=np.concatenate((errors.own_m, more.errors.own_m)),
        )
    return heights, _Correlation(errors, heights.xy)


def _tell(
    sums: _Sums, heights: _Heights, correlation: "_Correlation", posts: int
) -> tuple[tuple[FloatArray, FloatArray, FloatArray, FloatArray], _Evidence]:
    """Weight, error, what is left and would be, of the weightiest kinds of each sum, at its post, [post, kind]."""
    tiles = _tiles(heights.xy[:posts], sums.at)
    evidence = _try_kinds(tiles, heights, sums, correlation)
    weight = _learnt_weights(0.5 * evidence.log_det - 0.5 * evidence.square)[0]
    return _keep_weightiest(tiles, weight, evidence, sums.at, posts), evidence


class _Correlation:
    """Covariances of the errors of heights, by distance."""

    def __init__(self, errors: HeightErrors, xy_m: FloatArray) -> None:
        self._errors, self._xy = errors, xy_m
        self._variance = float(height_covariance(0.0, 1.0, errors.correlation_m, errors.smoothing_m))

    def between(self, posts: IntArray, others: IntArray) -> FloatArray:
        """Covariance of posts and others, which broadcast [m2]."""
        return self.at(np.hypot(*np.moveaxis(self._xy[posts] - self._xy[others], -1, 0)), posts, others)

    def at(self, distance_m: FloatArray, posts: IntArray, others: IntArray) -> FloatArray:
        """The same where the distances are known."""
        errors = self._errors
        share = height_covariance(distance_m, 1.0, errors.correlation_m, errors.smoothing_m) / self._variance
        shared = errors.shared_m[posts] * errors.shared_m[others] * share
        return np.asarray(shared + np.where(posts == others, errors.own_m[posts] ** 2, 0.0))

    def variance(self, sums: _Sums) -> FloatArray:
        """Variance of each sum, g C g."""
        cov = self.between(sums.of[:, :, None], sums.of[:, None, :])
        return np.asarray(np.maximum(np.einsum("pi,pij,pj->p", sums.share, cov, sums.share), 0.0))


def _tiles(xy_m: FloatArray, at: IntArray) -> _Tiles:
    """Square tiles with some nine of the posts asked about each, a crowded one taken as several."""
    tree = cKDTree(xy_m)
    near = min(10, len(xy_m))
    radius = float(np.median(tree.query(xy_m[at], k=near)[0][:, -1]))
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
    return _Tiles(member, places.sum(axis=1) / some.sum(axis=1)[:, None])


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


def _try_kinds(tiles: _Tiles, heights: _Heights, sums: _Sums, correlation: _Correlation) -> _Evidence:
    """Every kind of ground tried on every tile, in both neighbourhoods."""
    parts = [_try_bank(bank, tiles, heights, sums, correlation) for bank in _BANKS]
    return _Evidence(*(np.concatenate(part, axis=-1) for part in zip(*parts, strict=True)))


def _try_bank(bank: _Bank, tiles: _Tiles, heights: _Heights, sums: _Sums, correlation: _Correlation) -> _Evidence:
    """Every kind of one bank tried on every tile, a few tiles at a time."""
    near = heights.nearest(tiles.middle, bank.posts)
    core, others = np.sort(near[:, :_CORE], axis=1), np.sort(near[:, _CORE:], axis=1)
    hood = np.concatenate((others, core), axis=1)
    some = [slice(at, at + _TILES_AT_ONCE) for at in range(0, len(hood), _TILES_AT_ONCE)]
    made = [_try_on(tiles.member[here], hood[here], heights, sums, correlation, bank) for here in some]
    return _Evidence(*(np.concatenate(part) for part in zip(*made, strict=True)))


def _try_on(
    member: IntArray, hood: IntArray, heights: _Heights, sums: _Sums, correlation: _Correlation, bank: _Bank
) -> _Evidence:
    """Every kind on a few tiles with neighbourhoods [tile, place], the core's places last."""
    n = hood.shape[1]
    at = heights.xy[hood] - heights.xy[hood].mean(axis=1, keepdims=True)
    distance = np.hypot(*np.moveaxis(at[:, :, None] - at[:, None, :], -1, 0))
    noise = correlation.at(distance, hood[:, :, None], hood[:, None, :])
    nugget = _NUGGET * np.einsum("tii->ti", noise).mean(axis=1) + _LEAST_NOISE_M2
    noise += nugget[:, None, None] * np.eye(n)
    plane = np.concatenate((np.ones((*hood.shape, 1)), _PLANE_SLOPE * at), axis=-1)
    z = heights.z[hood] - heights.z[hood].mean(axis=1, keepdims=True)
    z -= (plane @ (np.linalg.pinv(plane) @ z[..., None]))[..., 0]
    asked = _Sums(sums.of[member], sums.share[member])
    with_load = np.einsum(
        "tmkn,tmk->tmn", correlation.between(asked.of[..., None], hood[:, None, None, :]), asked.share
    )
    alone = correlation.variance(_Sums(asked.of.reshape(-1, 3), asked.share.reshape(-1, 3))).reshape(member.shape)
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
    return _Evidence(*(np.concatenate(part, axis=-1) for part in zip(*made, strict=True)))


def _in_mode(
    base: FloatArray, grounds: list[FloatArray], line: FloatArray | None, same_row: BoolArray, alone: FloatArray
) -> list[_Evidence]:
    """Flat ground, then each kernel with all amplitudes; a free line for each row, and ground of its own, if given."""
    n = same_row.shape[1]
    under = base.copy()
    if line is not None:
        under[:, :n, :n] += line
    kinds = [under[:, None]]
    scale = (_AMPLITUDES_M**2)[:, None, None]
    for ground in grounds:
        of_row = ground if line is None else ground * same_row[:, None]
        full = np.repeat(under[:, None], len(_AMPLITUDES_M), axis=1)
        full[:, :, :n, :n] += scale * of_row
        kinds.append(full)
    return [_solve(full, n, alone) for full in kinds]


def _solve(full: FloatArray, n: int, alone: FloatArray) -> _Evidence:
    """Evidence of the kinds of `full`, [tile, kind, ...]: covariance of the heights, then c of each load, then z."""
    factor = np.linalg.cholesky(full)
    core = slice(n - min(_CORE, n), n)
    load, z = factor[:, :, n:-1, :n], factor[:, :, -1, :n]
    log_det = -2.0 * np.log(np.einsum("tkii->tki", factor)[..., core]).sum(axis=-1)
    square = (z[..., core] ** 2).sum(axis=-1)
    error = np.einsum("tkmn,tkn->tmk", load, z)
    left2 = alone[..., None] - np.einsum("tkmn,tkmn->tmk", load, load)
    return _Evidence(log_det, square, error, np.maximum(left2, 0.0))


def _learnt_weights(log_density: FloatArray) -> tuple[FloatArray, float]:
    """Weight of each kind on each tile, [tile, kind], with the likeliest prior; and the log density of all heights."""
    best = log_density.max(axis=1, keepdims=True)
    density = np.exp(log_density - best)
    prior = np.full(density.shape[1], 1.0 / density.shape[1])
    for _ in range(_LEARNING_ROUNDS):
        weight = prior * density
        weight /= weight.sum(axis=1, keepdims=True)
        prior = weight.mean(axis=0)
    whole = prior * density
    total = whole.sum(axis=1, keepdims=True)
    return whole / total, float((np.log(total) + best).sum())


def _keep_weightiest(
    tiles: _Tiles, weight: FloatArray, evidence: _Evidence, at: IntArray, posts: int
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Weight, error, what is left and would be, of the weightiest kinds of each post, and of all others as one normal.

    What a better survey would leave of the others is their mean variance: it would tell them apart.
    """
    order = np.argsort(-weight, axis=1, kind="stable")
    kept = order[:, :_KEPT]
    of_kept = np.take_along_axis(weight, kept, axis=1)[:, None]
    lesser = weight.copy()
    np.put_along_axis(lesser, kept, 0.0, axis=1)
    rest = np.maximum(lesser.sum(axis=1), np.finfo(np.float64).tiny)[:, None]
    mean = np.einsum("tmk,tk->tm", evidence.error, lesser) / rest
    second = np.einsum("tmk,tk->tm", evidence.left2 + evidence.error**2, lesser) / rest
    better2 = np.minimum(BETTER**2 * evidence.left2[..., _louder()], evidence.left2)
    better_rest = np.einsum("tmk,tk->tm", better2, lesser) / rest
    one = np.ones((*tiles.member.shape, 1))
    kinds = (
        np.concatenate((of_kept * one, rest[..., None] * one), axis=-1),
        np.concatenate((np.take_along_axis(evidence.error, kept[:, None], axis=2), mean[..., None]), axis=-1),
        np.concatenate(
            (
                np.sqrt(np.take_along_axis(evidence.left2, kept[:, None], axis=2)),
                np.sqrt(np.maximum(second - mean**2, 0.0))[..., None],
            ),
            axis=-1,
        ),
        np.sqrt(np.concatenate((np.take_along_axis(better2, kept[:, None], axis=2), better_rest[..., None]), axis=-1)),
    )
    some = tiles.member >= 0
    made = np.full((4, posts, kinds[0].shape[-1]), np.nan)
    made[:, at[tiles.member[some]]] = [kind[some] for kind in kinds]
    return made[0], made[1], made[2], made[3]


def _noise_shown(evidence: _Evidence, core: int) -> tuple[float, float]:
    """Noise over the said one at which the heights are likeliest, within what is tried, and how much likelier.

    With noise s^2 N and ground a^2 K, the matrix is s^2 (N + (a/s)^2 K): the bank's own factors serve for every s, with
    its amplitudes s times as large.
    """

    def density(ratio: float) -> float:
        log_density = 0.5 * evidence.log_det - core * np.log(ratio) - 0.5 * evidence.square / ratio**2
        return _learnt_weights(log_density)[1]

    total = np.array([density(ratio) for ratio in _NOISE_RATIOS])
    best = int(np.argmax(total))
    shift = 0.0
    if 0 < best < len(total) - 1:
        low, middle, high = total[best - 1 : best + 2]
        shift = 0.5 * (low - high) / (low - 2.0 * middle + high)
    step = np.log(_NOISE_RATIOS[1] / _NOISE_RATIOS[0])
    return float(_NOISE_RATIOS[best] * np.exp(step * shift)), float(total[best] - density(1.0))
