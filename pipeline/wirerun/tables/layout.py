"""Tables of what stands in the field: rows, posts, spans, undulating sections; and what was noticed."""

from typing import Final

from wirerun.clip_need import REASONS, ClipNeed
from wirerun.tables.column import Column, Table, count, degrees, metres, newtons, percent, text

YES_NO: Final = ("yes", "no")
ROW_ID: Final = text("row_id", "Row, such as B01-R012. A second piece of a cut row is B01-R012b.")
WIRE_ID: Final = text("wire_id", "Wire, as named in the config.")
BLOCK_ID: Final = text("block_id", "Block the row belongs to.")
SECTION_ID: Final = text("section_id", "Undulating section, such as B01-R012-U01.")

RUN_M: Final = metres("run_m", "Longest stretch of the row that falls one way, along the slope: how far water may run.")
RUN_GRADE: Final = percent("run_grade_pct", "Grade of that stretch from its top to its foot.")

ROWS: Final = Table(
    "rows",
    "One line per row.",
    ("row_id",),
    (
        ROW_ID,
        BLOCK_ID,
        count(
            "position",
            "Place in its block in working order: 1 at the side that rows are numbered from, then row by row. The "
            "table is sorted by it; numbers may not be, where ids of an earlier plan were kept.",
        ),
        Column(
            "bearing_deg", "number", "deg", "Direction, clockwise from true north at the block's middle.", decimals=3
        ),
        metres("length_m", "Horizontal length between the end posts."),
        metres("slope_length_m", "Length in space, from post to post.", empty=True),
        degrees("start_lon", "Longitude of the first end post, WGS 84."),
        degrees("start_lat", "Latitude of the first end post, WGS 84."),
        degrees("end_lon", "Longitude of the last end post, WGS 84."),
        degrees("end_lat", "Latitude of the last end post, WGS 84."),
        metres("start_ground_m", "Ground height at the first end post, as in the raster, in metres.", empty=True),
        metres("end_ground_m", "Ground height at the last end post, as in the raster, in metres.", empty=True),
        count("posts", "Posts, end posts included."),
        count("spans", "Spans."),
        percent("max_grade_pct", "Steepest grade of a span, up or down, without sign."),
        percent("mean_grade_pct", "Mean grade along the row, without sign, by metres."),
        RUN_M,
        RUN_GRADE,
        count("two_way_posts", "Posts that get two-way clips."),
        percent("slope_pct", "Mean slope of the ground at its posts, along and across the row together."),
        text("slope_class", "Slope class of the config that this falls into, such as 10-20 %.", empty=True),
        Column("hours", "number", "h", "Working hours of one person for all tasks in the row.", decimals=2),
        text("zone_id", "Work zone the row is in, such as B01-Z03."),
        text("given_attributes", "What the file of given rows says of the row, as JSON; else empty.", empty=True),
        metres("bridged_m", "Length of the row over holes in the ground that were bridged; 0 where there are none."),
    ),
    shape="LineString",
    order=("block_id", "position"),
)

POSTS: Final = Table(
    "posts",
    "One line per post, numbered along the bearing.",
    ("post_id",),
    (
        text("post_id", "Post, such as B01-R012-P007."),
        ROW_ID,
        text("kind", "What the post is.", choices=("end", "intermediate")),
        metres("station_m", "Horizontal distance from the row's first post."),
        degrees("lon", "Longitude, WGS 84."),
        degrees("lat", "Latitude, WGS 84."),
        metres("ground_m", "Ground height, smoothed along the row.", empty=True),
        percent("grade_change_pct", "Grade behind the post less grade before it: negative on a crest."),
        text("section_id", "Undulating section the post stands in, if any.", empty=True),
        newtons("uplift_n", "Greatest upward pull of all lines of all wires on the post, over all states."),
        newtons("end_pull_n", "Greatest horizontal pull of all lines of all wires on an end post."),
        Column("end_moment_nm", "number", "Nm", "Its moment about the ground.", decimals=1, empty=True),
        metres("height_out_m", "Height of the post out of the ground."),
        count("clip_positions", "Heights at which clips are set on the post; none on end posts."),
        percent("grade_pct", "Grade along the row at the post: mean of the spans beside it, positive uphill."),
        percent("cross_slope_pct", "Slope of the ground across the row, positive where the right-hand side is higher."),
        text(
            "post_item",
            "Post, as named in the catalogue; of a standing post the one that it is taken for. Empty where none is "
            "long enough.",
            empty=True,
        ),
        text(
            "end_item",
            "End assembly picked from the catalogue by row length and pull; empty where none, and at standing posts.",
            empty=True,
        ),
        text(
            "clip_need",
            "Most that any wire asks for at the post: a two-way clip; a look on site, where none is planned and one "
            "is likely enough; unknown, where no load could be computed; a one-way clip; none at end posts "
            "and where every wire is stapled.",
            choices=tuple(ClipNeed),
        ),
        text(
            "clip_reason",
            "Why the post gets two-way clips: a wire pulls up as strung, when lifted, on the coldest or the hottest "
            "day; it pulls to the side; or the post only stands in an undulating section. Empty where it gets none.",
            empty=True,
            choices=REASONS,
        ),
        Column(
            "look_saves_min",
            "number",
            "min",
            "Minutes of one person that a look on site is expected to save, the most where to look first; empty where "
            "none is worth its time.",
            decimals=2,
            empty=True,
        ),
        metres(
            "clip_shift_m",
            "How much higher than their heights all clips of the post are set, lower where it is negative, to even out "
            "dips; 0 on end posts.",
        ),
        metres(
            "bridged_m",
            "Width along the row of the hole in the ground that was bridged here: the stretch of missing cells, about "
            "0 where the row only brushes one. Empty where the ground is known.",
            empty=True,
        ),
        metres("bridged_error_m", "One-sigma error of the ground height where it was bridged; else empty.", empty=True),
        metres(
            "taped_m",
            "What a tape on the ground, from post to post, reads from the row's first: slope length.",
            empty=True,
        ),
        text("standing", "Whether the post stands already: then it is in no order, cost or task.", choices=YES_NO),
    ),
    shape="Point",
)

