"""Settings of where things stand: rows, posts, clips, and from when on ground counts as undulating."""

from typing import Final, Literal

from pydantic import Field

from wirerun.settings.section import LocalPath, Section


class RowSettings(Section):
    """Where the rows run."""

    layout: Literal["parallel", "follow", "given"] = Field(
        "parallel",
        description="Straight rows at one bearing (parallel), rows at equal distances from a guide line (follow), or "
        "rows from a file (given). Default: choice (most blocks are planted so).",
    )
    bearing_deg: float | None = Field(
        None, ge=0.0, lt=360.0, description="Direction of parallel rows, clockwise from true north. Default: none."
    )
    spacing_m: float = Field(ge=0.5, le=20.0, description="Distance between rows, in metres, square to the rows.")
    spacing_measured: Literal["horizontal", "slope"] = Field(
        "horizontal",
        description="Whether the spacing is measured in plan or along the ground across the rows; along the ground, "
        "the block's mean cross slope turns it into one in plan. Default: choice (as rows are set out with a tape "
        "held level).",
    )
    guide: LocalPath | None = Field(
        None, description="Vector file with one line that rows follow, such as a contour or a road. Default: none."
    )
    lines: LocalPath | None = Field(None, description="Vector file with the lines of given rows. Default: none.")
    join_gap_m: float = Field(
        2.0,
        ge=0.0,
        le=50.0,
        description="Gap between two given lines up to which they are one row, in metres. Default: choice (less than "
        "a gate).",
    )
    headland_start_m: float | None = Field(
        None, ge=0.0, le=100.0, description="Headland at the rows' start, in metres. Default: headland_m."
    )
    headland_end_m: float | None = Field(
        None, ge=0.0, le=100.0, description="Headland at the rows' far end, in metres. Default: headland_m."
    )
    headland_m: float = Field(
        6.0,
        ge=0.0,
        le=100.0,
        description="Least distance of an end post from the block's edge, along the row, in metres. "
        "Default: choice (room to turn a tractor).",
    )
    side_margin_m: float = Field(
        1.2,
        ge=0.0,
        le=100.0,
        description="Least distance of a row from any edge, in metres. Default: choice (half a narrow row spacing).",
    )
    min_length_m: float = Field(
        12.0,
        ge=1.0,
        le=1000.0,
        description="Shorter pieces of row are left out, in metres. Default: choice (two spans).",
    )
    steep_grade_pct: float = Field(
        20.0,
        gt=0.0,
        le=200.0,
        description="Grade between two posts above which a row is reported. Default: choice (where machines begin to "
        "be restricted; no statement on safety).",
    )
    first_row: Literal["left", "right", "north", "south", "east", "west"] = Field(
        "left",
        description="Side of the block at which rows are numbered from 1: left or right as one looks along the bearing "
        "(walks along the guide, along the given lines), or the side that lies to the north, south, east or west. "
        "Default: choice (some side must be first).",
    )
    keep_ids: LocalPath | None = Field(
        None,
        description="Folder of an earlier plan, such as ../outputs/my-block: rows within half a spacing of one of its "
        "rows keep its id, others get numbers that it never used. Default: none; rows are numbered from first_row.",
    )
    anchor_lon: float | None = Field(
        None,
        ge=-180.0,
        le=180.0,
        description="Longitude of a point that a parallel row passes through, so that no edit of the boundary moves "
        "the rows. Default: rows hang on a fixed point near the block's middle.",
    )
    anchor_lat: float | None = Field(
        None, ge=-90.0, le=90.0, description="Latitude of that point. Default: as for anchor_lon."
    )

    @property
    def headlands_m(self) -> tuple[float, float]:
        """Return the headlands at start and far end [m]."""
        start, end = self.headland_start_m, self.headland_end_m
        return (self.headland_m if start is None else start), (self.headland_m if end is None else end)


# A post dug in: The Press, 18 Apr 1980.
_DUG_IN_N: Final = 883.0


