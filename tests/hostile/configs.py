"""Configs that nobody should write."""

from pathlib import Path
from typing import Any, Final, get_args

from pydantic import BaseModel
from wirerun.settings import Config
from wirerun.write.blank_config import write_blank_config

from tests.hostile.case import VALUES, Commands, Estate, Random, Way, damage


def _sections() -> dict[str, type[BaseModel]]:
    found = {}
    for name, field in Config.model_fields.items():
        if isinstance(field.annotation, type) and issubclass(field.annotation, BaseModel):
            found[name] = field.annotation
    return found


_SECTIONS: Final = _sections()


def _text(estate: Estate) -> str:
    return estate.config().read_text(encoding="utf-8")


def _set(text: str, section: str, key: str, value: str) -> str:
    """Return the text of a config with one setting replaced or added."""
    head = f"[{section}]"
    kept = "\n".join(line for line in text.splitlines() if not line.startswith(f"{key} ="))
    if head not in kept:
        kept += f"\n{head}"
    return kept.replace(head, f"{head}\n{key} = {value}", 1) + "\n"


def a_setting(estate: Estate, chance: Random) -> None:
    """Set one to three settings to something else than they take."""
    text = _text(estate)
    for _ in range(chance.choice([1, 1, 3])):
        section = chance.choice(sorted(_SECTIONS))
        key = chance.choice(sorted(_SECTIONS[section].model_fields))
        text = _set(text, section, key, chance.choice(VALUES))
    estate.config(text)


def _limits(field: Any) -> list[float]:  # noqa: ANN401 - a field of pydantic's
    found: list[float] = []
    for one in field.metadata:
        for name in ("ge", "gt", "le", "lt"):
            limit = getattr(one, name, None)
            if limit is not None:
                found.append(float(limit) + {"gt": 1e-9, "lt": -1e-9}.get(name, 0.0))
    return found


def at_the_limit(estate: Estate, chance: Random) -> None:
    """Set some numbers to the least or most that they may be: each is allowed, all together may be nonsense."""
    text = _text(estate)
    several = [
        (section, key, limits, field.annotation)
        for section, model in _SECTIONS.items()
        if section not in {"block", "elevation", "study", "survey"}
        for key, field in model.model_fields.items()
        if (limits := _limits(field))
    ]
    for section, key, limits, kind in chance.sample(several, chance.choice([1, 2, 5])):
        value = chance.choice(limits)
        whole = kind is int or int in get_args(kind)
        text = _set(text, section, key, str(round(value)) if whole else repr(value))
    estate.config(text)


def a_wire(estate: Estate, chance: Random) -> None:
    from wirerun.settings import WireSettings  # noqa: PLC0415 - one use

    key = chance.choice(sorted(WireSettings.model_fields))
    estate.config(
        _text(estate) + f'[[wires]]\nid = "a"\nkind = "foliage"\nheight_m = 1.0\n{key} = {chance.choice(VALUES)}\n'
    )


def unknown_keys(estate: Estate, chance: Random) -> None:
    places = [
        "",
        "[rows]",
        "[rows.deep]",
        "[blocks.B01]",
        "[blocks.B01.rows]",
        "[blocks.B01.foo]",
        "[[wires]]",
        "[blocks]",
    ]
    name = chance.choice(["spacng_m", "foo", '""', '"a b"', r'"\u001b[2J"', "spacing_m.x", '"北"', "x" * 3000])
    text = _text(estate)
    place = chance.choice(places)
    line = f"{name} = {chance.choice(VALUES)}"
    if place in {"", "[rows]"}:
        estate.config(f"{line}\n{text}" if not place else text.replace(place, f"{place}\n{line}"))
    else:
        estate.config(f"{text}\n{place}\n{line}\n")


