"""Points to set out: what a total station or a receiver's controller reads."""

import codecs
from dataclasses import replace
from pathlib import Path
from typing import Final

import numpy as np
import pandas as pd

from wirerun.records import Plan
from wirerun.tables import Column, Table
from wirerun.write.gis.layers import layer_frame, layer_named
from wirerun.write.schedule import csv_bytes

CODES: Final = ("end", "two-way", "look", "post")

STAKING: Final = Table(
    "staking",
    "One line per post to set out, none for posts that stand already; in the projected CRS of the plan. Scale the grid "
    "to the ground, or let the instrument do so: a grid metre is not a ground metre.",
    ("id",),
    (
        Column("id", "text", "", "Post, such as B01-R012-P007."),
        Column("E", "number", "m", "Easting.", decimals=3),
        Column("N", "number", "m", "Northing.", decimals=3),
        Column("Z", "number", "m", "Ground height as in the raster, smoothed along the row.", decimals=3, empty=True),
        Column(
            "code",
            "text",
            "",
            "What the post is: an end post; an intermediate post with two-way clips; one to look at on site; any other "
            "intermediate post.",
            choices=CODES,
        ),
        Column(
            "clips_cm",
            "text",
            "cm",
            'How far off their heights all clips of the post are set: "3 up", "2 down", "0". Only with clips.level_m.',
        ),
    ),
)


def write_staking(plan: Plan, path: Path) -> None:
    """Write the posts as a CSV of `id,E,N,Z,code`, and of `clips_cm` where clips are set off their heights.

    It has no byte order mark: field controllers read it as part of the first name.
    """
    posts = layer_frame(plan, layer_named("posts"), plan.output_crs)
    posts = posts[posts["standing"] != "yes"]
    code = np.select(
        [posts["kind"] == "end", posts["clip_need"] == "two-way", posts["clip_need"] == "look-on-site"],
        CODES[:3],
        CODES[3],
    )
    lines = pd.DataFrame(
        {"id": posts["post_id"], "E": posts.geometry.x, "N": posts.geometry.y, "Z": posts["ground_m"], "code": code}
    )
    table, shift_cm = STAKING, (100.0 * posts["clip_shift_m"]).round().astype("int64")
    if shift_cm.any():
        # No sign: a spreadsheet would take "+3" for a formula.
        lines["clips_cm"] = [f"{abs(cm)} {'up' if cm > 0 else 'down'}" if cm else "0" for cm in shift_cm]
    else:
        table = replace(STAKING, columns=STAKING.columns[:-1])
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(csv_bytes(table, lines).removeprefix(codecs.BOM_UTF8))
