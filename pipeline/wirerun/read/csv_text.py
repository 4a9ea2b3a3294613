"""Text and lines of a table that a person saved as CSV: what will not do is told, by the line where it stands."""

import csv
import io
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Final

#: Gets a fault: the place, and the sentence.
Refuse = Callable[[str, str], None]

_MOST_BYTES: Final = 1_000_000  # choice: a catalogue or a store that one keeps by hand is far below
_SPREADSHEETS: Final = (b"PK\x03\x04", b"\xd0\xcf\x11\xe0")


def table_text(real: Path, no: str, refuse: Refuse) -> str | None:
    """Return the text of a table's file; None, with a fault, where it is too long, a spreadsheet or no UTF-8.

    Parameters
    ----------
    real : Path
        The file, which is there.
    no : str
        What a file that is too long is none of, such as "catalogue".
    refuse : callable
        Gets the fault.
    """
    size = real.stat().st_size
    if size > _MOST_BYTES:
        refuse("", f"{size} bytes are no {no}; at most {_MOST_BYTES} are read")
        return None
    raw = real.read_bytes()
    if raw.startswith(_SPREADSHEETS):
        refuse("", "this is a spreadsheet; save the sheet as CSV in UTF-8")
        return None
    try:
        if b"\0" not in raw:
            return raw.decode("utf-8-sig")
        start = raw.index(b"\0")
    except UnicodeDecodeError as error:
        start = error.start
    line = raw.count(b"\n", 0, start) + 1
    refuse(f"line {line}", "this is no UTF-8 text; save the table as CSV in UTF-8")
    return None


def table_lines(text: str, refuse: Refuse, delimiter: str = ",") -> Iterator[tuple[int, list[str]]]:
    """Go through the lines that hold anything: number of the first line of each, and its cells without blanks around.

    Ends, with a fault, at a line that is not CSV.
    """
    lines = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    number = 1
    try:
        for cells in lines:
            stripped = [cell.strip() for cell in cells]
            if any(stripped):
                yield number, stripped
            number = lines.line_num + 1
    except csv.Error as error:
        refuse(f"line {number}", f"not valid CSV: {error}")
