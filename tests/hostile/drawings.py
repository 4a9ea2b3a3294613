"""Rows, guides and posts that nobody should draw."""

import json
import math
from typing import Any, Final

import numpy as np

from tests.hostile.case import RING, WORDS, Estate, Random, Way, damage, feature, lonlat, number


def _rows(estate: Estate, lines: list[list[tuple[float, float]]], *, guide: bool = False) -> None:
    """Draw lines in metres from the corner, as rows or as a guide."""
    made = [
        feature({"type": "LineString", "coordinates": lonlat(line)[:-1]}, name=f"r{n}") for n, line in enumerate(lines)
    ]
    _drawn(estate, made, guide=guide)


def _drawn(estate: Estate, features: list[Any], *, guide: bool = False) -> None:
    estate.write("rows.geojson", json.dumps({"type": "FeatureCollection", "features": features}))
    spacing = estate.settings["rows"]["spacing_m"]
    estate.settings["rows"] = (
        {"layout": "follow", "guide": "rows.geojson", "spacing_m": spacing}
        if guide
        else {"layout": "given", "lines": "rows.geojson", "spacing_m": spacing}
    )


def _spiral(count: int, turns: float, reach: float) -> list[tuple[float, float]]:
    at = np.linspace(0.02, 1.0, count)
    return [
        (50.0 + reach * r * math.cos(turns * 6.283 * r), 40.0 + reach * r * math.sin(turns * 6.283 * r))
        for r in at.tolist()
    ]


def guides(estate: Estate, chance: Random) -> None:
    count = chance.choice([10, 200, 2000, 20_000])
    steps = np.arange(count)
    made: list[list[tuple[float, float]]] = [
        [(10.0 + 80.0 * n / count, 40.0 + (5.0 if n % 2 else 0.0)) for n in steps.tolist()],
        [(50.0 + 30.0 * math.cos(2.0 * n), 40.0 + 30.0 * math.sin(2.0 * n)) for n in steps.tolist()],
        _spiral(count, chance.choice([1.0, 5.0, 30.0]), 40.0),
        [(10.0 + 80.0 * n / count, 40.0 + math.sin(n / 3.0)) for n in steps.tolist()],
        [(50.0, 40.0)] * 5,
        [(50.0, 40.0), (50.0, 40.0 + 1e-9)],
        [(10.0, 40.0), (90.0, 40.0), (10.0, 40.0)],
        [(10.0, 40.0), (90.0, 40.0), (90.0, 42.0), (10.0, 42.0), (10.0, 40.0)],
        [(-3e6, 0.0), (-3e6, 10.0)],
        [(-1500.0, 0.0), (-1500.0, 100.0)],
        [(-5e5, 40.0), (5e5, 40.0)],
        [(10.0, 10.0 + n * 1e-4) if n % 2 else (90.0, 10.0 + n * 1e-4) for n in steps.tolist()],
        [(50.0 + 20.0 * math.cos(n / count * 6.2), 40.0 + 20.0 * math.sin(n / count * 6.2)) for n in steps.tolist()],
    ]
    _rows(estate, [chance.choice(made)], guide=True)
    estate.settings["rows"]["spacing_m"] = chance.choice([2.4, 2.4, 0.5, 10.0])


def rows(estate: Estate, chance: Random) -> None:
    count = chance.choice([2, 100, 1000])
    numbers = range(count)
    made: list[list[list[tuple[float, float]]]] = [
        [
            [(50.0, 40.0), (50.0 + 40.0 * math.cos(n / count * 6.28), 40.0 + 40.0 * math.sin(n / count * 6.28))]
            for n in numbers
        ],
        [[(10.0, 40.0), (90.0, 10.0 + 60.0 * n / count)] for n in numbers],
        [[(10.0, 40.0), (90.0, 40.0)] for _ in numbers],
        [[(10.0, 40.0 + 0.1 * n / count), (90.0, 40.0)] for n in numbers],
        [[(10.0 + 70.0 * n / count, 20.0 + n % 40), (10.0 + 70.0 * (n + 1) / count, 20.0 + n % 40)] for n in numbers],
        [[(chance.uniform(0.0, 100.0), chance.uniform(0.0, 90.0)) for _ in range(2)] for n in numbers],
        [
            [(chance.uniform(0.0, 100.0), chance.uniform(0.0, 90.0)) for _ in range(chance.choice([2, 50]))]
            for n in numbers
        ],
        [[(10.0 + 0.05 * n, 10.0), (10.0 + 0.05 * n, 80.0)] for n in numbers],
        [_spiral(200, 3.0, 0.03 * (n + 1)) for n in range(min(count, 100))],
        [
            [(10.0, 20.0 + 2.0 * n), (50.0, 20.0 + 2.0 * n + 1e-9), (90.0, 20.0 + 2.0 * n)]
            for n in range(min(count, 20))
        ],
    ]
    _rows(estate, chance.choice(made))
    estate.settings["rows"]["join_gap_m"] = chance.choice([0.0, 2.0, 2.0, 20.0])


