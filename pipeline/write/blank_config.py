"""A config to fill in, and the schema of configs, both made from the settings themselves."""

import json
import textwrap
from pathlib import Path
from typing import Any, Final

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from pipeline.errors import TargetError
from pipeline.settings import Config

_WIDTH: Final = 100

# What stands in the blank config where a setting has no default.
_EXAMPLES: Final[dict[str, object]] = {
    "name": "my-block",
    "boundary": "block.geojson",
    "raster": "ground.tif",
    "bearing_deg": 0.0,
    "spacing_m": 2.4,
}


def config_schema() -> dict[str, Any]:
    """JSON Schema (draft-07) of the config."""
    made = Config.model_json_schema(ref_template="#/definitions/{model}")
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
    """Text of the blank config: settings to fill in stand as examples, the rest as their defaults."""
    blocks = [_lines({"name": Config.model_fields["name"]})]
    for name, field in Config.model_fields.items():
        if isinstance(field.annotation, type) and issubclass(field.annotation, BaseModel):
            section = field.annotation
            blocks.append([*_comment(str(section.__doc__)), f"[{name}]", *_lines(section.model_fields)])
        elif name == "wires":
            wires = field.get_default(call_default_factory=True)
            blocks.extend(_wire_lines(wire, with_comments=wire is wires[0]) for wire in wires)
    return "\n\n".join("\n".join(block) for block in blocks) + "\n"


def _wire_lines(wire: BaseModel, *, with_comments: bool) -> list[str]:
    """One wire; the first with every setting explained, the others with what they set."""
    if with_comments:
        given = {name: getattr(wire, name) for name in type(wire).model_fields}
        return [*_comment(str(wire.__doc__)), "[[wires]]", *_lines(type(wire).model_fields, given)]
    return ["[[wires]]", *(f"{name} = {_toml(getattr(wire, name))}" for name in sorted(wire.model_fields_set))]


def _lines(fields: dict[str, FieldInfo], given: dict[str, object] | None = None) -> list[str]:
    lines: list[str] = []
    for name, field in fields.items():
        lines += _comment(field.description or "")
        value = (given or {}).get(name, _EXAMPLES.get(name) if field.is_required() else field.default)
        lines.append(f"# {name} =" if value is None else f"{name} = {_toml(value)}")
    return lines


def _comment(text: str) -> list[str]:
    return [f"# {line}" for line in textwrap.wrap(" ".join(text.split()), _WIDTH)]


def _toml(value: object) -> str:
    """TOML of a string, number or truth value: JSON writes these alike."""
    return json.dumps(value)
