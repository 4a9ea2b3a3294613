"""A block set out: its frame, its areas on the plane, its ground."""

from dataclasses import dataclass
from typing import TypeAlias

from shapely import MultiPolygon, Polygon

from wirerun.geometry.frame import Frame
from wirerun.geometry.sampling import Ground

Area: TypeAlias = Polygon | MultiPolygon


@dataclass(frozen=True, slots=True)
class Site:
    """A block in its frame: whole area, workable area (exclusions and holes cut out), and ground.

    `slope` is the rise per metre eastward and northward of the plane that fits the block's ground best.
    """

    frame: Frame
    area: Area
    workable: Area
    ground: Ground
    slope: tuple[float, float]
