"""What became of each post from one plan to another: where it stands, and what the crew puts on it."""

from typing import Final

import numpy as np
import pandas as pd

from wirerun.records import FinishedPlan
from wirerun.stages.compare.lines import compare_lines
from wirerun.tables import CHANGES, CLIPS, POST_CHANGES, POSTS, conform, empty

# Nobody stakes a post closer: a nearer one has not moved.
_STAKED_M: Final = 0.01
# What of a clip the crew sees; all else of its line is numbers.
_SEEN: Final = ("clip", "seat", "positions", "uses", "pieces", "fixing", "look_on_site")
_PLACE: Final = ("lon", "lat")


def mark_posts(first: FinishedPlan, other: FinishedPlan, letter: str) -> pd.DataFrame:
    """Posts that are not the same in another plan as in the first, or whose clips are not, as table `POST_CHANGES`.

    Parameters
    ----------
    first, other : FinishedPlan
        The first plan and the other one.
    letter : str
        What the other plan is called.
    """
    old, new = (plan.tables[POSTS.name].set_index("post_id") for plan in (first, other))
    lines = compare_lines(POSTS, first.tables[POSTS.name], other.tables[POSTS.name], letter).lines
    lines = lines.set_index("id")
    seen, numbers = _of_clips(first, other, letter)
    ids = lines.index.union(seen.index).union(numbers.index)
    if ids.empty:
        return empty(POST_CHANGES)
    made = pd.DataFrame({"plan": letter, "post_id": ids}, index=ids)
    made["row_id"] = new["row_id"].reindex(ids).fillna(old["row_id"].reindex(ids))
    made["moved_m"] = lines["moved_m"].reindex(ids)
    for name in _PLACE:
        after, before = (pd.to_numeric(frame[name]).reindex(ids) for frame in (new, old))
        made[name], made[f"earlier_{name}"] = after.fillna(before), before.fillna(after)
    made["clips"] = seen.reindex(ids)
    beside = pd.concat([lines["what"].replace("", np.nan).dropna(), numbers])
    made["numbers"] = beside.groupby(level=0).agg("; ".join).reindex(ids)
    change = lines["change"].reindex(ids)
    made["mark"] = np.select(
        [change == "added", change == "gone", made["moved_m"] >= _STAKED_M, made["clips"].notna()],
        ["added", "gone", "moved", "clips"],
        "numbers",
    ).astype(object)
    there = ids.isin(new.index) & ids.isin(old.index)
    made.loc[there & made["moved_m"].isna().to_numpy(), "moved_m"] = 0.0
    return conform(POST_CHANGES, made.reset_index(drop=True))


def _of_clips(first: FinishedPlan, other: FinishedPlan, letter: str) -> tuple[pd.Series, pd.Series]:
    """What differs on the clips of each post in both: what the crew sees, and what else; by post_id, wire by wire."""
    old, new = (plan.tables[POSTS.name]["post_id"] for plan in (first, other))
    both = old[old.isin(new)]  # a post that is added or gone takes its clips along
    tables = [plan.tables[CLIPS.name] for plan in (first, other)]
    one, two = (clips[clips["post_id"].isin(both)] for clips in tables)
    key = list(CLIPS.key)
    rest = [name for name in CLIPS.names if name not in _SEEN]
    clips = pd.concat([one, two])
    of_clip = pd.DataFrame(
        {"id": clips["post_id"] + " " + clips["wire_id"], "post_id": clips["post_id"], "wire_id": clips["wire_id"]}
    ).drop_duplicates("id")

    def told(columns: list[str], changes: tuple[str, ...]) -> pd.Series:
        kept = [[name for name in columns if name in frame.columns] for frame in (one, two)]
        lines = compare_lines(CLIPS, one[kept[0]], two[kept[1]], letter).lines
        lines = lines[lines["change"].isin(changes)].merge(of_clip, on="id")
        what = lines["what"].where(lines["change"] == "changed", lines["change"])
        words = pd.Series((lines["wire_id"] + ": " + what).to_numpy(), index=lines["post_id"], dtype="object")
        return words.groupby(level=0).agg("; ".join)

    return told([*key, *_SEEN], CHANGES), told(rest, ("changed",))