SPANS: Final = Table(
    "spans",
    "One line per span and wire; every line of a wire is alike.",
    ("span_id", "wire_id"),
    (
        text("span_id", "Span, such as B01-R012-S006, from post 6 to post 7."),
        ROW_ID,
        WIRE_ID,
        text("from_post", "Post at the span's start."),
        text("to_post", "Post at the span's end."),
        # A decimal more than the row has, here and below, so that the spans add up to it.
        Column("horizontal_m", "number", "m", "Horizontal distance between the posts.", decimals=4),
        Column(
            "rise_m", "number", "m", "Height of the far post's ground above the near one's.", decimals=4, empty=True
        ),
        percent("grade_pct", "Rise over horizontal distance."),
        Column("chord_m", "number", "m", "Straight distance between the wire's supports.", decimals=4, empty=True),
        Column("wire_m", "number", "m", "Length of the wire under tension.", decimals=4, empty=True),
        Column("cut_m", "number", "m", "Unstretched length of the wire.", decimals=4, empty=True),
        Column("sag_mm", "number", "mm", "Sag below the chord at mid-span.", decimals=2, empty=True),
        newtons("tension_start_n", "Tension at the near support."),
        newtons("tension_end_n", "Tension at the far support."),
        metres("clearance_m", "Least height of the wire above the ground within the span.", empty=True),
    ),
    shape="LineString",
)

SECTIONS: Final = Table(
    "sections",
    "One line per undulating section: a run of posts that get two-way clips.",
    ("section_id",),
    (
        SECTION_ID,
        ROW_ID,
        text("from_post", "First post of the section."),
        text("to_post", "Last post of the section."),
        metres("length_m", "Horizontal length, half a span beyond the first and last post included."),
        count("posts", "Posts in the section."),
        newtons("greatest_pull_up_n", "Greatest upward pull of one line of wire on a clip in the section."),
        percent("greatest_grade_change_pct", "Greatest grade change at a post of the section."),
    ),
    shape="LineString",
)

LEFT_OUT: Final = Table(
    "left_out",
    "One line per row that cannot be planned for want of ground heights. It is in no other table but `row_ids`, and in "
    "no total.",
    ("row_id",),
    (
        ROW_ID,
        BLOCK_ID,
        metres("length_m", "Horizontal length between the places of its end posts."),
        text("reason", "Why it cannot be planned."),
    ),
    shape="LineString",
)

ORIGINS: Final = ("numbered", "kept", "new", "gone")

ROW_IDS: Final = Table(
    "row_ids",
    "One line per row that was laid, and per row of the earlier plan that is gone. Later plans keep ids by it.",
    ("row_id",),
    (
        ROW_ID,
        BLOCK_ID,
        text(
            "origin",
            "Where the id comes from: numbered from the side of the config; with rows.keep_ids, kept from the earlier "
            "plan, or new; gone, where the earlier plan, or one before it, had a row that is no longer there.",
            choices=ORIGINS,
        ),
        Column(
            "moved_m",
            "number",
            "m",
            "Mean distance from the earlier row, where the two run side by side; else empty.",
            decimals=3,
            empty=True,
        ),
        text("line", "Line of the row in WGS 84, longitude and latitude, as WKT; good to 5 cm."),
    ),
)

FINDINGS: Final = Table(
    "findings",
    "What to look at before buying and building, worst first.",
    (),
    (
        text("level", "How much it matters.", choices=("note", "warning", "error")),
        text("code", "Short name of the kind of finding."),
        text("place", "Id or file it concerns."),
        text("message", "What was found, with its numbers."),
    ),
)
