"""What a program may call: plan from a config or from objects, and what a plan can do."""

from collections.abc import Collection, Mapping, Sequence
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

import pandas as pd

from wirerun import records
from wirerun.all_blocks import check_measured, plan_all
from wirerun.as_built import compare_as_built
from wirerun.compare import compare_plans
from wirerun.errors import Fault, Faults, InputError
from wirerun.estate import plan_estate
from wirerun.measurements import Weighed
from wirerun.model.as_built import AsBuilt
from wirerun.model.comparison import Comparison
from wirerun.model.repair import Repair
from wirerun.model.study import Study
from wirerun.model.survey import Survey
from wirerun.one_case import Bench
from wirerun.progress import Progress
from wirerun.read.config import config_of, load_config, load_survey_config
from wirerun.read.finished import planned_config, read_finished
from wirerun.read.inputs import read_inputs
from wirerun.read.objects import Blocks, Heights, inputs_of
from wirerun.read.offline import alike, offline
from wirerun.read.points import Stated, read_points
from wirerun.read.study import check_study, read_rules, study_cases
from wirerun.records import Inputs, SurveyedPosts
from wirerun.repair import Question, repair_row
from wirerun.settings import Config
from wirerun.settled import settled
from wirerun.study import run_study
from wirerun.survey import survey_to_folder
from wirerun.survey_photo import photo_to_folder
from wirerun.weigh_measured import weigh_measured
from wirerun.write.folder import check_target
from wirerun.write.gis import check_formats
from wirerun.write.result import PARTS, write_result

if TYPE_CHECKING:
    from folium import Map

__all__ = [
    "PARTS",
    "Plan",
    "as_built",
    "check",
    "compare",
    "load_config",
    "measured",
    "plan",
    "plan_config",
    "plan_estate",
    "plan_file",
    "plan_to_folder",
    "repair",
    "study",
    "survey_file",
]


class Plan(records.Plan):
    """A plan: its tables, and what can be made of them."""

    __slots__ = ()

    @property
    def tables(self) -> Mapping[str, pd.DataFrame]:
        """Return the tables by name, columns as in the data dictionary; with geometry in WGS 84 where they have one."""
        return MappingProxyType({name: getattr(self, name) for name in self.written_tables})

    def write(self, folder: str | Path, only: Collection[str] = PARTS, *, overwrite: bool = False) -> Path:
        """Write the plan to a folder, which appears whole or not at all; return the folder.

        Parameters
        ----------
        folder : path
            Where to.
        only : collection of str
            Which parts, of schedule, gis, map and cards; the record and the data dictionary come with any.
        overwrite : bool
            Whether a finished plan that stands there is replaced.

        Raises
        ------
        TargetError
            If the folder cannot be written as asked; what stood there stays.
        """
        check_formats(self.config.output.formats)
        with offline():
            return write_result(self, Path(folder), overwrite=overwrite, only=only)

    def map(self) -> "Map":
        """Return the map as a folium map: the page that `write` writes as map.html, and open to more layers."""
        from wirerun.write.html_map import build_map  # noqa: PLC0415 - folium takes half a second to import

        return build_map(records.as_written(self))


