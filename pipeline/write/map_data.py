"""What the map page shows, taken from the plan's tables and packed small.

The page computes nothing about the job: counts, sums and classes are made here, from the same tables as the schedule.
"""

import base64
import re
from pathlib import PurePosixPath
from typing import Any, Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from pipeline.findings import LEVELS
from pipeline.records import Plan
from pipeline.tables import CLIPS, POSTS, ROWS, SECTIONS, WIRES, Column, Table
from pipeline.write.map_backdrop import Backdrop
from pipeline.write.map_columns import DEGREE_DECIMALS, pack_numbers, pack_path, pack_rings, pack_words, whole_degrees

Packed = dict[str, Any]

# Classes of posts, in this order in the page. A post is of the first class that fits it from the right-hand end.
POST_CLASSES: Final = ("plain", "look", "two-way", "unknown", "end")
PLAIN, LOOK, TWO_WAY, UNKNOWN, END = range(5)

# A person reads to the centimetre and the tenth of a newton; the CSV files carry the rest.
READ_DECIMALS: Final = {"m": 2, "mm": 1, "N": 1, "%": 1, "deg": 1, "ha": 2}

# The lines of a popup: label, column.
POST_LINES: Final = (
    ("From row start", "station_m"),
    ("Ground height", "ground_m"),
    ("Grade change", "grade_change_pct"),
)
ROW_LINES: Final = (
    ("Bearing", "bearing_deg"),
    ("Length, level", "length_m"),
    ("Length along slope", "slope_length_m"),
    ("Posts", "posts"),
    ("Spans", "spans"),
    ("Steepest span", "max_grade_pct"),
    ("Two-way posts", "two_way_posts"),
)
SECTION_LINES: Final = (
    ("Length", "length_m"),
    ("Posts", "posts"),
    ("Greatest pull-up", "greatest_pull_up_n"),
    ("Greatest grade change", "greatest_grade_change_pct"),
)


def map_data(plan: Plan, backdrop: Backdrop) -> Packed:
    """Return all that the page needs, as plain lists, numbers and texts, ready for JSON."""
    origin = _origin(plan)
    rows = plan.rows.reset_index(drop=True)
    classes = post_classes(plan)
    return {
        "name": plan.config.name,
        "heights": file_name(plan.config.elevation.raster),
        "origin": [*origin, DEGREE_DECIMALS],
        "totals": _totals(plan, classes),
        "wires": _wire_list(plan),
        "blocks": _blocks(plan, classes, origin),
        "exclusions": [
            {"block": str(one.block_id), "rings": pack_rings(one.geometry, origin)}
            for one in plan.exclusions.itertuples()
        ],
        "rows": _rows(plan, rows, origin),
        "posts": _posts(plan, rows, classes, origin),
        "sections": _sections(plan, rows, origin),
        "findings": _findings(plan),
        "backdrop": _backdrop(backdrop, origin),
    }


def post_classes(plan: Plan) -> NDArray[np.int64]:
    """Return the class of each post, an index of `POST_CLASSES`, in the order of ``plan.posts``.

    ``two-way``: at least one of its wires gets a two-way clip. ``look``: none does, but where a one-way clip is planned
    the need is possible or more. ``unknown``: an intermediate post whose loads could not be computed. ``end``: an end
    post.
    """
    posts, clips = plan.posts, plan.clips
    doubtful = (clips["clip"] == "one-way") & clips["certainty"].isin(["possible", "likely", "certain"])
    steps = (
        (LOOK, posts["post_id"].isin(clips.loc[doubtful, "post_id"])),
        (TWO_WAY, posts["post_id"].isin(clips.loc[clips["clip"] == "two-way", "post_id"])),
        (UNKNOWN, ~posts["post_id"].isin(clips.loc[clips["load_min_n"].notna(), "post_id"])),
        (END, posts["kind"] == "end"),
    )
    classes = np.full(len(posts), PLAIN, dtype=np.int64)
    for number, where in steps:
        classes[where.to_numpy(dtype=bool)] = number
    return classes


def file_name(path: str) -> str:
    """Return the last part of a path, whichever way its slashes lean."""
    return PurePosixPath(path.replace("\\", "/")).name


