"""The config: every setting, its unit, its limits, its default and where the default comes from.

Units stand in the names. Each field says in its description what it is and, after "Default:", the origin of its
default: a source, *common practice* (a habit of the trade) or *choice* (ours).
"""

import re
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Annotated, Any, Final, Literal, Self

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, PrivateAttr, model_validator

_REMOTE: Final = re.compile(r"^(/vsi|[a-z][a-z0-9+.-]*://|[a-z][a-z0-9_]+:)", re.IGNORECASE)


def _local(path: str) -> str:
    """Refuse anything a geospatial library would open that is not a plain local file."""
    if _REMOTE.match(path):
        msg = f"{path!r} is a URL, a virtual path or a connection string; only plain local files are read"
        raise ValueError(msg)
    return path


LocalPath = Annotated[str, Field(min_length=1, max_length=4096), AfterValidator(_local)]


class _Section(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False, strict=True)


class BlockSettings(_Section):
    """Which ground is to be wired."""

    boundary: LocalPath = Field(description="Vector file with one polygon feature per block.")
    layer: str | None = Field(None, description="Layer of the boundary file, where it has several.")
    id_field: str | None = Field(
        None, description="Attribute that names each block. Default: blocks are numbered B01, B02, ... in file order."
    )
    exclusions: LocalPath | None = Field(
        None, description="Vector file with polygons that no row may enter. Default: none."
    )


class ElevationSettings(_Section):
    """The ground heights and how far to trust them."""

    raster: LocalPath = Field(description="Single-band GeoTIFF of heights.")
    surface: Literal["ground"] = Field("ground", description="What the heights show: bare ground.")
    height_unit: Literal["m", "ft", "us-ft", "ind-ft"] | None = Field(
        None, description="Unit of the heights, only where the raster does not say. Default: what the raster says."
    )
    accuracy_m: float = Field(
        0.03, ge=0.0, le=5.0, description="One sigma of a height, in metres. Default: choice (drone survey with RTK)."
    )
    correlation_m: float = Field(
        3.0,
        ge=0.0,
        le=500.0,
        description="Distance at which the correlation of two height errors has fallen to 5 %, in metres. "
        "Default: choice.",
    )
    smoothing_m: float = Field(
        1.0,
        ge=0.0,
        le=10.0,
        description="Length of the moving average along the row, in metres: ground as a post feels it. "
        "Default: choice.",
    )
    least_cover_pct: float = Field(
        95.0,
        ge=0.0,
        le=100.0,
        description="Share of a block that must have heights, in percent; below it the plan is refused. "
        "Default: choice.",
    )


class RowSettings(_Section):
    """Where the rows run."""

    layout: Literal["parallel"] = Field("parallel", description="Straight rows at one bearing and spacing.")
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


class PostSettings(_Section):
    """Where the posts stand and how tall they are."""

    placing: Literal["equal"] = Field("equal", description="Equal spans along each row.")
    max_span_m: float = Field(
        6.0, ge=1.0, le=30.0, description="Longest span, in metres along the slope. Default: common practice."
    )
    vine_spacing_m: float = Field(
        1.2, ge=0.2, le=10.0, description="Distance between vines in the row, in metres. Default: common practice."
    )
    height_out_m: float = Field(
        1.9, ge=0.3, le=5.0, description="Height of a post out of the ground, in metres. Default: common practice."
    )


class UndulationSettings(_Section):
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


class StateSettings(_Section):
    """The states of a foliage wire through the season. Read and checked; not used yet."""

    stringing_c: float = Field(15.0, ge=-30.0, le=50.0, description="Temperature on the day of stringing, Celsius.")
    cold_c: float = Field(-5.0, ge=-60.0, le=50.0, description="Coldest temperature of the wire, Celsius.")
    hot_c: float = Field(40.0, ge=-30.0, le=90.0, description="Hottest temperature of the wire, Celsius.")
    drop_clearance_m: float = Field(
        0.0, ge=0.0, le=2.0, description="Height above ground at which a dropped wire is out of the way, in metres."
    )


class WireSettings(_Section):
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


class ClipSettings(_Section):
    """Clip positions on a post. Read and checked; not used yet."""

    lowest_m: float = Field(0.95, gt=0.0, le=5.0, description="Height of the lowest clip position, in metres.")
    spacing_m: float = Field(
        0.25, ge=0.05, le=2.0, description="Distance between clip positions, in metres. Default: common practice."
    )
    most: int = Field(4, ge=1, le=12, description="Most clip positions on a post. Default: common practice.")
    nets: bool = Field(default=False, description="Whether nets are used, on which open clips snag.")


class OutputSettings(_Section):
    """How results are written."""

    crs: str | None = Field(
        None,
        description="Projected CRS of the GIS layers, such as EPSG:25829. Default: the raster's, or the UTM zone "
        "of the block where the raster is in degrees.",
    )


