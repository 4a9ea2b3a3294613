"""The slope of the ground: along and across the row at every post, and the slope class of every row."""

from collections.abc import Sequence

import numpy as np
import pandas as pd

from wirerun.geometry.sampling import Ground
from wirerun.geometry.station import Paths, first_and_last
from wirerun.settings.supply import class_names


def slope_at_posts(posts: pd.DataFrame, paths: Paths, ground: Ground, spacing_m: float) -> pd.DataFrame:
    """Posts with grade_pct and cross_slope_pct.

    The grade is the mean of the spans beside the post, positive where the ground rises along the row. The cross slope
    is taken from half a row spacing to the left to half to the right, positive where the right-hand side is higher.

    Example: on ground that rises 10 % to the south, a row that runs east has grade 0 and cross slope +10 %.

    Parameters
    ----------
    posts : DataFrame
        row, station_m, run_m, ground_m, x_m, y_m, ordered along each row.
    paths : Paths
        The rows' lines.
    ground : Ground
        The block's ground.
    spacing_m : float
        Distance between rows. [m]
    """
    row, run, height = (posts[name].to_numpy() for name in ("row", "run_m", "ground_m"))
    first, last = first_and_last(row)
    index = np.arange(len(posts))
    behind, ahead = np.maximum(index - 1, first[row]), np.minimum(index + 1, last[row])
    grade = (height[ahead] - height[behind]) / (run[ahead] - run[behind])
    east, north = paths.heading(row, posts["station_m"].to_numpy())
    half, x, y = 0.5 * spacing_m, posts["x_m"].to_numpy(), posts["y_m"].to_numpy()
    right = ground.height(x + half * north, y - half * east)
    left = ground.height(x - half * north, y + half * east)
    return posts.assign(grade_pct=100.0 * grade, cross_slope_pct=100.0 * (right - left) / spacing_m)


def slope_class(rows: pd.DataFrame, posts: pd.DataFrame, classes_pct: Sequence[float]) -> pd.DataFrame:
    """Rows with slope_pct, the mean over their posts of the whole slope, and the class it falls into.

    A slope on a limit belongs to the steeper class. Posts where the cross slope is not known count with their grade.

    Parameters
    ----------
    rows : DataFrame
        One line per row, in the order of `posts.row`.
    posts : DataFrame
        row, grade_pct, cross_slope_pct.
    classes_pct : sequence of float
        Slopes that part the classes, rising. [%]
    """
    whole = np.hypot(posts["grade_pct"], posts["cross_slope_pct"].fillna(0.0))
    mean = whole.groupby(posts["row"].to_numpy()).mean().to_numpy()
    names = np.array(class_names(classes_pct), dtype=object)
    which = np.searchsorted(classes_pct, mean, side="right")
    # A slope that is not known sorts past the last class.
    named = pd.Series(names[np.minimum(which, len(names) - 1)], index=rows.index)
    return rows.assign(slope_pct=mean, slope_class=named.where(np.isfinite(mean)))