def _origin(plan: Plan) -> tuple[float, float]:
    """Return the south-west corner of all blocks, on a whole ten-thousandth of a degree: longitude, latitude."""
    west, south = np.floor(plan.blocks.total_bounds[:2] * 1e4) / 1e4
    return round(float(west), 4), round(float(south), 4)


def _class_counts(classes: NDArray[np.int64]) -> dict[str, int]:
    """Return how many posts there are of each class."""
    counts = np.bincount(classes, minlength=len(POST_CLASSES)).tolist()
    return dict(zip(POST_CLASSES, counts, strict=True))


def _totals(plan: Plan, classes: NDArray[np.int64]) -> Packed:
    """Return counts and sums over all blocks."""
    return {
        "blocks": len(plan.blocks),
        "area_ha": round(float(plan.blocks["area_ha"].sum()), 2),
        "rows": len(plan.rows),
        "row_m": round(float(plan.rows["length_m"].sum()), 1),
        "posts": len(plan.posts),
        "sections": len(plan.sections),
        "exclusions": len(plan.exclusions),
        "classes": _class_counts(classes),
    }


def _wire_list(plan: Plan) -> list[Packed]:
    """Return the wires of the config from the lowest up, with the metres to run out in all rows."""
    run_out = plan.wires.groupby("wire_id")["run_out_m"].sum()
    return [
        {
            "id": wire.id,
            "kind": wire.kind,
            "lines": wire.lines,
            "height_m": wire.height_m,
            "tension_n": wire.tension_n,
            "run_out_m": round(float(run_out.get(wire.id, 0.0)), 1),
        }
        for wire in sorted(plan.config.wires, key=lambda wire: (wire.height_m, wire.id))
    ]


def _blocks(plan: Plan, classes: NDArray[np.int64], origin: tuple[float, float]) -> list[Packed]:
    """Return each block with its outline and its own counts and sums."""
    row_block = plan.rows.set_index("row_id")["block_id"]
    post_block = plan.posts["row_id"].map(row_block).to_numpy()
    out = []
    for block in plan.blocks.itertuples():
        rows = plan.rows[plan.rows["block_id"] == block.block_id]
        wires = plan.wires[plan.wires["row_id"].isin(rows["row_id"])].groupby("wire_id")["run_out_m"].sum()
        out.append(
            {
                "id": str(block.block_id),
                "name": str(block.name) if isinstance(block.name, str) else "",
                "area_ha": round(float(block.area_ha), 2),
                "rows": len(rows),
                "row_m": round(float(rows["length_m"].sum()), 1),
                "classes": _class_counts(classes[post_block == block.block_id]),
                "run_out_m": {str(wire): round(float(metres), 1) for wire, metres in wires.items()},
                "rings": pack_rings(block.geometry, origin),
            }
        )
    return out


def _column(table: Table, name: str) -> Column:
    """Return a column of the dictionary by its name."""
    return next(column for column in table.columns if column.name == name)


def _lines(table: Table, frame: pd.DataFrame, lines: tuple[tuple[str, str], ...]) -> list[Packed]:
    """Return the lines of a popup, each with its label, unit, meaning and packed column."""
    out = []
    for label, name in lines:
        column = _column(table, name)
        numbers = pack_numbers(frame[name], _decimals(column))
        out.append({"label": label, "unit": column.unit, "meaning": column.meaning, **numbers})
    return out


def _decimals(column: Column) -> int:
    """Return how many decimals of a column a person reads."""
    return min(column.decimals, READ_DECIMALS.get(column.unit, column.decimals))


def _positions(ids: pd.Series, known: pd.Series) -> list[int | None]:
    """Return the line of `known` that each id stands in, None where it stands in none."""
    lines = pd.Series(np.arange(len(known)), index=known.to_numpy())
    found = ids.map(lines)
    return [None if pd.isna(line) else int(line) for line in found]


def _rows(plan: Plan, rows: pd.DataFrame, origin: tuple[float, float]) -> Packed:
    """Return the rows: line on the map, popup lines, and its wires."""
    wires = plan.wires.set_index("wire_id")
    return {
        "id": [str(row_id) for row_id in rows["row_id"]],
        "block": _positions(rows["block_id"], plan.blocks["block_id"]),
        "paths": [pack_path(line.coords, origin) for line in rows.geometry],
        "lines": _lines(ROWS, rows, ROW_LINES),
        "wires": [_row_wires(wires.loc[wires.index == wire["id"]], rows) for wire in _wire_list(plan)],
    }


