"""The ground between the posts: where it rises above the straight line from post to post."""

from typing import Final

import numpy as np
import pandas as pd

from pipeline.geometry.frame import FloatArray, direction
from pipeline.geometry.sampling import Ground

_STEP_M: Final = 0.5


def humps(posts: pd.DataFrame, bearing_deg: float, ground: Ground, max_span_m: float) -> FloatArray:
    """Ground above the straight line between the feet of neighbouring posts, shape (spans, places) [m].

    Places are equal parts of each span, both posts included (where the value is 0), at most 0.5 m apart. Positive on a
    hump, negative in a dip, NaN where the ground is not known.

    Parameters
    ----------
    posts : DataFrame
        As the posts stage leaves them: row, station_m, x_m, y_m, ground_m.
    bearing_deg : float
        Direction of the rows. [deg]
    ground : Ground
        The block's ground.
    max_span_m : float
        Longest span, which sets the number of places. [m]
    """
    row = posts["row"].to_numpy()
    near = np.flatnonzero(np.diff(row) == 0)
    share = np.linspace(0.0, 1.0, int(np.ceil(max_span_m / _STEP_M)) + 1)
    station, height = posts["station_m"].to_numpy(), posts["ground_m"].to_numpy()
    run, rise = station[near + 1] - station[near], height[near + 1] - height[near]
    east, north = direction(bearing_deg)
    along = share * run[:, None]
    between = ground.height_along(
        posts["x_m"].to_numpy()[near, None] + along * east,
        posts["y_m"].to_numpy()[near, None] + along * north,
        bearing_deg,
    )
    above: FloatArray = between - (height[near, None] + share * rise[:, None])
    return above
