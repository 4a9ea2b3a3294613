"""A sheet of the workbook: typed cells, looks with a meaning, and paper."""

from collections.abc import Sequence
from dataclasses import dataclass
from textwrap import wrap
from typing import Any, Final, Literal

from xlsxwriter import Workbook
from xlsxwriter.format import Format
from xlsxwriter.utility import xl_rowcol_to_cell
from xlsxwriter.worksheet import Worksheet

from wirerun.terms import Terms, in_terms
from wirerun.write.gis.text import clean

Look = Literal[
    "title",
    "note",
    "bold",
    "head",
    "number head",
    "group",
    "text",
    "whole",
    "number",
    "money",
    "price",
    "sum",
    "whole sum",
    "fill",
]
_A4: Final = 9
_MARGIN_IN: Final = 0.4
_LINE_HEIGHT: Final = 13.0  # of a line of letters, 10 points high
_LETTERS: Final = 1.05  # that fit where a width says 1: it is the width of a figure
_GREY, _YELLOW = "#E4E4E4", "#FFF3B8"
_HEAD: Final = {"bold": True, "bg_color": _GREY, "bottom": 2, "valign": "top", "text_wrap": True}
_LISTED: Final = {"valign": "top", "bottom": 7}
_SUM: Final = {"bold": True, "top": 1, "align": "right"}
_LOOKS: Final[dict[Look, dict[str, Any]]] = {
    "title": {"bold": True, "font_size": 14},
    "head": _HEAD | {"align": "left", "indent": 1},
    "number head": _HEAD | {"align": "right"},
    "group": {"bold": True, "top": 1, "quote_prefix": True},
    "note": {"quote_prefix": True},
    "bold": {"bold": True, "quote_prefix": True},
    "text": _LISTED | {"text_wrap": True, "align": "left", "indent": 1, "quote_prefix": True},
    "whole": _LISTED | {"num_format": "#,##0"},
    "number": _LISTED | {"num_format": "#,##0.00"},
    "money": _LISTED | {"num_format": "#,##0.00", "align": "right"},
    "price": _LISTED | {"num_format": "#,##0.00##"},
    "sum": _SUM | {"num_format": "#,##0.00"},
    "whole sum": _SUM | {"num_format": "#,##0"},
    # A frame as well as a colour: it shows on a black-and-white print.
    "fill": {"bg_color": _YELLOW, "border": 1, "valign": "top"},
}
_SENTENCES: Final = ("note", "bold", "head", "number head")


@dataclass(frozen=True, slots=True)
class Head:
    """A column: its head, how wide it is [characters], and whether it stands over numbers."""

    label: str
    width: float
    numbers: bool = False


def looks_of(book: Workbook) -> dict[Look, Format]:
    """Return the looks of cells; one set for a workbook."""
    return {name: book.add_format({"font_name": "Arial", "font_size": 10, **look}) for name, look in _LOOKS.items()}


