"""Rows, posts and sections as the map page draws them and as its cards tell them, packed small."""

from collections.abc import Sequence
from typing import Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from wirerun.records import Plan, WireOfBlocks
from wirerun.state import State
from wirerun.tables import CLIPS, LIFTS, OF_STATE, POSTS, ROWS, SECTIONS, WIRES, Column, Table
from wirerun.write.html_map.columns import (
    Packed,
    pack_codes,
    pack_numbers,
    pack_path,
    pack_words,
)
from wirerun.write.html_map.service import pack_machines, pack_service
from wirerun.write.html_map.slopes import pack_slope_classes

Origin = tuple[float, float]
Classes = dict[str, NDArray[np.int64]]

# A person reads to the centimetre and the tenth of a newton; the CSV files carry the rest.
READ_DECIMALS: Final = {"m": 2, "mm": 1, "N": 1, "Nm": 0, "%": 1, "deg": 1, "ha": 2, "h": 1, "d": 2}

# The lines of a card: label, column.
POST_LINES: Final = (
    ("From row start", "station_m"),
    ("Ground height", "ground_m"),
    ("Grade change", "grade_change_pct"),
    ("Uplift, all wires", "uplift_n"),
    ("Height out of the ground", "height_out_m"),
    ("Clip positions", "clip_positions"),
    ("Grade along the row", "grade_pct"),
    ("Slope across the row", "cross_slope_pct"),
)
# Only where clips are set off their heights.
SHIFT_LINE: Final = ("Clips higher than their heights by", "clip_shift_m")
ROW_LINES: Final = (
    ("Bearing", "bearing_deg"),
    ("Length, level", "length_m"),
    ("Length along slope", "slope_length_m"),
    ("Posts", "posts"),
    ("Spans", "spans"),
    ("Steepest span", "max_grade_pct"),
    ("Two-way posts", "two_way_posts"),
    ("Mean slope", "slope_pct"),
    ("Labour hours", "hours"),
)
END_LINES: Final = (("Pull of all wires", "end_pull_n"), ("Moment about the ground", "end_moment_nm"))
SECTION_LINES: Final = (
    ("Length", "length_m"),
    ("Posts", "posts"),
    ("Greatest pull-up", "greatest_pull_up_n"),
    ("Greatest grade change", "greatest_grade_change_pct"),
)
WIRE_NUMBERS: Final = (
    "lines",
    "cut_m_per_line",
    "tails_m_per_line",
    "run_out_m",
    "tension_n",
    "cold_tension_n",
    "hot_tension_n",
    "greatest_tension_n",
    "far_end_tension_n",
    "dropped_height_m",
    "take_up_mm",
    "clear_pct",
    "greatest_up_m",
    "left_up_m",
    "lift_slack_mm",
)
WIRE_WORDS: Final = ("strain_from", "drops_by_itself", "let_down_by", "wire_item")
CLIP_NUMBERS: Final = ("load_side_n", "positions", "pieces", "holds_n")
CLIP_WORDS: Final = ("certainty", "clip", "seat", "fixing", "fixing_reason")


def pack_rows(plan: Plan, wires: Sequence[WireOfBlocks], classes: NDArray[np.int64], origin: Origin) -> Packed:
    """Return the rows: line on the map, class when let down, card lines, end posts, and each wire's figures.

    Parameters
    ----------
    plan : Plan
        Its rows, posts, wires and adjusters.
    wires : sequence of WireOfBlocks
        The wires in the order the page lists them.
    classes : shape (rows,)
        The class of each row with its foliage wires let down.
    origin : (float, float)
        Longitude and latitude that places are counted from. [deg]
    """
    rows = plan.rows.reset_index(drop=True)
    adjusters = plan.adjusters.drop_duplicates(["row_id", "wire_id"])
    asked = {"service": pack_service(plan, wires, rows), "machines": pack_machines(plan, rows)}
    return {
        **{name: packed for name, packed in asked.items() if packed},
        "id": [str(row_id) for row_id in rows["row_id"]],
        "block": positions(rows["block_id"], plan.blocks["block_id"]),
        "class": pack_codes(classes),
        "paths": [pack_path(line.coords, origin) for line in rows.geometry],
        "lines": pack_lines(ROWS, rows, ROW_LINES),
        "zone": positions(rows["zone_id"], plan.zones["zone_id"]),
        "slope": pack_words(rows["slope_class"]),
        "ends": [pack_lines(POSTS, posts, END_LINES) for posts in _end_posts(plan, rows)],
        "wires": [
            {
                **_wire_figures(plan.lines_of(plan.wires, wire), rows),
                "lifts": _lift_heights(plan.lines_of(plan.lifts, wire), rows),
                "lifted_tension_n": _tightest_lift(plan.lines_of(plan.lifts, wire), rows),
                "adjuster": _adjuster_figures(plan.lines_of(adjusters, wire), rows),
            }
            for wire in wires
        ],
    }


