"""Sentences of faults: one line each whatever files hold, not thousands of one kind, and whose fault it is."""

import unicodedata

import pytest
from wirerun.errors import MOST_TOLD, Exit, Fault, Faults, InputError, printable, told, worst
from wirerun.findings import Finding
from wirerun.records import finding_table


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("plain, with blanks", "plain, with blanks"),
        ("Encosta ção 北坡 \N{GRINNING FACE}", "Encosta ção 北坡 \N{GRINNING FACE}"),
        (
            "no\N{NO-BREAK SPACE}break and\N{IDEOGRAPHIC SPACE}wide",
            "no\N{NO-BREAK SPACE}break and\N{IDEOGRAPHIC SPACE}wide",
        ),
        ("a\x1b[2Jb", r"a\x1b[2Jb"),
        ("a\nerror: forged", r"a\nerror: forged"),
        ("\r\t\x00\x7f\x9b31m", r"\r\t\x00\x7f\x9b31m"),
        ("\N{RIGHT-TO-LEFT OVERRIDE}gpj.exe", r"\u202egpj.exe"),
        ("a\N{LINE SEPARATOR}b\N{PARAGRAPH SEPARATOR}", r"a\u2028b\u2029"),
        ("half \udcff a character", r"half \udcff a character"),
        ("\N{LANGUAGE TAG}", r"\U000e0001"),
    ],
)
def test_what_a_terminal_would_obey_is_escaped(text: str, shown: str) -> None:
    assert printable(text) == shown


def test_nothing_that_is_no_sign_gets_through() -> None:
    """Unicode's general categories: controls (Cc, Cf, Cs), and the separators of lines and paragraphs (Zl, Zp)."""
    for number in range(0x11_0000):
        sign = chr(number)
        if unicodedata.category(sign) in {"Cc", "Cf", "Cs", "Zl", "Zp"}:
            assert printable(sign).isascii()
            assert printable(sign).isprintable()


def test_a_fault_is_one_line_whatever_is_in_the_names() -> None:
    fault = Fault("a\nerror: forged line.tif", "feature 1 (\x1b[2J)", "it holds \x07")
    assert str(fault) == r"a\nerror: forged line.tif, feature 1 (\x1b[2J): it holds \x07"
    assert str(InputError((fault,))) == str(fault)


def test_a_finding_keeps_no_control_character_in_the_table() -> None:
    table = finding_table([Finding("relief", "a\x1b.tif", "High\nup.")])
    assert table[["place", "message"]].to_numpy().tolist() == [[r"a\x1b.tif", r"High\nup."]]


def test_of_many_faults_of_a_kind_the_first_are_told() -> None:
    """A kind is what is left of a sentence without names and numbers; another file is another kind."""
    sentences = [f"it overlaps feature {n} (n{n}) by {n + 1} m2" for n in range(MOST_TOLD + 5)]
    faults = [Fault("a.json", f"feature {n}", words) for n, words in enumerate(sentences)]
    other = [Fault("a.json", "feature 7", "it has no geometry"), Fault("b.json", "feature 1", sentences[0])]
    lines = told([*faults, *other])
    assert lines[:MOST_TOLD] == [str(fault) for fault in faults[:MOST_TOLD]]
    assert lines[MOST_TOLD:] == ["a.json: and 5 more like these", *map(str, other)]
    assert told(faults[:MOST_TOLD]) == [str(fault) for fault in faults[:MOST_TOLD]]
    assert len(InputError(tuple(faults)).faults) == MOST_TOLD + 5


@pytest.mark.parametrize(
    ("codes", "code"),
    [
        ([Exit.ELEVATION, Exit.BAD_INPUT, Exit.OUR_FAULT], Exit.OUR_FAULT),
        ([Exit.ELEVATION, Exit.BAD_INPUT], Exit.BAD_INPUT),
        ([Exit.ELEVATION], Exit.ELEVATION),
        ([], Exit.GOOD),
    ],
)
def test_whose_fault_decides(codes: list[Exit], code: Exit) -> None:
    assert worst(codes) == worst(reversed(codes)) == code


def test_faults_of_one_block_are_found_by_block_and_in_order() -> None:
    faults = Faults()
    faults.of_block("B02").add("a.tif", "block B02", "no heights", Exit.ELEVATION)
    faults.add("c.toml", "", "odd")
    faults.of_block("B01").take_over([Fault("b.json", "feature 1", "crossed")])
    assert [fault.file for fault in faults] == ["a.tif", "c.toml", "b.json"]
    assert {block: [fault.file for fault in own] for block, own in faults.by_block.items()} == {
        "B02": ["a.tif"],
        "B01": ["b.json"],
    }