class PostSettings(Section):
    """Where the posts stand and how tall they are."""

    placing: Literal["equal", "vine_grid", "fitted", "given"] = Field(
        "equal",
        description="Equal spans (equal), spans of whole vines (vine_grid), whole vines where the ground makes it "
        "cheapest (fitted), or surveyed posts (given). Default: choice (what can be set out with a tape).",
    )
    min_span_m: float = Field(
        3.6,
        ge=0.5,
        le=30.0,
        description="Shortest span of fitted posts, in metres along the slope. Default: choice (three vines).",
    )
    align: Literal["row_start", "baseline"] = Field(
        "row_start",
        description="Whether posts are counted from each row's start or from one line square to all rows, so that "
        "they line up across parallel rows. Default: choice (each row is set out from its own end post).",
    )
    points: LocalPath | None = Field(
        None, description="File with surveyed posts: CSV or any vector file. Default: none."
    )
    points_crs: str | None = Field(
        None, description="CRS of a CSV of posts with E, N columns, such as EPSG:25829. Default: lon, lat columns."
    )
    points_height_unit: Literal["m", "ft", "us-ft", "ind-ft"] | None = Field(
        None, description="Unit of the surveyed heights, only where the file does not say. Default: metres."
    )
    points_accuracy_m: float | None = Field(
        None,
        ge=0.0,
        le=5.0,
        description="One sigma of a surveyed post's height, each by itself, in metres. Default: elevation.accuracy_m.",
    )
    snap_m: float = Field(
        1.0,
        gt=0.0,
        le=20.0,
        description="Distance up to which a surveyed post belongs to a row, in metres. Default: choice (less than "
        "half a row spacing).",
    )
    least_clearance_m: float = Field(
        0.3,
        ge=0.0,
        le=2.0,
        description="Least height of a wire above the ground between two posts, in metres. Default: choice (so that a "
        "mower passes).",
    )
    tall_height_out_m: float | None = Field(
        None,
        ge=0.3,
        le=6.0,
        description="Height of taller posts out of the ground, set where a wire comes too low. Default: none.",
    )
    max_span_m: float = Field(
        6.0, ge=1.0, le=30.0, description="Longest span, in metres along the slope. Default: common practice."
    )
    vine_spacing_m: float = Field(
        1.2,
        ge=0.2,
        le=10.0,
        description="Distance between vines in the row, in metres. Default: common practice.",
    )
    height_out_m: float = Field(
        1.9, ge=0.3, le=5.0, description="Height of a post out of the ground, in metres. Default: common practice."
    )
    end_item: str | None = Field(
        None,
        min_length=1,
        max_length=60,
        description="End post, as named in the catalogue. Default: its cheapest that is long enough.",
    )
    intermediate_item: str | None = Field(
        None,
        min_length=1,
        max_length=60,
        description="Intermediate post, as named in the catalogue. Default: its cheapest that is long enough.",
    )
    post_pull_out_n: float | None = Field(
        None,
        gt=0.0,
        le=100_000.0,
        description="Upward pull at which an intermediate post comes out of the ground, in newtons. Default: the "
        "catalogue's for the post chosen, else 883, a post dug in; one driven into a pilot hole held 8800 (The "
        "Press, 18 Apr 1980). Test on your own ground.",
    )
    pull_out_factor: float = Field(
        2.0,
        ge=1.0,
        le=10.0,
        description="Safety factor on post_pull_out_n. Default: choice (soils differ from post to post).",
    )

    end_give_mm_per_kn: float = Field(
        0.0,
        ge=0.0,
        le=200.0,
        description="How far an end post comes in at the wires for every kN that all its lines together pull more than "
        "as strung, in mm. Softens the cold and lifting; measure it on a post of yours. Default: choice (it stands).",
    )

    @property
    def pull_out_n(self) -> float:
        """Return the upward pull at which an intermediate post comes out of the ground [N]."""
        return self.post_pull_out_n or _DUG_IN_N


# Least probability of each certainty, surest first: choice.
CERTAINTY: Final = {"certain": 0.95, "likely": 0.5, "possible": 0.05, "no": 0.0}


