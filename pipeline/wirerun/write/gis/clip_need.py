"""What a post asks for, over all its wires: the class by which posts are drawn and set out."""

from typing import Final

import pandas as pd

CLIP_NEEDS: Final = ("two-way", "look-on-site", "unknown", "one-way", "none")


def clip_need(posts: pd.DataFrame, clips: pd.DataFrame) -> pd.Series:
    """Return for each post the most that any of its wires asks for, one of `CLIP_NEEDS`, indexed as `posts`.

    Parameters
    ----------
    posts : DataFrame
        With `post_id`.
    clips : DataFrame
        With `post_id`, `clip`, `certainty` and `load_min_n`: one line per intermediate post and wire.
    """
    one_way = clips["clip"] == "one-way"
    known = clips.loc[clips["load_min_n"].notna(), "post_id"]
    asks = {
        "one-way": one_way,
        "unknown": ~clips["post_id"].isin(known),
        "look-on-site": one_way & clips["certainty"].isin(["certain", "likely", "possible"]),
        "two-way": clips["clip"] == "two-way",
    }
    need = pd.Series("none", index=posts.index, dtype="str")
    # From the least to the most, so that the most stays.
    for word, lines in asks.items():
        need[posts["post_id"].isin(clips.loc[lines, "post_id"])] = word
    return need
