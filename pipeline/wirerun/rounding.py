"""One way to round for schedule, layers, map, cards, order and terminal: halves away from zero, as people do.

The map page has the same rule in its own language, in `write/html_map/page/units.js`. Arrays are rounded by numpy,
which is imported where one is: ``wirerun --help`` prints numbers too, and shall answer at once.
"""

import math
from typing import TYPE_CHECKING, Final, SupportsFloat

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from wirerun.arrays import FloatArray

# In parts of the last decimal: what is this near to a half is one. 23.05 has no double of its own, and what is summed
# comes out on either side of it. Choice, far above the noise of sums and far below a digit that anybody meant.
_NEARLY: Final = 1e-6


def rounded(value: SupportsFloat, decimals: int = 0) -> float:
    """One number rounded, halves away from zero; no zero below zero, NaN and infinity as they are.

    >>> rounded(23.05, 1), rounded(0.1 + 0.2 + 22.75, 1), rounded(-0.5), rounded(-0.04, 1), rounded(0.285, 2)
    (23.1, 23.1, -1.0, 0.0, 0.29)
    """
    given, scale = float(value), 10.0**decimals
    if not math.isfinite(given):
        return given
    return math.copysign(math.floor(abs(given) * scale + 0.5 + _NEARLY), given) / scale + 0.0


def half_up(values: "ArrayLike", decimals: int = 0) -> "FloatArray":
    """Round an array as `rounded` does one number; shape as given.

    >>> half_up([23.05, -0.5, -0.04], 1).tolist()
    [23.1, -0.5, 0.0]
    """
    import numpy as np  # noqa: PLC0415 - see the module's docstring

    given, scale = np.asarray(values, dtype=np.float64), 10.0**decimals
    return np.asarray(np.copysign(np.floor(np.abs(given) * scale + 0.5 + _NEARLY), given) / scale + 0.0)
