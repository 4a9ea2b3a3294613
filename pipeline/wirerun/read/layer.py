"""One layer of a vector file, whatever its format: GeoJSON, GeoPackage, shapefile or FlatGeobuf, told by content."""

import io
import sqlite3
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any, Final, TypeVar

import fiona
from fiona.errors import UnsupportedGeometryTypeError
from pyproj import CRS

from wirerun.errors import Faults
from wirerun.findings import name_some
from wirerun.read.crs import horizontal_crs
from wirerun.read.geojson import sound_geojson
from wirerun.read.geopackage import HEAD as GEOPACKAGE_HEAD
from wirerun.read.geopackage import GeoPackage, open_geopackage, side_files, why_broken
from wirerun.read.library_errors import READ_ERRORS, told
from wirerun.read.plain_file import Part, part, plain_file
from wirerun.read.polygons import Record

#: What the GIS library reads for us; GeoPackages are read without it.
DRIVERS: Final = ("GeoJSON", "ESRI Shapefile", "FlatGeobuf")
_FORMATS: Final = "GeoJSON, GeoPackage, shapefile or FlatGeobuf"
_SHAPEFILE_PARTS: Final = (".shp", ".shx", ".dbf", ".prj", ".cpg")
_SHAPEFILE_HEAD: Final = b"\0\0\x27\x0a"
_JSON_HEADS: Final = (b"{", b"[")

# What people hand over instead, by the first bytes.
_OTHERS: Final[tuple[tuple[bytes, str], ...]] = (
    (b"PK\x03\x04", "a packed archive; unpack it first"),
    (b"II*\0", "a TIFF raster"),
    (b"MM\0*", "a TIFF raster"),
    (b"<", "XML, such as KML or GML; save it as GeoPackage or GeoJSON"),
)

_DAMAGED: Final = "the file is damaged and cannot be read"
_NO_CRS: Final = "the file names no CRS that ties it to the earth"

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Layer:
    """An open layer.

    `crs` is the horizontal part of `whole_crs`. `promised` is how many features the file says it has, 0 where it does
    not say. `features` can be gone through once: geometry as the library hands it over (`polygons.drawn` builds it),
    and attributes. `parts` are the files that all of this comes from.
    """

    fields: tuple[str, ...]
    crs: CRS
    whole_crs: CRS
    promised: int
    features: Iterator[tuple[Record | None, Mapping[str, Any]]]
    parts: tuple[Part, ...]


def read_layer(
    path: Path,
    given: str,
    faults: Faults,
    take: Callable[[Layer], T],
    *,
    layer: str | None = None,
    several: str,
    wanted: str,
) -> T | None:
    """What `take` makes of the open layer; None, with the fault told, where there is none or it breaks off.

    Parameters
    ----------
    path : Path
        A plain local file.
    given : str
        The path as the user gave it.
    faults : Faults
        Gets the faults.
    take : callable
        Gets the open layer.
    layer : str, optional
        The layer to read; may be left out where the file has only one with geometry.
    several : str
        What to do where the file has several layers and none is named, for the fault.
    wanted : str
        Which kinds of geometry will do, for the fault.
    """
    real = plain_file(path, given, faults)
    if real is None:
        return None
    with told(faults, given, "", partial(_why_closed, real)):
        try:
            head = _head(real)
            if head.startswith(GEOPACKAGE_HEAD):
                return _of_geopackage(real, given, faults, take, layer, several)
            return _of_library(real, given, faults, take, layer, head)
        except UnsupportedGeometryTypeError:
            faults.add(given, "", f"it holds a kind of geometry that cannot be read; {wanted} is wanted")
    return None


def check_count(read: int, promised: int, given: str, faults: Faults) -> None:
    """Refuse a file without features, and one cut short: its reader ends early without a word."""
    if promised > read:
        faults.add(given, "", f"the file is damaged: it promises {promised} features, only {read} can be read")
    elif read == 0:
        faults.add(given, "", "the file has no features")


def _of_geopackage(
    real: Path, given: str, faults: Faults, take: Callable[[Layer], T], wanted: str | None, several: str
) -> T | None:
    parts = tuple(part(path) for path in (real, *side_files(real)))
    try:
        with open_geopackage(real) as file:
            number = _which_layer(file, wanted, several, partial(faults.add, given, ""))
            if number is None:
                return None
            table = file.tables[number]
            crs = _usable_crs(lambda: file.crs(table))
            if not file.is_sound(table):
                faults.add(given, "", _DAMAGED)
            elif crs is None:
                faults.add(given, "", _NO_CRS)
            else:
                fields = tuple(file.columns(table))
                return take(Layer(fields, *crs, promised=0, features=file.features(table), parts=parts))
    except sqlite3.Error as error:
        faults.add(given, "", why_broken(error))
    return None


