"""How much of each block a survey saw: refused where it is too little, told where it is not all."""

from typing import Final

import numpy as np

from wirerun.arrays import BoolArray
from wirerun.errors import Exit, Faults
from wirerun.findings import Findings
from wirerun.read.cover import Gap, biggest_part, side_of
from wirerun.read.survey_check import refuse_without_heights
from wirerun.read.survey_source import SurveySource

# Choices: holes that are narrower, a few cells of a cloud among them, are none; so many joined cells go by at once.
_LOOKED_M, _LEAST_JOINED, _LEAST_SEEN = 1.0, 3, 0.5
_AT_ONCE: Final = 10_000


def check_survey_cover(source: SurveySource, notes: Findings) -> None:
    """Refuse blocks of which too little was seen to find their rows in; tell where anything is missing.

    Parameters
    ----------
    source : SurveySource
        What is read; it has heights.
    notes : Findings
        Hears of blocks of which a part is missing.

    Raises
    ------
    InputError
        With a sentence for each block that is seen too little of, and the exit code of missing elevation.
    """
    gaps = [_gap_of(source, number) for number in range(len(source.blocks))]
    if all(gap is not None and not gap.covered_pct for gap in gaps):
        refuse_without_heights(source.given, source.config.block.boundary)
    least, planned = source.config.survey.least_cover_pct, source.config.elevation.least_cover_pct
    of_tiles = "" if source.config.survey.points else "; of a survey in tiles, give them all"
    faults = Faults()
    for block, gap in zip(source.blocks, gaps, strict=True):
        if gap is None:
            continue
        if gap.covered_pct < least:
            words = "the block has no heights at all" if not gap.covered_pct else f"only {gap.words}"
            faults.add(
                source.given,
                f"block {block.block_id}",
                f"{words}; rows are looked for where at least {least:g} % have (survey.least_cover_pct){of_tiles}",
                Exit.ELEVATION,
            )
            continue
        refused = (
            f" A plan is refused below {planned:g} % (elevation.least_cover_pct)." if gap.covered_pct < planned else ""
        )
        words = f"{gap.words[:1].upper()}{gap.words[1:]}. Without heights no rows are found.{refused}"
        notes.note("cover-gap", words, block.block_id)
    faults.stop_if_any()


def _gap_of(source: SurveySource, number: int) -> Gap | None:
    """What of a block was not seen; None where all was."""
    step = max(_LEAST_JOINED, round(_LOOKED_M / source.grid.cell_m))
    cells, inside = source.in_block(number, step)
    missing = inside & ~_seen(source, number, step)
    if not missing.any():
        return None
    column, row = biggest_part(missing)[1]
    lon, lat = source.to_lonlat((cells.left + column * step, cells.top + row * step))
    covered = 100.0 * (1.0 - np.count_nonzero(missing) / np.count_nonzero(inside))
    return Gap(covered, lon, lat, side_of(source.blocks[number].area, lon, lat))


def _seen(source: SurveySource, number: int, step: int) -> BoolArray:
    """Which joined cells of a block the survey saw half of, strip of rows by strip."""
    cells, inside = source.in_block(number, step)
    seen = np.zeros(inside.shape, dtype=bool)
    rows, columns = inside.shape[0], inside.shape[1]
    high = max(1, _AT_ONCE // max(1, columns))
    for top in range(0, rows, high):
        bottom = min(top + high, rows)
        strip = cells._replace(
            top=cells.top + top * step, bottom=cells.top + bottom * step, right=cells.left + columns * step
        )
        there = source.surface.seen(strip).reshape(bottom - top, step, columns, step)
        seen[top:bottom] = there.mean(axis=(1, 3)) >= _LEAST_SEEN
    return seen
