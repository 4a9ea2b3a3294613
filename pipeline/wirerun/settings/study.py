"""Settings of a study: which ways to plant are tried, and how they are judged."""

from typing import Annotated, Any, Final, Literal

from pydantic import Field

from wirerun.settings.catalogue_row import CatalogueRow
from wirerun.settings.section import LocalPath, Section

#: What a study tries directions by.
BEARING_KEY: Final = "rows.bearing_deg"


class RowRule(CatalogueRow):
    """A rule for the grade of rows: a row breaks it whose mean grade, without sign, lies outside its bounds."""

    id: Annotated[
        str, Field(pattern=r"^[A-Za-z0-9_][A-Za-z0-9_-]{0,23}$", description="Name of the rule, used once in the file.")
    ]
    least_pct: float | None = Field(None, ge=0.0, le=200.0, description="Least mean grade of a row, in percent.")
    most_pct: float | None = Field(None, ge=0.0, le=200.0, description="Most mean grade of a row, in percent.")
    most_of_slope: float | None = Field(
        None, gt=0.0, le=1.0, description="Most mean grade of a row as a share of the slope of the ground at it."
    )
    allowed_pct: float | None = Field(
        None,
        ge=0.0,
        le=100.0,
        description="A case is ruled out where more of its metres of row break the rule, in percent. Empty: it is only "
        "told.",
    )
    about: str = Field("", max_length=300, description="When the rule is for you.")


class StudySettings(Section):
    """What `wirerun study` tries, and how it is judged. A plan reads none of it."""

    directions: Literal["all", "edges", "guide", "none"] | None = Field(
        None,
        description="Directions of parallel rows that are tried: all from from_deg to to_deg, those of the block's "
        "edges, that of the guide line of rows.guide, or none. Default: all; none where study.vary has settings.",
    )
    from_deg: float = Field(
        0.0, ge=0.0, lt=360.0, description="First direction, clockwise from true north. Default: choice (north)."
    )
    to_deg: float = Field(
        179.0, ge=0.0, lt=360.0, description="Last direction; a row runs both ways. Default: choice (half a turn)."
    )
    step_deg: float = Field(
        1.0,
        ge=0.1,
        le=90.0,
        description="From one direction to the next. Default: choice (as fine as rows are set out).",
    )
    least_edge_m: float = Field(
        20.0,
        ge=1.0,
        le=10_000.0,
        description="Shortest edge whose direction is tried, in metres. Default: choice (two short spans).",
    )
    block: str | None = Field(
        None, min_length=1, max_length=40, description="The only block that is looked at. Default: all together."
    )
    by: Literal["grid", "one"] = Field(
        "grid",
        description="Whether all values of study.vary and all directions are combined with one another (grid), or one "
        "at a time changes while the others stay as the config has them (one). Default: choice (a study to begin "
        "with).",
    )
    most_cases: int = Field(
        1000, ge=1, le=100_000, description="More cases than this are refused. Default: choice (an hour or so)."
    )
    whole: Literal["all", "allowed", "none"] = Field(
        "all",
        description="Which cases are planned whole, which costs seconds each: all, those that no limit rules out, or "
        "none. Clips, hours, cost and warnings are known of these only. Default: choice (a study to begin with).",
    )
    measures: tuple[str, ...] = Field(
        ("cost", "cross_slope_p95_pct", "short_rows"),
        max_length=8,
        strict=False,
        description="What the best cases are the best in: none is worse in all of these than another. Default: choice "
        "(a study to begin with).",
    )
    short_m: float = Field(
        30.0,
        ge=1.0,
        le=1000.0,
        description="Rows shorter than this count as short, in metres. Default: common practice (their foliage wires "
        "need adjusters).",
    )
    rules: LocalPath | None = Field(
        None,
        description="CSV with rules for the grade of rows, such as the example row_grade_rules.csv. Default: none.",
    )
    sun_dates: tuple[Annotated[str, Field(pattern=r"^[0-9]{4}-[0-9]{2}-[0-9]{2}$")], ...] = Field(
        (),
        max_length=12,
        strict=False,
        description="Days for which the sun on the rows is worked out, such as 2026-06-21; wants the extra "
        "wirerun[sun]. Default: none; the sun is left out.",
    )
    canopy_m: float = Field(
        1.9, ge=0.3, le=5.0, description="Height of the canopy's top, in metres. Default: choice (the posts' height)."
    )
    canopy_width_m: float = Field(
        0.5, ge=0.05, le=3.0, description="Width of the canopy, in metres. Default: choice (a hedge of foliage)."
    )
    limits: dict[str, float] = Field(
        default_factory=dict,
        max_length=30,
        description="Most of each measure that a case may have, such as grade_max_pct = 10.0; one that has more is "
        "ruled out. Default: none.",
    )
    vary: dict[str, list[Any]] = Field(
        default_factory=dict,
        max_length=8,
        description='Settings of this config, each with the values that are tried, such as "rows.spacing_m" = [2.2, '
        '2.5] or "wires.lower.tension_n" = [250.0, 300.0]. Default: none.',
    )

    @property
    def turned(self) -> str:
        """Return which directions are tried."""
        return self.directions or ("none" if self.vary else "all")