def many_keys(estate: Estate, chance: Random) -> None:
    count = chance.choice([300, 30_000, 90_000])
    where = chance.choice(["[rows]\n", "[posts]\n", "[blocks.B01.rows]\n", ""])
    lines = "".join(f"k{number} = 1\n" for number in range(count))
    text = _text(estate)
    if where == "[rows]\n":
        estate.config(text.replace(where, where + lines))
    else:
        estate.config(text + where + lines if where else lines + text)


def many_blocks(estate: Estate, chance: Random) -> None:
    count = chance.choice([50, 999, 5000])
    lines = "".join(f"[blocks.B{number:05d}.rows]\nbearing_deg = 10.0\n" for number in range(count))
    estate.config(_text(estate) + lines)


def many_wires(estate: Estate, chance: Random) -> None:
    count = chance.choice([20, 21, 1000, 10_000])
    same = chance.random() < 0.5
    wires = (
        f'[[wires]]\nid = "w{0 if same else n}"\nkind = "fixed"\nheight_m = {0.3 + 0.05 * n:.2f}\n'
        for n in range(count)
    )
    estate.config(_text(estate) + "".join(wires))


def deep(estate: Estate, chance: Random) -> None:
    many = chance.choice([40, 990, 3000, 20_000, 100_000])
    kind = chance.choice(["dotted", "table", "list", "inline", "array of tables"])
    made = {
        "dotted": ".".join("a" * many) + " = 1\n",
        "table": f"[{'.'.join('a' * many)}]\n",
        "list": f"a = {'[' * many}{']' * many}\n",
        "inline": f"a = {'{a = ' * many}1{'}' * many}\n",
        "array of tables": f"[[{'.'.join('a' * many)}]]\n",
    }[kind]
    text = _text(estate)
    estate.config(made + text if kind in {"dotted", "list", "inline"} else text + made)


def damaged(estate: Estate, chance: Random) -> None:
    path = estate.folder / "whole.toml"
    write_blank_config(path)
    estate.config().write_bytes(damage(path.read_bytes(), chance))


def doubled(estate: Estate, chance: Random) -> None:
    text = _text(estate)
    lines = text.splitlines()
    line = chance.choice(lines)
    estate.config(text + line + "\n")


def other_coding(estate: Estate, chance: Random) -> None:
    text = _text(estate) + "# schöne Höhe 北坡 \n"
    raw = {
        "utf-16": text.encode("utf-16"),
        "utf-32": text.encode("utf-32"),
        "latin": text.encode("latin-1", errors="replace"),
        "bom": b"\xef\xbb\xbf" + text.encode(),
        "two boms": b"\xef\xbb\xbf" * 2 + text.encode(),
        "nul": text.replace("rows", "ro\0ws").encode(),
        "cr": text.replace("\n", "\r").encode(),
        "surrogate": text.encode() + b"# \xed\xa0\x80\n",
        "none": b"\0" * chance.choice([1, 1000, 2_000_000]),
        "separators": text.replace("\n", "\u2028").encode(),
    }
    estate.config().write_bytes(raw[chance.choice(sorted(raw))])


def a_path(estate: Estate, chance: Random) -> None:
    """Let a path lead where no plain file is."""
    (estate.folder / "folder").mkdir()
    (estate.folder / "loop").symlink_to("loop")
    (estate.folder / "dangling").symlink_to("nowhere")
    (estate.folder / "empty").touch()
    paths = [
        *(
            "/dev/zero",
            "/dev/null",
            "/dev/stdin",
            "/proc/self/mem",
            "/proc/self/maps",
            "folder",
            "loop",
            "dangling",
            "empty",
        ),
        *(
            "/vsizip/a.zip/b.tif",
            "/vsicurl/http://localhost:9/a.tif",
            "http://localhost:9/a",
            "GPKG:block.gpkg:a",
            "~",
            ".",
        ),
        *(
            "../../../../../../../../etc/passwd",
            "config.toml",
            "a" * 300,
            "a/" * 2000,
            "block.geojson/",
            "ground.tif/x",
        ),
        *(
            "gr\x00ound.tif",
            "a\nerror: forged.tif",
            "\x1b[2J.tif",
            "C:\\ground.tif",
            "\\\\host\\share",
            "*.tif",
            "$HOME",
        ),
        *("GTIFF_DIR:1:ground.tif", "block.geojson|layerid=0", "file:///etc/passwd", "s3://a/b", "\udcff"),
    ]
    where = {
        "block": ["boundary", "exclusions"],
        "elevation": ["raster"],
        "rows": ["lines", "guide", "keep_ids"],
        "posts": ["points"],
        "catalogue": ["folder"],
        "map": ["orthophoto"],
        "study": ["rules"],
    }
    section = chance.choice(sorted(where))
    key = chance.choice(where[section])
    path = chance.choice(paths).encode("utf-8", errors="replace").decode()
    table = estate.settings.setdefault(section, {})
    table[key] = [path, "ground.tif"] if key == "raster" and chance.random() < 0.3 else path
    if key in {"lines", "guide"}:
        table["layout"] = {"lines": "given", "guide": "follow"}[key]
    if key == "points":
        table["placing"] = "given"


