"""The plan as a drawing: projected metres, flat, a layer for each kind of thing, its CRS noted in it."""

import io
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Final

import ezdxf
import numpy as np
import pyproj
import shapely
from ezdxf import colors, units
from ezdxf.document import Drawing
from ezdxf.layouts import Modelspace

from wirerun.clip_need import ClipNeed
from wirerun.records import Plan
from wirerun.write import styles
from wirerun.write.gis.layers import layer_frame, layer_named
from wirerun.write.gis.text import one_line

# Layer, colour, line type. The line type, or the mark of a post, tells them apart on a grey plot.
_LAYERS: Final = {
    "BLOCK": (styles.BLOCK, "CONTINUOUS"),
    "EXCLUSIONS": (styles.EXCLUSION, "DASHED"),
    "ZONES": (styles.ZONE, "DASHDOT"),
    "ROWS": (styles.ROW, "CONTINUOUS"),
    "ROWS-NOT-PLANNED": (styles.ROW, "DASHED"),
    "SECTIONS": (styles.SECTION, "DASHED2"),
    "POSTS-END": (styles.END_POST, "CONTINUOUS"),
    "POSTS-INTERMEDIATE": (styles.PLAIN, "CONTINUOUS"),
    "POSTS-CHECK": (styles.LOOK_ON_SITE, "CONTINUOUS"),
    "POSTS-TWO-WAY": (styles.TWO_WAY, "CONTINUOUS"),
    "LABELS": (styles.ROW, "CONTINUOUS"),
    "NOTES": (styles.ROW, "CONTINUOUS"),
}
_LINES: Final = {
    "block": "BLOCK",
    "exclusions": "EXCLUSIONS",
    "zones": "ZONES",
    "rows": "ROWS",
    "left_out": "ROWS-NOT-PLANNED",
    "sections": "SECTIONS",
}
_POST_SIZE_M: Final = 0.3
_LABEL_M: Final = 1.0
_NOTE_M: Final = 2.0
# Line types are drawn in units of about an inch; this makes their dashes some metres long.
_DASH_SCALE: Final = 4.0
_MOST_BYTES: Final = 250
_DARK: Final = 80  # of 255: what is darker than this is drawn in the screen's own ink (choice)


def write_dxf(plan: Plan, path: Path) -> None:
    """Write areas, rows, sections, posts and labels as a DXF of the 2010 version, one unit a metre.

    Posts are blocks, each with its id as an attribute; a row or area is a polyline whose label lies at its start.
    Heights are in the staking file: the drawing is flat.
    """
    with _fixed_dates():
        drawing = ezdxf.new("R2010", setup=["linetypes"], units=units.M)
        drawing.header["$LTSCALE"] = _DASH_SCALE
        for name, (colour, line_type) in _LAYERS.items():
            rgb = colors.RGB.from_hex(colour)
            # Programs without true colour take the nearest of their 255.
            drawing.layers.add(name, color=_nearest(rgb), true_color=colors.rgb2int(rgb), linetype=line_type)
        _define_marks(drawing)
        space = drawing.modelspace()
        for name, layer in _LINES.items():
            _draw_lines(plan, space, name, layer)
        _draw_posts(plan, space)
        _label(plan, space)
        _note_crs(plan, drawing)
        _open_on_the_plan(plan, drawing)
        # The library goes through a set of these; in a fixed order now, they keep it.
        for kind in sorted(drawing.entitydb.dxf_types_in_use()):
            drawing.classes.add_class(kind)
        text = io.StringIO()
        drawing.write(text)
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text.getvalue(), encoding=drawing.output_encoding, newline="\n")


def _nearest(rgb: colors.RGB) -> int:
    """Return the number of the nearest of the numbered colours; 7 is black on white and white on black."""
    wanted = np.array(rgb)
    if wanted.max() < _DARK:
        return colors.WHITE
    away = [float(np.linalg.norm(wanted - np.array(colors.aci2rgb(index)))) for index in range(1, 256)]
    return 1 + int(np.argmin(away))


def _open_on_the_plan(plan: Plan, drawing: Drawing) -> None:
    """Note how far the drawing reaches, and have it open on all of it."""
    west, south, east, north = layer_frame(plan, layer_named("block"), plan.output_crs).total_bounds.tolist()
    drawing.header["$EXTMIN"], drawing.header["$EXTMAX"] = (west, south, 0.0), (east, north, 0.0)
    drawing.modelspace().reset_extents((west, south, 0.0), (east, north, 0.0))
    # A window is about half as high as it is wide.
    high = 1.1 * max(north - south, (east - west) / 2.0)
    drawing.set_modelspace_vport(high, ((west + east) / 2.0, (south + north) / 2.0))


@contextmanager
def _fixed_dates() -> Iterator[None]:
    """Have the writer put fixed dates and ids for the whole drawing, and put its setting back afterwards."""
    before = ezdxf.options.write_fixed_meta_data_for_testing
    ezdxf.options.write_fixed_meta_data_for_testing = True
    try:
        yield
    finally:
        ezdxf.options.write_fixed_meta_data_for_testing = before


