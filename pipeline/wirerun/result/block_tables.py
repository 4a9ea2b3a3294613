"""The tables of one block; those that go wire by wire are made in `wire_tables`."""

from collections.abc import Sequence
from typing import Final

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray

from wirerun import tables
from wirerun.arrays import TextArray, words
from wirerun.geometry.frame import Frame
from wirerun.geometry.places import WGS84
from wirerun.ids import span_ids
from wirerun.model.block import PlannedBlock
from wirerun.model.clips import ClipPositions
from wirerun.result.fill import fill, wire_ids, yes
from wirerun.result.wire_tables import adjuster_table, hold_down_table, lift_table, tension_check_table, wire_table
from wirerun.rules.row_grades import row_grades
from wirerun.rules.wire import stapled
from wirerun.settings import WireSettings
from wirerun.state import IN_CLIPS
from wirerun.tables import OF_STATE

# Enough for a curved section to be seen as one.
_SECTION_POINTS: Final = 13


def block_tables(block: PlannedBlock) -> dict[str, pd.DataFrame]:
    """Tables of one block by name, with geometry in WGS 84; `rows` still lacks what the work adds: hours and zone.

    Parameters
    ----------
    block : PlannedBlock
        What the chapters made.
    """
    return {
        "rows": _rows(block),
        "posts": _posts(block),
        "spans": _spans(block),
        "clips": _clips(block),
        "sections": _sections(block),
        "wires": wire_table(block),
        "lifts": lift_table(block),
        "adjusters": adjuster_table(block),
        "tension_check": tension_check_table(block),
        "hold_down_options": hold_down_table(block),
    }


def _rows(block: PlannedBlock) -> gpd.GeoDataFrame:
    posts, rows, frame = block.posts, block.posts.rows, block.site.frame
    ends = frame.to_lonlat(rows.paths.vertices)
    first, last = rows.paths.first, rows.paths.last
    two_way = (block.clips.kind == "two-way").any(axis=0)
    grades = row_grades(posts, block.slopes)
    made = fill(
        tables.ROWS,
        {
            "row_id": rows.row_id,
            "block_id": rows.block_id,
            "position": np.arange(1, len(rows) + 1),
            "bearing_deg": rows.bearing_deg,
            "length_m": rows.length_m,
            "slope_length_m": np.add.reduceat(np.hypot(posts.dx_m, posts.rise_m), posts.first_span),
            "start_lon": ends.lon[first],
            "start_lat": ends.lat[first],
            "end_lon": ends.lon[last],
            "end_lat": ends.lat[last],
            "start_ground_m": posts.ground_m[posts.first],
            "end_ground_m": posts.ground_m[posts.last],
            "posts": posts.last - posts.first + 1,
            "spans": posts.last - posts.first,
            "max_grade_pct": grades.max_pct,
            "mean_grade_pct": grades.mean_pct,
            "run_m": grades.run_m,
            "run_grade_pct": grades.run_grade_pct,
            "two_way_posts": np.add.reduceat(two_way.astype(np.int64), posts.first),
            "slope_pct": block.slopes.mean_pct,
            "slope_class": block.slopes.slope_class,
            "given_attributes": rows.given,
            "bridged_m": block.bridges.length_m,
        },
        later=("hours", "zone_id"),
    )
    lines = shapely.linestrings(ends.stacked(), indices=rows.paths.path)
    return gpd.GeoDataFrame(made, geometry=lines, crs=WGS84)


def _posts(block: PlannedBlock) -> gpd.GeoDataFrame:
    posts, section = block.posts, block.sections.at_posts(len(block.posts))
    at = block.site.frame.to_lonlat(posts.place)
    section_id = words([*block.sections.section_id, None])
    clipped = block.places.used[~stapled(block.config.wires)]
    made = fill(
        tables.POSTS,
        {
            "post_id": posts.post_id,
            "row_id": posts.row_id,
            "kind": np.where(posts.is_end, "end", "intermediate"),
            "station_m": posts.station_m,
            "lon": at.lon,
            "lat": at.lat,
            "ground_m": posts.ground_m,
            "grade_change_pct": block.grade_change_pct,
            "section_id": section_id[section],
            "uplift_n": block.loads.uplift_n,
            "end_pull_n": block.loads.end_pull_n,
            "end_moment_nm": block.loads.end_moment_nm,
            "height_out_m": block.heights.out_m,
            "clip_positions": np.where(posts.is_end, 0, clipped.any(axis=0).sum(axis=1)),
            "grade_pct": block.slopes.grade_pct,
            "cross_slope_pct": block.slopes.cross_pct,
            "post_item": block.heights.item,
            "end_item": block.end_item,
            "bridged_m": block.bridges.width_m,
            "bridged_error_m": block.bridges.error_m,
            "clip_need": block.post_need.ask,
            "clip_reason": block.post_need.reason,
            "look_saves_min": block.post_need.look_saves_min,
            "taped_m": posts.taped_m,
            "clip_shift_m": posts.shift_m,
            "standing": yes(block.standing.posts),
        },
    )
    return gpd.GeoDataFrame(made, geometry=shapely.points(at.stacked()), crs=WGS84)


