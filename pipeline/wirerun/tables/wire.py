"""Tables of the wires and what holds them: clips, wires, lifts, adjusters, the tension check."""

from typing import Final, NamedTuple

from wirerun.state import State
from wirerun.tables.column import Column, Table, count, metres, millimetres, newtons, percent, text
from wirerun.tables.layout import BLOCK_ID, ROW_ID, WIRE_ID, YES_NO

CLIP_KINDS: Final = ("one-way", "two-way", "staple")
SEATS: Final = ("over", "under")
#: What a wire uses a clip for.
USES: Final = ("strung", "lifted", "winter")
#: How a foliage wire gets out of the way for winter.
WAYS_DOWN: Final = ("nothing", "undo an end", "adjuster", "park")
STRAIN_FROM: Final = ("one end", "both ends", "middle")


class StateColumns(NamedTuple):
    """Names of the columns that `CLIPS` has for one state of the wire."""

    load: str
    clip: str
    seat: str


#: Columns of each state in which clips hold the wire.
OF_STATE: Final = {
    State.STRUNG: StateColumns("load_strung_n", "clip_strung", "seat_strung"),
    State.COLD: StateColumns("load_cold_n", "clip_cold", "seat_cold"),
    State.HOT: StateColumns("load_hot_n", "clip_hot", "seat_hot"),
    State.LIFTED: StateColumns("load_lifted_n", "clip_lifted", "seat_lifted"),
}


def _of_state(state: State, when: str) -> tuple[Column, ...]:
    """Load, clip and seat in one state of the wire."""
    names = OF_STATE[state]
    return (
        newtons(names.load, f"Load on the clip {when}: positive presses down, negative pulls up."),
        text(names.clip, f"Clip that the load {when} alone would ask for.", empty=True, choices=CLIP_KINDS),
        text(names.seat, f"Side on which the wire sits {when}.", empty=True, choices=SEATS),
    )


CLIPS: Final = Table(
    "clips",
    "One line per intermediate post and wire; every line of a wire is alike.",
    ("post_id", "wire_id"),
    (
        text("post_id", "Post the clip is on."),
        ROW_ID,
        WIRE_ID,
        newtons("load_min_n", "Least load on the clip over all states: positive presses down, negative pulls up."),
        newtons("load_max_n", "Greatest load on the clip over all states."),
        Column(
            "need_probability",
            "number",
            "",
            "Probability that the wire pulls up by more than the hold-down, given the heights of all posts, their "
            "error and that of setting the clip.",
            decimals=4,
            empty=True,
        ),
        Column(
            "ground_probability",
            "number",
            "",
            "The same if the clip is set exactly at its height: what the ground leaves open.",
            decimals=4,
            empty=True,
        ),
        text(
            "certainty",
            "Certainty that a two-way clip is needed: P >= 0.95, 0.5, 0.05, less.",
            empty=True,
            choices=("certain", "likely", "possible", "no"),
        ),
        text("clip", "What holds the wire.", empty=True, choices=CLIP_KINDS),
        text(
            "seat",
            "Side of the fixing on which the wire sits: over where it presses down, under where it pulls up.",
            empty=True,
            choices=SEATS,
        ),
        *_of_state(State.STRUNG, "when strung"),
        *_of_state(State.COLD, "on the coldest day that it is up"),
        *_of_state(State.HOT, "on the hottest day"),
        *_of_state(State.LIFTED, "in the lift position that pulls up most"),
        text(
            "look_on_site",
            "Whether to look at it when the wires are strained: a one-way clip is planned, and coming back later is "
            "expected to take longer (need_probability times the rate come back, against the rate look).",
            choices=("yes", "no"),
        ),
        metres("dropped_height_m", "Height of the freed wire above the ground at the post.", empty=True),
        newtons("load_side_n", "Greatest sideways load while in its clips, in a curved row; 0 in a straight one."),
        count("positions", "Clip positions of this wire's own on the post."),
        text("uses", "What the wire uses which heights for; in brackets the wire whose clip it is lifted into."),
        count("pieces", "Clips or staples for this wire on the post: positions times lines."),
        text("fixing", "Fixing, as named in the catalogue; empty where none suits.", empty=True),
        newtons("holds_n", "Pull the fixing may bear: what lets go first, the wire or the timber, over its factor."),
        text("fixing_reason", "Why this fixing, or why none.", empty=True),
        count("standing_pieces", "How many of the pieces are on the post already: those are in no order or task."),
    ),
)

