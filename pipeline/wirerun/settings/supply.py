"""Settings of what is bought and how it is worked: catalogue, fixings, coils, crew."""

from collections.abc import Sequence
from itertools import pairwise
from typing import Literal

from pydantic import Field

from wirerun.settings.section import LocalPath, Section


class CatalogueSettings(Section):
    """Where prices, holding forces and rates come from."""

    folder: LocalPath | None = Field(
        None,
        description="Folder with your catalogue: wire.csv, fixings.csv, adjusters.csv, posts.csv, wire_ends.csv, "
        "rates.csv, spares.csv. Default: the one that comes with the program, whose prices are invented.",
    )
    currency: str = Field(
        "EUR", pattern=r"^[A-Z]{3}$", description="Currency of all prices, ISO 4217. Default: choice (set your own)."
    )


class FixingSettings(Section):
    """How fixings are chosen."""

    withdrawal_factor: float = Field(
        5.0,
        ge=1.0,
        le=20.0,
        description="Safety factor on the mean withdrawal strength of timber. Default: choice (the American timber "
        "standard's ratio is 5.5 for screws and 5.7 for nails: 15 700/2850 and 7850/1380).",
    )
    clip_factor: float = Field(
        1.5,
        ge=1.0,
        le=20.0,
        description="Safety factor on the pull at which a fixing lets go. Default: choice (a fixing is driven by "
        "people).",
    )
    driven: Literal["hand", "air", "any"] = Field(
        "any",
        description="Whether staples are driven by hand, by air or either way; screws always do. Default: choice (a "
        "crew has what it has).",
    )
    most_kinds: int = Field(
        2,
        ge=1,
        le=3,
        description="Most kinds of fixing in a block for wires in clips, and as many for wires under staples; more "
        "only where so few cannot hold everywhere. Default: choice (a crew tells two kinds apart).",
    )
    use: tuple[str, ...] = Field(
        (),
        max_length=8,
        strict=False,
        description="The fixings to take, as named in the catalogue, and no others. Default: the cheapest that hold.",
    )


class CoilSettings(Section):
    """How runs of wire are cut from coils, in working order."""

    open: int = Field(
        2,
        ge=1,
        le=8,
        description="How many coils of one kind of wire may be open at once. Default: choice (with one, a plan has "
        "more joins; more than two save little and bring more coils to a zone).",
    )
    in_one_walk: bool = Field(
        default=False,
        description="Whether both lines of a wire may be run out in one walk, a person on each side of the row, where "
        "each comes whole from an open coil of its own. Needs two coils open. Default: choice (one coil at the row's "
        "end, one line a walk).",
    )
    joins: bool = Field(
        default=True,
        description="Whether a run that fits on a coil may be joined of two lengths. Default: choice (a join costs "
        "less than what is left on coils without).",
    )
    least_piece_m: float = Field(
        20.0,
        ge=0.0,
        le=1000.0,
        description="Shortest piece of a joined run, in metres. Default: choice (shorter pieces are not worth a join).",
    )
    no_join_m: float = Field(
        20.0,
        ge=0.0,
        le=1000.0,
        description="How near to an end of the run there may be no join, in metres. Default: choice (near the ends "
        "the wire is worked most).",
    )
    least_remainder_m: float = Field(
        30.0,
        ge=0.0,
        le=10_000.0,
        description="Shortest remainder of a coil that is worth keeping, in metres. Default: choice (a short row's "
        "length).",
    )


class WorkSettings(Section):
    """The crew, and what slope does to its pace."""

    people: int = Field(3, ge=1, le=100, description="People of the crew. Default: choice (two to pull, one to drive).")
    day_hours: float = Field(
        8.0, gt=0.0, le=24.0, description="Working hours of a day. Default: choice (a usual working day)."
    )
    zone_days: float = Field(
        1.0,
        gt=0.0,
        le=30.0,
        description="Days of the crew that a zone is for. Default: choice (what is carted in the morning is used by "
        "evening).",
    )
    slope_classes_pct: tuple[float, ...] = Field(
        (10.0, 20.0, 30.0),
        max_length=8,
        strict=False,
        description="Slopes that part the slope classes, rising, in percent. They only sort the work; they say nothing "
        "of safety. Default: choice (as hillside work is commonly sorted).",
    )
    slope_factors: tuple[float, ...] = Field(
        (1.0, 1.15, 1.35, 1.6),
        min_length=1,
        max_length=9,
        strict=False,
        description="What each class makes of the hours, from the flattest; one more than there are slopes. Default: "
        "choice (steeper ground is slower; time your own crew).",
    )
    walking_m_per_min: float = Field(
        50.0, gt=0.0, le=200.0, description="Walking pace along a row, in m/min. Default: choice (3 km/h)."
    )
    keep_classes_apart: bool = Field(
        default=False,
        description="Whether a zone may not mix slope classes. Default: choice (it makes more and smaller zones).",
    )
    lifts_per_year: int = Field(
        2,
        ge=0,
        le=12,
        description="How often each foliage wire is lifted in a year; it is let down once. Default: choice (shoots are "
        "tucked in two to four times a year: Heftsysteme im Rebbau, 2012).",
    )
    labour_per_hour: float | None = Field(
        None, ge=0.0, le=1e6, description="What an hour of one person costs. Default: none; labour is not priced."
    )


def class_names(classes_pct: Sequence[float]) -> list[str]:
    """Names of the slope classes, the flattest first: "0-10 %", "10-20 %", "30 % and over"."""
    limits = [0.0, *classes_pct]
    return [*(f"{a:g}-{b:g} %" for a, b in pairwise(limits)), f"{limits[-1]:g} % and over"]
