"""How wide text is, against the font files as another library reads them; what is on the sheet; how text is cut."""

import io
from collections.abc import Callable
from contextlib import closing
from functools import partial
from importlib.resources import files
from pathlib import Path
from unicodedata import normalize

import numpy as np
import pypdf
import pypdfium2 as pdfium
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from PIL import ImageFont
from pymupdf_fonts import fontbuffers
from reportlab.pdfgen.canvas import Canvas
from wirerun.write.cards.letters import ELLIPSIS, MISSING, can_print, clean, pieces, shorten, width, wrap
from wirerun.write.cards.pen import MM, PAGE_HEIGHT, PAGE_WIDTH, Pen

# Ids as growers might give them, by what it takes to print them.
PLAIN = {
    "accents": "Vörös-dűlő",
    "Vietnamese": "Đồi cỏ",
    "combining": "Be\N{COMBINING DOT BELOW}c\N{COMBINING CARON}x\N{COMBINING DIAERESIS}",
    "Greek": "Άμπελος",
    "Cyrillic": "Ђурђевак",
    "Georgian": "ქვემო",
}
LARGE = {"Chinese": "北坡", "traditional": "臺灣坡", "Japanese": "かた畑", "Korean": "남쪽밭", "Armenian": "Արենի"}
SHAPED = {"Arabic": "حقل", "Hebrew": "כרם", "Hindi": "खेत", "Thai": "ไร่"}


def sheet(path: Path, draw: Callable[[Pen, Canvas], object]) -> Path:
    """Write one sheet."""
    canvas = Canvas(str(path), pagesize=(PAGE_WIDTH * MM, PAGE_HEIGHT * MM))
    draw(Pen(canvas), canvas)
    canvas.showPage()
    canvas.save()
    return path


def ink(path: Path) -> NDArray[np.bool_]:
    """Return where a sheet is black, cut to what is drawn."""
    with closing(pdfium.PdfDocument(path)) as document:
        black = np.asarray(document[0].render(scale=2.0, grayscale=True).to_numpy()).squeeze() < 128
    rows, columns = np.flatnonzero(black.any(axis=1)), np.flatnonzero(black.any(axis=0))
    return black[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1] if rows.size else black[:0, :0]


def drawn(path: Path, text: str, *, bold: bool = False) -> NDArray[np.bool_]:
    """Return the ink of a text as the pen writes it."""
    return ink(sheet(path, lambda pen, _: pen.text(20.0, 40.0, text, 40.0, bold=bold)))


@pytest.mark.parametrize(("bold", "code"), [(False, "notos"), (True, "notosbo")])
@pytest.mark.parametrize("text", ["B01-R012", "Wire, 2.5 mm", "\u00e7\u00e3o \u03a9\u03bc \u0416\u0443\u043a"])
def test_width_is_that_of_the_font_file(text: str, bold: bool, code: str) -> None:  # noqa: FBT001 - a parameter
    font = ImageFont.truetype(io.BytesIO(fontbuffers[code]()), 1000)
    thousandths = sum(font.getlength(sign) for sign in text)
    assert width(text, 11.0, bold=bold) == pytest.approx(thousandths / 1000.0 * 11.0 * 25.4 / 72.0, abs=0.01)


def test_a_text_of_two_faces_is_as_wide_as_its_pieces() -> None:
    large = files("weblate_fonts") / "static" / "weblate_fonts" / "kurinto" / "ttf" / "KurintoSansSC-Rg.ttf"
    found = {
        code: ImageFont.truetype(io.BytesIO(data), 1000)
        for code, data in (("notos", fontbuffers["notos"]()), ("large", large.read_bytes()))
    }
    thousandths = sum(found["large"].getlength(sign) for sign in "北坡")
    thousandths += sum(found["notos"].getlength(sign) for sign in "-R012")
    assert width("北坡-R012", 11.0) == pytest.approx(thousandths / 1000.0 * 11.0 * 25.4 / 72.0, abs=0.01)
    assert [name for name, _ in pieces("北坡-R012", bold=True)] == ["KurintoSansSC-Bold", "NotoSans-Bold"]


@pytest.mark.parametrize("name", [*PLAIN, *LARGE])
@pytest.mark.parametrize("bold", [False, True])
def test_an_id_is_on_the_sheet_letter_by_letter(tmp_path: Path, name: str, bold: bool) -> None:  # noqa: FBT001
    """Its text reads back, and no letter of it is the box that a face draws for what it lacks, nor like another."""
    text = (PLAIN | LARGE)[name]
    assert can_print(text)
    path = sheet(tmp_path / "id.pdf", lambda pen, _: pen.text(20.0, 40.0, f"{text}-R012", 20.0, bold=bold))
    assert pypdf.PdfReader(path).pages[0].extract_text().strip() == normalize("NFC", f"{text}-R012")

    signs = [sign for sign in dict.fromkeys(normalize("NFC", text)) if sign.strip()]
    shapes = [drawn(tmp_path / "sign.pdf", sign, bold=bold) for sign in signs]
    assert all(shape.any() for shape in shapes)
    # Plane 15 is for private use: no face has a letter there, and draws its box.
    wrong = [ink(sheet(tmp_path / "box.pdf", partial(_boxed, face))) for face, _ in pieces(clean(text), bold=bold)]
    wrong.append(drawn(tmp_path / "sign.pdf", MISSING, bold=bold))
    assert wrong[-1].any()
    others = [shapes[:place] + wrong for place in range(len(shapes))]
    assert not any(np.array_equal(one, other) for one, some in zip(shapes, others, strict=True) for other in some)


def _boxed(face: str, _: Pen, canvas: Canvas) -> None:
    canvas.setFont(face, 40.0)
    canvas.drawString(60.0, 600.0, "\U000f0000")


@pytest.mark.parametrize("name", SHAPED)
def test_what_would_be_set_wrongly_is_not_printed(name: str) -> None:
    """Letters that join, stack or run from the right: wrong order or shape would be another word."""
    assert not can_print(SHAPED[name])
    assert clean(SHAPED[name]) == MISSING * len(SHAPED[name])


@pytest.mark.usefixtures("without_extra")
def test_without_the_large_faces_the_rest_prints() -> None:
    assert all(can_print(text) for text in PLAIN.values())
    assert not any(can_print(text) for text in LARGE.values())
    assert clean("北坡-R012") == f"{MISSING * 2}-R012"


def test_line_ends_tabs_and_control_signs_do_no_harm() -> None:
    assert clean("a\r\n b\tc\x00d\u202e") == f"a b c{MISSING}d{MISSING}"


# A face is loaded when its first letter comes.
@settings(deadline=None)
@given(st.text(max_size=60), st.floats(1.0, 80.0))
def test_lines_fit_and_lose_nothing(text: str, room: float) -> None:
    lines = wrap(text, 9.0, room)
    assert "".join(lines).replace(" ", "") == clean(text).replace(" ", "")
    assert all(width(line, 9.0) <= room or len(line) == 1 for line in lines)


@settings(deadline=None)
@given(st.text(max_size=60), st.floats(5.0, 80.0))
def test_a_shortened_text_fits_and_shows_that_it_is_cut(text: str, room: float) -> None:
    short = shorten(text, 9.0, room)
    assert width(short, 9.0) <= room
    assert short == clean(text) or short.endswith(ELLIPSIS)
