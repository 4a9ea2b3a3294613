"""What is wrong with a setting, in a plain sentence.

The checks are the settings' own; this is only how they are told.
"""

import re
from collections import Counter
from collections.abc import Callable, Mapping
from difflib import get_close_matches
from typing import Any, Final, get_args, get_origin

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from wirerun.errors import MOST_TOLD, Faults
from wirerun.settings import BlockOverride, Config, choices
from wirerun.settings.section import ONE, SEVERAL, WHETHER

_WANTED: Final[Mapping[str, str]] = {
    "string_type": "text in quotes",
    "float_type": "a number",
    "int_type": "a whole number",
    "int_from_float": "a whole number",
    "bool_type": "true or false",
    "model_type": "a table of settings",
    "dict_type": "a table of settings",
    "tuple_type": "a list of tables, each headed by double brackets",
    "list_type": "a list",
    "finite_number": "a finite number",
}

_LIMITS: Final[Mapping[str, tuple[str, str]]] = {
    "greater_than_equal": ("is below the least value", "ge"),
    "greater_than": ("is too small; it must be above", "gt"),
    "less_than_equal": ("is above the greatest value", "le"),
    "less_than": ("is too large; it must be below", "lt"),
}

# Of many refused settings the first are told each; what the others are.
_MORE: Final[Mapping[str, str]] = {
    "extra_forbidden": "unknown settings",
    "missing": "missing settings",
}

# In words, what the patterns of the settings mean. A test holds them together.
PATTERNS: Final[Mapping[str, str]] = {
    r"^[A-Za-z0-9][A-Za-z0-9_-]{0,63}$": "1 to 64 letters, digits, - and _, the first a letter or digit",
    r"^[A-Za-z0-9_][A-Za-z0-9_-]{0,23}$": "1 to 24 letters, digits, - and _, the first no -",
    r"^[A-Za-z0-9_][A-Za-z0-9_ -]{0,39}$": "1 to 40 letters, digits, blanks, - and _, the first no blank or -",
    r"^[0-9]{4}-[0-9]{2}-[0-9]{2}$": "days such as 2026-06-21",
    r"^[A-Z]{3}$": "three capital letters, such as EUR",
}


def tell(error: ValidationError, data: Mapping[str, Any], file: str, faults: Faults) -> None:
    """Add one fault per setting that was refused.

    Parameters
    ----------
    error : ValidationError
        What `Config` said of `data`.
    data : mapping
        The config as written, to name the wires by their ids.
    file : str
        The config file as given.
    faults : Faults
        Gets the faults.
    """
    of_kind: Counter[str] = Counter()
    for detail in error.errors(include_url=False):
        of_kind[detail["type"]] += 1
        if of_kind[detail["type"]] > MOST_TOLD:
            continue
        sentence = _sentence(detail)
        if sentence:
            faults.add(file, place_of(detail["loc"], data), sentence)
    for kind, many in of_kind.items():
        if many > MOST_TOLD:
            faults.add(file, "", f"and {many - MOST_TOLD} more {_MORE.get(kind, 'settings that will not do')}")


def place_of(loc: tuple[int | str, ...], data: Mapping[str, Any]) -> str:
    """Dotted name of a setting; a wire goes by its id, or by its number where it has none of its own."""
    loc = tuple(part for part in loc if part not in (ONE, SEVERAL, WHETHER))
    if len(loc) < 2 or loc[0] != "wires" or not isinstance(loc[1], int):
        return ".".join(str(part) for part in loc)
    ids = [wire.get("id") if isinstance(wire, Mapping) else None for wire in data["wires"]]
    name = ids[loc[1]]
    own = isinstance(name, str) and ids.count(name) == 1 and re.fullmatch(r"[\w-]+", name)
    return ".".join(["wires", str(name) if own else f"number {loc[1] + 1}", *(str(part) for part in loc[2:])])


def _sentence(detail: ErrorDetails) -> str | None:
    """Return the sentence for one refused setting, or None where another fault says it already."""
    kind, value, context = detail["type"], detail["input"], detail.get("ctx", {})
    if kind in _WANTED:
        return f"{shown(value)} will not do; {_WANTED[kind]} is wanted"
    if kind in _LIMITS:
        words, key = _LIMITS[kind]
        return f"{shown(value)} {words} {context[key]:g}"
    special = _SPECIAL.get(kind)
    return special(detail) if special else f"{shown(value)} will not do"


