"""Colours and marks for the plan, and the layer styles that desktop GIS programs read from a GeoPackage.

The colours are those of the map page: one plan looks alike everywhere. Every class has a second cue, the shape of its
mark or the dash of its line, so that the plan survives a grey printer.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final, Literal
from xml.etree import ElementTree as ET

from wirerun.write.colours import COLOURS

_SCREEN: Final = COLOURS["screen"]
TWO_WAY: Final[str] = _SCREEN["posts"]["two-way"]["fill"]
LOOK_ON_SITE: Final[str] = _SCREEN["posts"]["look"]["fill"]
PLAIN: Final[str] = _SCREEN["posts"]["plain"]["fill"]
END_POST: Final[str] = _SCREEN["posts"]["end"]["fill"]
SECTION: Final[str] = _SCREEN["section"]
BLOCK: Final[str] = _SCREEN["block"]
ROW: Final[str] = _SCREEN["rows"]["fixed"]["colour"]
SPAN: Final[str] = _SCREEN["posts"]["plain"]["edge"]
EXCLUSION: Final[str] = _SCREEN["exclusion"]
ZONE: Final[str] = _SCREEN["zone"]
FINDING: Final[str] = _SCREEN["warning"]

Shape = Literal["marker", "line", "fill"]
_SYMBOL_LAYERS: Final[dict[Shape, str]] = {"marker": "SimpleMarker", "line": "SimpleLine", "fill": "SimpleFill"}


@dataclass(frozen=True, slots=True)
class _Class:
    """One line of a legend: which features (an expression, empty for the rest), and how they are drawn."""

    label: str
    where: str
    looks: Mapping[str, str]
    alpha: float = 1.0


def _marker(colour: str, mark: str, size_mm: float, edge_mm: float = 0.15) -> dict[str, str]:
    return {
        "name": mark,
        "color": _rgba(colour),
        "outline_color": _rgba("#000000"),
        "outline_width": f"{edge_mm:g}",
        "outline_width_unit": "MM",
        "size": f"{size_mm:g}",
        "size_unit": "MM",
    }


def _line(colour: str, width_mm: float, dash_mm: str = "") -> dict[str, str]:
    looks = {
        "line_color": _rgba(colour),
        "line_width": f"{width_mm:g}",
        "line_width_unit": "MM",
        "line_style": "solid",
        "capstyle": "flat",
        "joinstyle": "round",
    }
    if dash_mm:
        looks |= {"use_custom_dash": "1", "customdash": dash_mm, "customdash_unit": "MM"}
    return looks


def _fill(colour: str, hatch: str, outline: str, width_mm: float) -> dict[str, str]:
    return {
        "color": _rgba(colour),
        "style": hatch,
        "outline_color": _rgba(colour),
        "outline_style": outline,
        "outline_width": f"{width_mm:g}",
        "outline_width_unit": "MM",
    }


def _rgba(colour: str) -> str:
    """Return ``"#D55E00"`` as ``"213,94,0,255"``."""
    return ",".join(str(value) for value in (*bytes.fromhex(colour[1:]), 255))


_LOOKS: Final[dict[str, tuple[Shape, tuple[_Class, ...]]]] = {
    "block": ("fill", (_Class("Block", "", _fill(BLOCK, "no", "solid", 0.6)),)),
    "exclusions": ("fill", (_Class("Keep out", "", _fill(EXCLUSION, "b_diagonal", "dash", 0.3)),)),
    "rows": ("line", (_Class("Row", "", _line(ROW, 0.3)),)),
    "posts": (
        "marker",
        (
            _Class("End post", "\"kind\" = 'end'", _marker(END_POST, "square", 2.2)),
            _Class("Two-way clip", "\"clip_need\" = 'two-way'", _marker(TWO_WAY, "triangle", 2.8)),
            _Class("Look on site", "\"clip_need\" = 'look-on-site'", _marker(LOOK_ON_SITE, "diamond", 2.6)),
            _Class("Load unknown", "\"clip_need\" = 'unknown'", _marker(END_POST, "cross2", 2.2, edge_mm=0.4)),
            _Class("Other post", "ELSE", _marker(PLAIN, "circle", 1.2)),
        ),
    ),
    "spans": ("line", (_Class("Span", "", _line(SPAN, 0.2, "1;1")),)),
    "sections": ("line", (_Class("Undulating section", "", _line(SECTION, 1.8, "3;1.5"), alpha=0.7),)),
    "left_out": ("line", (_Class("Row not planned", "", _line(ROW, 0.3, "1;2")),)),
    "zones": ("fill", (_Class("Work zone", "", _fill(ZONE, "no", "dash dot", 0.5)),)),
    "findings": (
        "marker",
        (
            _Class("Error", "\"level\" = 'error'", _marker(FINDING, "star", 5.0, edge_mm=0.4)),
            _Class("Warning", "\"level\" = 'warning'", _marker(FINDING, "pentagon", 3.6, edge_mm=0.3)),
            _Class("Note", "ELSE", _marker("#FFFFFF", "pentagon", 2.4, edge_mm=0.3)),
        ),
    ),
}
# Layers that are known by a name rather than by a place in a row.
_LABELS: Final = {"zones": ("zone_id", ZONE)}


def layer_style(layer: str) -> str:
    """Return the style of a layer of the plan, in the XML that goes into the `styleQML` column of `layer_styles`.

    Raises
    ------
    KeyError
        If the plan has no such layer.
    """
    shape, classes = _LOOKS[layer]
    # The root and its version are what readers look for; any version from this one on reads the same.
    root = ET.Element(
        "qgis", version="3.28.0", styleCategories="Symbology|Labeling", labelsEnabled=str(int(layer in _LABELS))
    )
    kind = "RuleRenderer" if len(classes) > 1 else "singleSymbol"
    renderer = ET.SubElement(root, "renderer-v2", type=kind, symbollevels="0", enableorderby="0", forceraster="0")
    if len(classes) > 1:
        rules = ET.SubElement(renderer, "rules", key=layer)
        for i, entry in enumerate(classes):
            ET.SubElement(rules, "rule", key=f"{layer}-{i}", filter=entry.where, symbol=str(i), label=entry.label)
    symbols = ET.SubElement(renderer, "symbols")
    for i, entry in enumerate(classes):
        symbols.append(_symbol(str(i), shape, entry))
    if layer in _LABELS:
        root.append(_labels(*_LABELS[layer]))
    ET.indent(root)
    return ET.tostring(root, encoding="unicode")


def _labels(column: str, colour: str) -> ET.Element:
    """Return labels that show a column in a colour, on white so that they can be read over lines."""
    labels = ET.Element("labeling", type="simple")
    settings = ET.SubElement(labels, "settings")
    text = {"fieldName": column, "fontSize": "10", "fontSizeUnit": "Point", "textColor": _rgba(colour)}
    style = ET.SubElement(settings, "text-style", text)
    buffer = {"bufferDraw": "1", "bufferSize": "0.8", "bufferSizeUnits": "MM", "bufferColor": _rgba("#FFFFFF")}
    ET.SubElement(style, "text-buffer", buffer)
    return labels


def _symbol(name: str, shape: Shape, entry: _Class) -> ET.Element:
    symbol = ET.Element("symbol", name=name, type=shape, alpha=f"{entry.alpha:g}", clip_to_extent="1", force_rhr="0")
    attributes = {"class": _SYMBOL_LAYERS[shape], "enabled": "1", "locked": "0", "pass": "0"}
    options = ET.SubElement(ET.SubElement(symbol, "layer", attributes), "Option", type="Map")
    for key, value in entry.looks.items():
        ET.SubElement(options, "Option", type="QString", name=key, value=value)
    return symbol
