"""The scripts and styles that go into the map page: the map library's, from its installed package, and our own."""

import base64
import re
from importlib import metadata
from importlib.resources import files
from importlib.resources.abc import Traversable
from typing import Final

from wirerun.write.html_map.modules import joined

LIBRARY: Final = "django-js-lib-leaflet"  # the distribution; only its files are used, nothing of it is imported

STYLES: Final = (
    "base.css",
    "map.css",
    "map_tools.css",
    "map_sheet.css",
    "map_card.css",
    "map_walk.css",
    "map_panel.css",
    "map_small.css",
    "map_print.css",
)


def library_script() -> str:
    """Return the map library's script, without the pointer to its source map: the page may ask for no other file."""
    return re.sub(r"(?m)^//# sourceMappingURL=.*$", "", _library_file("leaflet.js").read_text("utf-8")).strip()


def library_style() -> str:
    """Return the map library's style sheet with its pictures inside."""
    style = _library_file("leaflet.css").read_text("utf-8")
    style = re.sub(r"\s*behavior:\s*url\(#default#VML\);", "", style)
    return re.sub(r"url\(([^)#:]+\.png)\)", lambda found: f"url({_picture(found[1])})", style)


def library_pins() -> dict[str, str]:
    """Return the pictures of the map library's own markers: it looks for files beside a style sheet of its own."""
    names = {"iconUrl": "marker-icon", "iconRetinaUrl": "marker-icon-2x", "shadowUrl": "marker-shadow"}
    return {option: _picture(f"images/{name}.png") for option, name in names.items()}


def library_licence() -> str:
    """Return the map library's licence, which must go wherever its code goes; empty if the package has none."""
    return metadata.distribution(LIBRARY).read_text("LICENSE") or ""


def own_script() -> str:
    """Return our script, which hands out what draws the plan as ``PlanMap``."""
    return joined("main.js", own_file, "PlanMap")


def own_style() -> str:
    """Return our style sheet."""
    return "\n".join(own_file(name) for name in STYLES)


def own_file(name: str) -> str:
    """Return the text of a file of ``page``."""
    return (files("wirerun.write.html_map") / "page" / name).read_text("utf-8")


def _library_file(name: str) -> Traversable:
    return files("js_lib_leaflet") / "static" / "js_lib_leaflet" / name


def _picture(path: str) -> str:
    """Return a picture of the library's as a data URI."""
    data = _library_file(path.strip("\"'")).read_bytes()
    return "data:image/png;base64," + base64.b64encode(data).decode("ascii")
