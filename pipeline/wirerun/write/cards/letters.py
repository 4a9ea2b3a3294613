"""The letters on the sheets: one embedded face, how wide text is, and how it is cut and broken to fit.

The face is DejaVu Sans, out of matplotlib's own data: it has accents, Greek and Cyrillic. What it cannot show comes out
as a replacement character, in its place, so that nobody overlooks that something is missing.
"""

import unicodedata
from functools import lru_cache
from pathlib import Path
from typing import Final

import matplotlib as mpl
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont

POINT_MM: Final = 25.4 / 72.0
MISSING: Final = "\N{REPLACEMENT CHARACTER}"
ELLIPSIS: Final = "\N{HORIZONTAL ELLIPSIS}"

# Read in the sun at arm's length (choice): what one looks for, what one reads, and the least.
BIG: Final = 16.0
MAIN: Final = 11.0
BODY: Final = 9.0
SMALL: Final = 8.0

_FILES: Final = {False: "DejaVuSans.ttf", True: "DejaVuSans-Bold.ttf"}


@lru_cache(maxsize=2)
def _font(*, bold: bool) -> TTFont:
    path = Path(mpl.get_data_path()) / "fonts" / "ttf" / _FILES[bold]
    font = TTFont(path.stem, str(path))
    pdfmetrics.registerFont(font)
    return font


def font_name(*, bold: bool) -> str:
    """Return the name by which the canvas knows the face, which is loaded on first use."""
    return str(_font(bold=bold).fontName)


@lru_cache(maxsize=20_000)
def clean(text: str) -> str:
    """Return text that the face can show: spaces for line ends and tabs, a replacement character for what it lacks."""
    known = _font(bold=False).face.charToGlyph
    spaced = " ".join(unicodedata.normalize("NFC", text).split())
    return "".join(sign if ord(sign) in known and sign.isprintable() else MISSING for sign in spaced)


@lru_cache(maxsize=50_000)
def _em_width(text: str, bold: bool) -> float:  # noqa: FBT001 - the key of a cache
    return float(pdfmetrics.stringWidth(text, font_name(bold=bold), 1.0))


def width(text: str, size: float, *, bold: bool = False) -> float:
    """Width of a cleaned text [mm] at a size [pt]."""
    return _em_width(text, bold) * size * POINT_MM


def leading(size: float) -> float:
    """Height of a line [mm] at a size [pt]."""
    return 1.22 * size * POINT_MM


def shorten(text: str, size: float, room: float, *, bold: bool = False) -> str:
    """Return the text, cleaned, or as much of its beginning as fits into `room` [mm] with an ellipsis."""
    text = clean(text)
    if width(text, size, bold=bold) <= room:
        return text
    fits = _longest(text, size, room - width(ELLIPSIS, size, bold=bold), bold=bold)
    return text[:fits].rstrip() + ELLIPSIS


def wrap(text: str, size: float, room: float, *, bold: bool = False) -> list[str]:
    """Return the text, cleaned, in lines not wider than `room` [mm]; a word that is too long is broken.

    Empty text gives no line.
    """
    lines: list[str] = []
    line = ""
    for word in clean(text).split(" "):
        longer = f"{line} {word}" if line else word
        if width(longer, size, bold=bold) <= room:
            line = longer
            continue
        if line:
            lines.append(line)
        line = word
        while line and width(line, size, bold=bold) > room:
            fits = max(_longest(line, size, room, bold=bold), 1)
            lines.append(line[:fits])
            line = line[fits:]
    return [*lines, line] if line else lines


def _longest(text: str, size: float, room: float, *, bold: bool) -> int:
    """Return how many letters of the beginning fit, by halving."""
    fits, too_long = 0, len(text) + 1
    while too_long - fits > 1:
        middle = (fits + too_long) // 2
        if width(text[:middle], size, bold=bold) <= room:
            fits = middle
        else:
            too_long = middle
    return fits