def pack_posts(plan: Plan, wires: Sequence[WireOfBlocks], classes: Classes, origin: Origin) -> Packed:
    """Return the posts: place, class in each view, card lines, and what holds each wire.

    Parameters
    ----------
    plan : Plan
        Its posts and clips.
    wires : sequence of WireOfBlocks
        The wires in the order the page lists them.
    classes : dict
        The classes of the posts, shape (posts,), by view.
    origin : (float, float)
        Longitude and latitude that places are counted from. [deg]
    """
    posts = plan.posts.reset_index(drop=True)
    clips = [plan.lines_of(plan.clips, wire) for wire in wires]
    return {
        "id": pack_words(posts["post_id"]),
        "row": positions(posts["row_id"], plan.rows["row_id"]),
        "section": positions(posts["section_id"], plan.sections["section_id"]),
        "classes": {view: pack_codes(of_view) for view, of_view in classes.items()},
        "places": pack_path(posts[["lon", "lat"]], origin),
        "lines": pack_lines(POSTS, posts, (*POST_LINES, SHIFT_LINE) if posts["clip_shift_m"].any() else POST_LINES),
        "item": pack_words(posts["post_item"].where(posts["standing"] != "yes", "stands already")),
        "slopes": pack_slope_classes(posts, plan.config.work.slope_classes_pct),
        "clips": _pack_clips(clips, posts, tuple(classes)),
    }


def pack_sections(plan: Plan, origin: Origin) -> Packed:
    """Return the undulating sections: line on the map and card lines."""
    sections = plan.sections
    return {
        "id": [str(section_id) for section_id in sections["section_id"]],
        "row": positions(sections["row_id"], plan.rows["row_id"]),
        "from": [str(post) for post in sections["from_post"]],
        "to": [str(post) for post in sections["to_post"]],
        "paths": [pack_path(line.coords, origin) for line in sections.geometry],
        "lines": pack_lines(SECTIONS, sections, SECTION_LINES),
    }


def positions(ids: pd.Series, known: pd.Series) -> list[int | None]:
    """Return the line of `known` that each id stands in, None where it stands in none."""
    lines = pd.Series(np.arange(len(known)), index=known.to_numpy())
    return pack_codes(ids.map(lines).astype("float64"))


def pack_lines(table: Table, frame: pd.DataFrame, lines: tuple[tuple[str, str], ...]) -> list[Packed]:
    """Return the lines of a card, each with its label, unit, meaning and packed column."""
    out = []
    for label, name in lines:
        column = _column(table, name)
        out.append(
            {
                "name": name,
                "label": label,
                "unit": column.unit,
                "meaning": column.meaning,
                **_numbers(table, frame, name),
            },
        )
    return out


def _column(table: Table, name: str) -> Column:
    """Return a column of the dictionary by its name."""
    return next(column for column in table.columns if column.name == name)


def _decimals(column: Column) -> int:
    """Return how many decimals of a column a person reads."""
    return min(column.decimals, READ_DECIMALS.get(column.unit, column.decimals))


