"""One block's own settings, laid over the config's."""

from collections.abc import Mapping
from typing import Any

from pydantic import Field

from wirerun.settings.section import Section


class BlockOverride(Section):
    """Settings that one block has otherwise than the rest."""

    rows: dict[str, Any] = Field(default_factory=dict, description="Keys of [rows]. Default: none.")
    posts: dict[str, Any] = Field(default_factory=dict, description="Keys of [posts]. Default: none.")
    wires: dict[str, dict[str, Any]] = Field(
        default_factory=dict, description="Keys of a wire, by its id. Default: none."
    )


def laid_over(data: Mapping[str, Any], block_id: str) -> dict[str, Any]:
    """Config as one block has it: its overrides laid over the rest, key by key. `data` is a config as written."""
    over = data["blocks"][block_id]
    merged = {key: value for key, value in data.items() if key != "blocks"}
    for section in ("rows", "posts"):
        if over.get(section):
            merged[section] = {**merged.get(section, {}), **over[section]}
    if over.get("wires"):
        merged["wires"] = [{**wire, **over["wires"].get(wire["id"], {})} for wire in merged["wires"]]
    return merged
