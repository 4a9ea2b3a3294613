"""Colours and marks of the plan in GIS layers and drawings, whatever language a style is written in.

The colours are those of the map page: one plan looks alike everywhere. Every class has a second cue, the shape of its
mark or the dash of its line, so that the plan survives a grey printer.
"""

from dataclasses import dataclass
from typing import Final, Literal

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

Mark = Literal["square", "triangle", "diamond", "cross", "circle", "star", "pentagon"]
Dash = Literal["solid", "dash", "dash dot"]


@dataclass(frozen=True, slots=True)
class Marker:
    """Mark at a point; its size, and its black edge, in millimetres of paper."""

    colour: str
    mark: Mark
    size_mm: float
    edge_mm: float = 0.15


@dataclass(frozen=True, slots=True)
class Line:
    """Line, in millimetres of paper; `dash_mm`: how long it is drawn and left out in turn, nothing for a whole one."""

    colour: str
    width_mm: float
    dash_mm: tuple[float, ...] = ()
    alpha: float = 1.0


@dataclass(frozen=True, slots=True)
class Area:
    """Area by its outline, hatched or left open."""

    colour: str
    hatched: bool
    outline: Dash
    width_mm: float


@dataclass(frozen=True, slots=True)
class Legend:
    """One line of a layer's legend: which features (a column and its value; None: all the rest), and how they look."""

    label: str
    looks: Marker | Line | Area
    where: tuple[str, str] | None = None


LEGENDS: Final[dict[str, tuple[Legend, ...]]] = {
    "block": (Legend("Block", Area(BLOCK, hatched=False, outline="solid", width_mm=0.6)),),
    "exclusions": (Legend("Keep out", Area(EXCLUSION, hatched=True, outline="dash", width_mm=0.3)),),
    "rows": (Legend("Row", Line(ROW, 0.3)),),
    "posts": (
        Legend("End post", Marker(END_POST, "square", 2.2), ("kind", "end")),
        Legend("Two-way clip", Marker(TWO_WAY, "triangle", 2.8), ("clip_need", "two-way")),
        Legend("Look on site", Marker(LOOK_ON_SITE, "diamond", 2.6), ("clip_need", "look-on-site")),
        Legend("Load unknown", Marker(END_POST, "cross", 2.2, edge_mm=0.4), ("clip_need", "unknown")),
        Legend("Other post", Marker(PLAIN, "circle", 1.2)),
    ),
    "spans": (Legend("Span", Line(SPAN, 0.2, (1.0, 1.0))),),
    "sections": (Legend("Undulating section", Line(SECTION, 1.8, (3.0, 1.5), alpha=0.7)),),
    "left_out": (Legend("Row not planned", Line(ROW, 0.3, (1.0, 2.0))),),
    "zones": (Legend("Work zone", Area(ZONE, hatched=False, outline="dash dot", width_mm=0.5)),),
    "findings": (
        Legend("Error", Marker(FINDING, "star", 5.0, edge_mm=0.4), ("level", "error")),
        Legend("Warning", Marker(FINDING, "pentagon", 3.6, edge_mm=0.3), ("level", "warning")),
        Legend("Note", Marker("#ffffff", "pentagon", 2.4, edge_mm=0.3)),
    ),
}
#: Layers that are known by a name rather than by a place in a row: its column, and its colour, on white.
LABELS: Final = {"zones": ("zone_id", ZONE)}
LABEL_POINTS: Final = 10
LABEL_HALO_MM: Final = 0.8
