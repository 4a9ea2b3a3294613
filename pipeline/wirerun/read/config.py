"""The config file: read, checked, and every fault told at once."""

import re
import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any, Final

from pydantic import ValidationError

from wirerun.errors import Faults
from wirerun.read.block_settings import check_blocks, with_attributes
from wirerun.read.crs import projected_crs
from wirerun.read.plain_file import plain_file
from wirerun.read.setting_faults import place_of, tell
from wirerun.settings import Config, broken_rules

# Choices: hundreds of blocks with settings of their own have room, and the settings themselves go five deep. The TOML
# library's time grows with the square of the depth.
_MOST_BYTES: Final = 200_000
_DEEPEST: Final = 16
# TOML 1.0.0: whole numbers have 64 bits with their sign.
_LEAST_WHOLE, _MOST_WHOLE = -(2**63), 2**63 - 1
_TOO_LARGE: Final = f"a whole number beyond {_MOST_WHOLE} (64 bits) will not do"

_TOML_PLACE: Final = re.compile(r" \(at (.*)\)$")
# Text in quotes and comments, where dots mean nothing. What is not closed runs to the end of its line, or the file's.
_QUIET: Final = re.compile(
    r'"""(?:\\.|[^\\])*?(?:"""|\\?\Z)'
    r"|'''.*?(?:'''|\Z)"
    r'|"(?:\\.|[^"\\\n])*"?'
    r"|'[^'\n]*'?"
    r"|#[^\n]*",
    re.DOTALL,
)
# What stands between the names and values of a line.
_BETWEEN: Final = re.compile(r"[=\[\]{},]")
_NO_VALUE: Final = re.compile(r"=[ \t]*(#.*)?$")
_MANY_DIGITS: Final = re.compile(r"[0-9][0-9_]{1000}")


#: What the objects that a program plans from are called, where a file would be named.
BLOCKS: Final = "blocks"
HEIGHTS: Final = "heights"


def load_config(path: str | Path) -> Config:
    """Config from a TOML file, checked; its paths start from the file's folder.

    Parameters
    ----------
    path : str or Path
        The config file. Faults name it as given.

    Raises
    ------
    InputError
        With every fault: a file that cannot be read or is no TOML, settings that are unknown, missing, of the wrong
        kind or out of range, and settings that do not go together.
    """
    faults = Faults()
    data = _over_base(_toml(str(path), faults), str(path), faults)
    faults.stop_if_any()
    config = with_attributes(_checked(data, str(path), str(Path(path).parent), faults), faults)
    faults.stop_if_any()
    return config


def load_survey_config(path: str | Path) -> tuple[Config, dict[str, Any]]:
    """Config of a survey, and its tables as written; what the survey itself will find need not be in it.

    Rows and heights may be left out: the plan of a survey has the found rows (`rows.layout = "given"`) on the ground
    that was found. All other settings are for that plan, and checked as its own.

    Raises
    ------
    InputError
        With every fault, as `load_config` has them; and where no surface and no points are named.
    """
    faults = Faults()
    data = _over_base(_toml(str(path), faults), str(path), faults)
    faults.stop_if_any()
    # Without a survey of heights the plan's ground is the user's own.
    filled = planned_with(data, {"raster": GROUND}, {})
    config = _checked({**filled, "survey": data.get("survey", {})}, str(path), str(Path(path).parent), faults)
    told = config.survey
    if told.surface is None and told.points is None and told.orthophoto is None:
        sentence = (
            "missing; name the surface raster here, or a point cloud in survey.points; for rows alone a photo in "
            "survey.orthophoto"
        )
        faults.add(str(path), "survey.surface", sentence)
        faults.stop_if_any()
    return config, data


#: Files of a survey's result that its plan reads.
GROUND: Final = "ground.tif"
FOUND_ROWS: Final = "rows.geojson"
# Of rows that stand, the ends are where they were found.
_AS_FOUND: Final = {"headland_m": 0.0, "side_margin_m": 0.0, "spacing_m": 2.4}


