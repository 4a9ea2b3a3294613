"""Settings of what is given: the block, its heights, and the CRS of the results."""

from typing import Final, Literal, get_args

from pydantic import Field

from wirerun.settings.blocks import BlockAttributes
from wirerun.settings.section import LocalFiles, LocalPath, Section
from wirerun.terms import Terms
from wirerun.units import System

Format = Literal["geojson", "shapefile", "flatgeobuf", "kml", "gpx", "dxf", "geoparquet", "staking", "isoxml"]
FORMATS: Final[tuple[Format, ...]] = get_args(Format)


class BlockSettings(Section):
    """Which ground is to be wired."""

    boundary: LocalPath = Field(description="Vector file with one polygon feature per block.")
    layer: str | None = Field(None, description="Layer of the boundary file, where it has several.")
    id_field: str | None = Field(
        None, description="Attribute that names each block. Default: blocks are numbered B01, B02, ... in file order."
    )
    exclusions: LocalPath | None = Field(
        None, description="Vector file with polygons that no row may enter. Default: none."
    )
    attributes: BlockAttributes = Field(
        BlockAttributes(),
        description="Attributes of the boundary file that hold settings of the block they stand with: any key of rows, "
        "posts, standing and the config's wires. A block in which an attribute is empty has the config's setting, and "
        "what the config says of the block itself counts first. Default: none.",
    )


class ElevationSettings(Section):
    """The ground heights and how far to trust them."""

    raster: LocalFiles = Field(
        description="Heights: a single-band GeoTIFF, an ASCII grid or a VRT of such files; or several of them as a "
        "list, or a folder of them. Tiles must be of one grid; where they overlap, the first that has a height counts."
    )
    raster_crs: str | None = Field(
        None,
        description="CRS of the raster, such as EPSG:32629, only where its files name none (ASCII grids). "
        "Default: what they say.",
    )
    surface: Literal["ground"] = Field(
        "ground",
        description="What the heights show. Only bare ground will do: nothing is filtered out of a surface with vines "
        "in it; ridges at the rows' spacing are told. Default: choice (only bare ground can be wired).",
    )
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
        "Default: choice (a drone survey's errors run together over a few metres).",
    )
    unseen_m: float = Field(
        0.0,
        ge=0.0,
        le=5.0,
        description="What the ground does at a post and the raster does not show, one sigma, in metres: what a filter "
        "smooths away under vines. It widens what is left open, and is never taken for a bend. Default: choice (ground "
        "that was seen).",
    )
    smoothing_m: float = Field(
        1.0,
        ge=0.0,
        le=10.0,
        description="Length of the moving average along the row, in metres: ground as a post feels it. "
        "Default: choice (about the hole a post stands in).",
    )
    bridge_m: float = Field(
        5.0,
        ge=0.0,
        le=50.0,
        description="Widest hole in the ground, in metres along the row, that is bridged straight from edge to edge; 0 "
        "bridges none. A row with a wider hole, or one at its end, is left out of the plan. Default: choice (under a "
        "span, so that at most one post stands in a hole).",
    )
    least_cover_pct: float = Field(
        95.0,
        ge=0.0,
        le=100.0,
        description="Share of a block that must have heights, in percent; below it the plan is refused. "
        "Default: choice (small gaps at the edges do no harm).",
    )


class OutputSettings(Section):
    """How results are written."""

    crs: str | None = Field(
        None,
        description="Projected CRS of the GIS layers, such as EPSG:25829. Default: the raster's, or the UTM zone "
        "of the block where the raster is in degrees.",
    )
    formats: tuple[Format, ...] = Field(
        (),
        max_length=len(FORMATS),
        strict=False,
        description="Formats written beside the GeoPackage: geojson, shapefile, flatgeobuf, kml, gpx, dxf, geoparquet, "
        "staking (a CSV for setting out) and isoxml (ISO 11783-10 task data). Default: none.",
    )
    units: System = Field(
        "metric",
        description="In what cards, map and summary speak first: metric, or imperial (feet, inches, pounds-force). "
        "Tables and layers stay metric, and so do names of the catalogue. Default: choice (the plan is metric).",
    )
    terms: Terms = Field(
        "au-nz",
        description="Whose words map, cards, summary and order are in: au-nz (intermediate post, foliage wire, labour) "
        "or us (line post, catch wire, labor). Tables keep their names. Default: choice (the project is written so).",
    )
    date: str | None = Field(
        None,
        min_length=1,
        max_length=40,
        description="What date, or state of the plan, stands on every page of the cards and on the printed map, as you "
        'write it: "plan of 2026-11-29". Default: none.',
    )
