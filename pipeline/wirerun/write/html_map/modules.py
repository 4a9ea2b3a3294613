"""The page's script: the modules of ``page`` in one, each in a scope of its own, none before what it imports.

A browser lets a page from a disk import nothing, not even from the same folder, and a bundler would have to be
installed first. So the modules keep to what takes no parser to join: imports and exports that start a line. Pages
beside the map may import modules of the map (``../../html_map/page/x.js``); a module goes by its file's name alone, so
no two have the same one.

Worked example: ``import { a } from "./x.js";`` becomes ``const { a } = $x;``, and ``export function b`` loses its first
word and is handed out at the end of its module, in ``$name``.
"""

import re
from collections.abc import Callable
from typing import Final

# import { a, b as c } | * as names | values, which a JSON file stands for
_IMPORT: Final = re.compile(
    r'^import (?P<what>[^;]+?) from "(?:\./|\.\./\.\./html_map/page/)(?P<file>[\w.]+)"(?: with \{ type: "json" \})?;$',
    re.MULTILINE,
)
_EXPORT: Final = re.compile(r"^export (?=(?:async )?(?:function|const) (?P<name>\w+))", re.MULTILINE)
_LEFT_OVER: Final = re.compile(r"^(?:import|export)\b.*", re.MULTILINE)


def joined(entry: str, read: Callable[[str], str], name: str) -> str:
    """Return a script that puts what the entry module exports into one constant.

    Parameters
    ----------
    entry : str
        File of the module that all others are reached from.
    read : callable
        Gives the text of a file.
    name : str
        The constant.

    Raises
    ------
    ValueError
        If modules import each other in a circle, or one is written so that it cannot be joined.
    """
    done: dict[str, str] = {}
    _join(entry, read, done, ())
    return f'"use strict";\nconst {name} = (() => {{\n{"".join(done.values())}return {_scope(entry)};\n}})();'


def _join(file: str, read: Callable[[str], str], done: dict[str, str], above: tuple[str, ...]) -> None:
    """Add a module to those that are done, after all that it imports."""
    if file in above:
        msg = f"modules import each other in a circle: {' > '.join((*above, file))}"
        raise ValueError(msg)
    if file in done:
        return
    text = read(file)
    for one in _IMPORT.finditer(text):
        _join(one["file"], read, done, (*above, file))
    if file.endswith(".json"):
        done[file] = f"const {_scope(file)} = {text.strip()};\n"
        return
    exports = ", ".join(one["name"] for one in _EXPORT.finditer(text))
    body = _EXPORT.sub("", _IMPORT.sub(_taken, text))
    if left := _LEFT_OVER.search(body):
        msg = f"{file} cannot be joined to the rest: {left[0]}"
        raise ValueError(msg)
    done[file] = f"const {_scope(file)} = (() => {{\n{body}return {{ {exports} }};\n}})();\n"


def _taken(line: re.Match[str]) -> str:
    """Return an import as a constant of the importing module."""
    what = line["what"].removeprefix("* as ").replace(" as ", ": ")
    return f"const {what} = {_scope(line['file'])};"


def _scope(file: str) -> str:
    return "$" + file.partition(".")[0]
