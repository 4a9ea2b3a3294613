"""Surveyed posts: points from a table (CSV) or a vector file, with heights where they were measured."""

from collections.abc import Mapping
from pathlib import Path
from typing import Final

import numpy as np
import shapely

from wirerun.errors import Faults
from wirerun.read.lines import read_shapes
from wirerun.read.plain_file import part, plain_file
from wirerun.read.point_list import HEADS, GivenPoints, Heights, Points, Stated, Told, number_of, text_of
from wirerun.read.point_table import read_table
from wirerun.read.vector import feature_place

__all__ = ["GivenPoints", "Stated", "read_points"]

_NOTHING: Final = Stated()
_POINTS: Final = ("Point", "MultiPoint")
_VECTOR_ENDS: Final = frozenset({".shp", ".shx", ".dbf", ".prj", ".cpg", ".gpkg", ".fgb", ".geojson", ".json"})
_VECTOR_HEADS: Final = (b"{", b"SQLite format 3", b"fgb", b"\0\0\x27\x0a", b"PK\x03\x04", b"II*\0", b"MM\0*", b"<")
_SHEET_ENDS: Final = frozenset({".xlsx", ".xls", ".ods"})


def read_points(given: str, folder: Path, faults: Faults, stated: Stated = _NOTHING) -> GivenPoints | None:
    """Points of a file in WGS 84; None where the file as a whole will not do.

    A point with a fault is left out of what is returned, and told. A table has one header line and the columns lon and
    lat (WGS 84 unless the config says otherwise), or E and N (or x and y) in the CRS that the config names; a height
    and a name if wanted. A point of a vector file has its height from an attribute of the same names, else from its
    third coordinate; where the third coordinates of a whole file are 0, they were never measured.

    Parameters
    ----------
    given : str
        The path as the user gave it.
    folder : Path
        Where relative paths start.
    faults : Faults
        Gets the faults.
    stated : Stated
        What the config says of the file.
    """
    real = plain_file(folder / given, given, faults)
    if real is None:
        return None
    if real.suffix.lower() in _SHEET_ENDS:
        faults.add(given, "", "this is a spreadsheet; save the sheet as CSV")
        return None
    points = Points(given, faults)
    read = read_table(part(real), points, stated) if _is_table(real) else _read_vector(folder, points, stated)
    points.tell()
    return read


def _is_table(real: Path) -> bool:
    """Whether a file is text in columns, by its first bytes and its name."""
    with real.open("rb") as stream:
        head = stream.read(64).removeprefix(b"\xef\xbb\xbf").lstrip()
    return real.suffix.lower() not in _VECTOR_ENDS and not head.startswith(_VECTOR_HEADS)


def _read_vector(folder: Path, points: Points, stated: Stated) -> GivenPoints | None:
    given, faults = points.given, points.faults
    several = "keep the points in a file of one layer"
    read = read_shapes(folder / given, given, faults, wanted=_POINTS, several=several)
    if read is None:
        return None
    crs = read.file.crs
    if stated.crs is not None:
        sentence = f"it is for tables; {given} names its own CRS ({crs.name}); take the setting out"
        faults.add(stated.config, f"{stated.setting}_crs", sentence)
    measured = any(np.nan_to_num(found.z).any() for found in read.found)
    heights = Heights(crs, read.whole_crs, stated)
    for found in read.found:
        name = text_of(_named(found.attributes, "name")[1])
        place = feature_place(found.number, name)
        read_of = {}
        for role in ("height", "out"):
            head, value = _named(found.attributes, role)
            one = number_of(text_of(value)) if text_of(value) else np.nan
            if isinstance(one, str):
                points.refuse(place, f"{head}: {one}")
            else:
                read_of[role] = heights.metres(one, head)
        if len(read_of) < len(("height", "out")):
            continue
        own = read_of["height"]
        cells = tuple(points.same(text_of(value)) for value in found.attributes.values())
        told = Told(name, read_of["out"], tuple(found.attributes), cells)
        for lonlat, z in zip(shapely.get_coordinates(found.shape).tolist(), found.z.tolist(), strict=True):
            third = heights.metres(z) if measured and np.isnan(own) else np.nan
            points.add(place, (lonlat[0], lonlat[1]), third if np.isnan(own) else own, told)
    heights.tell(given, faults)
    return points.given_points(crs, read.file.parts)


def _named(attributes: Mapping[str, object], role: str) -> tuple[str, object]:
    """Return the first attribute that has a value among those that may carry a role: its name and value."""
    by_name = {name.lower(): (name, value) for name, value in attributes.items() if text_of(value)}
    return next((by_name[head] for head in HEADS[role] if head in by_name), ("", None))
