"""What lies in the store: a CSV of items, whole coils and part coils, as a plan or a spreadsheet writes it.

A spreadsheet of a country with decimal commas parts cells by semicolons; such a file is taken as it is.
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from difflib import get_close_matches
from pathlib import Path
from typing import Final

import numpy as np

from wirerun.arrays import words
from wirerun.errors import Faults
from wirerun.read.csv_text import table_lines, table_text
from wirerun.read.plain_file import part, plain_file, source
from wirerun.read.setting_faults import shown
from wirerun.records import Source, Stock
from wirerun.settings import Catalogue
from wirerun.settings.catalogue import tools_of

COLUMNS: Final = ("item", "quantity", "left_m", "tag")
_MOST_TOLD: Final = 20  # choice: a wrong column makes every line wrong, and nobody reads more
_MOST_PIECES: Final = 10_000_000  # choice: more than any store holds
_MOST_PARTS: Final = 500  # choice: more part coils than any store holds, and few enough to be cut in seconds
_DELIMITERS: Final = (",", ";", "\t")
_WHOLE: Final = re.compile(r"\d{1,9}", re.ASCII)
_METRES: Final = re.compile(r"\d{1,6}([.,]\d{1,6})?", re.ASCII)
_THOUSANDS: Final = re.compile(r"\d{1,3}[.,]\d{3}", re.ASCII)
# What our own tables put before text that a spreadsheet would take for a formula.
_GUARDED: Final = re.compile(r"'(?=[=+\-@])")


def read_stock(given: str, folder: Path, catalogue: Catalogue, faults: Faults) -> tuple[Stock, tuple[Source, ...]]:
    """Read what is in the store, and the fingerprint of the file.

    Lines of one item add up: a store has more than one shelf. A line with a length left is one of part coils, as many
    of that length as its quantity says; without one it counts pieces, or whole coils. What its tag says goes with it.

    Parameters
    ----------
    given : str
        The path as the user gave it.
    folder : Path
        Where relative paths start.
    catalogue : Catalogue
        Names what may be in the store, and how long its coils are.
    faults : Faults
        Gets a sentence for each fault.
    """
    real = plain_file(folder / given, given, faults)
    if real is None:
        return Stock.nothing(), ()
    parts = [part(real)]
    reading = _Reading(given, _ordered_names(catalogue), {wire.id: wire.length_m for wire in catalogue.wire})
    text = table_text(real, "list of a store", reading.refuse)
    if text is not None:
        reading.lines(text)
    for place, sentence in reading.wrong[:_MOST_TOLD]:
        faults.add(given, place, sentence)
    if len(reading.wrong) > _MOST_TOLD:
        faults.add(given, "", f"{len(reading.wrong) - _MOST_TOLD} more faults like these are not listed")
    return reading.stock(), (source("stock", given, parts, faults),)


def _ordered_names(catalogue: Catalogue) -> dict[str, str]:
    """Every name that a store may hold, and the name it is ordered by."""
    plain = (catalogue.posts, catalogue.wire, catalogue.wire_ends, catalogue.ends, catalogue.tools, catalogue.adjusters)
    names = {item.id: item.id for items in plain for item in items}
    with_tools = (catalogue.posts, catalogue.fixings, catalogue.wire_ends, catalogue.ends, catalogue.adjusters)
    cells = [item.tool for items in (*with_tools, catalogue.rates) for item in items]
    cells += [fixing.also_tool for fixing in catalogue.fixings]
    names |= {tool: tool for tool in tools_of(*cells)}
    names |= {fixing.fastener: fixing.fastener for fixing in catalogue.fixings if fixing.fastener}
    return names | {fixing.id: fixing.bought_as for fixing in catalogue.fixings}


@dataclass(slots=True)
class _Reading:
    """The good lines so far, and the faults of the others; `known` are names and what they are ordered by."""

    given: str
    known: Mapping[str, str]
    coil_m: Mapping[str, float]
    pieces: dict[str, int] = field(default_factory=dict)
    parts: list[tuple[str, int, str | None]] = field(default_factory=list)
    wrong: list[tuple[str, str]] = field(default_factory=list)

    def refuse(self, place: str, sentence: str) -> None:
        """Keep a fault."""
        self.wrong.append((place, sentence))

    def lines(self, text: str) -> None:
        """Read the lines of a text."""
        first = next((line for line in text.splitlines() if line.strip()), "")
        delimiter = max(_DELIMITERS, key=first.count)
        rows = table_lines(text, self.refuse, delimiter)
        number, header = next(rows, (1, []))
        columns = self._columns(f"line {number}", [cell.lower() for cell in header])
        if columns is None:
            return
        for number, cells in rows:
            place = f"line {number}"
            if any(cells[len(header) :]):
                sentence = f"it has {len(cells)} cells, where the header has {len(header)}"
                why = "; with commas between the cells, numbers take a decimal point" if delimiter == "," else ""
                self.refuse(place, sentence + why)
                continue
            told = {name: cells[at] if at < len(cells) else "" for name, at in columns.items()}
            self._line(place, told, commas=delimiter != ",")

    def _columns(self, place: str, header: list[str]) -> dict[str, int] | None:
        """Return the place of each column; None, with a fault each, where one is missing, unknown or there twice."""
        faults = len(self.wrong)
        while header and not header[-1]:
            header.pop()
        for name in dict.fromkeys(header):
            if header.count(name) > 1:
                self.refuse(place, f"the column {shown(name)} is there more than once")
            elif name not in COLUMNS:
                near = get_close_matches(name, COLUMNS, n=1)
                meant = f"did you mean {near[0]}?" if near else f"known are {', '.join(COLUMNS)}"
                self.refuse(place, f"unknown column {shown(name)}; {meant}")
        for name in ("item", "quantity"):
            if name not in header:
                self.refuse(place, f"the column {name} is missing")
        return {name: header.index(name) for name in COLUMNS if name in header} if len(self.wrong) == faults else None

    def _line(self, place: str, told: Mapping[str, str], *, commas: bool) -> None:
        """Take in a line; `commas`: whether a decimal comma is one."""
        item = self._item(f"{place}, item", _GUARDED.sub("", told["item"], count=1))
        pieces = self._pieces(f"{place}, quantity", told["quantity"])
        left = told.get("left_m", "")
        if not left:
            if item is not None and pieces is not None:
                self.pieces[item] = self.pieces.get(item, 0) + pieces
            return
        left_m = self._metres(f"{place}, left_m", left, item, commas=commas)
        if item is None or pieces is None or left_m is None:
            return
        if len(self.parts) + pieces > _MOST_PARTS:
            self.refuse(f"{place}, quantity", f"more than {_MOST_PARTS} part coils in all; that many are not read")
            return
        tag = _GUARDED.sub("", told.get("tag", ""), count=1) or None
        self.parts += [(item, int(np.floor(1000.0 * left_m + 1e-6)), tag)] * pieces

    def _item(self, place: str, name: str) -> str | None:
        if not name:
            self.refuse(place, "the cell is empty; it is required")
            return None
        if name not in self.known:
            near = get_close_matches(name, self.known, n=1, cutoff=0.5)
            meant = f'; did you mean "{near[0]}"?' if near else ""
            self.refuse(place, f"the catalogue has no {shown(name)}{meant}")
            return None
        return self.known[name]

    def _pieces(self, place: str, cell: str) -> int | None:
        if not _WHOLE.fullmatch(cell):
            self.refuse(place, f"{shown(cell)} will not do; a whole number from 0 on is wanted, without a sign or unit")
            return None
        if int(cell) > _MOST_PIECES:
            self.refuse(place, f"{cell} are more than any store holds; at most {_MOST_PIECES} are read")
            return None
        return int(cell)

    def _metres(self, place: str, cell: str, item: str | None, *, commas: bool) -> float | None:
        if commas and _THOUSANDS.fullmatch(cell) and "." in cell:
            self.refuse(place, f"{shown(cell)} may be metres or thousands of them; write it with a comma, or whole")
            return None
        if not _METRES.fullmatch(cell) or ("," in cell and not commas):
            self.refuse(place, f"{shown(cell)} will not do; metres from 0 on are wanted, without a sign or unit")
            return None
        left_m = float(cell.replace(",", "."))
        if item is None:
            return left_m
        coil_m = self.coil_m.get(item)
        if coil_m is None:
            self.refuse(place, f"{shown(cell)} m are for part coils of wire; {shown(item)} is counted in pieces")
            return None
        if not 0.001 <= left_m <= coil_m:
            self.refuse(place, f"{left_m:g} m are on no part coil; a whole one of {shown(item)} has {coil_m:.1f} m")
            return None
        return left_m

    def stock(self) -> Stock:
        """Return what was read."""
        return Stock(
            item=words(self.pieces),
            pieces=np.array(list(self.pieces.values()), dtype=np.int64),
            part_item=words(item for item, _, _ in self.parts),
            part_mm=np.array([mm for _, mm, _ in self.parts], dtype=np.int64),
            part_tag=words(tag for *_, tag in self.parts),
        )
