"""The schedule: one CSV per table, to buy and build from.

RFC 4180 (comma, CRLF, quotes where needed), UTF-8 with a byte order mark so that spreadsheets read accents right,
decimal point, units in the column names.
"""

import codecs
import re
from pathlib import Path
from typing import Final

import pandas as pd

from wirerun.errors import TableError
from wirerun.records import Plan
from wirerun.rounding import half_up
from wirerun.tables import Column, Table

# A spreadsheet takes a cell that starts like this for a formula and would run it.
_RISKY: Final = ("=", "+", "-", "@", "\t", "\r")
_QUOTED: Final = re.compile(r'[",\r\n]')


def write_schedule(plan: Plan, folder: Path) -> None:
    """Write one CSV per table that the plan has into a folder, which is made if it is missing.

    Parameters
    ----------
    plan : Plan
        Its tables have passed `wirerun.tables.conform`, so they are complete and sorted.
    folder : Path
        Where `rows.csv`, `posts.csv` and the others go; files of the same name are replaced.

    Raises
    ------
    TableError
        If a number is infinite; names the table and the column.
    """
    folder.mkdir(parents=True, exist_ok=True)
    for table in plan.written_tables.values():
        (folder / f"{table.name}.csv").write_bytes(csv_bytes(table, getattr(plan, table.name)))


def csv_bytes(table: Table, frame: pd.DataFrame) -> bytes:
    """Return a table as the bytes of a CSV file, the header row included.

    Parameters
    ----------
    table : Table
        Which columns, in which order, with how many decimals.
    frame : DataFrame
        The lines; columns beyond the table's (such as geometry) are left out.

    Raises
    ------
    TableError
        If a number is infinite; names the table and the column.
    """
    columns = [_cells(table, column, frame[column.name]) for column in table.columns]
    lines = [",".join(table.names), *map(",".join, zip(*columns, strict=True)), ""]
    # A file name can hold bytes that are no text; they are shown as \udc.. rather than stop the plan.
    return codecs.BOM_UTF8 + "\r\n".join(lines).encode("utf-8", errors="backslashreplace")


def _cells(table: Table, column: Column, values: pd.Series) -> list[str]:
    if column.kind == "text":
        return _text_cells(values)
    decimals = column.decimals if column.kind == "number" else 0
    cells = _number_cells(values, decimals)
    if "inf" in cells or "-inf" in cells:
        msg = f"table {table.name}, column {column.name}: an infinite number cannot be written"
        raise TableError(msg)
    return cells


def _text_cells(values: pd.Series) -> list[str]:
    """Return text as CSV cells; each different text is looked at once."""
    texts = values.fillna("").tolist()
    cells = {text: text_cell(text) for text in set(texts)}
    return [cells[text] for text in texts]


def text_cell(text: str) -> str:
    """Return a text as a cell: no formula to a spreadsheet, quoted where it must be."""
    if text.startswith(_RISKY):
        text = f"'{text}"
    if _QUOTED.search(text):
        text = '"' + text.replace('"', '""') + '"'
    return text


def _number_cells(values: pd.Series, decimals: int) -> list[str]:
    """Return numbers as CSV cells: fixed decimals, an empty cell for none, and no minus before a zero."""
    if values.empty:
        return []
    # The whole column in one formatting call, which is faster than one call a number.
    text = (f"%.{decimals}f\n" * len(values)) % tuple(half_up(values, decimals).tolist())
    return text.replace("nan", "").split("\n")[:-1]
