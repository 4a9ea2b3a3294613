"""How good the ground of a survey is: against check points, or by what is assumed where there are none."""

import math
from typing import Final, NamedTuple

import numpy as np

from wirerun.arrays import FloatArray
from wirerun.settings.survey import SurveySettings

# 90 % of a normal distribution lie within so many sigma (ASPRS and NSSDA state vertical accuracy at 90 or 95 %, from
# the root mean square).
_LE90: Final = 1.6449
# Choice: what is assumed counts as so many check points, so that three good ones by chance promise nothing.
_PRIOR_POINTS: Final = 5
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
    """What a plan is told of its ground, and why; see `elevation.accuracy_m` and `correlation_m`."""

    accuracy_m: float
    correlation_m: float
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


def accuracy_of(off_m: FloatArray, told: SurveySettings) -> Accuracy:
    """Error of the ground from place to place, from check points and what is assumed of surveys.

    What moves all heights alike does no harm to a plan, which takes differences: a bias is told, and not counted. The
    residuals of the ground's own fit say nothing of its error: they go the wrong way, since errors longer than the
    filter are not in them and grass that it takes away is.

    Parameters
    ----------
    off_m : shape (n,)
        Ground less check points. [m]
    told : SurveySettings
        What is assumed.
    """
    prior = math.hypot(told.noise_m, told.grass_m)
    checked = against(off_m, told.check_points_accuracy_m)
    assumed = [
        f"noise of the survey from place to place {told.noise_m:g} m (survey.noise_m)",
        f"grass here high and there low {told.grass_m:g} m (survey.grass_m)",
        f"slow errors over tens of metres {told.long_m:g} m (survey.long_m), alike at neighbours: not in accuracy_m",
        f"errors alike over {told.correlation_m:g} m (survey.correlation_m): check points seldom lie so close",
    ]
    if checked is None or checked.points < 2:
        assumed.insert(0, "no check points: the accuracy is assumed, not measured")
        return Accuracy(prior, told.correlation_m, checked, tuple(assumed))
    degrees = checked.points - 1
    sigma = math.sqrt((_PRIOR_POINTS * prior**2 + degrees * checked.spread_m**2) / (_PRIOR_POINTS + degrees))
    assumed.insert(
        0,
        f"{checked.points} check points, weighed against what is assumed below as if that were {_PRIOR_POINTS} more; "
        "points far apart have the slow errors in them, so the accuracy between neighbouring posts is rather better",
    )
    return Accuracy(sigma, told.correlation_m, checked, tuple(assumed))


def likely_another_height_system(off_m: FloatArray) -> bool:
    """Whether ground and check points differ by one great number, as heights above ellipsoid and sea do."""
    return off_m.size > 1 and abs(float(np.median(off_m))) > _GEOID_M and float(np.std(off_m)) < FAR_M
