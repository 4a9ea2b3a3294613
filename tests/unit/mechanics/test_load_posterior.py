"""What of a load is the survey's error, as all heights tell: against dense linear algebra, and by its nature."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.special import ndtr
from scipy.stats import multivariate_normal
from wirerun.arrays import FloatArray
from wirerun.mechanics import ground_kinds
from wirerun.mechanics import load_posterior as load_posterior_module
from wirerun.mechanics.height_errors import HeightErrors
from wirerun.mechanics.load_posterior import (
    BETTER,
    LEAST_POSTS,
    Choice,
    KnownHeights,
    LoadPosterior,
    height_posterior,
    load_posterior,
    load_posteriors,
)
from wirerun.mechanics.supports import Supports
from wirerun.mechanics.undulation import height_covariance, load_sensitivity, load_sigma, taut_clip_load
from wirerun.mechanics.wire import Wire

ROWS, POSTS, SIGMA_M = 12, 21, 0.03
ROW, AT = np.divmod(np.arange(ROWS * POSTS), POSTS)
XY = np.stack((6.0 * AT, 2.5 * ROW), axis=-1)
INNER = (AT > 0) & (AT < POSTS - 1)


def errors(sigma_m: float = SIGMA_M, correlation_m: float = 3.0, smoothing_m: float = 1.0) -> HeightErrors:
    """Errors of a smoothed survey, one sigma of each height as the covariance has it at no distance."""
    shared = np.sqrt(height_covariance(0.0, sigma_m, correlation_m, smoothing_m))
    return HeightErrors(np.full(len(XY), float(shared)), np.zeros(len(XY)), correlation_m, smoothing_m)


def noise(seed: int, sigma_m: float = SIGMA_M) -> FloatArray:
    """Errors of the heights, as correlated as they are said to be."""
    apart = np.hypot(*np.moveaxis(XY[:, None] - XY[None], -1, 0))
    cov = height_covariance(apart, sigma_m, 3.0, 1.0)
    return np.random.default_rng(seed).multivariate_normal(np.zeros(len(XY)), cov, method="cholesky")


def need(ground: FloatArray, known: LoadPosterior, tension_n: float = 534.0, hold_n: float = 5.0) -> FloatArray:
    """Probability that a taut wire pulls up by more than a clip holds, at the inner posts."""
    load = taut_clip_load(Supports(XY[:, 0], ground, ROW), Wire.from_diameter(2.5), tension_n)[INNER]
    expected = load[:, None] - tension_n * known.error[INNER]
    of_kind = ndtr((-hold_n - expected) / np.maximum(tension_n * known.left[INNER], 1e-9))
    return np.asarray((known.weight[INNER] * of_kind).sum(axis=1))


def posterior(ground: FloatArray, given: HeightErrors | None = None) -> LoadPosterior:
    return load_posterior(XY, Supports(XY[:, 0], ground, ROW), errors() if given is None else given)


def test_on_a_plane_what_bends_is_known_to_be_noise() -> None:
    """A slope of 12 %, 3 cm of noise: by the error of each load alone a tenth of the posts would be planned."""
    ground = 0.12 * XY[:, 0] + 0.05 * XY[:, 1] + noise(3)
    known = posterior(ground)
    alone = load_sigma(Supports(XY[:, 0], ground, ROW), 534.0, SIGMA_M, 3.0, 1.0)[INNER]
    load = taut_clip_load(Supports(XY[:, 0], ground, ROW), Wire.from_diameter(2.5), 534.0)[INNER]
    assert (ndtr((-5.0 - load) / alone) > 0.5).mean() > 0.05
    assert (need(ground, known) > 0.5).sum() == 0
    assert need(ground, known).max() < 0.35


def test_a_gully_stays_a_gully() -> None:
    """2 m deep and 9 m to each side: where the true load pulls up it is planned, and nowhere else but at its rim."""
    true = -2.0 * np.exp(-0.5 * ((XY[:, 0] - 60.0 - 0.3 * XY[:, 1]) / 9.0) ** 2)
    load = taut_clip_load(Supports(XY[:, 0], true, ROW), Wire.from_diameter(2.5), 534.0)[INNER]
    said = need(true + noise(4), posterior(true + noise(4)))
    assert ((said > 0.5) != (load < -5.0)).sum() <= 2
    assert (said[load < -25.0] > 0.99).all()


def test_without_errors_or_neighbours_the_plain_error_is_all() -> None:
    ground = noise(5)
    exact = posterior(ground, HeightErrors(np.zeros(len(XY)), np.zeros(len(XY)), 3.0, 1.0))
    assert exact.weight.shape[1] == 1
    assert (exact.error[INNER] == 0.0).all()
    assert (exact.left[INNER] == 0.0).all()
    few = np.arange(LEAST_POSTS - 1)
    given = HeightErrors(np.full(len(few), 0.03), np.zeros(len(few)), 0.0, 0.0)
    feet = Supports(XY[few, 0], ground[few], np.zeros(len(few), dtype=np.int64))
    plain = load_posterior(XY[few], feet, given)
    assert plain.left[1:-1, 0] == pytest.approx(load_sigma(feet, 1.0, 0.03, 0.0, 0.0)[1:-1])
    assert np.isnan(plain.noise_ratio)


def test_a_shift_or_a_tilt_of_all_heights_changes_nothing() -> None:
    ground = 0.3 * np.sin(XY[:, 0] / 9.0) + noise(6)
    before = need(ground, posterior(ground))
    known = posterior(ground + 400.0)
    assert need(ground, known) == pytest.approx(before, abs=1e-6)
    assert known.weight[INNER].sum(axis=1) == pytest.approx(np.ones(INNER.sum()))
    # A tilt turns the wires by its angle, and their loads by its square.
    tilted = posterior(ground + 0.02 * XY[:, 0] - 0.11 * XY[:, 1])
    assert need(ground, tilted) == pytest.approx(before, abs=5e-3)


def test_the_order_of_rows_changes_next_to_nothing() -> None:
    """Of posts that are equally near one or the other may be among the neighbours, far from where it matters."""
    ground = 0.3 * np.sin(XY[:, 0] / 9.0) + noise(7)
    back = np.arange(len(XY)).reshape(ROWS, POSTS)[::-1].ravel()
    turned = load_posterior(XY[back], Supports(XY[back, 0], ground[back], ROW), errors())
    straight = posterior(ground)
    mean = [np.nansum(known.weight * known.error, axis=1) for known in (straight, turned)]
    assert mean[1] == pytest.approx(mean[0][back], abs=5e-4)


def test_noise_that_is_not_as_said_is_seen() -> None:
    """Heights with 3 cm on a plane, said to be good to 1.5 and to 6 cm: twice and half of what was said."""
    ground = 0.1 * XY[:, 0] + noise(8)
    for said, ratio in ((0.015, 2.0), (0.06, 0.5)):
        known = posterior(ground, errors(said))
        assert known.noise_ratio == pytest.approx(ratio, rel=0.15)
        assert known.noise_evidence > 8.0
    assert posterior(ground).noise_ratio == pytest.approx(1.0, abs=0.15)


def test_what_a_better_survey_would_leave_is_what_one_leaves() -> None:
    """Waves of 1 m surveyed to 3 cm, and the same with all of the noise two fifths as large."""
    true = np.sin(XY[:, 0] / 9.0 + XY[:, 1] / 30.0)
    known = posterior(true + noise(10))
    better = posterior(true + BETTER * noise(10), errors(BETTER * SIGMA_M))
    assert (known.left_better <= known.left)[INNER].all()

    def spread(weight: FloatArray, left: FloatArray) -> float:
        return float(np.sqrt((weight * left**2)[INNER].sum(axis=1)).mean())

    told, found = spread(known.weight, known.left_better), spread(better.weight, better.left)
    assert told == pytest.approx(found, rel=0.1)
    # It is not just the noise's share of what is left now, nor what the better survey's single loads would leave.
    now, alone = spread(known.weight, known.left), float(better.plain[INNER].mean())
    assert BETTER * now < told < min(now, alone)


def test_one_kind_of_ground_is_what_dense_algebra_makes_of_it(monkeypatch: pytest.MonkeyPatch) -> None:
    """A tile of 20 posts and one kernel, 2 cm strong: mean c' A^-1 z and variance g C g - c' A^-1 c, written out.

    Rasmussen and Williams, Gaussian Processes for Machine Learning (2006), equations 2.25 and 2.26; the density of the
    core given the others by scipy's normal distribution.
    """
    xy, row = XY[: 2 * POSTS][AT[: 2 * POSTS] < 10], np.repeat([0, 1], 10)
    ground = 0.2 * np.sin(xy[:, 0] / 5.0) + np.random.default_rng(9).normal(0.0, 0.03, 20)
    feet = Supports(xy[:, 0], ground, row)
    monkeypatch.setattr(ground_kinds, "BANKS", (ground_kinds.Bank(20, (("smooth", 8.0),)),))
    monkeypatch.setattr(ground_kinds, "AMPLITUDES_M", np.array([0.02]))
    given = HeightErrors(np.full(20, 0.03), np.zeros(20), 3.0, 0.0)
    known = load_posterior(xy, feet, given)
    apart = np.hypot(*np.moveaxis(xy[:, None] - xy[None], -1, 0))
    clear = height_covariance(apart, 0.03, 3.0, 0.0)
    at = xy - xy.mean(axis=0)
    plane = np.column_stack((np.ones(20), 0.1 * at))
    z = ground - ground.mean()
    z = z - plane @ np.linalg.lstsq(plane, z, rcond=None)[0]
    bend = 6.0 - 8.0 * np.exp(-0.5 * (6.0 / 8.0) ** 2) + 2.0 * np.exp(-0.5 * (12.0 / 8.0) ** 2)
    flat = clear + (1e-4 * 0.03**2 + 1e-8) * np.eye(20) + 25.0 * plane @ plane.T
    kinds = [flat, flat + 0.02**2 / bend * np.exp(-0.5 * (apart / 8.0) ** 2)]
    grad = np.zeros((20, 20))
    for post in np.flatnonzero(~np.isin(np.arange(20), [0, 9, 10, 19])):
        grad[post, post - 1 : post + 2] = load_sensitivity(feet, 1.0)[post]
    cov = grad @ clear
    for number, kind in enumerate(kinds):
        mean = cov @ np.linalg.solve(kind, z)
        left = np.sqrt(np.diag(cov @ grad.T) - np.einsum("pi,ip->p", cov, np.linalg.solve(kind, cov.T)))
        inner = feet.rows.inner
        found = np.argmin(np.abs(known.left[inner[0]] - left[inner[0]]))
        assert known.left[inner, found] == pytest.approx(left[inner], rel=1e-6), number
        assert known.error[inner, found] == pytest.approx(mean[inner], rel=1e-5, abs=1e-9), number
    # All posts are one neighbourhood: each tile's core is the 12 posts nearest its middle.
    assert known.weight[inner].sum(axis=1) == pytest.approx(np.ones(len(inner)))
    whole = [multivariate_normal(np.zeros(20), kind).logpdf(z) for kind in kinds]
    assert np.isfinite(whole).all()


def test_a_bridged_height_leaves_its_post_in_more_doubt_than_a_measured_one() -> None:
    """Rough ground, bends of 10 cm at the spans: neighbouring rows tell less of the post in the hole than its height.

    On ground that is known to go on they tell nearly all, and the doubt is hardly more.
    """
    at = 5 * POSTS + 10
    left = {}
    for roughness in (0.0, 0.1):
        ground = 0.1 * XY[:, 0] + roughness * np.random.default_rng(8).standard_normal(len(XY)) + noise(9)
        for own in (0.0, 0.15):
            given = errors()
            given.own_m[at] = own
            known = posterior(ground, given)
            left[roughness, own] = float(np.sqrt((known.weight[at] * known.left[at] ** 2).sum()))
    assert left[0.1, 0.15] > 2.0 * left[0.1, 0.0]
    assert left[0.0, 0.15] < 1.5 * left[0.0, 0.0] + 0.15 * 0.1


def test_heights_beside_the_posts_tell_of_the_ground_too() -> None:
    """As many heights again, midway between the rows: what is left is less, and so is the error itself."""
    true = 0.25 * np.sin(XY[:, 0] / 7.0 + XY[:, 1] / 20.0)
    beside = XY + np.array([0.0, 1.25])
    rng, independent = np.random.default_rng(10), errors(correlation_m=0.0, smoothing_m=0.0)
    seen = true + SIGMA_M * rng.standard_normal(len(XY))
    theirs = 0.25 * np.sin(beside[:, 0] / 7.0 + beside[:, 1] / 20.0) + SIGMA_M * rng.standard_normal(len(XY))
    more = KnownHeights(beside, beside[:, 0], theirs, ROW, independent)
    feet = Supports(XY[:, 0], seen, ROW)
    alone, helped = load_posterior(XY, feet, independent), load_posterior(XY, feet, independent, more)
    off = (load_sensitivity(feet, 1.0)[INNER] * (seen - true)[np.flatnonzero(INNER)[:, None] + np.arange(-1, 2)]).sum(1)
    missed = [np.sqrt((((k.weight * k.error).sum(axis=1)[INNER] - off) ** 2).mean()) for k in (alone, helped)]
    left = [np.sqrt((k.weight * k.left**2).sum(axis=1)[INNER]).mean() for k in (alone, helped)]
    assert missed[1] < missed[0]
    assert left[1] < left[0]


def test_one_choice_of_posts_is_told_as_by_itself(monkeypatch: pytest.MonkeyPatch) -> None:
    """With neighbourhoods no wider than those of posts alone."""
    monkeypatch.setattr(load_posterior_module, "MORE_SHARE", 0.0)
    ground = 0.3 * np.sin(XY[:, 0] / 9.0) + noise(7)
    feet, every = Supports(XY[:, 0], ground, ROW), np.arange(len(XY))
    given = replace(errors(), unseen_m=np.full(len(XY), 0.01))
    (told,) = load_posteriors(KnownHeights(XY, XY[:, 0], ground, ROW, given), [Choice(feet, every)])
    alone = load_posterior(XY, feet, given)
    for name in ("weight", "error", "left", "left_better", "plain"):
        np.testing.assert_array_equal(getattr(told, name), getattr(alone, name))
    assert (told.noise_ratio, told.noise_evidence) == (alone.noise_ratio, alone.noise_evidence)


def test_two_choices_are_told_each_by_its_own_spans() -> None:
    """All posts, and every other one: spans of 6 m and of 12 m on the same heights."""
    ground, every = 0.3 * np.sin(XY[:, 0] / 9.0) + noise(7), np.arange(len(XY))
    other = every[AT % 2 == 0]
    feet = [Supports(XY[some, 0], ground[some], ROW[some]) for some in (every, other)]
    known = KnownHeights(XY, XY[:, 0], ground, ROW, errors())
    told = load_posteriors(known, [Choice(feet[0], every), Choice(feet[1], other)])
    off = noise(7)
    for choice, mine, some in zip(told, feet, (every, other), strict=True):
        inner = mine.rows.inner
        assert choice.plain[inner] == pytest.approx(load_sigma(mine, 1.0, SIGMA_M, 3.0, 1.0)[inner])
        assert np.isnan(np.delete(choice.weight, inner, axis=0)).all()
        three = off[some][inner[:, None] + np.arange(-1, 2)]
        true = (load_sensitivity(mine, 1.0)[inner] * three).sum(axis=1)
        told_of = (choice.weight * choice.error)[inner].sum(axis=1)
        assert np.sqrt(((told_of - true) ** 2).mean()) < 0.6 * np.sqrt((true**2).mean())


def test_errors_of_some_posts_and_of_two_lots_keep_their_order() -> None:
    one = HeightErrors(np.array([0.1, 0.2]), np.array([0.01, 0.02]), 3.0, 1.0)
    more = HeightErrors(np.array([0.3]), np.array([0.03]), 3.0, 1.0, unseen_m=np.array([0.5]))
    both = one.joined(more)
    assert both.unseen_m is not None
    assert (both.shared_m.tolist(), both.own_m.tolist()) == ([0.1, 0.2, 0.3], [0.01, 0.02, 0.03])
    assert (both.unseen_m.tolist(), one.joined(one).unseen_m) == ([0.0, 0.0, 0.5], None)
    some = both.of(np.array([False, True, True]))
    assert some.unseen_m is not None
    assert (some.shared_m.tolist(), some.own_m.tolist(), some.unseen_m.tolist()) == (
        [0.2, 0.3],
        [0.02, 0.03],
        [0.0, 0.5],
    )


def test_the_ground_is_nearer_to_what_is_expected_than_to_what_was_seen() -> None:
    true = 0.25 * np.sin(XY[:, 0] / 7.0)
    seen = true + noise(11)
    error, left = height_posterior(XY, Supports(XY[:, 0], seen, ROW), errors())
    after = seen - error - true
    assert np.sqrt((after**2).mean()) < 0.7 * np.sqrt(((seen - true) ** 2).mean())
    # What is left is what it is said to be.
    assert np.sqrt(((after / left) ** 2).mean()) == pytest.approx(1.0, abs=0.25)


def test_ground_that_no_height_shows_widens_what_is_left_and_moves_nothing() -> None:
    """By hand: g = (1, -2, 1)/6 m on the level, so that u at each post adds 6 u^2/36 to the variance."""
    ground = 0.02 * np.sin(XY[:, 0] / 9.0) + noise(7)
    before, given = posterior(ground), errors()
    after = posterior(ground, replace(given, unseen_m=np.full(len(XY), 0.02)))
    assert after.weight == pytest.approx(before.weight, nan_ok=True)
    assert after.error == pytest.approx(before.error, nan_ok=True)
    more = 6.0 * 0.02**2 / 36.0
    for wide, narrow in ((after.left, before.left), (after.left_better, before.left_better)):
        assert wide[INNER] ** 2 == pytest.approx(narrow[INNER] ** 2 + more, rel=1e-3)
    assert after.plain[INNER] ** 2 == pytest.approx(before.plain[INNER] ** 2 + more, rel=1e-3)
    alone = posterior(ground, replace(given, shared_m=0.0 * XY[:, 0], unseen_m=np.full(len(XY), 0.02)))
    assert alone.left[INNER, 0] ** 2 == pytest.approx(more, rel=1e-3)
    feet = Supports(XY[:, 0], ground, ROW)
    left = [height_posterior(XY, feet, each)[1] for each in (given, replace(given, unseen_m=np.full(len(XY), 0.02)))]
    assert left[1] ** 2 == pytest.approx(left[0] ** 2 + 0.02**2)


def test_kinds_that_are_taken_together_keep_their_mean_and_their_spread(monkeypatch: pytest.MonkeyPatch) -> None:
    """The law of total variance: one normal for many kinds leaves mean and variance of the error as they are."""
    ground = 0.3 * np.sin(XY[:, 0] / 9.0) + noise(5)

    def moments() -> FloatArray:
        known = posterior(ground)
        weight, error, left = (part[INNER] for part in (known.weight, known.error, known.left))
        assert weight.sum(axis=1) == pytest.approx(np.ones(len(weight)))
        return np.stack(((weight * error).sum(axis=1), (weight * (left**2 + error**2)).sum(axis=1)))

    few = moments()
    monkeypatch.setattr(load_posterior_module, "_KEPT", 2)
    np.testing.assert_allclose(moments(), few, rtol=1e-9, atol=1e-15)
