"""The ground between the posts: where it rises above the straight line from post to post."""

from typing import Final

import numpy as np
import pandas as pd

from wirerun.geometry.frame import FloatArray
from wirerun.geometry.sampling import Ground

_STEP_M: Final = 0.5


def humps(posts: pd.DataFrame, ground: Ground, max_span_m: float) -> FloatArray:
    """Ground above the straight line between the feet of neighbouring posts, shape (spans, places) [m].

    Places are equal parts of each span, both posts included (where the value is 0), at most 0.5 m apart. Positive on a
    hump, negative in a dip, NaN where the ground is not known.

    Parameters
    ----------
    posts : DataFrame
        As the posts stage leaves them: row, x_m, y_m, ground_m.
    ground : Ground
        The block's ground.
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
    between = ground.height_along(along[..., 0], along[..., 1], (heading[:, 0, None], heading[:, 1, None]))
    above: FloatArray = between - (height[near, None] + share * (height[near + 1] - height[near])[:, None])
    above[:, [0, -1]] = 0.0  # in a curve a post's own height is averaged along the row, not along the span
    return np.where(np.isnan(height[near] + height[near + 1])[:, None], np.nan, above)
