"""One feature's polygon: brought to longitude and latitude, and refused where its shape will not do."""

import re
from collections.abc import Callable
from typing import Any, Final, Protocol, TypeAlias

import numpy as np
import shapely
from pyproj import CRS, Geod, Transformer
from shapely import MultiLineString, MultiPolygon, Polygon
from shapely.errors import ShapelyError
from shapely.geometry import shape
from shapely.geometry.base import BaseGeometry

from wirerun.geometry.shapes import projected
from wirerun.wording import number

GEOD: Final = Geod(ellps="WGS84")
# Choice: the map's projection ends at 85.06 degrees, and no vine grows there.
_MOST_LATITUDE: Final = 85.0

# Choice: a corner every 20 cm round 100 ha of terraces, and few enough to cut a thousand rows by.
_MOST_CORNERS: Final = 50_000
#: A feature of more costs its file: the vector library takes half a gigabyte for a million corners. Choice.
FAR_TOO_MANY: Final = 10 * _MOST_CORNERS

_REASON: Final = re.compile(r"^(.*)\[(\S+) (\S+)\]$")
# What the geometry library calls it, and what a person would.
_WORDS: Final = {
    "Self-intersection": "the edge crosses itself",
    "Ring Self-intersection": "the edge touches itself",
    "Too few points in geometry component": "a ring has fewer than three corners",
    "Hole lies outside shell": "a hole lies outside",
    "Holes are nested": "a hole lies within a hole",
    "Nested shells": "one part lies within another",
    "Interior is disconnected": "a hole cuts the ground in two",
}

#: What `drawn` raises.
DRAWING_ERRORS: Final = (ValueError, ShapelyError, NotImplementedError)

Refuse = Callable[[str], None]


class Drawn(Protocol):
    """A geometry as the vector library hands it over."""

    @property
    def __geo_interface__(self) -> dict[str, Any]: ...


#: A geometry as a file's reader hands it over, or as well-known binary.
Record: TypeAlias = Drawn | dict[str, Any] | bytes


def lonlat_polygon(
    record: Record | None, crs: CRS, transformer: Transformer | None, refuse: Refuse
) -> Polygon | MultiPolygon | None:
    """Polygon in WGS 84 longitude and latitude, without heights; None, after `refuse`, where it will not do.

    Parameters
    ----------
    record : Record or None
        The geometry.
    crs : CRS
        CRS of the record.
    transformer : Transformer or None
        From that CRS to longitude and latitude; None where it is the same.
    refuse : callable
        Hears the sentence.
    """
    flat = _flat_polygon(record, refuse)
    if flat is None or not sane_coordinates(flat, crs, refuse):
        return None
    area = flat if transformer is None else projected(flat, transformer)
    if not np.isfinite(shapely.get_coordinates(area)).all():
        refuse(f"its coordinates lie where {crs.name} has no place on earth")
        return None
    if not area.is_valid:
        refuse(_what_is_wrong(area))
        return None
    return area if between_the_edges(area, refuse) else None


def between_the_edges(lonlat: BaseGeometry, refuse: Refuse) -> bool:
    """Whether a shape in longitude and latitude keeps off the poles and the 180th meridian."""
    west, south, east, north = lonlat.bounds
    if east - west > 180.0:
        refuse("it crosses the 180th meridian, which is not handled")
        return False
    if max(-south, north) > _MOST_LATITUDE:
        far = north if north > -south else south
        refuse(f"it reaches latitude {far:.6g}; beyond {_MOST_LATITUDE:g} degrees is too near a pole")
        return False
    return True


def drawn(record: Record) -> BaseGeometry:
    """Return the shape of a feature.

    Raises
    ------
    DRAWING_ERRORS
        If it is none, such as a ring of two corners.
    """
    # Coordinates that are no numbers are told later; building the shape must not warn of them first.
    with np.errstate(invalid="ignore"):
        return _without_nothing(shapely.from_wkb(record) if isinstance(record, bytes) else shape(_bare(record)))


def _without_nothing(geometry: BaseGeometry) -> BaseGeometry:
    """Leave out parts and holes of no corners: the geometry library falls over on them."""
    if isinstance(geometry, Polygon):
        holes = [hole for hole in geometry.interiors if not hole.is_empty]
        return geometry if len(holes) == len(geometry.interiors) else Polygon(geometry.exterior, holes)
    if isinstance(geometry, MultiPolygon | MultiLineString):
        parts: list[Any] = [_without_nothing(part) for part in geometry.geoms if not part.is_empty]
        return MultiPolygon(parts) if isinstance(geometry, MultiPolygon) else MultiLineString(parts)
    return geometry