def plan(blocks: Blocks, heights: Heights, config: Config | Mapping[str, Any]) -> Plan:
    """Plan from objects; no file is read but the catalogue and what the config names, none is written.

    Parameters
    ----------
    blocks : GeoDataFrame, or (Polygon or MultiPolygon, CRS)
        The blocks, one polygon each, with their CRS. `block.id_field` of the config names the column of their ids;
        without it they are called B01, B02 ... Other columns may hold settings of theirs, see `block.attributes`.
    heights : rasterio dataset, xarray.DataArray, or (array, Affine, CRS)
        Bare-earth heights on a grid: an open dataset with one band; an array of two dimensions with coordinates, as
        rioxarray lays one out (its CRS in `spatial_ref`, the no-data number in `_FillValue`); or an array of shape
        (rows, columns), NaN where there is none, the transform of its cell corners and its CRS.
    config : Config or mapping
        Settings; `block.boundary` and `elevation.raster` are not needed. A mapping is checked as a config file is.

    Returns
    -------
    Plan
        Its tables, findings, map, and `write`.

    Raises
    ------
    InputError
        With every fault of blocks, heights and settings, in the sentences of the command.

    Examples
    --------
    >>> import numpy as np, shapely
    >>> from affine import Affine
    >>> hill = np.fromfunction(lambda row, column: 300.0 + 0.05 * column, (220, 260))
    >>> block = shapely.box(600_010.0, 4_560_010.0, 600_120.0, 4_560_100.0)
    >>> made = plan(
    ...     (block, "EPSG:25829"),
    ...     (hill, Affine(0.5, 0.0, 600_000.0, 0.0, -0.5, 4_560_110.0), "EPSG:25829"),
    ...     {"name": "hill", "rows": {"bearing_deg": 90.0, "spacing_m": 2.4}},
    ... )
    >>> len(made.rows), sorted(made.tables)[:3]
    (37, ['adjusters', 'block_costs', 'clips'])
    """
    settings = config if isinstance(config, Config) else config_of(config)
    with alike():
        return plan_all(*inputs_of(blocks, heights, settings), Progress(), Plan)


def plan_file(path: str | Path) -> Plan:
    """Plan what a config file asks for; nothing is written.

    Raises
    ------
    InputError
        With every fault of the config and of the files it names.
    """
    return plan_config(load_config(path))


def plan_config(config: Config, progress: Progress | None = None) -> Plan:
    """Plan the config's block or blocks; nothing is written.

    Parameters
    ----------
    config : Config
        As `load_config` returns it.
    progress : Progress, optional
        Hears of each stage and keeps its seconds.

    Raises
    ------
    InputError
        If the input has faults that cost every block; carries all of them. Where some blocks can be planned they are,
        and the others are told in `Plan.missing`.
    """
    progress = progress or Progress()
    with alike():
        with progress.stage("read"):
            inputs = read_inputs(config)
        return plan_all(inputs, config, progress, Plan)


def check(config: Config) -> Inputs:
    """Everything that a plan reads, read and checked.

    Raises
    ------
    InputError
        With every fault found, if one costs every block; else the blocks that faults cost are told in
        `Inputs.missing`.
    """
    check_formats(config.output.formats)
    with offline():
        inputs = read_inputs(config)
        check_measured(inputs, config)
        return inputs


def plan_to_folder(
    config: Config, target: Path, *, overwrite: bool, only: Collection[str] = (), progress: Progress | None = None
) -> Plan:
    """Plan, written to a folder that is put in its place only when whole; `only` names the parts, else all.

    Raises
    ------
    InputError
        If the input has faults that cost every block.
    TargetError
        If the folder is there already and may not be replaced, or a format's library is missing.
    """
    progress = progress or Progress()
    check_target(target, overwrite=overwrite)
    check_formats(config.output.formats)
    with settled():
        made = plan_config(config, progress)
        with progress.stage("write"):
            made.write(target, only or PARTS, overwrite=overwrite)
    return made


def compare(folders: Sequence[str | Path]) -> Comparison:
    """Finished plans side by side, by their folders: each against the first, by id, and in total.

    Raises
    ------
    InputError
        With every fault: a folder that holds no finished plan, or one that was changed since.
    """
    faults = Faults()
    plans = [read_finished(str(folder), faults) for folder in folders]
    faults.stop_if_any()
    return compare_plans([plan for plan in plans if plan is not None])


