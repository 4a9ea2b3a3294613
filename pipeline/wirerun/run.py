"""The order of the stages: read it and you know the job."""

import time
from collections.abc import Callable, Collection, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

import geopandas as gpd
import pandas as pd

from wirerun.errors import Fault, InputError, SettingError
from wirerun.findings import Finding
from wirerun.geometry.frame import direction
from wirerun.geometry.lines import to_row_axes
from wirerun.geometry.sampling import Ground
from wirerun.geometry.station import Paths
from wirerun.ids import working_order
from wirerun.read.config import load_config
from wirerun.read.inputs import read_inputs
from wirerun.read.offline import offline
from wirerun.records import Block, Drawn, FrameNote, Grid, Inputs, Plan, finding_table
from wirerun.settings import Catalogue, Config, RowSettings
from wirerun.stages.clips.choose_clips import choose_clips
from wirerun.stages.clips.choose_fixings import choose_fixings
from wirerun.stages.clips.undulation import find_sections, judge_need
from wirerun.stages.layout.boundary import Site, set_out
from wirerun.stages.layout.fitted import place_fitted
from wirerun.stages.layout.georeference import WGS84, place_posts, place_rows, place_sections, place_spans, place_zones
from wirerun.stages.layout.ground import humps
from wirerun.stages.layout.placing import Stations, place_equal, place_on_baseline, place_on_vines, vine_places
from wirerun.stages.layout.post_heights import set_heights
from wirerun.stages.layout.posts import set_posts
from wirerun.stages.layout.posts_from_survey import stand_on_points
from wirerun.stages.layout.rows import lay_parallel, spacing_in_plan, steep_rows
from wirerun.stages.layout.rows_from_lines import lay_follow, lay_given
from wirerun.stages.layout.slopes import slope_at_posts, slope_class
from wirerun.stages.takeoff.catalogue_defaults import choose_posts, take_from_catalogue
from wirerun.stages.takeoff.coils import cut_coils
from wirerun.stages.takeoff.costs import price
from wirerun.stages.takeoff.materials import Planned, list_materials
from wirerun.stages.wires.adjusters import choose_adjusters
from wirerun.stages.wires.let_down import let_down
from wirerun.stages.wires.post_loads import load_posts
from wirerun.stages.wires.strung import string_tight
from wirerun.stages.wires.tension_check import tension_sheet
from wirerun.stages.wires.through_the_year import lift, warm_and_cool
from wirerun.stages.work.labour import row_work
from wirerun.stages.work.programme import list_tasks
from wirerun.stages.work.zones import draw_zones
from wirerun.tables import (
    ADJUSTERS,
    CLIPS,
    FINDINGS,
    LIFTS,
    POSTS,
    ROWS,
    SECTIONS,
    SPANS,
    TABLES,
    TENSION_CHECK,
    WIRES,
    Table,
    conform,
    empty,
)
from wirerun.write.folder import check_target
from wirerun.write.gis import check_formats
from wirerun.write.result import PARTS, write_result

# What is made block by block; the rest is made of all blocks together.
_OF_BLOCKS: Final = (ROWS, POSTS, SPANS, CLIPS, SECTIONS, WIRES, LIFTS, ADJUSTERS, TENSION_CHECK)

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
    check_formats(config.output.formats)
    with offline():
        return read_inputs(config)


def plan_to_folder(
    config: Config, target: Path, *, overwrite: bool, only: Collection[str] = (), progress: Progress | None = None
) -> Plan:
    """Plan, written to a folder that is put in its place only when whole; `only` names the parts, else all.

    Raises
    ------
    InputError
        If the input has faults.
    TargetError
        If the folder is there already and may not be replaced, or a format's library is missing.
    """
    progress = progress or Progress()
    check_target(target, overwrite=overwrite)
    check_formats(config.output.formats)
    plan = plan_block(config, progress)
    with progress.stage("write"), offline():
        write_result(plan, target, overwrite=overwrite, only=only or PARTS)
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
    # Text is kept in one way, whether or not pyarrow is installed: the same tables, the same bytes.
    with pd.option_context("mode.string_storage", "python"), offline():
        return _plan_all(config, progress or Progress())


def _plan_all(config: Config, progress: Progress) -> Plan:
    """Take every block through every stage, then all together."""
    with progress.stage("read"):
        inputs = read_inputs(config)
    sites = zip(inputs.blocks, inputs.grids, inputs.drawn, strict=True)
    try:
        parts = [_plan_one(*site, config, inputs.catalogue, progress) for site in sites]
    except SettingError as error:
        raise InputError((Fault(config.file, error.place, error.message),)) from error
    filled, noticed = take_from_catalogue(config, inputs.catalogue)
    findings = [*inputs.findings, *noticed, *(finding for part in parts for finding in part.findings)]
    tables = {table.name: _gather(table, parts) for table in _OF_BLOCKS}
    blocks = _block_table(parts)
    if len(tables["rows"]):
        tables |= _take_off(tables, parts, filled, inputs.catalogue, findings, progress)
    return Plan(
        config=filled,
        catalogue=inputs.catalogue,
        blocks=blocks,
        exclusions=_exclusion_table(inputs.blocks),
        findings=finding_table(findings),
        grids=inputs.grids,
        frames=tuple(FrameNote(p.block.block_id, p.site.frame.proj, p.site.frame.height_m) for p in parts),
        output_crs=inputs.output_crs,
        sources=inputs.sources,
        orthophoto=inputs.orthophoto,
        seconds=progress.seconds,
        **{table.name: _checked(table, tables) for table in TABLES.values() if table is not FINDINGS},
    )