def _bare(record: Drawn | dict[str, Any]) -> Drawn | dict[str, Any]:
    """Return a feature's shape as bare numbers where it has any: the library's own way copies them one by one."""
    coordinates = getattr(record, "coordinates", None)
    return record if coordinates is None else {"type": getattr(record, "type", ""), "coordinates": coordinates}


def why_not_drawn(error: Exception, short: str) -> str:
    """Return why a shape could not be built: damage, curves, or too few corners, for which `short` has the words."""
    if "ParseException" in str(error):
        return "its geometry is damaged"
    return (
        "it has arcs, which are not read; save them as straight lines"
        if isinstance(error, NotImplementedError)
        else short
    )


def area_m2(area: Polygon | MultiPolygon) -> float:
    """Area on the WGS 84 ellipsoid of a polygon in longitude and latitude, holes left out [m2]."""
    return abs(float(GEOD.geometry_area_perimeter(shapely.orient_polygons(area))[0]))


def place_words(lon: float, lat: float) -> str:
    """Return a place in words, to a decimetre or so."""
    return f"longitude {lon:.6f}, latitude {lat:.6f}"


def _flat_polygon(record: Record | None, refuse: Refuse) -> Polygon | MultiPolygon | None:
    corners = corners_of(getattr(record, "coordinates", None))
    if record is None or corners > _MOST_CORNERS:
        refuse("it has no geometry" if record is None else too_many(corners))
        return None
    try:
        geometry = shapely.force_2d(drawn(record))
    except DRAWING_ERRORS as error:
        refuse(why_not_drawn(error, "a ring has fewer than three corners"))
        return None
    if not isinstance(geometry, Polygon | MultiPolygon):
        refuse(f"it is a {geometry.geom_type}, where a Polygon or MultiPolygon is wanted")
        return None
    corners = int(shapely.get_num_coordinates(geometry))
    if not 0 < corners <= _MOST_CORNERS:
        refuse(too_many(corners) if corners else "its geometry is empty")
        return None
    return geometry.geoms[0] if isinstance(geometry, MultiPolygon) and len(geometry.geoms) == 1 else geometry


def corners_of(coordinates: object) -> int:
    """Return how many corners there are in nested lists of them, before a shape is made that fills the memory."""
    if not isinstance(coordinates, list | tuple) or not coordinates:
        return 0
    first = coordinates[0]
    lists_of_places = isinstance(first, list | tuple) and len(first) > 0 and isinstance(first[0], list | tuple)
    return sum(map(corners_of, coordinates)) if lists_of_places else len(coordinates)


def too_many(corners: int) -> str:
    """Return the sentence for a feature of more corners than are read."""
    return f"it has {number(corners)} corners (at most {number(_MOST_CORNERS)} are read); draw it with fewer"


def sane_coordinates(flat: BaseGeometry, crs: CRS, refuse: Refuse) -> bool:
    """Whether all coordinates are finite numbers, and degrees where the CRS is in degrees."""
    places = shapely.get_coordinates(flat)
    if not np.isfinite(places).all():
        refuse("a coordinate is not a finite number")
        return False
    if not crs.is_geographic:
        return True
    wild = places[(np.abs(places[:, 0]) > 180.0) | (np.abs(places[:, 1]) > 90.0)]
    if not len(wild):
        return True
    x, y = wild[0]
    if np.abs(places[:, 0]).max() <= 90.0 and np.abs(places[:, 1]).max() <= 180.0:
        why = "longitude and latitude are swapped; GeoJSON and this tool put longitude first"
    else:
        why = f"they look like projected metres or feet, while the file says {crs.name} degrees; give it its own CRS"
    refuse(f"{x:.10g}, {y:.10g} is no longitude and latitude (limits 180 and 90 degrees): {why}")
    return False


def _what_is_wrong(area: Polygon | MultiPolygon) -> str:
    """Return the first flaw of an invalid polygon and where it is."""
    reason = shapely.is_valid_reason(area)
    found = _REASON.match(reason)
    if not found:
        return f"its shape is not valid: {reason}"
    words = _WORDS.get(found[1], f"its shape is not valid ({found[1].lower()})")
    return f"{words} at {place_words(float(found[2]), float(found[3]))}"
