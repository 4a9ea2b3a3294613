"""One block's own settings, laid over the config's."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated, Any, Final

from pydantic import BeforeValidator, Field, GetJsonSchemaHandler, TypeAdapter
from pydantic.json_schema import JsonSchemaValue
from pydantic_core import CoreSchema

from wirerun.settings.section import Section
from wirerun.settings.wire import WireSettings

#: Tables of the config that a block may have otherwise, beside its wires.
SECTIONS: Final = ("rows", "posts", "standing")


@dataclass(frozen=True, slots=True)
class _DescribedAs:
    """Describes tables in the schema by a kind of settings: they are checked once they are laid over the rest."""

    kind: Any

    def __get_pydantic_json_schema__(self, _: CoreSchema, handler: GetJsonSchemaHandler) -> JsonSchemaValue:
        return handler(TypeAdapter(self.kind).core_schema)


def _list_or_changes(wires: object) -> object:
    """Refuse what is neither a list of wires nor a table of changes."""
    tables = wires if isinstance(wires, list) else [*wires.values()] if isinstance(wires, Mapping) else [None]
    if not all(isinstance(table, Mapping) for table in tables):
        msg = (
            "wanted are the block's own wires, each headed by [[blocks.NAME.wires]], or changes to some of the "
            "config's, each headed by [blocks.NAME.wires.ID]"
        )
        raise ValueError(msg)
    return wires


_OwnWires = Annotated[list[dict[str, Any]], _DescribedAs(list[WireSettings])]


class BlockAttributes(Section):
    """Which attributes of the boundary file hold settings of the block they stand with."""

    rows: dict[str, str] = Field(default_factory=dict, description="Attributes by keys of [rows]. Default: none.")
    posts: dict[str, str] = Field(default_factory=dict, description="Attributes by keys of [posts]. Default: none.")
    standing: dict[str, str] = Field(
        default_factory=dict, description="Attributes by keys of [standing]. Default: none."
    )
    wires: dict[str, dict[str, str]] = Field(
        default_factory=dict, description="Attributes by keys of single wires, by their ids. Default: none."
    )

    @property
    def places(self) -> dict[tuple[str, ...], str]:
        """Return the attribute of each setting by where it stands: ("rows", "bearing_deg")."""
        tables: dict[tuple[str, ...], dict[str, str]] = {(section,): getattr(self, section) for section in SECTIONS}
        tables |= {("wires", wire): keys for wire, keys in self.wires.items()}
        return {(*table, key): name for table, keys in tables.items() for key, name in keys.items()}


class BlockOverride(Section):
    """Settings that one block has otherwise than the rest."""

    rows: dict[str, Any] = Field(default_factory=dict, description="Keys of [rows]. Default: none.")
    posts: dict[str, Any] = Field(default_factory=dict, description="Keys of [posts]. Default: none.")
    standing: dict[str, Any] = Field(default_factory=dict, description="Keys of [standing]. Default: none.")
    wires: Annotated[dict[str, dict[str, Any]] | _OwnWires, BeforeValidator(_list_or_changes)] = Field(
        default_factory=dict,
        description="The block's own wires instead of the config's, as in [[blocks.B02.wires]]; or keys of single "
        "wires of the config by their ids, as in [blocks.B02.wires.lower]. Default: none.",
    )

    @property
    def changed_wires(self) -> Mapping[str, Mapping[str, Any]]:
        """Return the keys of single wires by their ids; none where the block has wires of its own."""
        return self.wires if isinstance(self.wires, Mapping) else {}


def laid_over(written: Mapping[str, Any], over: Mapping[str, Any]) -> dict[str, Any]:
    """Config as one block has it, as written: its own settings laid over the rest, key by key.

    `written` has wires, the default's if need be. A list of wires replaces the config's.
    """
    merged = {key: value for key, value in written.items() if key != "blocks"}
    for section in SECTIONS:
        if over.get(section):
            merged[section] = {**merged.get(section, {}), **over[section]}
    wires = over.get("wires")
    if isinstance(wires, list):
        merged["wires"] = wires
    elif wires:
        merged["wires"] = [{**wire, **wires.get(wire["id"], {})} for wire in merged["wires"]]
    return merged
