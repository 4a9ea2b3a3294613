"""The story of a whole plan: every block by itself, then what is bought and done for all of them together."""

from dataclasses import dataclass
from typing import TypeVar

import geopandas as gpd
import pandas as pd

from wirerun import tables
from wirerun.errors import Fault, InputError, SettingError
from wirerun.findings import Finding, Findings
from wirerun.geometry.places import WGS84
from wirerun.measured import Taken, take_measured
from wirerun.missing import Failures
from wirerun.model.clips import FixingOption
from wirerun.model.site import Site
from wirerun.one_block import plan_one
from wirerun.progress import Progress
from wirerun.records import Block, Drawn, FrameNote, Grid, Inputs, Plan, Stock, finding_table
from wirerun.result.block_tables import block_tables
from wirerun.result.fixing_table import fixing_options_table
from wirerun.result.let_down_table import let_down_table
from wirerun.result.row_tables import left_out_table, row_id_table
from wirerun.result.service_tables import service_tables
from wirerun.rules.from_catalogue import driven_as_asked, take_from_catalogue
from wirerun.rules.in_service import left_out_of_service
from wirerun.settings import Catalogue, Config, MachineLimit
from wirerun.tables import Table, conform, empty
from wirerun.take_off import Zoned, take_off
from wirerun.write.cards.print_names import not_printed

PlanKind = TypeVar("PlanKind", bound=Plan)


def plan_all(inputs: Inputs, config: Config, progress: Progress, kind: type[PlanKind]) -> PlanKind:
    """Plan every block, then take off what all of them need; a block that fails costs nobody but itself.

    Parameters
    ----------
    inputs : Inputs
        What was read, or handed over.
    config : Config
        As written; what the catalogue fills in is filled in here.
    progress : Progress
        Hears of each stage and keeps its seconds.
    kind : type
        What is made: a plan, or one that can do more.

    Raises
    ------
    InputError
        If no block can be planned; carries the faults of all.
    """
    taken = _take_measured(inputs, config, progress)
    config, catalogue = taken.config, taken.catalogue
    filled = _fill_in(config, catalogue)
    failed = Failures(config.file, list(inputs.missing))
    parts = []
    for block, grid, drawn in zip(inputs.blocks, inputs.grids, inputs.drawn, strict=True):
        with failed.noted(block.block_id):
            parts.append(_plan_block(block, grid, drawn, config, catalogue, progress, inputs.machine_limits))
    planned, made, findings = _plan_together(parts, failed, filled, catalogue, progress, inputs.stock)
    noticed = [*left_out_of_service(config), *not_printed([part.block.block_id for part in planned])]
    return kind(
        config=filled,
        catalogue=catalogue,
        blocks=_block_table(planned),
        exclusions=_exclusion_table(planned),
        rows=_shaped(tables.ROWS, made),
        posts=_shaped(tables.POSTS, made),
        spans=_shaped(tables.SPANS, made),
        clips=_plain(tables.CLIPS, made),
        sections=_shaped(tables.SECTIONS, made),
        wires=_plain(tables.WIRES, made),
        lifts=_plain(tables.LIFTS, made),
        let_down=_plain(tables.LET_DOWN, made),
        hold_down_options=_plain(tables.HOLD_DOWN_OPTIONS, made),
        adjusters=_plain(tables.ADJUSTERS, made),
        tension_check=_plain(tables.TENSION_CHECK, made),
        materials=_plain(tables.MATERIALS, made),
        zone_materials=_plain(tables.ZONE_MATERIALS, made),
        spare_parts=_plain(tables.SPARE_PARTS, made),
        fixing_options=fixing_options_table(
            [(part.block.block_id, part.site.workable.area / 1e4, part.options) for part in planned], catalogue
        ),
        coils=_plain(tables.COILS, made),
        coil_options=_plain(tables.COIL_OPTIONS, made),
        zones=_shaped(tables.ZONES, made),
        programme=_plain(tables.PROGRAMME, made),
        costs=_plain(tables.COSTS, made),
        block_costs=_plain(tables.BLOCK_COSTS, made),
        season=_plain(tables.SEASON, made),
        stock_left=_plain(tables.STOCK_LEFT, made),
        left_out=_shaped(tables.LEFT_OUT, made),
        row_ids=_plain(tables.ROW_IDS, made),
        findings=finding_table(
            [*failed.findings, *inputs.findings, *taken.findings, *dict.fromkeys(findings), *noticed],
            config.output.terms,
        ),
        grids=tuple(part.grid for part in planned),
        frames=tuple(FrameNote(p.block.block_id, p.site.frame.proj, p.site.frame.height_m) for p in planned),
        output_crs=inputs.output_crs,
        sources=inputs.sources,
        orthophoto=inputs.orthophoto,
        seconds=progress.seconds,
        missing=tuple(failed.missing),
        measured=taken.learned,
        service=_plain(tables.SERVICE, made),
        service_posts=_plain(tables.SERVICE_POSTS, made),
        machine_rows=_plain(tables.MACHINE_ROWS, made),
    )


