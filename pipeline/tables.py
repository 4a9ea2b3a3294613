"""The one dictionary of columns: name, kind, unit, decimals, whether it may be empty, and what it means.

The checks between stages, the CSV headers, the field comments of the GeoPackage and the data dictionary come from here.
Lengths are ground metres; `length_m` and `horizontal_m` lie in the horizontal, `slope_length_m` and `chord_m` in space.
"""

from dataclasses import dataclass
from typing import Final, Literal

import pandas as pd

from pipeline.errors import TableError

Kind = Literal["text", "integer", "number"]


@dataclass(frozen=True, slots=True)
class Column:
    """One column. `decimals` is how many a CSV carries; `choices` are the values a text column may take."""

    name: str
    kind: Kind
    unit: str
    meaning: str
    decimals: int = 0
    empty: bool = False
    choices: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Table:
    """One table: its columns in order, the columns that tell its lines apart, and the shape of its features, if any.

    Tables are sorted by their key; one without a key keeps the order it was made in.
    """

    name: str
    meaning: str
    key: tuple[str, ...]
    columns: tuple[Column, ...]
    shape: Literal["", "Point", "LineString"] = ""

    @property
    def names(self) -> list[str]:
        """Return the column names in order."""
        return [column.name for column in self.columns]


def _text(name: str, meaning: str, *, empty: bool = False, choices: tuple[str, ...] = ()) -> Column:
    return Column(name, "text", "", meaning, empty=empty, choices=choices)


def _count(name: str, meaning: str) -> Column:
    return Column(name, "integer", "", meaning)


def _metres(name: str, meaning: str, *, empty: bool = False) -> Column:
    return Column(name, "number", "m", meaning, decimals=3, empty=empty)


def _degrees(name: str, meaning: str) -> Column:
    return Column(name, "number", "deg", meaning, decimals=9)


def _percent(name: str, meaning: str) -> Column:
    return Column(name, "number", "%", meaning, decimals=2, empty=True)


def _newtons(name: str, meaning: str) -> Column:
    return Column(name, "number", "N", meaning, decimals=2, empty=True)


def _millimetres(name: str, meaning: str, *, decimals: int = 0, empty: bool = True) -> Column:
    return Column(name, "number", "mm", meaning, decimals=decimals, empty=empty)


def _of_state(state: str, when: str) -> tuple[Column, ...]:
    """Load, clip and seat in one state of the wire."""
    return (
        _newtons(f"load_{state}_n", f"Load on the clip {when}: positive bears down, negative pulls up."),
        _text(f"clip_{state}", f"Clip that the load {when} alone would ask for.", empty=True, choices=CLIP_KINDS),
        _text(f"seat_{state}", f"Side on which the wire sits {when}.", empty=True, choices=SEATS),
    )


STATES: Final = ("tight", "cold", "hot", "lifted")
CLIP_KINDS: Final = ("one-way", "two-way", "staple")
SEATS: Final = ("over", "under")
STRAIN_FROM: Final = ("one end", "both ends", "middle")


_ROW_ID: Final = _text("row_id", "Row, such as B01-R012. A second piece of a cut row is B01-R012b.")
_WIRE_ID: Final = _text("wire_id", "Wire, as named in the config.")
_BLOCK_ID: Final = _text("block_id", "Block the row belongs to.")
_SECTION_ID: Final = _text("section_id", "Undulating section, such as B01-R012-U01.")

