"""The ground between the posts: where it rises above the straight line from post to post."""

from typing import Final

import numpy as np
import pandas as pd

from wirerun.geometry.frame import FloatArray
from wirerun.geometry.row_ground import RowGround

_STEP_M: Final = 0.5


def humps(posts: pd.DataFrame, ground: RowGround, max_span_m: float) -> FloatArray:
    """Ground above the straight line between the feet of neighbouring posts, shape (spans, places) [m].

    Places are equal parts of each span, both posts included (where the value is 0), at most 0.5 m apart. Positive on a
    hump, negative in a dip. 0 where the ground is not known: only between surveyed posts is a row planned over such.

    Parameters
    ----------
    posts : DataFrame
        As the posts stage leaves them: row, station_m, x_m, y_m, ground_m.
    ground : RowGround
        The rows' ground.
    max_span_m : float
        Longest span, which sets the number of places. [m]
    """
    row, height = posts["row"].to_numpy(), posts["ground_m"].to_numpy()
    near = np.flatnonzero(np.diff(row) == 0)
    share = np.linspace(0.0, 1.0, int(np.ceil(max_span_m / _STEP_M)) + 1)
    xy = posts[["x_m", "y_m"]].to_numpy()
    step = xy[near + 1] - xy[near]
    heading = step / np.hypot(step[:, 0], step[:, 1])[:, None]
    along = xy[near, None, :] + share[:, None] * step[:, None, :]
    station = posts["station_m"].to_numpy()
    beside = station[near, None] + share * (station[near + 1] - station[near])[:, None]
    between = ground.height_beside(
        row[near, None], beside, (along[..., 0], along[..., 1]), (heading[:, 0, None], heading[:, 1, None])
    )
    above: FloatArray = between - (height[near, None] + share * (height[near + 1] - height[near])[:, None])
    above[:, [0, -1]] = 0.0  # in a curve a post's own height is averaged along the row, not along the span
    return np.nan_to_num(above)
