"""Findings by kind, as the terminal tells them."""

from wirerun.findings import CODES, by_code

FOUND = [
    ("note", "zones", "B01", "3 work zones."),
    ("warning", "steep-row", "B01", "2 rows are steep."),
    ("note", "zones", "B02", "4 work zones."),
    ("error", "no-rows", "B03", "No row fits."),
    ("warning", "steep-row", "B02", "1 row is steep."),
    ("warning", "steep-row", "B04", "5 rows are steep."),
    ("note", "relief", "B02", "Ground lies high."),
]


def test_worst_first_and_each_kind_once() -> None:
    kinds = by_code(FOUND)
    assert [(kind.level, kind.code, len(kind.sentences)) for kind in kinds] == [
        ("error", "no-rows", 1),
        ("warning", "steep-row", 3),
        ("note", "zones", 2),
        ("note", "relief", 1),
    ]
    assert by_code([]) == []


def test_warnings_are_told_notes_are_named() -> None:
    error, steep, zones, _ = by_code(FOUND)
    assert error.some(2) == ["B03: No row fits."]
    assert steep.some(2) == ["B01: 2 rows are steep.", "B02: 1 row is steep.", "steep-row: and 1 more like these"]
    assert steep.some(3) == ["B01: 2 rows are steep.", "B02: 1 row is steep.", "B04: 5 rows are steep."]
    assert zones.meaning == CODES["zones"][1]
