"""Polygons from vector files."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from difflib import get_close_matches
from functools import partial
from pathlib import Path

from pyproj import CRS
from shapely import MultiPolygon, Polygon

from wirerun.errors import Fault, Faults
from wirerun.read.crs import to_lonlat
from wirerun.read.layer import Layer, check_count, read_layer
from wirerun.read.plain_file import Part
from wirerun.read.polygons import lonlat_polygon


@dataclass(frozen=True, slots=True)
class Feature:
    """One polygon feature: its number in the file from 1, its ground in longitude and latitude, its named attribute."""

    number: int
    area: Polygon | MultiPolygon
    value: object

    @property
    def place(self) -> str:
        """Return how a fault names it."""
        return feature_place(self.number, self.value)


@dataclass(frozen=True, slots=True)
class VectorFile:
    """What was read of a file: the good features, its CRS, and all the files it consists of.

    `values` holds the named attribute of every feature by its number, the ones with a fault included; `refused` what is
    wrong with those, not told as yet: who reads the file knows what else they cost.
    """

    given: str
    features: tuple[Feature, ...]
    values: Mapping[int, object]
    crs: CRS
    parts: tuple[Part, ...]
    refused: Mapping[int, tuple[Fault, ...]] = field(default_factory=dict)


def read_polygons(
    path: Path, given: str, faults: Faults, *, layer: str | None = None, field: str | None = None, several: str
) -> VectorFile | None:
    """Polygons of one layer in WGS 84, holes kept and heights dropped; None where the file as a whole will not do.

    A feature with a fault is not among the features that are returned, but among the refused.

    Parameters
    ----------
    path : Path
        A plain local file.
    given : str
        The path as the user gave it.
    faults : Faults
        Gets the faults of the file as a whole.
    layer : str, optional
        The layer to read; may be left out where the file has only one with geometry.
    field : str, optional
        Attribute to keep with each feature.
    several : str
        What to do where the file has several layers and none is named, for the fault.
    """
    take = partial(_take_polygons, given=given, field=field, faults=faults)
    return read_layer(path, given, faults, take, layer=layer, several=several, wanted="Polygon or MultiPolygon")


def feature_place(number: int, value: object) -> str:
    """Return how a fault names a feature: its number, and its name where it has one."""
    if not isinstance(value, str | int) or isinstance(value, bool):
        return f"feature {number}"
    name = "".join(c for c in str(value).strip() if c.isprintable())[:40]
    return f"feature {number} ({name})" if name else f"feature {number}"


def _take_polygons(layer: Layer, *, given: str, field: str | None, faults: Faults) -> VectorFile:
    if field is not None:
        check_field(field, layer.fields, given, "block.id_field", faults)
    transformer = to_lonlat(layer.crs)
    features: list[Feature] = []
    values: dict[int, object] = {}
    refused: dict[int, tuple[Fault, ...]] = {}
    for number, (geometry, attributes) in enumerate(layer.features, start=1):
        values[number] = attributes.get(field) if field else None
        wrong: list[str] = []
        area = lonlat_polygon(geometry, layer.crs, transformer, wrong.append)
        if area is not None:
            features.append(Feature(number, area, values[number]))
        else:
            place = feature_place(number, values[number])
            refused[number] = tuple(Fault(given, place, sentence) for sentence in wrong)
    check_count(len(values), layer.promised, given, faults)
    return VectorFile(given, tuple(features), values, layer.crs, layer.parts, refused)


def check_field(field: str, there: Sequence[str], given: str, setting: str, faults: Faults) -> None:
    """Tell of an attribute that a setting names and the file has not."""
    if field in there:
        return
    near = get_close_matches(field, there, n=1)
    hint = f"; did you mean {near[0]}?" if near else ""
    known = f"the attributes are {', '.join(there)}" if there else "there are no attributes"
    faults.add(given, "", f'no feature has the attribute "{field}" ({setting}); {known}{hint}')