ROWS: Final = Table(
    "rows",
    "One line per row.",
    ("row_id",),
    (
        _ROW_ID,
        _BLOCK_ID,
        Column(
            "bearing_deg", "number", "deg", "Direction, clockwise from true north at the block's middle.", decimals=3
        ),
        _metres("length_m", "Horizontal length between the end posts."),
        _metres("slope_length_m", "Length in space, from post to post.", empty=True),
        _degrees("start_lon", "Longitude of the first end post, WGS 84."),
        _degrees("start_lat", "Latitude of the first end post, WGS 84."),
        _degrees("end_lon", "Longitude of the last end post, WGS 84."),
        _degrees("end_lat", "Latitude of the last end post, WGS 84."),
        _metres("start_ground_m", "Ground height at the first end post, as in the raster, in metres.", empty=True),
        _metres("end_ground_m", "Ground height at the last end post, as in the raster, in metres.", empty=True),
        _count("posts", "Posts, end posts included."),
        _count("spans", "Spans."),
        _percent("max_grade_pct", "Steepest grade of a span, up or down, without sign."),
        _count("two_way_posts", "Posts that get two-way clips."),
        _text("given_attributes", "What the file of given rows says of the row, as JSON; else empty.", empty=True),
    ),
    shape="LineString",
)

POSTS: Final = Table(
    "posts",
    "One line per post, numbered along the bearing.",
    ("post_id",),
    (
        _text("post_id", "Post, such as B01-R012-P007."),
        _ROW_ID,
        _text("kind", "What the post is.", choices=("end", "intermediate")),
        _metres("station_m", "Horizontal distance from the row's first post."),
        _degrees("lon", "Longitude, WGS 84."),
        _degrees("lat", "Latitude, WGS 84."),
        _metres("ground_m", "Ground height, smoothed along the row.", empty=True),
        _percent("grade_change_pct", "Grade behind the post less grade before it: negative on a crest."),
        _text("section_id", "Undulating section the post stands in, if any.", empty=True),
        _newtons("uplift_n", "Greatest upward pull of all lines of all wires on the post, over all states."),
        _newtons("end_pull_n", "Greatest horizontal pull of all lines of all wires on an end post."),
        Column("end_moment_nm", "number", "Nm", "Its moment about the ground.", decimals=1, empty=True),
        _metres("height_out_m", "Height of the post out of the ground."),
        _count("clip_positions", "Clip positions that fit on the post; none on end posts."),
    ),
    shape="Point",
)

SPANS: Final = Table(
    "spans",
    "One line per span and wire; every line of a wire is alike.",
    ("span_id", "wire_id"),
    (
        _text("span_id", "Span, such as B01-R012-S006, from post 6 to post 7."),
        _ROW_ID,
        _WIRE_ID,
        _text("from_post", "Post at the span's start."),
        _text("to_post", "Post at the span's end."),
        _metres("horizontal_m", "Horizontal distance between the posts."),
        _metres("rise_m", "Height of the far post's ground above the near one's.", empty=True),
        _percent("grade_pct", "Rise over horizontal distance."),
        Column("chord_m", "number", "m", "Straight distance between the wire's supports.", decimals=4, empty=True),
        Column("wire_m", "number", "m", "Length of the wire under tension.", decimals=4, empty=True),
        Column("cut_m", "number", "m", "Unstretched length of the wire.", decimals=4, empty=True),
        Column("sag_mm", "number", "mm", "Sag below the chord at mid-span.", decimals=2, empty=True),
        _newtons("tension_start_n", "Tension at the near support."),
        _newtons("tension_end_n", "Tension at the far support."),
        _metres("clearance_m", "Least height of the wire above the ground within the span.", empty=True),
    ),
    shape="LineString",
)

