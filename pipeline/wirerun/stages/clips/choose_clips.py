"""What holds each wire on each post: one-way clip, two-way clip or staple, and on which side the wire sits."""

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from wirerun.findings import Finding, name_some
from wirerun.settings import UndulationSettings, WireSettings
from wirerun.tables import STATES


def choose_clips(
    posts: pd.DataFrame, loads: pd.DataFrame, wires: tuple[WireSettings, ...], undulation: UndulationSettings
) -> tuple[pd.DataFrame, list[Finding]]:
    """Clip and seat of every intermediate post and wire.

    Every post inside an undulating section gets two-way clips on all its clipped wires: a crew does not change clips
    from post to post. So does a post in a curve that the wire pulls hard to the side. The wire sits under the fixing
    where it pulls up and the fixing can hold it there, else over it.

    Parameters
    ----------
    posts : DataFrame
        post_id, block_id, section_id.
    loads : DataFrame
        post_id, row_id, wire_id, post, load_min_n, load_max_n, need_probability, certainty, and for each state
        load_<state>_n and probability_<state>; load_side_n.
    wires : tuple of WireSettings
        How each wire is held.
    undulation : UndulationSettings
        From which probability on a two-way clip is asked for.

    Returns
    -------
    clips : DataFrame
        `loads` with clip and seat, in the worst state and in each.
    findings : list of Finding
        Posts to look at on site.
    """
    stapled = (loads["wire_id"].map({wire.id: wire.holder for wire in wires}) == "staple").to_numpy()
    in_section = posts["section_id"].notna().to_numpy()[loads["post"].to_numpy()]
    pulled_aside = (loads["load_side_n"] > undulation.hold_side_n).to_numpy()
    clip = _kind(stapled, in_section | pulled_aside, loads["load_min_n"])
    clips = loads.assign(clip=clip, seat=_seat(loads["load_min_n"], clip))
    for state in STATES:
        load = loads[f"load_{state}_n"]
        wanted = (loads[f"probability_{state}"] >= undulation.planned_from).to_numpy()
        clips[f"clip_{state}"] = _kind(stapled, wanted, load)
        clips[f"seat_{state}"] = _seat(load, clip)
    doubtful = clips[(clips["certainty"].isin(["likely", "possible"])) & (clips["clip"] == "one-way")]
    return clips, _look_on_site(str(posts["block_id"].iloc[0]), doubtful["post_id"].unique(), undulation)


def _kind(stapled: NDArray[np.bool_], two_way: NDArray[np.bool_], load: pd.Series) -> pd.Series:
    """Clip of each line; empty where the load is not known and no staple holds the wire anyway."""
    known = load.notna().to_numpy()
    kind = pd.Series(np.select([stapled, two_way], ["staple", "two-way"], "one-way"))
    return kind.where(known | stapled)


def _seat(load: pd.Series, clip: pd.Series) -> pd.Series:
    """Side on which the wire sits: a one-way clip can only hold it from below."""
    under = (load < 0.0).to_numpy() & (clip != "one-way").to_numpy()
    return pd.Series(np.where(under, "under", "over")).where(load.notna().to_numpy())


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
