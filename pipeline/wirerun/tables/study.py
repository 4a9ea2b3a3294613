"""Tables of a study: one line per case, and one per row of a case."""

from typing import Final

from wirerun.tables.column import Column, Table, count, metres, percent, text
from wirerun.tables.layout import BLOCK_ID, ROW_ID, RUN_GRADE, RUN_M


def _whole(name: str, meaning: str) -> Column:
    """Column of whole numbers that only cases planned whole have."""
    return Column(name, "number", "", f"{meaning} Empty where the case was not planned whole.", empty=True)


#: What cases are measured by; less is better but for those of `MORE_IS_BETTER`.
MEASURES: Final = (
    count("rows", "Rows."),
    metres("row_length_m", "Horizontal length of all rows. Empty where the case could not be laid out.", empty=True),
    count("posts", "Posts, end posts included."),
    _whole("two_way_posts", "Posts that get two-way clips."),
    count("adjusters", "Adjusters."),
    metres("wire_m", "Wire to run out, all lines of all wires. Empty likewise.", empty=True),
    percent("grade_mean_pct", "Mean grade along the rows, without sign, by metres of row."),
    percent("grade_p95_pct", "Grade along the rows that 95 % of the metres do not pass."),
    percent("grade_max_pct", "Steepest grade of a span."),
    percent("cross_slope_p95_pct", "Slope of the ground across the rows that 95 % of the posts do not pass."),
    Column(
        "cost",
        "number",
        "currency",
        "All that is priced, as in the plan's costs. Empty where the case was not planned whole.",
        2,
        empty=True,
    ),
    percent("cross_slope_mean_pct", "Mean slope of the ground across the rows, without sign, at the posts."),
    Column("mean_row_m", "number", "m", "Mean horizontal length of a row.", 1, empty=True),
    count("short_rows", "Rows shorter than study.short_m."),
    percent("planted_pct", "Metres of row times their spacing, of the block's ground, exclusions taken off."),
    count("end_posts", "End posts."),
    count("turns", "Turns of a machine that drives every row once: one fewer in each block than it has rows."),
    count("steep_rows", "Rows with a span over rows.steep_grade_pct."),
    count("left_out_rows", "Rows that cannot be planned for want of ground heights; in no other number."),
    Column(
        "sun_floor_h",
        "number",
        "h",
        "Hours a day, mean of study.sun_dates, in which the sun reaches the middle of the alley. Flat ground, open "
        "horizon, no cloud. Empty without dates.",
        2,
        empty=True,
    ),
    Column(
        "sun_side_h",
        "number",
        "h",
        "Hours a day of sun on the side of the canopy that has less of it, counted by the share of its height that is "
        "lit. Likewise.",
        2,
        empty=True,
    ),
    _whole("look_posts", "Posts to look at on site."),
    Column("hours", "number", "h", "Hours of one person. Empty likewise.", 2, empty=True),
    _whole("warnings", "Findings of level warning or worse."),
)

MORE_IS_BETTER: Final = ("row_length_m", "mean_row_m", "planted_pct", "sun_floor_h", "sun_side_h")

#: What only cases planned whole have.
OF_WHOLE_PLANS: Final = ("two_way_posts", "cost", "look_posts", "hours", "warnings")

_CASE: Final = text("case", "Case, such as C001. C000 is the config as it stands.")


def study_table(keys: tuple[str, ...], rules: tuple[str, ...] = ()) -> Table:
    """Return the table of cases, with a column for every varied setting, and the rows that break each rule."""
    return Table(
        "study",
        "One line per case: the varied settings, then what comes of them.",
        ("case",),
        (
            *(text(key, f"Setting {key} of the case.", empty=True) for key in keys),
            *MEASURES,
            *(
                Column(f"rule_{rule}", "integer", "", f"Rows that break the rule {rule} of study.rules.")
                for rule in rules
            ),
            _CASE,
            text("whole", "Whether the case was planned whole.", choices=("yes", "no")),
            text("ruled_out", "Which limits and rules rule the case out, and by what. Empty: none does.", empty=True),
            text(
                "front",
                "Whether no other case is better in one of study.measures and as good in all of them; a measure that "
                "is known of no case does not count. Empty where the case is ruled out, or one of them is not known.",
                empty=True,
                choices=("yes", "no"),
            ),
            text("failed", "Why the case could not be planned, or which blocks could not.", empty=True),
        ),
    )


STUDY_ROWS: Final = Table(
    "study_rows",
    "One line per case and row: its grade, and how far water runs along it.",
    ("case", "row_id"),
    (
        _CASE,
        ROW_ID,
        BLOCK_ID,
        metres("length_m", "Horizontal length of the row."),
        percent("grade_mean_pct", "Mean grade along the row, without sign, by metres."),
        percent("grade_max_pct", "Steepest grade of a span, without sign."),
        percent("slope_pct", "Mean slope of the ground at its posts, along and across the row together."),
        RUN_M,
        RUN_GRADE,
        text("breaks", "Rules of study.rules that the row breaks.", empty=True),
    ),
)
