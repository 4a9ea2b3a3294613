"""Text made fit for files; what XML may carry is asked of an XML parser, sign by sign."""

from xml.parsers import expat

import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st
from wirerun.write.gis.text import clean, clean_all, cut, one_line


def _xml_carries(text: str) -> bool:
    try:
        expat.ParserCreate().Parse(f"<a>{text}</a>".encode(), True)  # noqa: FBT003 - the parser's own
    except expat.ExpatError:
        return False
    return True


@pytest.mark.parametrize(
    "code", [*range(0x20), 0x7F, 0x85, 0xA0, 0x200F, 0x202E, 0xD7FF, 0xE000, 0xFFFD, 0x10000, 0x10FFFF]
)
def test_a_sign_stays_where_xml_carries_it(code: int) -> None:
    assert clean(f"a{chr(code)}b") == (f"a{chr(code)}b" if _xml_carries(chr(code)) else "a\ufffdb")


@given(st.text(alphabet=st.characters(exclude_categories=())))
def test_cleaned_text_is_what_an_xml_parser_and_utf8_carry(text: str) -> None:
    made = clean(text)
    assert _xml_carries(made.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;"))
    assert clean(made) == made


def test_a_byte_that_was_no_text_shows_as_in_the_schedule() -> None:
    assert clean("bl\udce9.geojson") == "bl\\udce9.geojson"


def test_a_column_keeps_its_gaps() -> None:
    assert clean_all(pd.Series(["a\x0b", None, "b"], dtype="str")).fillna("gap").tolist() == ["a\ufffd", "gap", "b"]
    assert clean_all(pd.Series([], dtype="str")).tolist() == []


@given(st.text(alphabet=st.characters(codec="utf-8")), st.integers(0, 40))
def test_a_cut_text_is_the_longest_start_that_fits(text: str, most: int) -> None:
    made = cut(text, most)
    assert text.startswith(made)
    assert len(made.encode()) <= most
    assert made == text or len(text[: len(made) + 1].encode()) > most


def test_one_line_has_no_line_ends() -> None:
    assert one_line("  a\r\n b\tc\x0b ", 40) == "a b c\ufffd"
