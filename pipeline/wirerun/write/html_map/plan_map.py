"""The map as a folium map, of which our canvas plan is a layer; imported only where a map is made, for folium is slow.

folium writes the page. What it would fetch from elsewhere is inside (the map library), or left out until something that
was added asks for it (what its popups and coloured icons need).
"""

import re
from html import escape
from typing import Final, cast

import folium
from branca.element import CssLink, Element, Figure, JavascriptLink, Link
from folium.template import Template

from wirerun.write.html_map import assets
from wirerun.write.html_map.policy import policy

# A pixel is then 3 cm on the ground at 41 degrees, two posts some 200 pixels apart: closer there is no more to see.
_CLOSEST_ZOOM: Final = 22
_POLICY_HERE: Final = "<!-- policy -->"
# What else folium gives every map, by how a script asks for it. Its Bootstrap is not among them: it restyles the page.
_BESIDES: Final = {
    r"\$[(.]": ("jquery",),
    r"\bL\.AwesomeMarkers\b": (
        "awesome_markers",
        "glyphicons_css",
        "awesome_markers_font_css",
        "awesome_markers_css",
        "awesome_rotate_css",
    ),
}
_PICTURE: Final = re.compile(r'L\.(?:tileLayer(?:\.wms)?|imageOverlay)\(\s*"([^"]+)"')

_AFTER_LIBRARY: Final = 4

Edges = list[list[float]]


class Text(Element):
    """Text that goes into the page as it is: its braces are no template."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.text = text

    def render(self, **_: object) -> str:
        """Return the text."""
        return self.text


class Page(Figure):
    """The page round the map: folium's, with the map library in it, and a policy that names what may run."""

    def __init__(self, title: str, pictures_from: str) -> None:
        super().__init__(title=escape(title))
        self.pictures_from = pictures_from
        licence = escape(assets.library_licence(), quote=False).replace("--", "- -")
        head = {
            # The parent's own charset line goes by this name.
            "meta_http": f'<meta charset="utf-8">\n{_POLICY_HERE}\n<meta name="referrer" content="no-referrer">\n'
            '<meta name="viewport" content="width=device-width, initial-scale=1">',
            "licence": f"<!-- The map library below is used under this licence:\n{licence}-->",
            "library_style": f"<style>\n{assets.library_style()}\n</style>",
            "library": f"<script>\n{assets.library_script()}\n</script>",
        }  # then `_BESIDES`, from the place _AFTER_LIBRARY
        for name, text in head.items():
            self.header.add_child(Text(text), name=name)

    def render(self, **kwargs: object) -> str:
        """Return the page as text, the same however often it is asked for."""
        parts = (self.header, self.html, self.script)
        before = [part._children.copy() for part in parts]  # noqa: SLF001
        page = super().render(**kwargs).replace("<html>", '<html lang="en">', 1)
        links = [element.url for element in self.header._children.values() if isinstance(element, Link)]  # noqa: SLF001
        pictures = [self.pictures_from, *_PICTURE.findall(self.script.render())]
        # What rendering put into the parts would stay there, and come twice the next time.
        for part, children in zip(parts, before, strict=True):
            part._children = children  # noqa: SLF001
        guests = len(self._children["plan_map"]._children) > 1 or len(self.html._children) > 0  # noqa: SLF001
        # Once: that is ours, whatever stands further down.
        return page.replace(_POLICY_HERE, policy(page, code=links, pictures=pictures, guests=guests), 1)


class PageLayer(folium.map.Layer):
    """What fills a page: a layer of the map; `edges` are its south, west and north, east in degrees."""

    edges: Edges

    def _get_self_bounds(self) -> list[list[float | None]]:
        return [list(corner) for corner in self.edges]