class UndulationSettings(Section):
    """From what pull on, and from what certainty on, a two-way clip is planned."""

    hold_down_n: float = Field(
        5.0,
        ge=0.0,
        le=1000.0,
        description="Upward pull that a one-way clip still holds, in newtons. Default: the least that the catalogue "
        "says of its one-way clips (hold_down_n, hold_down_tests_n in fixings.csv), else 5 (choice: what an open clip "
        "holds by friction). Test yours: nothing else decides so much.",
    )
    hold_side_n: float = Field(
        30.0,
        ge=0.0,
        le=1000.0,
        description="Sideways pull in a curved row above which a two-way clip is planned, in newtons. Default: choice "
        "(what bends an open clip aside).",
    )
    join_posts: int = Field(
        1,
        ge=0,
        le=20,
        description="Most posts without need that a section may take in, where that is cheaper than changing kinds "
        'twice by the catalogue\'s prices and its rate "change kind". Default: choice (a crew does not change clips '
        "for one post).",
    )
    plan_for: Literal["price", "certain", "likely", "possible"] = Field(
        "price",
        description="From when on a two-way clip is planned: where it costs less, by the catalogue's prices and rates, "
        "than the chance to come back to a wire that pops out; or from a certainty on. Default: choice (tried on "
        "grounds whose truth is known).",
    )
    two_way_from: float | None = Field(
        None,
        gt=0.0,
        le=1.0,
        description="Least probability of the need at which a two-way clip is planned. Default: that of plan_for.",
    )

    @property
    def planned_from(self) -> float:
        """Return the least probability of the need at which a two-way clip is planned.

        By price the catalogue must have been asked, `rules.clip_prices`; until then what is likely is planned.
        """
        if self.two_way_from is not None:
            return self.two_way_from
        return CERTAINTY.get(self.plan_for, CERTAINTY["likely"])


class FittingSettings(Section):
    """What posts are fitted by beside the catalogue's prices, in its currency."""

    post_price: float | None = Field(
        None, ge=0.0, le=1e6, description="A post, set, with its clips. Default: the catalogue's."
    )
    two_way_price: float | None = Field(
        None,
        ge=0.0,
        le=1e6,
        description="What a two-way clip costs more than a one-way one, for each line. Default: the catalogue's, for "
        "every clip of the line.",
    )
    hold_down_price: float = Field(
        9.0, ge=0.0, le=1e6, description="Holding down a post that is pulled up too hard. Default: choice (invented)."
    )
    breach_price: float = Field(
        20.0,
        ge=0.0,
        le=1e6,
        description="A span in which a wire comes too close to the ground. Default: choice (invented).",
    )


class ClipSettings(Section):
    """Clip positions on a post, to which foliage wires are lifted; a clip is set only where a wire uses it."""

    lowest_m: float = Field(
        0.95,
        gt=0.0,
        le=5.0,
        description="Height of the lowest clip position, in metres. Default: choice (above a fruiting wire at 0.9 m).",
    )
    spacing_m: float = Field(
        0.25, ge=0.05, le=2.0, description="Distance between clip positions, in metres. Default: common practice."
    )
    most: int = Field(4, ge=1, le=12, description="Most clip positions on a post. Default: common practice.")
    marking_m: float = Field(
        0.01,
        ge=0.0,
        le=0.2,
        description="One sigma of how far a clip is set off its height, in metres. Default: choice (a marking stick).",
    )
    level_m: float = Field(
        0.0,
        ge=0.0,
        le=0.1,
        description="How much higher or lower all clips of a post may be set to even out dips, in metres, in steps of "
        "a centimetre. Default: choice (0: all at their heights).",
    )
    winter_m: float | None = Field(
        None,
        gt=0.0,
        le=5.0,
        description="Height at which foliage wires are parked in winter in clips of their own, in metres, below all of "
        "them. Default: none; they lie on the ground.",
    )
    nets: bool = Field(
        default=False,
        description="Whether nets are used: every fixing must then be safe for them. Default: choice (most blocks "
        "have none).",
    )
    harvester: bool = Field(
        default=False,
        description="Whether grapes are picked by machine: every fixing must then be safe for it. Default: choice "
        "(hillsides are mostly picked by hand).",
    )