def _as_written(section: type[_Section], written: object) -> dict[str, Any]:
    """Return a section as written over its defaults; nothing of it where it is no table."""
    defaults = {key: field.default for key, field in section.model_fields.items()}
    return defaults | (dict(written) if isinstance(written, Mapping) else {})


def _numbers(*values: object) -> bool:
    return all(isinstance(value, int | float) and not isinstance(value, bool) for value in values)


def _anchor_rule(rows: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    given = [key for key in ("anchor_lon", "anchor_lat", "anchor_row") if rows[key] is not None]
    if 0 < len(given) < 3:
        yield "rows", f"anchor_lon, anchor_lat and anchor_row go together; only {', '.join(given)} given"


def _season_rule(states: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    cold, stringing, hot = (states[key] for key in ("cold_c", "stringing_c", "hot_c"))
    if _numbers(cold, stringing, hot) and not cold <= stringing <= hot:
        yield "states", f"cold_c = {cold:g}, stringing_c = {stringing:g} and hot_c = {hot:g} must rise in this order"


def _wire_rules(wires: Sequence[Mapping[str, Any]], height_out_m: object) -> Iterator[tuple[str, str]]:
    ids = [wire["id"] for wire in wires if isinstance(wire.get("id"), str)]
    for twin in sorted({i for i in ids if ids.count(i) > 1}):
        yield "wires", f"{ids.count(twin)} wires have the id {twin!r}; each needs its own"
    for number, wire in enumerate(wires, start=1):
        height = wire.get("height_m")
        if _numbers(height, height_out_m) and height > height_out_m:  # type: ignore[operator]
            name = wire["id"] if isinstance(wire.get("id"), str) and ids.count(wire["id"]) == 1 else f"number {number}"
            yield (
                f"wires.{name}.height_m",
                f"{height:g} is above the top of the post, posts.height_out_m = {height_out_m:g}",
            )


def broken_rules(written: Mapping[str, Any]) -> list[tuple[str, str]]:
    """Return (place, sentence) for every rule between settings that a config breaks.

    Each rule looks at its own few settings and works on a config that has other faults, so that a person reads all of
    them at once. `written` is a config as written: what is missing counts with its default, what has the wrong kind is
    passed over, for the types refuse it.
    """
    posts = _as_written(PostSettings, written.get("posts"))
    given = written.get("wires")
    wires = [wire for wire in given if isinstance(wire, Mapping)] if isinstance(given, list | tuple) else []
    return [
        *_anchor_rule(_as_written(RowSettings, written.get("rows"))),
        *_season_rule(_as_written(StateSettings, written.get("states"))),
        *_wire_rules(wires, posts["height_out_m"]),
    ]


def _default_wires() -> tuple[WireSettings, ...]:
    """Return the two foliage pairs at the usual heights (common practice)."""
    return (
        WireSettings(id="lower", kind="foliage", height_m=1.2, lines=2),
        WireSettings(id="upper", kind="foliage", height_m=1.5, lines=2),
    )


class Config(_Section):
    """Everything a plan is made from."""

    name: str = Field(
        pattern=r"^[A-Za-z0-9][A-Za-z0-9_-]{0,63}$", description="Names the output folder: letters, digits, - and _."
    )
    block: BlockSettings
    elevation: ElevationSettings
    rows: RowSettings
    posts: PostSettings = PostSettings()
    undulation: UndulationSettings = UndulationSettings()
    states: StateSettings = StateSettings()
    wires: tuple[WireSettings, ...] = Field(
        default_factory=_default_wires,
        min_length=1,
        max_length=20,
        strict=False,
        description="The wires, in any order. Default: two foliage pairs at 1.2 m and 1.5 m (common practice).",
    )
    clips: ClipSettings = ClipSettings()
    output: OutputSettings = OutputSettings()

    _file: Path | None = PrivateAttr(default=None)
    _folder: Path = PrivateAttr(default_factory=Path)

    @model_validator(mode="after")
    def _rules_hold(self) -> Self:
        broken = broken_rules(self.model_dump())
        if broken:
            raise ValueError("; ".join(f"{place}: {sentence}" for place, sentence in broken))
        return self

    def model_post_init(self, context: Any, /) -> None:  # noqa: ANN401 - pydantic's own signature
        """Remember the file, if it came from one, and the folder that relative paths start from."""
        super().model_post_init(context)
        if context:
            self._file = Path(context["file"]) if "file" in context else None
            self._folder = Path(context["folder"])

    @property
    def file(self) -> str:
        """Return the config file as given, for sentences about it: "config" where there is none."""
        return str(self._file or "config")

    @property
    def folder(self) -> Path:
        """Return the folder that relative paths start from: the config file's, else the current one."""
        return self._folder

    def path(self, given: str) -> Path:
        """Return where a path of the config points to."""
        return self._folder / given
