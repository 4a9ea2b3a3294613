"""The tables of one block that go wire by wire: wires, lifts, adjusters, hold-down, tension check."""

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from wirerun import tables
from wirerun.arrays import FloatArray, IntArray, TextArray, only_where, words
from wirerun.model.block import PlannedBlock
from wirerun.result.fill import fill, wire_ids, yes
from wirerun.rules.look_on_site import lifts_below_m
from wirerun.rules.wire import run_out_m, tails_m
from wirerun.state import State


def wire_table(block: PlannedBlock) -> pd.DataFrame:
    """Every wire of every row: `tables.WIRES`."""
    rows, wires, strung, strain = block.posts.rows, block.config.wires, block.strung, block.strain
    tails = tails_m(wires, block.adjusters.tail_m)
    lines = np.array([wire.lines for wire in wires], dtype=np.int64)[:, None]
    take_up, ways = block.adjusters.down_mm, block.ways_down
    stays_up = np.isnan(take_up)
    stretched = np.add.reduceat(strung.stretched_m, block.posts.first_span, axis=1)
    hold_n = block.config.undulation.hold_down_n
    lifts_below = lifts_below_m(block.posts, wires, block.loads.greatest_tension_n, hold_n)
    middle = block.posts.post_id[strain.middle_post]
    return fill(
        tables.WIRES,
        {
            "row_id": np.tile(rows.row_id, len(wires)),
            "wire_id": wire_ids(block, len(rows)),
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
            "ends_move": np.repeat(yes(np.array([wire.ends_move for wire in wires])), len(rows)),
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
            "standing": np.repeat(yes(block.standing.wires), len(rows)),
        },
    )


def _left(block: PlannedBlock, what: str) -> FloatArray:
    """What of `Lying` holds once every wire is let down as planned, [wire, row]; NaN where none is, or it is parked."""
    way, drop = block.ways_down.way, block.drop
    ways = [way == each for each in ("nothing", "adjuster", "undo an end")]
    left = [getattr(drop.freed, what), getattr(drop.let_out, what), np.zeros(way.shape)]
    return np.select(ways, left, np.nan)


def _yes_no(take_up_mm: NDArray[np.float64]) -> TextArray:
    """Whether each wire drops by itself; None for those that are never let down."""
    said = np.where(take_up_mm > 0.0, "no", "yes").astype(object)
    said[np.isnan(take_up_mm)] = None
    return said


def lift_table(block: PlannedBlock) -> pd.DataFrame:
    """Foliage wires at each height that they are lifted to: `tables.LIFTS`."""
    rows = block.posts.rows
    made = [
        fill(
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


def adjuster_table(block: PlannedBlock) -> pd.DataFrame:
    """Adjusters, line by line: `tables.ADJUSTERS`."""
    adjusters = block.adjusters
    wire, row = np.nonzero(adjusters.needed)
    lines = np.array([each.lines for each in block.config.wires], dtype=np.int64)[wire]
    wire, row = np.repeat(wire, lines), np.repeat(row, lines)
    return fill(
        tables.ADJUSTERS,
        {
            "row_id": block.posts.rows.row_id[row],
            "wire_id": words([each.id for each in block.config.wires])[wire],
            "line": _count_up(lines),
            "end": block.config.adjusters.end,
            "kind": adjusters.kind[wire, row],
            "take_up_mm": adjusters.take_up_mm[wire, row],
            "turns": adjusters.turns[wire, row],
            "standing": yes(np.full(len(row), block.standing.adjusters)),
        },
    )


def _count_up(lengths: IntArray) -> IntArray:
    """1, 2 ... up to each length, one after the other."""
    return np.arange(lengths.sum()) - np.repeat(np.cumsum(lengths) - lengths, lengths) + 1


def hold_down_table(block: PlannedBlock) -> pd.DataFrame:
    """Two-way clips for other clips than those planned with: `tables.HOLD_DOWN_OPTIONS`."""
    options = block.hold_down_options
    return fill(
        tables.HOLD_DOWN_OPTIONS,
        {
            "block_id": block.posts.rows.block_id,
            "hold_down_n": np.array([each.hold_n for each in options], dtype=np.float64),
            "two_way_posts": np.array([each.posts for each in options], dtype=np.int64),
            "two_way_pieces": np.array([each.pieces for each in options], dtype=np.int64),
            "planned": words("yes" if each.planned else "no" for each in options),
        },
    )


def tension_check_table(block: PlannedBlock) -> pd.DataFrame:
    """What sag and gauge show at each temperature: `tables.TENSION_CHECK`."""
    check, rows = block.check, block.posts.rows
    wires, steps = len(block.config.wires), len(check.celsius)
    return fill(
        tables.TENSION_CHECK,
        {
            "row_id": np.tile(rows.row_id, wires * steps),
            "wire_id": wire_ids(block, steps * len(rows)),
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
