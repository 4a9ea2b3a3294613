"""How wide text is, against the font file itself as another library reads it; how it is cut and broken."""

from pathlib import Path

import matplotlib as mpl
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import ImageFont
from wirerun.write.cards.letters import ELLIPSIS, MISSING, clean, shorten, width, wrap

FONTS = Path(mpl.get_data_path()) / "fonts" / "ttf"


@pytest.mark.parametrize(("bold", "file"), [(False, "DejaVuSans.ttf"), (True, "DejaVuSans-Bold.ttf")])
@pytest.mark.parametrize("text", ["B01-R012", "Wire, 2.5 mm", "\u00e7\u00e3o \u03a9\u03bc \u0416\u0443\u043a"])
def test_width_is_that_of_the_font_file(text: str, bold: bool, file: str) -> None:  # noqa: FBT001 - a parameter
    font = ImageFont.truetype(FONTS / file, 1000)
    thousandths = sum(font.getlength(sign) for sign in text)
    assert width(text, 11.0, bold=bold) == pytest.approx(thousandths / 1000.0 * 11.0 * 25.4 / 72.0, abs=0.01)


def test_line_ends_tabs_and_control_signs_do_no_harm() -> None:
    assert clean("a\r\n b\tc\x00d\u202e") == f"a b c{MISSING}d{MISSING}"


@given(st.text(max_size=60), st.floats(1.0, 80.0))
def test_lines_fit_and_lose_nothing(text: str, room: float) -> None:
    lines = wrap(text, 9.0, room)
    assert "".join(lines).replace(" ", "") == clean(text).replace(" ", "")
    assert all(width(line, 9.0) <= room or len(line) == 1 for line in lines)


@given(st.text(max_size=60), st.floats(5.0, 80.0))
def test_a_shortened_text_fits_and_shows_that_it_is_cut(text: str, room: float) -> None:
    short = shorten(text, 9.0, room)
    assert width(short, 9.0) <= room
    assert short == clean(text) or short.endswith(ELLIPSIS)