def check_measured(inputs: Inputs, config: Config) -> None:
    """Refuse what was measured where no row, wire or place is, or cannot be.

    Raises
    ------
    InputError
        With every fault.
    """
    _take_measured(inputs, config, Progress())


def _take_measured(inputs: Inputs, config: Config, progress: Progress) -> Taken:
    """Config and catalogue with what was measured in the place of what was assumed."""
    catalogue = driven_as_asked(inputs.catalogue, config)
    if not inputs.measured:
        return Taken(config, catalogue, ())
    each = {
        block.block_id: (block, grid, drawn)
        for block, grid, drawn in zip(inputs.blocks, inputs.grids, inputs.drawn, strict=True)
    }
    known = [*each, *(lost.block_id for lost in inputs.missing)]
    return take_measured(config, catalogue, inputs.measured, known, each.get, progress)


@dataclass(slots=True)
class _Part:
    """What came of one block: its tables by name, and what was noticed."""

    block: Block
    grid: Grid
    site: Site
    tables: dict[str, pd.DataFrame]
    options: tuple[FixingOption, ...]
    findings: Findings


def _fill_in(config: Config, catalogue: Catalogue) -> Config:
    """Config with what the catalogue says; what it refuses for all blocks stops the run before any is planned."""
    try:
        return take_from_catalogue(config, catalogue)
    except SettingError as error:
        raise InputError((Fault(config.file, error.place, error.message),)) from error


def _plan_block(
    block: Block,
    grid: Grid,
    drawn: Drawn,
    config: Config,
    catalogue: Catalogue,
    progress: Progress,
    limits: tuple[MachineLimit, ...],
) -> _Part:
    notes = Findings(block.block_id)
    own = take_from_catalogue(config.for_block(block.block_id), catalogue, notes)
    made = plan_one(block, grid, drawn, own, catalogue, notes, progress, limits)
    with progress.stage("tables"):
        frame = made.site.frame
        mine: dict[str, pd.DataFrame] = {"left_out": left_out_table(made.left_out, frame)}
        mine["row_ids"] = row_id_table(made.named, frame)
        if made.planned is not None:
            mine |= block_tables(made.planned)
            mine["let_down"] = let_down_table(made.planned, catalogue)
            mine |= service_tables(made.planned)
    options = () if made.planned is None else made.planned.fixing_options
    return _Part(block, grid, made.site, mine, options, notes)


def _plan_together(
    parts: list[_Part], failed: Failures, config: Config, catalogue: Catalogue, progress: Progress, stock: Stock
) -> tuple[list[_Part], dict[str, pd.DataFrame], list[Finding]]:
    """Blocks that are in the plan, the tables of all of them, and what was noticed.

    What is bought for all blocks is cut and counted together: where a block fails here, it is done anew without it.
    """
    zoned = Zoned([(part.block.block_id, part.site) for part in parts], failed)
    while True:
        planned = [part for part in parts if part.block.block_id not in failed.block_ids]
        failed.stop_if_none(planned)
        findings = [finding for part in planned for finding in part.findings]
        made = {name: _gather(table, planned) for name, table in tables.ALL_TABLES.items()}
        if not len(made["rows"]):
            return planned, made, findings
        lost = len(failed.missing)
        made |= take_off(made, zoned, config, catalogue, findings, progress, stock)
        if len(failed.missing) == lost:
            return planned, made, findings


def _gather(table: Table, parts: list[_Part]) -> pd.DataFrame:
    """One table of all blocks, its geometry kept, not yet checked."""
    made = [part.tables[table.name] for part in parts if len(part.tables.get(table.name, ()))]
    if len(made) == 1:
        return made[0].reset_index(drop=True)
    return pd.concat(made, ignore_index=True) if made else empty(table)


def _plain(table: Table, made: dict[str, pd.DataFrame]) -> pd.DataFrame:
    """The table, checked against the column dictionary; empty where nothing was made."""
    frame = made[table.name]
    return empty(table) if frame.empty else conform(table, frame)


def _shaped(table: Table, made: dict[str, pd.DataFrame]) -> gpd.GeoDataFrame:
    """The same with its geometry."""
    frame = made[table.name]
    if frame.empty:
        return gpd.GeoDataFrame(empty(table), geometry=[], crs=WGS84)
    return gpd.GeoDataFrame(conform(table, frame), crs=WGS84)


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


def _exclusion_table(parts: list[_Part]) -> gpd.GeoDataFrame:
    cut = [part.block for part in parts if not part.block.exclusions.is_empty]
    return gpd.GeoDataFrame(
        {"block_id": pd.Series([block.block_id for block in cut], dtype="str")},
        geometry=gpd.GeoSeries([block.exclusions for block in cut], crs=WGS84),
    )
