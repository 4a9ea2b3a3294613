"""Surveyed posts: points from a table (CSV) or a vector file, with heights where they were measured."""

import csv
import io
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

import numpy as np
import shapely
from pyproj import CRS
from pyproj.exceptions import ProjError

from wirerun.arrays import FloatArray
from wirerun.errors import Faults
from wirerun.read.crs import WGS84, horizontal_crs, to_lonlat
from wirerun.read.height_unit import METRES, Unit
from wirerun.read.lines import read_shapes
from wirerun.read.plain_file import Part, part, plain_file
from wirerun.read.vector import VectorFile, feature_place

_POINTS: Final = ("Point", "MultiPoint")

# How the columns may be headed, in small letters. A height whose name ends in _m is in metres whatever else is said.
_HEADS: Final[Mapping[str, tuple[str, ...]]] = {
    "lon": ("lon", "long", "longitude", "lng"),
    "lat": ("lat", "latitude"),
    "E": ("e", "east", "easting", "x"),
    "N": ("n", "north", "northing", "y"),
    "height": ("height", "height_m", "ground_m", "z", "h", "elevation", "elev"),
    "name": ("post_id", "id", "name", "point_id", "point", "post", "label"),
}
_DELIMITERS: Final = (",", ";", "\t")
_NUMBER: Final = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)(e[+-]?\d+)?", re.IGNORECASE | re.ASCII)
_DECIMAL_COMMA: Final = re.compile(r"[+-]?\d*,\d+", re.ASCII)
# Choice: wide of all land, narrow enough for a no-data number or a wrong unit; the same as for rasters.
_LOWEST_M, _HIGHEST_M = -1000.0, 10_000.0
_MOST_TOLD: Final = 20  # choice: a wrong column makes every line wrong, and nobody reads more
_VECTOR_ENDS: Final = frozenset({".shp", ".shx", ".dbf", ".prj", ".cpg", ".gpkg", ".fgb", ".geojson", ".json"})
_VECTOR_HEADS: Final = (b"{", b"SQLite format 3", b"fgb", b"\0\0\x27\x0a", b"PK\x03\x04", b"II*\0", b"MM\0*", b"<")
_SHEET_ENDS: Final = frozenset({".xlsx", ".xls", ".ods"})


@dataclass(frozen=True, slots=True)
class GivenPoints:
    """Surveyed points as read, in the order of the file.

    `lonlat` has shape (n, 2) [deg]; `height_m` shape (n,), NaN where none was measured. `names` are the points' own
    names, empty where they have none; `places` how a sentence names each: "line 7", "feature 3 (P12)". `file` has what
    the record of a plan needs: the path as given, the CRS and the files it consists of; no polygons.
    """

    file: VectorFile
    lonlat: FloatArray
    height_m: FloatArray
    names: tuple[str, ...]
    places: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Stated:
    """What the config says of a file of points: the CRS of its numbers and the unit of its heights.

    `config` is the config file, for faults of these settings. The CRS is for tables only, vector files have their own.
    """

    crs: str | None = None
    height_unit: Unit | None = None
    config: str = "config"


def read_points(given: str, folder: Path, faults: Faults, stated: Stated = Stated()) -> GivenPoints | None:
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
    points = _Points(given, faults)
    read = _read_table(part(real), points, stated) if _is_table(real) else _read_vector(folder, points, stated)
    points.tell()
    return read


def _is_table(real: Path) -> bool:
    """Whether a file is text in columns, by its first bytes and its name."""
    with real.open("rb") as stream:
        head = stream.read(64).removeprefix(b"\xef\xbb\xbf").lstrip()
    return real.suffix.lower() not in _VECTOR_ENDS and not head.startswith(_VECTOR_HEADS)


