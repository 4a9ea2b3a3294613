"""The story of posts as built: which stand, how far off, and what their real places and heights change."""

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import Final, NamedTuple

import numpy as np
import pandas as pd
from pyproj import CRS, Geod, Transformer

from wirerun.errors import Fault, InputError
from wirerun.findings import Findings
from wirerun.geometry.bad_cells import step_of
from wirerun.mechanics.height_errors import HeightErrors
from wirerun.mechanics.load_posterior import load_posterior
from wirerun.model.as_built import AsBuilt
from wirerun.model.wires import InState, RowEnds, WireStates
from wirerun.records import FinishedPlan, SurveyedPosts
from wirerun.rules.clip_positions import clip_positions
from wirerun.rules.wire import stapled
from wirerun.settings import Config
from wirerun.stages.clips.undulation import judge_need
from wirerun.stages.compare.built_clips import adjusted, changed_clips, standing_posts
from wirerun.stages.compare.built_posts import Built, build_block, long_spans, not_planned, post_table
from wirerun.stages.wires.end_give import end_give
from wirerun.stages.wires.strung import string_wires, strung_state
from wirerun.stages.wires.through_the_year import at_temperature, cold_in_clips, lift
from wirerun.state import State
from wirerun.tables import Table, conform, empty
from wirerun.tables.as_built import BUILT_CLIPS, BUILT_POSTS, BUILT_SPANS
from wirerun.wording import many, number

_EARTH: Final = Geod(ellps="WGS84")
_SWAPPED_M: Final = 10_000.0  # farther is no plan of the same place (choice)
_NUMBERS: Final = ("station_m", "lon", "lat", "ground_m", "height_out_m", "clip_shift_m", "bearing_deg")


class _Made(NamedTuple):
    """What came of one block."""

    built: Built
    posts: pd.DataFrame
    spans: pd.DataFrame
    clips: pd.DataFrame
    bare: list[str]


def compare_as_built(
    plan: FinishedPlan, config: Config, survey: SurveyedPosts, called: str, within_m: float | None
) -> AsBuilt:
    """Planned posts against surveyed ones, block by block.

    Parameters
    ----------
    plan : FinishedPlan
        What was planned.
    config : Config
        As its record has it.
    survey : SurveyedPosts
        What was surveyed, of all blocks; a post may be in reach of one block only. Heights that are rounded to 5 cm or
        more are not used: no clip can be judged by them.
    called : str
        The file of the survey.
    within_m : float or None
        Farthest that a post may stand from where it was planned; None for `posts.snap_m`. [m]

    Raises
    ------
    InputError
        If none of the surveyed posts is near the plan's rows.
    """
    rounded_m = step_of(survey.height_m)
    if rounded_m is not None:
        survey = replace(survey, height_m=np.full(len(survey.height_m), np.nan))
    posts = plan.tables["posts"].merge(plan.tables["rows"][["row_id", "block_id", "bearing_deg"]], on="row_id")
    posts = posts.assign(**{name: pd.to_numeric(posts[name]) for name in _NUMBERS})
    posts = posts.sort_values(["block_id", "row_id", "station_m"], kind="stable", ignore_index=True)
    made: list[_Made] = []
    for block_id, planned in posts.groupby("block_id", sort=False):
        own = config.for_block(str(block_id))
        proj = plan.record["crs"]["frames"][block_id]["proj"]
        to_plane = Transformer.from_crs("OGC:CRS84", CRS.from_proj4(proj), always_xy=True)
        reach = own.posts.snap_m if within_m is None else within_m
        built = build_block(planned.reset_index(drop=True), to_plane, survey, own.rows.spacing_m, reach)
        clips, bare = _judge(built, plan, own)
        made.append(_Made(built, post_table(built, survey), long_spans(built, own.posts.max_span_m), clips, bare))
    on_rows = np.concatenate([np.zeros(0, dtype=np.int64), *(one.built.on_rows for one in made)])
    if not len(on_rows):
        raise InputError((Fault(called, "", _elsewhere(posts, survey)),))
    lost = not_planned(survey, np.setdiff1d(np.arange(len(survey.height_m)), on_rows), None, "extra")
    return AsBuilt(
        plan=plan,
        survey=called,
        posts=_whole(BUILT_POSTS, [*(one.posts for one in made), lost]),
        spans=_whole(BUILT_SPANS, [one.spans for one in made]),
        clips=_whole(BUILT_CLIPS, [one.clips for one in made]),
        without_heights=tuple(row for one in made for row in one.bare),
        height_shift_m={one.built.block_id: one.built.shift_m for one in made},
        rounded_m=rounded_m,
    )


