"""Settings of the trellis in service: what bears on it, and what machines may climb. None of it is known to us."""

from typing import Annotated, Final, Literal

from pydantic import Field, ValidationInfo, field_validator

from wirerun.settings.catalogue_row import CatalogueRow
from wirerun.settings.section import LocalPath, Section

Share = Annotated[float, Field(ge=0.0, le=1.0)]
WireName = Annotated[str, Field(pattern=r"^[A-Za-z0-9_][A-Za-z0-9_-]{0,23}$")]
#: What the pressure of a post's ground is known by, and the settings that each rule needs.
GROUND_RULES: Final = {
    "code": ("code_kpa_per_m",),
    "clay": ("clay_kpa",),
    "sand": ("sand_kn_m3", "sand_deg"),
}


class ServiceSettings(Section):
    """What bears on the trellis in service. A state is looked at where its numbers are given; none has a default."""

    crop_n_per_m: dict[WireName, Annotated[float, Field(gt=0.0, le=1000.0)]] = Field(
        default_factory=dict,
        max_length=20,
        description="What the crop bears down on each wire, all its lines together, in newtons a metre of row, such as "
        "fruiting = 18.8: t/ha times the row spacing in metres times 0.981 is the fruit's. Default: none; no state "
        "with a crop.",
    )
    wind_speed_ms: float | None = Field(
        None,
        gt=0.0,
        le=100.0,
        description="Wind speed of your site by the national code, in m/s. Default: none; no state with wind.",
    )
    wind_speed_is: Literal["gust", "mean"] | None = Field(
        None,
        description="Whether that is the gust at the canopy, or the ten-minute mean at 10 m over open country, which "
        "terrain turns into the peak at the canopy. Default: none; it must be said.",
    )
    terrain: Literal["0", "I", "II", "III", "IV"] | None = Field(
        None,
        description="Terrain of EN 1991-1-4, table 4.1: 0 sea, I flat and bare, II low plants and single obstacles, "
        "III villages and woods, IV towns. Hills are not in it. Default: none; a mean speed needs it.",
    )
    air_kg_m3: float = Field(
        1.25,
        gt=0.5,
        le=1.5,
        description="Density of the air, kg/m3. Default: recommended by EN 1991-1-4, 4.5 (quoted in a manual).",
    )
    canopy_open: Share | None = Field(
        None,
        description="Open share of a mesh of round wire that would hold the wind up as much as the canopy does, from 0 "
        "to 1: the load is that of a solid wall times the rest (Richards and Robinson 1999). Default: none; wind needs "
        "it.",
    )
    canopy_bottom_m: float | None = Field(
        None, ge=0.0, le=5.0, description="Height of the canopy's lower edge, in metres. Default: the lowest wire's."
    )
    canopy_top_m: float | None = Field(
        None, gt=0.0, le=6.0, description="Height of its upper edge, in metres. Default: posts.height_out_m."
    )
    solid_wall: float = Field(
        1.2,
        gt=0.0,
        le=4.0,
        description="Load on a solid wall over the pressure of the wind. Default: EN 1991-1-4 table 7.9, a free-"
        "standing wall away from its ends; the first spans of a row get up to twice as much, which is left out.",
    )
    wind_share: dict[WireName, Share] = Field(
        default_factory=dict,
        max_length=20,
        description="Share of the wind on the canopy that each wire takes, at most 1 together. Default: by height, "
        "each wire the strip of canopy that is nearest to it (choice).",
    )
    wind_on: Literal["lee", "all"] = Field(
        "lee",
        description="Whether the lee line of a wire takes all of its share, or all its lines alike. Default: choice "
        "(shoots lean on the lee line).",
    )
    edge_rows: int = Field(
        1,
        ge=0,
        le=10_000,
        description="Rows on either side of a block that get the whole wind. Default: choice (the outermost).",
    )
    sheltered_share: Share = Field(
        1.0,
        description="Share of the pressure that reaches all other rows. Default: choice (no shelter: none was found "
        "measured for vine rows).",
    )
    net_n_per_m: float | None = Field(
        None,
        gt=0.0,
        le=1000.0,
        description="Weight of nets and of what lies on them, such as hail, in newtons a metre of row. Default: none; "
        "no state with nets.",
    )
    net_wires: tuple[WireName, ...] = Field(
        (),
        max_length=20,
        strict=False,
        description="Wires that carry the nets, alike. Default: the highest in service (choice).",
    )
    net_open: float | None = Field(
        None,
        ge=0.5,
        le=1.0,
        description="Open share of the nets; the formula is meant for 0.85 and more. Default: none; no state with wind "
        "on nets.",
    )
    net_kind: Literal["knotless", "knotted"] = Field(
        "knotless", description="How the nets are made, for the wind on them. Default: choice (knitted nets)."
    )
    net_height_m: float | None = Field(
        None, gt=0.0, le=6.0, description="Height of net that the wind meets, in metres. Default: the canopy's."
    )
    harvester_side_n: float | None = Field(
        None,
        gt=0.0,
        le=10_000.0,
        description="Sideways push of a harvester on one line, at a post or between two, in newtons: measured, for no "
        "published one was found. Default: none; no state of machine harvest.",
    )
    harvester_wires: tuple[WireName, ...] = Field(
        (), max_length=20, strict=False, description="Wires that it pushes. Default: all (choice)."
    )
    vibration_class: str | None = Field(
        None,
        min_length=1,
        max_length=40,
        description="What you call the shaking of the harvester, for the results. Default: none; shaking is left out.",
    )
    smooth_keeps: Share | None = Field(
        None,
        description="Share of their withdrawal strength that smooth staples and nails keep under that shaking. "
        "Default: none; it goes with vibration_class.",
    )
    wires_at: Literal["lifted", "strung"] = Field(
        "lifted",
        description="Where the foliage wires are in service: in their highest clips, or where they are strung. "
        "Default: choice (a full canopy).",
    )
    wire_c: float | None = Field(
        None,
        ge=-60.0,
        le=90.0,
        description="Temperature of the wires in service, Celsius. Default: states.stringing_c.",
    )
    stand_off_mm: float = Field(
        6.0,
        ge=0.0,
        le=50.0,
        description="How far off the wood a wire in a clip bears on it, in mm; under a staple it is half the wire. "
        "Default: choice (the foot of a clip; measure yours).",
    )
    fastener_n_mm2: float = Field(
        600.0,
        ge=200.0,
        le=2500.0,
        description="Tensile strength of screws and nails, N/mm2. Default: the least for which Eurocode 5 has a "
        "yield moment of nails (8.3.1.1(4), quoted).",
    )
    shear_factor: float = Field(
        2.2,
        ge=1.0,
        le=20.0,
        description="Safety factor on what a fastener bears to the side. Default: that of the American timber standard "
        "for nails up to 4.3 mm (NDS 2018, table 12.3.1B, as the program XC has it).",
    )
    post_rule: Literal["code", "clay", "sand"] | None = Field(
        None,
        description="Rule for what the ground beside a post bears: a building code's (IBC 1807.3.2.1), or Broms's for "
        "a short post in clay or in sand. They differ twentyfold. Default: none; moments are told, not judged.",
    )
    code_kpa_per_m: float | None = Field(
        None,
        gt=0.0,
        le=1000.0,
        description="Allowable pressure to the side for every metre of depth, kPa, for the code's rule. Default: none.",
    )
    clay_kpa: float | None = Field(
        None, gt=0.0, le=1000.0, description="Undrained shear strength, kPa, for clay. Default: none."
    )
    sand_kn_m3: float | None = Field(
        None, gt=5.0, le=30.0, description="Weight of the ground, kN/m3, for sand. Default: none."
    )
    sand_deg: float | None = Field(
        None, gt=10.0, le=50.0, description="Angle of friction, degrees, for sand. Default: none."
    )
    post_pull_n: float | None = Field(
        None,
        gt=0.0,
        le=100_000.0,
        description="Sideways pull that an intermediate post in your own ground bore before it gave way, in newtons: "
        "the least of your tests. It goes before every rule. Default: none.",
    )
    post_pull_at_m: float | None = Field(
        None, gt=0.0, le=6.0, description="Height at which it was pulled, in metres. Default: none; it goes with it."
    )
    post_factor: float = Field(
        2.0,
        ge=1.0,
        le=10.0,
        description="Safety factor on a measured pull and on the rules for clay and sand; the code's rule has its own. "
        "Default: choice (as posts.pull_out_factor).",
    )

    @property
    def names(self) -> dict[str, tuple[str, ...]]:
        """Return the wires that each setting names."""
        return {
            "crop_n_per_m": tuple(self.crop_n_per_m),
            "wind_share": tuple(self.wind_share),
            "net_wires": self.net_wires,
            "harvester_wires": self.harvester_wires,
        }


