"""Surveyed posts in a table: text in columns, headed as people head them."""

import csv
import io
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Final, NamedTuple

import numpy as np
from pyproj import CRS
from pyproj.exceptions import ProjError

from wirerun.read.crs import WGS84, horizontal_crs, to_lonlat
from wirerun.read.plain_file import Part
from wirerun.read.point_list import HEADS, NUMBER, GivenPoints, Heights, Points, Stated, Told, number_of, text_of

_DELIMITERS: Final = (",", ";", "\t")


class _Row(NamedTuple):
    """A good line: where it is, its place in the CRS of the table, its height [m], what else it says."""

    place: str
    xy: tuple[float, float]
    height_m: float
    of: Told


def read_table(table: Part, points: Points, stated: Stated) -> GivenPoints | None:
    """Points of a table; None where the file as a whole will not do."""
    raw = _utf8(table.path, points)
    lines = iter(()) if raw is None else _lines(raw, points)
    number, header = next(lines, (0, []))
    if not header:
        return None
    columns = _columns(header, f"line {number}", points)
    known = None if columns is None else _crs_of_table(header, columns, points, stated)
    if columns is None or known is None:
        return None
    whole, crs = known
    heights = Heights(crs, whole, stated)
    pair = ("lon", "lat") if crs.is_geographic and {"lon", "lat"} <= set(columns) else ("E", "N")
    good: list[_Row] = []
    heads = tuple(header)
    for line, cells in lines:
        place = f"line {line}"
        if len(cells) > len(header) and any(cells[len(header) :]):
            points.refuse(place, f"it has {len(cells)} values, where the header has {len(header)}")
            continue
        told = dict(
            zip(columns, (cells[index] if index < len(cells) else "" for index in columns.values()), strict=True)
        )
        read = {role: number_of(told[role]) for role in pair}
        read |= {role: number_of(told[role]) if told.get(role) else np.nan for role in ("height", "out")}
        numbers = {role: value for role, value in read.items() if not isinstance(value, str)}
        for role, sentence in read.items():
            if isinstance(sentence, str):
                points.refuse(f"{place}, {header[columns[role]]}", sentence)
        if len(numbers) == len(read):
            z, out = (
                heights.metres(numbers[role], header[columns[role]] if role in columns else "")
                for role in ("height", "out")
            )
            of = Told(text_of(told.get("name")), out, heads, tuple(points.same(text_of(cell)) for cell in cells))
            good.append(_Row(place, (numbers[pair[0]], numbers[pair[1]]), z, of))
    if not good and not points.wrong:
        points.refuse("", "there are no points below the header")
    _place_on_earth(good, crs, points, stated.setting)
    heights.tell(points.given, points.faults)
    return points.given_points(crs, (table,))


def _place_on_earth(good: Sequence[_Row], crs: CRS, points: Points, setting: str) -> None:
    """Take the rows of a table as points in longitude and latitude; refuse those that have no place on earth."""
    xy = np.array([row.xy for row in good], dtype=np.float64).reshape(-1, 2)
    transformer = to_lonlat(crs)
    lonlat = xy if transformer is None else np.column_stack(transformer.transform(xy[:, 0], xy[:, 1]))
    for (place, (x, y), height, of), (lon, lat) in zip(good, lonlat.tolist(), strict=True):
        if crs.is_geographic and (abs(x) > 180.0 or abs(y) > 90.0):
            limits = "(limits 180 and 90 degrees)"
            points.refuse(place, f"{x:.10g}, {y:.10g} is no longitude and latitude {limits}{_why_wild(x, y, setting)}")
        elif not np.isfinite([lon, lat]).all():
            points.refuse(place, f"{x:.10g}, {y:.10g} lies where {crs.name} has no place on earth")
        else:
            points.add(place, (lon, lat), height, of)


def _why_wild(x: float, y: float, setting: str) -> str:
    if abs(x) <= 90.0 and abs(y) <= 180.0:
        return "; they look swapped"
    metres = f"; they look like projected metres or feet: call the columns E and N and set {setting}_crs"
    return metres if max(abs(x), abs(y)) > 1000.0 else ""


