"""Styles as Styled Layer Descriptors, which map servers and most GIS programs read.

For the column `styleSLD` of the GeoPackage's table of default styles. Only what the standard has: it knows no diamond
(a square on its corner is one), no pentagon (findings are circles) and no lines as a hatch (crosses fill a keep-out).

References
----------
Open Geospatial Consortium, Styled Layer Descriptor Implementation Specification 1.0.0, 02-070, 2002, and its schema.
"""

from typing import Final
from xml.etree import ElementTree as ET

from wirerun.write.styles import LABEL_HALO_MM, LABEL_POINTS, LABELS, LEGENDS, Area, Legend, Line, Mark, Marker

SLD: Final = "http://www.opengis.net/sld"
OGC: Final = "http://www.opengis.net/ogc"
VERSION: Final = "1.0.0"
# The standard measures in pixels only, and takes one as 0.28 mm (on scales: OGC 02-070, 10.2, quoted in OGC's own
# record of questions on its maps interface).
_PIXEL_MM: Final = 0.28
_POINT_MM: Final = 25.4 / 72.0
#: Well-known mark of the standard, and how far it is turned clockwise, in degrees.
_MARKS: Final[dict[Mark, tuple[str, float]]] = {
    "square": ("square", 0.0),
    "triangle": ("triangle", 0.0),
    "diamond": ("square", 45.0),
    "cross": ("x", 0.0),
    "circle": ("circle", 0.0),
    "star": ("star", 0.0),
    "pentagon": ("circle", 0.0),
}
# Of an outline, in its own widths: choice.
_DASHES: Final = {"solid": (), "dash": (4.0, 2.0), "dash dot": (4.0, 2.0, 1.0, 2.0)}
_HATCH_MM: Final = 2.0


def layer_sld(layer: str) -> str:
    """Return the style of a layer of the plan.

    Raises
    ------
    KeyError
        If the plan has no such layer.
    """
    legend = LEGENDS[layer]
    # Prefixes by hand: to register them would be for the whole process.
    root = ET.Element("StyledLayerDescriptor", {"version": VERSION, "xmlns": SLD, "xmlns:ogc": OGC})
    named = ET.SubElement(root, "NamedLayer")
    _text(named, "Name", layer)
    style = ET.SubElement(named, "UserStyle")
    _text(style, "Name", "plan")
    rules = ET.SubElement(style, "FeatureTypeStyle")
    for entry in legend:
        rule = ET.SubElement(rules, "Rule")
        _text(rule, "Name", entry.label)
        _text(rule, "Title", entry.label)
        _filter(rule, entry, alone=len(legend) == 1)
        _symbolizer(rule, entry.looks)
        if layer in LABELS:
            _labels(rule, *LABELS[layer])
    ET.indent(root)
    return ET.tostring(root, encoding="unicode")


def _text(parent: ET.Element, name: str, text: str) -> None:
    ET.SubElement(parent, name).text = text


def _css(parent: ET.Element, **values: str) -> None:
    for name, value in values.items():
        ET.SubElement(parent, "CssParameter", name=name.replace("_", "-")).text = value


def _pixels(millimetres: float) -> str:
    return f"{millimetres / _PIXEL_MM:.3g}"


def _filter(rule: ET.Element, entry: Legend, *, alone: bool) -> None:
    if entry.where is None:
        if not alone:
            ET.SubElement(rule, "ElseFilter")
        return
    equal = ET.SubElement(ET.SubElement(rule, "ogc:Filter"), "ogc:PropertyIsEqualTo")
    for name, text in zip(("ogc:PropertyName", "ogc:Literal"), entry.where, strict=True):
        _text(equal, name, text)


def _symbolizer(rule: ET.Element, looks: Marker | Line | Area) -> None:
    match looks:
        case Marker():
            graphic = ET.SubElement(ET.SubElement(rule, "PointSymbolizer"), "Graphic")
            name, turned = _MARKS[looks.mark]
            mark = ET.SubElement(graphic, "Mark")
            _text(mark, "WellKnownName", name)
            _css(ET.SubElement(mark, "Fill"), fill=looks.colour)
            _css(ET.SubElement(mark, "Stroke"), stroke="#000000", stroke_width=_pixels(looks.edge_mm))
            _text(graphic, "Size", _pixels(looks.size_mm))
            if turned:
                _text(graphic, "Rotation", f"{turned:g}")
        case Line():
            stroke = ET.SubElement(ET.SubElement(rule, "LineSymbolizer"), "Stroke")
            _css(stroke, stroke=looks.colour, stroke_width=_pixels(looks.width_mm), stroke_opacity=f"{looks.alpha:g}")
            _dashed(stroke, looks.dash_mm)
        case Area():
            area = ET.SubElement(rule, "PolygonSymbolizer")
            if looks.hatched:
                _hatched(ET.SubElement(area, "Fill"), looks.colour, looks.width_mm)
            stroke = ET.SubElement(area, "Stroke")
            _css(stroke, stroke=looks.colour, stroke_width=_pixels(looks.width_mm))
            _dashed(stroke, tuple(part * looks.width_mm for part in _DASHES[looks.outline]))


def _dashed(stroke: ET.Element, dash_mm: tuple[float, ...]) -> None:
    if dash_mm:
        _css(stroke, stroke_dasharray=" ".join(map(_pixels, dash_mm)))


def _hatched(fill: ET.Element, colour: str, width_mm: float) -> None:
    graphic = ET.SubElement(ET.SubElement(fill, "GraphicFill"), "Graphic")
    mark = ET.SubElement(graphic, "Mark")
    _text(mark, "WellKnownName", "x")
    _css(ET.SubElement(mark, "Stroke"), stroke=colour, stroke_width=_pixels(width_mm))
    _text(graphic, "Size", _pixels(_HATCH_MM))


def _labels(rule: ET.Element, column: str, colour: str) -> None:
    text = ET.SubElement(rule, "TextSymbolizer")
    _text(ET.SubElement(text, "Label"), "ogc:PropertyName", column)
    _css(ET.SubElement(text, "Font"), font_family="sans-serif", font_size=_pixels(LABEL_POINTS * _POINT_MM))
    anchor = ET.SubElement(ET.SubElement(ET.SubElement(text, "LabelPlacement"), "PointPlacement"), "AnchorPoint")
    for axis in ("AnchorPointX", "AnchorPointY"):
        _text(anchor, axis, "0.5")
    halo = ET.SubElement(text, "Halo")
    _text(halo, "Radius", _pixels(LABEL_HALO_MM))
    _css(ET.SubElement(halo, "Fill"), fill="#ffffff")
    _css(ET.SubElement(text, "Fill"), fill=colour)