def _define_marks(drawing: Drawing) -> None:
    """Define the marks of posts: end post a square, to check a diamond, two-way clips a triangle, else a circle."""
    half = _POST_SIZE_M / 2.0
    around = {"POSTS-END": 4, "POSTS-CHECK": 4, "POSTS-TWO-WAY": 3}
    for name in ("POSTS-END", "POSTS-CHECK", "POSTS-TWO-WAY", "POSTS-INTERMEDIATE"):
        mark = drawing.blocks.new(name)
        if name in around:
            # Turned so that the square lies on its side, and diamond and triangle point up.
            first = np.pi / 4 if name == "POSTS-END" else np.pi / 2
            turn = np.arange(around[name]) * 2.0 * np.pi / around[name] + first
            corners = half * np.sqrt(2.0) * np.column_stack([np.cos(turn), np.sin(turn)])
            mark.add_lwpolyline(corners.tolist(), close=True)
        else:
            mark.add_circle((0.0, 0.0), half)
        mark.add_attdef("ID", (half, half), dxfattribs={"height": _POST_SIZE_M, "flags": 1})


def _draw_lines(plan: Plan, space: Modelspace, name: str, layer: str) -> None:
    shapes = layer_frame(plan, layer_named(name), plan.output_crs).geometry.to_numpy()
    if layer_named(name).geometry == "MultiPolygon":
        shapes = shapely.get_rings(shapely.get_parts(shapes))
    for shape in shapes:
        places = shapely.get_coordinates(shape)
        closed = bool(shapely.is_closed(shape)) and len(places) > 3
        space.add_lwpolyline(places[: -1 if closed else None].tolist(), close=closed, dxfattribs={"layer": layer})


def _draw_posts(plan: Plan, space: Modelspace) -> None:
    posts = layer_frame(plan, layer_named("posts"), plan.output_crs)
    need = posts["clip_need"]
    kinds = np.select(
        [posts["kind"] == "end", need == ClipNeed.TWO_WAY, need == ClipNeed.LOOK],
        ["POSTS-END", "POSTS-TWO-WAY", "POSTS-CHECK"],
        "POSTS-INTERMEDIATE",
    )
    for place, kind, post in zip(
        shapely.get_coordinates(posts.geometry).tolist(), kinds, posts["post_id"], strict=True
    ):
        mark = space.add_blockref(kind, place, dxfattribs={"layer": kind})
        attribute = mark.add_attrib("ID", _drawn(post), place, dxfattribs={"layer": kind, "height": _POST_SIZE_M})
        # Thousands of ids would cover the drawing; a click on a post shows its own.
        attribute.is_invisible = True


def _label(plan: Plan, space: Modelspace) -> None:
    """Write ids beside the rows' starts and inside zones and blocks."""
    rows = layer_frame(plan, layer_named("rows"), plan.output_crs)
    for row, line in zip(rows["row_id"], rows.geometry, strict=True):
        (x, y), (to_x, to_y) = shapely.get_coordinates(line)[:2]
        turn = float(np.degrees(np.arctan2(to_y - y, to_x - x)))
        _write(space, row, (x, y), _LABEL_M, turn)
    for name, column, height in (("zones", "zone_id", 2.0 * _LABEL_M), ("block", "block_id", 4.0 * _LABEL_M)):
        areas = layer_frame(plan, layer_named(name), plan.output_crs)
        middles = shapely.get_coordinates(areas.geometry.representative_point()).tolist()
        for text, (x, y) in zip(areas[column], middles, strict=True):
            _write(space, text, (x, y), height)


def _note_crs(plan: Plan, drawing: Drawing) -> None:
    """Say in which CRS the coordinates are, below the blocks and among the drawing's own properties."""
    crs = pyproj.CRS.from_user_input(plan.output_crs)
    known = ":".join(crs.to_authority() or ())
    note = f"{crs.name} ({known})" if known else f"{crs.name}: {plan.output_crs}"
    note = f"Coordinates in metres: {one_line(note, _MOST_BYTES)}"
    drawing.header.custom_vars.append("CRS", note)
    west, south = layer_frame(plan, layer_named("block"), plan.output_crs).total_bounds[:2].tolist()
    space = drawing.modelspace()
    space.add_text(_drawn(note), height=_NOTE_M, dxfattribs={"layer": "NOTES"}).set_placement(
        (west, south - 4.0 * _NOTE_M)
    )


def _write(space: Modelspace, text: str, place: tuple[float, float], height: float, turn_deg: float = 0.0) -> None:
    label = space.add_text(_drawn(text), height=height, rotation=turn_deg, dxfattribs={"layer": "LABELS"})
    label.set_placement(place)


def _drawn(text: str) -> str:
    """Return text as a drawing shows it: on one line, and without its codes, which start with ``%%`` or ``^``."""
    return one_line(text, _MOST_BYTES).replace("%%", "% %").replace("^", "^ ")
