"""The order of the stages: read it and you know the job."""

import time
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

import geopandas as gpd
import pandas as pd

from pipeline.errors import Fault, InputError, SettingError
from pipeline.findings import LEVELS, Finding
from pipeline.geometry.frame import direction
from pipeline.geometry.lines import to_row_axes
from pipeline.geometry.sampling import Ground
from pipeline.geometry.station import Paths
from pipeline.read.config import load_config
from pipeline.read.inputs import read_inputs
from pipeline.records import Block, Drawn, FrameNote, Grid, Inputs, Plan
from pipeline.settings import Config, RowSettings
from pipeline.stages.adjusters import choose_adjusters
from pipeline.stages.boundary import Site, set_out
from pipeline.stages.clips import choose_clips
from pipeline.stages.drawn import lay_follow, lay_given
from pipeline.stages.dropping import let_down
from pipeline.stages.fitting import place_fitted
from pipeline.stages.georeference import WGS84, place_posts, place_rows, place_sections, place_spans
from pipeline.stages.ground import humps
from pipeline.stages.holding import load_posts
from pipeline.stages.placing import Stations, place_equal, place_on_baseline, place_on_vines, vine_places
from pipeline.stages.post_heights import set_heights
from pipeline.stages.posts import set_posts
from pipeline.stages.rows import lay_parallel, spacing_in_plan, steep_rows
from pipeline.stages.season import lift, warm_and_cool
from pipeline.stages.surveyed import stand_on_points
from pipeline.stages.tension_check import tension_sheet
from pipeline.stages.undulation import find_sections, judge_need
from pipeline.stages.wires import string_tight
from pipeline.tables import (
    ADJUSTERS,
    CLIPS,
    FINDINGS,
    LIFTS,
    POSTS,
    ROWS,
    SECTIONS,
    SPANS,
    TENSION_CHECK,
    WIRES,
    Table,
    conform,
    empty,
)
from pipeline.write.folder import check_target
from pipeline.write.result import write_result

__all__ = ["Progress", "check", "load_config", "plan_block", "plan_to_folder"]


@dataclass(slots=True)
class Progress:
    """Seconds of each stage so far; `tell` hears each stage's name as it starts."""

    tell: Callable[[str], object] = lambda _stage: None
    seconds: dict[str, float] = field(default_factory=dict)

    @contextmanager
    def stage(self, name: str) -> Iterator[None]:
        """Time a stage; the same name again adds up."""
        self.tell(name)
        start = time.perf_counter()
        try:
            yield
        finally:
            self.seconds[name] = self.seconds.get(name, 0.0) + time.perf_counter() - start


def check(config: Config) -> Inputs:
    """Everything that a plan reads, read and checked.

    Raises
    ------
    InputError
        With every fault found.
    """
    return read_inputs(config)


def plan_to_folder(config: Config, target: Path, *, overwrite: bool, progress: Progress | None = None) -> Plan:
    """Plan, written to a folder that is put in its place only when whole.

    Raises
    ------
    InputError
        If the input has faults.
    TargetError
        If the folder is there already and may not be replaced.
    """
    progress = progress or Progress()
    check_target(target, overwrite=overwrite)
    plan = plan_block(config, progress)
    with progress.stage("write"):
        write_result(plan, target, overwrite=overwrite)
    return plan


