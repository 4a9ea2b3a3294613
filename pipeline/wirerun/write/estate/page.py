"""The map of an estate: its blocks and their numbers, rows from near, each block's own map a click away."""

from collections.abc import Sequence
from pathlib import Path
from typing import Any, Final

import pandas as pd
import shapely
from shapely.geometry.base import BaseGeometry

from wirerun.tables import as_lines
from wirerun.tables.estate import ESTATE_BLOCKS
from wirerun.write.estate.folders import EstateBlock
from wirerun.write.estate.tables import lines_of
from wirerun.write.html_map.columns import Packed
from wirerun.write.pages.document import document

_DECIMALS: Final = 6  # of a degree: a decimetre


def write_estate_page(name: str, blocks: Sequence[EstateBlock], block_lines: pd.DataFrame, path: Path) -> None:
    """Write the page: one HTML file, which opens from disk; the same bytes for the same plans.

    Parameters
    ----------
    name : str
        The estate's name.
    blocks : sequence of EstateBlock
        All blocks; those that are missing are drawn and named as such.
    block_lines : DataFrame
        `tables.estate.ESTATE_BLOCKS` of them.
    path : Path
        The file to write, in a folder beside that of the blocks' plans.
    """
    page = document(
        f"{name}: all blocks",
        "estate",
        estate_data(name, blocks, block_lines),
        ["beside.css", "estate.css"],
        with_map=True,
    )
    path.write_text(page, encoding="utf-8", newline="\n")


def estate_data(name: str, blocks: Sequence[EstateBlock], block_lines: pd.DataFrame) -> Packed:
    """Return what the page shows."""
    lines = block_lines.astype(object)
    lines = lines.where(lines.notna(), None)
    shown = [column for column in ESTATE_BLOCKS.names if column not in {"state", "folder"}]
    return {
        "name": name,
        "blocks": [
            {column: line[column] for column in shown} | _drawn(block)
            for block, line in zip(blocks, as_lines(lines), strict=True)
        ],
    }


def _drawn(block: EstateBlock) -> dict[str, Any]:
    own = f"{block.place.parent.name}/{block.place.name}/map.html"
    return {
        "there": block.is_there,
        "map": own if block.is_there and (block.place / "map.html").exists() else None,
        "rings": _rings(block.area),
        "lines": [_path(shapely.from_wkt(row["line"])) for row in _rows(block)],
    }


def _rows(block: EstateBlock) -> list[dict[str, str]]:
    if not block.is_there:
        return []
    planned = {row["row_id"] for row in lines_of(block, "rows")}
    return [row for row in lines_of(block, "row_ids") if row["row_id"] in planned]


def _rings(area: BaseGeometry | None) -> list[list[list[float]]]:
    """Return the outlines of an area, holes too."""
    polygons = [] if area is None else [part for part in shapely.get_parts(area) if part.geom_type == "Polygon"]
    return [_path(ring) for one in polygons for ring in (one.exterior, *one.interiors)]


def _path(line: BaseGeometry) -> list[list[float]]:
    """Return latitude and longitude along a line."""
    places: list[list[float]] = shapely.get_coordinates(line)[:, ::-1].round(_DECIMALS).tolist()
    return places
