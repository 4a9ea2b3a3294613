"""The posts of a survey: looked for along its found rows in the finest cells there are, and told of."""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import Final, NamedTuple

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from scipy.ndimage import map_coordinates

from wirerun.arrays import FloatArray, IntArray
from wirerun.findings import Findings
from wirerun.model.survey import BlockRows
from wirerun.read.found_ground import FoundGround
from wirerun.read.survey_source import SurveySource
from wirerun.surface.post_tops import ASIDE_M, FoundPosts, RowProfile, closed, find_posts, strip_top
from wirerun.surface.row_lines import DOUBTFUL, FoundRow
from wirerun.surface.work_grid import Cells
from wirerun.survey_rows import row_numbers
from wirerun.wording import many
from wirerun.write.survey.rows_layer import FOUND_POSTS

_COLUMNS: Final = ("name", "block_id", "row", "confidence", "doubtful", "proud_m", "seen_m")
# Choices: an end post stands so far beyond the last vine; what is read at a time; a step no finer than helps.
_BEYOND_M: Final = 2.0
_PART_CELLS: Final = 320
_FINEST_M: Final = 0.02
_AT_ONCE: Final = 400_000  # places along rows, some two hundred bytes each on the way


class _Walk(NamedTuple):
    """A row as it is walked: places (x, y) in cells of the grid, and the unit vector to its left, shape (n, 2)."""

    at: FloatArray
    left: FloatArray


def posts_of_blocks(
    source: SurveySource, ground: FoundGround, blocks: Sequence[BlockRows], notes: Findings
) -> tuple[tuple[BlockRows, ...], gpd.GeoDataFrame]:
    """Blocks with the distance of their posts, and all posts that were found, in the survey's CRS.

    Parameters
    ----------
    source, ground, blocks
        What is read, the ground that was found, and the rows.
    notes : Findings
        Hears of what was found, and of blocks where nothing was.
    """
    made, frames = [], []
    for block in blocks:
        profiles = _profiles(source, ground, block.rows)
        found = None if profiles is None else find_posts(profiles)
        if found is None:
            if block.rows:
                notes.note("posts-not-found", _why_none(seen=profiles is not None), block.block_id)
            made.append(block)
            continue
        frame = _frame(source, block, found)
        _note(frame, found, block.block_id, notes)
        frames.append(frame)
        made.append(replace(block, span_m=found.span_m))
    whole = gpd.GeoDataFrame(pd.concat(frames, ignore_index=True)) if frames else no_posts(source.grid.crs_wkt)
    return tuple(made), whole


def no_posts(crs_wkt: str) -> gpd.GeoDataFrame:
    """The table of posts, without any."""
    return gpd.GeoDataFrame(pd.DataFrame(columns=list(_COLUMNS)), geometry=[], crs=crs_wkt)


def _step(source: SurveySource) -> float:
    """How far apart places along a row are, and across it [m]: as the finest cells."""
    finest = source.surface.read_fine(Cells(0, 0, 1, 1))
    return source.grid.cell_m if finest is None else max(source.grid.cell_m / len(finest[0]), _FINEST_M)


def _walk(row: FoundRow, cell_m: float, step_m: float) -> _Walk:
    """Places along a row and a little beyond both ends, at equal steps, each in the middle of its step."""
    line = row.cells
    beyond = _BEYOND_M / cell_m
    begin, end = line[0] - line[min(4, len(line) - 1)], line[-1] - line[max(-5, -len(line))]
    line = np.vstack([line[0] + begin / np.hypot(*begin) * beyond, line, line[-1] + end / np.hypot(*end) * beyond])
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(line, axis=0).T))])
    at = np.arange(0.5 * step_m / cell_m, along[-1], step_m / cell_m)
    places = np.column_stack([np.interp(at, along, line[:, axis]) for axis in (0, 1)])
    ahead = np.gradient(places, axis=0)
    ahead /= np.hypot(*ahead.T)[:, None]
    # y runs down: left of east is north.
    return _Walk(places, np.column_stack([ahead[:, 1], -ahead[:, 0]]))


def _profiles(source: SurveySource, ground: FoundGround, rows: Sequence[FoundRow]) -> list[RowProfile] | None:
    """What stands along each row; None where the survey has no finer look. Some rows at a time, for memory's sake."""
    if not rows or source.surface.read_fine(Cells(0, 0, 1, 1)) is None:
        return None
    step = _step(source)
    aside = round(ASIDE_M / step)
    if not aside:  # cells coarser than a post is looked for off its row
        return []
    across: FloatArray = np.arange(-aside, aside + 1, dtype=np.float64) * step
    made: list[RowProfile] = []
    walks: list[_Walk] = []
    for row in rows:
        walks.append(_walk(row, source.grid.cell_m, step))
        if sum(len(walk.at) for walk in walks) > _AT_ONCE:
            made += _profiles_of(source, ground, walks, across)
            walks = []
    return made + (_profiles_of(source, ground, walks, across) if walks else [])


