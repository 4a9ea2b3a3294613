"""Lines from vector files: rows that are given, and the guide that rows follow."""

import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Final

import numpy as np
import shapely
from pyproj import CRS, Transformer
from shapely import LineString
from shapely.geometry.base import BaseGeometry

from wirerun.arrays import FloatArray
from wirerun.errors import Faults
from wirerun.geometry.shapes import lines_through, projected
from wirerun.read.crs import to_lonlat
from wirerun.read.layer import Layer, check_count, read_layer
from wirerun.read.polygons import (
    DRAWING_ERRORS,
    Record,
    Refuse,
    between_the_edges,
    drawn,
    place_words,
    sane_coordinates,
    why_not_drawn,
)
from wirerun.read.vector import VectorFile, feature_place

_LINES: Final = ("LineString", "MultiLineString")
_STEPS_AT_ONCE: Final = 64
_MOST_AWAY_M: Final = 2000.0  # choice: the next valley
_M_PER_DEGREE: Final = 111_000.0


@dataclass(frozen=True, slots=True)
class Shape:
    """One feature of a file: its number from 1, its shape in longitude and latitude, and all its attributes.

    `z` has shape (n,), the third number of each of the shape's places as the file has it, NaN where there is none.
    """

    number: int
    shape: BaseGeometry
    z: FloatArray
    attributes: dict[str, object]


@dataclass(frozen=True, slots=True)
class Shapes:
    """The good features of a file; the file itself; its CRS with the vertical part."""

    file: VectorFile
    found: tuple[Shape, ...]
    whole_crs: CRS


@dataclass(frozen=True, slots=True)
class GivenLines:
    """Lines as read: (n, 2) arrays of longitude and latitude [deg], the attributes of each, its feature's number.

    A feature of several parts that do not touch gives several lines with the same number and attributes. `file` has
    what the record of a plan needs: the path as given, the CRS and the files it consists of; no polygons.
    """

    file: VectorFile
    lines: tuple[FloatArray, ...]
    attributes: tuple[dict[str, object], ...]
    feature: tuple[int, ...]


def read_lines(given: str, folder: Path, faults: Faults) -> GivenLines | None:
    """Lines of a file in WGS 84 without heights; None where the file as a whole will not do.

    Parts of a feature are joined where they touch, whichever way each was drawn. A feature with a fault is left out of
    what is returned, and told. Attributes are made of what JSON knows: dates become text, what is no number null.

    Parameters
    ----------
    given : str
        The path as the user gave it.
    folder : Path
        Where relative paths start.
    faults : Faults
        Gets the faults.
    """
    several = "keep the lines in a file of one layer"
    read = read_shapes(folder / given, given, faults, wanted=_LINES, several=several)
    if read is None:
        return None
    lines: list[FloatArray] = []
    attributes: list[dict[str, object]] = []
    feature: list[int] = []
    for found in read.found:
        refuse = partial(faults.add, given, feature_place(found.number, None))
        whole = [line for part in _joined_parts(found.shape) if (line := _sound_line(part, refuse)) is not None]
        lines += whole
        attributes += [found.attributes] * len(whole)
        feature += [found.number] * len(whole)
    return GivenLines(read.file, tuple(lines), tuple(attributes), tuple(feature))


def read_guide(given: str, folder: Path, faults: Faults) -> GivenLines | None:
    """Return the one line that rows follow; None, with a fault, where there are more, or the file will not do.

    Parameters are those of `read_lines`.
    """
    before = len(faults.found)
    read = read_lines(given, folder, faults)
    if read is None or len(faults.found) > before:
        return None
    if len(read.lines) > 1:
        apart = "; parts that do not touch count each" if len(read.lines) > len(set(read.feature)) else ""
        faults.add(given, "", f"the file holds {len(read.lines)} lines, where one guide is wanted{apart}")
        return None
    return read


def check_near(guide: GivenLines, block_id: str, area: BaseGeometry, faults: Faults) -> None:
    """Refuse a guide so far from a block that its rows would be laid out all the way there.

    Parameters
    ----------
    guide : GivenLines
        As `read_guide` returns it.
    block_id : str
        What the block is called.
    area : Polygon or MultiPolygon
        The block in longitude and latitude. [deg]
    faults : Faults
        Gets the fault.
    """
    # Degrees of latitude all over: good enough to tell near from far.
    narrow = math.cos(math.radians(area.centroid.y))
    guide_line, ground = (
        shapely.transform(shape, lambda at: at * (narrow, 1.0)) for shape in (LineString(guide.lines[0]), area)
    )
    if shapely.distance(guide_line, ground) * _M_PER_DEGREE > _MOST_AWAY_M:
        limit = f"the guide lies more than {_MOST_AWAY_M:g} m from block {block_id}, too far to follow"
        faults.add(guide.file.given, "", limit)


def read_shapes(path: Path, given: str, faults: Faults, *, wanted: tuple[str, str], several: str) -> Shapes | None:
    """Features of one layer in WGS 84 with all their attributes; None where the file as a whole will not do.

    Parameters
    ----------
    path : Path
        A plain local file.
    given : str
        The path as the user gave it.
    faults : Faults
        Gets the faults.
    wanted : (str, str)
        Kinds of geometry that will do, by the names that files use.
    several : str
        What to do where the file has several layers, for the fault.
    """
    take = partial(_take_shapes, given=given, wanted=wanted, faults=faults)
    return read_layer(path, given, faults, take, several=several, wanted=" or ".join(wanted))