def _spans(block: PlannedBlock) -> gpd.GeoDataFrame:
    posts, strung, wires = block.posts, block.strung, block.config.wires
    near, many = posts.near, len(wires)
    at = block.site.frame.to_lonlat(posts.place).stacked()
    made = fill(
        tables.SPANS,
        {
            "span_id": np.tile(span_ids(posts.post_id[near]), many),
            "row_id": np.tile(posts.row_id[near], many),
            "wire_id": wire_ids(block, len(near)),
            "from_post": np.tile(posts.post_id[near], many),
            "to_post": np.tile(posts.post_id[near + 1], many),
            "horizontal_m": np.tile(posts.dx_m, many),
            "rise_m": np.tile(posts.rise_m, many),
            "grade_pct": np.tile(100.0 * posts.rise_m / posts.dx_m, many),
            "chord_m": np.tile(np.hypot(posts.dx_m, posts.rise_m), many),
            "wire_m": strung.stretched_m.ravel(),
            "cut_m": strung.span_cut_m.ravel(),
            "sag_mm": 1000.0 * strung.sag_m.ravel(),
            "tension_start_n": strung.near_n.ravel(),
            "tension_end_n": strung.far_n.ravel(),
            "clearance_m": strung.clearance_m.ravel(),
        },
    )
    lines = shapely.linestrings(np.tile(np.stack([at[near], at[near + 1]], axis=1), (many, 1, 1)))
    return gpd.GeoDataFrame(made, geometry=lines, crs=WGS84)


def _clips(block: PlannedBlock) -> pd.DataFrame:
    posts, need, clips, fixings = block.posts, block.need, block.clips, block.fixings
    middle, many = posts.middle, len(block.config.wires)
    columns = {
        "post_id": np.tile(posts.post_id[middle], many),
        "row_id": np.tile(posts.row_id[middle], many),
        "wire_id": wire_ids(block, len(middle)),
        "load_min_n": need.least_n[:, middle].ravel(),
        "load_max_n": need.greatest_n[:, middle].ravel(),
        "need_probability": need.need[:, middle].ravel(),
        "ground_probability": need.by_ground[:, middle].ravel(),
        "certainty": need.certainty[:, middle].ravel(),
        "clip": clips.kind[:, middle].ravel(),
        "seat": clips.seat[:, middle].ravel(),
        "look_on_site": yes(clips.look[:, middle].ravel()),
        "dropped_height_m": block.drop.post_m[:, middle].ravel(),
        "load_side_n": need.side_n[:, middle].ravel(),
        "positions": fixings.positions[:, middle].ravel(),
        "uses": _uses(block)[:, middle].ravel(),
        "pieces": fixings.pieces[:, middle].ravel(),
        "fixing": fixings.item[:, middle].ravel(),
        "holds_n": fixings.holds_n[:, middle].ravel(),
        "fixing_reason": fixings.reason[:, middle].ravel(),
        "standing_pieces": block.standing.pieces[:, middle].ravel(),
    }
    for state, name in OF_STATE.items():
        columns[name.load] = block.states[state].load_n[:, middle].ravel()
        columns[name.clip] = clips.kind_in[:, middle, IN_CLIPS.index(state)].ravel()
        columns[name.seat] = clips.seat_in[:, middle, IN_CLIPS.index(state)].ravel()
    return fill(tables.CLIPS, columns)


def _uses(block: PlannedBlock) -> TextArray:
    """What each wire uses which clips of each post for, in words, [wire, post]: "1.20 strung, 1.45 lifted (upper)"."""
    places, wires = block.places, block.config.wires
    kinds = np.stack([places.strung, places.lifted, places.winter, places.lent], axis=-1)
    # Few posts differ: the words are put together once for each kind of post.
    alike, first, which = np.unique(
        kinds.transpose(1, 0, 2, 3).reshape(len(block.posts), -1), axis=0, return_index=True, return_inverse=True
    )
    said = [[_uses_of(places, wires, wire, post) for post in first] for wire in range(len(wires))]
    return np.array(said, dtype=object).reshape(len(wires), len(alike))[:, which.ravel()]


def _uses_of(places: ClipPositions, wires: Sequence[WireSettings], wire: int, post: int) -> str:
    """The words of one wire on one post; in brackets whose clip it is where it is another wire's."""
    said = []
    for place in np.flatnonzero(places.used[wire, post]):
        use = next(use for use in tables.USES if getattr(places, use)[wire, post, place])
        hosts = [other.id for other, own in zip(wires, places.own[:, post, place], strict=True) if own]
        lent = f" ({', '.join(hosts)})" if places.lent[wire, post, place] else ""
        said.append(f"{places.height_m[place]:.2f} {use}{lent}")
    return ", ".join(said)


def _sections(block: PlannedBlock) -> gpd.GeoDataFrame:
    posts, sections = block.posts, block.sections
    made = fill(
        tables.SECTIONS,
        {
            "section_id": sections.section_id,
            "row_id": posts.row_id[sections.first],
            "from_post": posts.post_id[sections.first],
            "to_post": posts.post_id[sections.last],
            "length_m": sections.end_m - sections.start_m,
            "posts": sections.last - sections.first + 1,
            "greatest_pull_up_n": sections.pull_up_n,
            "greatest_grade_change_pct": sections.grade_change_pct,
        },
    )
    return gpd.GeoDataFrame(made, geometry=_section_lines(block, block.site.frame), crs=WGS84)


def _section_lines(block: PlannedBlock, frame: Frame) -> NDArray[np.object_]:
    paths, sections = block.posts.rows.paths, block.sections
    share = np.linspace(0.0, 1.0, 2 if paths.is_straight.all() else _SECTION_POINTS)
    station = sections.start_m[:, None] + share * (sections.end_m - sections.start_m)[:, None]
    places = paths.place(block.posts.row[sections.first][:, None], station)
    return np.asarray(shapely.linestrings(frame.to_lonlat(places).stacked()), dtype=object)
