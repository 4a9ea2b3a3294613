"""Polygons from vector files: GeoJSON, GeoPackage, shapefile and FlatGeobuf, told apart by content."""

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from difflib import get_close_matches
from pathlib import Path
from typing import Any, Final

import fiona
from fiona.errors import FionaError, UnsupportedGeometryTypeError
from pyproj import CRS
from pyproj.exceptions import CRSError
from shapely import MultiPolygon, Polygon

from wirerun.errors import Fault, Faults
from wirerun.read.crs import horizontal_crs, to_lonlat
from wirerun.read.plain_file import plain_file
from wirerun.read.polygons import lonlat_polygon

DRIVERS: Final = ("GeoJSON", "GPKG", "ESRI Shapefile", "FlatGeobuf")
_FORMATS: Final = "GeoJSON, GeoPackage, shapefile or FlatGeobuf"
_SHAPEFILE_PARTS: Final = (".shp", ".shx", ".dbf", ".prj", ".cpg")
_SHAPEFILE_HEAD: Final = b"\0\0\x27\x0a"
_MOST_LAYERS: Final = 1000

# What people hand over instead, by the first bytes.
_OTHERS: Final[tuple[tuple[bytes, str], ...]] = (
    (b"PK\x03\x04", "a packed archive; unpack it first"),
    (b"II*\0", "a TIFF raster"),
    (b"MM\0*", "a TIFF raster"),
    (b"<", "XML, such as KML or GML; save it as GeoPackage or GeoJSON"),
)


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
    parts: tuple[Path, ...]
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
    real = plain_file(path, given, faults)
    if real is None:
        return None
    try:
        index = layer_index(real, given, layer, several, faults)
        if index is None:
            return None
        with open_layer(real, index) as collection:
            return _read_layer(collection, real, given, field, faults)
    except (FionaError, OSError):
        faults.add(given, "", why_closed(real))
    except UnsupportedGeometryTypeError:
        faults.add(given, "", "it holds a kind of geometry that cannot be read; Polygon or MultiPolygon is wanted")
    return None


def feature_place(number: int, value: object) -> str:
    """Return how a fault names a feature: its number, and its name where it has one."""
    if not isinstance(value, str | int) or isinstance(value, bool):
        return f"feature {number}"
    name = "".join(c for c in str(value).strip() if c.isprintable())[:40]
    return f"feature {number} ({name})" if name else f"feature {number}"


def open_layer(real: Path, index: int) -> Any:  # noqa: ANN401 - fiona has no types
    """Open a layer by its number, with one of the allowed drivers. The library takes a plain 0 for a missing name."""
    return fiona.open(real, layer=index or None, enabled_drivers=list(DRIVERS))


def layer_index(real: Path, given: str, wanted: str | None, several: str, faults: Faults) -> int | None:
    """Return the number of the layer to read; tables without geometry, such as stored styles, are passed over."""
    layers = [(index, name) for index, name, spatial in _layers(real) if spatial]
    names = ", ".join(name for _, name in layers)
    if not layers:
        faults.add(given, "", "the file has no layer with geometry")
        return None
    if wanted is None and len(layers) > 1:
        faults.add(given, "", f"the file has {len(layers)} layers ({names}); {several}")
        return None
    if wanted is None:
        return layers[0][0]
    found = [index for index, name in layers if name == wanted]
    if not found:
        faults.add(given, "", f'there is no layer "{wanted}"; there {"is" if len(layers) == 1 else "are"} {names}')
        return None
    return found[0]


def _layers(real: Path) -> Iterator[tuple[int, str, bool]]:
    """Go through the layers: number, name and whether there is geometry.

    One by one, because the call that lists them all opens a file with any driver there is.
    """
    for index in range(_MOST_LAYERS):
        try:
            with open_layer(real, index) as collection:
                yield index, str(collection.name), collection.schema["geometry"] != "None"
        except ValueError as error:
            if index == 0:
                raise OSError(str(error)) from error
            return


def _read_layer(collection: Any, real: Path, given: str, field: str | None, faults: Faults) -> VectorFile | None:  # noqa: ANN401 - fiona has no types
    parts = parts_of(real, collection.driver)
    if collection.driver == "ESRI Shapefile" and real.suffix.lower() != ".shp":
        faults.add(given, "", "this is one part of a shapefile; give the part that ends in .shp")
        return None
    crs = crs_of(collection, real, given, faults)
    if field is not None:
        _check_field(field, list(collection.schema["properties"]), given, faults)
    if crs is None:
        return None
    transformer = to_lonlat(crs)
    features: list[Feature] = []
    values: dict[int, object] = {}
    refused: dict[int, tuple[Fault, ...]] = {}
    for number, record in enumerate(collection, start=1):
        values[number] = record.properties.get(field) if field else None
        wrong: list[str] = []
        area = lonlat_polygon(record.geometry, crs, transformer, wrong.append)
        if area is not None:
            features.append(Feature(number, area, values[number]))
        else:
            place = feature_place(number, values[number])
            refused[number] = tuple(Fault(given, place, sentence) for sentence in wrong)
    check_count(len(values), promised(collection), given, faults)
    return VectorFile(given, tuple(features), values, crs, parts, refused)


