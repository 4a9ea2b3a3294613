"""Posts as built, against those that were planned."""

from collections.abc import Mapping
from dataclasses import dataclass

import pandas as pd

from wirerun.records import FinishedPlan


@dataclass(frozen=True, slots=True)
class AsBuilt:
    """What a survey of the posts says of a plan.

    Attributes
    ----------
    plan : FinishedPlan
    survey : str
        The file of the surveyed posts, as given.
    posts, spans, clips : DataFrame
        As tables `BUILT_POSTS`, `BUILT_SPANS` and `BUILT_CLIPS` have them.
    without_heights : tuple of str
        Rows whose clips could not be judged: a post of them has no surveyed height, or fewer than two were found.
    height_shift_m : mapping
        Median of surveyed less planned ground height of each block: another height datum, most likely. [m]
    rounded_m : float or None
        Step that the surveyed heights are rounded to, where that is too coarse to judge a clip by. [m]
    """

    plan: FinishedPlan
    survey: str
    posts: pd.DataFrame
    spans: pd.DataFrame
    clips: pd.DataFrame
    without_heights: tuple[str, ...]
    height_shift_m: Mapping[str, float]
    rounded_m: float | None = None

    def count(self, mark: str) -> int:
        """Return how many posts have a mark."""
        return int((self.posts["mark"] == mark).sum())

    @property
    def as_planned(self) -> bool:
        """Return whether every post stands where it was planned and no span or clip is otherwise."""
        return bool(self.posts["mark"].isin(["stands", "again"]).all()) and self.spans.empty and self.clips.empty

    @property
    def verdict(self) -> str:
        """Return in a sentence whether all is as planned, so far as it was judged."""
        if not self.as_planned:
            return "Not all stands as it was planned."
        clips = "of the clips that could be judged none" if self.without_heights else "no clip"
        return f"Every post stands where it was planned, and {clips} is otherwise."