@dataclass(slots=True)
class _Points:
    """The good points so far, and the faults of single ones, of which the first are told one by one."""

    given: str
    faults: Faults
    lonlat: list[tuple[float, float]] = field(default_factory=list)
    height: list[float] = field(default_factory=list)
    names: list[str] = field(default_factory=list)
    places: list[str] = field(default_factory=list)
    wrong: list[tuple[str, str]] = field(default_factory=list)

    def refuse(self, place: str, message: str) -> None:
        self.wrong.append((place, message))

    def add(self, place: str, lonlat: tuple[float, float], height_m: float, name: str) -> None:
        if not (np.isnan(height_m) or _LOWEST_M <= height_m <= _HIGHEST_M):
            self.refuse(
                place, f"a height of {height_m:.10g} m is outside the limits {_LOWEST_M:g} and {_HIGHEST_M:g} m"
            )
            return
        self.lonlat.append(lonlat)
        self.height.append(height_m)
        self.names.append(name)
        self.places.append(place)

    def tell(self) -> None:
        for place, message in self.wrong[:_MOST_TOLD]:
            self.faults.add(self.given, place, message)
        if len(self.wrong) > _MOST_TOLD:
            self.faults.add(self.given, "", f"{len(self.wrong) - _MOST_TOLD} more faults like these are not listed")

    def given_points(self, crs: CRS, parts: tuple[Part, ...]) -> GivenPoints:
        file = VectorFile(self.given, (), {}, crs, parts)
        lonlat = np.array(self.lonlat, dtype=np.float64).reshape(-1, 2)
        return GivenPoints(file, lonlat, np.array(self.height, dtype=np.float64), tuple(self.names), tuple(self.places))


class _Heights:
    """Heights in the unit of a file, brought to metres; notes whether one was met of which the unit is not known."""

    def __init__(self, ground: CRS, whole: CRS | None, stated: Stated) -> None:
        self._metres: float | None = 1.0
        self.ground_unit = ""
        if stated.height_unit is not None:
            self._metres = METRES[stated.height_unit]
        elif whole is not None and len(whole.axis_info) > 2:
            self._metres = float(whole.axis_info[2].unit_conversion_factor)
        elif ground.is_projected and abs(ground.axis_info[0].unit_conversion_factor - 1.0) > 1e-9:
            # Who measures the ground in feet may well give heights in feet.
            self._metres, self.ground_unit = None, ground.axis_info[0].unit_name
        self.unknown = False

    def metres(self, value: float, head: str = "") -> float:
        if head.lower().endswith("_m") or np.isnan(value):
            return value
        if self._metres is None:
            self.unknown = True
            return np.nan
        return value * self._metres

    def tell(self, given: str, faults: Faults) -> None:
        if self.unknown:
            sentence = (
                f"the ground is measured in feet ({self.ground_unit}) and the heights name no unit; "
                'set posts.points_height_unit to "m", "ft", "us-ft" or "ind-ft"'
            )
            faults.add(given, "", sentence)


def _read_vector(folder: Path, points: _Points, stated: Stated) -> GivenPoints | None:
    given, faults = points.given, points.faults
    several = "keep the points in a file of one layer"
    read = read_shapes(folder / given, given, faults, wanted=_POINTS, several=several)
    if read is None:
        return None
    crs = read.file.crs
    if stated.crs is not None:
        sentence = f"it is for tables; {given} names its own CRS ({crs.name}); take the setting out"
        faults.add(stated.config, "posts.points_crs", sentence)
    measured = any(np.nan_to_num(found.z).any() for found in read.found)
    heights = _Heights(crs, read.whole_crs, stated)
    for found in read.found:
        name = _text(_named(found.attributes, "name")[1])
        place = feature_place(found.number, name)
        head, value = _named(found.attributes, "height")
        own = _number(_text(value)) if _text(value) else np.nan
        if isinstance(own, str):
            points.refuse(place, f"{head}: {own}")
            continue
        for lonlat, z in zip(shapely.get_coordinates(found.shape).tolist(), found.z.tolist(), strict=True):
            third = heights.metres(z) if measured and np.isnan(own) else np.nan
            points.add(place, (lonlat[0], lonlat[1]), third if np.isnan(own) else heights.metres(own, head), name)
    heights.tell(given, faults)
    return points.given_points(crs, read.file.parts)


def _named(attributes: Mapping[str, object], role: str) -> tuple[str, object]:
    """Return the first attribute that has a value among those that may carry a role: its name and value."""
    by_name = {name.lower(): (name, value) for name, value in attributes.items() if _text(value)}
    return next((by_name[head] for head in _HEADS[role] if head in by_name), ("", None))


