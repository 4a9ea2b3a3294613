"""What the map page is given: the plan's totals, blocks, findings and ground, and its features packed small."""

from collections.abc import Sequence
from dataclasses import asdict

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from wirerun.records import Plan, WireOfBlocks
from wirerun.rounding import rounded
from wirerun.rules.finding_groups import finding_groups
from wirerun.rules.headline import headline
from wirerun.settings.section import name_of_files
from wirerun.tables import OF_STATE, as_lines
from wirerun.terms import WORDS
from wirerun.write.fixing_choice import HOLDERS, shown_options, with_pieces
from wirerun.write.html_map.backdrop import FOOT_M, Backdrop, Contour
from wirerun.write.html_map.classes import (
    PLANNED,
    POST_CLASSES,
    ROW_CLASSES,
    counts,
    post_classes,
    row_classes,
    state_classes,
    views,
)
from wirerun.write.html_map.columns import DEGREE_DECIMALS, Packed, pack_path, pack_rings
from wirerun.write.html_map.features import Classes, pack_posts, pack_rows, pack_sections
from wirerun.write.html_map.pictures import file_name, photo_data, picture_data
from wirerun.write.html_map.slopes import slope_legend
from wirerun.write.html_map.zones import pack_zones
from wirerun.write.mark import plan_mark


def map_data(plan: Plan, backdrop: Backdrop) -> Packed:
    """Return all that the page needs, as plain lists, numbers and texts, ready for JSON."""
    origin = _origin(plan)
    shown = views(plan)
    posts: Classes = {PLANNED: post_classes(plan)}
    posts |= {state: state_classes(plan, state) for state in OF_STATE if state in shown}
    rows = row_classes(plan)
    wires = plan.wires_of_blocks()
    return {
        "name": plan.config.name,
        "heights": file_name(name_of_files(plan.config.elevation.raster)),
        "mark": plan_mark(plan),
        "date": plan.config.output.date,
        "units": plan.config.output.units,
        "terms": WORDS[plan.config.output.terms],
        "origin": [*origin, DEGREE_DECIMALS],
        "views": shown,
        "celsius": {
            **{name: getattr(plan.config.states, f"{name}_c") for name in ("stringing", "cold", "hot")},
            "cold_up": plan.config.states.coldest_c("foliage"),
        },
        "headline": asdict(headline(plan)),
        "totals": _totals(plan, posts, rows),
        "missing": [{"id": block.block_id, "reason": block.reason} for block in plan.missing],
        "wires": _wire_list(plan, wires),
        "blocks": _blocks(plan, posts, rows, origin),
        "exclusions": [
            {"block": one["block_id"], "rings": pack_rings(one["geometry"], origin)}
            for one in as_lines(plan.exclusions)
        ],
        "rows": pack_rows(plan, wires, rows, origin),
        "posts": pack_posts(plan, wires, posts, origin),
        "sections": pack_sections(plan, origin),
        "left_out": [
            {"id": row["row_id"], "path": pack_path(row["geometry"].coords, origin)} for row in as_lines(plan.left_out)
        ],
        "zones": pack_zones(plan, origin),
        "fixings": _fixings(plan),
        "slope_classes": slope_legend(plan.config.work.slope_classes_pct),
        "hold_down_n": plan.config.undulation.hold_down_n,
        "height_m": rounded(np.mean([frame.mean_height_m for frame in plan.frames] or [0.0]), 1),
        "currency": plan.config.catalogue.currency,
        "findings": _findings(plan),
        "finding_groups": [asdict(group) for group in finding_groups(plan)],
        "backdrop": _backdrop(backdrop, origin),
        "photo": photo_data(plan.orthophoto),
        "basemap": _basemap(plan),
    }


def _origin(plan: Plan) -> tuple[float, float]:
    """Return the south-west corner of all blocks, on a whole ten-thousandth of a degree: longitude, latitude."""
    west, south = np.floor(plan.blocks.total_bounds[:2] * 1e4) / 1e4
    return round(float(west), 4), round(float(south), 4)


def _class_counts(posts: Classes, where: NDArray[np.bool_] | None = None) -> dict[str, dict[str, int]]:
    """Return how many posts there are of each class, by view."""
    return {view: counts(POST_CLASSES, some if where is None else some[where]) for view, some in posts.items()}


def _totals(plan: Plan, posts: Classes, rows: NDArray[np.int64]) -> Packed:
    """Return counts and sums over all blocks."""
    return {
        "blocks": len(plan.blocks),
        "area_ha": rounded(plan.blocks["area_ha"].sum(), 2),
        "rows": len(plan.rows),
        "row_m": rounded(plan.rows["length_m"].sum(), 1),
        "posts": len(plan.posts),
        "sections": len(plan.sections),
        "exclusions": len(plan.exclusions),
        "zones": len(plan.zones),
        "classes": _class_counts(posts),
        "row_classes": counts(ROW_CLASSES, rows),
        **_not_included(plan.left_out),
        **_adjuster_counts(plan.adjusters),
    }