def bits(estate: Estate, chance: Random) -> None:
    """Rows in very many pieces."""
    count = chance.choice([2000, 20_000])
    across = chance.choice([1, 20])
    piece = 70.0 / (count / across)
    made = [
        [
            (10.0 + (n // across) * piece, 20.0 + 2.0 * (n % across)),
            (10.0 + (n // across + 0.9) * piece, 20.0 + 2.0 * (n % across)),
        ]
        for n in range(count)
    ]
    _rows(estate, made)


def shapes(estate: Estate, chance: Random) -> None:
    """Features that are no line."""
    line: Any = lonlat(RING)[:2]
    made: list[Any] = [
        None,
        {"type": "Point", "coordinates": line[0]},
        {"type": "Polygon", "coordinates": [lonlat(RING)]},
        {"type": "LineString", "coordinates": []},
        {"type": "LineString", "coordinates": line[:1]},
        {"type": "LineString", "coordinates": [line[0]] * 3},
        {"type": "MultiLineString", "coordinates": []},
        {"type": "MultiLineString", "coordinates": [line, [], line]},
        {"type": "MultiLineString", "coordinates": [line, line[::-1]]},
        {"type": "LineString", "coordinates": [[number(chance), number(chance)], line[0]]},
        {"type": "LineString", "coordinates": [[*at, number(chance)] for at in line]},
        {"type": "LineString", "coordinates": [[lat, lon] for lon, lat in line]},
        {"type": "LineString", "coordinates": [[179.9, 41.0], [-179.9, 41.0]]},
        {"type": "GeometryCollection", "geometries": []},
        {"type": "LineString", "coordinates": [["a", None], line[0]]},
        {"type": "LineString", "coordinates": lonlat(RING)},
    ]
    _drawn(
        estate,
        [feature(chance.choice(made), a=chance.choice(WORDS)) for _ in range(chance.choice([1, 3]))],
        guide=chance.random() < 0.4,
    )


def _table(estate: Estate, text: str | bytes, name: str = "posts.csv") -> None:
    (estate.folder / name).write_bytes(
        text if isinstance(text, bytes) else text.encode("utf-8", errors="surrogatepass")
    )
    estate.settings["posts"] = {"placing": "given", "points": name}


def _places(count: int = 40) -> list[list[float]]:
    return lonlat([(25.0 + 1.2 * n, 20.0 + 0.6 * n) for n in range(count)])[:-1]


def posts(estate: Estate, chance: Random) -> None:
    """Tables of surveyed posts."""
    lines = [f"{lon:.8f},{lat:.8f},{300 + 0.1 * n:.2f},P{n}" for n, (lon, lat) in enumerate(_places())]
    head = "lon,lat,height,post_id"
    cell, word = chance.randrange(4), chance.choice(WORDS)
    changed = [
        ",".join([*(line.split(",")[:cell]), word, *(line.split(",")[cell + 1 :])]) if chance.random() < 0.3 else line
        for line in lines
    ]
    whole = "\n".join([head, *lines])
    made: list[str | bytes] = [
        "\n".join([head, *changed]),
        "\n".join([head, *changed]),
        "\n".join([head, *changed]),
        "\n".join(lines),
        head,
        "",
        "\n" * 1000,
        head * 3,
        whole.replace(",", ";"),
        whole.replace(",", "\t"),
        whole.replace(",", "|"),
        whole.replace(".", ","),
        whole.replace("\n", "\r"),
        whole.encode("utf-16"),
        whole.replace("P1", "Ä").encode("latin-1"),
        b"\xef\xbb\xbf" + whole.encode(),
        whole.replace("lat", "lon"),
        whole.replace("lon,lat", "E,N"),
        whole.replace("lon,lat", "x,y"),
        whole.replace("lon", "Lon "),
        whole.replace("P3", '"P3'),
        "\0" * 500,
        head + "\n" + lines[0] * 5000,
        "\n".join([head, *(lines * chance.choice([10, 2000]))]),
        ",".join("abc" * 3000) + "\n" + "1,",
        whole.replace("lon,lat", "lat,lon"),
        whole + "\n1,2,3,4,5,6,7,8",
        "\n".join(line + ',"' + "x" * 200_000 + '"' for line in [head, *lines[:3]]),
    ]
    _table(
        estate,
        chance.choice(made),
        chance.choice(["posts.csv", "posts.csv", "posts.txt", "posts.xlsx", "posts.geojson"]),
    )
    if chance.random() < 0.3:
        estate.settings["posts"]["points_crs"] = chance.choice(["EPSG:32629", "EPSG:4326", "x", "EPSG:5773", ""])


def shot_posts(estate: Estate, chance: Random) -> None:
    """Posts where no row is, or many in one place."""
    count = chance.choice([1, 2, 2000, 50_000])
    made = [
        [(50.0, 40.0)] * count,
        [(20.0 + 60.0 * n / count, 40.0) for n in range(count)],
        [(chance.uniform(0.0, 100.0), chance.uniform(0.0, 90.0)) for _ in range(count)],
        [(5e4, 0.0)] * count,
    ]
    places = lonlat(chance.choice(made))[:-1]
    height = chance.choice(["300", "0", "nan", "9e9", ""])
    _table(estate, "\n".join(["lon,lat,height", *(f"{lon!r},{lat!r},{height}" for lon, lat in places)]))


def damaged_posts(estate: Estate, chance: Random) -> None:
    points = [
        feature({"type": "Point", "coordinates": [*at, number(chance) if chance.random() < 0.1 else 300.0]}, id=n)
        for n, at in enumerate(_places())
    ]
    raw = json.dumps({"type": "FeatureCollection", "features": points}).encode()
    _table(estate, damage(raw, chance) if chance.random() < 0.7 else raw, "posts.geojson")


WAYS: Final[tuple[Way, ...]] = (
    guides,
    guides,
    guides,
    rows,
    rows,
    rows,
    bits,
    shapes,
    shapes,
    posts,
    posts,
    posts,
    shot_posts,
    damaged_posts,
)
