"""Catalogues, rules, earlier plans and surveys that nobody should hand over."""

import hashlib
import json
import shutil
from functools import cache
from pathlib import Path
from tempfile import mkdtemp
from typing import Any, Final

import numpy as np
from affine import Affine
from click.testing import CliRunner
from wirerun.cli import main
from wirerun.read.catalogue import default_folder

from tests.hostile.case import EAST, NORTH, VALUES, WORDS, Commands, Estate, Random, Way, damage
from tests.refusals.conftest import ROWS, heights


def _broken_table(text: str, chance: Random) -> bytes:
    """Return a table of CSV with something wrong in it."""
    head, *lines = text.splitlines()
    columns = head.split(",")
    column = chance.randrange(len(columns))
    word = chance.choice(WORDS)
    line = chance.randrange(len(lines)) if lines else 0
    cells = (lines[line] if lines else "").split(",")
    cells[min(column, len(cells) - 1)] = word
    changed = [*lines[:line], ",".join(cells), *lines[line + 1 :]]
    made: list[str | bytes] = [
        *["\n".join([head, *changed])] * 6,
        "\n".join([head.replace(columns[column], word), *lines]),
        "\n".join([",".join([*columns, columns[column]]), *lines]),
        "\n".join([",".join(columns[:column]), *lines]),
        head,
        "",
        "\n".join(lines),
        "\n".join([head, *lines, *lines]),
        text.replace(",", ";"),
        text.replace("\n", "\r"),
        text.encode("utf-16"),
        text.replace("a", "ä").encode("latin-1"),
        b"\xef\xbb\xbf" * 2 + text.encode(),
        text.replace('"', ""),
        text + '"unclosed',
        text + "\0",
        "\n".join([head, *(lines * 3000)]),
        ("x" * 4_000_000),
        "a" * 100 + ",a" * 50_000,
        damage(text.encode(), chance),
        "\n".join([head, *(line + "," * 500 for line in lines)]),
    ]
    raw = chance.choice(made)
    return raw if isinstance(raw, bytes) else raw.encode("utf-8", errors="surrogatepass")


def catalogue(estate: Estate, chance: Random) -> None:
    """Break one or two tables of a catalogue."""
    own = estate.folder / "own"
    shutil.copytree(default_folder(), own, ignore=shutil.ignore_patterns("__*"))
    tables = sorted(own.glob("*.csv"))
    for path in chance.sample(tables, chance.choice([1, 1, 2])):
        if chance.random() < 0.1:
            path.unlink()
        elif chance.random() < 0.05:
            path.unlink()
            path.mkdir()
        else:
            path.write_bytes(_broken_table(path.read_text(encoding="utf-8"), chance))
    estate.settings["catalogue"] = {"folder": "own"}


_RULES: Final = (
    "id,most_pct,most_of_slope,least_pct,allowed_pct,about,source,date\nbare,4,,,,alleys,a handbook,2026-11-29\n"
)


def rules(estate: Estate, chance: Random) -> Commands:
    """Break the table of rules, or the study itself."""
    (estate.folder / "rules.csv").write_bytes(_broken_table(_RULES, chance))
    estate.settings["study"] = {"rules": "rules.csv", "whole": "none", "step_deg": chance.choice([10.0, 1.0, 45.0])}
    text = estate.config().read_text()
    if chance.random() < 0.5:
        estate.write("rules.csv", _RULES)
        odd = [
            '"rows.spacing_m" = []',
            '"rows.spacing_m" = ["a"]',
            '"wires.none.tension_n" = [1]',
            '"a.b.c" = [1, 2]',
            '"" = [1]',
            '"rows" = [1]',
            '"rows.spacing_m" = [nan]',
            f'"rows.spacing_m" = {list(range(2, 2000))}',
            '"study.whole" = ["all"]',
            f'"rows.min_length_m" = [{chance.choice(VALUES)}]',
            '"rows.layout" = ["given"]',
            '"posts.max_span_m" = [3.0, 4.0]',
            '"block.boundary" = ["x.geojson"]',
            '"\\u001b[2J" = [1]',
        ]
        text += f"[study.vary]\n{chance.choice(odd)}\n"
    if chance.random() < 0.3:
        text += f"[study.limits]\n{chance.choice(['cost', 'none', 'grade_max_pct'])} = {chance.choice(VALUES)}\n"
    estate.config(text)
    return [["study", "config.toml", "--workers", "1", "--out", "study"]]


@cache
def _finished() -> Path:
    """Return the folder of a finished plan, made once for all cases of a process."""
    folder = Path(mkdtemp(prefix="hostile-plan-"))
    estate = Estate(folder)
    CliRunner().invoke(main, ["plan", str(estate.config()), "--out", str(folder / "out"), "--only", "schedule"])
    return folder / "out"