def _text(value: object) -> str:
    """Return the text of an attribute on one line; empty where there is none."""
    if value is None or isinstance(value, bool | dict | list):
        return ""
    if isinstance(value, float) and value.is_integer():
        value = int(value)  # some formats keep every number as a float
    return "".join(c for c in str(value).strip() if c.isprintable())


def _number(text: str) -> float | str:
    """Return the number that a text is, or the sentence that says why it is none."""
    if _NUMBER.fullmatch(text):
        return float(text)
    if not text:
        return "it is empty"
    if _DECIMAL_COMMA.fullmatch(text):
        return f'"{text[:40]}" has a decimal comma; a decimal point is wanted'
    return f'"{text[:40]}" is no number'


def _read_table(table: Part, points: _Points, stated: Stated) -> GivenPoints | None:
    text = _decoded(table.path, points)
    rows = _rows(text, points) if text is not None else []
    if not rows:
        return None
    (number, header), *body = rows
    columns = _columns(header, f"line {number}", points)
    known = None if columns is None else _crs_of_table(header, columns, points, stated)
    if columns is None or known is None:
        return None
    if not body:
        points.refuse("", "there are no points below the header")
    whole, crs = known
    heights = _Heights(crs, whole, stated)
    pair = ("lon", "lat") if crs.is_geographic and {"lon", "lat"} <= set(columns) else ("E", "N")
    good: list[tuple[str, float, float, float, str]] = []
    for line, cells in body:
        place = f"line {line}"
        if len(cells) > len(header) and any(cells[len(header) :]):
            points.refuse(place, f"it has {len(cells)} values, where the header has {len(header)}")
            continue
        told = dict(
            zip(columns, (cells[index] if index < len(cells) else "" for index in columns.values()), strict=True)
        )
        head = header[columns["height"]] if "height" in columns else ""
        x, y = (_number(told[role]) for role in pair)
        z = _number(told["height"]) if told.get("height") else np.nan
        wrong = [
            (header[columns[role]], value)
            for role, value in zip((*pair, "height"), (x, y, z), strict=True)
            if isinstance(value, str)
        ]
        for name, sentence in wrong:
            points.refuse(f"{place}, {name}", sentence)
        if not isinstance(x, str) and not isinstance(y, str) and not isinstance(z, str):
            good.append((place, x, y, heights.metres(z, head), _text(told.get("name"))))
    _place_on_earth(good, crs, points)
    heights.tell(points.given, points.faults)
    return points.given_points(crs, (table,))


def _place_on_earth(good: Sequence[tuple[str, float, float, float, str]], crs: CRS, points: _Points) -> None:
    """Take the rows of a table as points in longitude and latitude; refuse those that have no place on earth."""
    xy = np.array([row[1:3] for row in good], dtype=np.float64).reshape(-1, 2)
    transformer = to_lonlat(crs)
    lonlat = xy if transformer is None else np.column_stack(transformer.transform(xy[:, 0], xy[:, 1]))
    for (place, x, y, height, name), (lon, lat) in zip(good, lonlat.tolist(), strict=True):
        if crs.is_geographic and (abs(x) > 180.0 or abs(y) > 90.0):
            limits = "(limits 180 and 90 degrees)"
            points.refuse(place, f"{x:.10g}, {y:.10g} is no longitude and latitude {limits}{_why_wild(x, y)}")
        elif not np.isfinite([lon, lat]).all():
            points.refuse(place, f"{x:.10g}, {y:.10g} lies where {crs.name} has no place on earth")
        else:
            points.add(place, (lon, lat), height, name)


def _why_wild(x: float, y: float) -> str:
    if abs(x) <= 90.0 and abs(y) <= 180.0:
        return "; they look swapped"
    metres = "; they look like projected metres or feet: call the columns E and N and set posts.points_crs"
    return metres if max(abs(x), abs(y)) > 1000.0 else ""


