"""Settings of the wires: what they are, how they are strung, and what they go through in a season."""

import math
from typing import Annotated, Final, Literal

from pydantic import Field

from wirerun.settings.section import Section

# 6650 N on 2.5 mm: NZ Agricultural Engineering Institute, The Press, 18 Apr 1980.
_BREAKING_N_PER_MM2: Final = 6650.0 / (math.pi * 2.5**2 / 4.0)

# Choice: more than any trellis has.
MOST_WIRES: Final = 20


class WireSettings(Section):
    """One wire position on the posts."""

    id: str = Field(
        pattern=r"^[A-Za-z0-9_][A-Za-z0-9_-]{0,23}$", description="Name of the wire: letters, digits, - and _."
    )
    kind: Literal["fixed", "foliage"] = Field(description="Whether the wire is moved through the season.")
    held_by: Literal["staple", "clip"] | None = Field(
        None, description="How intermediate posts hold it. Default: staple for fixed wires, clip for foliage wires."
    )
    height_m: float = Field(gt=0.0, le=5.0, description="Height of the wire above ground at each post, in metres.")
    lines: int = Field(
        1,
        ge=1,
        le=4,
        description="Wires side by side at that height: 2 for one each side of the post. Default: choice (shoots are "
        "held between a pair).",
    )
    diameter_mm: float = Field(
        2.5, ge=1.0, le=8.0, description="Diameter of the bare round wire, in mm. Default: common practice."
    )
    item: str | None = Field(
        None,
        min_length=1,
        max_length=60,
        description="The wire to buy, as named in the catalogue. Default: its cheapest of this diameter, by length.",
    )
    tension_n: float = Field(
        300.0,
        ge=10.0,
        le=10000.0,
        description="Tension at the row's start when strung, in newtons. Default: common practice for foliage wires.",
    )
    tail_m: float = Field(
        0.5,
        ge=0.0,
        le=5.0,
        description="Wire beyond each end support for the knot round the end post, in metres. Default: choice (a turn "
        "round the post and the knot).",
    )
    density_kg_m3: float = Field(
        7850.0, ge=500.0, le=20000.0, description="Density, kg/m3. Default: steel, EN 1991-1-1 table A.4 (77.0 kN/m3)."
    )
    youngs_modulus_gpa: float = Field(
        200.0, ge=0.5, le=400.0, description="Young's modulus, GPa. Default: steel, rounded handbook value."
    )
    expansion_per_k: float = Field(
        12e-6,
        ge=0.0,
        le=1e-3,
        description="Thermal expansion per kelvin. Default: steel, EN 1993-1-1 3.2.6.",
    )
    breaking_n: float | None = Field(
        None,
        gt=0.0,
        le=100_000.0,
        description="Breaking load of one wire, in newtons. Default: the catalogue's; where it has no such wire, 1355 "
        "N/mm2 over its section, from 6650 N for 2.5 mm high-tensile wire (NZ Agricultural Engineering Institute, The "
        "Press, 18 Apr 1980).",
    )
    knot_efficiency: float = Field(
        0.44,
        gt=0.0,
        le=1.0,
        description="Share of the breaking load that the end knot keeps. Default: the weakest knot of the same tests, "
        "a double loop (2935 of 6650 N).",
    )
    lifts_m: tuple[Annotated[float, Field(gt=0.0, le=5.0)], ...] | None = Field(
        None,
        max_length=12,
        strict=False,
        description="Heights on the intermediate posts that a foliage wire is lifted to, in metres. Default: the clip "
        "positions above it up to the next foliage wire's, into whose clips it goes when that one has gone up, as many "
        "as are on the posts; none where staples hold it (choice).",
    )

    ends_move: bool = Field(
        default=False,
        description="Whether a foliage wire's ends are moved with it, on a hook or chain at each end post; else they "
        "stay at its height. Default: choice (ends are mostly fixed).",
    )

    @property
    def strength_n(self) -> float:
        """Return the breaking load of one wire [N]."""
        return self.breaking_n or _BREAKING_N_PER_MM2 * math.pi * self.diameter_mm**2 / 4.0

    @property
    def knot_n(self) -> float:
        """Return the tension that its end knots bear [N]."""
        return self.strength_n * self.knot_efficiency

    @property
    def holder(self) -> Literal["staple", "clip"]:
        """Return what holds the wire on intermediate posts."""
        return self.held_by or ("staple" if self.kind == "fixed" else "clip")


def default_wires() -> tuple[WireSettings, ...]:
    """Return the two foliage pairs at the usual heights (common practice)."""
    return (
        WireSettings(id="lower", kind="foliage", height_m=1.2, lines=2),
        WireSettings(id="upper", kind="foliage", height_m=1.45, lines=2),
    )


