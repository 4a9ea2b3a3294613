"""Styles of the layers against the schema of the standard: Styled Layer Descriptor 1.0.0, OGC 02-070, 2002.

The content of each element, in order, as StyledLayerDescriptor.xsd and Filter 1.0.0 (OGC 02-059) give it; what this
project does not use is left out.
"""

import re
from xml.etree import ElementTree as ET

import pytest
from wirerun.write.colours import COLOURS
from wirerun.write.gis.layers import LAYERS, Layer
from wirerun.write.gis.sld import OGC, SLD, layer_sld
from wirerun.write.styles import LEGENDS

# Children in order, as a pattern over their names, each with a blank behind it.
CONTENT = {
    "StyledLayerDescriptor": r"(NamedLayer )*",
    "NamedLayer": r"Name (UserStyle )*",
    "UserStyle": r"(Name )?(Title )?(Abstract )?(IsDefault )?(FeatureTypeStyle )+",
    "FeatureTypeStyle": r"(Name )?(Title )?(Abstract )?(FeatureTypeName )?(Rule )+",
    "Rule": r"(Name )?(Title )?(Abstract )?(LegendGraphic )?((Filter |ElseFilter )?)(MinScaleDenominator )?"
    r"(MaxScaleDenominator )?((Line|Polygon|Point|Text|Raster)Symbolizer )+",
    "ElseFilter": "",
    "Filter": r"PropertyIsEqualTo ",
    "PropertyIsEqualTo": r"(PropertyName |Literal ){2}",
    "PointSymbolizer": r"(Geometry )?(Graphic )?",
    "LineSymbolizer": r"(Geometry )?(Stroke )?",
    "PolygonSymbolizer": r"(Geometry )?(Fill )?(Stroke )?",
    "TextSymbolizer": r"(Geometry )?(Label )?(Font )?(LabelPlacement )?(Halo )?(Fill )?",
    "Graphic": r"(ExternalGraphic |Mark )*(Opacity )?(Size )?(Rotation )?",
    "Mark": r"(WellKnownName )?(Fill )?(Stroke )?",
    "Fill": r"(GraphicFill )?(CssParameter )*",
    "GraphicFill": r"Graphic ",
    "Stroke": r"(GraphicFill |GraphicStroke )?(CssParameter )*",
    "Label": r"PropertyName ",
    "Font": r"(CssParameter )*",
    "LabelPlacement": r"PointPlacement |LinePlacement ",
    "PointPlacement": r"(AnchorPoint )?(Displacement )?(Rotation )?",
    "AnchorPoint": r"AnchorPointX AnchorPointY ",
    "Halo": r"(Radius )?(Fill )?",
}
OF_FILTER = {"Filter", "PropertyIsEqualTo", "PropertyName", "Literal"}
LEAVES = {"Name", "Title", "WellKnownName", "CssParameter", "Size", "Rotation", "Radius", "PropertyName", "Literal",
          "AnchorPointX", "AnchorPointY"}  # fmt: skip
# Of the standard's parameters those that are used, and its well-known marks.
CSS = {"fill", "stroke", "stroke-width", "stroke-opacity", "stroke-dasharray", "font-family", "font-size"}
MARKS = {"square", "circle", "triangle", "star", "cross", "x"}
SYMBOLIZER = {"Point": "PointSymbolizer", "LineString": "LineSymbolizer", "MultiPolygon": "PolygonSymbolizer"}
NAMES = [layer.name for layer in LAYERS]


def _name(element: ET.Element) -> str:
    space, _, name = element.tag[1:].partition("}")
    assert space == (OGC if name in OF_FILTER else SLD)
    return name


def _walk(element: ET.Element) -> None:
    name = _name(element)
    if name in LEAVES:
        assert len(element) == 0
        assert (element.text or "").strip()
    else:
        children = "".join(f"{_name(child)} " for child in element)
        assert re.fullmatch(CONTENT[name], children), f"{name}: {children}"
    for child in element:
        _walk(child)


@pytest.mark.parametrize("layer", LAYERS, ids=NAMES)
def test_a_style_has_the_structure_of_the_standard(layer: Layer) -> None:
    root = ET.fromstring(layer_sld(layer.name))  # noqa: S314 - our own
    assert root.tag == f"{{{SLD}}}StyledLayerDescriptor"
    assert root.attrib == {"version": "1.0.0"}
    _walk(root)
    assert root.findtext(f"{{{SLD}}}NamedLayer/{{{SLD}}}Name") == layer.name
    for css in root.iter(f"{{{SLD}}}CssParameter"):
        assert css.attrib.keys() == {"name"}
        assert css.attrib["name"] in CSS
    assert {mark.text for mark in root.iter(f"{{{SLD}}}WellKnownName")} <= MARKS


@pytest.mark.parametrize("layer", LAYERS, ids=NAMES)
def test_every_line_of_the_legend_is_drawn_as_the_layer_is_shaped_in_the_maps_colours(layer: Layer) -> None:
    root = ET.fromstring(layer_sld(layer.name))  # noqa: S314 - our own
    rules = list(root.iter(f"{{{SLD}}}Rule"))
    assert [rule.findtext(f"{{{SLD}}}Title") for rule in rules] == [one.label for one in LEGENDS[layer.name]]
    for rule in rules:
        assert rule.find(f"{{{SLD}}}{SYMBOLIZER[layer.geometry]}") is not None
    known = set(re.findall(r"#[0-9a-f]{6}", str(COLOURS["screen"]))) | {"#000000", "#ffffff"}
    used = {css.text for css in root.iter(f"{{{SLD}}}CssParameter") if css.attrib["name"] in ("fill", "stroke")}
    assert used <= known


def test_rules_ask_for_columns_of_the_layer_and_the_last_takes_the_rest() -> None:
    for layer in LAYERS:
        root = ET.fromstring(layer_sld(layer.name))  # noqa: S314 - our own
        asked = {one.text for one in root.iter(f"{{{OGC}}}PropertyName")}
        assert asked <= set(layer.table.names)
        rules = list(root.iter(f"{{{SLD}}}Rule"))
        rest = [rule.find(f"{{{SLD}}}ElseFilter") is not None for rule in rules]
        assert rest == [False] * (len(rules) - 1) + [len(rules) > 1]