def _profiles_of(
    source: SurveySource, ground: FoundGround, walks: Sequence[_Walk], across: FloatArray
) -> list[RowProfile]:
    """What stands along some rows."""
    step = float(across[1] - across[0])
    at, left = (np.concatenate(parts) for parts in zip(*walks, strict=True))
    top, aside = np.full(len(at), np.nan), np.zeros(len(at))
    for cells, here in _parts(at):
        places = at[here][:, None, :] + (across / source.grid.cell_m)[:, None] * left[here][:, None, :]
        strip = _heights(source, ground, cells.grown(round(2.0 * ASIDE_M / source.grid.cell_m) + 2), places)
        top[here], aside[here] = strip_top(strip, across)
    ends = np.cumsum([len(walk.at) for walk in walks])[:-1]
    tops = np.split(top, ends)
    if source.config.survey.points is not None:
        tops = [closed(one, step) for one in tops]
    return [RowProfile(step, *parts) for parts in zip(tops, np.split(aside, ends), strict=True)]


def _parts(at: FloatArray) -> Iterator[tuple[Cells, IntArray]]:
    """Squares of the grid that places lie in, and which places."""
    column, row = np.floor_divide(at, _PART_CELLS).astype(np.int64).T
    square, which = np.unique(np.column_stack([row, column]), axis=0, return_inverse=True)
    order = np.argsort(which.ravel(), kind="stable")
    ends = np.cumsum(np.bincount(which.ravel(), minlength=len(square)))[:-1]
    for (down, right), here in zip(square.tolist(), np.split(order, ends), strict=True):
        top, left = down * _PART_CELLS, right * _PART_CELLS
        yield Cells(top, left, top + _PART_CELLS, left + _PART_CELLS), here


def _heights(source: SurveySource, ground: FoundGround, cells: Cells, places: FloatArray) -> FloatArray:
    """Height of the surface over the ground at places (x, y) of the grid [m]; NaN where either is unknown."""
    fine = source.surface.read_fine(cells)
    if fine is None:
        return np.full(places.shape[:-1], np.nan)
    heights, valid = fine
    join = heights.shape[0] // cells.shape[0]
    local = places - np.array([cells.left, cells.top])
    surface = map_coordinates(np.where(valid, heights, np.nan), join * local.T[::-1] - 0.5, order=1, cval=np.nan)
    below = map_coordinates(ground.read(cells), local.T[::-1] - 0.5, order=1, cval=np.nan)
    return np.asarray((surface - below).T)


def _frame(source: SurveySource, block: BlockRows, found: FoundPosts) -> gpd.GeoDataFrame:
    """Posts of one block as a table, in the survey's CRS, row by row across it."""
    step = _step(source)
    at = np.empty((len(found.row), 2))
    for row in np.unique(found.row):
        here, walk = found.row == row, _walk(block.rows[row], source.grid.cell_m, step)
        middle = (np.arange(len(walk.at)) + 0.5) * step
        place, left = (
            np.column_stack([np.interp(found.station_m[here], middle, part[:, axis]) for axis in (0, 1)])
            for part in walk
        )
        at[here] = place + (found.aside_m[here] / source.grid.cell_m)[:, None] * left
    x, y = source.grid.transform * at.T
    number = np.array(row_numbers(block))[found.row]
    order = np.lexsort((found.station_m, found.row, number))
    table = pd.DataFrame(
        {
            "block_id": block.block_id,
            "row": number,
            "confidence": np.round(found.confidence, 3),
            "doubtful": found.confidence < DOUBTFUL,
            "proud_m": np.round(found.proud_m, 2),
            "seen_m": np.round(found.seen_m, 2),
        }
    ).iloc[order]
    along = table.groupby("row").cumcount() + 1
    table.insert(0, "name", [f"{row}-{post}" for row, post in zip(table["row"], along, strict=True)])
    points = shapely.points(np.column_stack([x, y])[order])
    return gpd.GeoDataFrame(table.reset_index(drop=True), geometry=points, crs=source.grid.crs_wkt)


def _note(frame: gpd.GeoDataFrame, found: FoundPosts, block_id: str, notes: Findings) -> None:
    doubtful = int(frame["doubtful"].sum())
    notes.note(
        "posts-found",
        f"{many(len(frame), 'post')} stand proud of the rows, most of them {found.span_m:.2f} m apart "
        f"({FOUND_POSTS}). One that is missed makes a span of the plan twice as long: look at review.html.",
        block_id,
    )
    if doubtful:
        notes.note(
            "posts-doubtful",
            f"{many(doubtful, 'post', 'have')} a confidence below {DOUBTFUL:g}: faint, or not at the distance of the "
            f"others. Look at them in review.html and mend or delete them in {FOUND_POSTS}.",
            block_id,
        )


def _why_none(*, seen: bool) -> str:
    if not seen:
        return "Posts are looked for in heights only; this survey has none."
    return (
        "No posts were found: nothing thin stands out of the rows at a regular distance. Vines in leaf hide posts, and "
        "cells of 10 cm or more blur them away; posts show in a survey of dormant vines in cells of 2 to 5 cm, or in a "
        "cloud of some 600 points a square metre."
    )
