"""What slope makes of the hours of work."""

import numpy as np

from wirerun.arrays import FloatArray
from wirerun.settings import WorkSettings


def slope_factor(slope_pct: FloatArray, work: WorkSettings) -> FloatArray:
    """What slope makes of the hours of each row; an unknown slope counts as the flattest.

    Parameters
    ----------
    slope_pct : [row]
        Mean slope. [%]
    work : WorkSettings
        Slope classes and their factors.

    Returns
    -------
    FloatArray
        [row]. [-]
    """
    which = np.searchsorted(work.slope_classes_pct, np.nan_to_num(slope_pct), side="right")
    return np.asarray(np.array(work.slope_factors, dtype=np.float64)[which])
