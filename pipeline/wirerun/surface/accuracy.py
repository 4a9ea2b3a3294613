"""How good the ground of a survey is: against check points, or by what is assumed where there are none.

The error of the ground is taken to be the sum of three: a bias, alike everywhere; a slow one, alike over tens of metres
(lens, block adjustment); and a near one, from post to post (what the filter leaves of the survey's noise, and grass).
Only the near one bends a wire, so only that goes into a plan. Points far apart tell the sum of slow and near; what is
assumed of both divides it between them, and points close together tell them apart.

With r the differences less their mean and C = near^2 N + slow^2 S + own^2 I (own: the points' own error, and ground
that the filter smooths away), the restricted likelihood of near and slow is that of the contrasts of r, on which the
bias has no part; each has a scaled inverse chi-square prior worth `_PRIOR_POINTS` points. The near variance that is
reported is 1 / E[1 / near^2]: without slow errors, and with exact points far apart, the usual
(k near0^2 + (n-1) s^2) / (k + n - 1).
"""

import math
from typing import Final, NamedTuple

import numpy as np
from scipy.linalg import eigh

from wirerun.arrays import FloatArray
from wirerun.mechanics.undulation import height_covariance
from wirerun.settings.survey import SurveySettings

# 90 % of a normal distribution lie within so many sigma (ASPRS and NSSDA state vertical accuracy at 90 or 95 %, from
# the root mean square).
_LE90: Final = 1.6449
# Choice: what is assumed counts as so many check points, so that three good ones by chance promise nothing.
_PRIOR_POINTS: Final = 5
# Distance at which slow errors have lost all but 5 % of their likeness: choice, half of what such a wave may be long.
_SLOW_RANGE_M: Final = 60.0
# Near and slow errors that are weighed, as shares of what is assumed, and the points that take part: choices. More tell
# next to nothing more, and the work grows with their cube.
_NEAR_SHARES, _SLOW_SHARES = (np.exp(np.linspace(-np.log(8.0), np.log(8.0), count)) for count in (49, 17))
_MOST_WEIGHED: Final = 200
# What is assumed to be nothing at all cannot be told otherwise by any point. [m]
_LEAST_M: Final = 1e-4
#: A check point so much off is on something else than the ground, or of another height system.
FAR_M: Final = 1.0
_GEOID_M: Final = 5.0


class Checked(NamedTuple):
    """Ground less check points.

    Attributes
    ----------
    points
        How many count.
    bias_m, rmse_m, le90_m
        Mean, root mean square, and what 90 % are within, were they normal. [m]
    spread_m
        One sigma about the mean, the check points' own error taken out. [m]
    """

    points: int
    bias_m: float
    rmse_m: float
    le90_m: float
    spread_m: float


class Accuracy(NamedTuple):
    """What a plan is told of its ground, and why; see `elevation.accuracy_m` and `correlation_m`.

    `slow_m` is one sigma of what moves neighbouring posts alike, which the plan is not told.
    """

    accuracy_m: float
    correlation_m: float
    slow_m: float
    checked: Checked | None
    assumed: tuple[str, ...]


def against(off_m: FloatArray, sigma_m: float) -> Checked | None:
    """Statistics of ground less check points; None where there are none.

    Parameters
    ----------
    off_m : shape (n,)
        Differences. [m]
    sigma_m : float
        One sigma of a check point. [m]

    References
    ----------
    LE90 = 1.6449 RMSE for normal errors: Federal Geographic Data Committee, NSSDA, FGDC-STD-007.3-1998, 3-A has the
    factor 1.9600 for 95 %.
    """
    if not off_m.size:
        return None
    rmse = float(np.sqrt(np.mean(off_m**2)))
    spread = float(np.std(off_m, ddof=1)) if off_m.size > 1 else float("nan")
    # The points may be better than is said: at least half of the spread is put down to the ground.
    own = math.sqrt(max(spread**2 - sigma_m**2, spread**2 / 4.0)) if math.isfinite(spread) else float("nan")
    return Checked(int(off_m.size), float(np.mean(off_m)), rmse, _LE90 * rmse, own)