def bases(estate: Estate, chance: Random) -> None:
    text = _text(estate)
    for number in range(5):
        estate.write(f"base{number}.toml", f'base = "base{number + 1}.toml"\n')
    estate.write("self.toml", 'base = "config.toml"\n')
    estate.write("good.toml", "[rows]\nspacing_m = 2.0\n[posts]\nmax_span_m = 5.0\n")
    estate.write("bad.toml", "[rows\n")
    estate.write("list.toml", "rows = [1]\n")
    estate.write("deep.toml", ".".join("r" * 60) + " = 1\n")
    named = [
        "base0.toml",
        "self.toml",
        "config.toml",
        "good.toml",
        "bad.toml",
        "list.toml",
        "deep.toml",
        "",
        "../a",
        ".",
    ]
    estate.config(f'base = "{chance.choice(named)}"\n{text}')


def not_a_config(estate: Estate, chance: Random) -> Commands:
    estate.config()
    estate.write("empty.toml", "")
    given = chance.choice(
        ["ground.tif", "block.geojson", "nowhere.toml", ".", "empty.toml", "/dev/null", "config.toml/"]
    )
    return [[chance.choice(["check", "plan", "estate", "study", "survey"]), given]]


def blocks_of_their_own(estate: Estate, chance: Random) -> None:
    """Settings of single blocks that do not go together with the rest."""
    estate.named("one", "two")
    text = _text(estate)
    lines = chance.choice(
        [
            '[blocks.one.rows]\nlayout = "given"\n',
            '[blocks.one.rows]\nlayout = "follow"\nguide = "block.geojson"\n',
            '[[blocks.one.wires]]\nid = "lower"\nkind = "fixed"\nheight_m = 0.9\n',
            '[[blocks.one.wires]]\nid = "lower"\n',
            "[blocks.one.wires.lower]\nheight_m = 1.44999999\n",
            "[blocks.one.wires.none]\nheight_m = 1.4\n",
            "[blocks.one.posts]\nheight_out_m = 0.4\n",
            "[blocks.one.rows]\nspacing_m = 60.0\nmin_length_m = 500.0\n",
            '[blocks."one\\u001b[2J".rows]\nspacing_m = 2.0\n',
            "blocks.one = 5\n",
        ]
    )
    estate.config(lines + text if lines.startswith("blocks") else text + lines)


def places(folder: Path) -> list[Path]:
    """Return every file of an estate."""
    return sorted(path for path in folder.rglob("*") if path.is_file())


WAYS: Final[tuple[Way, ...]] = (
    *(
        a_setting,
        a_setting,
        a_setting,
        a_setting,
        at_the_limit,
        at_the_limit,
        at_the_limit,
        a_wire,
        a_wire,
        unknown_keys,
    ),
    *(unknown_keys, many_keys, many_blocks, many_wires, deep, damaged, damaged, doubled, other_coding, a_path, a_path),
    *(bases, not_a_config, blocks_of_their_own),
)