WIRES: Final = Table(
    "wires",
    "One line per row and wire.",
    ("row_id", "wire_id"),
    (
        ROW_ID,
        WIRE_ID,
        count("lines", "Lines of this wire side by side."),
        metres("cut_m_per_line", "Unstretched length between the end posts, one line.", empty=True),
        metres("tails_m_per_line", "Wire for the knots at both ends, one line."),
        metres("run_out_m", "Wire to run out: all lines, tails included.", empty=True),
        newtons("tension_n", "Tension to set at the row's first post."),
        newtons("far_end_tension_n", "Tension at the row's last post when strained from the first, friction included."),
        text("strain_from", "Where to strain so that no part is left too slack.", empty=True, choices=STRAIN_FROM),
        text(
            "strain_at_post",
            "Post of the strainer in the middle: where straining from both ends leaves least; empty where none.",
            empty=True,
        ),
        newtons("cold_tension_n", "Tension at the first post on the coldest day, if it were up."),
        newtons("hot_tension_n", "Tension at the first post on the hottest day."),
        newtons("greatest_tension_n", "Greatest tension at either end over all states."),
        text(
            "drops_by_itself",
            "Whether the freed wire leaves enough of the row clear, or so nearly that no adjuster is worth it; of one "
            "that is parked in winter, whether it goes there by hand.",
            empty=True,
            choices=("yes", "no"),
        ),
        metres(
            "dropped_height_m", "Height of the freed wire above the ground at mid-row, no adjuster used.", empty=True
        ),
        millimetres(
            "take_up_mm", "Length an adjuster must give to let the wire down, or to park it; 0 where none is needed."
        ),
        text("wire_item", "Wire, as named in the catalogue; empty where it has none of this diameter.", empty=True),
        newtons(
            "unclipped_n",
            "Tension at which it would end if it were strained to tension_n before it is in its clips; do not.",
        ),
        millimetres("strain_pull_mm", "How far the strainer pulls it, from straight and slack to tension_n."),
        text("ends_move", "Whether the ends are moved with the wire when it is lifted.", choices=("yes", "no")),
        newtons("knot_bears_n", "Tension that the knots at its ends bear."),
        newtons("cold_up_tension_n", "Tension at the first post on the coldest day that it is up in its clips."),
        percent("clear_pct", "Share of the row's middle 80 % on which the freed wire is out of the way, nothing done."),
        metres("greatest_up_m", "Greatest height above the ground there.", empty=True),
        text("let_down_by", "How it gets out of the way for winter.", empty=True, choices=WAYS_DOWN),
        text("let_down_reason", "Why so.", empty=True),
        Column(
            "left_posts_up",
            "number",
            "",
            "Posts in the row's middle 80 % at which the wire, let down so, is not out of the way; empty where parked.",
            empty=True,
        ),
        metres("left_up_m", "Its greatest height above the ground there, then.", empty=True),
        millimetres(
            "lift_slack_mm",
            "Length an adjuster must give before the wire is lifted all the way; 0 where none is needed.",
        ),
        millimetres(
            "lifts_below_mm",
            "How far a clip may lie below the line of its neighbours' clips before the wire pulls up by more than "
            "undulation.hold_down_n: at its greatest tension, between spans of the row's mean length.",
        ),
        text("standing", "Whether the wire hangs already: then it is in no order, cost or task.", choices=YES_NO),
    ),
)

HOLD_DOWN_OPTIONS: Final = Table(
    "hold_down_options",
    "One line per block and upward pull that one-way clips may hold: what the order hangs on until they are tested.",
    ("block_id", "hold_down_n"),
    (
        BLOCK_ID,
        newtons("hold_down_n", "Upward pull that a one-way clip still holds."),
        count("two_way_posts", "Posts that get two-way clips then."),
        count("two_way_pieces", "Two-way clips on them."),
        text("planned", "Whether the plan is made so.", choices=("yes", "no")),
    ),
)