def _adjuster_counts(adjusters: pd.DataFrame) -> Packed:
    """Return how many adjusters there are, and how many lines of wire no kind reaches."""
    beyond = int(adjusters["kind"].isna().sum())
    return {"adjusters": len(adjusters) - beyond, "lines_beyond": beyond}


def _not_included(left_out: pd.DataFrame) -> Packed:
    """Return how many rows could not be planned and so are in none of the figures, and how long they are."""
    return {"rows_left_out": len(left_out), "left_out_m": rounded(left_out["length_m"].sum(), 1)}


def _wire_list(plan: Plan, wires: Sequence[WireOfBlocks]) -> list[Packed]:
    """Return the wires with the blocks that have them, and the metres to run out in all their rows."""
    place = {block_id: number for number, block_id in enumerate(plan.blocks["block_id"])}
    return [
        {
            "id": one.wire_id,
            "kind": one.wire.kind,
            "lines": one.wire.lines,
            "height_m": one.wire.height_m,
            "tension_n": one.wire.tension_n,
            "blocks": [place[block_id] for block_id in one.block_ids],
            "run_out_m": rounded(plan.lines_of(plan.wires, one)["run_out_m"].sum(), 1),
        }
        for one in wires
    ]


def _blocks(plan: Plan, posts: Classes, classes: NDArray[np.int64], origin: tuple[float, float]) -> list[Packed]:
    """Return each block with its outline and its own counts and sums."""
    row_block = plan.rows.set_index("row_id")["block_id"]
    post_block = plan.posts["row_id"].map(row_block).to_numpy()
    out = []
    for block in as_lines(plan.blocks):
        mine = (plan.rows["block_id"] == block["block_id"]).to_numpy(dtype=bool)
        rows = plan.rows[mine]
        wires = plan.wires[plan.wires["row_id"].isin(rows["row_id"])].groupby("wire_id")["run_out_m"].sum()
        adjusters = plan.adjusters[plan.adjusters["row_id"].isin(rows["row_id"])]
        out.append(
            {
                "id": block["block_id"],
                "name": block["name"] if isinstance(block["name"], str) else "",
                "area_ha": rounded(block["area_ha"], 2),
                "rows": len(rows),
                "row_m": rounded(rows["length_m"].sum(), 1),
                "classes": _class_counts(posts, post_block == block["block_id"]),
                "row_classes": counts(ROW_CLASSES, classes[mine]),
                **_not_included(plan.left_out[plan.left_out["block_id"] == block["block_id"]]),
                **_adjuster_counts(adjusters),
                "run_out_m": {str(wire): rounded(metres, 1) for wire, metres in wires.items()},
                "rings": pack_rings(block["geometry"], origin),
            }
        )
    return out


def _findings(plan: Plan) -> list[Packed]:
    """Return the findings, the worst first, each with the id on the map it points to ("" for a file)."""
    spans = plan.spans[plan.spans["span_id"].isin(plan.findings["place"])]
    starts = dict(zip(spans["span_id"], spans["from_post"], strict=True))
    return [
        {
            "level": finding["level"],
            "code": finding["code"],
            "place": file_name(finding["place"]),
            "message": finding["message"],
            # A span has no mark of its own: its first post has.
            "at": starts.get(finding["place"], finding["place"]),
        }
        for finding in as_lines(plan.findings)
    ]


def _fixings(plan: Plan) -> list[Packed]:
    """Return the sets of fixings worth a look, by holder: of all blocks together."""
    return [
        {
            "holder": HOLDERS[holder],
            "options": [
                {
                    "kinds": with_pieces(one),
                    "not_held": int(one["not_held"]),
                    "cost_per_ha": None if pd.isna(one["cost_per_ha"]) else int(rounded(one["cost_per_ha"])),
                    "hours": int(rounded(one["hours"])),
                    "tools": one["tools"] if isinstance(one["tools"], str) else "",
                    "chosen": one["chosen"] == "yes",
                }
                for one in as_lines(options)
            ],
        }
        for holder, options in shown_options(plan).items()
    ]


def _backdrop(backdrop: Backdrop, origin: tuple[float, float]) -> Packed:
    """Return the ground: pictures as data URIs with their edges, and contour lines."""
    return {
        "shades": [picture_data("png", one.png, one.edges) for one in backdrop.shades],
        "slopes": [picture_data("png", one.png, one.edges) for one in backdrop.slopes],
        "contour_step": backdrop.contour_step_m,
        "contours": _contours(backdrop.contours, 1.0, origin),
        "contour_step_ft": backdrop.contour_step_ft,
        "contours_ft": _contours(backdrop.contours_ft, FOOT_M, origin),
    }


def _contours(lines: Sequence[Contour], unit_m: float, origin: tuple[float, float]) -> list[Packed]:
    """Return contour lines, their heights in units of so many metres."""
    return [{"at": round(one.height_m / unit_m, 3), "path": pack_path(one.lonlat, origin)} for one in lines]


def _basemap(plan: Plan) -> Packed | None:
    """Return the online map that the config opts into, None where it does not."""
    settings = plan.config.map
    if settings.basemap is None:
        return None
    return {"url": settings.basemap, "attribution": settings.basemap_attribution, "zoom": settings.basemap_zoom}
