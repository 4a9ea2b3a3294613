"""The map: one HTML file of a plan. `write_map` writes it, `build_map` gives it as a folium map."""

from wirerun.write.html_map.document import build_map, write_map

__all__ = ["build_map", "write_map"]
