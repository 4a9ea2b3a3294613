"""What the layers hold: their columns, from the one dictionary of columns, and their features, ready to be written."""

from dataclasses import dataclass, replace
from typing import Any, Final

import geopandas as gpd
import numpy as np
import pandas as pd

from wirerun import tables
from wirerun.arrays import FloatArray
from wirerun.errors import TargetError
from wirerun.geometry.places import WGS84
from wirerun.records import Plan
from wirerun.rounding import half_up
from wirerun.tables import Column, Table
from wirerun.write.gis.text import clean_all

BLOCK: Final = Table(
    "block",
    "One feature per block.",
    ("block_id",),
    (
        Column("block_id", "text", "", "Block, as used in the ids of its rows."),
        Column("name", "text", "", "The block's own name in the boundary file.", empty=True),
        Column("area_ha", "number", "ha", "Horizontal area of the block, exclusions not taken off.", decimals=4),
    ),
)
EXCLUSIONS: Final = Table(
    "exclusions",
    "One feature per block with keep-out areas: all of them that touch it.",
    ("block_id",),
    (Column("block_id", "text", "", "Block that the exclusion touches."),),
)
FINDINGS: Final = replace(
    tables.FINDINGS,
    meaning="Findings that have a place on the ground: at a post, amid a row, span or section, or inside a block or "
    "zone. All of them stand in the schedule.",
    shape="Point",
)


@dataclass(frozen=True, slots=True)
class Layer:
    """One layer: its columns, and which attribute of the plan it comes from."""

    table: Table
    source: str

    @property
    def name(self) -> str:
        """Return what the layer is called."""
        return self.table.name

    @property
    def geometry(self) -> str:
        """Return the kind of geometry; areas may have several parts."""
        return self.table.shape or "MultiPolygon"


LAYERS: Final = (
    Layer(BLOCK, "blocks"),
    Layer(EXCLUSIONS, "exclusions"),
    Layer(tables.ROWS, "rows"),
    Layer(tables.POSTS, "posts"),
    Layer(tables.SPANS, "spans"),
    Layer(tables.SECTIONS, "sections"),
    Layer(tables.ZONES, "zones"),
    Layer(tables.LEFT_OUT, "left_out"),
    Layer(FINDINGS, "findings"),
)

# The layer of findings has those with a place on the ground only.
_ALL_FINDINGS: Final = replace(tables.FINDINGS, name="all_findings")
#: Tables of the schedule that are no layer: what the GeoPackage calls each, by its name in a plan.
ATTRIBUTES: Final[dict[str, Table]] = {
    name: _ALL_FINDINGS if table is tables.FINDINGS else table
    for name, table in tables.TABLES.items()
    if table is tables.FINDINGS or name not in {layer.name for layer in LAYERS}
}


def layer_named(name: str) -> Layer:
    """Return a layer by its name."""
    return next(layer for layer in LAYERS if layer.name == name)


def layer_frame(plan: Plan, layer: Layer, crs: str) -> gpd.GeoDataFrame:
    """Return a layer as it is written: its columns in order, numbers rounded as in the schedule, text cleaned.

    Parameters
    ----------
    plan : Plan
        Geometry in WGS 84.
    layer : Layer
        Which one.
    crs : str
        The CRS to write in: `WGS84` or ``plan.output_crs``.

    Raises
    ------
    TargetError
        If a position cannot be expressed in that CRS.
    """
    source = placed_findings(plan) if layer.table is FINDINGS else getattr(plan, layer.source)
    columns: dict[str, pd.Series | FloatArray] = {}
    for column in layer.table.columns:
        values = source[column.name]
        if column.kind == "text":
            columns[column.name] = clean_all(values)
        else:
            columns[column.name] = half_up(values, column.decimals) if column.kind == "number" else values
    geometry = source.geometry.to_crs(crs)
    if np.isinf(geometry.bounds.to_numpy()).any():
        msg = f"output.crs = {crs} cannot express the place of this plan; choose a CRS made for the region"
        raise TargetError(msg)
    return gpd.GeoDataFrame(columns, geometry=geometry)


def feature_ids(layer: Layer, frame: gpd.GeoDataFrame) -> pd.Series | None:
    """Return what tells the features of a layer apart, such as ``B01-R012-S006/lower``; None where nothing does."""
    if not layer.table.key:
        return None
    first, *more = layer.table.key
    return frame[first].str.cat(frame[more], sep="/") if more else frame[first]


def placed_findings(plan: Plan) -> gpd.GeoDataFrame:
    """Return the findings whose place is an id of the plan, each with a point there, in WGS 84.

    A post gives its own point, a row, span or section its middle, a block or zone a point inside.
    """
    asked = set(plan.findings["place"])
    places: dict[str, Any] = {}
    for name, column in (("spans", "span_id"), ("sections", "section_id"), ("rows", "row_id"), ("left_out", "row_id")):
        lines = _of(getattr(plan, name), column, asked)
        middle = lines.geometry.to_crs(plan.output_crs).interpolate(0.5, normalized=True).to_crs(WGS84)
        places |= dict(zip(lines[column], middle, strict=True))
    for name, column in (("zones", "zone_id"), ("blocks", "block_id")):
        areas = _of(getattr(plan, name), column, asked)
        places |= dict(zip(areas[column], areas.geometry.representative_point(), strict=True))
    posts = _of(plan.posts, "post_id", asked)
    places |= dict(zip(posts["post_id"], posts.geometry, strict=True))
    placed = plan.findings[plan.findings["place"].isin(list(places))]
    points = gpd.GeoSeries([places[place] for place in placed["place"]], index=placed.index, crs=WGS84)
    return gpd.GeoDataFrame(placed, geometry=points)


def _of(features: gpd.GeoDataFrame, column: str, ids: set[str]) -> gpd.GeoDataFrame:
    return features[features[column].isin(list(ids))]
