"""The slope of the ground: along and across the row at every post, and the slope class of every row."""

from collections.abc import Sequence

import numpy as np

from wirerun.geometry.places import PlaneXY
from wirerun.geometry.sampling import Ground
from wirerun.model.layout import Posts, Slopes
from wirerun.settings.supply import class_names


def slopes_of(posts: Posts, ground: Ground, spacing_m: float, classes_pct: Sequence[float]) -> Slopes:
    """Slope at every post and mean slope of every row, and the class it falls into.

    The grade is the mean of the spans beside the post, positive where the ground rises along the row. The cross slope
    is taken from half a row spacing to the left to half to the right, positive where the right-hand side is higher. A
    slope on a limit belongs to the steeper class. Posts where the cross slope is not known count with their grade.

    Example: on ground that rises 10 % to the south, a row that runs east has grade 0 and cross slope +10 %.

    Parameters
    ----------
    posts : Posts
        Where the slope is asked for.
    ground : Ground
        The block's ground.
    spacing_m : float
        Distance between rows. [m]
    classes_pct : sequence of float
        Slopes that part the classes, rising. [%]
    """
    index = np.arange(len(posts))
    behind = np.maximum(index - 1, posts.first[posts.row])
    ahead = np.minimum(index + 1, posts.last[posts.row])
    rise, dx = posts.ground_m[ahead] - posts.ground_m[behind], posts.along_m[ahead] - posts.along_m[behind]
    grade = 100.0 * rise / dx
    east, north = posts.rows.paths.heading(posts.row, posts.station_m)
    half, x, y = 0.5 * spacing_m, posts.place.x_m, posts.place.y_m
    right = ground.height(PlaneXY(x + half * north, y - half * east))
    left = ground.height(PlaneXY(x - half * north, y + half * east))
    cross = 100.0 * (right - left) / spacing_m
    whole = np.hypot(grade, np.nan_to_num(cross))
    mean = np.add.reduceat(whole, posts.first) / (posts.last - posts.first + 1)
    names = np.array(class_names(classes_pct), dtype=object)
    return Slopes(grade, cross, mean, names[np.searchsorted(classes_pct, mean, side="right")])