LIFTS: Final = Table(
    "lifts",
    "One line per row, foliage wire and position it is moved to.",
    ("row_id", "wire_id", "height_m"),
    (
        ROW_ID,
        WIRE_ID,
        metres("height_m", "Height on the intermediate posts; on the end posts too where the ends move, else its own."),
        text("use", "Lifted at the stringing temperature, or parked in winter on the coldest day.", choices=USES[1:]),
        newtons("tension_n", "Tension at the row's first post."),
        newtons("far_tension_n", "Tension at the row's last post."),
        newtons("first_load_n", "Load on the first intermediate post, which bears the change of height."),
        newtons("last_load_n", "Load on the last intermediate post."),
        newtons("load_min_n", "Least load on a clip: positive presses down, negative pulls up."),
        newtons("load_max_n", "Greatest load on a clip."),
    ),
)

LET_DOWN: Final = Table(
    "let_down",
    "One line per row, foliage wire and way to get it out of the way for winter; posts and lengths are of one line, "
    "price and minutes of all.",
    ("row_id", "wire_id", "way"),
    (
        ROW_ID,
        WIRE_ID,
        text(
            "way",
            "Nothing but freeing it from its clips; one end undone, so that it lies along the ground; an adjuster that "
            "lets it out; parked in clips of its own.",
            choices=WAYS_DOWN,
        ),
        percent("clear_pct", "Share of the row's middle 80 % on which the wire is out of the way."),
        metres("greatest_up_m", "Greatest height above the ground there.", empty=True),
        Column("posts_up", "number", "", "Posts there at which it is not out of the way.", empty=True),
        millimetres("take_up_mm", "Length to let out."),
        Column("price", "number", "", "Price of adjusters, in the config's currency.", decimals=2, empty=True),
        Column("minutes", "number", "min", "Minutes of one person to fix them, once.", decimals=1, empty=True),
        Column(
            "yearly_minutes",
            "number",
            "min",
            "Minutes of one person to strain and tie off again, or to turn adjusters, every year; empty if not known.",
            decimals=1,
            empty=True,
        ),
        text("chosen", "Whether the plan does it.", choices=("yes", "no")),
    ),
)

ADJUSTERS: Final = Table(
    "adjusters",
    "One line per line of wire that needs an adjuster.",
    ("row_id", "wire_id", "line"),
    (
        ROW_ID,
        WIRE_ID,
        count("line", "Which of the lines side by side."),
        text("end", "End of the row at which the adjuster goes.", choices=("start", "far")),
        text("kind", "Kind of adjuster, as named in the config; empty where none reaches.", empty=True),
        millimetres("take_up_mm", "Length it must give and take in all, for winter and for lifting.", empty=False),
        Column("turns", "number", "", "Turns of a winding strainer's barrel.", decimals=1, empty=True),
        text("standing", "Whether it is there already: then it is in no order, cost or task.", choices=YES_NO),
    ),
)

TENSION_CHECK: Final = Table(
    "tension_check",
    "One line per row, wire and temperature: what a wire at its set tension shows in the field.",
    ("row_id", "wire_id", "temperature_c"),
    (
        ROW_ID,
        WIRE_ID,
        Column("temperature_c", "number", "C", "Temperature of the wire.", decimals=1),
        newtons("tension_n", "Tension it should have then, at the row's first post."),
        metres("span_m", "Span it is checked on, in plan."),
        millimetres("sag_mm", "Sag below the chord at mid-span.", decimals=1),
        newtons("side_force_n", "Force that pushes the wire sideways at mid-span."),
        millimetres("deflection_mm", "How far the wire gives at that force where it slides in its clips.", decimals=1),
        newtons("gauge_n", "What the short gauge reads in that span where the wire slides in its clips."),
        newtons("gauge_stuck_n", "What it reads where the wire sticks in them."),
    ),
)
