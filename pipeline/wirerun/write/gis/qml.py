"""Styles in the XML of a desktop GIS, for the column `styleQML` of the GeoPackage's table of default styles."""

from typing import Final
from xml.etree import ElementTree as ET

from wirerun.write.styles import LABEL_HALO_MM, LABEL_POINTS, LABELS, LEGENDS, Area, Legend, Line, Marker

_SHAPES: Final = {
    Marker: ("marker", "SimpleMarker"),
    Line: ("line", "SimpleLine"),
    Area: ("fill", "SimpleFill"),
}


def layer_qml(layer: str) -> str:
    """Return the style of a layer of the plan.

    Raises
    ------
    KeyError
        If the plan has no such layer.
    """
    legend = LEGENDS[layer]
    # The root and its version are what readers look for; any version from this one on reads the same.
    root = ET.Element(
        "qgis", version="3.28.0", styleCategories="Symbology|Labeling", labelsEnabled=str(int(layer in LABELS))
    )
    kind = "RuleRenderer" if len(legend) > 1 else "singleSymbol"
    renderer = ET.SubElement(root, "renderer-v2", type=kind, symbollevels="0", enableorderby="0", forceraster="0")
    if len(legend) > 1:
        rules = ET.SubElement(renderer, "rules", key=layer)
        for i, entry in enumerate(legend):
            ET.SubElement(rules, "rule", key=f"{layer}-{i}", filter=_filter(entry), symbol=str(i), label=entry.label)
    symbols = ET.SubElement(renderer, "symbols")
    for i, entry in enumerate(legend):
        symbols.append(_symbol(str(i), entry))
    if layer in LABELS:
        root.append(_labels(*LABELS[layer]))
    ET.indent(root)
    return ET.tostring(root, encoding="unicode")


def _filter(entry: Legend) -> str:
    if entry.where is None:
        return "ELSE"
    column, value = entry.where
    return f"\"{column}\" = '{value}'"


def _symbol(name: str, entry: Legend) -> ET.Element:
    shape, kind = _SHAPES[type(entry.looks)]
    alpha = entry.looks.alpha if isinstance(entry.looks, Line) else 1.0
    symbol = ET.Element("symbol", name=name, type=shape, alpha=f"{alpha:g}", clip_to_extent="1", force_rhr="0")
    attributes = {"class": kind, "enabled": "1", "locked": "0", "pass": "0"}
    options = ET.SubElement(ET.SubElement(symbol, "layer", attributes), "Option", type="Map")
    for key, value in _options(entry.looks).items():
        ET.SubElement(options, "Option", type="QString", name=key, value=value)
    return symbol


def _options(looks: Marker | Line | Area) -> dict[str, str]:
    match looks:
        case Marker():
            return {
                "name": "cross2" if looks.mark == "cross" else looks.mark,
                "color": _rgba(looks.colour),
                "outline_color": _rgba("#000000"),
                "outline_width": f"{looks.edge_mm:g}",
                "outline_width_unit": "MM",
                "size": f"{looks.size_mm:g}",
                "size_unit": "MM",
            }
        case Line():
            options = {
                "line_color": _rgba(looks.colour),
                "line_width": f"{looks.width_mm:g}",
                "line_width_unit": "MM",
                "line_style": "solid",
                "capstyle": "flat",
                "joinstyle": "round",
            }
            if looks.dash_mm:
                dash = ";".join(f"{part:g}" for part in looks.dash_mm)
                options |= {"use_custom_dash": "1", "customdash": dash, "customdash_unit": "MM"}
            return options
        case Area():
            return {
                "color": _rgba(looks.colour),
                "style": "b_diagonal" if looks.hatched else "no",
                "outline_color": _rgba(looks.colour),
                "outline_style": looks.outline,
                "outline_width": f"{looks.width_mm:g}",
                "outline_width_unit": "MM",
            }


def _rgba(colour: str) -> str:
    """Return ``"#d55e00"`` as ``"213,94,0,255"``."""
    return ",".join(str(value) for value in (*bytes.fromhex(colour[1:]), 255))


def _labels(column: str, colour: str) -> ET.Element:
    """Return labels that show a column in a colour, on white so that they can be read over lines."""
    labels = ET.Element("labeling", type="simple")
    settings = ET.SubElement(labels, "settings")
    text = {"fieldName": column, "fontSize": str(LABEL_POINTS), "fontSizeUnit": "Point", "textColor": _rgba(colour)}
    style = ET.SubElement(settings, "text-style", text)
    buffer = {
        "bufferDraw": "1",
        "bufferSize": f"{LABEL_HALO_MM:g}",
        "bufferSizeUnits": "MM",
        "bufferColor": _rgba("#ffffff"),
    }
    ET.SubElement(style, "text-buffer", buffer)
    return labels
