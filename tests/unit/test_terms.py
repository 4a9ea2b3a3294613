"""Words of other countries: sentences come over whole, and tables stay as they are."""

import pytest
from wirerun.findings import Finding
from wirerun.records import finding_table
from wirerun.terms import WORDS, in_terms

SAID = {
    "Intermediate posts, 3 intermediate posts": "Line posts, 3 line posts",
    "The foliage wires; a foliage wire.": "The catch wires; a catch wire.",
    "Labour hours, labour": "Labor hours, labor",
    "Metres of wire, millimetres": "Meters of wire, millimeters",
    "End posts, anchors, strainers, coils.": "End posts, anchors, strainers, coils.",
}


@pytest.mark.parametrize(("ours", "theirs"), SAID.items())
def test_a_sentence_in_american_words(ours: str, theirs: str) -> None:
    assert in_terms(ours, "us") == theirs
    assert in_terms(ours, "au-nz") == ours


def test_no_word_stands_for_two_and_none_is_changed_twice() -> None:
    for table in WORDS.values():
        assert len(set(table.values())) == len(table)
        for theirs in table.values():
            assert not any(ours in theirs for ours in table)


def test_findings_are_said_in_these_words() -> None:
    found = (Finding("soft-in-heat", "B01", "Foliage wire lower is slack."),)
    assert list(finding_table(found, "us")["message"]) == ["Catch wire lower is slack."]
    assert list(finding_table(found)["message"]) == ["Foliage wire lower is slack."]
