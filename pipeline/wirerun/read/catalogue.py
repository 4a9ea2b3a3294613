"""The catalogue: seven CSV files and three at will, every cell checked, every fault of every file told at once."""

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from difflib import get_close_matches
from pathlib import Path, PurePath
from typing import Any, Final, TypeVar

from pydantic import ValidationError
from pydantic_core import ErrorDetails

from wirerun.errors import Faults
from wirerun.read.csv_text import table_lines, table_text
from wirerun.read.plain_file import part, plain_file, source
from wirerun.read.setting_faults import PATTERNS, shown
from wirerun.records import Source
from wirerun.settings import Catalogue
from wirerun.settings.catalogue import FILES, MAY_LACK
from wirerun.settings.fixing_item import FixingItem
from wirerun.settings.section import TextRow

#: How the default catalogue is called in faults and in the record of a run: its place on this machine says nothing.
DEFAULT_NAME: Final = "catalogue of the program"

_Row = TypeVar("_Row", bound=TextRow)

_PACKAGE: Final = Path(__file__).parents[1]
_MOST_TOLD: Final = 20  # choice: a wrong column makes every line wrong, and nobody reads more
_DAY: Final = re.compile(r"\d{4}-\d{2}-\d{2}", re.ASCII)
_NUMBER: Final = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)(e[+-]?\d+)?", re.IGNORECASE | re.ASCII)
_COMMA: Final = re.compile(r"[+-]?\d[\d.' ]*,[\d.,]+", re.ASCII)
_WITH_UNIT: Final = re.compile(r"([+-]?[\d.,]+)\s*([^\d\s.,].*)", re.ASCII)
_WANTED: Final[Mapping[str, str]] = {
    "finite_number": "a finite number is wanted",
    "int_from_float": "a whole number is wanted",
    "bool_parsing": "yes or no is wanted",
    "date_from_datetime_parsing": "there is no such day",
}


def read_catalogue(given: str | None, folder: Path, faults: Faults) -> tuple[Catalogue, tuple[Source, ...]]:
    """Rows of all files of a catalogue in file order, and the fingerprints of the files.

    A row with a fault is left out, and told; so is a file that will not do. The caller stops where there are faults.

    Parameters
    ----------
    given : str or None
        The folder as the user gave it; None for the catalogue that comes with the program.
    folder : Path
        Where relative paths start.
    faults : Faults
        Gets the faults.

    Returns
    -------
    catalogue : Catalogue
        The good rows.
    sources : tuple of Source
        Of every file that could be read, with the role "catalogue".
    """
    name, place = (DEFAULT_NAME, default_folder()) if given is None else (given, folder / given)
    rows: dict[str, tuple[TextRow, ...]] = {}
    sources: list[Source] = []
    if _is_folder(place, name, faults):
        for stem, kind in FILES.items():
            file = f"{stem}.csv"
            if stem in MAY_LACK and not (place / file).exists():
                continue
            called = (PurePath(name) / file).as_posix()
            real = plain_file(place / file, called, faults)
            if real is not None:
                parts = [part(real)]
                rows[stem] = _Table(called, kind, faults).read(real)
                sources.append(source("catalogue", called, parts, faults))
    checked: dict[str, Any] = rows
    return Catalogue(**checked, folder=name), tuple(sources)


def read_rows(real: Path, called: str, kind: type[TextRow], faults: Faults) -> tuple[TextRow, ...]:
    """Return the good rows of a table that is written as a catalogue's files are; `called` is its name in faults."""
    return _Table(called, kind, faults).read(real)


def read_numbered(real: Path, called: str, kind: type[_Row], faults: Faults) -> tuple[tuple[int, _Row], ...]:
    """Return the same rows, each with the line it stands in; an empty table is a fault."""
    table, before = _Table(called, kind, faults), len(faults.found)
    rows = table.read(real)
    if not rows and len(faults.found) == before:
        faults.add(called, "", "there is no row below the header")
    return tuple(zip(table.lines, (row for row in rows if isinstance(row, kind)), strict=True))


