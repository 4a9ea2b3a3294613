"""What a hostile case is made of: a good estate that one way breaks, and values that nobody expects."""

from collections.abc import Callable, Sequence
from random import Random
from typing import Any, Final

from tests.refusals.conftest import EAST, NORTH, RING, Estate, lonlat, polygon

__all__ = ["EAST", "NORTH", "RING", "Commands", "Estate", "Random", "Way", "damage", "lonlat", "polygon", "ring_of"]

#: Commands to run instead of `check` and then `plan`; a path in them is relative to the estate's folder.
Commands = Sequence[Sequence[str]]
#: Breaks an estate in one way, with numbers drawn by chance.
Way = Callable[[Estate, Random], Commands | None]

#: As they would stand in a config.
VALUES: Final = (
    *(
        "nan",
        "inf",
        "-inf",
        "0",
        "-0.0",
        "-1",
        "1e-300",
        "5e-324",
        "1e308",
        "-1e308",
        "1e999",
        "1_0",
        "0x" + "F" * 6000,
    ),
    *("9223372036854775807", "9223372036854775808", "1" * 400, "1" * 5000, "0o777", "0b1", "true", '"3"', '""'),
    *("[]", "[[]]", "{}", "[1, 2]", '["a", 3]', "{a = 1}", "2026-01-01", "07:32:00", "2026-11-29T07:32:00Z"),
    *('"nan"', r'"\u0000"', r'"\u001b[2J"', r'"a\nerror: forged"', r'"\u202E"', '"' + "x" * 5000 + '"', '"../.."'),
    *(
        '"/dev/zero"',
        '"/vsicurl/http://localhost:9/x"',
        '"http://localhost:9/x"',
        '"PG:dbname=x"',
        "'''\n'''",
        '"北坡"',
    ),
)

#: As they would stand in an attribute or a cell.
WORDS: Final = (
    *(
        "",
        " ",
        "0",
        "-1",
        "nan",
        "inf",
        "1e999",
        "1,5",
        "1.5.2",
        "12 kg",
        "=1+1",
        "@SUM(A1)",
        "-2+3",
        "+5",
        "NULL",
        "None",
    ),
    *(
        "\x00",
        "\x1b[2J",
        "a\nerror: forged",
        "\u202eabc",
        "\ud7ff",
        "\uffff",
        "x" * 100_000,
        "ſ",
        "İ",
        "ﬀ",
        "é",
        "e\u0301",
    ),
    *("<script>", "{{7*7}}", "]]>", "'; DROP TABLE rows; --", "..", "CON", "a/b", "\t", "\r\n", "１２", "½", "−5"),
)


def ring_of(places: Sequence[tuple[float, float]]) -> list[list[float]]:
    """Return a closed ring in longitude and latitude of places in metres from the corner."""
    return lonlat(list(places))


def damage(raw: bytes, chance: Random, head: int | None = None) -> bytes:
    """Return bytes of a file, cut short or with some of them changed."""
    made = bytearray(raw)
    if chance.random() < 0.4:
        del made[chance.randrange(len(made)) :]
    for _ in range(chance.choice([0, 1, 3, 10, 100, 1000])):
        if made:
            made[chance.randrange(min(len(made), head or len(made)))] = chance.randrange(256)
    return bytes(made)


def number(chance: Random) -> float:
    """Return a number that is hardly ever right."""
    return chance.choice(
        [0.0, -1.0, 1e-12, 1e-3, 0.5, 89.9, 90.0, 180.0, 181.0, 1e5, 1e9, 1e18, 1e300, float("nan"), float("inf")]
    )


def feature(geometry: Any, **properties: Any) -> dict[str, Any]:  # noqa: ANN401 - JSON
    """Return a GeoJSON feature."""
    return {"type": "Feature", "properties": properties, "geometry": geometry}
