"""The config file: read, checked, and every fault told at once."""

import re
import tomllib
from pathlib import Path
from typing import Any, Final

from pydantic import ValidationError

from wirerun.errors import Faults
from wirerun.read.crs import projected_crs
from wirerun.read.plain_file import plain_file
from wirerun.read.setting_faults import tell
from wirerun.settings import Config, broken_rules, laid_over

_MOST_BYTES: Final = 1_000_000
_TOML_PLACE: Final = re.compile(r" \(at (.*)\)$")


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
    try:
        config = Config.model_validate(data, context={"file": str(path), "folder": str(Path(path).parent)})
    except ValidationError as error:
        tell(error, data, str(path), faults)
        # The types are told above; the rules between settings are told whether the types are right or not.
        for place, sentence in broken_rules(data):
            faults.add(path, place, sentence)
        config = None
    _check_output_crs(data, str(path), faults)
    if config is not None:
        _check_blocks(config, str(path), faults)
    faults.stop_if_any()
    if config is None:
        msg = "the config was refused without a reason"
        raise RuntimeError(msg)
    return config


def _over_base(data: dict[str, Any], given: str, faults: Faults) -> dict[str, Any]:
    """Tables of a config laid over those of its base, table by table; a list replaces the base's."""
    base = data.get("base")
    if not isinstance(base, str):
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


def _check_blocks(config: Config, given: str, faults: Faults) -> None:
    """Tell of settings of single blocks that would be refused in the config itself; it must be good without them."""
    written = config.model_dump(exclude_unset=True) | {"wires": [wire.model_dump() for wire in config.wires]}
    for block_id, over in config.blocks.items():
        for unknown in sorted(set(over.wires) - {wire.id for wire in config.wires}):
            faults.add(given, f"blocks.{block_id}.wires.{unknown}", "there is no such wire in the config")
        merged, own = laid_over(written, block_id), Faults()
        try:
            Config.model_validate(merged)
        except ValidationError as error:
            tell(error, merged, given, own)
            for place, sentence in broken_rules(merged):
                own.add(given, place, sentence)
        for fault in own:
            faults.add(given, f"blocks.{block_id}.{fault.place}", fault.message)


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
        return tomllib.loads(path.read_bytes().decode("utf-8-sig"))
    except UnicodeDecodeError as error:
        faults.add(given, f"byte {error.start + 1}", "not UTF-8 text; save the file as UTF-8")
    except RecursionError:
        faults.add(given, "", "tables or lists are nested too deep")
    except ValueError as error:
        words = str(error)
        place = _TOML_PLACE.search(words)
        words = _TOML_PLACE.sub("", words)
        faults.add(given, place[1] if place else "", f"not valid TOML: {words[:1].lower()}{words[1:]}")
    return {}


def _check_output_crs(data: dict[str, Any], given: str, faults: Faults) -> None:
    """Tell of an output CRS that cannot serve; here, where the file's name is known."""
    output = data.get("output")
    text = output.get("crs") if isinstance(output, dict) else None
    if isinstance(text, str):
        crs = projected_crs(text)
        if isinstance(crs, str):
            faults.add(given, "output.crs", crs)
