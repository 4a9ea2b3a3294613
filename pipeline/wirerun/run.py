"""The order of the stages: read it and you know the job."""

from collections.abc import Collection
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import geopandas as gpd
import pandas as pd

from wirerun.errors import Fault, InputError, SettingError
from wirerun.findings import Finding, Findings
from wirerun.ids import working_order
from wirerun.model.site import Site
from wirerun.one_block import plan_one
from wirerun.progress import Progress
from wirerun.read.config import load_config
from wirerun.read.inputs import read_inputs
from wirerun.records import Block, FrameNote, Inputs, Plan, finding_table, left_out_words
from wirerun.result.block_tables import WGS84, block_tables, left_out_table
from wirerun.rules.from_catalogue import take_from_catalogue
from wirerun.settings import Catalogue, Config
from wirerun.stages.takeoff.coils import cut_coils
from wirerun.stages.takeoff.costs import price
from wirerun.stages.takeoff.materials import Planned, list_materials
from wirerun.stages.work.labour import row_work
from wirerun.stages.work.programme import list_tasks
from wirerun.stages.work.zone_areas import place_zones
from wirerun.stages.work.zones import draw_zones
from wirerun.tables import (
    ADJUSTERS,
    CLIPS,
    FINDINGS,
    LEFT_OUT,
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
from wirerun.write.cards.print_names import not_printed
from wirerun.write.folder import check_target
from wirerun.write.gis import check_formats
from wirerun.write.result import PARTS, write_result

# What is made block by block; the rest is made of all blocks together.
_OF_BLOCKS: Final = (ROWS, POSTS, SPANS, CLIPS, SECTIONS, WIRES, LIFTS, ADJUSTERS, TENSION_CHECK, LEFT_OUT)

__all__ = ["Progress", "check", "load_config", "plan_block", "plan_to_folder"]


def check(config: Config) -> Inputs:
    """Everything that a plan reads, read and checked.

    Raises
    ------
    InputError
        With every fault found.
    """
    check_formats(config.output.formats)
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
    with progress.stage("write"):
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
    with pd.option_context("mode.string_storage", "python"):
        return _plan_all(config, progress or Progress())


def _plan_all(config: Config, progress: Progress) -> Plan:
    """Take every block through every stage, then all together."""
    with progress.stage("read"):
        inputs = read_inputs(config)
    findings = list(inputs.findings)
    try:
        parts = _plan_blocks(inputs, config, findings, progress)
    except SettingError as error:
        raise InputError((Fault(config.file, error.place, error.message),)) from error
    filled = take_from_catalogue(config, inputs.catalogue)
    findings += not_printed([block.block_id for block in inputs.blocks])
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
    """What came of one block: its tables by name, rows that cannot be planned in `left_out`."""

    block: Block
    site: Site
    tables: dict[str, pd.DataFrame]


def _plan_blocks(inputs: Inputs, config: Config, findings: list[Finding], progress: Progress) -> list[_Part]:
    """Plan each block by itself."""
    general = Findings()
    take_from_catalogue(config, inputs.catalogue, general)
    findings += general
    parts = []
    for block, grid, drawn in zip(inputs.blocks, inputs.grids, inputs.drawn, strict=True):
        own, notes = take_from_catalogue(config.for_block(block.block_id), inputs.catalogue), Findings(block.block_id)
        made = plan_one(block, grid, drawn, own, inputs.catalogue, notes, progress)
        findings += notes
        with progress.stage("tables"):
            mine = {"left_out": left_out_table(made.left_out, made.site.frame)}
            parts.append(_Part(block, made.site, mine | (block_tables(made.planned) if made.planned else {})))
    return parts


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
    not_included = left_out_words(tables["left_out"])
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
        materials, zone_materials, noticed = list_materials(planned, config, catalogue, not_included)
        findings += noticed
        programme = list_tasks(done, zone_of_row, zone_materials, coils, work, catalogue)
        costs = price(
            materials,
            float(zones["hours"].sum()),
            labour_per_hour=work.labour_per_hour,
            currency=config.catalogue.currency,
            area_ha=sum(part.site.workable.area for part in parts) / 1e4,
            row_m=float(rows["length_m"].sum()),
            not_included=not_included,
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


def _gather(table: Table, parts: list[_Part]) -> pd.DataFrame:
    """One table of all blocks, its geometry kept, not yet checked."""
    made = [part.tables[table.name] for part in parts if len(part.tables.get(table.name, ()))]
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
