"""GeoJSON before the library opens it: whether it is sound JSON, and which CRS it names.

The library reads some text that is no JSON, fetches a CRS from wherever a file links to, takes a CRS that it does not
know for WGS 84 without a word, and breaks off where an attribute is a number here and text there.
"""

import json
from pathlib import Path
from typing import Any, NamedTuple

from pyproj import CRS
from pyproj.exceptions import ProjError

from wirerun.errors import Faults
from wirerun.read.crs import WGS84, horizontal_crs
from wirerun.read.polygons import FAR_TOO_MANY, corners_of, too_many


class GeoJson(NamedTuple):
    """What is known of a file: its CRS, and its text with every attribute of one kind where the file's own is not."""

    crs: CRS
    text: bytes | None


def sound_geojson(real: Path, given: str, faults: Faults) -> GeoJson | None:
    """A GeoJSON file's CRS, the one that an old-style file names, else WGS 84; None, after a fault, for bad JSON.

    Parameters
    ----------
    real : Path
        A plain local file.
    given : str
        The path as the user gave it.
    faults : Faults
        Gets the fault.
    """
    document = _document(real)
    if isinstance(document, str):
        faults.add(given, "", document)
        return None
    for at, feature in enumerate(_features(document), start=1):
        drawn = feature.get("geometry")
        corners = corners_of(drawn.get("coordinates")) if isinstance(drawn, dict) else 0
        if corners > FAR_TOO_MANY:
            faults.add(given, f"feature {at}", too_many(corners))
            return None
    crs = _named_crs(document["crs"]) if "crs" in document else WGS84
    if isinstance(crs, str):
        faults.add(given, "crs", f"{crs}; without the member it is WGS 84")
        return None
    return GeoJson(crs, _of_one_kind(document, real.stem))


def _of_one_kind(document: dict[str, Any], name: str) -> bytes | None:
    """The document with attributes that are now text and now something else made text; None where there is none such.

    An empty text beside numbers, such as a spreadsheet leaves, is no value. The layer keeps its name.
    """
    tables = _attributes(document)
    kinds: dict[str, set[str]] = {}
    for table in tables:
        for key, value in table.items():
            kinds.setdefault(key, set()).add(_kind(value))
    mixed = {key for key, found in kinds.items() if len(found - {"NoneType"}) > 1}
    as_text = {key for key in mixed if len(kinds[key] - {"NoneType", "empty"}) > 1}
    for table in tables:
        for key in mixed.intersection(table):
            value = table[key]
            if _kind(value) == "empty":
                table[key] = None
            elif key in as_text and value is not None and not isinstance(value, str):
                table[key] = json.dumps(value)
    return json.dumps({"name": name, **document}).encode() if mixed else None


def _attributes(document: dict[str, Any]) -> list[dict[str, Any]]:
    return [table for one in _features(document) if isinstance(table := one.get("properties"), dict)]


def _features(document: dict[str, Any]) -> list[dict[str, Any]]:
    features = document.get("features")
    return [one if isinstance(one, dict) else {} for one in features] if isinstance(features, list) else []


def _kind(value: object) -> str:
    if isinstance(value, str) and not value.strip():
        return "empty"
    return "number" if type(value) in {int, float} else type(value).__name__


def _document(real: Path) -> dict[str, Any] | str:
    """Return what the file holds, or the sentence that says why it cannot be had."""
    try:
        # A tab within a name is against the letter of the standard, and does no harm.
        document = json.loads(real.read_bytes().decode("utf-8-sig"), strict=False)
    except json.JSONDecodeError as error:
        return f"not valid JSON: {error.msg} at line {error.lineno}, column {error.colno}"
    except UnicodeDecodeError:
        return "this is no GeoJSON: not UTF-8 text; save the file as UTF-8"
    except RecursionError:
        return "this is no GeoJSON: nested too deep"
    except ValueError:  # a number of thousands of digits
        return "this is no GeoJSON: a number is too long"
    return document if isinstance(document, dict) else "this is JSON but no GeoJSON"


def _named_crs(member: object) -> CRS | str:
    """Return the CRS that the member names, or what is wrong with it."""
    properties = member.get("properties") if isinstance(member, dict) else None
    named = properties.get("name") if isinstance(properties, dict) else None
    if not isinstance(named, str):
        return "it names no CRS, so the place on earth is unknown"
    try:
        crs = CRS.from_user_input(named)
    except ProjError:
        return f'"{named}" is no known CRS'
    return horizontal_crs(crs.to_wkt()) or f'"{named}" is no CRS that ties it to the earth'
