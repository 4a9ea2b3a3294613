"""Surveyed posts as they are read, from a table or a vector file: the good ones, and the faults of the others."""

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final, NamedTuple

import numpy as np
from pyproj import CRS

from wirerun.arrays import FloatArray
from wirerun.errors import Faults
from wirerun.read.height_unit import METRES, Unit
from wirerun.read.plain_file import Part
from wirerun.read.vector import VectorFile

# How the columns may be headed, in small letters. A height whose name ends in _m is in metres whatever else is said.
HEADS: Final[Mapping[str, tuple[str, ...]]] = {
    "lon": ("lon", "long", "longitude", "lng"),
    "lat": ("lat", "latitude"),
    "E": ("e", "east", "easting", "x"),
    "N": ("n", "north", "northing", "y"),
    "height": ("height", "height_m", "ground_m", "z", "h", "elevation", "elev"),
    "out": ("height_out_m", "height_out"),
    "name": ("post_id", "id", "name", "point_id", "point", "post", "label"),
}
NUMBER: Final = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)(e[+-]?\d+)?", re.IGNORECASE | re.ASCII)
_DECIMAL_COMMA: Final = re.compile(r"[+-]?\d*,\d+", re.ASCII)
# Choice: wide of all land, narrow enough for a no-data number or a wrong unit; the same as for rasters.
_LOWEST_M, _HIGHEST_M = -1000.0, 10_000.0
# Choice: what a post can be out of the ground, as in the settings.
_LOWEST_OUT_M, _HIGHEST_OUT_M = 0.3, 6.0
_MOST_TOLD: Final = 20  # choice: a wrong column makes every line wrong, and nobody reads more


@dataclass(frozen=True, slots=True)
class GivenPoints:
    """Surveyed points as read, in the order of the file.

    `lonlat` has shape (n, 2) [deg]; `height_m` shape (n,), NaN where none was measured. `names` are the points' own
    names, empty where they have none; `places` how a sentence names each: "line 7", "feature 3 (P12)". `file` has what
    the record of a plan needs: the path as given, the CRS and the files it consists of; no polygons.
    `out_m`, shape (n,), is how far each post stands out of the ground, NaN where that was not measured; `said` what the
    file says beside: by column or attribute the value of each, empty where there is none.
    """

    file: VectorFile
    lonlat: FloatArray
    height_m: FloatArray
    names: tuple[str, ...]
    places: tuple[str, ...]
    out_m: FloatArray
    said: Mapping[str, list[str]]


@dataclass(frozen=True, slots=True)
class Stated:
    """What the config says of a file of points: the CRS of its numbers and the unit of its heights.

    `config` is the config file, for faults of these settings, and `setting` the one that names the file. The CRS is for
    tables only, vector files have their own.
    """

    crs: str | None = None
    height_unit: Unit | None = None
    config: str = "config"
    setting: str = "posts.points"


class Told(NamedTuple):
    """What a file says of a point beside its place: name, how far it is out of the ground [m], and all else by head."""

    name: str
    out_m: float
    heads: tuple[str, ...]
    cells: tuple[str, ...]


@dataclass(slots=True)
class Points:
    """The good points so far, and the faults of single ones, of which the first are told one by one."""

    given: str
    faults: Faults
    lonlat: list[tuple[float, float]] = field(default_factory=list)
    height: list[float] = field(default_factory=list)
    names: list[str] = field(default_factory=list)
    places: list[str] = field(default_factory=list)
    out: list[float] = field(default_factory=list)
    said: dict[str, list[str]] = field(default_factory=dict)
    wrong: list[tuple[str, str]] = field(default_factory=list)
    _same: dict[str, str] = field(default_factory=dict)

    def same(self, text: str) -> str:
        """Return one text for all that are alike: some tables are long."""
        return self._same.setdefault(text, text)

    def refuse(self, place: str, message: str) -> None:
        """Keep a fault."""
        self.wrong.append((place, message))

    def add(self, place: str, lonlat: tuple[float, float], height_m: float, of: Told) -> None:
        """Keep a point, if its heights are possible ones."""
        for height, name, lowest, highest in (
            (height_m, "a height", _LOWEST_M, _HIGHEST_M),
            (of.out_m, "a height out of the ground", _LOWEST_OUT_M, _HIGHEST_OUT_M),
        ):
            if not (np.isnan(height) or lowest <= height <= highest):
                self.refuse(place, f"{name} of {height:.10g} m is outside the limits {lowest:g} and {highest:g} m")
                return
        for head, text in zip(of.heads, of.cells, strict=False):
            column = self.said.setdefault(head, [])
            column += [""] * (len(self.names) - len(column))
            column.append(text)
        self.lonlat.append(lonlat)
        self.height.append(height_m)
        self.out.append(of.out_m)
        self.names.append(of.name)
        self.places.append(place)

    def tell(self) -> None:
        """Tell the first faults one by one, and how many more there are."""
        for place, message in self.wrong[:_MOST_TOLD]:
            self.faults.add(self.given, place, message)
        if len(self.wrong) > _MOST_TOLD:
            self.faults.add(self.given, "", f"{len(self.wrong) - _MOST_TOLD} more faults like these are not listed")

    def given_points(self, crs: CRS, parts: tuple[Part, ...]) -> GivenPoints:
        """Return the good points of a file."""
        file = VectorFile(self.given, (), {}, crs, parts)
        lonlat = np.array(self.lonlat, dtype=np.float64).reshape(-1, 2)
        height, out = (np.array(each, dtype=np.float64) for each in (self.height, self.out))
        said = {head: column + [""] * (len(self.names) - len(column)) for head, column in self.said.items() if head}
        return GivenPoints(file, lonlat, height, tuple(self.names), tuple(self.places), out, said)


class Heights:
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
        self.unknown, self._setting = False, stated.setting

    def metres(self, value: float, head: str = "") -> float:
        """Return a height of a column in metres; NaN where its unit is not known."""
        if head.lower().endswith("_m") or np.isnan(value):
            return value
        if self._metres is None:
            self.unknown = True
            return np.nan
        return value * self._metres

    def tell(self, given: str, faults: Faults) -> None:
        """Tell that the unit is not known, if it mattered."""
        if self.unknown:
            sentence = (
                f"the ground is measured in feet ({self.ground_unit}) and the heights name no unit; "
                f'set {self._setting}_height_unit to "m", "ft", "us-ft" or "ind-ft"'
            )
            faults.add(given, "", sentence)


def text_of(value: object) -> str:
    """Return the text of an attribute on one line; empty where there is none."""
    if value is None or isinstance(value, bool | dict | list):
        return ""
    if isinstance(value, float) and value.is_integer():
        value = int(value)  # some formats keep every number as a float
    text = str(value).strip()
    return text if text.isprintable() else "".join(c for c in text if c.isprintable())


def number_of(text: str) -> float | str:
    """Return the number that a text is, or the sentence that says why it is none."""
    if NUMBER.fullmatch(text):
        return float(text)
    if not text:
        return "it is empty"
    if _DECIMAL_COMMA.fullmatch(text):
        return f'"{text[:40]}" has a decimal comma; a decimal point is wanted'
    return f'"{text[:40]}" is no number'