def _numbers(table: Table, frame: pd.DataFrame, name: str) -> Packed:
    """Return a packed column of numbers, rounded as a person reads it."""
    return pack_numbers(frame[name].astype("float64"), _decimals(_column(table, name)))


def _end_posts(plan: Plan, rows: pd.DataFrame) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Return the first and the last post of each row, a line per row."""
    ends = plan.posts[plan.posts["kind"] == "end"].sort_values("station_m", kind="stable")
    first = ends.drop_duplicates("row_id", keep="first").set_index("row_id").reindex(rows["row_id"])
    last = ends.drop_duplicates("row_id", keep="last").set_index("row_id").reindex(rows["row_id"])
    return first, last


def _wire_figures(wires: pd.DataFrame, rows: pd.DataFrame) -> Packed:
    """Return one wire's figures, a line per row."""
    named = wires["wire_item"].where(wires["standing"] != "yes", "hangs already")
    here = wires.assign(wire_item=named).set_index("row_id").reindex(rows["row_id"])
    return {
        **{name: _numbers(WIRES, here, name) for name in WIRE_NUMBERS},
        **{name: pack_words(here[name]) for name in WIRE_WORDS},
    }


def _tightest_lift(lifts: pd.DataFrame, rows: pd.DataFrame) -> Packed:
    """Return one wire's greatest tension at the first post over the positions it is lifted to, a line per row."""
    most = lifts.groupby("row_id")[["tension_n"]].max()
    return _numbers(LIFTS, most.reindex(rows["row_id"]), "tension_n")


def _lift_heights(lifts: pd.DataFrame, rows: pd.DataFrame) -> list[str | None]:
    """Return the heights [m] that one wire is lifted to, as words such as ``1.45 1.70``, a line per row."""
    heights = lifts.sort_values("height_m")["height_m"].map("{:.2f}".format)
    by_row = heights.groupby(lifts["row_id"], sort=False).agg(" ".join)
    return pack_words(by_row.reindex(rows["row_id"]))


def _adjuster_figures(adjusters: pd.DataFrame, rows: pd.DataFrame) -> Packed:
    """Return one wire's adjuster, a line per row: the lines of a wire are alike, and so are their adjusters."""
    here = adjusters.set_index("row_id").reindex(rows["row_id"])
    return {
        "kind": pack_words(here["kind"]),
        "end": pack_words(here["end"]),
        "turns": pack_numbers(here["turns"].astype("float64"), 1),
    }


def _pack_clips(clips: Sequence[pd.DataFrame], posts: pd.DataFrame, views: tuple[str, ...]) -> list[Packed]:
    """Return the clips of each wire, a line per post; end posts have none, nor have posts without that wire."""
    by_wire = [of_wire.set_index("post_id").reindex(posts["post_id"]) for of_wire in clips]
    return [_clip_figures(here, views) for here in by_wire]


def _clip_figures(here: pd.DataFrame, views: tuple[str, ...]) -> Packed:
    """Return one wire's clips, a line per post."""
    return {
        "load": _numbers(CLIPS, here, "load_min_n"),
        # Percent without decimals: the error of the heights is not known any better.
        "p": pack_numbers(here["need_probability"] * 100.0),
        **{name: pack_words(here[name]) for name in CLIP_WORDS},
        **{name: _numbers(CLIPS, here, name) for name in CLIP_NUMBERS},
        "dropped": _numbers(CLIPS, here, "dropped_height_m"),
        "states": {
            state: {"load": _numbers(CLIPS, here, OF_STATE[state].load), "held": _held(here, state)}
            for state in OF_STATE
            if state in views
        },
    }


def _held(clips: pd.DataFrame, state: State) -> list[str | None]:
    """Return clip and seat in one state as one column of words, such as ``two-way under``."""
    both = (clips[name].to_numpy(dtype=object).tolist() for name in (OF_STATE[state].clip, OF_STATE[state].seat))
    pairs = list(zip(*both, strict=True))
    words = {pair: " ".join(word for word in pair if isinstance(word, str)) or None for pair in set(pairs)}
    return [words[pair] for pair in pairs]