def planned_with(data: dict[str, Any], elevation: dict[str, Any], rows: dict[str, Any]) -> dict[str, Any]:
    """Tables of the plan that goes on from a survey: as written, on its ground (if it found any) and with its rows."""
    written = {key: value for key, value in data.items() if key not in {"survey", "base"}}
    above, given = written.get("elevation", {}), written.get("rows", {})
    if isinstance(above, dict) and elevation:
        keep = {key: value for key, value in above.items() if key not in {"raster", "raster_crs", "height_unit"}}
        written["elevation"] = {**keep, **elevation}
    if isinstance(given, dict):
        keep = {key: value for key, value in given.items() if key not in {"bearing_deg", "guide", "align"}}
        written["rows"] = {**_AS_FOUND, **keep, "layout": "given", "lines": FOUND_ROWS, **rows}
    return written


def config_of(settings: Mapping[str, Any]) -> Config:
    """Config from settings that a program hands over, checked as a file is; its paths start from the current folder.

    Blocks and heights come with them as objects: `block.boundary` and `elevation.raster` may be left out, and a name.

    Raises
    ------
    InputError
        With every fault, as `load_config` has them; the file is called "config".
    """
    data = {"name": "plan", **settings}
    data["block"] = {"boundary": BLOCKS, **data.get("block", {})}
    data["elevation"] = {"raster": HEIGHTS, **data.get("elevation", {})}
    return _checked(data, "config", ".", Faults())


def _checked(data: dict[str, Any], given: str, folder: str, faults: Faults) -> Config:
    """Config from its tables; `given` is how faults name it."""
    try:
        config = Config.model_validate(data, context={"file": given, "folder": folder})
    except ValidationError as error:
        tell(error, data, given, faults)
        # The types are told above; the rules between settings are told whether the types are right or not.
        for place, sentence in broken_rules(data):
            faults.add(given, place, sentence)
        config = None
    _check_output_crs(data, given, faults)
    if config is not None:
        check_blocks(config, given, faults)
        _check_service(config, given, faults)
    faults.stop_if_any()
    if config is None:
        msg = "the config was refused without a reason"
        raise RuntimeError(msg)
    return _with_built_posts(config)


def _with_built_posts(config: Config) -> Config:
    """Config with its posts as they were surveyed, where it names a file of them."""
    built = config.measured.built_posts
    if built is None:
        return config
    posts = config.posts.model_copy(update={"placing": "given", "points": built})
    return config.model_copy(update={"posts": posts})


def _over_base(data: dict[str, Any], given: str, faults: Faults) -> dict[str, Any]:
    """Tables of a config laid over those of its base, table by table; a list replaces the base's."""
    base = data.get("base")
    if not isinstance(base, str):
        return data
    if not base:
        faults.add(given, "base", "the text is empty; leave the setting out or give a value")
        return data
    if Path(base).name != base:
        # Paths start from the config's folder; with two folders nobody could tell from which.
        faults.add(given, "base", f'"{base}" must lie in the same folder; give its bare name')
        return data
    under = _toml(str(Path(given).with_name(base)), faults)
    if "base" in under:
        faults.add(given, "base", f'"{base}" has a base of its own; only one step is followed')
        return data
    return _laid_over_tables(under, data)


def _laid_over_tables(under: dict[str, Any], over: dict[str, Any]) -> dict[str, Any]:
    merged = dict(under)
    for key, value in over.items():
        below = under.get(key)
        if isinstance(value, dict) and isinstance(below, dict):
            merged[key] = _laid_over_tables(below, value)
        else:
            merged[key] = value
    return merged


def _check_service(config: Config, given: str, faults: Faults) -> None:
    """Tell of wires that [service] names and neither the config nor a block has."""
    known = [wire.id for wire in config.wires]
    for over in config.blocks.values():
        known += [str(wire.get("id")) for wire in over.wires if not isinstance(wire, str)]
    for key, names in config.service.names.items():
        for unknown in sorted(set(names) - set(known)):
            sentence = f'there is no wire "{unknown}", only {", ".join(dict.fromkeys(known))}'
            faults.add(given, f"service.{key}", sentence)


