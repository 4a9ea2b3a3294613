"""The plan for a tractor's terminal: task data with a partfield per block and a guidance line per row.

No library for it is kept well enough to lean on (early versions only), and the part needed here is small.

References
----------
ISO 11783-10:2015, Task controller and management information system data interchange, annex D (XML elements), whose
one-letter attributes are used here; the numbers of the kinds below are its.
"""

from collections.abc import Iterable
from importlib.metadata import version
from pathlib import Path
from typing import Final
from xml.etree import ElementTree as ET

import geopandas as gpd
import numpy as np
import shapely
from numpy.typing import NDArray

from wirerun.geometry.places import WGS84
from wirerun.records import Plan
from wirerun.write.gis.layers import layer_frame, layer_named
from wirerun.write.gis.text import one_line

_BOUNDARY, _OBSTACLE = "1", "6"
_EXTERIOR, _INTERIOR, _GUIDANCE = "1", "2", "5"
_POINT_OTHER, _POINT_A, _POINT_B, _POINT_BETWEEN = "2", "6", "7", "9"
_AB, _CURVE = "1", "3"
_NO_PROPAGATION, _NO_EXTENSION = "4", "4"
_GENERATED: Final = "16"
# From a management system, not from a terminal.
_ORIGIN: Final = "1"
# The longest designator.
_MOST_BYTES: Final = 32
# A row is one straight line where none of it lies farther than this off the line between its ends: choice.
_STRAIGHT_M: Final = 0.01


def write_isoxml(plan: Plan, path: Path) -> None:
    """Write blocks and rows as ISO 11783-10 task data, version 4.3.

    A straight row is a line from A to B, a curved one a curve. Each stands for itself: none is to be repeated beside
    itself or drawn out, for the next row is in the file and beyond the ends is the headland.

    Parameters
    ----------
    plan : Plan
        Geometry in WGS 84.
    path : Path
        `TASKDATA.XML` in a folder `TASKDATA`, as terminals look for it.
    """
    root = ET.Element(
        "ISO11783_TaskData",
        VersionMajor="4",
        VersionMinor="3",
        ManagementSoftwareManufacturer="wirerun",
        ManagementSoftwareVersion=version("wirerun"),
        DataTransferOrigin=_ORIGIN,
    )
    name = one_line(plan.config.name, _MOST_BYTES)
    ET.SubElement(root, "CTR", A="CTR1", B=name)
    ET.SubElement(root, "FRM", A="FRM1", B=name, I="CTR1")
    rows = layer_frame(plan, layer_named("rows"), WGS84).assign(straight=_straight(plan))
    exclusions = layer_frame(plan, layer_named("exclusions"), WGS84).set_index("block_id").geometry
    blocks = layer_frame(plan, layer_named("block"), WGS84)
    first = 1
    for number, (block, hectares, area) in enumerate(
        zip(blocks["block_id"], blocks["area_ha"], blocks.geometry, strict=True), start=1
    ):
        field = ET.SubElement(
            root,
            "PFD",
            A=f"PFD{number}",
            C=one_line(block, _MOST_BYTES),
            D=str(round(1e4 * hectares)),
            E="CTR1",
            F="FRM1",
        )
        field.extend(_polygon(part, _BOUNDARY) for part in shapely.get_parts(area))
        if block in exclusions.index:
            field.extend(_polygon(part, _OBSTACLE) for part in shapely.get_parts(exclusions[block]))
        own = rows[rows["block_id"] == block]
        if len(own):
            group = ET.SubElement(field, "GGP", A=f"GGP{number}", B=one_line(f"{block} rows", _MOST_BYTES))
            group.extend(_guidance_lines(own, first))
        first += len(own)
    ET.indent(root)
    path.parent.mkdir(parents=True, exist_ok=True)
    ET.ElementTree(root).write(path, encoding="UTF-8", xml_declaration=True)


def _straight(plan: Plan) -> NDArray[np.bool_]:
    """Return whether each row is straight, in the order of ``plan.rows``."""
    lines = plan.rows.geometry.to_crs(plan.output_crs).to_numpy()
    chords = [shapely.LineString([line.coords[0], line.coords[-1]]) for line in lines]
    return np.asarray(shapely.hausdorff_distance(lines, chords)) <= _STRAIGHT_M


def _guidance_lines(rows: gpd.GeoDataFrame, first: int) -> Iterable[ET.Element]:
    for number, (row, straight, line) in enumerate(
        zip(rows["row_id"], rows["straight"], rows.geometry, strict=True), start=first
    ):
        pattern = ET.Element(
            "GPN",
            A=f"GPN{number}",
            B=one_line(row, _MOST_BYTES),
            C=_AB if straight else _CURVE,
            E=_NO_PROPAGATION,
            F=_NO_EXTENSION,
            I=_GENERATED,
        )
        lonlat = shapely.get_coordinates(line)
        if straight:
            lonlat = lonlat[[0, -1]]
        kinds = [_POINT_A, *[_POINT_BETWEEN] * (len(lonlat) - 2), _POINT_B]
        pattern.append(_line(lonlat, _GUIDANCE, kinds))
        yield pattern


def _polygon(area: shapely.Polygon, kind: str) -> ET.Element:
    polygon = ET.Element("PLN", A=kind)
    for ring, side in [(area.exterior, _EXTERIOR), *((hole, _INTERIOR) for hole in area.interiors)]:
        lonlat = shapely.get_coordinates(ring)
        polygon.append(_line(lonlat, side, [_POINT_OTHER] * len(lonlat)))
    return polygon


def _line(lonlat: NDArray[np.float64], kind: str, point_kinds: list[str]) -> ET.Element:
    line = ET.Element("LSG", A=kind)
    for (lon, lat), point_kind in zip(lonlat.tolist(), point_kinds, strict=True):
        ET.SubElement(line, "PNT", A=point_kind, C=f"{lat:.9f}", D=f"{lon:.9f}")
    return line
