"""The map as a folium map: what is added comes into the page, and its policy allows that and nothing more."""

import base64
import hashlib
import html
import re
import subprocess
import sys
from pathlib import Path

import folium
from folium.plugins import MiniMap, MousePosition
from wirerun.records import Plan
from wirerun.write.html_map import build_map, write_map

GEOJSON = {"type": "Feature", "properties": {}, "geometry": {"type": "Point", "coordinates": [-7.54, 41.2]}}


def rules(page: str) -> dict[str, list[str]]:
    """Return the sources that each rule of a page's policy names."""
    (policy,) = re.findall(r'<meta http-equiv="Content-Security-Policy" content="([^"]*)">', page)
    return {rule.split()[0]: rule.split()[1:] for rule in policy.split(";")}


def hosts(page: str) -> dict[str, set[str]]:
    """Return the hosts among them, of rules that name any."""
    named = {rule: {one for one in sources if "://" in one} for rule, sources in rules(page).items()}
    return {rule: some for rule, some in named.items() if some}


def page_with(plan: Plan, *guests: folium.Element) -> str:
    """Return the page of a map with something added."""
    plan_map = build_map(plan)
    for guest in guests:
        plan_map.add_child(guest)
    return str(plan_map.get_root().render())


def test_it_is_a_folium_map_that_knows_where_the_plan_is(plan: Plan) -> None:
    plan_map = build_map(plan)
    assert isinstance(plan_map, folium.Map)
    west, south, east, north = plan.blocks.total_bounds
    assert plan_map.get_bounds() == [[south, west], [north, east]]


def test_a_notebook_shows_the_page_itself(plan: Plan) -> None:
    plan_map = build_map(plan)
    (frame,) = re.findall(r'<iframe srcdoc="([^"]*)"', plan_map._repr_html_())
    assert html.unescape(frame) == plan_map.get_root().render()


def test_folium_is_imported_when_a_map_is_made_and_not_before() -> None:
    ask = "import sys, wirerun.write.html_map; print([name for name in ('folium', 'branca') if name in sys.modules])"
    said = subprocess.run([sys.executable, "-c", ask], capture_output=True, text=True, check=True)  # noqa: S603 - our own words
    assert said.stdout.strip() == "[]"


def test_what_needs_no_network_opens_no_door(plan: Plan) -> None:
    page = page_with(plan, folium.Marker([41.2, -7.54], tooltip="Gate"), folium.GeoJson(GEOJSON))
    assert hosts(page) == {}
    assert "<link" not in page
    assert 'src="http' not in page
    assert "Gate" in page
    # Their markup may have styles of its own, but no script.
    assert rules(page)["style-src-attr"] == ["'unsafe-inline'"]
    assert "unsafe" not in " ".join(rules(page)["script-src"])
    # The pictures of the library's own pins are in the page.
    assert page.count("data:image/png;base64,") > build_map(plan).get_root().render().count("data:image/png;base64,")


def test_only_the_hosts_that_are_named_are_let_in(plan: Plan) -> None:
    plugin = MousePosition()  # type: ignore[no-untyped-call]
    page = page_with(plan, plugin)
    named = {"/".join(url.split("/")[:3]) for _, url in plugin.default_js + plugin.default_css}
    assert hosts(page) == dict.fromkeys(("script-src", "style-src", "font-src", "img-src"), named)


def test_a_plugins_tiles_are_pictures_and_no_scripts(plan: Plan) -> None:
    tiles = folium.TileLayer("https://{s}.tiles.example.org/{z}/{x}/{y}.png", attr="Us")
    page = page_with(plan, MiniMap(tile_layer=tiles))  # type: ignore[no-untyped-call]
    assert "https://*.tiles.example.org" in hosts(page)["img-src"]
    assert "https://*.tiles.example.org" not in hosts(page)["script-src"]


def test_popups_and_coloured_icons_bring_what_they_need(plan: Plan) -> None:
    assert hosts(page_with(plan, folium.Marker([41.2, -7.54], popup="Gate")))["script-src"] == {
        "https://code.jquery.com"
    }
    page = page_with(plan, folium.Marker([41.2, -7.54], icon=folium.Icon(color="red")))
    assert "leaflet.awesome-markers.js" in page
    assert "https://code.jquery.com" not in hosts(page)["script-src"]
    # Scripts that build on the map library stand behind it, and our style has the last word.
    assert page.index("https://leafletjs.com") < page.index("leaflet.awesome-markers.js") < page.index("const PlanMap")


def test_every_script_of_a_guest_is_in_the_policy(plan: Plan) -> None:
    marker = folium.Marker([41.2, -7.54], popup="Gate\r\nof the block")
    page = page_with(plan, marker, MousePosition(), folium.LayerControl())  # type: ignore[no-untyped-call]
    # A browser makes one sign of every line end before it hashes a script (HTML Standard, 13.2.3.5).
    assert "\r" not in page
    scripts = re.findall(r"<script>(.*?)</script>", page, re.DOTALL)
    assert any("Gate" in script for script in scripts)
    digests = {f"'sha256-{base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()}'" for text in scripts}
    assert digests <= set(rules(page)["script-src"])


def test_a_heading_over_the_page_may_be_styled(plan: Plan) -> None:
    plan_map = build_map(plan)
    root = plan_map.get_root()
    assert isinstance(root, folium.Figure)
    root.html.add_child(folium.Element('<h3 style="color: red">Spring</h3>'))
    page = root.render()
    assert "Spring</h3>" in page
    assert "style-src-attr" in rules(page)


def test_rendering_twice_adds_nothing(plan: Plan) -> None:
    plan_map = build_map(plan)
    plan_map.add_child(folium.Marker([41.2, -7.54], popup="Gate"))
    assert plan_map.get_root().render() == plan_map.get_root().render()


def test_maps_share_nothing(plan: Plan, tmp_path: Path) -> None:
    write_map(plan, tmp_path / "before.html")
    loud = build_map(plan)
    loud.add_css_link("loud", "https://styles.example.org/loud.css")
    loud.add_child(folium.Marker([41.2, -7.54]))
    assert "https://styles.example.org" in hosts(str(loud.get_root().render()))["style-src"]
    build_map(plan).save(tmp_path / "after.html")
    assert (tmp_path / "after.html").read_bytes() == (tmp_path / "before.html").read_bytes()


def test_layers_can_be_kept_in_front(plan: Plan) -> None:
    layer = folium.FeatureGroup(name="Gates")
    plan_map = build_map(plan)
    plan_map.add_child(layer)
    plan_map.keep_in_front(layer)
    page = str(plan_map.get_root().render())
    assert f'plan_map.on("overlayadd", () => {layer.get_name()}.bringToFront());' in page