def _toml(given: str, faults: Faults) -> dict[str, Any]:
    """Tables of a TOML file; empty where it has faults."""
    path = plain_file(Path(given), given, faults)
    if path is None:
        return {}
    if path.stat().st_size > _MOST_BYTES:
        faults.add(given, "", f"{path.stat().st_size} bytes are no config; at most {_MOST_BYTES} are read")
        return {}
    try:
        # Editors that put a byte order mark before the text are no fault of the user's.
        text = path.read_bytes().decode("utf-8-sig")
    except UnicodeDecodeError as error:
        faults.add(given, f"byte {error.start + 1}", "not UTF-8 text; save the file as UTF-8")
        return {}
    before = len(faults.found)
    _check_names(text, given, faults)
    data = _parsed(text, given, faults) if len(faults.found) == before else {}
    _check_values(data, given, faults)
    return data if len(faults.found) == before else {}


def _parsed(text: str, given: str, faults: Faults) -> dict[str, Any]:
    try:
        return tomllib.loads(text)
    except RecursionError:
        faults.add(given, "", _too_deep("tables or lists"))
    except ValueError as error:
        words = str(error)
        if "integer string conversion" in words:  # Python's own, without a place
            found = _MANY_DIGITS.search(text)
            faults.add(given, f"line {text.count(chr(10), 0, found.start()) + 1}" if found else "", _TOO_LARGE)
            return {}
        place = _TOML_PLACE.search(words)
        words = _TOML_PLACE.sub("", words)
        faults.add(given, place[1] if place else "", _not_toml(words, text, place[1] if place else ""))
    return {}


def _not_toml(words: str, text: str, place: str) -> str:
    """Return what is wrong with a line in words; one without a value is most often one to fill in."""
    line = re.match(r"line (\d+)", place)
    if line and _NO_VALUE.search(text.splitlines()[int(line[1]) - 1]):
        return "the setting has no value; give one, or put a # before the line"
    return f"not valid TOML: {words[:1].lower()}{words[1:]}"


def _check_names(text: str, given: str, faults: Faults) -> None:
    """Refuse names of too many parts before they are parsed."""
    bare = _QUIET.sub(lambda quiet: "s" + "\n" * quiet[0].count("\n"), text)
    for number, line in enumerate(bare.split("\n"), start=1):
        if line.count(".") >= _DEEPEST and any(part.count(".") >= _DEEPEST for part in _BETWEEN.split(line)):
            faults.add(given, f"line {number}", _too_deep("the parts of a name"))
            return


def _check_values(data: dict[str, Any], given: str, faults: Faults) -> None:
    """Refuse numbers that are none of TOML's, and tables in tables in tables."""
    waiting: list[tuple[tuple[str | int, ...], Any]] = [((), data)]
    while waiting:
        place, value = waiting.pop()
        if len(place) > _DEEPEST:
            faults.add(given, place_of(place[:1], data), _too_deep("tables or lists"))
            return
        if isinstance(value, dict):
            waiting += [((*place, key), inside) for key, inside in reversed(value.items())]
        elif isinstance(value, list):
            waiting += [((*place, number), inside) for number, inside in reversed([*enumerate(value)])]
        elif isinstance(value, int) and not _LEAST_WHOLE <= value <= _MOST_WHOLE:
            faults.add(given, place_of(place, data), _TOO_LARGE)


def _too_deep(what: str) -> str:
    return f"{what} go deeper than {_DEEPEST}; no setting lies so deep"


def _check_output_crs(data: dict[str, Any], given: str, faults: Faults) -> None:
    """Tell of an output CRS that cannot serve; here, where the file's name is known."""
    output = data.get("output")
    text = output.get("crs") if isinstance(output, dict) else None
    if isinstance(text, str):
        crs = projected_crs(text)
        if isinstance(crs, str):
            faults.add(given, "output.crs", crs)
