"""The tables of one block: rows, posts, spans, clips, sections, wires, lifts, adjusters and the tension check."""

from collections.abc import Mapping, Sequence
from typing import Final

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray

from wirerun import tables
from wirerun.arrays import BoolArray, FloatArray, IntArray, TextArray, only_where, words
from wirerun.geometry.frame import Frame
from wirerun.geometry.shapes import lines_through
from wirerun.geometry.station import Paths
from wirerun.ids import span_ids
from wirerun.model.block import PlannedBlock
from wirerun.model.clips import ClipPositions
from wirerun.model.layout import LeftOut, NamedRows
from wirerun.rules.look_on_site import lifts_below_m
from wirerun.rules.row_grades import row_grades
from wirerun.rules.wire import run_out_m, stapled, tails_m
from wirerun.settings import WireSettings
from wirerun.state import IN_CLIPS, State
from wirerun.tables import OF_STATE, Table

WGS84: Final = "EPSG:4326"
# Enough for a curved section to be seen as one.
_SECTION_POINTS: Final = 13
# A row's line for later plans: thinned by so much [m], degrees to 1 cm.
_LINE_M: Final = 0.04
_DEGREE_DECIMALS: Final = 7

Columns = Mapping[str, NDArray[np.generic] | str | float | int | None]


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
        "wires": _wires(block),
        "lifts": _lifts(block),
        "adjusters": _adjusters(block),
        "tension_check": _tension_check(block),
        "hold_down_options": _hold_down_options(block),
    }


def left_out_table(left_out: LeftOut, frame: Frame) -> gpd.GeoDataFrame:
    """Rows of one block that cannot be planned, as lines in WGS 84."""
    rows = left_out.rows
    columns = {
        "row_id": rows.row_id,
        "block_id": np.full(len(rows), rows.block_id, dtype=object),
        "length_m": rows.length_m,
        "reason": left_out.reason,
    }
    lonlat = frame.to_lonlat(rows.paths.vertices).stacked()
    lines = lines_through(lonlat, rows.paths.path)
    return gpd.GeoDataFrame(_frame_of(tables.LEFT_OUT, columns), geometry=lines, crs=WGS84)


def row_id_table(named: NamedRows, frame: Frame) -> pd.DataFrame:
    """Every row that was laid in one block and every one that is gone: id, where it comes from, line in WGS 84."""
    rows, gone = named.rows, len(named.gone_id)
    columns = {
        "row_id": np.concatenate([rows.row_id, named.gone_id]),
        "block_id": np.full(len(rows) + gone, rows.block_id, dtype=object),
        "origin": np.concatenate([named.origin, np.full(gone, "gone", dtype=object)]),
        "moved_m": np.concatenate([named.moved_m, np.full(gone, np.nan)]),
        "line": np.concatenate([_as_wkt(rows.paths, frame), _as_wkt(named.gone, frame)]),
    }
    return _frame_of(tables.ROW_IDS, columns)


def _as_wkt(paths: Paths, frame: Frame) -> TextArray:
    """Lines in WGS 84 as WKT, thinned: what they are compared with lies metres apart."""
    if not len(paths.first):
        return words([])
    lines = shapely.linestrings(paths.vertices.stacked(), indices=paths.path)
    lonlat = frame.unflatten(np.asarray(shapely.simplify(lines, _LINE_M), dtype=object))
    return np.asarray(shapely.to_wkt(lonlat, rounding_precision=_DEGREE_DECIMALS), dtype=object)


def _frame_of(table: Table, columns: Columns, later: tuple[str, ...] = ()) -> pd.DataFrame:
    """Frame of a table; every column of the dictionary but those that come `later` must be given."""
    return pd.DataFrame({name: columns[name] for name in table.names if name not in later})


def _rows(block: PlannedBlock) -> gpd.GeoDataFrame:
    posts, rows, frame = block.posts, block.posts.rows, block.site.frame
    ends = frame.to_lonlat(rows.paths.vertices)
    first, last = rows.paths.first, rows.paths.last
    two_way = (block.clips.kind == "two-way").any(axis=0)
    grades = row_grades(posts, block.slopes)
    made = _frame_of(
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
    made = _frame_of(
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
            "standing": _yes(block.standing.posts),
        },
    )
    return gpd.GeoDataFrame(made, geometry=shapely.points(at.stacked()), crs=WGS84)


