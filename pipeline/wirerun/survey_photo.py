"""The story of a survey without heights: rows in an orthophoto, and a config to plan with on other ground."""

import math
from collections.abc import Sequence
from pathlib import Path
from typing import Any, Final

import geopandas as gpd
import numpy as np
from affine import Affine

from wirerun.errors import Faults
from wirerun.findings import Findings
from wirerun.model.survey import BlockRows, PhotoPicture, Survey
from wirerun.progress import Progress
from wirerun.read.config import planned_with
from wirerun.read.survey_source import SurveySource, open_survey
from wirerun.settings import Config
from wirerun.survey_posts import no_posts
from wirerun.survey_rows import note_rows, row_frame, rows_in_photo, spacing_of_blocks
from wirerun.write.folder import result_folder
from wirerun.write.survey.plan_config import write_plan_config
from wirerun.write.survey.report import write_report
from wirerun.write.survey.review import write_review
from wirerun.write.survey.rows_layer import write_rows

_MOST_PX: Final = 1200  # of the picture in the review: choice


def photo_to_folder(
    config: Config, written: dict[str, Any], target: Path, *, overwrite: bool, progress: Progress
) -> Survey:
    """Find rows in an orthophoto, and write them, their review and the plan that goes on from them.

    Parameters
    ----------
    config, written : Config, dict
        As `load_survey_config` returns them.
    target : Path
        The folder; it appears whole or not at all.
    overwrite : bool
        Whether an earlier result that stands there is replaced.
    progress : Progress
        Hears of each stage and keeps its seconds.

    Raises
    ------
    InputError
        If the input has faults; carries all of them.
    TargetError
        If the folder cannot be written as asked.
    """
    notes = Findings()
    with result_folder(target, overwrite=overwrite) as draft, open_survey(config) as source:
        with progress.stage("rows"):
            blocks = tuple(rows_in_photo(source, place) for place in range(len(source.blocks)))
            rows = row_frame(source, blocks)
        refuse_little_photo(config, blocks)
        note_rows(blocks, rows, notes)
        above = written.get("elevation")
        has_ground = isinstance(above, dict) and "raster" in above
        notes.note("survey-no-heights", _what_is_missing(has_ground=has_ground), config.name)
        made = Survey(
            config=config,
            crs_wkt=source.grid.crs_wkt,
            cell_m=source.grid.cell_m,
            noise_m=float("nan"),
            counts={},
            accuracy=None,
            blocks=blocks,
            areas=areas_of(source),
            rows=rows,
            posts=no_posts(source.grid.crs_wkt),
            check=gpd.GeoDataFrame(geometry=[], crs="EPSG:4326"),
            preview=None,
            photo=picture_of(source),
            findings=(*source.findings, *notes),
            sources=tuple(source.sources),
            asks_for_ground=not has_ground,
        )
        with progress.stage("write"):
            if len(rows):
                write_rows(rows, draft)
                tables = spacing_of_blocks(planned_with(written, {}, {}), blocks)
                tables["name"] = config.name
                write_plan_config(tables, config.file, (config.folder, target), draft, ground=False)
            write_review(made, draft / "review.html")
            write_report(made, draft)
    return made


def refuse_little_photo(config: Config, blocks: Sequence[BlockRows]) -> None:
    """Refuse blocks of which too little is on a photo that is all there is.

    Raises
    ------
    InputError
        With a sentence for each.
    """
    least = config.survey.least_cover_pct
    faults = Faults()
    for block in blocks:
        # Rounded down, so that a fault never says that 50.0 % is below 50 %.
        share = math.floor(1000.0 * block.in_photo) / 10.0
        if 100.0 * block.in_photo < least:
            faults.add(
                config.survey.orthophoto or "",
                f"block {block.block_id}",
                f"only {share:.1f} % of the block show on it; rows are looked for where at least {least:g} % do "
                "(survey.least_cover_pct)",
            )
    faults.stop_if_any()


def areas_of(source: SurveySource) -> gpd.GeoDataFrame:
    """Blocks of a survey, one feature each, in WGS 84."""
    return gpd.GeoDataFrame(
        {"block_id": [block.block_id for block in source.blocks]},
        geometry=[block.area for block in source.blocks],
        crs="EPSG:4326",
    )


def picture_of(source: SurveySource) -> PhotoPicture | None:
    """A small picture of the survey's orthophoto; None without one."""
    photo, grid = source.photo, source.grid
    if photo is None:
        return None
    step = max(1, -(-max(grid.shape) // _MOST_PX))
    shape = -(-grid.shape[0] // step), -(-grid.shape[1] // step)
    transform = grid.transform * Affine.scale(step)
    bands = photo.read(transform, shape, grid.crs_wkt)
    return PhotoPicture(bands, np.asarray(bands.any(axis=0)), transform, photo.index_name)


def _what_is_missing(*, has_ground: bool) -> str:
    words = "An orthophoto has no heights: rows were found, no ground and no posts. "
    if has_ground:
        return words + "The plan is made on the ground of elevation.raster; it is not checked here."
    return words + "plan.toml asks for a ground raster: name one in elevation.raster there before you plan."
