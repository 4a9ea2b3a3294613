"""In which class each post and row is drawn, as planned and in each state of the wires.

The page computes nothing about the job: classes and their counts are made here, from the same tables as the schedule.
"""

from typing import Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from wirerun.clip_need import ClipNeed
from wirerun.records import Plan
from wirerun.state import State
from wirerun.tables import OF_STATE

# Classes of posts, in this order in the page. A post is of the last class of these that fits it.
POST_CLASSES: Final = ("plain", "look", "two-way", "unknown", "end")
PLAIN, LOOK, TWO_WAY, UNKNOWN, END = range(5)

# The class that each word of `posts.clip_need` is drawn in; an end post is one of its own.
_OF_NEED: Final = {
    ClipNeed.TWO_WAY: "two-way",
    ClipNeed.LOOK: "look",
    ClipNeed.UNKNOWN: "unknown",
    ClipNeed.ONE_WAY: "plain",
    ClipNeed.NONE: "plain",
}

# Classes of rows with their foliage wires let down, the least trouble first. A row is of the class of its worst wire.
ROW_CLASSES: Final = ("fixed", "drops", "uncomputed", "adjuster", "beyond")
FIXED, DROPS, UNCOMPUTED, ADJUSTER, BEYOND = range(5)

PLANNED: Final = "planned"
DROPPED: Final = "dropped"


def views(plan: Plan) -> list[str]:
    """Return what the map can show: the plan, each state in which some load is known, and the wires let down."""
    known = [state for state, name in OF_STATE.items() if plan.clips[name.load].notna().any()]
    return [PLANNED, *known, *([DROPPED] if plan.wires["drops_by_itself"].notna().any() else [])]


def post_classes(plan: Plan) -> NDArray[np.int64]:
    """Return the class of each post as planned, an index of `POST_CLASSES`, in the order of ``plan.posts``.

    ``two-way``: at least one of its wires gets a two-way clip. ``look``: none does, but where a one-way clip is planned
    the need is possible or more. ``unknown``: an intermediate post whose loads could not be computed. ``end``: an end
    post.
    """
    need, kind = plan.posts["clip_need"], plan.posts["kind"]
    named = need.map(_OF_NEED).where(kind != "end", "end")
    return np.asarray(named.map(list(POST_CLASSES).index), dtype=np.int64)


def state_classes(plan: Plan, state: State) -> NDArray[np.int64]:
    """Return the class of each post in one of `tables.OF_STATE`, an index of `POST_CLASSES`.

    ``two-way``: at least one of its wires asks for a two-way clip in that state. ``look``: none does, but a wire in a
    one-way clip pulls up. ``plain``: all clipped wires bear down. A stapled wire is held both ways and does not count.
    ``unknown``: an intermediate post without any load in that state. ``end``: an end post.
    """
    load, clip = plan.clips[OF_STATE[state].load], plan.clips[OF_STATE[state].clip]
    return _classes(plan, (clip == "one-way") & (load < 0.0), clip == "two-way", load.notna())


def _classes(plan: Plan, look: pd.Series, two_way: pd.Series, known: pd.Series) -> NDArray[np.int64]:
    """Return the class of each post from what holds of its lines in ``plan.clips``."""
    posts, clips = plan.posts, plan.clips
    steps = (
        (LOOK, posts["post_id"].isin(clips.loc[look, "post_id"])),
        (TWO_WAY, posts["post_id"].isin(clips.loc[two_way, "post_id"])),
        (UNKNOWN, ~posts["post_id"].isin(clips.loc[known, "post_id"])),
        (END, posts["kind"] == "end"),
    )
    classes = np.full(len(posts), PLAIN, dtype=np.int64)
    for number, where in steps:
        classes[where.to_numpy(dtype=bool)] = number
    return classes


def row_classes(plan: Plan) -> NDArray[np.int64]:
    """Return the class of each row with its foliage wires let down, an index of `ROW_CLASSES`, as ``plan.rows`` has it.

    ``beyond``: a wire needs an adjuster and no kind of the config reaches. ``adjuster``: a wire needs one.
    ``uncomputed``: heights are missing. ``drops``: every foliage wire drops by itself. ``fixed``: no foliage wire.
    """
    foliage = [plan.lines_of(plan.wires, one) for one in plan.wires_of_blocks() if one.wire.kind == "foliage"]
    wires, adjusters = pd.concat(foliage or [plan.wires.iloc[:0]]), plan.adjusters
    says = wires["drops_by_itself"]
    steps = (
        (DROPS, wires.loc[says == "yes", "row_id"]),
        (UNCOMPUTED, wires.loc[says.isna(), "row_id"]),
        (ADJUSTER, wires.loc[says == "no", "row_id"]),
        (BEYOND, adjusters.loc[adjusters["kind"].isna(), "row_id"]),
    )
    classes = np.full(len(plan.rows), FIXED, dtype=np.int64)
    for number, ids in steps:
        classes[plan.rows["row_id"].isin(ids).to_numpy(dtype=bool)] = number
    return classes


def counts(names: tuple[str, ...], classes: NDArray[np.int64]) -> dict[str, int]:
    """Return how many there are of each class, by name."""
    return dict(zip(names, np.bincount(classes, minlength=len(names)).tolist(), strict=True))