class Sheet:
    """One sheet, filled from the top; rows and columns are counted from 0, addresses are those of the sheet.

    Parameters
    ----------
    book : Workbook
        Gets the sheet.
    looks : dict
        As `looks_of` gives them.
    name : str
        On its tab.
    heads : sequence of Head
        Its columns.
    terms : Terms
        In whose words heads and sentences are; what stands in a list comes from a catalogue or a table.
    """

    def __init__(
        self, book: Workbook, looks: dict[Look, Format], name: str, heads: Sequence[Head], terms: Terms
    ) -> None:
        self.name, self.row, self._lines = name, 0, 1
        self._sheet: Worksheet = book.add_worksheet(name)
        self._looks, self._heads, self.terms = looks, heads, terms
        for column, head in enumerate(heads):
            self._sheet.set_column(column, column, head.width)

    def line(self, text: str, look: Look = "note") -> None:
        """Write a line of text that runs over all columns."""
        self.line_from(0, text, look)

    def line_from(self, column: int, text: str, look: Look = "note") -> None:
        """Write text that runs over a column and those after it, and go on to the next row."""
        self.text(column, text, look)
        self.next()

    def head(self, *, repeat: bool = True) -> None:
        """Write the heads of the columns; where they are to repeat, on every page and when the sheet is scrolled."""
        for column, head in enumerate(self._heads):
            self.text(column, head.label, "number head" if head.numbers else "head")
        if repeat:
            self._sheet.repeat_rows(self.row)
            self._sheet.freeze_panes(self.row + 1, 1)
        self.next()

    def next(self, lines: int = 1) -> None:
        """Go on to a lower row; this one gets as high as its text needs, which not every program sees to."""
        if self._lines > 1:
            self._sheet.set_row(self.row, _LINE_HEIGHT * self._lines)
        self.row, self._lines = self.row + lines, 1

    def text(self, column: int, text: object, look: Look = "text") -> None:
        """Write text: whatever it starts with, it stays text. What is no text leaves the cell empty."""
        if isinstance(text, str):
            text = in_terms(text, self.terms) if look in _SENTENCES else text
            self._sheet.write_string(self.row, column, clean(text), self._looks[look])
            if look in ("text", "head", "number head"):
                self._lines = max(self._lines, len(wrap(text, int(_LETTERS * self._heads[column].width))))

    def begin(self) -> None:
        """Begin a line of a list: its empty cells look as the others."""
        for column in range(len(self._heads)):
            self._sheet.write_blank(self.row, column, None, self._looks["text"])

    def number(self, column: int, value: float, look: Look = "whole") -> None:
        """Write a number; NaN leaves the cell empty."""
        if value == value:  # noqa: PLR0124 - NaN is not
            self._sheet.write_number(self.row, column, float(value), self._looks[look])

    def formula(self, column: int, formula: str, value: float | str, look: Look = "money") -> None:
        """Write a formula, and what it comes to, for programs that do not reckon."""
        self._sheet.write_formula(self.row, column, formula, self._looks[look], value)

    def total(self, column: int, first: int, value: float, look: Look = "sum") -> None:
        """Write the sum of a column from a row on, down to the row above this one."""
        adding = f"SUM({self.rows(column, first, self.row - 1)})" if self.row > first else "0"
        self.formula(column, f"={adding}", value, look)

    def fill_in(self, column: int, *, least: float = 0.0, whole: bool = False, known: float | None = None) -> None:
        """Leave a cell for a number to be filled in, or changed; anything but a number from `least` on is refused."""
        if known is None:
            self._sheet.write_blank(self.row, column, None, self._looks["fill"])
        else:
            self._sheet.write_number(self.row, column, known, self._looks["fill"])
        rule = {"validate": "integer" if whole else "decimal", "criteria": ">=", "value": least}
        told = {"error_title": "A number, please", "error_message": f"A number of {least:g} or more, without a unit."}
        self._sheet.data_validation(self.row, column, self.row, column, rule | told)

    def tick(self, column: int) -> None:
        """Leave a cell for a mark."""
        self._sheet.write_blank(self.row, column, None, self._looks["fill"])

    def at(self, column: int, row: int | None = None) -> str:
        """Return the address of a cell, of this row unless told otherwise."""
        return str(xl_rowcol_to_cell(self.row if row is None else row, column))

    def rows(self, column: int, first: int, last: int, *, outside: bool = False) -> str:
        """Return the address of cells of a column; for a formula on another sheet with the name of this one."""
        start, end = (xl_rowcol_to_cell(row, column, row_abs=outside, col_abs=outside) for row in (first, last))
        return f"{self.name}!{start}:{end}" if outside else f"{start}:{end}"

    def paper(self, footer: str) -> None:
        """Set the sheet up to print: A4 across, as wide as the page, as long as it is."""
        sheet = self._sheet
        sheet.set_paper(_A4)
        sheet.set_landscape()
        sheet.fit_to_pages(1, 0)
        sheet.set_margins(_MARGIN_IN, _MARGIN_IN, _MARGIN_IN, 2 * _MARGIN_IN)
        # An ampersand is a sign of the footer's own.
        sheet.set_footer(f"&L{footer.replace('&', '&&')}&C&A&Rpage &P of &N")
        sheet.print_area(0, 0, max(self.row - 1, 0), len(self._heads) - 1)