def _lines(raw: bytes, points: Points) -> Iterator[tuple[int, list[str]]]:
    """Go through the lines that hold anything, each with its number and values; bad CSV is a fault and the end.

    Of comma, semicolon and tab the one parts the values that makes the most known columns of the header.
    """
    first = next((line for line in _opened(raw, None) if line.strip()), "")
    if not first:
        points.refuse("", "the file holds nothing but blank lines")
        return
    start = first[: csv.field_size_limit()]
    delimiter = max(_DELIMITERS, key=lambda sign: len(_roles(next(csv.reader([start], delimiter=sign)))))
    lines = csv.reader(_opened(raw, ""), delimiter=delimiter, strict=True)
    try:
        for cells in lines:
            stripped = [cell.strip() for cell in cells]
            if any(stripped):
                yield lines.line_num, stripped
    except csv.Error as error:
        points.refuse(f"line {lines.line_num}", f"not valid CSV: {error}")


def _roles(header: Sequence[str]) -> dict[str, list[int]]:
    """Return for each role the columns whose heads may carry it, the likelier head first."""
    heads = [cell.strip().lower() for cell in header]
    found = {role: [heads.index(head) for head in known if head in heads] for role, known in HEADS.items()}
    return {role: places for role, places in found.items() if places}


def _columns(header: Sequence[str], place: str, points: Points) -> dict[str, int] | None:
    """Return the column of each role that is there; None, after a fault, where the header will not do."""
    twice = sorted(head for head, times in Counter(cell.lower() for cell in header).items() if head and times > 1)
    if twice:
        points.refuse(place, f"the header has the column {twice[0]} more than once")
        return None
    roles = _roles(header)
    if not ({"lon", "lat"} <= set(roles) or {"E", "N"} <= set(roles)):
        if all(NUMBER.fullmatch(cell) for cell in header if cell):
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
    header: Sequence[str], columns: Mapping[str, int], points: Points, stated: Stated
) -> tuple[CRS, CRS] | None:
    """Return the CRS of a table's numbers, with its vertical part and without; None, after a fault, without one."""
    degrees = "lon" in columns and "lat" in columns
    if stated.crs is None:
        if degrees:
            return WGS84, WGS84
        names = f"{header[columns['E']]} and {header[columns['N']]}"
        sentence = f"{points.given} has the columns {names}; name their CRS, such as EPSG:32629"
        points.faults.add(stated.config, f"{stated.setting}_crs", sentence)
        return None
    try:
        whole = CRS.from_user_input(stated.crs)
        crs = horizontal_crs(whole.to_wkt())
    except ProjError:
        crs = None
    if crs is None:
        sentence = f'"{stated.crs}" names no known CRS that is tied to the earth; wanted is one such as EPSG:32629'
        points.faults.add(stated.config, f"{stated.setting}_crs", sentence)
        return None
    if crs.is_projected and not ("E" in columns and "N" in columns):
        names = f"{header[columns['lon']]} and {header[columns['lat']]}"
        sentence = (
            f'"{stated.crs}" ({crs.name}) is a projected CRS, but {points.given} has the columns {names}, in degrees; '
            "take the setting out"
        )
        points.faults.add(stated.config, f"{stated.setting}_crs", sentence)
        return None
    return whole, crs


def _opened(raw: bytes, newline: str | None) -> io.TextIOWrapper:
    return io.TextIOWrapper(io.BytesIO(raw), encoding="utf-8-sig", newline=newline)


def _utf8(real: Path, points: Points) -> bytes | None:
    """Return the bytes of a table; None, with a fault, where it is no UTF-8 text."""
    raw = real.read_bytes()
    if raw.startswith((b"\xff\xfe", b"\xfe\xff")) or b"\0" in raw:
        points.refuse("", "this is no UTF-8 text; save the table as CSV in UTF-8")
        return None
    try:
        raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        points.refuse(f"line {line}", "this is no UTF-8 text; save the table as CSV in UTF-8")
        return None
    return raw