def _which_layer(file: GeoPackage, wanted: str | None, several: str, refuse: Callable[[str], None]) -> int | None:
    """Return the number of the layer to read; tables without geometry, such as stored styles, are passed over."""
    names = [table.name for table in file.tables]
    if wanted in names:
        return names.index(wanted)
    views = f"; views are not read, save {name_some(file.views)} as a table" if file.views else ""
    if not names:
        refuse(f"the file has no layer with geometry{views}")
    elif wanted is not None:
        refuse(f'there is no layer "{wanted}"; there {"is" if len(names) == 1 else "are"} {name_some(names)}{views}')
    elif len(names) > 1:
        refuse(f"the file has {len(names)} layers ({name_some(names)}); {several}")
    else:
        return 0
    return None


def _of_library(
    real: Path, given: str, faults: Faults, take: Callable[[Layer], T], wanted: str | None, head: bytes
) -> T | None:
    """Read a file of a format that has one layer."""
    parts = _shapefile_parts(real) if head.startswith(_SHAPEFILE_HEAD) else (part(real),)
    own, text = None, None
    if head.startswith(_JSON_HEADS):
        # Before the library sees the file: it would fetch a CRS that the file links to.
        sound = sound_geojson(real, given, faults)
        if sound is None:
            return None
        own, text = sound
    with fiona.open(real if text is None else io.BytesIO(text), enabled_drivers=list(DRIVERS)) as collection:
        shapefile = collection.driver == "ESRI Shapefile"
        if shapefile and real.suffix.lower() != ".shp":
            faults.add(given, "", "this is one part of a shapefile; give the part that ends in .shp")
            return None
        if wanted not in {None, collection.name}:
            faults.add(given, "", f'there is no layer "{wanted}"; there is {collection.name}')
            return None
        crs = (own, own) if own is not None else _usable_crs(lambda: _library_crs(collection))
        if crs is None:
            prj = [one for one in parts if one.path.suffix.lower() == ".prj"]
            why = f" (the part that ends in .prj is {'damaged or names none' if prj else 'missing'})"
            faults.add(given, "", f"{_NO_CRS}{why if shapefile else ''}")
            return None
        fields = tuple(collection.schema["properties"])
        features = ((record.geometry, record.properties) for record in collection)
        return take(Layer(fields, *crs, promised=_promised(collection), features=features, parts=parts))


def _usable_crs(of_file: Callable[[], CRS | None]) -> tuple[CRS, CRS] | None:
    """Return the horizontal part of a file's CRS and the whole, None where it does not tie the file to the earth."""
    try:
        whole = of_file()
    except READ_ERRORS:
        return None
    flat = horizontal_crs(whole.to_wkt()) if whole is not None else None
    return None if whole is None or flat is None else (flat, whole)


def _library_crs(collection: Any) -> CRS | None:  # noqa: ANN401 - fiona has no types
    return CRS.from_wkt(collection.crs.to_wkt(version="WKT2_2019")) if collection.crs else None


def _promised(collection: Any) -> int:  # noqa: ANN401 - fiona has no types
    try:
        return len(collection)
    except TypeError:
        return 0


def _shapefile_parts(real: Path) -> tuple[Part, ...]:
    """Return the parts of a shapefile that are read."""
    beside = (path for path in real.parent.iterdir() if path.stem == real.stem)
    return tuple(part(path) for path in beside if path.suffix.lower() in _SHAPEFILE_PARTS)


def _head(real: Path) -> bytes:
    with real.open("rb") as stream:
        return stream.read(64).removeprefix(b"\xef\xbb\xbf").lstrip()


def _why_closed(real: Path) -> str:
    """Return why a file could not be opened, from its first bytes."""
    head = _head(real)
    if head.startswith(_JSON_HEADS):
        return "this is JSON but no GeoJSON"
    parts = {one.path.suffix.lower() for one in _shapefile_parts(real)}
    if head.startswith(_SHAPEFILE_HEAD) and ".shx" not in parts:
        return "of this shapefile the part that ends in .shx is missing; keep all its parts together"
    for start, words in _OTHERS:
        if head.startswith(start):
            return f"this is {words}; wanted is {_FORMATS}"
    if head.startswith((GEOPACKAGE_HEAD, _SHAPEFILE_HEAD, b"fgb")):
        return _DAMAGED
    return f"the file is no {_FORMATS}"
