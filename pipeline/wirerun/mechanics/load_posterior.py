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

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, NamedTuple

import numpy as np

from wirerun.arrays import FloatArray, IntArray
from wirerun.mechanics.ground_kinds import (
    AMPLITUDE_STEP,
    CORE,
    MORE_SHARE,
    Evidence,
    Heights,
    Sums,
    Tiles,
    louder,
    tiles_of,
    try_kinds,
)
from wirerun.mechanics.height_errors import ErrorCovariance, HeightErrors
from wirerun.mechanics.supports import Supports
from wirerun.mechanics.undulation import load_sensitivity

#: Fewer posts than this tell nothing of the ground between them: the plain error of the load is all there is. Choice.
LEAST_POSTS: Final = 12

#: Share of today's error that a better survey has, of which `LoadPosterior.left_better` tells.
BETTER: Final = 1.0 / AMPLITUDE_STEP
_LEARNING_ROUNDS: Final = 50
# Kinds kept by themselves at each post, the weightiest first; the rest becomes one normal of their mean and variance.
_KEPT: Final = 15
_NOISE_RATIOS: Final = np.exp(np.linspace(np.log(0.4), np.log(2.5), 23))


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
        Standard deviation that is left, ground that no height shows included. [N/N]
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
        How far off they may be; covariance and smoothing as of the posts.
    """

    xy_m: FloatArray
    along_m: FloatArray
    z_m: FloatArray
    row: IntArray
    errors: HeightErrors

    def joined(self, more: "KnownHeights | None") -> "KnownHeights":
        """Return these and more of them."""
        if more is None:
            return self
        xy, along, z, row = (np.concatenate(pair) for pair in zip(self[:-1], more[:-1], strict=True))
        return KnownHeights(xy, along, z, row, self.errors.joined(more.errors))


class Choice(NamedTuple):
    """A choice of posts among places whose heights are known.

    Attributes
    ----------
    feet : Supports
        The posts: distances along the wire, ground heights and rows.
    place : [post]
        Which place each post is.
    """

    feet: Supports
    place: IntArray


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
    heights, errors = _all_heights(xy_m, feet, errors, more)
    return _posteriors(heights, errors, (Choice(feet, np.arange(feet.rows.size)),))[0]


def load_posteriors(known: KnownHeights, choices: Sequence[Choice]) -> list[LoadPosterior]:
    """Error of the loads of several choices of posts on one ground, all by one weighing of the evidence.

    Which posts are weighed together, and by which neighbours, moves each probability by a little. Here that is the same
    for all choices, so that what they differ by is their ground.

    Parameters
    ----------
    known : KnownHeights
        Heights of all places, each place once.
    choices : sequence of Choice
        The posts of each choice.
    """
    heights = Heights(known.xy_m, known.along_m, known.z_m, known.row, len(known.z_m), 1.0 + MORE_SHARE)
    return _posteriors(heights, known.errors, choices)


def _posteriors(heights: Heights, errors: HeightErrors, choices: Sequence[Choice]) -> list[LoadPosterior]:
    """Error of the loads of each choice of posts; errors of all heights."""
    inner = [feet.rows.inner for feet, _ in choices]
    of = [place[here[:, None] + np.arange(-1, 2)] for (_, place), here in zip(choices, inner, strict=True)]
    share = [load_sensitivity(feet, 1.0)[here] for (feet, _), here in zip(choices, inner, strict=True)]
    covariance = ErrorCovariance(errors, heights.xy)
    sums = _sums(np.concatenate(of), np.concatenate(share), covariance)
    plain, unseen = np.sqrt(sums.alone), np.zeros(len(sums.of))
    if errors.unseen_m is not None:
        unseen = np.sqrt((sums.share**2 * errors.unseen_m[sums.of] ** 2).sum(axis=1))
    told, shown = np.stack((np.ones(len(plain)), 0.0 * plain, plain, BETTER * plain))[..., None], (np.nan, np.nan)
    if heights.posts >= LEAST_POSTS and len(plain) and (errors.shared_m + errors.own_m > 0.0).any():
        told, evidence = _tell(sums, heights, covariance)
        shown = _noise_shown(evidence, min(CORE, len(heights.z)))
    told[2:] = np.hypot(told[2:], unseen[:, None])
    ends = np.cumsum([len(here) for here in inner])[:-1]
    parts = zip(choices, np.split(told, ends, axis=1), np.split(np.hypot(plain, unseen), ends), strict=True)
    return [_at_posts(feet, mine, alone, shown) for (feet, _), mine, alone in parts]


def _at_posts(feet: Supports, told: FloatArray, plain: FloatArray, shown: tuple[float, float]) -> LoadPosterior:
    """What was told of the inner posts, at all; NaN at row ends."""
    size, inner = feet.rows.size, feet.rows.inner
    full, whole = np.full((4, size, told.shape[-1]), np.nan), np.full(size, np.nan)
    full[:, inner], whole[inner] = told, plain
    return LoadPosterior(full[0], full[1], full[2], full[3], whole, *shown)


def height_posterior(xy_m: FloatArray, feet: Supports, errors: HeightErrors) -> tuple[FloatArray, FloatArray]:
    """Mean error of each ground height, and one sigma of what is left of it, given all heights, shape (posts,) [m].

    Parameters
    ----------
    xy_m, feet, errors
        As for `load_posterior`.
    """
    every = np.arange(feet.rows.size)
    heights, errors = _all_heights(xy_m, feet, errors, None)
    covariance = ErrorCovariance(errors, heights.xy)
    sums = _sums(np.repeat(every[:, None], 3, axis=1), np.tile([0.0, 1.0, 0.0], (len(every), 1)), covariance)
    if len(every) < LEAST_POSTS or not (errors.shared_m + errors.own_m > 0.0).any():
        return np.zeros(len(every)), np.sqrt(sums.alone)
    (weight, error, left, _), _ = _tell(sums, heights, covariance)
    mean = (weight * error).sum(axis=1)
    variance = np.maximum((weight * (left**2 + error**2)).sum(axis=1) - mean**2, 0.0)
    return mean, np.sqrt(variance) if errors.unseen_m is None else np.hypot(np.sqrt(variance), errors.unseen_m)


def _sums(of: IntArray, share: FloatArray, covariance: ErrorCovariance) -> Sums:
    return Sums(of, share, covariance.of_sums(of, share))


def _all_heights(
    xy_m: FloatArray, feet: Supports, errors: HeightErrors, more: KnownHeights | None
) -> tuple[Heights, HeightErrors]:
    """Heights of the posts and further ones, and their errors."""
    all_of = KnownHeights(xy_m, feet.x_m, feet.z_m, feet.rows.number, errors).joined(more)
    return Heights(*all_of[:-1], feet.rows.size), all_of.errors


def _tell(sums: Sums, heights: Heights, covariance: ErrorCovariance) -> tuple[FloatArray, Evidence]:
    """Weight, error, what is left and would be, of the weightiest kinds of each sum, [4, sum, kind]."""
    tiles = tiles_of(heights.xy[: heights.posts], sums.at)
    evidence = try_kinds(tiles, heights, sums, covariance)
    weight = _learnt_weights(0.5 * evidence.log_det - 0.5 * evidence.square)[0]
    return _keep_weightiest(tiles, weight, evidence), evidence


def _learnt_weights(log_density: FloatArray) -> tuple[FloatArray, float]:
    """Weight of each kind on each tile, [tile, kind], with the likeliest prior; and the log density of all heights."""
    best = log_density.max(axis=1, keepdims=True)
    density = np.exp(log_density - best)
    prior = np.full(density.shape[1], 1.0 / density.shape[1])
    for _ in range(_LEARNING_ROUNDS):
        prior *= (1.0 / (density @ prior)) @ density / len(density)
    whole = prior * density
    total = whole.sum(axis=1, keepdims=True)
    return whole / total, float((np.log(total) + best).sum())


def _keep_weightiest(tiles: Tiles, weight: FloatArray, evidence: Evidence) -> FloatArray:
    """Weight, error, what is left and would be, of the weightiest kinds of each sum, and of all others as one normal.

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
    better2 = np.minimum(BETTER**2 * evidence.left2[..., louder()], evidence.left2)
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
    made = np.empty((4, int(some.sum()), kinds[0].shape[-1]))
    made[:, tiles.member[some]] = [kind[some] for kind in kinds]
    return made


def _noise_shown(evidence: Evidence, core: int) -> tuple[float, float]:
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
