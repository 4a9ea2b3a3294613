"""What holds each wire on each post: one-way clip, two-way clip or staple, and on which side the wire sits."""

import numpy as np
import pandas as pd

from pipeline.findings import Finding, name_some
from pipeline.settings import UndulationSettings, WireSettings
from pipeline.tables import CLIPS


def choose_clips(
    posts: pd.DataFrame, loads: pd.DataFrame, wires: tuple[WireSettings, ...], undulation: UndulationSettings
) -> tuple[pd.DataFrame, list[Finding]]:
    """Clip and seat of every intermediate post and wire.

    Every post inside an undulating section gets two-way clips on all its clipped wires: a crew does not change clips
    from post to post. The wire sits under the fixing where it pulls up and the fixing can hold it there, else over it.

    Parameters
    ----------
    posts : DataFrame
        post_id, block_id, section_id.
    loads : DataFrame
        post_id, row_id, wire_id, post, load_n, need_probability, certainty.
    wires : tuple of WireSettings
        How each wire is held.
    undulation : UndulationSettings
        Only named in the finding.

    Returns
    -------
    clips : DataFrame
        The columns of `tables.CLIPS`.
    findings : list of Finding
        Posts to look at on site.
    """
    holder = loads["wire_id"].map({wire.id: wire.holder for wire in wires})
    in_section = posts["section_id"].notna().to_numpy()[loads["post"].to_numpy()]
    known = loads["load_n"].notna()
    clip = pd.Series(np.select([holder == "staple", in_section, known], ["staple", "two-way", "one-way"], ""))
    under = (loads["load_n"] < 0.0) & (clip != "one-way")
    clips = loads.assign(
        load_min_n=loads["load_n"],
        load_max_n=loads["load_n"],
        clip=clip.mask(clip == ""),
        seat=pd.Series(np.where(under, "under", "over")).where(known),
    )
    doubtful = clips[(clips["certainty"].isin(["likely", "possible"])) & (clips["clip"] == "one-way")]
    return clips[CLIPS.names], _look_on_site(str(posts["block_id"].iloc[0]), doubtful["post_id"].unique(), undulation)


def _look_on_site(
    block_id: str, posts: "np.ndarray[tuple[int], np.dtype[np.object_]]", undulation: UndulationSettings
) -> list[Finding]:
    if not len(posts):
        return []
    return [
        Finding(
            "look-on-site",
            block_id,
            f"{len(posts)} post(s) may need a two-way clip but fall short of plan_for = {undulation.plan_for!r}; look "
            f"at them when the posts stand (certainty 'possible' in clips.csv): {name_some(posts)}.",
        )
    ]