CLIPS: Final = Table(
    "clips",
    "One line per intermediate post and wire; every line of a wire is alike.",
    ("post_id", "wire_id"),
    (
        _text("post_id", "Post the clip is on."),
        _ROW_ID,
        _WIRE_ID,
        _newtons("load_min_n", "Least load on the clip over all states: positive bears down, negative pulls up."),
        _newtons("load_max_n", "Greatest load on the clip over all states."),
        Column(
            "need_probability",
            "number",
            "",
            "Probability that the wire pulls up by more than the hold-down, given the error of the heights.",
            decimals=4,
            empty=True,
        ),
        _text(
            "certainty",
            "Certainty that a two-way clip is needed: P >= 0.95, 0.5, 0.05, less.",
            empty=True,
            choices=("certain", "likely", "possible", "no"),
        ),
        _text("clip", "What holds the wire.", empty=True, choices=CLIP_KINDS),
        _text(
            "seat",
            "Side of the fixing on which the wire sits: over where it bears down, under where it pulls up.",
            empty=True,
            choices=SEATS,
        ),
        *_of_state("tight", "when strung"),
        *_of_state("cold", "on the coldest day"),
        *_of_state("hot", "on the hottest day"),
        *_of_state("lifted", "in the lift position that pulls up most"),
        _metres("dropped_height_m", "Height of the freed wire above the ground at the post.", empty=True),
        _newtons("load_side_n", "Sideways load in a curved row, in the tightest state; 0 in a straight one."),
    ),
)

SECTIONS: Final = Table(
    "sections",
    "One line per undulating section: a run of posts that get two-way clips.",
    ("section_id",),
    (
        _SECTION_ID,
        _ROW_ID,
        _text("from_post", "First post of the section."),
        _text("to_post", "Last post of the section."),
        _metres("length_m", "Horizontal length, half a span beyond the first and last post included."),
        _count("posts", "Posts in the section."),
        _newtons("greatest_pull_up_n", "Greatest upward pull of one line of wire on a clip in the section."),
        _percent("greatest_grade_change_pct", "Greatest grade change at a post of the section."),
    ),
    shape="LineString",
)

WIRES: Final = Table(
    "wires",
    "One line per row and wire.",
    ("row_id", "wire_id"),
    (
        _ROW_ID,
        _WIRE_ID,
        _count("lines", "Lines of this wire side by side."),
        _metres("cut_m_per_line", "Unstretched length between the end posts, one line.", empty=True),
        _metres("tails_m_per_line", "Wire for the knots at both ends, one line."),
        _metres("run_out_m", "Wire to run out: all lines, tails included.", empty=True),
        _newtons("tension_n", "Tension to set at the row's first post."),
        _newtons(
            "far_end_tension_n", "Tension at the row's last post when strained from the first, friction included."
        ),
        _text("strain_from", "Where to strain so that no part is left too slack.", empty=True, choices=STRAIN_FROM),
        _newtons("cold_tension_n", "Tension at the first post on the coldest day."),
        _newtons("hot_tension_n", "Tension at the first post on the hottest day."),
        _newtons("greatest_tension_n", "Greatest tension at either end over all states."),
        _text(
            "drops_by_itself", "Whether the freed wire lies low enough at mid-row.", empty=True, choices=("yes", "no")
        ),
        _metres(
            "dropped_height_m", "Height of the freed wire above the ground at mid-row, no adjuster used.", empty=True
        ),
        _millimetres("take_up_mm", "Length an adjuster must give to let the wire down; 0 where none is needed."),
    ),
)

LIFTS: Final = Table(
    "lifts",
    "One line per row, foliage wire and position it is lifted to.",
    ("row_id", "wire_id", "height_m"),
    (
        _ROW_ID,
        _WIRE_ID,
        _metres("height_m", "Height on the intermediate posts; on the end posts the wire stays at its own."),
        _newtons("tension_n", "Tension at the row's first post."),
        _newtons("far_tension_n", "Tension at the row's last post."),
        _newtons("first_load_n", "Load on the first intermediate post, which bears the change of height."),
        _newtons("last_load_n", "Load on the last intermediate post."),
        _newtons("load_min_n", "Least load on a clip: positive bears down, negative pulls up."),
        _newtons("load_max_n", "Greatest load on a clip."),
    ),
)

ADJUSTERS: Final = Table(
    "adjusters",
    "One line per line of wire that needs an adjuster.",
    ("row_id", "wire_id", "line"),
    (
        _ROW_ID,
        _WIRE_ID,
        _count("line", "Which of the lines side by side."),
        _text("end", "End of the row at which the adjuster goes.", choices=("start", "far")),
        _text("kind", "Kind of adjuster, as named in the config; empty where none reaches.", empty=True),
        _millimetres("take_up_mm", "Length it must give and take.", empty=False),
        Column("turns", "number", "", "Turns of a winding strainer's barrel.", decimals=1, empty=True),
    ),
)