def default_folder() -> Path:
    """Return the folder of the catalogue that comes with the program.

    An installed package carries it; in a checkout it lies among the configs, and there only.
    """
    carried = _PACKAGE / "default_catalogue"
    return carried if carried.is_dir() else _PACKAGE.parents[1] / "configs" / "catalogue"


def _is_folder(place: Path, given: str, faults: Faults) -> bool:
    try:
        there, folder = place.exists(), place.is_dir()
    except (OSError, ValueError) as error:
        faults.add(given, "", f"the path cannot be followed: {getattr(error, 'strerror', None) or error}")
        return False
    if not there:
        faults.add(given, "", f"there is no such folder; looked for {place}")
    elif not folder:
        wanted = ", ".join(f"{stem}.csv" for stem in FILES if stem not in MAY_LACK)
        faults.add(given, "", f"this is a file; a folder with {wanted} is wanted")
    return folder


@dataclass(slots=True)
class _Table:
    """One file of the catalogue on its way in, its faults, the first of them told one by one, and its good lines."""

    given: str
    kind: type[TextRow]
    faults: Faults
    wrong: list[tuple[str, str]] = field(default_factory=list)
    lines: list[int] = field(default_factory=list)

    def read(self, real: Path) -> tuple[TextRow, ...]:
        """Return the good rows of the file."""
        text = table_text(real, "catalogue", self._refuse)
        good = self._good_rows(text) if text is not None else []
        for place, sentence in self.wrong[:_MOST_TOLD]:
            self.faults.add(self.given, place, sentence)
        if len(self.wrong) > _MOST_TOLD:
            self.faults.add(self.given, "", f"{len(self.wrong) - _MOST_TOLD} more faults like these are not listed")
        return tuple(good)

    def _refuse(self, place: str, sentence: str) -> None:
        self.wrong.append((place, sentence))

    def _good_rows(self, text: str) -> list[TextRow]:
        lines = table_lines(text, self._refuse)
        first, header = next(lines, (0, []))
        while header and not header[-1]:
            header.pop()
        if not header:
            if not self.wrong:
                self._refuse("", "the file holds nothing but blank lines; its first line must name the columns")
            return []
        columns = self._columns(f"line {first}", header)
        if columns is None:
            return []
        good: list[TextRow] = []
        lines_of: dict[str, int] = {}
        bought: dict[str, tuple[int, FixingItem]] = {}
        for number, cells in lines:
            place = f"line {number}"
            if any(cells[len(header) :]):
                sentence = f"it has {len(cells)} cells, where the header has {len(header)}"
                self._refuse(place, f"{sentence}; a cell with a comma in it must be in quotes")
                continue
            told = {name: cells[at] if at < len(cells) else "" for name, at in columns.items()}
            row = self._row(place, told)
            self._first_of_its_id(number, told.get("id", ""), lines_of)
            if isinstance(row, FixingItem) and row.fastener:
                self._same_fastener(number, row, bought)
            if row is not None:
                good.append(row)
                self.lines.append(number)
        self._sold_here(good, lines_of)
        return good

    def _columns(self, place: str, header: list[str]) -> dict[str, int] | None:
        """Return the place of each known column; None, after a fault, where cells are not parted by commas.

        Columns that are unknown, missing or there twice are told, and the rows are still checked as far as may be.
        """
        known = self.kind.model_fields
        for sign, called in ((";", "semicolons"), ("\t", "tabs")):
            if len(header) == 1 and sign in header[0]:
                self._refuse(place, f"the cells are parted by {called}; save it with commas, and with decimal points")
                return None
        columns: dict[str, int] = {}
        for at, name in enumerate(header):
            if name in columns:
                self._refuse(place, f"the column {name} is there more than once")
            elif name in known:
                columns[name] = at
            elif name:
                near = get_close_matches(name.lower(), known, n=1)
                meant = f"did you mean {near[0]}?" if near else f"known are {', '.join(known)}"
                self._refuse(place, f"unknown column {shown(name)}; {meant}")
            else:
                self._refuse(place, f"column {at + 1} has no name")
        for name, about in known.items():
            if about.is_required() and name not in columns:
                self._refuse(place, f"the column {name} is missing")
        return columns

    def _row(self, place: str, told: Mapping[str, str]) -> TextRow | None:
        """Return the row of one line; None, with a fault per cell, where one will not do."""
        # An empty cell is none: it takes the default, or is missing.
        cells = {name: cell for name, cell in told.items() if cell}
        odd = [name for name, cell in cells.items() if not cell.isprintable()]
        for name in odd:
            self._refuse(
                f"{place}, {name}", f"{shown(cells[name])} has a line break, tab or other sign that is no text"
            )
        day = cells.get("date", "")
        if day and "date" not in odd and not _DAY.fullmatch(day):
            self._refuse(f"{place}, date", f"{shown(day)} is no date; wanted is one such as 2026-11-25")
            odd.append("date")
        try:
            row = self.kind.model_validate(cells)
        except ValidationError as error:
            for detail in error.errors(include_url=False):
                name = str(detail["loc"][0])
                # A column that is missing was told of once.
                if name not in odd and (name in told or detail["type"] != "missing"):
                    self._refuse(f"{place}, {name}", _sentence(detail))
            return None
        return None if odd else row

    def _first_of_its_id(self, number: int, name: str, lines_of: dict[str, int]) -> None:
        first = lines_of.setdefault(name, number) if name else number
        if first != number:
            self._refuse(f"line {number}, id", f"{shown(name)} is there already, in line {first}; an id may stand once")

    def _sold_here(self, good: Iterable[TextRow], lines_of: Mapping[str, int]) -> None:
        """Tell of fixings that are sold as what the file does not have, or as what is itself sold as another."""
        items = {row.id: row for row in good if isinstance(row, FixingItem)}
        for row in items.values():
            other = items.get(row.sold_as)
            if row.sold_as and row.sold_as not in lines_of:
                self._refuse(f"line {lines_of[row.id]}, sold_as", f"{shown(row.sold_as)} is not in this file")
            elif other is not None and (other.sold_as or other.price != row.price):
                sentence = f"{shown(row.sold_as)} must have the same price and no sold_as of its own"
                self._refuse(f"line {lines_of[row.id]}, sold_as", sentence)

    def _same_fastener(self, number: int, row: FixingItem, bought: dict[str, tuple[int, FixingItem]]) -> None:
        """Tell of a fastener that is not in all lines the same: it is ordered once, at one price."""
        first, other = bought.setdefault(row.fastener, (number, row))
        for name in ("fastener_price", "fastener_pack", "fastener_kind", "shank", "fastener_diameter_mm"):
            here, there = getattr(row, name), getattr(other, name)
            if here != there:
                sentence = f"{shown(row.fastener)} has {_said(here)} here and {_said(there)} in line {first}"
                self._refuse(f"line {number}, {name}", f"{sentence}; another fastener needs another name")


