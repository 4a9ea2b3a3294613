"""Settings of the wires: what they are, how they are strung, and what they go through in a season."""

from typing import Literal

from pydantic import Field

from pipeline.settings.section import Section


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
    lines: int = Field(1, ge=1, le=4, description="Wires side by side at that height: 2 for one each side of the post.")
    diameter_mm: float = Field(
        2.5, ge=1.0, le=8.0, description="Diameter of the bare round wire, in mm. Default: common practice."
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
        description="Wire beyond each end support for the knot round the end post, in metres. Default: choice.",
    )
    density_kg_m3: float = Field(
        7850.0, ge=500.0, le=20000.0, description="Density, kg/m3. Default: steel, EN 1991-1-1 table A.4 (from memory)."
    )
    youngs_modulus_gpa: float = Field(
        200.0, ge=0.5, le=400.0, description="Young's modulus, GPa. Default: steel, rounded handbook value."
    )
    expansion_per_k: float = Field(
        12e-6,
        ge=0.0,
        le=1e-3,
        description="Thermal expansion per kelvin. Default: steel, EN 1993-1-1 3.2.6. Not used yet.",
    )

    @property
    def holder(self) -> Literal["staple", "clip"]:
        """Return what holds the wire on intermediate posts."""
        return self.held_by or ("staple" if self.kind == "fixed" else "clip")


class StateSettings(Section):
    """The states of a foliage wire through the season. Read and checked; not used yet."""

    stringing_c: float = Field(15.0, ge=-30.0, le=50.0, description="Temperature on the day of stringing, Celsius.")
    cold_c: float = Field(-5.0, ge=-60.0, le=50.0, description="Coldest temperature of the wire, Celsius.")
    hot_c: float = Field(40.0, ge=-30.0, le=90.0, description="Hottest temperature of the wire, Celsius.")
    drop_clearance_m: float = Field(
        0.0, ge=0.0, le=2.0, description="Height above ground at which a dropped wire is out of the way, in metres."
    )