def as_built(
    folder: str | Path, points: str | Path, stated: Stated | None = None, within_m: float | None = None
) -> AsBuilt:
    """Posts as they were surveyed against those of a finished plan.

    Parameters
    ----------
    folder : path
        The plan's.
    points : path
        CSV or vector file with the surveyed posts, as `posts.points` of a config would name it.
    stated : Stated, optional
        CRS and height unit of a table.
    within_m : float, optional
        Farthest that a post may stand from where it was planned; by default `posts.snap_m` of the plan. [m]

    Raises
    ------
    InputError
        With every fault of the folder and the file.
    """
    faults = Faults()
    with offline():
        plan = read_finished(str(folder), faults)
        config = None if plan is None else planned_config(plan, faults)
        read = read_points(str(points), Path(), faults, stated or Stated())
        faults.stop_if_any()
        if plan is None or config is None or read is None:
            msg = "a plan or its posts were refused without a reason"
            raise RuntimeError(msg)
        survey = SurveyedPosts(read.lonlat, read.height_m, read.places)
        return compare_as_built(plan, config, survey, str(points), within_m)


def measured(config: Config, progress: Progress | None = None, *, quick: bool = False) -> list[Weighed]:
    """Tell what was measured, and what the order changes by; nothing is written.

    Parameters
    ----------
    config : Config
        With a section `measured`.
    progress : Progress, optional
        Hears of each stage.
    quick : bool
        Whether only the values are told.

    Raises
    ------
    InputError
        With every fault of the config and its files; or if it names nothing that was measured.
    """
    progress = progress or Progress()
    with alike():
        with progress.stage("read"):
            inputs = read_inputs(config)
        if not inputs.measured:
            sentence = "no file of [measured] is named, so there is nothing to tell"
            raise InputError((Fault(config.file, "measured", sentence),))
        return weigh_measured(inputs, config, progress, quick=quick)


def repair(config: Config, question: Question, progress: Progress | None = None) -> list[Repair]:
    """Tell how to mend or tighten the wires of one row; only its block is planned, nothing is written.

    Parameters
    ----------
    config : Config
        As `load_config` returns it.
    question : Question
        Row, wire, place and what is known of the day.
    progress : Progress, optional
        Hears of each stage and keeps its seconds.

    Raises
    ------
    InputError
        With every fault of the config and its files, and where row, wire or place are none of the plan's.
    """
    with alike():
        return repair_row(config, question, progress or Progress())


def study(config: Config, *, workers: int = 1, progress: Progress | None = None) -> Study:
    """Try the ways to plant that a config's `study` names, and measure and judge each; nothing is written.

    Parameters
    ----------
    config : Config
        As `load_config` returns it.
    workers : int
        Processes at work side by side.
    progress : Progress, optional
        Hears of each case and keeps the seconds.

    Raises
    ------
    InputError
        With every fault of the config, its study and the files it names.
    """
    progress, faults = progress or Progress(), Faults()
    check_study(config, faults)
    rules = read_rules(config, faults)
    faults.stop_if_any()
    with alike():
        with progress.stage("read"):
            inputs = read_inputs(config)
        known = [block.block_id for block in inputs.blocks]
        if config.study.block is not None and config.study.block not in known:
            faults.add(config.file, "study.block", f'"{config.study.block}" is no block; there are {", ".join(known)}')
        cases = study_cases(config, inputs, faults)
        faults.stop_if_any()
        return run_study(config, cases, rules, Bench(read_inputs, alike, rules, config.study.block), workers, progress)


def survey_file(
    path: str | Path, target: Path | None = None, *, overwrite: bool = False, progress: Progress | None = None
) -> tuple[Survey, Path]:
    """Find the ground and the rows that a config's survey shows, written to a folder; return both.

    Parameters
    ----------
    path : path
        The config, with a section `survey`.
    target : Path, optional
        The folder; else outputs/<name>-survey.
    overwrite : bool
        Whether an earlier result that stands there is replaced.
    progress : Progress, optional
        Hears of each stage and keeps its seconds.

    Raises
    ------
    InputError
        With every fault of the config and of the files it names.
    TargetError
        If the folder is there already and may not be replaced.
    """
    config, written = load_survey_config(path)
    folder = target or Path("outputs") / f"{config.name}-survey"
    with alike():
        heights = config.survey.surface is not None or config.survey.points is not None
        story = survey_to_folder if heights else photo_to_folder
        made = story(config, written, folder, overwrite=overwrite, progress=progress or Progress())
    return made, folder
