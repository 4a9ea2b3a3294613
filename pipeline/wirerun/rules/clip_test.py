"""What a one-way clip holds its wire down by, from a test of ten of them."""

from collections.abc import Sequence
from typing import Final

import numpy as np
from scipy.special import ndtri

from wirerun.settings.fixing_item import FixingItem

# Share of clips that may hold less, and the confidence with which it is no more: EN 14358:2016, 3.2.2.
_FRACTILE: Final = 0.05
_CONFIDENCE: Final = 0.75
# Least standard deviation of the logarithms: a few clips may be alike by chance. EN 14358:2016, (3) (see below).
_LEAST_SPREAD: Final = 0.05


def characteristic_n(pulls_n: Sequence[float]) -> float:
    """Pull that all but 5 % of the clips withstand, from a few that were tried [N].

    exp(m - k s), m and s the mean and standard deviation of the logarithms of the pulls: they are taken as log-normal.
    k makes up for there being few: 2.10 for ten. It is the non-central t of n - 1 degrees at 75 %, with 1.645 sqrt(n),
    over sqrt(n).

    >>> round(characteristic_n([12, 15, 11, 14, 18, 13, 12, 16, 14, 13]), 1)
    10.0

    Parameters
    ----------
    pulls_n : sequence of float, two or more
        Pull at which each let its wire go. [N]

    Returns
    -------
    float
        0 where one held nothing at all.

    References
    ----------
    EN 14358:2016, 3.2.2, (1), (3) and (5), parametric calculation of the 5-percentile, p = 5 % and alpha = 75 %, as a
    program has it that was written beside the standard (GitHub, nachoosuarez/Tarea-de-Maderas,
    scripts/04_valores_caracteristicos.py). The factor is reckoned as above.
    """
    pulls = np.asarray(pulls_n, dtype=np.float64)
    if pulls.min() <= 0.0:
        return 0.0
    logs, count = np.log(pulls), len(pulls)
    shift = -float(ndtri(_FRACTILE)) * np.sqrt(count)
    from scipy.stats import nct  # noqa: PLC0415 - slow to import, and seldom wanted

    factor = float(nct.ppf(_CONFIDENCE, count - 1, shift)) / np.sqrt(count)
    return float(np.exp(logs.mean() - factor * max(float(logs.std(ddof=1)), _LEAST_SPREAD)))


def held_down_n(item: FixingItem) -> float | None:
    """Upward pull that a one-way clip still holds: as tested, else as its row says; None where it does not [N]."""
    if item.holds != "down":
        return None
    return characteristic_n(item.tested_n) if item.tested_n else item.hold_down_n
