"""The sheets before the zones: each block's map with its zones, and all zones with their hours and pages."""

from collections.abc import Mapping
from typing import Any, Final

import numpy as np
import shapely

from wirerun.geometry.frame import Frame
from wirerun.geometry.places import LonLat
from wirerun.records import Plan
from wirerun.units import NONE, fixed, units_of
from wirerun.write.cards.facts import ZoneFacts
from wirerun.write.cards.grid import Head, grid, heads_block
from wirerun.write.cards.letters import BIG, BODY, TICK, clean, width
from wirerun.write.cards.pen import GREY, LEFT, PALE, WHITE, WIDTH, Pen
from wirerun.write.cards.sheets import Block, Group, text_block
from wirerun.write.cards.zone_map import BORDER, LEGEND_HIGH, SCALES, Window, draw_foot_of_map, draw_keep_out
from wirerun.write.cards.zone_page import rows_named

_HIGH: Final = 120.0  # two blocks fit on a sheet


def zone_list_groups(plan: Plan, zones: list[ZoneFacts], pages: Mapping[str, int]) -> list[Group]:
    """Return the overview of all zones; nothing where there is one zone or none.

    Parameters
    ----------
    plan : Plan
        Blocks and zones.
    zones : list of ZoneFacts
        In the order of the cards.
    pages : mapping
        Page of each zone's first sheet; a dash is printed for one that is not in it.
    """
    if len(zones) < 2 or plan.zones.empty:
        return []
    drawn = [block for block in (_block_map(plan, block_id) for block_id in plan.blocks["block_id"]) if block]
    heads = (
        Head("", 6.0),
        Head("zone", 34.0),
        Head("rows", 62.0, size=BODY),
        Head(f"rows, {zones[0].units.far.sign}", 26.0, "right"),
        Head("hours", 22.0, "right"),
        Head("crew days", 28.0, "right"),
        Head("page", 14.0, "right"),
    )
    lines = [_line(zone, pages) for zone in zones]
    return [
        Group("All zones", (text_block(["All zones"], BIG, bold=True, after=1.5), *drawn)),
        Group("List of zones", tuple(grid("Zones in working order", heads, lines)), again=heads_block(heads)),
    ]


def _line(zone: ZoneFacts, pages: Mapping[str, int]) -> tuple[str, ...]:
    rows = [card.row for card in zone.rows]
    told = zone.zone
    return (
        TICK,
        zone.zone_id,
        rows_named([row["row_id"] for row in rows]),
        zone.units.far.bare(sum(row["length_m"] for row in rows)),
        fixed(told["hours"], 1) if told else NONE,
        fixed(told["days"], 1) if told else NONE,
        str(pages.get(zone.zone_id, NONE)),
    )


def _block_map(plan: Plan, block_id: str) -> Block | None:
    """One block with its zones, north up, to a round scale."""
    zones = plan.zones[plan.zones["block_id"] == block_id]
    area = plan.blocks[plan.blocks["block_id"] == block_id].geometry
    if zones.empty or area.is_empty.all():
        return None
    frame = Frame.over(area.union_all(), {n.block_id: n.mean_height_m for n in plan.frames}.get(block_id, 0.0))

    def flat(shapes: Any) -> Any:  # noqa: ANN401 - arrays of shapes
        return shapely.transform(
            np.asarray(shapes, dtype=object), lambda lonlat: frame.to_plane(LonLat.of(lonlat)).stacked()
        )

    outline, parts = flat(area), flat(zones.geometry)
    keep_out = flat(plan.exclusions.geometry[plan.exclusions["block_id"] == block_id])
    west, south, east, north = shapely.total_bounds(outline).tolist()
    wide, tall = WIDTH - 2.0 * BORDER, _HIGH - LEGEND_HIGH - 2.0 - 2.0 * BORDER
    fits = (s for s in SCALES if (east - west) * 1e3 / s <= wide and (north - south) * 1e3 / s <= tall)
    scale = next(fits, SCALES[-1])
    high = (north - south) * 1e3 / scale + 2.0 * BORDER
    window = Window(scale, ((west + east) / 2.0, (south + north) / 2.0), high)
    names = [zone_id.rsplit("-", 1)[-1] for zone_id in zones["zone_id"]]

    def draw(pen: Pen, top: float) -> None:
        def paths(shapes: Any) -> list[Any]:  # noqa: ANN401 - an array of shapes
            return [window.paper(shapely.get_coordinates(shape), top).tolist() for shape in window.clip(shapes)]

        pen.lines(paths(shapely.boundary(parts)), stroke=0.25, grey=GREY)
        draw_keep_out(pen, window, keep_out, top)
        pen.lines(paths(shapely.boundary(outline)), stroke=0.3, dash=(2.5, 0.8, 0.5, 0.8))
        _name_zones(pen, parts, names, window, top)
        pen.text(LEFT + 2.0, top + 5.0, f"Block {block_id}", BODY, bold=True)
        pen.box(LEFT, top, WIDTH, high)
        draw_foot_of_map(pen, scale, top + high + LEGEND_HIGH, units_of(plan.config.output.units))

    return Block(high + LEGEND_HIGH + 3.0, draw)


def _name_zones(pen: Pen, parts: Any, names: list[str], window: Window, top: float) -> None:  # noqa: ANN401
    """Name the zones, those first that come first; a name that would lie on another is left out."""
    taken: list[Any] = []
    for part, name in zip(parts, names, strict=True):
        (x, y), *_ = window.paper([shapely.get_coordinates(shapely.point_on_surface(part))[0]], top).tolist()
        wide = width(clean(name), BODY, bold=True)
        box = shapely.box(x - wide / 2.0 - 0.6, y - 2.0, x + wide / 2.0 + 0.6, y + 2.0)
        if any(box.intersects(other) for other in taken):
            continue
        taken.append(box)
        pen.lines([shapely.get_coordinates(box).tolist()], stroke=0.0, fill=WHITE, grey=PALE, close=True)
        pen.text(x, y + 1.2, name, BODY, bold=True, align="middle")
