"""Settings of where things stand: rows, posts, clips, and from when on ground counts as undulating."""

from typing import Final, Literal

from pydantic import Field

from pipeline.settings.section import Section


class RowSettings(Section):
    """Where the rows run."""

    layout: Literal["parallel"] = Field(
        "parallel", description="Straight rows at one bearing and spacing. Default: choice."
    )
    bearing_deg: float = Field(ge=0.0, lt=360.0, description="Direction of the rows, clockwise from true north.")
    spacing_m: float = Field(
        ge=0.5, le=20.0, description="Distance between rows, in metres, horizontal and square to the rows."
    )
    headland_m: float = Field(
        6.0,
        ge=0.0,
        le=100.0,
        description="Least distance of an end post from the block's edge, along the row, in metres. "
        "Default: choice (room to turn a tractor).",
    )
    side_margin_m: float = Field(
        1.2, ge=0.0, le=100.0, description="Least distance of a row from any edge, in metres. Default: choice."
    )
    min_length_m: float = Field(
        12.0, ge=1.0, le=1000.0, description="Shorter pieces of row are left out, in metres. Default: choice."
    )
    steep_grade_pct: float = Field(
        20.0, gt=0.0, le=200.0, description="Grade between two posts above which a row is reported. Default: choice."
    )
    anchor_lon: float | None = Field(
        None,
        ge=-180.0,
        le=180.0,
        description="Longitude of a point that a row passes through. Default: see anchor_row.",
    )
    anchor_lat: float | None = Field(
        None, ge=-90.0, le=90.0, description="Latitude of a point that a row passes through. Default: see anchor_row."
    )
    anchor_row: int | None = Field(
        None,
        ge=1,
        le=9999,
        description="Number of the row through the anchor point; pins all row numbers for good. Default: rows hang on "
        "a fixed point near the block's middle and the first number lies between 1 and 10.",
    )


class PostSettings(Section):
    """Where the posts stand and how tall they are."""

    placing: Literal["equal"] = Field("equal", description="Equal spans along each row. Default: choice.")
    max_span_m: float = Field(
        6.0, ge=1.0, le=30.0, description="Longest span, in metres along the slope. Default: common practice."
    )
    vine_spacing_m: float = Field(
        1.2,
        ge=0.2,
        le=10.0,
        description="Distance between vines in the row, in metres. Not used yet. Default: common practice.",
    )
    height_out_m: float = Field(
        1.9, ge=0.3, le=5.0, description="Height of a post out of the ground, in metres. Default: common practice."
    )
    post_pull_out_n: float = Field(
        883.0,
        gt=0.0,
        le=100_000.0,
        description="Upward pull at which a post comes out of the ground, in newtons. Default: a post dug in; one "
        "driven into a pilot hole held 8800 (NZ Wire Industries, The Press, 18 Apr 1980). Test on your own ground.",
    )
    pull_out_factor: float = Field(
        2.0, ge=1.0, le=10.0, description="Safety factor on post_pull_out_n. Default: choice."
    )


# Least probability of each certainty, surest first: choice.
CERTAINTY: Final = {"certain": 0.95, "likely": 0.5, "possible": 0.05, "no": 0.0}


class UndulationSettings(Section):
    """From what pull on, and from what certainty on, a two-way clip is planned."""

    hold_down_n: float = Field(
        5.0, ge=0.0, le=1000.0, description="Upward pull that a one-way clip still holds, in newtons. Default: choice."
    )
    join_posts: int = Field(
        1, ge=0, le=20, description="Posts without need that a section may bridge. Default: choice."
    )
    plan_for: Literal["certain", "likely", "possible"] = Field(
        "likely", description="From which certainty on a two-way clip is planned. Default: choice."
    )

    @property
    def planned_from(self) -> float:
        """Return the least probability of the need at which a two-way clip is planned."""
        return CERTAINTY[self.plan_for]


class ClipSettings(Section):
    """Clip positions on a post, to which foliage wires are lifted."""

    lowest_m: float = Field(
        0.95, gt=0.0, le=5.0, description="Height of the lowest clip position, in metres. Default: choice."
    )
    spacing_m: float = Field(
        0.25, ge=0.05, le=2.0, description="Distance between clip positions, in metres. Default: common practice."
    )
    most: int = Field(4, ge=1, le=12, description="Most clip positions on a post. Default: common practice.")
    nets: bool = Field(
        default=False, description="Whether nets are used, on which open clips snag. Not used yet. Default: choice."
    )