TENSION_CHECK: Final = Table(
    "tension_check",
    "One line per row, wire and temperature: what a rightly strung wire shows in the field.",
    ("row_id", "wire_id", "temperature_c"),
    (
        _ROW_ID,
        _WIRE_ID,
        Column("temperature_c", "number", "C", "Temperature of the wire.", decimals=1),
        _newtons("tension_n", "Tension it should have then, at the row's first post."),
        _metres("span_m", "Span it is checked on, in plan."),
        _millimetres("sag_mm", "Sag below the chord at mid-span.", decimals=1),
        _newtons("side_force_n", "Force that pushes the wire sideways at mid-span."),
        _millimetres("deflection_mm", "How far the wire gives at that force.", decimals=1),
    ),
)

FINDINGS: Final = Table(
    "findings",
    "What to look at before buying and building, worst first.",
    (),
    (
        _text("level", "How much it matters.", choices=("note", "warning", "error")),
        _text("code", "Short name of the kind of finding."),
        _text("place", "Id or file it concerns."),
        _text("message", "What was found, with its numbers."),
    ),
)

TABLES: Final[dict[str, Table]] = {
    t.name: t for t in (ROWS, POSTS, SPANS, CLIPS, SECTIONS, WIRES, LIFTS, ADJUSTERS, TENSION_CHECK, FINDINGS)
}

_DTYPES: Final[dict[Kind, str]] = {"text": "str", "integer": "int64", "number": "float64"}


def empty(table: Table) -> pd.DataFrame:
    """Return a table without lines, with the right columns and dtypes."""
    return pd.DataFrame({c.name: pd.Series(dtype=_DTYPES[c.kind]) for c in table.columns})


def conform(table: Table, frame: pd.DataFrame) -> pd.DataFrame:
    """Return the table's columns in order, sorted by its key, after checking every promise of the dictionary.

    A geometry column is kept, last.

    Parameters
    ----------
    table : Table
        What is promised.
    frame : DataFrame
        What a stage made; columns beyond the table's are left out.

    Raises
    ------
    TableError
        If a column is missing, has the wrong kind, is empty where it may not be, or holds a value outside its choices;
        names the table, the column and the first value.
    """
    missing = [name for name in table.names if name not in frame.columns]
    if missing:
        msg = f"table {table.name}: no column {', '.join(missing)}"
        raise TableError(msg)
    out = frame[[*table.names, *(["geometry"] if "geometry" in frame.columns else [])]].copy()
    for column in table.columns:
        values = out[column.name]
        if column.kind == "text":
            out[column.name] = values.astype("str")
            bad = values[~(values.isin(column.choices) | values.isna())] if column.choices else values[:0]
            if len(bad):
                msg = f"table {table.name}, column {column.name}: {bad.iloc[0]!r} is not one of {column.choices}"
                raise TableError(msg)
        elif values.dtype != _DTYPES[column.kind]:
            msg = f"table {table.name}, column {column.name}: {values.dtype} where {_DTYPES[column.kind]} is promised"
            raise TableError(msg)
        if not column.empty and values.isna().any():
            first = out.loc[values.isna(), table.names[:3]].iloc[0].to_dict()
            msg = f"table {table.name}, column {column.name}: empty at {first}"
            raise TableError(msg)
    if not table.key:
        return out.reset_index(drop=True)
    if out.duplicated(list(table.key)).any():
        twin = out.loc[out.duplicated(list(table.key)), list(table.key)].iloc[0].to_dict()
        msg = f"table {table.name}: two lines for {twin}"
        raise TableError(msg)
    return out.sort_values(list(table.key), kind="stable", ignore_index=True)
