"""The rows of a survey: found in the plants of each block, brought to the survey's CRS, and told of."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from typing import Any, Final, NamedTuple

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from affine import Affine
from numpy.typing import NDArray
from pyproj import Transformer

from wirerun.arrays import BoolArray
from wirerun.findings import Findings, name_some
from wirerun.model.survey import BlockRows
from wirerun.read.config import FOUND_ROWS
from wirerun.read.polygons import GEOD
from wirerun.read.survey_source import SurveySource
from wirerun.surface.block_canopy import BlockCanopy
from wirerun.surface.canopy import ROW_CELL_M, lift_of_block, lift_of_rows
from wirerun.surface.greenness import green_canopy_cm, index_of
from wirerun.surface.row_doubts import shape_doubts
from wirerun.surface.row_lines import trace_rows
from wirerun.surface.row_waves import RowWave, find_wave
from wirerun.surface.work_grid import Cells
from wirerun.wording import many, number

# Choice: heights place rows better than colours do (no shadow, no lean of what is high), unless they show less by this.
_CLEARLY: Final = 1.1
# Choice: a block of which less is on the orthophoto is told.
_ON_PHOTO: Final = 0.99
# Choice: rows lifted more than this are told to be low.
_LOW: Final = 1.5
_HALF_TURN: Final = 180.0
_COLUMNS: Final = (
    *("block_id", "row", "confidence", "doubtful", "why", "present", "longest_gap_m", "length_m", "bearing_deg"),
)


class Plants(NamedTuple):
    """Height of plants over the ground [cm] in the survey's cells, joined `step` by `step`."""

    canopy: NDArray[np.uint8]
    step: int