def _take_shapes(layer: Layer, *, given: str, wanted: tuple[str, str], faults: Faults) -> Shapes:
    transformer = to_lonlat(layer.crs)
    found: list[Shape] = []
    number = 0
    for number, (geometry, attributes) in enumerate(layer.features, start=1):
        refuse = partial(faults.add, given, feature_place(number, None))
        whole = _drawn(geometry, wanted, refuse)
        flat = None if whole is None else _in_lonlat(shapely.force_2d(whole), layer.crs, transformer, refuse)
        if flat is not None:
            z = shapely.get_coordinates(whole, include_z=True)[:, 2]
            found.append(Shape(number, flat, z, plain_attributes(attributes)))
    check_count(number, layer.promised, given, faults)
    return Shapes(VectorFile(given, (), {}, layer.crs, layer.parts), tuple(found), layer.whole_crs)


def _drawn(record: Record | None, wanted: tuple[str, str], refuse: Refuse) -> BaseGeometry | None:
    """Return a feature's geometry as the file has it; None, after `refuse`, where it is of another kind or broken."""
    if record is None:
        refuse("it has no geometry")
        return None
    try:
        whole = drawn(record)
    except DRAWING_ERRORS as error:
        refuse(why_not_drawn(error, "a line of it has fewer than two points"))
        return None
    if whole.geom_type not in wanted:
        refuse(f"it is a {whole.geom_type}, where a {wanted[0]} or {wanted[1]} is wanted")
        return None
    if whole.is_empty:
        refuse("its geometry is empty")
        return None
    return whole


def _in_lonlat(flat: BaseGeometry, crs: CRS, transformer: Transformer | None, refuse: Refuse) -> BaseGeometry | None:
    """Return a geometry in longitude and latitude; None, after `refuse`, where that is no place on earth."""
    if not sane_coordinates(flat, crs, refuse):
        return None
    lonlat = flat if transformer is None else projected(flat, transformer)
    if not np.isfinite(shapely.get_coordinates(lonlat)).all():
        refuse(f"its coordinates lie where {crs.name} has no place on earth")
        return None
    return lonlat if between_the_edges(lonlat, refuse) else None


def plain_attributes(properties: Mapping[str, object]) -> dict[str, object]:
    """Return attributes made of what JSON knows."""
    return {str(key): _plain(value) for key, value in properties.items()}


def _plain(value: object) -> object:
    if isinstance(value, float) and not math.isfinite(value):
        return None
    if value is None or isinstance(value, bool | int | float | str):
        return value
    if isinstance(value, bytes):
        return value.hex()
    if isinstance(value, Mapping):
        return plain_attributes(value)
    if isinstance(value, Iterable):
        return [_plain(item) for item in value]
    told: Callable[[], str] | None = getattr(value, "isoformat", None)
    return told() if told else str(value)


def _joined_parts(drawn: BaseGeometry) -> list[FloatArray]:
    """Return the lines of a feature, parts joined where two ends meet; a point drawn twice over counts once."""
    parts = shapely.get_parts(drawn)
    if len(parts) > 1:
        # Parts without length would keep their neighbours apart.
        parts = shapely.get_parts(shapely.line_merge(shapely.multilinestrings(parts[shapely.length(parts) > 0.0])))
    return [_without_repeats(shapely.get_coordinates(part)) for part in parts]


def _without_repeats(lonlat: FloatArray) -> FloatArray:
    moved = np.any(np.diff(lonlat, axis=0) != 0.0, axis=1)
    return np.asarray(lonlat[np.concatenate([[True], moved])], dtype=np.float64)


def _sound_line(lonlat: FloatArray, refuse: Refuse) -> FloatArray | None:
    """Return a line that has two ends and meets itself nowhere; None, after `refuse`, where it has not."""
    if len(lonlat) < 2:
        refuse(f"a line of it has no length: all its points lie at {place_words(*lonlat[0])}")
        return None
    if (lonlat[0] == lonlat[-1]).all():
        refuse(f"a line of it ends where it starts, at {place_words(*lonlat[0])}; a row needs two ends")
        return None
    if not LineString(lonlat).is_simple:
        refuse(f"a line of it crosses or touches itself at {place_words(*_first_meeting(lonlat))}")
        return None
    return lonlat


def _first_meeting(lonlat: FloatArray) -> tuple[float, float]:
    """Return the first place at which a line that is not simple meets itself [deg]."""
    steps = lines_through(np.stack([lonlat[:-1], lonlat[1:]], axis=1))
    tree = shapely.STRtree(steps)
    # A few steps at a time: all of a line that winds about one place meet all others.
    for start in range(0, len(steps), _STEPS_AT_ONCE):
        one, other = tree.query(steps[start : start + _STEPS_AT_ONCE], predicate="intersects")
        one += start
        later = other > one
        one, other = one[later], other[later]
        meeting = shapely.intersection(steps[one], steps[other])
        # Neighbours share a point by right, and more than that only where the line turns back.
        bad = (other > one + 1) | (shapely.length(meeting) > 0.0)
        if bad.any():
            first = np.lexsort((other[bad], one[bad]))[0]
            lon, lat = shapely.get_coordinates(meeting[bad][first])[0]
            return float(lon), float(lat)
    return float(lonlat[0, 0]), float(lonlat[0, 1])  # a touch lost in rounding