def plan_block(config: Config, progress: Progress | None = None) -> Plan:
    """The whole job for the config's block or blocks, as tables; writes nothing.

    Parameters
    ----------
    config : Config
        As `load_config` returns it.
    progress : Progress, optional
        Hears of each stage and keeps its seconds.

    Raises
    ------
    InputError
        If the input has faults; carries all of them.
    """
    progress = progress or Progress()
    with progress.stage("read"):
        inputs = read_inputs(config)
    sites = zip(inputs.blocks, inputs.grids, inputs.drawn, strict=True)
    try:
        parts = [_plan_one(*site, config, progress) for site in sites]
    except SettingError as error:
        raise InputError((Fault(config.file, error.place, error.message),)) from error
    findings = [*inputs.findings, *(finding for part in parts for finding in part.findings)]
    return Plan(
        config=config,
        blocks=_block_table(parts),
        exclusions=_exclusion_table(inputs.blocks),
        rows=_gather(ROWS, (part.rows for part in parts)),
        posts=_gather(POSTS, (part.posts for part in parts)),
        spans=_gather(SPANS, (part.spans for part in parts)),
        clips=_gather(CLIPS, (part.clips for part in parts)),
        sections=_gather(SECTIONS, (part.sections for part in parts)),
        wires=_gather(WIRES, (part.wires for part in parts)),
        lifts=_gather(LIFTS, (part.lifts for part in parts)),
        adjusters=_gather(ADJUSTERS, (part.adjusters for part in parts)),
        tension_check=_gather(TENSION_CHECK, (part.tension_check for part in parts)),
        findings=_finding_table(findings),
        finding_list=tuple(findings),
        grids=inputs.grids,
        frames=tuple(FrameNote(p.block.block_id, p.site.frame.proj, p.site.frame.height_m) for p in parts),
        output_crs=inputs.output_crs,
        sources=inputs.sources,
        seconds=progress.seconds,
    )


@dataclass(slots=True)
class _Part:
    """What the stages made of one block; tables stay None where no row fits."""

    block: Block
    site: Site
    findings: list[Finding]
    rows: gpd.GeoDataFrame | None = None
    posts: gpd.GeoDataFrame | None = None
    spans: gpd.GeoDataFrame | None = None
    clips: pd.DataFrame | None = None
    sections: gpd.GeoDataFrame | None = None
    wires: pd.DataFrame | None = None
    lifts: pd.DataFrame | None = None
    adjusters: pd.DataFrame | None = None
    tension_check: pd.DataFrame | None = None


def _plan_one(block: Block, grid: Grid, drawn: Drawn, config: Config, progress: Progress) -> _Part:
    """Take one block through every stage."""
    config = config.for_block(block.block_id)
    with progress.stage("boundary"):
        site, findings = set_out(block, grid, config.elevation.smoothing_m)
    part = _Part(block, site, findings)
    rows, paths, posts = _lay_out(part, drawn, config, progress)
    if posts is None:
        return part
    wires, states = config.wires, config.states
    with progress.stage("ground"):
        above = humps(posts, site.ground, config.posts.max_span_m)
    with progress.stage("wires"):
        spans, loads, totals, noticed = string_tight(posts, above, config)
        findings += noticed
        posts = set_heights(posts, spans, config.posts, config.clips)
    with progress.stage("season"):
        loads, totals, noticed = warm_and_cool(posts, loads, totals, wires, states)
        findings += noticed
        loads, totals, noticed = let_down(posts, above, loads, totals, config)
        findings += noticed
        part.adjusters, totals, noticed = choose_adjusters(totals, config.adjusters)
        findings += noticed
        loads, totals, part.lifts, noticed = lift(posts, loads, totals, wires, config.clips)
        findings += noticed
        part.tension_check = tension_sheet(posts, totals, wires, states, config.check)
    with progress.stage("undulation"):
        posts, loads = judge_need(posts, loads, config.elevation, config.undulation)
        posts, sections = find_sections(posts, loads, wires, config.undulation)
    with progress.stage("clips"):
        part.clips, noticed = choose_clips(posts, loads, wires, config.undulation)
        findings += noticed
    with progress.stage("holding"):
        posts, part.wires, noticed = load_posts(posts, loads, totals, wires, config.posts)
        findings += noticed
    with progress.stage("georeference"):
        part.rows = place_rows(rows, paths, posts, part.clips, site.frame)
        part.posts = place_posts(posts, site.frame)
        part.spans = place_spans(spans, part.posts)
        part.sections = place_sections(sections, paths, site.frame)
        findings += steep_rows(part.rows, config.rows)
    return part


