"""The map: one HTML file that opens from disk and asks nobody for anything.

The page carries its scripts, its styles, its data and its ground inside. Its security policy lets only those scripts
run, named by their SHA-256; data is inert JSON, and the page puts it on the screen as text, never as markup.
"""

import base64
import hashlib
import json
import re
from html import escape
from pathlib import Path
from typing import Any, Final

from branca.element import Element, Figure, MacroElement
from folium import Map
from folium.template import Template

from wirerun.records import Plan
from wirerun.write.html_map import assets
from wirerun.write.html_map.backdrop import make_backdrop
from wirerun.write.html_map.data import map_data

_POLICY_HERE: Final = "<!-- policy -->"
_CLOSEST_ZOOM: Final = 24  # a pixel is then 7 mm on the ground
# What could end the data's script element or start another, or what older scripts take for the end of a line.
_JSON_ESCAPES: Final = {ord(sign): f"\\u{ord(sign):04x}" for sign in "<>&\u2028\u2029"}


class _Text(Element):
    """Text that goes into the page as it is: its braces are no template."""

    def __init__(self, name: str, text: str) -> None:
        super().__init__()
        self._name = name
        self._id = ""
        self.text = text

    def render(self, **_: object) -> str:
        """Return the text."""
        return self.text


class _Page(Figure):
    """The page round the map."""

    _template = Template(
        '<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        + _POLICY_HERE
        + '\n<meta name="referrer" content="no-referrer">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        "<title>{{ this.title|e }}</title>\n{{ this.header.render(**kwargs) }}\n</head>\n"
        "<body>\n{{ this.html.render(**kwargs) }}\n"
        "<script>\n{{ this.script.render(**kwargs) }}\n</script>\n</body>\n</html>\n"
    )

    def __init__(self, title: str) -> None:
        super().__init__(title=title)
        # The parent's own charset line comes too late: the policy must stand first.
        self.header = Element()
        self.header._parent = self  # noqa: SLF001 - how the library ties its parts together


class _PlanMap(Map):
    """The empty map, without the parts that the library would fetch from elsewhere, and with a fixed name."""

    default_js = []  # noqa: RUF012 - the library's own way to say it
    default_css = []  # noqa: RUF012
    _template = Template(
        """
        {% macro html(this, kwargs) %}<div class="folium-map" id="{{ this.get_name() }}"></div>{% endmacro %}
        {% macro script(this, kwargs) %}
        const {{ this.get_name() }} = L.map("{{ this.get_name() }}", {
            center: {{ this.location|tojson }},
            ...{{ this.options|tojavascript }}
        });
        {% endmacro %}
        """
    )

    def get_name(self) -> str:
        """Return the same name in every page: the same plan gives the same bytes."""
        return "plan_map"


class _PlanLayers(MacroElement):
    """The plan on the map: its data, its panel, and the call that draws it."""

    _template = Template("{% macro script(this, kwargs) %}PlanMap.start({{ this._parent.get_name() }});{% endmacro %}")

    def __init__(self, data: str) -> None:
        super().__init__()  # type: ignore[no-untyped-call]
        self.data = data

    def render(self, **kwargs: object) -> str:
        """Put the parts into the page; return nothing of its own."""
        super().render(**kwargs)  # type: ignore[no-untyped-call]
        # Not by the template: the library reads what a template made as a template once more, and would run what stands
        # between double braces in somebody's block name.
        page = self.get_root()
        if isinstance(page, Figure):
            data = f'<script type="application/json" id="plan-data">{self.data}</script>'
            page.html.add_child(_Text("sheet", assets.own_file("sheet.html")))
            page.html.add_child(_Text("panel", assets.own_file("panel.html")))
            page.html.add_child(_Text("data", data))
        return ""

    def get_name(self) -> str:
        """Return the same name in every page."""
        return "plan_layers"


def write_map(plan: Plan, path: Path) -> None:
    """Write the map of a plan: one HTML file, the same bytes for the same plan.

    Parameters
    ----------
    plan : Plan
        What to show.
    path : Path
        The file to write; its folder must be there.
    """
    path.write_text(map_page(plan), encoding="utf-8", newline="\n")


def map_page(plan: Plan) -> str:
    """Return the whole page as text."""
    data = map_data(plan, make_backdrop(plan.grids, plan.config.work.slope_classes_pct))
    west, south, east, north = plan.blocks.total_bounds.tolist()
    page = _Page(title=f"{plan.config.name}: trellis wire plan")
    _furnish(page)
    plan_map = _PlanMap(
        location=[(south + north) / 2, (west + east) / 2],
        zoom_start=16,
        max_zoom=_CLOSEST_ZOOM,
        tiles=None,
        prefer_canvas=True,
        zoom_snap=0.25,
        attribution_control=False,  # ours stands in the panel
    )
    page.add_child(plan_map)
    plan_map.add_child(_PlanLayers(inert_json(data)))
    return _with_policy(page.render().replace("\r\n", "\n"), plan.config.map.basemap_origin)


def inert_json(data: dict[str, Any]) -> str:
    r"""Return data as JSON that means nothing to an HTML parser, whatever texts it holds.

    Example: the name ``</script>`` becomes ``"\u003c/script\u003e"``.
    """
    written = json.dumps(data, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    # A lone surrogate (from a broken file name) has no UTF-8.
    return written.translate(_JSON_ESCAPES).encode("utf-8", "replace").decode("utf-8")


def _furnish(page: _Page) -> None:
    """Put the scripts, the styles and the head of the page in their places."""
    licence = escape(assets.library_licence(), quote=False).replace("--", "- -")
    page.header.add_child(_Text("licence", f"<!-- The map library below is used under this licence:\n{licence}-->"))
    page.header.add_child(_Text("style", f"<style>\n{assets.library_style()}\n{assets.own_style()}</style>"))
    for number, script in enumerate((assets.library_script(), *assets.own_scripts())):
        page.header.add_child(_Text(f"script{number}", f"<script>\n{script}</script>"))
    page.html.add_child(_Text("head", assets.own_file("header.html")))


def _with_policy(page: str, pictures_from: str) -> str:
    """Return the page with the policy that allows its own scripts and styles, and pictures of one host at most."""
    scripts = [_digest(text) for text in re.findall(r"<script>(.*?)</script>", page, re.DOTALL)]
    styles = [_digest(text) for text in re.findall(r"<style>(.*?)</style>", page, re.DOTALL)]
    images = " ".join(["data:", "blob:", *([pictures_from] if pictures_from else [])])
    policy = (
        f"default-src 'none'; script-src {' '.join(scripts)}; style-src {' '.join(styles)}; img-src {images}; "
        "base-uri 'none'; form-action 'none'"
    )
    return page.replace(_POLICY_HERE, f'<meta http-equiv="Content-Security-Policy" content="{policy}">', 1)


def _digest(text: str) -> str:
    """Return a script's or style's name in the policy."""
    return f"'sha256-{base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()}'"
