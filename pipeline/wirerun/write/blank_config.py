"""A config to fill in, and the schema of configs, both made from the settings themselves."""

import json
import re
import textwrap
from pathlib import Path
from typing import Any, Final, get_args, get_origin

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from wirerun.errors import TargetError
from wirerun.settings import Config, choices
from wirerun.settings.blocks import BlockAttributes

_WIDTH: Final = 100
_NAME: Final = "my-block"

_HEAD: Final = (
    "A config of wirerun. What says FILL IN has no default: give a value and take away the # before it. All other "
    "lines stand at their defaults and may stay or go."
)
# How the settings say that a default is ours, and how a person who does not know us reads it.
_OUR_CHOICE: Final = re.compile(r"(?<=Default: )choice\b|(?<=\()choice(?=\))")

_OF_BLOCKS: Final = """\
# [blocks.B02.rows]
# bearing_deg = 71.0
# Other wires in B03, instead of those above:
# [[blocks.B03.wires]]
# id = "cordon"
# kind = "fixed"
# height_m = 0.8
# Or the same wires, one of them changed:
# [blocks.B04.wires.lower]
# height_m = 1.1"""

_OF_ATTRIBUTES: Final = """\
# [block.attributes]
# rows.bearing_deg = "bearing"
# posts.max_span_m = "span"
# standing.posts = "built"
# wires.lower.height_m = "low_m\""""


def config_schema() -> dict[str, Any]:
    """JSON Schema (draft-07) of the config."""
    made = _explained(Config.model_json_schema(ref_template="#/definitions/{model}"))
    definitions = made.pop("$defs")
    return {"$schema": "http://json-schema.org/draft-07/schema#", **made, "definitions": definitions}


def write_blank_config(file: Path) -> None:
    """Write a commented config with every setting, its unit and default.

    Raises
    ------
    TargetError
        If the file is there already or cannot be written.
    """
    try:
        with file.open("x", encoding="utf-8") as out:
            out.write(blank_config())
    except FileExistsError as error:
        msg = f"{file} is there already; it is not overwritten"
        raise TargetError(msg) from error
    except OSError as error:
        msg = f"{file} cannot be written: {error.strerror}"
        raise TargetError(msg) from error


def blank_config() -> str:
    """Text of the blank config: settings to fill in without a value and commented out, the rest as their defaults."""
    blocks: list[list[str]] = [[*_comment(_HEAD), ""]]
    for name, field in Config.model_fields.items():
        kind = field.annotation
        if isinstance(kind, type) and issubclass(kind, BaseModel):
            blocks += _section(f"[{name}]", kind)
        elif (entries := _entries(field)) is not None:
            blocks += _array(name, entries)
        elif name == "blocks":
            blocks.append([*_comment(field.description or ""), *_OF_BLOCKS.splitlines()])
        else:
            blocks[0] += _setting(name, field, None)
    return "\n\n".join("\n".join(block) for block in blocks) + "\n"


def _section(header: str, kind: type[BaseModel], given: BaseModel | None = None) -> list[list[str]]:
    """A section with every setting explained, then the arrays of sections inside it."""
    first = [*_comment(str(kind.__doc__)), header]
    arrays: list[list[str]] = []
    for name, field in kind.model_fields.items():
        entries = _entries(field)
        if field.annotation is BlockAttributes:
            arrays.append([*_comment(field.description or ""), *_OF_ATTRIBUTES.splitlines()])
        elif entries is None and (entry := _kind_of_entry(field)) is not None:
            arrays.append([*_comment(field.description or ""), *_commented(f"{header.strip('[]')}.{name}", entry)])
        elif entries is None:
            first += _setting(name, field, given)
        else:
            arrays += _array(f"{header.strip('[]')}.{name}", entries)
    return [first, *arrays]


def _array(name: str, entries: tuple[BaseModel, ...]) -> list[list[str]]:
    """An array of sections: the first with every setting explained, the others with what they set."""
    blocks = _section(f"[[{name}]]", type(entries[0]), entries[0])
    for entry in entries[1:]:
        blocks.append([f"[[{name}]]", *(f"{key} = {_toml(getattr(entry, key))}" for key in _set_keys(entry))])
    return blocks


def _commented(name: str, kind: type[BaseModel]) -> list[str]:
    """An array of sections without an entry of its own: one entry, commented out, with every setting explained."""
    lines = [f"# [[{name}]]"]
    for key, field in kind.model_fields.items():
        default = "" if field.is_required() or field.default is None else f" {_toml(field.default)}"
        lines += [*_comment(_about(field)), f"# {key} ={default}"]
    return lines


def _kind_of_entry(field: FieldInfo) -> type[BaseModel] | None:
    """What an array of sections holds; None for any other setting."""
    inside = [kind for kind in get_args(field.annotation) if isinstance(kind, type) and issubclass(kind, BaseModel)]
    return inside[0] if get_origin(field.annotation) is tuple and inside else None


def _set_keys(entry: BaseModel) -> list[str]:
    return [name for name in type(entry).model_fields if name in entry.model_fields_set]


def _entries(field: FieldInfo) -> tuple[BaseModel, ...] | None:
    """Default entries of an array of sections; None for any other setting."""
    default = None if field.is_required() else field.get_default(call_default_factory=True, validated_data={})
    return default if isinstance(default, tuple) and default and isinstance(default[0], BaseModel) else None


# Settings that the catalogue fills in where the config has none of them, though they have a default.
_LEFT_OUT: Final = ("hold_down_n",)


def _setting(name: str, field: FieldInfo, given: BaseModel | None) -> list[str]:
    to_fill_in = field.is_required() or name == "bearing_deg"
    value = getattr(given, name) if given else _NAME if name == "name" else None if to_fill_in else _default(field)
    about = _about(field) + (" FILL IN." if to_fill_in and value is None else "")
    if value is None:
        return [*_comment(about), f"# {name} ="]
    return [*_comment(about), f"{'# ' if name in _LEFT_OUT else ''}{name} = {_toml(value)}"]


def _default(field: FieldInfo) -> object:
    return field.get_default(call_default_factory=True, validated_data={})


def _about(field: FieldInfo) -> str:
    """What a setting is, and the words it allows."""
    words = choices(field.annotation)
    allowed = f" Allowed: {', '.join(map(_toml, words))}." if words else ""
    return f"{field.description or ''}{allowed}"


def _explained(schema: Any) -> Any:  # noqa: ANN401 - any part of a schema
    """Return the schema, its descriptions in words for those who do not know us."""
    if isinstance(schema, list):
        return [_explained(part) for part in schema]
    if not isinstance(schema, dict):
        return schema
    return {
        key: _ours(part) if key == "description" and isinstance(part, str) else _explained(part)
        for key, part in schema.items()
    }


def _ours(text: str) -> str:
    return _OUR_CHOICE.sub("wirerun's own choice", text)


def _comment(text: str) -> list[str]:
    return [f"# {line}" for line in textwrap.wrap(_ours(" ".join(text.split())), _WIDTH)]


def _toml(value: object) -> str:
    """TOML of a string, number, truth value or list of them: JSON writes these alike."""
    return json.dumps(value)
