"""The plan as KML, for viewers of the globe: WGS 84, a folder per layer, each feature with its id as its name.

Written element by element: the KML writer of GDAL tears its file where a name holds ``]]>``.
"""

from collections.abc import Iterator
from pathlib import Path
from typing import Final
from xml.etree import ElementTree as ET

import geopandas as gpd
import pandas as pd
import shapely
from shapely import LineString, Point, Polygon
from shapely.geometry.base import BaseGeometry

from wirerun.geometry.places import WGS84
from wirerun.records import Plan
from wirerun.tables import Column, Kind
from wirerun.write import styles
from wirerun.write.gis.layers import LAYERS, Layer, feature_ids, layer_frame
from wirerun.write.gis.text import one_line

_SPACE: Final = "http://www.opengis.net/kml/2.2"
# Spans lie on their rows, once for each wire: on a globe they would only hide them.
_NOT_SHOWN: Final = "spans"
# Folders have the names of layers as their ids: styles and schemas need others.
_STYLE, _SCHEMA = "style-", "schema-"
_KINDS: Final[dict[Kind, str]] = {"text": "string", "integer": "int", "number": "double"}
_MOST_BYTES: Final = 250

# How features are drawn: colour, and what tells them apart without it, the width of a line or the size of a mark.
# No mark has a picture of its own, since KML would fetch it from a server.
_LINES: Final = {
    "block": (styles.BLOCK, 3.0),
    "exclusions": (styles.EXCLUSION, 2.0),
    "rows": (styles.ROW, 1.0),
    "sections": (styles.SECTION, 6.0),
    "zones": (styles.ZONE, 4.0),
    "left_out": (styles.ROW, 0.5),
}
_MARKS: Final = {
    "end": (styles.END_POST, 0.6),
    "two-way": (styles.TWO_WAY, 0.8),
    "look-on-site": (styles.LOOK_ON_SITE, 0.7),
    "unknown": (styles.SPAN, 0.5),
    "one-way": (styles.PLAIN, 0.3),
    "none": (styles.PLAIN, 0.3),
    "findings": (styles.FINDING, 1.1),
}


def write_kml(plan: Plan, path: Path) -> None:
    """Write every layer but the spans to one KML file.

    References
    ----------
    OGC 07-147r2, KML 2.2, 2008.
    """
    root = ET.Element(_tag("kml"))
    document = ET.SubElement(root, _tag("Document"))
    _add(document, "name", one_line(plan.config.name, _MOST_BYTES))
    document.extend(_styles())
    layers = [layer for layer in LAYERS if layer.name != _NOT_SHOWN]
    document.extend(_schema(layer) for layer in layers)
    document.extend(_folder(plan, layer) for layer in layers)
    ET.register_namespace("", _SPACE)
    path.parent.mkdir(parents=True, exist_ok=True)
    ET.ElementTree(root).write(path, encoding="UTF-8", xml_declaration=True)


def _schema(layer: Layer) -> ET.Element:
    """Return the columns of a layer and their kinds."""
    schema = ET.Element(_tag("Schema"), name=layer.name, id=f"{_SCHEMA}{layer.name}")
    for column in layer.table.columns:
        ET.SubElement(schema, _tag("SimpleField"), name=column.name, type=_KINDS[column.kind])
    return schema


def _folder(plan: Plan, layer: Layer) -> ET.Element:
    """Return the features of a layer."""
    frame = layer_frame(plan, layer, WGS84)
    ids = feature_ids(layer, frame)
    names = frame["code"] if ids is None else ids
    columns = [_cells(column, frame[column.name]) for column in layer.table.columns]
    folder = ET.Element(_tag("Folder"), id=layer.name)
    _add(folder, "name", layer.name)
    for name, look, shape, *cells in zip(names, _looks(layer, frame), frame.geometry, *columns, strict=True):
        feature = ET.SubElement(folder, _tag("Placemark"))
        _add(feature, "name", name)
        _add(feature, "styleUrl", f"#{_STYLE}{look}")
        data = ET.SubElement(ET.SubElement(feature, _tag("ExtendedData")), _tag("SchemaData"))
        data.set("schemaUrl", f"#{_SCHEMA}{layer.name}")
        for column, cell in zip(layer.table.names, cells, strict=True):
            if cell is not None:
                ET.SubElement(data, _tag("SimpleData"), name=column).text = cell
        feature.append(_shape(shape))
    return folder


def _cells(column: Column, values: pd.Series) -> list[str | None]:
    """Return what stands in a column, numbers with as many decimals as in the schedule, None where it is empty."""
    decimals = column.decimals if column.kind == "number" else 0
    number = f"%.{decimals}f"
    return [None if pd.isna(v) else v if column.kind == "text" else number % v for v in values.tolist()]


def _shape(shape: BaseGeometry) -> ET.Element:
    match shape:
        case Point():
            element = ET.Element(_tag("Point"))
            _add(element, "coordinates", _places(shape))
        case LineString():
            element = ET.Element(_tag("LineString"))
            _add(element, "coordinates", _places(shape))
        case Polygon():
            element = ET.Element(_tag("Polygon"))
            # The schema wants outer rings against the clock, inner ones with it.
            turned = shapely.orient_polygons(shape)
            for side, ring in [("outer", turned.exterior), *(("inner", hole) for hole in turned.interiors)]:
                boundary = ET.SubElement(element, _tag(f"{side}BoundaryIs"))
                _add(ET.SubElement(boundary, _tag("LinearRing")), "coordinates", _places(ring))
        case _:
            element = ET.Element(_tag("MultiGeometry"))
            element.extend(_shape(part) for part in shapely.get_parts(shape))
    return element


def _places(shape: BaseGeometry) -> str:
    return " ".join(f"{lon:.9f},{lat:.9f}" for lon, lat in shapely.get_coordinates(shape).tolist())


def _looks(layer: Layer, frame: gpd.GeoDataFrame) -> pd.Series:
    if layer.name == "posts":
        return frame["clip_need"].where(frame["kind"] != "end", "end")
    return pd.Series(layer.name, index=frame.index, dtype="str")


def _styles() -> Iterator[ET.Element]:
    for look, (colour, width) in _LINES.items():
        style = ET.Element(_tag("Style"), id=f"{_STYLE}{look}")
        style.append(_group("LineStyle", color=_abgr(colour), width=f"{width:g}"))
        # Outlines only: a filled block would hide what is in it.
        style.append(_group("PolyStyle", fill="0"))
        yield style
    for look, (colour, size) in _MARKS.items():
        style = ET.Element(_tag("Style"), id=f"{_STYLE}{look}")
        style.append(_group("IconStyle", color=_abgr(colour), scale=f"{size:g}"))
        # Thousands of names would cover the ground; a click shows one.
        style.append(_group("LabelStyle", scale="0"))
        yield style


def _group(name: str, **values: str) -> ET.Element:
    group = ET.Element(_tag(name))
    for key, value in values.items():
        _add(group, key, value)
    return group


def _add(parent: ET.Element, name: str, text: str) -> None:
    ET.SubElement(parent, _tag(name)).text = text


def _tag(name: str) -> str:
    return f"{{{_SPACE}}}{name}"


def _abgr(colour: str) -> str:
    """Return ``"#D55E00"`` as KML has it: opacity, blue, green, red."""
    red, green, blue = colour[1:3], colour[3:5], colour[5:7]
    return f"ff{blue}{green}{red}".lower()