def _elsewhere(planned: pd.DataFrame, survey: SurveyedPosts) -> str:
    """Say how far off surveyed posts lie of which none is near a row."""
    there, (lon, lat) = planned[["lon", "lat"]].mean(), survey.lonlat.mean(axis=0).tolist()
    away_m = _EARTH.inv(there["lon"], there["lat"], lon, lat)[2]
    turned_m = _EARTH.inv(there["lon"], there["lat"], lat, lon)[2] if abs(lon) <= 90.0 else math.inf
    swapped = "; longitude and latitude look swapped" if turned_m < _SWAPPED_M < away_m else ""
    return (
        f"none of its {many(len(survey.lonlat), 'post')} stands near a row of the plan; in the mean they lie "
        f"{number(away_m)} m from the plan's{swapped}"
    )


def _judge(built: Built, plan: FinishedPlan, config: Config) -> tuple[pd.DataFrame, list[str]]:
    """Clips that the posts as they stand change, by the same steps as a plan's, and the rows that cannot be judged."""
    posts, height_out, bare = standing_posts(built)
    if posts is None:
        return empty(BUILT_CLIPS), bare
    notes, wires, states = Findings(built.block_id), config.wires, config.states
    # The ground between the posts is not surveyed: it counts as straight, which no load on a clip asks about.
    straight = np.zeros((len(posts.near), 2))
    strung, chains = string_wires(posts, straight, wires, config.posts.least_clearance_m, notes)
    places = clip_positions(height_out, config.clips, wires, posts.row, ~posts.is_end)
    with_adjuster = adjusted(posts, plan, config)
    give = end_give(posts, wires, config.posts)
    lifted, lifts = lift(posts, strung.cut_m, with_adjuster, give, wires, states, places, notes)
    frost, up, hot = (
        at_temperature(state, at_c - states.stringing_c, posts, strung.cut_m, give, wires, notes)
        for state, at_c in (
            (State.COLD, states.cold_c),
            (State.COLD, states.coldest_c("foliage")),
            (State.HOT, states.hot_c),
        )
    )
    cold = cold_in_clips(frost, up, wires)
    nowhere = np.full((len(wires), len(posts)), np.nan)
    ends = RowEnds(*(np.full((len(wires), len(posts.rows)), np.nan) for _ in range(4)))
    dropped = InState(State.DROPPED, nowhere, nowhere, ends)
    year = WireStates.of((strung_state(posts, chains), cold, hot, lifted, dropped))
    sigma = config.elevation.accuracy_m if config.posts.points_accuracy_m is None else config.posts.points_accuracy_m
    errors = HeightErrors(np.zeros(len(posts)), np.full(len(posts), sigma), 0.0, 0.0)
    known = load_posterior(posts.place.stacked(), posts.feet, errors)
    need = judge_need(posts, known, year, lifts, config.clips.marking_m, config.undulation.hold_down_n)
    return changed_clips(posts, need, plan, config, stapled(wires)), bare


def _whole(table: Table, parts: Sequence[pd.DataFrame]) -> pd.DataFrame:
    some = [part for part in parts if len(part)]
    return conform(table, pd.concat(some, ignore_index=True)) if some else empty(table)