def _row_wires(wires: pd.DataFrame, rows: pd.DataFrame) -> Packed:
    """Return one wire's figures, a line per row."""
    here = wires.set_index("row_id").reindex(rows["row_id"])
    return {
        name: pack_numbers(here[name].astype("float64"), _decimals(_column(WIRES, name)))
        for name in ("lines", "tension_n", "far_end_tension_n", "run_out_m")
    }


def _posts(plan: Plan, rows: pd.DataFrame, classes: NDArray[np.int64], origin: tuple[float, float]) -> Packed:
    """Return the posts: place, class, popup lines, and what holds each wire."""
    posts = plan.posts.reset_index(drop=True)
    clips = plan.clips
    return {
        "id": pack_words(_tails(posts["post_id"], posts["row_id"])),
        "row": _positions(posts["row_id"], rows["row_id"]),
        "section": _positions(posts["section_id"], plan.sections["section_id"]),
        "class": classes.tolist(),
        "lon": pack_numbers(whole_degrees(posts["lon"], origin[0])),
        "lat": pack_numbers(whole_degrees(posts["lat"], origin[1])),
        "lines": _lines(POSTS, posts, POST_LINES),
        "clips": [_post_clips(clips[clips["wire_id"] == wire["id"]], posts) for wire in _wire_list(plan)],
    }


def _tails(ids: pd.Series, row_ids: pd.Series) -> list[str]:
    """Return what each post's id adds to its row's (``+-P007``); where it does not start with it, ``=`` and the id."""
    return [
        f"+{post.removeprefix(row)}" if post.startswith(row) else f"={post}"
        for post, row in zip(ids, row_ids, strict=True)
    ]


def _post_clips(clips: pd.DataFrame, posts: pd.DataFrame) -> Packed:
    """Return one wire's clips, a line per post; end posts have none."""
    here = clips.set_index("post_id").reindex(posts["post_id"])
    words = {name: pack_words(here[name]) for name in ("certainty", "clip", "seat")}
    # Percent without decimals: the error of the heights is not known any better.
    probability = pack_numbers(here["need_probability"] * 100.0, 0)
    return {
        "load": pack_numbers(here["load_min_n"], _decimals(_column(CLIPS, "load_min_n"))),
        "p": probability,
        **words,
    }


def _sections(plan: Plan, rows: pd.DataFrame, origin: tuple[float, float]) -> Packed:
    """Return the undulating sections: line on the map and popup lines."""
    sections = plan.sections
    return {
        "id": [str(section_id) for section_id in sections["section_id"]],
        "row": _positions(sections["row_id"], rows["row_id"]),
        "from": [str(post) for post in sections["from_post"]],
        "to": [str(post) for post in sections["to_post"]],
        "paths": [pack_path(line.coords, origin) for line in sections.geometry],
        "lines": _lines(SECTIONS, sections, SECTION_LINES),
    }


def _findings(plan: Plan) -> list[Packed]:
    """Return the findings, the worst first, each with the id on the map it points to ("" for a file)."""
    starts = plan.spans.drop_duplicates("span_id").set_index("span_id")["from_post"] if len(plan.spans) else {}
    out = [
        {
            "level": finding.level,
            "code": finding.code,
            "place": file_name(finding.place) if re.search(r"[\\/]", finding.place) else finding.place,
            "message": finding.message,
            # A span has no mark of its own: its first post has.
            "at": str(starts.get(finding.place, finding.place)),
        }
        for finding in plan.finding_list
    ]
    return sorted(out, key=lambda one: -LEVELS.index(one["level"]))


def _backdrop(backdrop: Backdrop, origin: tuple[float, float]) -> Packed:
    """Return the ground: pictures as data URIs with their edges, and contour lines."""
    return {
        "shades": [
            {
                "picture": "data:image/png;base64," + base64.b64encode(shade.png).decode("ascii"),
                "edges": [[shade.edges[0], shade.edges[1]], [shade.edges[2], shade.edges[3]]],
            }
            for shade in backdrop.shades
        ],
        "contour_step": backdrop.contour_step_m,
        "contours": [{"height": line.height_m, "path": pack_path(line.lonlat, origin)} for line in backdrop.contours],
    }