def _sentence(detail: ErrorDetails) -> str:
    """Return what is wrong with one cell."""
    kind, value, context = detail["type"], detail["input"], detail.get("ctx", {})
    if kind == "value_error":
        return str(context["error"])
    if kind == "missing":
        return "the cell is empty; it is required"
    if kind in ("float_parsing", "int_parsing"):
        return _no_number(str(value))
    if kind == "string_pattern_mismatch":
        wanted = f"wanted are {PATTERNS.get(context['pattern'], context['pattern'])}"
    elif kind in _WANTED:
        wanted = _WANTED[kind]
    else:
        # Limits and choices, whose own words are plain.
        wanted = detail["msg"].replace("Input should be", "it must be").replace("String should have", "it must have")
    return f"{shown(value)} will not do; {wanted}"


def _no_number(text: str) -> str:
    unit = _WITH_UNIT.fullmatch(text)
    if _COMMA.fullmatch(text):
        return f"{shown(text)} has a comma; numbers take a decimal point and nothing between thousands"
    if unit:
        return f"{shown(text)} has {shown(unit[2])} after the number; write the number alone, in the column's unit"
    return f"{shown(text)} is no {'whole ' if _NUMBER.fullmatch(text) else ''}number"


def _said(value: object) -> str:
    return "no value" if value is None else shown(value)
