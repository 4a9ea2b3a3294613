"""How rows lie on the ground: their grade, and how far they fall one way."""

import numpy as np

from wirerun.model.layout import Posts, RowGrades, Slopes


def row_grades(posts: Posts, slopes: Slopes) -> RowGrades:
    """Grade of each row, and how far water may run along it one way.

    Example: posts at 0, 6, 12, 18 m on ground of 1.0, 0.7, 0.4, 0.7 m: grades -5, -5, +5 %; mean 5 %, the longest run
    12 m at 5 %.

    Parameters
    ----------
    posts : Posts
        Their places and heights.
    slopes : Slopes
        Slope of the ground at each row.
    """
    dx, rise, first = posts.dx_m, posts.rise_m, posts.first_span
    row = posts.row[posts.near]
    mean = 100.0 * np.add.reduceat(np.abs(rise), first) / np.add.reduceat(dx, first)
    # A stretch ends where the row does, or where the ground turns from falling to rising.
    begins = np.ones(len(dx), dtype=np.bool_)
    begins[1:] = (np.sign(rise[1:]) != np.sign(rise[:-1])) | (row[1:] != row[:-1])
    at = np.flatnonzero(begins)
    length = np.where(np.sign(rise[at]) == 0.0, 0.0, np.add.reduceat(np.hypot(dx, rise), at))
    grade = 100.0 * np.abs(np.add.reduceat(rise, at)) / np.add.reduceat(dx, at)
    order = np.lexsort((length, row[at]))
    longest = order[np.flatnonzero(np.diff(row[at][order], append=-1))]
    return RowGrades(mean, posts.steepest_pct, slopes.mean_pct, length[longest], grade[longest])
