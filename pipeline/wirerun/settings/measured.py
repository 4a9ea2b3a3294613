"""Settings of what was measured, and the rows of the files that it is written in."""

from typing import Literal

from pydantic import Field

from wirerun.settings.section import LocalPath, Section, TextRow

#: Fewest pulls on posts whose test says anything: choice.
LEAST_PULLS = 3


class MeasuredSettings(Section):
    """Files of what was measured in the field; each takes the place of an assumption."""

    tensions: LocalPath | None = Field(
        None,
        description="CSV of tensions read: row, wire, place, gauge, reading, temperature_c; for friction in the clips "
        "and the give of the end posts. Default: none.",
    )
    clip_tests: LocalPath | None = Field(
        None,
        description="CSV of one-way clips pulled upwards until they let go: item, pull_n; for what they hold. Default: "
        "none.",
    )
    pull_out_tests: LocalPath | None = Field(
        None, description="CSV of posts pulled upwards until they came: item, pull_n. Default: none."
    )
    minutes: LocalPath | None = Field(
        None, description="CSV of work timed: task, quantity, minutes; for the catalogue's minutes. Default: none."
    )
    freed_heights: LocalPath | None = Field(
        None,
        description="CSV of heights of freed wires at posts: row, wire, place, height_m, temperature_c; for how much "
        "higher they hang than computed. Default: none.",
    )
    built_posts: LocalPath | None = Field(
        None,
        description='Posts as built, CSV or any vector file: as posts.placing = "given" with these posts.points. Every '
        "row must be in it. Default: none.",
    )
    reading_share: float = Field(
        0.03,
        gt=0.0,
        le=0.5,
        description="One sigma of a tension read, as a share of it. Default: choice (a spring balance and a lath).",
    )
    height_error_m: float = Field(
        0.02, gt=0.0, le=0.5, description="One sigma of a height read, in metres. Default: choice (a folding rule)."
    )
    trust_share: float = Field(
        0.5,
        gt=0.0,
        le=1.0,
        description="A fitted value is taken where its standard deviation is at most this share of it, or of what the "
        "config has. Default: choice (two sigmas still tell it from none).",
    )


class TensionReading(TextRow):
    """One reading of a gauge."""

    row: str = Field(min_length=1, max_length=60, description="Row, such as B01-R012; its number where one block is.")
    wire: str = Field(min_length=1, max_length=24, description="Wire, as named in the config.")
    line: int = Field(1, ge=1, le=4, description="Which of the lines side by side.")
    place: str = Field(min_length=2, max_length=60, description="Span, such as S016; or the post before it, P016.")
    gauge: Literal["tension", "gauge", "give"] = Field(
        description="What was read: the tension itself, in newtons; the lath gauge, in newtons; or how far mid-span "
        "gives under check.side_force_n, in mm."
    )
    reading: float = Field(gt=0.0, le=100_000.0, description="The reading.")
    temperature_c: float = Field(ge=-40.0, le=80.0, description="Temperature of the wire, Celsius.")
    strained_from: Literal["start", "far", "both"] = Field("start", description="End it was strained from.")
    strained_c: float | None = Field(
        None, ge=-40.0, le=80.0, description="Its temperature then. Empty: that of the first reading of the line."
    )
    note: str = Field("", max_length=300, description="Whatever should be kept: who, when, what was odd.")


class ClipTest(TextRow):
    """A one-way clip that was pulled upwards."""

    item: str = Field(min_length=1, max_length=60, description="Fixing, as named in the catalogue.")
    pull_n: float = Field(ge=0.0, le=1000.0, description="Pull at which it let its wire go, in newtons.")
    note: str = Field("", max_length=300, description="Whatever should be kept.")


class PullOutTest(TextRow):
    """A post that was pulled upwards."""

    item: str = Field(min_length=1, max_length=60, description="Post, as named in the catalogue.")
    pull_n: float = Field(gt=0.0, le=100_000.0, description="Greatest pull, in newtons.")
    note: str = Field("", max_length=300, description="Whatever should be kept: where, what soil, how wet.")


class TimedWork(TextRow):
    """Work that was timed, the way along the row not counted."""

    task: str = Field(min_length=1, max_length=60, description="Task of rates.csv, or item of the catalogue.")
    quantity: float = Field(gt=0.0, le=1e6, description="How many of what the minutes are for; of wire metres.")
    minutes: float = Field(gt=0.0, le=1e5, description="Minutes by the watch.")
    people: int = Field(1, ge=1, le=100, description="People at it.")
    slope_pct: float = Field(0.0, ge=0.0, le=200.0, description="Slope there, in percent.")
    note: str = Field("", max_length=300, description="Whatever should be kept.")


class FreedHeight(TextRow):
    """Height of a freed wire at a post."""

    row: str = Field(min_length=1, max_length=60, description="Row, such as B01-R012; its number where one block is.")
    wire: str = Field(min_length=1, max_length=24, description="Wire, as named in the config.")
    place: str = Field(min_length=2, max_length=60, description="Post, such as P017.")
    height_m: float = Field(ge=0.0, le=5.0, description="Height above the ground, in metres.")
    temperature_c: float = Field(ge=-40.0, le=80.0, description="Temperature of the wire, Celsius.")
    note: str = Field("", max_length=300, description="Whatever should be kept.")