@dataclass(slots=True)
class _Part:
    """What the stages made of one block: tables by name, none where no row fits."""

    block: Block
    site: Site
    findings: list[Finding]
    tables: dict[str, pd.DataFrame] = field(default_factory=dict)


def _plan_one(
    block: Block, grid: Grid, drawn: Drawn, config: Config, catalogue: Catalogue, progress: Progress
) -> _Part:
    """Take one block through every stage."""
    config, _ = take_from_catalogue(config.for_block(block.block_id), catalogue)
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
        posts, noticed = choose_posts(posts, config, catalogue)
        findings += noticed
    with progress.stage("season"):
        loads, totals, noticed = warm_and_cool(posts, loads, totals, wires, states)
        findings += noticed
        loads, totals, noticed = let_down(posts, above, loads, totals, config)
        findings += noticed
        adjusters, totals, noticed = choose_adjusters(totals, config.adjusters)
        findings += noticed
        loads, totals, lifts, noticed = lift(posts, loads, totals, wires, config.clips)
        findings += noticed
        check = tension_sheet(posts, totals, wires, states, config.check)
    with progress.stage("undulation"):
        posts, loads = judge_need(posts, loads, config.elevation, config.undulation)
        posts, sections = find_sections(posts, loads, wires, config.undulation)
    with progress.stage("clips"):
        clips, noticed = choose_clips(posts, loads, wires, config.undulation)
        findings += noticed
    with progress.stage("holding"):
        posts, totals, noticed = load_posts(posts, loads, totals, wires, config.posts)
        findings += noticed
    with progress.stage("fixings"):
        clips, noticed = choose_fixings(posts, clips, config, catalogue)
        findings += noticed
    with progress.stage("slopes"):
        posts = slope_at_posts(posts, paths, site.ground, config.rows.spacing_m)
        rows = slope_class(rows, posts, config.work.slope_classes_pct)
    with progress.stage("georeference"):
        placed = place_posts(posts, site.frame)
        part.tables = {
            "rows": place_rows(rows, paths, posts, clips, site.frame),
            "posts": placed,
            "spans": place_spans(spans, placed),
            "clips": clips,
            "sections": place_sections(sections, paths, site.frame),
            "wires": totals,
            "lifts": lifts,
            "adjusters": adjusters,
            "tension_check": check,
        }
        findings += steep_rows(part.tables["rows"], config.rows)
    return part


def _take_off(
    tables: dict[str, pd.DataFrame],
    parts: list[_Part],
    config: Config,
    catalogue: Catalogue,
    findings: list[Finding],
    progress: Progress,
) -> dict[str, pd.DataFrame]:
    """What to buy and who does it, for all blocks together."""
    order = working_order(tables["rows"]["row_id"])
    rows, work = tables["rows"].iloc[order].reset_index(drop=True), config.work
    posts, clips, wires, adjusters = (tables[name] for name in ("posts", "clips", "wires", "adjusters"))
    with progress.stage("coils"):
        coils, noticed = cut_coils(wires, catalogue, config.coils)
        findings += noticed
    with progress.stage("labour"):
        done, noticed = row_work(rows, posts, clips, wires, adjusters, coils, catalogue, work)
        findings += noticed
        hours = done.groupby("row_id")["hours"].sum().reindex(rows["row_id"], fill_value=0.0).to_numpy()
    with progress.stage("zones"):
        zone_id, zones, noticed = draw_zones(rows, hours, work)
        findings += noticed
        rows = rows.assign(hours=hours, zone_id=zone_id)
        zone_of_row = rows.set_index("row_id")["zone_id"]
        coils["zone_id"] = coils["row_id"].map(zone_of_row)
        zones = _place_zones(zones, rows, parts, config)
    with progress.stage("materials"):
        planned = Planned(rows, posts, clips, wires, adjusters, coils)
        materials, zone_materials, noticed = list_materials(planned, config, catalogue)
        findings += noticed
        programme = list_tasks(done, zone_of_row, zone_materials, coils, work, catalogue)
        costs = price(
            materials,
            float(zones["hours"].sum()),
            labour_per_hour=work.labour_per_hour,
            currency=config.catalogue.currency,
            area_ha=sum(part.site.workable.area for part in parts) / 1e4,
            row_m=float(rows["length_m"].sum()),
        )
    return {
        "rows": rows,
        "coils": coils,
        "zones": zones,
        "materials": materials,
        "zone_materials": zone_materials,
        "programme": programme,
        "costs": costs,
    }


def _place_zones(zones: pd.DataFrame, rows: pd.DataFrame, parts: list[_Part], config: Config) -> gpd.GeoDataFrame:
    """Zones as areas in WGS 84, block by block: each block has a frame of its own."""
    placed = []
    for part in parts:
        mine, ours = (table[table["block_id"] == part.block.block_id] for table in (zones, rows))
        if len(mine):
            spacing_m = config.for_block(part.block.block_id).rows.spacing_m
            placed.append(place_zones(mine, ours, part.site.workable, spacing_m, part.site.frame))
    return pd.concat(placed, ignore_index=True)


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


def _gather(table: Table, parts: list[_Part]) -> pd.DataFrame:
    """One table of all blocks, its geometry kept, not yet checked."""
    made = [part.tables[table.name] for part in parts if part.tables]
    return pd.concat(made, ignore_index=True) if made else empty(table)


def _checked(table: Table, tables: dict[str, pd.DataFrame]) -> Any:  # noqa: ANN401 - a frame, with geometry or not
    """The table, checked against the column dictionary; empty where nothing was made."""
    frame = tables.get(table.name)
    if frame is None or frame.empty:
        return gpd.GeoDataFrame(empty(table), geometry=[], crs=WGS84) if table.shape else empty(table)
    return conform(table, frame)


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