def rows_of_block(source: SurveySource, plants: Plants, place: int) -> BlockRows:
    """Rows of one block in its plants, or in the orthophoto where that shows clearly more of them.

    Parameters
    ----------
    source : SurveySource
        What is read.
    plants : Plants
        Of the whole survey.
    place : int
        Which of its blocks.
    """
    step = plants.step
    cells, inside = source.in_block(place, step)
    window = (
        slice(cells.top // step, cells.top // step + inside.shape[0]),
        slice(cells.left // step, cells.left // step + inside.shape[1]),
    )
    canopy = plants.canopy[window]
    found = _rows_in(source, place, cells, inside[: canopy.shape[0], : canopy.shape[1]], canopy, step)
    if source.photo is None:
        return found
    other = rows_in_photo(source, place)
    better = _trusted_m(other) > _CLEARLY * _trusted_m(found)
    if better:
        return replace(other, other_m=_trusted_m(found))
    return replace(found, other_m=_trusted_m(other), in_photo=other.in_photo)


def rows_in_photo(source: SurveySource, place: int) -> BlockRows:
    """Rows of one block in the orthophoto's greenness.

    Parameters
    ----------
    source : SurveySource
        What is read; it has a photo.
    place : int
        Which of its blocks.
    """
    photo = source.photo
    if photo is None:
        return BlockRows(source.blocks[place].block_id, None, float("nan"), ())
    step = max(1, round(ROW_CELL_M / source.grid.cell_m))
    cells, inside = source.in_block(place, step)
    corner = source.grid.transform * Affine.translation(cells.left, cells.top) * Affine.scale(step)
    index, known = index_of(photo.read(corner, inside.shape, source.grid.crs_wkt))
    side = source.grid.cell_m * step
    canopy = green_canopy_cm(index, known, inside, side, source.config.survey.canopy_m)
    seen = float((known & inside).sum() / max(1, inside.sum()))
    return replace(_rows_in(source, place, cells, inside, canopy, step), seen_in="orthophoto", in_photo=seen)


def _trusted_m(block: BlockRows) -> float:
    """Length of all rows, each as much as it is trusted [m]."""
    return sum(row.length_m * row.confidence for row in block.rows)


def _rows_in(
    source: SurveySource, place: int, cells: Cells, inside: BoolArray, canopy: NDArray[np.uint8], step: int
) -> BlockRows:
    """Rows of one block in a canopy [cm]."""
    block_id, told = source.blocks[place].block_id, source.config.survey
    side, plants = source.grid.cell_m * step, BlockCanopy(canopy, inside)
    first = replace(plants, lift=lift_of_block(plants))
    wave = find_wave(first, side, (told.least_spacing_m, told.most_spacing_m))
    if wave is None:
        return BlockRows(block_id, None, float("nan"), ())
    corner = np.array([cells.left, cells.top], dtype=np.float64)
    lift = lift_of_rows(plants, wave)
    rows = [
        # The middle of the first joined cell lies half a one from the corner.
        row._replace(cells=(row.cells + 0.5) * step + corner)
        for row in trace_rows(replace(plants, lift=lift), side, wave)
    ]
    odd = shape_doubts(rows, source.grid.cell_m, wave.spacing_m, source.areas[place])
    # Rows run the way that the bearing says, from 0 to 180 degrees.
    bearing = _bearing(source, cells, wave)
    way = 1 if bearing < _HALF_TURN else -1
    told_of = tuple(row._replace(cells=row.cells[::way], odd=words) for row, words in zip(rows, odd, strict=True))
    return BlockRows(block_id, wave, bearing % _HALF_TURN, told_of, lift)


def row_numbers(block: BlockRows) -> list[int]:
    """Number of each found row, counted from 1 across the block; pieces of one row share it."""
    numbers = {number: place for place, number in enumerate(sorted({row.number for row in block.rows}), start=1)}
    return [numbers[row.number] for row in block.rows]


def row_frame(source: SurveySource, blocks: Sequence[BlockRows]) -> gpd.GeoDataFrame:
    """Found rows as a table, in the survey's CRS; numbers count across each block."""
    lines, said = [], []
    to_lonlat = Transformer.from_crs(source.grid.crs_wkt, "EPSG:4326", always_xy=True)
    for block in blocks:
        for own, row in zip(row_numbers(block), block.rows, strict=True):
            x, y = source.grid.transform * row.cells.T
            lon, lat = to_lonlat.transform(np.asarray(x)[[0, -1]], np.asarray(y)[[0, -1]])
            lines.append(shapely.LineString(np.column_stack([x, y])).simplify(0.01))
            said.append(
                {
                    "block_id": block.block_id,
                    "row": own,
                    "confidence": round(row.confidence, 3),
                    "doubtful": bool(row.why),
                    "why": row.why,
                    "present": round(row.present, 3),
                    "longest_gap_m": round(row.longest_gap_m, 1),
                    "length_m": round(row.length_m, 2),
                    "bearing_deg": round(float(GEOD.inv(lon[0], lat[0], lon[1], lat[1])[0]) % 360.0, 2),
                }
            )
    columns = list(_COLUMNS)
    return gpd.GeoDataFrame(pd.DataFrame(said, columns=columns), geometry=lines, crs=source.grid.crs_wkt)


def note_rows(blocks: Sequence[BlockRows], rows: gpd.GeoDataFrame, notes: Findings) -> None:
    """Tell what a person should know of the rows before they are used."""
    for block in blocks:
        if block.in_photo < _ON_PHOTO:
            sentence = f"Of the block {100.0 * block.in_photo:.0f} % show on the orthophoto; it has no rows elsewhere."
            notes.note("photo-gap", sentence, block.block_id)
        mine = rows[rows["block_id"] == block.block_id]
        if not len(mine) or block.wave is None:
            sentence = "No rows were found: nothing stands in waves there, or it is too small."
            notes.note("rows-not-found", sentence, block.block_id)
            continue
        low = " They stand low, as dormant or young vines do." if block.lift > _LOW else ""
        turn = "" if block.wave.straight else f", turning by {block.wave.turn_deg:.0f} degrees"
        notes.note(
            "rows-found",
            f"{many(len(mine), 'row')}, {number(mine['length_m'].sum())} m, {block.wave.spacing_m:.3f} m apart at a "
            f"bearing of {block.bearing_deg:.2f} degrees{turn}, found in the {block.seen_in}.{low}",
            block.block_id,
        )
        bad = mine[mine["doubtful"]]
        if len(bad):
            which = name_some([f"row {one}" for one in bad["row"]])
            notes.note(
                "rows-doubtful",
                f"{_how_doubtful(bad)}: {which}. Look at them in review.html, mend or delete them in {FOUND_ROWS}, "
                "and plan then.",
                block.block_id,
            )


def _how_doubtful(bad: gpd.GeoDataFrame) -> str:
    """Return why rows are to be looked at, in words, each reason with its number."""
    reasons = Counter(part for words in bad["why"] for part in words.split("; "))
    parts = [f"{words}: {number(count)}" for words, count in reasons.most_common()]
    return f"{many(len(bad), 'row', 'are')} doubtful ({'; '.join(parts)})"


def spacing_of_blocks(tables: dict[str, Any], blocks: Sequence[BlockRows]) -> dict[str, Any]:
    """Settings of a plan with the spacing of the found rows: of the first block, and of each where they are more."""
    found = {block.block_id: round(block.wave.spacing_m, 3) for block in blocks if block.wave is not None}
    tables = {**tables, "rows": {**tables.get("rows", {}), "spacing_m": next(iter(found.values()))}}
    own = dict(tables.get("blocks", {}))
    for block_id, spacing in found.items():
        mine = dict(own.get(block_id, {}))
        mine["rows"] = {**mine.get("rows", {}), "spacing_m": spacing}
        own[block_id] = mine
    return {**tables, "blocks": own} if len(blocks) > 1 else tables


def _bearing(source: SurveySource, cells: Cells, wave: RowWave) -> float:
    """Bearing of the wave's rows in the middle of a block from true north, 0 to 360 [deg]."""
    to_lonlat = Transformer.from_crs(source.grid.crs_wkt, "EPSG:4326", always_xy=True)
    middle = np.array([(cells.left + cells.right) / 2.0, (cells.top + cells.bottom) / 2.0])
    ends = [source.grid.transform * tuple(middle + far * np.array(wave.along)) for far in (0.0, 300.0)]
    lon, lat = to_lonlat.transform(*np.transpose(ends))
    return float(GEOD.inv(lon[0], lat[0], lon[1], lat[1])[0]) % 360.0
