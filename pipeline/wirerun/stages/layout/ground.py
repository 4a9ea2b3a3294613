"""The ground between the posts: where it rises above the straight line from post to post."""

from typing import Final

import numpy as np

from wirerun.arrays import FloatArray
from wirerun.geometry.places import PlaneXY
from wirerun.geometry.row_ground import RowGround
from wirerun.model.layout import Posts

_STEP_M: Final = 0.5


def ground_above_chord(posts: Posts, ground: RowGround, max_span_m: float) -> FloatArray:
    """Ground above the straight line between the feet of neighbouring posts, [span, place] [m].

    Places are equal parts of each span, both posts included (where the value is 0), at most 0.5 m apart. Positive on a
    hump, negative in a dip. 0 where the ground is not known: only between surveyed posts is a row planned over such.

    Parameters
    ----------
    posts : Posts
        Both feet of every span.
    ground : RowGround
        The rows' ground.
    max_span_m : float
        Longest span, which sets the number of places. [m]
    """
    share = np.linspace(0.0, 1.0, int(np.ceil(max_span_m / _STEP_M)) + 1)
    xy, near = posts.place.stacked(), posts.near
    step = xy[near + 1] - xy[near]
    heading = step / np.hypot(step[:, 0], step[:, 1])[:, None]
    # In a curve a post's own height is averaged along the row, not along the span: posts are not asked for.
    inner = share[1:-1]
    along = PlaneXY.of(xy[near, None, :] + inner[:, None] * step[:, None, :])
    beside = posts.station_m[near, None] + inner * (posts.station_m[near + 1] - posts.station_m[near])[:, None]
    between = ground.height_beside(posts.row[near, None], beside, along, (heading[:, 0, None], heading[:, 1, None]))
    above = np.zeros((len(near), len(share)))
    above[:, 1:-1] = between - (posts.ground_m[near, None] + inner * posts.rise_m[:, None])
    return np.nan_to_num(above)