def accuracy_of(off_m: FloatArray, places_m: FloatArray, told: SurveySettings) -> Accuracy:
    """Error of the ground from place to place, from check points and what is assumed of surveys.

    What moves all heights alike does no harm to a plan, which takes differences: a bias is told, and not counted. The
    residuals of the ground's own fit say nothing of its error: they go the wrong way, since errors longer than the
    filter are not in them and grass that it takes away is.

    Parameters
    ----------
    off_m : shape (n,)
        Ground less check points. [m]
    places_m : shape (n, 2)
        Where the points are, on a plane. [m]
    told : SurveySettings
        What is assumed.
    """
    near, slow = math.hypot(told.noise_m, told.grass_m), told.long_m
    checked = against(off_m, told.check_points_accuracy_m)
    assumed = [
        f"what the filter leaves of the survey's noise, from place to place {told.noise_m:g} m (survey.noise_m)",
        f"grass here high and there low {told.grass_m:g} m (survey.grass_m)",
        f"slow errors over tens of metres {told.long_m:g} m (survey.long_m), alike at neighbours: not in accuracy_m",
        f"errors alike over {told.correlation_m:g} m (survey.correlation_m): check points seldom lie so close",
        f"ground that the filter smooths away {told.unseen_m:g} m (survey.unseen_m): beside accuracy_m in the plan",
    ]
    if checked is None or checked.points < 2:
        assumed.insert(0, "no check points: the accuracy is assumed, not measured")
        return Accuracy(near, told.correlation_m, slow, checked, tuple(assumed))
    near, slow = _weighed(off_m, places_m, (near, slow), told)
    assumed.insert(
        0,
        f"{checked.points} check points, weighed against what is assumed below as if that were {_PRIOR_POINTS} more; "
        f"of their spread {near:.3f} m are taken to be from place to place and {slow:.3f} m slow",
    )
    return Accuracy(near, told.correlation_m, slow, checked, tuple(assumed))


def _weighed(
    off_m: FloatArray, places_m: FloatArray, assumed_m: tuple[float, float], told: SurveySettings
) -> tuple[float, float]:
    """Near and slow error [m], with the points weighed against what is assumed; see the module.

    References
    ----------
    Restricted likelihood, -(log|V| + log|X'V^-1 X| + y'P y)/2: H. D. Patterson and R. Thompson, Biometrika 58 (1971)
    545-554 (read where programs of mixed models quote it). Scaled inverse chi-square prior of a variance, as Stan has
    it; here by the logarithm of the standard deviation.
    """
    few = np.linspace(0, len(off_m) - 1, min(len(off_m), _MOST_WEIGHED)).astype(np.intp)
    off, at = off_m[few], places_m[few]
    apart = np.hypot(*np.moveaxis(at[:, None] - at[None], -1, 0))
    alike_near = height_covariance(apart, 1.0, told.correlation_m, 0.0) if told.correlation_m else np.eye(len(off))
    alike_slow = np.exp(-3.0 * (apart / _SLOW_RANGE_M) ** 2)
    own = np.eye(len(off)) * max(math.hypot(told.check_points_accuracy_m, told.unseen_m), _LEAST_M) ** 2
    shares = _NEAR_SHARES, _SLOW_SHARES
    near, slow = (max(part, _LEAST_M) * share for part, share in zip(assumed_m, shares, strict=True))
    log_density = np.empty((len(slow), len(near)))
    for place, part in enumerate(slow):
        # With V' (slow and own) V = 1 and V' near V = m diagonal, any near error leaves the whole diagonal.
        of_near, turn = eigh(alike_near, part**2 * alike_slow + own)
        kept = 1.0 + near[:, None] ** 2 * of_near
        r, one = turn.T @ off, turn.sum(axis=0)
        rr, r1, r11 = ((product / kept).sum(axis=1) for product in (r * r, r * one, one * one))
        log_det = np.log(kept).sum(axis=1) - 2.0 * np.linalg.slogdet(turn)[1]
        log_density[place] = -0.5 * (log_det + np.log(r11) + rr - r1**2 / r11)
    by_near, by_slow = (-_PRIOR_POINTS * (np.log(share) + 0.5 / share**2) for share in shares)
    log_density += by_near + by_slow[:, None]
    weight = np.exp(log_density - log_density.max())
    weight /= weight.sum()
    return float((weight.sum(axis=0) @ near**-2.0) ** -0.5), float((weight.sum(axis=1) @ slow**-2.0) ** -0.5)


def likely_another_height_system(off_m: FloatArray) -> bool:
    """Whether ground and check points differ by one great number, as heights above ellipsoid and sea do."""
    return off_m.size > 1 and abs(float(np.median(off_m))) > _GEOID_M and float(np.std(off_m)) < FAR_M
