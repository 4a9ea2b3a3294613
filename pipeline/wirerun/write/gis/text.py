"""Text that came from users' files, made fit for formats that cannot carry everything."""

import re
from typing import Final

import pandas as pd

# XML 1.0 (fifth edition), production 2: all else may not stand in a document, not even escaped.
_NOT_XML: Final = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


def clean(text: str) -> str:
    r"""Return text that every format can carry.

    A byte of a file name that was no text (a lone surrogate) is shown as ``\udc..``, as in the schedule; a control
    character as the replacement character.
    """
    return _NOT_XML.sub("\ufffd", text.encode("utf-8", errors="backslashreplace").decode("utf-8"))


def clean_cells(texts: pd.Series) -> list[str | None]:
    """Return the texts of a column, each different one cleaned once; None where it is empty."""
    cells = [text if isinstance(text, str) else None for text in texts.to_numpy(dtype=object).tolist()]
    column = "".join(filter(None, cells))
    if column.isascii() and column.isprintable():  # as most are
        return cells
    cleaned = {text: clean(text) for text in set(cells) if text is not None}
    return [None if text is None else cleaned[text] for text in cells]


def clean_all(texts: pd.Series) -> pd.Series:
    """Return a column of text, each different text cleaned once; empty stays empty."""
    return pd.Series(clean_cells(texts), index=texts.index, dtype="str")


def one_line(text: str, most_bytes: int) -> str:
    """Return text on one line, cut between two characters so that its UTF-8 is no longer than `most_bytes`."""
    return cut(" ".join(clean(text).split()), most_bytes)


def cut(text: str, most_bytes: int) -> str:
    """Return the longest start of a text whose UTF-8 is no longer than `most_bytes`."""
    # What is ignored is the part of a character at the cut.
    return text.encode("utf-8")[:most_bytes].decode("utf-8", errors="ignore")
