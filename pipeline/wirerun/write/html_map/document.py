"""The map: one HTML file that opens from disk and asks nobody for anything.

The page carries its scripts, its styles, its data and its ground inside. Its security policy lets only those scripts
run, named by their SHA-256; data is inert text, and the page puts it on the screen as text, never as markup.
"""

from pathlib import Path
from typing import TYPE_CHECKING

from wirerun.records import Plan
from wirerun.write.html_map.backdrop import make_backdrop
from wirerun.write.html_map.columns import compressed
from wirerun.write.html_map.data import map_data

if TYPE_CHECKING:
    from folium import Map


def build_map(plan: Plan) -> "Map":
    """Return the map of a plan: a folium map that shows itself in a notebook, takes more layers, and saves its page.

    The page needs no network. What is added may: then its policy allows the hosts that the addition names, no other.

    Parameters
    ----------
    plan : Plan
        What to show.

    Returns
    -------
    folium.Map
        Its ``save`` writes what `write_map` writes, as long as nothing was added.
    """
    # folium takes more than half a second to import, which a schedule alone should not cost.
    from wirerun.write.html_map.plan_map import PlanLayer, PlanMap  # noqa: PLC0415

    data = map_data(plan, make_backdrop(plan.grids, plan.config.work.slope_classes_pct))
    west, south, east, north = plan.blocks.total_bounds.tolist()
    layer = PlanLayer(compressed(data), [[south, west], [north, east]])
    return PlanMap(layer, f"{plan.config.name}: trellis wire plan", plan.config.map.basemap_origin)


def write_map(plan: Plan, path: Path) -> None:
    """Write the map of a plan: one HTML file, the same bytes for the same plan.

    Parameters
    ----------
    plan : Plan
        What to show.
    path : Path
        The file to write; its folder must be there.
    """
    build_map(plan).save(path)
