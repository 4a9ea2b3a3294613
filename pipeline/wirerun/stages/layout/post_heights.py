"""How tall each post is, and how many clip positions it has."""

import numpy as np
import pandas as pd

from wirerun.rules.clip_positions import clip_positions
from wirerun.settings import ClipSettings, PostSettings


def set_heights(posts: pd.DataFrame, spans: pd.DataFrame, settings: PostSettings, clips: ClipSettings) -> pd.DataFrame:
    """Posts with height_out_m and clip_positions.

    Where the config has a taller post, it goes to both ends of every span in which a wire comes too low.

    Parameters
    ----------
    posts : DataFrame
        kind.
    spans : DataFrame
        from_index (position of the span's first post in `posts`), clearance_m.
    settings : PostSettings
        Heights and the least clearance.
    clips : ClipSettings
        Positions.
    """
    height = np.full(len(posts), settings.height_out_m)
    if settings.tall_height_out_m is not None:
        low = spans.loc[spans["clearance_m"] < settings.least_clearance_m, "from_index"].unique()
        height[np.concatenate([low, low + 1])] = settings.tall_height_out_m
    positions = clip_positions(height, clips, ())
    fit = (positions.on_post & positions.regular).sum(axis=1)
    return posts.assign(height_out_m=height, clip_positions=np.where(posts["kind"] == "end", 0, fit))
