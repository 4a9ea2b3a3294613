"""GeoJSON before the library opens it: whether it is sound JSON, and which CRS it names.

The library reads some text that is no JSON, fetches a CRS from wherever a file links to, and takes a CRS that it does
not know for WGS 84 without a word.
"""

import json
from pathlib import Path
from typing import Any

from pyproj import CRS
from pyproj.exceptions import ProjError

from wirerun.errors import Faults
from wirerun.read.crs import WGS84, horizontal_crs


def geojson_crs(real: Path, given: str, faults: Faults) -> CRS | None:
    """CRS of a GeoJSON file: the one that an old-style file names, else WGS 84; None, after a fault, for bad JSON.

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
    if "crs" not in document:
        return WGS84
    crs = _named_crs(document["crs"])
    if isinstance(crs, str):
        faults.add(given, "crs", f"{crs}; without the member it is WGS 84")
        return None
    return crs


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