class MachineLimit(CatalogueRow):
    """What a machine, or a rule for the ground between rows, allows of a row; the user's own numbers."""

    id: Annotated[
        str,
        Field(pattern=r"^[A-Za-z0-9_][A-Za-z0-9_-]{0,23}$", description="Name of the limit, used once in the file."),
    ]
    most_grade_pct: float | None = Field(
        None, ge=0.0, le=200.0, description="Most grade along the row, at its steepest span, in percent."
    )
    most_cross_pct: float | None = Field(
        None, ge=0.0, le=200.0, description="Most slope across the row, at 95 % of its posts, in percent."
    )
    most_slope_pct: float | None = Field(
        None,
        ge=0.0,
        le=200.0,
        description="Most slope of the ground whatever its direction, at 95 % of its posts, in percent.",
    )
    about: str = Field("", max_length=300, description="What it is for.")

    @field_validator("most_slope_pct")
    @classmethod
    def _limits_something(cls, most_slope_pct: float | None, info: ValidationInfo) -> float | None:
        others = (info.data.get(name, 0.0) for name in ("most_grade_pct", "most_cross_pct"))
        if most_slope_pct is None and all(other is None for other in others):
            msg = "missing; a limit needs one of most_grade_pct, most_cross_pct and most_slope_pct"
            raise ValueError(msg)
        return most_slope_pct


class MachineSettings(Section):
    """Limits that you set for machines between the rows. They are told, and decide nothing."""

    limits: LocalPath | None = Field(
        None,
        description="CSV with limits for row grade and cross slope, such as the example machine_limits.csv. Default: "
        "none.",
    )