def _spans(block: PlannedBlock) -> gpd.GeoDataFrame:
    posts, strung, wires = block.posts, block.strung, block.config.wires
    near, many = posts.near, len(wires)
    at = block.site.frame.to_lonlat(posts.place).stacked()
    made = _frame_of(
        tables.SPANS,
        {
            "span_id": np.tile(span_ids(posts.post_id[near]), many),
            "row_id": np.tile(posts.row_id[near], many),
            "wire_id": _wire_ids(block, len(near)),
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
        "wire_id": _wire_ids(block, len(middle)),
        "load_min_n": need.least_n[:, middle].ravel(),
        "load_max_n": need.greatest_n[:, middle].ravel(),
        "need_probability": need.need[:, middle].ravel(),
        "ground_probability": need.by_ground[:, middle].ravel(),
        "certainty": need.certainty[:, middle].ravel(),
        "clip": clips.kind[:, middle].ravel(),
        "seat": clips.seat[:, middle].ravel(),
        "look_on_site": _yes(clips.look[:, middle].ravel()),
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
    return _frame_of(tables.CLIPS, columns)


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
    made = _frame_of(
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


def _wires(block: PlannedBlock) -> pd.DataFrame:
    rows, wires, strung, strain = block.posts.rows, block.config.wires, block.strung, block.strain
    tails = tails_m(wires, block.adjusters.tail_m)
    lines = np.array([wire.lines for wire in wires], dtype=np.int64)[:, None]
    take_up, ways = block.adjusters.down_mm, block.ways_down
    stays_up = np.isnan(take_up)
    stretched = np.add.reduceat(strung.stretched_m, block.posts.first_span, axis=1)
    hold_n = block.config.undulation.hold_down_n
    lifts_below = lifts_below_m(block.posts, wires, block.loads.greatest_tension_n, hold_n)
    middle = block.posts.post_id[strain.middle_post]
    return _frame_of(
        tables.WIRES,
        {
            "row_id": np.tile(rows.row_id, len(wires)),
            "wire_id": _wire_ids(block, len(rows)),
            "lines": np.repeat(lines, len(rows)),
            "cut_m_per_line": strung.cut_m.ravel(),
            "tails_m_per_line": tails.ravel(),
            "run_out_m": run_out_m(wires, strung.cut_m, block.adjusters.tail_m).ravel(),
            "tension_n": np.repeat([wire.tension_n for wire in wires], len(rows)).astype(np.float64),
            "far_end_tension_n": strain.far_n.ravel(),
            "strain_from": strain.way.ravel(),
            "strain_at_post": only_where(strain.way == "middle", middle).ravel(),
            "cold_tension_n": block.states[State.COLD].ends.start_n.ravel(),
            "hot_tension_n": block.states[State.HOT].ends.start_n.ravel(),
            "greatest_tension_n": block.loads.greatest_tension_n.ravel(),
            "drops_by_itself": _yes_no(take_up).ravel(),
            "dropped_height_m": block.drop.middle_m.ravel(),
            "take_up_mm": take_up.ravel(),
            "wire_item": np.repeat(words([wire.item for wire in wires]), len(rows)),
            "unclipped_n": block.unclipped_n.ravel(),
            "strain_pull_mm": 1000.0 * (stretched - strung.cut_m).ravel(),
            "ends_move": np.repeat(_yes(np.array([wire.ends_move for wire in wires])), len(rows)),
            "knot_bears_n": np.repeat([wire.knot_n for wire in wires], len(rows)),
            "cold_up_tension_n": block.cold_up_n.ravel(),
            "clear_pct": 100.0 * block.drop.freed.clear.ravel(),
            "greatest_up_m": block.drop.freed.greatest_m.ravel(),
            "let_down_by": ways.way.ravel(),
            "let_down_reason": ways.reason.ravel(),
            "left_posts_up": _left(block, "posts_up").ravel(),
            "left_up_m": _left(block, "greatest_m").ravel(),
            "lift_slack_mm": np.where(stays_up, np.nan, block.adjusters.lift_mm).ravel(),
            "lifts_below_mm": 1000.0 * lifts_below.ravel(),
            "standing": np.repeat(_yes(block.standing.wires), len(rows)),
        },
    )


def _left(block: PlannedBlock, what: str) -> FloatArray:
    """What of `Lying` holds once every wire is let down as planned, [wire, row]; NaN where none is, or it is parked."""
    way, drop = block.ways_down.way, block.drop
    ways = [way == each for each in ("nothing", "adjuster", "undo an end")]
    left = [getattr(drop.freed, what), getattr(drop.let_out, what), np.zeros(way.shape)]
    return np.select(ways, left, np.nan)


def _yes(given: BoolArray) -> TextArray:
    """Yes or no, shape as given."""
    return np.where(given, "yes", "no").astype(object)


def _yes_no(take_up_mm: NDArray[np.float64]) -> TextArray:
    """Whether each wire drops by itself; None for those that are never let down."""
    said = np.where(take_up_mm > 0.0, "no", "yes").astype(object)
    said[np.isnan(take_up_mm)] = None
    return said


def _lifts(block: PlannedBlock) -> pd.DataFrame:
    rows = block.posts.rows
    made = [
        _frame_of(
            tables.LIFTS,
            {
                "row_id": rows.row_id[lift.row],
                "wire_id": block.config.wires[lift.wire].id,
                "height_m": lift.height_m,
                "use": lift.use,
                "tension_n": lift.start_n,
                "far_tension_n": lift.far_n,
                "first_load_n": lift.first_n,
                "last_load_n": lift.last_n,
                "load_min_n": lift.least_n,
                "load_max_n": lift.greatest_n,
            },
        )
        for lift in block.lifts.positions
    ]
    return pd.concat(made, ignore_index=True) if made else tables.empty(tables.LIFTS)


def _adjusters(block: PlannedBlock) -> pd.DataFrame:
    adjusters = block.adjusters
    wire, row = np.nonzero(adjusters.needed)
    lines = np.array([each.lines for each in block.config.wires], dtype=np.int64)[wire]
    wire, row = np.repeat(wire, lines), np.repeat(row, lines)
    return _frame_of(
        tables.ADJUSTERS,
        {
            "row_id": block.posts.rows.row_id[row],
            "wire_id": words([each.id for each in block.config.wires])[wire],
            "line": _count_up(lines),
            "end": block.config.adjusters.end,
            "kind": adjusters.kind[wire, row],
            "take_up_mm": adjusters.take_up_mm[wire, row],
            "turns": adjusters.turns[wire, row],
            "standing": _yes(np.full(len(row), block.standing.adjusters)),
        },
    )


def _count_up(lengths: IntArray) -> IntArray:
    """1, 2 ... up to each length, one after the other."""
    return np.arange(lengths.sum()) - np.repeat(np.cumsum(lengths) - lengths, lengths) + 1


def _hold_down_options(block: PlannedBlock) -> pd.DataFrame:
    options = block.hold_down_options
    return _frame_of(
        tables.HOLD_DOWN_OPTIONS,
        {
            "block_id": block.posts.rows.block_id,
            "hold_down_n": np.array([each.hold_n for each in options], dtype=np.float64),
            "two_way_posts": np.array([each.posts for each in options], dtype=np.int64),
            "two_way_pieces": np.array([each.pieces for each in options], dtype=np.int64),
            "planned": words("yes" if each.planned else "no" for each in options),
        },
    )


def _tension_check(block: PlannedBlock) -> pd.DataFrame:
    check, rows = block.check, block.posts.rows
    wires, steps = len(block.config.wires), len(check.celsius)
    return _frame_of(
        tables.TENSION_CHECK,
        {
            "row_id": np.tile(rows.row_id, wires * steps),
            "wire_id": _wire_ids(block, steps * len(rows)),
            "temperature_c": np.tile(np.repeat(check.celsius, len(rows)), wires),
            "tension_n": check.tension_n.ravel(),
            "span_m": np.tile(check.span_m, wires * steps),
            "sag_mm": 1000.0 * check.sag_m.ravel(),
            "side_force_n": check.side_force_n,
            "deflection_mm": 1000.0 * check.deflection_m.ravel(),
            "gauge_n": check.gauge_n.ravel(),
            "gauge_stuck_n": check.gauge_stuck_n.ravel(),
        },
    )


def _wire_ids(block: PlannedBlock, each: int) -> TextArray:
    """Id of every wire, `each` times, wire by wire."""
    return np.repeat(words([wire.id for wire in block.config.wires]), each)