def _sealed(place: Path) -> None:
    """Make the record of a plan that was broken fit what stands there, as somebody might who means harm."""
    path = place / "run.json"
    record = json.loads(path.read_bytes())
    for name, one in record["outputs"].items():
        if isinstance(one, dict) and (place / name).is_file():
            raw = (place / name).read_bytes()
            one.update({key: hashlib.sha256(raw).hexdigest() for key in one if "sha256" in key})
            one.update({key: len(raw) for key in one if key == "bytes"})
    path.write_text(json.dumps(record))


def _break_plan(place: Path, chance: Random, table: str) -> None:
    path = place / "run.json"
    if chance.random() < 0.4:
        text = path.read_text()
        record: Any = json.loads(text)
        key = chance.choice(sorted(record))
        record[key] = chance.choice(
            [None, 3, [], {}, "x", {"../../etc/passwd": {}}, {"/etc/passwd": {}}, float("nan"), {"a": None}]
        )
        made = [json.dumps(record)] * 4 + [
            text[: len(text) // 2],
            "",
            "[]",
            "null",
            "{}",
            '{"a": ' * 5000,
            text.replace('"', "'"),
            "\0" * 99,
        ]
        path.write_text(chance.choice(made))
        return
    file = place / "schedule" / table
    file.write_bytes(_broken_table(file.read_text(encoding="utf-8-sig"), chance))
    if chance.random() < 0.8:
        _sealed(place)


def earlier(estate: Estate, chance: Random) -> None:
    """Keep the ids of a plan that was tampered with."""
    place = shutil.copytree(_finished(), estate.folder / "before")
    _break_plan(place, chance, "row_ids.csv")
    estate.settings["rows"]["keep_ids"] = "before"


def compared(estate: Estate, chance: Random) -> Commands:
    """Compare plans that were tampered with."""
    for name in ("a", "b"):
        shutil.copytree(_finished(), estate.folder / name)
    table = chance.choice(
        ["posts.csv", "rows.csv", "spans.csv", "clips.csv", "wires.csv", "materials.csv", "costs.csv"]
    )
    _break_plan(estate.folder / "b", chance, table)
    return [["compare", "a", "b", "--out", "compared"]]


def as_built(estate: Estate, chance: Random) -> Commands:
    """Compare a plan with a table of posts that is none."""
    shutil.copytree(_finished(), estate.folder / "a")
    lines = (estate.folder / "a" / "schedule" / "posts.csv").read_text(encoding="utf-8-sig")
    (estate.folder / "built.csv").write_bytes(_broken_table(lines, chance))
    more = chance.choice([[], ["--crs", "EPSG:32629"], ["--crs", "x"], ["--height-unit", "ft"], ["--within", "19"]])
    return [["compare", "a", "built.csv", "--out", "compared", *more]]


def survey(estate: Estate, chance: Random) -> Commands:
    """Survey what is no planting."""
    data = heights()
    odd = chance.choice([None, None, np.nan, 0.0, 1e30, -9999.0])
    if odd is not None:
        data[np.random.default_rng(chance.randrange(99)).random(data.shape) < chance.choice([0.01, 0.9])] = odd
    scale = chance.choice([1.0, 0.3, 0.1, 0.02])
    estate.ground(
        data,
        name="surface.tif",
        nodata=chance.choice([None, -9999.0]),
        transform=Affine(scale, 0.0, EAST, 0.0, -scale, NORTH + ROWS * scale),
    )
    path = estate.folder / "surface.tif"
    if chance.random() < 0.4:
        path.write_bytes(damage(path.read_bytes(), chance, chance.choice([None, 1200])))
    name = "surface.tif"
    if chance.random() < 0.4:
        name = "points.laz"
        (estate.folder / name).write_bytes(
            chance.choice([b"LASF", b"LASF" + b"\0" * 400, b"LASF\0\0\0\0" + b"\xff" * 1000, b"x" * 50])
        )
    estate.settings = {"block": {"boundary": "block.geojson"}, "survey": {"surface": name}}
    if chance.random() < 0.3:
        estate.write(
            "check.csv", chance.choice(["E,N,height\n1,2,3\n", "lon,lat\n1,2\n", "lon,lat,height\nnan,2,x\n", "", "\0"])
        )
        estate.settings["survey"]["check_points"] = "check.csv"
    estate.config()
    return [["survey", "config.toml", "--out", "surveyed"]]


WAYS: Final[tuple[Way, ...]] = (
    catalogue,
    catalogue,
    catalogue,
    catalogue,
    rules,
    rules,
    earlier,
    earlier,
    compared,
    compared,
    as_built,
    survey,
    survey,
)