def _unknown(detail: ErrorDetails) -> str:
    """Return what an unknown setting may have been meant to be."""
    *into, key = detail["loc"]
    section = _section(into)
    of_block = ".".join(str(part) for part in into) + "." if section is BlockOverride else ""
    near = get_close_matches(str(key), list(section.model_fields), n=1)
    if near:
        return f"unknown setting; did you mean {near[0]}?"
    homes = [
        f"[{of_block}{name}]"
        for name, field in Config.model_fields.items()
        if (model := _model(field.annotation)) and model is not section and key in model.model_fields
        if not of_block or name in section.model_fields
    ]
    if key in Config.model_fields and section is not Config:
        homes.insert(0, "the top of the file, before any table")
    if homes:
        return f"unknown setting here; it belongs in {' or '.join(homes)}"
    return f"unknown setting; known here are {', '.join(section.model_fields)}"


def _missing(detail: ErrorDetails) -> str:
    *into, key = detail["loc"]
    model = _model(_section(into).model_fields[str(key)].annotation)
    if model is None:
        return "missing; this setting is required"
    needed = [name for name, field in model.model_fields.items() if field.is_required()]
    return f"the table [{key}] is missing; it is required, with {' and '.join(needed)}"


def _choice(detail: ErrorDetails) -> str:
    *into, key = (part for part in detail["loc"] if not isinstance(part, int))
    allowed = choices(_section(into).model_fields[str(key)].annotation)
    return f"{shown(detail['input'])} is not known; allowed: {', '.join(shown(value) for value in allowed)}"


def _pattern(detail: ErrorDetails) -> str:
    pattern = detail["ctx"]["pattern"]
    return f"{shown(detail['input'])} will not do; wanted are {PATTERNS.get(pattern, pattern)}"


def _too_short_list(detail: ErrorDetails) -> str | None:
    # A list whose members were all refused counts as empty; the members' own faults say enough.
    return None if detail["input"] else "the list is empty; leave it out for the default, or give at least one"


def _too_many(detail: ErrorDetails, what: str) -> str:
    return f"{len(detail['input'])} {what} are too many; at most {detail['ctx']['max_length']} are allowed"


def _said(detail: ErrorDetails) -> str | None:
    """Return the sentence of a check of ours; the rules between settings (no place) are told apart."""
    return str(detail["ctx"]["error"]) if detail["loc"] else None


_SPECIAL: Final[Mapping[str, Callable[[ErrorDetails], str | None]]] = {
    "extra_forbidden": _unknown,
    "missing": _missing,
    "literal_error": _choice,
    "string_pattern_mismatch": _pattern,
    "string_too_short": lambda _detail: "the text is empty; leave the setting out or give a value",
    "string_too_long": lambda detail: _too_many(detail, "characters"),
    "too_short": _too_short_list,
    "too_long": lambda detail: _too_many(detail, "members"),
    "value_error": _said,
}


def shown(value: object) -> str:
    """Return a value as it stands in a config, cut short; what is no single value by its kind."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        short = value if len(value) <= 60 else value[:57] + "..."
        return '"' + "".join(c if c.isprintable() else "?" for c in short) + '"'
    if isinstance(value, Mapping):
        return "a table"
    if isinstance(value, list | tuple):
        return "a list"
    return str(value)


def _section(into: list[Any]) -> type[BaseModel]:
    """Return the class of the settings at a place."""
    section: type[BaseModel] = Config
    parts = iter(into)
    for part in parts:
        if isinstance(part, int):
            continue
        annotation = section.model_fields[str(part)].annotation
        if get_origin(annotation) is dict:
            next(parts, None)  # the name of a block
        section = _model(annotation) or section
    return section


def _model(annotation: Any) -> type[BaseModel] | None:  # noqa: ANN401 - any annotation
    """Return the class of settings behind an annotation, or of the members of a list; None for a single value."""
    if get_origin(annotation) in (tuple, dict):
        annotation = next((kind for kind in get_args(annotation) if kind not in (str, ...)), None)
    return annotation if isinstance(annotation, type) and issubclass(annotation, BaseModel) else None
