"""Settings of single blocks: those of the config, and those that stand in attributes of the boundary file."""

import math
from collections.abc import Mapping
from difflib import get_close_matches
from functools import partial
from typing import Any, Final

from pydantic import BaseModel, ValidationError

from wirerun.errors import Fault, Faults
from wirerun.read.blocks import name_blocks
from wirerun.read.layer import Layer, read_layer
from wirerun.read.offline import offline
from wirerun.read.setting_faults import tell
from wirerun.read.vector import check_field, feature_place
from wirerun.settings import (
    BlockOverride,
    Config,
    PostSettings,
    RowSettings,
    StandingSettings,
    WireSettings,
    broken_rules,
    laid_over,
)

_KINDS: Final[Mapping[str, type[BaseModel]]] = {
    "rows": RowSettings,
    "posts": PostSettings,
    "standing": StandingSettings,
    "wires": WireSettings,
}


def check_blocks(config: Config, given: str, faults: Faults) -> None:
    """Tell of settings of single blocks that would be refused in the config itself; it must be good without them.

    Parameters
    ----------
    config : Config
        As its file has it.
    given : str
        The config file as given.
    faults : Faults
        Gets the faults.
    """
    for block_id, over in config.blocks.items():
        for unknown in sorted(set(over.changed_wires) - {wire.id for wire in config.wires}):
            faults.add(given, f"blocks.{block_id}.wires.{unknown}", _no_such_wire(block_id, config))
        for fault in _refused(config, over):
            faults.add(given, f"blocks.{block_id}.{fault.place}", fault.message)


def with_attributes(config: Config, faults: Faults) -> Config:
    """Config with the settings that the boundary file has for its blocks; as it is, where it has none or has a fault.

    What is wrong with the file itself is told where its blocks are read.

    Parameters
    ----------
    config : Config
        Its own settings of single blocks count before those of the file.
    faults : Faults
        Gets the faults: settings and attributes that are not there, and values that will not do.
    """
    places, known = config.block.attributes.places, len(faults.found)
    for place in places:
        _check_place(place, config, faults)
    if not places or len(faults.found) > known:
        return config
    given = config.block.boundary
    take = partial(_take_attributes, config=config, faults=faults)
    with offline():
        # Faults of the file are told by its reader proper, which has more to say of each.
        found = read_layer(
            config.path(given), given, Faults(), take, layer=config.block.layer, several="", wanted="Polygon"
        )
    blocks, refused = dict(config.blocks), dict[str, list[Fault]]()
    for number, block_id, written in found or ():
        over = _under(written, config.blocks.get(block_id))
        key = repr(over)
        if key not in refused:
            refused[key] = list(_refused(config, over))
        for fault in refused[key]:
            setting = f"{fault.place}{_from(fault.place, places)}"
            faults.add(given, feature_place(number, block_id), f"{setting}: {fault.message}")
        blocks[block_id] = over
    return config.model_copy(update={"blocks": blocks})


def _check_place(place: tuple[str, ...], config: Config, faults: Faults) -> None:
    """Tell of a setting that no block has."""
    section, *wire, key = place
    full, wires = f"block.attributes.{'.'.join(place)}", [one.id for one in config.wires]
    keys = [name for name in _KINDS[section].model_fields if section != "wires" or name != "id"]
    if wire and wire[0] not in wires:
        faults.add(config.file, full, f"there is no such wire in the config, only {', '.join(wires)}")
    elif key not in keys:
        near = get_close_matches(key, keys, n=1)
        hint = f"did you mean {near[0]}?" if near else f"known here are {', '.join(keys)}"
        faults.add(config.file, full, f"unknown setting; {hint}")


def _take_attributes(layer: Layer, *, config: Config, faults: Faults) -> list[tuple[int, str, dict[str, Any]]]:
    """Number, id and settings of each feature that has any."""
    places, before = config.block.attributes.places, len(faults.found)
    for place, name in places.items():
        check_field(name, layer.fields, config.block.boundary, f"block.attributes.{'.'.join(place)}", faults)
    if len(faults.found) > before:
        return []
    rows = {number: attributes for number, (_, attributes) in enumerate(layer.features, start=1)}
    field = config.block.id_field
    named = {number: attributes.get(field) if field else None for number, attributes in rows.items()}
    # Ids that are twice there, or are ours, are told where the blocks are read.
    ids = name_blocks(named, field, config.block.boundary, Faults(), [])
    made = ((number, ids[number], _settings(attributes, places)) for number, attributes in rows.items())
    return [one for one in made if one[2]]


def _settings(attributes: Mapping[str, Any], places: Mapping[tuple[str, ...], str]) -> dict[str, Any]:
    """Settings of one feature, table in table; what is empty is none."""
    made: dict[str, Any] = {}
    for (*tables, key), name in places.items():
        value = attributes.get(name)
        if value is None or value == "" or (isinstance(value, float) and math.isnan(value)):
            continue
        into = made
        for table in tables:
            into = into.setdefault(table, {})
        # Some formats keep every number as one with decimals.
        into[key] = int(value) if isinstance(value, float) and value.is_integer() else value
    return made


def _under(written: dict[str, Any], over: BlockOverride | None) -> BlockOverride:
    """Settings of a file with the config's own for the same block laid over them."""
    if over is None:
        return BlockOverride(**written)
    merged = laid_over({"wires": [], **written}, over.model_dump(exclude={"wires"}))
    wires: Any = over.wires
    if isinstance(wires, Mapping):
        theirs = written.get("wires", {})
        wires = {name: {**theirs.get(name, {}), **wires.get(name, {})} for name in [*theirs, *wires]}
    return BlockOverride(**{**merged, "wires": wires})


def _refused(config: Config, over: BlockOverride) -> Faults:
    """What would be refused, were a block's settings those of the whole config."""
    merged, own = laid_over(config.written, over.model_dump(exclude_unset=True)), Faults()
    try:
        Config.model_validate(merged)
    except ValidationError as error:
        tell(error, merged, "", own)
        for place, sentence in broken_rules(merged):
            own.add("", place, sentence)
    return own


def _from(place: str, places: Mapping[tuple[str, ...], str]) -> str:
    """Which attribute a setting came from, in brackets."""
    name = places.get(tuple(place.split(".")))
    return f' (attribute "{name}")' if name else ""


def _no_such_wire(block_id: str, config: Config) -> str:
    known = ", ".join(wire.id for wire in config.wires)
    own = f"[[blocks.{block_id}.wires]]"
    return f"there is no such wire in the config, only {known}; other wires for one block are headed by {own}"