def check_count(read: int, promised: int, given: str, faults: Faults) -> None:
    """Refuse a file without features, and one cut short: its reader ends early without a word."""
    if promised > read:
        faults.add(given, "", f"the file is damaged: it promises {promised} features, only {read} can be read")
    elif read == 0:
        faults.add(given, "", "the file has no features")


def promised(collection: Any) -> int:  # noqa: ANN401 - fiona has no types
    """Return how many features the file says it has, 0 where it does not say."""
    try:
        return len(collection)
    except TypeError:
        return 0


def crs_of(collection: Any, real: Path, given: str, faults: Faults) -> CRS | None:  # noqa: ANN401 - fiona has no types
    """Return the CRS of a layer; None, after a fault, where it names none that ties it to the earth."""
    if collection.driver == "GeoJSON":
        own = _crs_member(real)
        if isinstance(own, str):
            faults.add(given, "crs", own)
            return None
        if own is not None:
            return own
    wkt = collection.crs.to_wkt(version="WKT2_2019") if collection.crs else ""
    crs = horizontal_crs(wkt) if wkt else None
    if crs is None:
        why = " (the part that ends in .prj is missing)" if collection.driver == "ESRI Shapefile" and not wkt else ""
        faults.add(given, "", f"the file names no CRS that ties it to the earth{why}")
    return crs


def _crs_member(real: Path) -> CRS | str | None:
    """Return the CRS that an old-style GeoJSON names, or what is wrong with it, or None where it names none.

    The driver takes a name that it does not know for WGS 84, in silence.
    """
    text = real.read_bytes()
    if b'"crs"' not in text:
        return None
    document = json.loads(text.decode("utf-8-sig", errors="replace"))
    if "crs" not in document:
        return None
    advice = "without the member it is WGS 84"
    member = document["crs"] if isinstance(document["crs"], dict) else {}
    properties = member.get("properties")
    named = properties.get("name") if isinstance(properties, dict) else None
    if not isinstance(named, str):
        return f"it names no CRS, so the place on earth is unknown; {advice}"
    try:
        crs = horizontal_crs(CRS.from_user_input(named).to_wkt())
    except CRSError:
        crs = None
    return crs or f'"{named}" is no known CRS; {advice}'


def _check_field(field: str, there: list[str], given: str, faults: Faults) -> None:
    if field in there:
        return
    near = get_close_matches(field, there, n=1)
    hint = f"; did you mean {near[0]}?" if near else ""
    known = f"the attributes are {', '.join(there)}" if there else "there are no attributes"
    faults.add(given, "", f'no feature has the attribute "{field}" (block.id_field); {known}{hint}')


def parts_of(real: Path, driver: str) -> tuple[Path, ...]:
    """Return the files that the content comes from: of a shapefile the parts that are read, else the file alone."""
    return _shapefile_parts(real) if driver == "ESRI Shapefile" else (real,)


def _shapefile_parts(real: Path) -> tuple[Path, ...]:
    beside = (path for path in real.parent.iterdir() if path.stem == real.stem)
    return tuple(path for path in beside if path.suffix.lower() in _SHAPEFILE_PARTS)


def why_closed(real: Path) -> str:
    """Return why a file could not be opened, from its first bytes."""
    with real.open("rb") as stream:
        head = stream.read(64).removeprefix(b"\xef\xbb\xbf").lstrip()
    if head.startswith((b"{", b"[")):
        return _why_no_geojson(real)
    if head.startswith(_SHAPEFILE_HEAD) and ".shx" not in {part.suffix.lower() for part in _shapefile_parts(real)}:
        return "of this shapefile the part that ends in .shx is missing; keep all its parts together"
    for start, words in _OTHERS:
        if head.startswith(start):
            return f"this is {words}; wanted is {_FORMATS}"
    if head.startswith((b"SQLite format 3", _SHAPEFILE_HEAD, b"fgb")):
        return "the file is damaged and cannot be read"
    return f"the file is no {_FORMATS}"


def _why_no_geojson(real: Path) -> str:
    try:
        json.loads(real.read_bytes().decode("utf-8-sig"))
    except json.JSONDecodeError as error:
        return f"not valid JSON: {error.msg} at line {error.lineno}, column {error.colno}"
    except (ValueError, RecursionError):
        return "this is no GeoJSON: not UTF-8 text, or nested too deep"
    return "this is JSON but no GeoJSON"