def _lay_out(
    part: _Part, drawn: Drawn, config: Config, progress: Progress
) -> tuple[pd.DataFrame, Paths, pd.DataFrame | None]:
    """Lay rows and set posts; None for the posts where no row fits."""
    site, block_id, surveyed = part.site, part.block.block_id, None
    with progress.stage("rows"):
        heading = direction(float(config.rows.bearing_deg or 0.0))
        settings, noticed = spacing_in_plan(block_id, config.rows, site.slope, heading)
        part.findings += noticed
        rows, paths, noticed = _lay(block_id, site, drawn, settings)
        part.findings += noticed
    with progress.stage("posts"):
        if drawn.posts is not None:
            rows, paths, found, noticed = stand_on_points(
                rows, paths, (site.area, site.frame), drawn.posts, config.posts
            )
            part.findings += noticed
            stations, surveyed = found[:2], found[2]
        if rows.empty:
            return rows, paths, None
        if drawn.posts is None:
            stations, noticed = _place(rows, paths, site.ground, config)
            part.findings += noticed
        posts, noticed = set_posts(rows, paths, site.ground, stations, config.posts, surveyed)
        part.findings += noticed
    return rows, paths, posts


def _lay(block_id: str, site: Site, drawn: Drawn, settings: RowSettings) -> tuple[pd.DataFrame, Paths, list[Finding]]:
    """Rows, as the config would have them."""
    if settings.layout == "follow" and drawn.guide is not None:
        return lay_follow(site.workable, site.frame, drawn.guide, block_id, settings)
    if settings.layout == "given":
        return lay_given(site.workable, site.frame, drawn.lines, drawn.attributes, block_id, settings)
    return lay_parallel(site.area, site.workable, site.frame, block_id, settings)


def _place(rows: pd.DataFrame, paths: Paths, ground: Ground, config: Config) -> tuple[Stations, list[Finding]]:
    """Stations of the posts, as the config would have them."""
    settings = config.posts
    along = None
    if settings.align == "baseline":
        along, _ = to_row_axes(paths.x_m[paths.first], paths.y_m[paths.first], float(config.rows.bearing_deg or 0.0))
    equal = place_equal(paths, ground, settings) if along is None else place_on_baseline(paths, ground, settings, along)
    if settings.placing == "equal":
        return equal, []
    vines = vine_places(paths, ground, settings, along)
    on_vines = place_on_vines(paths, ground, vines, settings)
    if settings.placing == "vine_grid":
        return on_vines, []
    choices = {"places": vines, "equal": equal, "vine_grid": on_vines}
    return place_fitted(rows, paths, ground, choices, config)


def _gather(table: Table, parts: Iterable[pd.DataFrame | None]) -> pd.DataFrame:
    """One table of all blocks, checked against the column dictionary, its geometry kept."""
    made = [part for part in parts if part is not None]
    if not made:
        return gpd.GeoDataFrame(empty(table), geometry=[], crs=WGS84) if table.shape else empty(table)
    whole = pd.concat(made, ignore_index=True)
    return conform(table, whole)


def _block_table(parts: list[_Part]) -> gpd.GeoDataFrame:
    return gpd.GeoDataFrame(
        {
            "block_id": [part.block.block_id for part in parts],
            "name": [part.block.name for part in parts],
            "area_ha": [part.site.area.area / 1e4 for part in parts],
        },
        geometry=[part.block.area for part in parts],
        crs=WGS84,
    )


def _exclusion_table(blocks: tuple[Block, ...]) -> gpd.GeoDataFrame:
    cut = [block for block in blocks if not block.exclusions.is_empty]
    return gpd.GeoDataFrame(
        {"block_id": pd.Series([block.block_id for block in cut], dtype="str")},
        geometry=gpd.GeoSeries([block.exclusions for block in cut], crs=WGS84),
    )


def _finding_table(findings: list[Finding]) -> pd.DataFrame:
    worst_first = sorted(findings, key=lambda finding: -LEVELS.index(finding.level))
    lines = [(f.level, f.code, f.place, f.message) for f in worst_first]
    return conform(FINDINGS, pd.DataFrame(lines, columns=FINDINGS.names, dtype="str"))