def _rows(text: str, points: _Points) -> list[tuple[int, list[str]]]:
    """Return the lines of a table that hold anything, each with its number and values; none, with a fault, of bad CSV.

    Of comma, semicolon and tab the one parts the values that makes the most known columns of the header.
    """
    first = next((line for line in text.splitlines() if line.strip()), "")
    if not first:
        points.refuse("", "the file holds nothing but blank lines")
        return []
    delimiter = max(_DELIMITERS, key=lambda sign: len(_roles(next(csv.reader([first], delimiter=sign)))))
    lines = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    rows: list[tuple[int, list[str]]] = []
    try:
        for cells in lines:
            stripped = [cell.strip() for cell in cells]
            if any(stripped):
                rows.append((lines.line_num, stripped))
    except csv.Error as error:
        points.refuse(f"line {lines.line_num}", f"not valid CSV: {error}")
        return []
    return rows


def _roles(header: Sequence[str]) -> dict[str, list[int]]:
    """Return for each role the columns whose heads may carry it, the likelier head first."""
    heads = [cell.strip().lower() for cell in header]
    found = {role: [heads.index(head) for head in known if head in heads] for role, known in _HEADS.items()}
    return {role: places for role, places in found.items() if places}


def _columns(header: Sequence[str], place: str, points: _Points) -> dict[str, int] | None:
    """Return the column of each role that is there; None, after a fault, where the header will not do."""
    lower = [cell.lower() for cell in header]
    twice = sorted({cell for cell in lower if cell and lower.count(cell) > 1})
    if twice:
        points.refuse(place, f"the header has the column {twice[0]} more than once")
        return None
    roles = _roles(header)
    if not ({"lon", "lat"} <= set(roles) or {"E", "N"} <= set(roles)):
        if all(_NUMBER.fullmatch(cell) for cell in header if cell):
            points.refuse(place, "there is no header; the first line must name the columns: lon and lat, or E and N")
        else:
            points.refuse(place, f"the columns are {', '.join(header)[:100]}; wanted are lon and lat, or E and N")
        return None
    for role, columns in roles.items():
        if role != "name" and len(columns) > 1:
            names = " and ".join(header[index] for index in columns)
            points.refuse(place, f"the columns {names} mean the same ({role}); keep one")
            return None
    return {role: columns[0] for role, columns in roles.items()}


def _crs_of_table(
    header: Sequence[str], columns: Mapping[str, int], points: _Points, stated: Stated
) -> tuple[CRS, CRS] | None:
    """Return the CRS of a table's numbers, with its vertical part and without; None, after a fault, without one."""
    degrees = "lon" in columns and "lat" in columns
    if stated.crs is None:
        if degrees:
            return WGS84, WGS84
        names = f"{header[columns['E']]} and {header[columns['N']]}"
        sentence = f"{points.given} has the columns {names}; name their CRS, such as EPSG:32629"
        points.faults.add(stated.config, "posts.points_crs", sentence)
        return None
    try:
        whole = CRS.from_user_input(stated.crs)
        crs = horizontal_crs(whole.to_wkt())
    except ProjError:
        crs = None
    if crs is None:
        sentence = f'"{stated.crs}" names no known CRS that is tied to the earth; wanted is one such as EPSG:32629'
        points.faults.add(stated.config, "posts.points_crs", sentence)
        return None
    if crs.is_projected and not ("E" in columns and "N" in columns):
        names = f"{header[columns['lon']]} and {header[columns['lat']]}"
        sentence = (
            f'"{stated.crs}" ({crs.name}) is a projected CRS, but {points.given} has the columns {names}, in degrees; '
            "take the setting out"
        )
        points.faults.add(stated.config, "posts.points_crs", sentence)
        return None
    return whole, crs


def _decoded(real: Path, points: _Points) -> str | None:
    """Return the text of a table; None, with a fault, where it is no UTF-8 text."""
    raw = real.read_bytes()
    if raw.startswith((b"\xff\xfe", b"\xfe\xff")) or b"\0" in raw:
        points.refuse("", "this is no UTF-8 text; save the table as CSV in UTF-8")
        return None
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        points.refuse(f"line {line}", "this is no UTF-8 text; save the table as CSV in UTF-8")
        return None
