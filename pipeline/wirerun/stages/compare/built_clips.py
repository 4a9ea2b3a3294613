"""Posts as they stand, for the wires to run over; and which planned clips what comes of it changes."""

import numpy as np
import pandas as pd

from wirerun.arrays import BoolArray, FloatArray
from wirerun.geometry.places import PlaneXY
from wirerun.geometry.station import Paths, first_and_last
from wirerun.model.clips import Need
from wirerun.model.layout import Posts, Rows
from wirerun.records import FinishedPlan
from wirerun.settings import Config
from wirerun.stages.compare.built_posts import Built
from wirerun.tables import empty
from wirerun.tables.as_built import BUILT_CLIPS


def standing_posts(built: Built) -> tuple[Posts | None, FloatArray, list[str]]:
    """Posts of the rows that can be judged, their heights out of the ground, and the rows that cannot.

    A row can be judged where two or more posts of it stand, each with a surveyed height. Clips are set off their
    heights as was planned for the post. An extra post is as tall as most of the block's, and has its clips at their
    heights.
    """
    count = np.bincount(built.row, minlength=len(built.row_id))
    known = np.bincount(built.row, weights=built.measured, minlength=len(built.row_id)) == count
    good = (count >= 2) & known
    bare = [str(row_id) for row_id in built.row_id[~good]]
    on = good[built.row]
    if not on.any():
        return None, np.zeros(0), bare
    row, xy = (np.cumsum(good) - 1)[built.row[on]], built.xy_m[on]
    first, _ = first_and_last(row)
    paths = Paths.from_lines(np.split(xy, first[1:]))
    of_planned = built.of_planned[on]
    shift = built.planned["clip_shift_m"].to_numpy(dtype=np.float64)[of_planned]
    bearing = built.planned.groupby("row_id", sort=False)["bearing_deg"].first().reindex(built.row_id[good])
    rows = Rows(built.block_id, built.row_id[good], bearing.to_numpy(dtype=np.float64), paths.length_m, paths)
    posts = Posts(
        rows=rows,
        row=row,
        post_id=built.name[on],
        station_m=paths.station_m,
        place=PlaneXY.of(xy),
        ground_m=built.ground_m[on],
        along_m=paths.station_m,
        turn_rad=np.zeros(len(row)),
        clip_shift_m=np.where(of_planned >= 0, shift, 0.0),
    )
    tall = built.planned["height_out_m"].to_numpy(dtype=np.float64)
    return posts, np.where(of_planned >= 0, tall[of_planned], np.median(tall)), bare


def adjusted(posts: Posts, plan: FinishedPlan, config: Config) -> BoolArray:
    """Which wires of the rows have an adjuster as planned, [wire, row]."""
    planned = plan.tables.get("adjusters")
    made = np.zeros((len(config.wires), len(posts.rows)), dtype=np.bool_)
    if planned is not None:
        for number, wire in enumerate(config.wires):
            fitted = (planned["wire_id"] == wire.id) & (planned["kind"] != "")
            with_one = set(planned.loc[fitted, "row_id"])
            made[number] = np.isin(posts.rows.row_id.astype("str"), sorted(with_one))
    return made


def changed_clips(posts: Posts, need: Need, plan: FinishedPlan, config: Config, by_staple: BoolArray) -> pd.DataFrame:
    """Clips that were planned otherwise than the posts as they stand ask for, as table `BUILT_CLIPS` has them.

    A two-way clip that was planned only for the section it stands in counts as needed as little as before, and is not
    told.
    """
    planned = plan.tables["clips"].copy()
    planned["planned_load_n"] = pd.to_numeric(planned["load_min_n"])
    parts = []
    for number in np.flatnonzero(~by_staple):
        found = pd.DataFrame(
            {
                "post_id": posts.post_id.astype("str"),
                "wire_id": config.wires[number].id,
                "load_n": need.least_n[number],
                "need_probability": need.need[number],
            }
        )
        parts.append(found.merge(planned, on=["post_id", "wire_id"], suffixes=("", "_planned")))
    if not parts:
        return empty(BUILT_CLIPS)
    both = pd.concat(parts, ignore_index=True)
    asks = both["need_probability"] >= config.undulation.planned_from
    more = (both["clip"] == "one-way") & asks
    pulled = both["planned_load_n"] < -config.undulation.hold_down_n
    less = (both["clip"] == "two-way") & ~asks & pulled & both["need_probability"].notna()
    both["change"] = np.select([more, less], ["needs two-way", "two-way not needed"], "").astype(object)
    return both.rename(columns={"clip": "planned"})[more | less]