class StateSettings(Section):
    """The states of the wires through the season."""

    stringing_c: float = Field(
        15.0,
        ge=-30.0,
        le=50.0,
        description="Temperature of the wire when strung, Celsius. Default: choice (a mild working day).",
    )
    cold_c: float = Field(
        -5.0,
        ge=-60.0,
        le=50.0,
        description="Coldest temperature of the wire, Celsius: for fixed wires, wires parked for winter, and what "
        "knots and end posts bear. Default: choice (a light frost).",
    )
    cold_up_c: float = Field(
        0.0,
        ge=-60.0,
        le=50.0,
        description="Coldest temperature with the foliage wires up in their clips, Celsius; in the hard frost they are "
        "down. Taken as no colder than cold_c and no warmer than stringing_c. Default: choice (a night in spring).",
    )
    hot_c: float = Field(
        40.0,
        ge=-30.0,
        le=90.0,
        description="Hottest temperature of the wire, Celsius. Default: choice (wire in the sun).",
    )
    hot_least_n: float = Field(
        100.0,
        ge=0.0,
        le=10_000.0,
        description="Tension below which a foliage wire no longer holds the shoots on the hottest day, in newtons; 0 "
        "asks for none. Default: choice (a wire that still holds shoots up).",
    )
    winter_c: float = Field(
        5.0,
        ge=-60.0,
        le=50.0,
        description="Temperature of the wire when the foliage wires are let down, Celsius. Default: choice (a mild "
        "winter day).",
    )
    drop_height_m: float = Field(
        0.5,
        gt=0.0,
        le=3.0,
        description="Height above ground up to which a dropped wire is out of the way, in metres. Default: choice "
        "(knee height).",
    )
    drop_clearance_m: float = Field(
        0.0,
        ge=0.0,
        le=2.0,
        description="Height above ground at mid-row of a wire that is just down on level ground, in metres: as much of "
        "the middle 80 % of a row as that wire leaves clear must be clear on any ground. Default: common practice (it "
        "lies on the ground half-way).",
    )
    drop_tolerance_m: float = Field(
        0.01,
        ge=0.0,
        le=0.5,
        description="How much higher than drop_height_m a dropped wire may hang and still count as out of the way, in "
        "metres; an adjuster, where one is needed, lets it down to drop_height_m itself. Default: choice (less than "
        "the heights of any survey are good for).",
    )
    freed_higher_m: float = Field(
        0.0,
        ge=0.0,
        le=1.0,
        description="How much higher freed wires hang than computed, in metres: so much less than drop_height_m is "
        "asked of the computation. Measure it (measured.freed_heights). Default: choice (0; bare ground, wire that "
        "slides).",
    )
    lift_limit_n: float = Field(
        600.0,
        ge=50.0,
        le=10_000.0,
        description="Tension up to which a foliage wire is moved to its other clips by hand, in newtons; a row that "
        "passes it gets slack from an adjuster. Default: choice (what two hands draw aside).",
    )
    friction: float = Field(
        0.2,
        ge=0.0,
        le=2.0,
        description="Friction of the wire in its clips, the capstan's mu. Default: choice (greased to dry steel).",
    )
    min_far_tension: float = Field(
        0.8,
        ge=0.0,
        le=1.0,
        description="Least tension at the far end as a share of the set one; below it straining from both ends or the "
        "middle is advised. Default: choice (the wire must not sag at the far end).",
    )

    @property
    def computed_drop_m(self) -> float:
        """Return the height up to which a dropped wire, as computed, is out of the way [m]."""
        return max(self.drop_height_m - self.freed_higher_m, 0.01)

    def coldest_c(self, kind: str) -> float:
        """Return the coldest temperature with a wire of a kind up in its clips [degree C]."""
        return self.cold_c if kind == "fixed" else min(max(self.cold_up_c, self.cold_c), self.stringing_c)


class AdjusterKind(Section):
    """One kind of adjuster: a wrap-on tie has a range, a winding strainer a barrel and turns."""

    id: str = Field(pattern=r"^[A-Za-z0-9_][A-Za-z0-9_ -]{0,39}$", description="Name of the kind.")
    most_mm: float = Field(gt=0.0, le=5000.0, description="Longest length of wire it takes up, in mm.")
    least_mm: float = Field(
        0.0, ge=0.0, le=5000.0, description="Shortest length it takes up, in mm. Default: choice (any that fits)."
    )
    barrel_mm: float | None = Field(
        None, ge=5.0, le=200.0, description="Diameter of the barrel of a winding strainer, in mm. Default: no barrel."
    )
    tail_m: float = Field(
        0.3, ge=0.0, le=5.0, description="Wire it needs beyond the tie-off, in metres. Default: common practice."
    )


class AdjusterSettings(Section):
    """Which adjusters there are, and at which end they go."""

    end: Literal["start", "far"] = Field(
        "start",
        description="End of the row at which adjusters go: the easier headland. Default: choice (some end must be "
        "first).",
    )
    least_take_up_mm: float = Field(
        10.0,
        ge=0.0,
        le=1000.0,
        description="Shortest take-up that is worth an adjuster, in mm; a wire that lacks less is left as it is. "
        "Default: choice (less is within what a knot gives).",
    )
    kinds: tuple[AdjusterKind, ...] = Field(
        (),
        max_length=12,
        strict=False,
        description="Kinds of adjuster, the preferred one first. Default: the catalogue's, in its order.",
    )


class CheckSettings(Section):
    """How tension is checked in the field."""

    temperatures_c: tuple[float, ...] = Field(
        (0.0, 10.0, 20.0, 30.0),
        min_length=1,
        max_length=12,
        strict=False,
        description="Temperatures of the wire that the check table is made for, Celsius. Default: choice (from frost "
        "to a warm day).",
    )
    side_force_n: float = Field(
        20.0,
        gt=0.0,
        le=1000.0,
        description="Sideways force at mid-span, in newtons: a spring balance's. Default: choice (easy to read on a "
        "small balance).",
    )
    gauge_base_m: float = Field(
        1.0,
        ge=0.2,
        le=3.0,
        description="Distance between the two rests of the tension gauge, in metres. Default: choice (a lath with a "
        "rest at each end, pulled at its middle).",
    )
    gauge_push_mm: float = Field(
        10.0,
        ge=2.0,
        le=50.0,
        description="How far the gauge draws the wire out of its line between them, in mm. Default: choice (more reads "
        "easier, less tells a wire that sticks from one that slides less).",
    )
