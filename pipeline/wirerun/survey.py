"""The story of a survey: from a surface with vines in it to ground, rows, and how far to trust both."""

from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import geopandas as gpd
import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.ndimage import map_coordinates
from scipy.spatial import cKDTree

from wirerun.arrays import BoolArray, FloatArray
from wirerun.errors import SettingError
from wirerun.findings import Findings, name_some
from wirerun.model.survey import Survey
from wirerun.progress import Progress
from wirerun.read.config import GROUND, planned_with
from wirerun.read.found_ground import open_ground
from wirerun.read.survey_check import HeightCheck, refuse_feet
from wirerun.read.survey_cover import check_survey_cover
from wirerun.read.survey_size import refuse_too_large
from wirerun.read.survey_source import SurveySource, open_survey
from wirerun.settings import Config
from wirerun.surface.accuracy import FAR_M, Accuracy, accuracy_of, feet_among_metres, likely_another_height_system
from wirerun.surface.canopy import ROW_CELL_M, canopy_cm
from wirerun.surface.ground_filter import LEAST_SUPPORT, FilterSettings, GroundEstimate, ground_of, noise_of
from wirerun.surface.preview import Preview
from wirerun.surface.work_grid import Cells
from wirerun.survey_photo import areas_of, picture_of
from wirerun.survey_posts import posts_of_blocks
from wirerun.survey_rows import Plants, note_rows, row_frame, rows_of_block, spacing_of_blocks
from wirerun.wording import many
from wirerun.write.folder import result_folder, room_at
from wirerun.write.survey.plan_config import write_plan_config
from wirerun.write.survey.rasters import GroundFiles, ground_files
from wirerun.write.survey.report import write_report
from wirerun.write.survey.review import write_review
from wirerun.write.survey.rows_layer import write_posts, write_rows

# Choices: a share of the ground that was filled, and a bias, that are told as warnings.
_MOST_FILLED: Final = 0.05
_MOST_BIAS_M: Final = 0.05
# Check points nearer than this are one, measured again: choice.
_ONE_PLACE_M: Final = 0.1


@dataclass(slots=True)
class _Ground:
    """What came of the ground: plants, picture, counts, errors at check points, what was seen of the heights."""

    plants: Plants
    preview: Preview
    counts: dict[str, int]
    off_m: FloatArray
    check: HeightCheck


