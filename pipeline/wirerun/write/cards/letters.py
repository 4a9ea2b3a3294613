"""The letters on the sheets: embedded faces, how wide text is, and how it is cut and broken to fit.

Noto Sans has the Latin, Greek and Cyrillic letters with all their accents, FiraGO the Georgian ones, Cascadia Mono the
box to tick (all SIL Open Font License 1.1, out of pymupdf-fonts, of which only the data is used). Kurinto Sans (same
licence, out of weblate-fonts) has most others, Chinese, Japanese and Korean among them; it is large, and comes with the
extra "letters" only.

Letters are set one after the other from left to right. Where that is wrong, and where no face has a letter, it comes
out as a replacement character, in its place, so that nobody overlooks that something is missing.
"""

import io
import unicodedata
from collections.abc import Callable, Iterator
from functools import lru_cache, partial
from importlib.resources import files
from importlib.util import find_spec
from itertools import groupby
from typing import Final

from pymupdf_fonts import fontbuffers
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont

POINT_MM: Final = 25.4 / 72.0
MISSING: Final = "\N{REPLACEMENT CHARACTER}"
ELLIPSIS: Final = "\N{HORIZONTAL ELLIPSIS}"
#: A box to tick.
TICK: Final = "\N{WHITE SQUARE}"

# Read in the sun at arm's length (choice): what one looks for, what one reads, and the least.
BIG: Final = 16.0
MAIN: Final = 11.0
BODY: Final = 9.0
SMALL: Final = 9.0

# Scripts whose letters join, stack or change places: Indic and South-East Asian ones, and Mongolian (The Unicode
# Standard, chapters 12 to 16). Those that run from the right are known by their direction.
_SHAPED: Final = ((0x0900, 0x109F), (0x1700, 0x18AF), (0x1900, 0x1CFF), (0xA800, 0xABFF))
_FROM_THE_RIGHT: Final = {"R", "AL", "AN"}
_LARGE: Final = ("KurintoSans", "KurintoSansSC", "KurintoSansJP", "KurintoSansKR", "KurintoSansTC")


def _kurinto(name: str) -> bytes:
    return (files("weblate_fonts") / "static" / "weblate_fonts" / "kurinto" / "ttf" / f"{name}.ttf").read_bytes()


# A face's name, and what gives its font file, plain and bold; the first that has a letter shows it.
_FACES: Final[dict[str, tuple[Callable[[], bytes], Callable[[], bytes]]]] = {
    "NotoSans": (fontbuffers["notos"], fontbuffers["notosbo"]),
    "FiraGO": (fontbuffers["figo"], fontbuffers["figbo"]),
    "CascadiaMono": (fontbuffers["cascadia"], fontbuffers["cascadiab"]),
    **{name: (partial(_kurinto, f"{name}-Rg"), partial(_kurinto, f"{name}-Bd")) for name in _LARGE},
}


@lru_cache(maxsize=1)
def faces() -> tuple[str, ...]:
    """Return the names of the faces at hand, in the order in which they are asked."""
    large = find_spec("weblate_fonts") is not None
    return tuple(name for name in _FACES if large or name not in _LARGE)


@lru_cache(maxsize=2 * len(_FACES))
def _font(face: str, *, bold: bool) -> TTFont:
    """Return a face, which is loaded on first use."""
    font = TTFont(f"{face}-Bold" if bold else face, io.BytesIO(_FACES[face][bold]()))
    pdfmetrics.registerFont(font)
    return font


@lru_cache(maxsize=5_000)
def _face_of(sign: str) -> str | None:
    """Return the face that shows a sign, None where it cannot be shown."""
    if not sign.isprintable() or unicodedata.bidirectional(sign) in _FROM_THE_RIGHT:
        return None
    if any(first <= ord(sign) <= last for first, last in _SHAPED):
        return None
    return next((face for face in faces() if _has(face, sign)), None)


def _has(face: str, sign: str) -> bool:
    return all(ord(sign) in _font(face, bold=bold).face.charToGlyph for bold in (False, True))


@lru_cache(maxsize=20_000)
def clean(text: str) -> str:
    """Return text that can be shown: spaces for line ends and tabs, a replacement character for what cannot."""
    spaced = " ".join(unicodedata.normalize("NFC", text).split())
    return "".join(sign if _face_of(sign) else MISSING for sign in spaced)


def can_print(text: str) -> bool:
    """Return whether each letter of a text is on the sheet as it should be."""
    return MISSING not in clean(text)


def pieces(text: str, *, bold: bool) -> Iterator[tuple[str, str]]:
    """Return a cleaned text in pieces of one face each, with the name by which the canvas knows it."""
    for face, signs in groupby(text, _face_of):
        yield str(_font(face or next(iter(_FACES)), bold=bold).fontName), "".join(signs)


@lru_cache(maxsize=50_000)
def _em_width(text: str, bold: bool) -> float:  # noqa: FBT001 - the key of a cache
    return sum(float(pdfmetrics.stringWidth(piece, name, 1.0)) for name, piece in pieces(text, bold=bold))


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
