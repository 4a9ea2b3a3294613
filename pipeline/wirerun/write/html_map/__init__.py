"""The map: one HTML file of a plan. `write_map` writes it; the rest of the package is its parts."""

from wirerun.write.html_map.document import write_map

__all__ = ["write_map"]
