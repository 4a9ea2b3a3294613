"""Slope classes along and across the row: what they are called, how they are painted, and which each post is in."""

from collections.abc import Sequence
from typing import Any

import numpy as np
import pandas as pd

from wirerun.settings.supply import class_names
from wirerun.write.colours import slope_colours
from wirerun.write.html_map.columns import Packed, pack_codes


def slope_legend(classes_pct: Sequence[float]) -> list[dict[str, Any]]:
    """Return the classes from the flattest: name, colour on a screen, grey on paper."""
    names = class_names(classes_pct)
    screen, paper = slope_colours(len(names)), slope_colours(len(names), paper=True)
    return [
        {"name": name, "screen": colour, "paper": grey} for name, colour, grey in zip(names, screen, paper, strict=True)
    ]


def pack_slope_classes(posts: pd.DataFrame, classes_pct: Sequence[float]) -> Packed:
    """Return the class of each post along and across its row, none where the slope is not known.

    A slope on a limit belongs to the steeper class, uphill and downhill alike.
    """
    return {name: _codes(posts[f"{column}_pct"], classes_pct) for name, column in _SLOPES}


_SLOPES = (("along", "grade"), ("across", "cross_slope"))


def _codes(slope_pct: pd.Series, classes_pct: Sequence[float]) -> list[int | None]:
    steep = slope_pct.abs().to_numpy(dtype=np.float64)
    return pack_codes(np.where(np.isnan(steep), np.nan, np.searchsorted(classes_pct, steep, side="right")))