class PlanLayer(PageLayer):
    """The plan on the map: its data, its panel, and the script that draws it on one canvas.

    Parameters
    ----------
    data : str
        What `columns.compressed` makes of the page's data.
    edges : list
        South, west and north, east of all blocks: [[lat, lon], [lat, lon]]. [deg]
    """

    _template = Template(
        "{% macro script(this, kwargs) %}"
        "const {{ this.get_name() }} = PlanMap.planLayer({{ this.edges|tojson }});"
        "{% endmacro %}"
    )

    def __init__(self, data: str, edges: Edges) -> None:
        super().__init__(name="Trellis wire plan", overlay=True)
        self.data, self.edges = data, edges

    def render(self, **kwargs: object) -> str:
        """Put the parts into the page; return nothing of its own."""
        page = cast("Page", self.get_root())
        # Not by the template: what a template made is read as a template once more.
        page.header.add_child(Text(f"<style>\n{assets.own_style()}</style>"), name="plan_style")
        page.header.add_child(Text(f"<script>\n{assets.own_script()}\n</script>"), name="plan_script")
        page.html.add_child(Text(assets.own_file("header.html")), name="plan_header", index=0)
        page.html.add_child(Text(assets.own_file("panel.html")), name="plan_panel")
        data = f'<script type="text/plain" id="plan-data">{self.data}</script>'
        page.html.add_child(Text(data), name="plan_data")
        super().render(**kwargs)  # type: ignore[no-untyped-call]
        return ""

    def get_name(self) -> str:
        """Return the same name in every page: the same plan gives the same bytes."""
        return "plan_layer"


class PlanMap(folium.Map):
    """A folium map with the plan on it: show it in a notebook, add to it, save it.

    Parameters
    ----------
    layer : PageLayer
        The plan, or what else fills a page.
    title : str
        The page's title.
    pictures_from : str
        The host of the config's online map, the one that pictures may come from; empty where it has none.
    over_map : str, optional
        HTML over the map, of an id `map-words` among it; by default that of a plan.
    called : str
        What those hear who do not see it.
    """

    _template = Template(
        """
        {% macro html(this, kwargs) %}<main id="plan" tabindex="-1">
        <div class="folium-map" id="{{ this.get_name() }}" role="application" aria-label="{{ this.called }}"
            aria-describedby="map-words"></div>
        {{ this.over_map }}</main>{% endmacro %}
        {% macro script(this, kwargs) %}
        const {{ this.get_name() }} = L.map({{ this.get_name()|tojson }}, {
            center: {{ this.location|tojson }},
            ...{{ this.options|tojavascript }}
        });
        {% if this._children|length > 1 %}
        L.Icon.Default.imagePath = "";
        L.Icon.Default.mergeOptions({{ this.pins|tojson }});
        {% endif %}
        {% for layer in this.objects_to_stay_in_front %}
        {{ this.get_name() }}.on("overlayadd", () => {{ layer.get_name() }}.bringToFront());
        {% endfor %}
        {% endmacro %}
        """
    )

    def __init__(
        self,
        layer: PageLayer,
        title: str,
        pictures_from: str = "",
        *,
        over_map: str | None = None,
        called: str = "Map of the plan",
    ) -> None:
        (south, west), (north, east) = layer.edges
        super().__init__(
            location=[(south + north) / 2, (west + east) / 2],
            zoom_start=16,
            max_zoom=_CLOSEST_ZOOM,
            tiles=None,
            prefer_canvas=True,
            zoom_snap=0.25,
            attribution_control=False,  # ours stands in the panel
        )
        self.default_js, self.default_css = [], []  # the map library is in the page
        self.pins = assets.library_pins()
        self.over_map = assets.own_file("over_map.html") if over_map is None else over_map
        self.called = called
        Page(title, pictures_from).add_child(self)
        self.add_child(layer)

    def render(self, **kwargs: object) -> str:
        """Put the map and all that was added into the page, and what folium's own scripts need beside it."""
        super().render(**kwargs)  # type: ignore[no-untyped-call]
        page = cast("Page", self.get_root())
        script = page.script.render()
        addresses = dict(folium.Map.default_js + folium.Map.default_css)
        asked = [name for asks, names in _BESIDES.items() if re.search(asks, script) for name in names]
        for place, name in enumerate(asked, start=_AFTER_LIBRARY):
            kind = CssLink if name.endswith("_css") else JavascriptLink
            page.header.add_child(kind(addresses[name]), name=name, index=place)
        return ""

    def get_name(self) -> str:
        """Return the same name in every page."""
        return "plan_map"
