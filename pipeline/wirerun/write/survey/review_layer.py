"""The review as a layer of the plan's kind of map; imported only where a page is made, for folium is slow."""

from importlib.resources import files
from typing import Final, cast

from folium.template import Template

from wirerun.write.html_map import assets
from wirerun.write.html_map.plan_map import Edges, Page, PageLayer, Text

_STYLES: Final = ("base.css", "map.css", "map_tools.css", "map_panel.css")
#: What stands over the map: words for those who do not see it.
OVER_MAP: Final = '<p id="map-words" class="unseen"></p>'


def page_file(name: str) -> str:
    """Return the text of a file of ``page``."""
    return (files("wirerun.write.survey") / "page" / name).read_text("utf-8")


class ReviewLayer(PageLayer):
    """The survey on the map: its data, its panel, and the script that draws it.

    Parameters
    ----------
    data, script : str
        JSON without any "<", and what draws it.
    edges : list
        South, west and north, east of all blocks. [deg]
    """

    _template = Template(
        "{% macro script(this, kwargs) %}"
        "const {{ this.get_name() }} = ReviewMap.reviewLayer({{ this.edges|tojson }});"
        "{{ this.get_name() }}.addTo({{ this._parent.get_name() }});"
        "{% endmacro %}"
    )

    def __init__(self, data: str, script: str, edges: Edges) -> None:
        super().__init__(name="Survey", overlay=True)
        self.data, self.code, self.edges = data, script, edges

    def render(self, **kwargs: object) -> str:
        """Put the parts into the page; return nothing of its own."""
        page = cast("Page", self.get_root())
        style = "\n".join([*(assets.own_file(name) for name in _STYLES), page_file("review.css")])
        page.header.add_child(Text(f"<style>\n{style}</style>"), name="plan_style")
        page.header.add_child(Text(f"<script>\n{self.code}\n</script>"), name="plan_script")
        page.html.add_child(Text(page_file("header.html")), name="plan_header", index=0)
        page.html.add_child(Text(page_file("review.html")), name="plan_panel")
        page.html.add_child(Text(f'<script type="text/plain" id="plan-data">{self.data}</script>'), name="plan_data")
        super().render(**kwargs)  # type: ignore[no-untyped-call]
        return ""

    def get_name(self) -> str:
        """Return the same name in every page."""
        return "review_layer"
