"""Tables of the trellis in service and of machines between the rows: written where the config asks for them."""

from typing import Final

from wirerun.service_state import ServiceState
from wirerun.tables.column import Column, Table, count, newtons, percent, text
from wirerun.tables.layout import BLOCK_ID, ROW_ID, WIRE_ID

EXPOSURES: Final = ("edge", "sheltered")
VERDICTS: Final = ("within", "over", "not known")
_STATE: Final = text("state", "What bears on the wires at once.", choices=tuple(ServiceState))
_EXPOSURE: Final = text("exposure", "Whether it stands at a side of its block, in the whole wind.", choices=EXPOSURES)


def _per_metre(name: str, meaning: str) -> Column:
    return Column(name, "number", "N/m", meaning, decimals=2)


SERVICE: Final = Table(
    "service",
    "One line per row, wire and state of service that the config gives numbers for; loads are of the line that bears "
    "most. No safety determination: a competent person and local codes decide.",
    ("row_id", "wire_id", "state"),
    (
        ROW_ID,
        WIRE_ID,
        _STATE,
        _EXPOSURE,
        _per_metre("down_n_per_m", "Load down on a metre of the line, beside its own weight."),
        _per_metre("side_n_per_m", "Load to the side on a metre of it."),
        newtons("tension_n", "Greatest tension of the line."),
        percent("knot_used_pct", "That tension over what its end knots bear."),
        newtons("end_pull_n", "Greatest pull of the line on an end post, along the row."),
        newtons("down_n", "Greatest load down on a fixing; 0 where none is borne down on."),
        newtons("up_n", "Greatest load up on a fixing; 0 where none is pulled up."),
        newtons("side_n", "Greatest load to the side on a fixing."),
        percent("fixing_used_pct", "Greatest load over what the planned fixing bears, by what gives first."),
        text("at_post", "Post at which that is; empty where not known.", empty=True),
        text("gives_first", "What gives first there.", empty=True),
        count("over", "Fixings of the row that are over what they bear by these numbers."),
        text("verdict", "Whether knots and fixings are within what they bear by these numbers.", choices=VERDICTS),
    ),
)

SERVICE_POSTS: Final = Table(
    "service_posts",
    "One line per block, kind of post and state of service: the greatest of all its posts. Rules for a post in the "
    "ground differ twentyfold. No safety determination: a competent person and local codes decide.",
    ("block_id", "exposure", "kind", "post_item", "state"),
    (
        BLOCK_ID,
        _EXPOSURE,
        text("kind", "What the post is.", choices=("end", "intermediate")),
        text("post_item", "Post, as named in the catalogue; empty where none is long enough.", empty=True),
        _STATE,
        count("posts", "How many posts."),
        newtons("side_n", "Greatest load of all wires to the side."),
        Column("moment_nm", "number", "Nm", "Greatest moment of it about the ground.", decimals=1, empty=True),
        text("at_post", "Post at which that is; empty where not known.", empty=True),
        newtons("end_pull_n", "Greatest pull of all wires along the row on an end post."),
        Column("end_moment_nm", "number", "Nm", "Its greatest moment about the ground.", decimals=1, empty=True),
        text("rule", "Rule for what the ground bears; empty where none is chosen.", empty=True),
        Column(
            "bears_nm", "number", "Nm", "Least moment to the side that it bears by that rule.", decimals=1, empty=True
        ),
        count("over", "Posts that are pushed harder than that."),
        text("verdict", "Whether all are within what they bear by that rule.", choices=VERDICTS),
    ),
)

MACHINE_ROWS: Final = Table(
    "machine_rows",
    "One line per row and limit for machines that the config names. No safety determination: whoever drives decides.",
    ("row_id", "limit"),
    (
        ROW_ID,
        text("limit", "Limit, as named in its file."),
        percent("grade_pct", "Grade along the row at its steepest span, without sign."),
        percent("most_grade_pct", "Most of it that is allowed; empty where it does not count."),
        percent("cross_slope_pct", "Slope across the row that 95 % of its posts do not pass, without sign."),
        percent("most_cross_pct", "Most of it that is allowed; empty where it does not count."),
        percent("slope_pct", "Slope of the ground whichever way that 95 % of its posts do not pass."),
        percent("most_slope_pct", "Most of it that is allowed; empty where it does not count."),
        text("verdict", "Whether the row is within the limit.", choices=VERDICTS),
        text("source", "Where the limit comes from."),
    ),
)