def survey_to_folder(
    config: Config, written: dict[str, Any], target: Path, *, overwrite: bool, progress: Progress
) -> Survey:
    """Find ground and rows, and write them, their review and the plan that goes on from them.

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
        refuse_too_large(source, room_at(draft))
        check_survey_cover(source, notes)
        told = _filter_settings(source)
        with progress.stage("noise"):
            noise_m = survey_noise(source, told)
        with progress.stage("ground"), ground_files(draft, source.grid) as files:
            ground = find_ground(source, told, noise_m, files)
        accuracy, check = _accuracy(source, ground.off_m, notes)
        with progress.stage("rows"):
            blocks = tuple(rows_of_block(source, ground.plants, place) for place in range(len(source.blocks)))
            rows = row_frame(source, blocks)
        _note(source, ground, accuracy, notes)
        note_rows(blocks, rows, notes)
        with progress.stage("posts"), open_ground(draft / GROUND) as found:
            blocks, posts = posts_of_blocks(source, found, blocks, notes)
        made = Survey(
            config=config,
            crs_wkt=source.grid.crs_wkt,
            cell_m=source.grid.cell_m,
            noise_m=noise_m,
            counts=ground.counts,
            accuracy=accuracy,
            blocks=blocks,
            areas=areas_of(source),
            rows=rows,
            posts=posts,
            check=check,
            preview=ground.preview,
            photo=picture_of(source),
            findings=(*source.findings, *notes),
            sources=tuple(source.sources),
        )
        with progress.stage("write"):
            if len(rows):
                write_rows(rows, draft)
                write_posts(posts, draft)
                tables = _plan_tables(written, made, accuracy)
                write_plan_config(tables, config.file, (config.folder, target), draft, len(posts))
            write_review(made, draft / "review.html")
            write_report(made, draft)
    return made


def _filter_settings(source: SurveySource) -> FilterSettings:
    told = source.config.survey
    return FilterSettings(source.grid.cell_m, told.canopy_m, told.tree_m, source.bare, told.grass_height_m)


def survey_noise(source: SurveySource, told: FilterSettings) -> float:
    """Robust sigma of the bare cells round their planes, median of samples all over the survey [m]."""
    if told.bare:
        return 0.0
    margin = source.grid.margin
    sigmas = []
    for cells in source.grid.samples():
        surface, valid = source.read_grown(cells, margin)
        sigmas.append(noise_of(surface, valid, told))
    known = [sigma for sigma in sigmas if np.isfinite(sigma)]
    if not known:
        place = "survey.surface" if source.config.survey.points is None else "survey.points"
        msg = "no bare ground can be told from plants in it: are these heights of a surface, with rows in it?"
        raise SettingError(place, msg)
    return float(np.median(known))


def find_ground(source: SurveySource, told: FilterSettings, noise_m: float, files: GroundFiles) -> _Ground:
    """Go through the tiles: ground, difference and confidence into the files, canopy and picture kept.

    Parameters
    ----------
    source, told, noise_m
        What is read, what the filter is told, and the survey's noise [m].
    files : GroundFiles
        Where the rasters go.
    """
    grid = source.grid
    # Tiles and their margins are even.
    step = 2 if grid.cell_m < 0.75 * ROW_CELL_M else 1
    canopy = np.zeros((grid.shape[0] // step, grid.shape[1] // step), dtype=np.uint8)
    preview = Preview.of(grid)
    counts = {"seen": 0, "filled": 0, "void": 0}
    off = np.full(len(source.check_cells), np.nan)
    check = HeightCheck(source.given, grid, source.config.survey.points is not None)
    for cells in grid.tiles():
        wanted = source.wanted(cells)
        if not wanted.any():
            continue
        grown = cells.grown(grid.margin)
        surface, valid = source.surface.read(grown)
        here = cells.inside(grown)
        check.take(cells, surface[here], wanted & valid[here])
        made = ground_of(surface, valid, told, noise_m)
        # Of a point cloud the ground lies lowest, and what stands on it highest.
        surface, valid = source.surface.read_top(grown) or (surface, valid)
        plants = _canopy(surface, valid, made, told, step)
        joined = tuple(
            slice(part.start // step, part.start // step + (part.stop - part.start) // step) for part in here
        )
        top, left = cells.top // step, cells.left // step
        rows, columns = plants[joined].shape
        canopy[top : top + rows, left : left + columns] = plants[joined]
        _read_check_points(source, cells, grown, made, off)
        ground, reach = made.ground_m[here], made.reach_m[here]
        known = wanted & (reach > 0.0)
        inside = source.in_blocks(cells)
        check.take_ground(cells, ground, inside, known)
        difference = np.where(valid[here], surface[here] - ground, 0.0)
        how = np.stack([made.confidence[here], reach])
        files.put(cells, wanted, ground, difference, how)
        preview.put(cells, np.stack([surface[here], ground, difference, *how]), known & valid[here])
        seen = made.confidence[here] >= LEAST_SUPPORT
        for name, where in (("seen", known & seen), ("filled", known & ~seen), ("void", ~known)):
            counts[name] += int(np.count_nonzero(inside & where))
    return _Ground(Plants(canopy, step), preview, counts, off, check)


def _canopy(
    surface: FloatArray, valid: BoolArray, made: GroundEstimate, told: FilterSettings, step: int
) -> NDArray[np.uint8]:
    """Height of plants in joined cells [cm]."""
    known = valid & (made.reach_m > 0.0)
    # Over the grass: low rows are lifted to be traced, and so would the grass be.
    height = np.where(known, surface - made.ground_m - told.grass_m, 0.0)
    rows, columns = height.shape[0] // step, height.shape[1] // step
    cut = slice(0, rows * step), slice(0, columns * step)
    joined, share = (
        part[cut].reshape(rows, step, columns, step).mean(axis=(1, 3)) for part in (height, known.astype(np.float64))
    )
    return canopy_cm(joined, share > 0.5, told.cell_m * step, told.canopy_m)


def _read_check_points(source: SurveySource, cells: Cells, grown: Cells, made: GroundEstimate, off: FloatArray) -> None:
    """Put ground less check point into `off` for the points that lie in a tile."""
    if source.check is None or not len(off):
        return
    column, row = source.check_cells.T
    here = (row >= cells.top) & (row < cells.bottom) & (column >= cells.left) & (column < cells.right)
    at = np.stack([row[here] - grown.top - 0.5, column[here] - grown.left - 0.5])
    ground = map_coordinates(made.ground_m, at, order=1)
    known = map_coordinates((made.reach_m > 0.0).astype(np.float64), at, order=1) > 0.999
    off[here] = np.where(known, ground - source.check.height_m[here], np.nan)


def _accuracy(source: SurveySource, off: FloatArray, notes: Findings) -> tuple[Accuracy, gpd.GeoDataFrame]:
    """Accuracy by the check points that stand on the ground, all of them, and what there is to say of the others."""
    check = source.check
    known = np.isfinite(off)
    used = known.copy()
    if check is None:
        return accuracy_of(np.zeros(0), np.zeros((0, 2)), source.config.survey), gpd.GeoDataFrame(
            geometry=[], crs="EPSG:4326"
        )
    refuse_feet(feet_among_metres((off + check.height_m)[known], check.height_m[known]), check.file.given)
    if likely_another_height_system(off[known]):
        apart = float(np.median(off[known]))
        notes.note(
            "survey-bias",
            f"The ground lies {apart:+.2f} m off all check points alike: most likely one of the two has heights above "
            "the ellipsoid, the other above the sea. A plan takes differences, and is as good; levels on site are not.",
            check.file.given,
        )
        used &= np.abs(off - apart) <= FAR_M
    else:
        used &= np.abs(off) <= FAR_M
    names = [name or place for name, place in zip(check.names, check.places, strict=True)]
    outside = [name for name, there in zip(names, known, strict=True) if not there]
    far = [f"{name} ({by:+.2f} m)" for name, by, bad in zip(names, off, known & ~used, strict=True) if bad]
    places = source.check_cells * source.grid.cell_m
    repeats = _repeats(places, used)
    used &= ~repeats
    again = [name for name, twice in zip(names, repeats, strict=True) if twice]
    if outside or far or again:
        parts = [f"{name_some(outside)} lie where no ground was made"] if outside else []
        parts += [f"{name_some(far)} are more than {FAR_M:g} m off, on something else than the ground"] if far else []
        parts += [f"{name_some(again)} measured a second time"] if again else []
        notes.note("check-points-off", f"Check points left out: {'; '.join(parts)}.", check.file.given)
    points = gpd.GeoDataFrame(
        {"name": names, "off_m": np.round(off, 4), "used": used},
        geometry=shapely.points(check.lonlat),
        crs="EPSG:4326",
    )
    return accuracy_of(off[used], places[used], source.config.survey), points


def _repeats(places: FloatArray, used: BoolArray) -> BoolArray:
    """Which of the check points in use lie at the place of an earlier one, [point]."""
    at = np.flatnonzero(used)
    again = np.zeros(len(used), dtype=np.bool_)
    again[at[cKDTree(places[at]).query_pairs(_ONE_PLACE_M, output_type="ndarray")[:, 1]]] = True
    return again


def _note(
    source: SurveySource,
    ground: _Ground,
    accuracy: Accuracy,
    notes: Findings,
) -> None:
    """Tell what a person should know of the ground before it is used."""
    checked = accuracy.checked
    words = f"The ground is taken to be good to {accuracy.accuracy_m:.3f} m (one sigma, place to place)"
    if checked is None:
        words += ", which is assumed: there are no check points"
    else:
        words += (
            f": {many(checked.points, 'check point')}, bias {checked.bias_m:+.3f} m, RMSE {checked.rmse_m:.3f} m, LE90 "
            f"{checked.le90_m:.3f} m"
        )
        if _MOST_BIAS_M < abs(checked.bias_m) < FAR_M:
            notes.note(
                "survey-bias",
                f"The ground lies {checked.bias_m:+.3f} m off its check points as a whole; a plan takes differences "
                "and is not harmed, levels on site are. Grass lifts a ground by its height: survey.grass_height_m is "
                "what is taken off.",
                str(source.config.survey.check_points),
            )
    if not source.bare and (grass := source.config.survey.grass_height_m):
        words += f"; {grass:g} m of grass were taken off it all over (survey.grass_height_m)"
    notes.note("survey-accuracy", f"{words}.", source.config.name)
    cells = sum(ground.counts.values())
    filled, void = (ground.counts[name] / max(cells, 1) for name in ("filled", "void"))
    if filled + void > _MOST_FILLED:
        notes.note(
            "survey-voids",
            f"Of the blocks' ground {100.0 * filled:.1f} % was filled from more than a metre off, and "
            f"{100.0 * void:.1f} % could not be (confidence.tif): under trees, in holes of the survey, or where plants "
            "stand so dense that no bare ground is seen.",
            source.config.name,
        )
    if cliff := ground.check.cliff:
        notes.note("survey-cliff", cliff, source.given)
    if source.surface.undeclared:
        told = " and ".join(sorted(source.surface.undeclared))
        notes.note(
            "undeclared-nodata", f"Cells {told}, not declared as no-data; they were taken as empty.", source.given
        )


def _plan_tables(written: dict[str, Any], made: Survey, accuracy: Accuracy) -> dict[str, Any]:
    """Settings of the plan that goes on: as written, on the found ground and with the found rows."""
    elevation = {
        "raster": GROUND,
        "surface": "ground",
        "accuracy_m": round(accuracy.accuracy_m, 4),
        "correlation_m": round(accuracy.correlation_m, 2),
        "unseen_m": made.config.survey.unseen_m,
    }
    tables = spacing_of_blocks(planned_with(written, elevation, {}), made.blocks)
    tables["name"] = made.config.name
    return tables
