"""The story of the take-off: what is cut, bought and done for all blocks together, from their tables."""

from dataclasses import dataclass, replace

import geopandas as gpd
import numpy as np
import pandas as pd

from wirerun.arrays import FloatArray, IntArray, TextArray
from wirerun.findings import Finding, Findings
from wirerun.geometry.places import WGS84
from wirerun.missing import Failures
from wirerun.model.row_work import RowWork
from wirerun.model.site import Site
from wirerun.progress import Progress
from wirerun.records import Stock, left_out_words
from wirerun.result.coil_tables import coil_options_table, coil_table, wire_lines, wire_spans
from wirerun.result.cost_tables import block_cost_table, bought_of, cost_table, sizes_of
from wirerun.result.material_tables import material_table, programme_table, spare_part_table, zone_material_table
from wirerun.result.season_table import moved_wires, season_table
from wirerun.result.stock_table import stock_table
from wirerun.result.to_build import new_of, to_build, zone_rows
from wirerun.result.zone_table import zone_table
from wirerun.rounding import half_up
from wirerun.settings import Catalogue, Config
from wirerun.stages.takeoff.coils import cut_coils
from wirerun.stages.takeoff.costs import price
from wirerun.stages.takeoff.materials import list_materials
from wirerun.stages.takeoff.spare_parts import spare_parts
from wirerun.stages.takeoff.stock_left import stock_left
from wirerun.stages.work.labour import row_work
from wirerun.stages.work.programme import list_tasks
from wirerun.stages.work.season import season_work
from wirerun.stages.work.zone_areas import place_zones
from wirerun.stages.work.zones import draw_zones, sum_up


@dataclass(frozen=True, slots=True)
class Zoned:
    """The blocks as set out, by id, and where it is noted that the zones of one cannot be drawn."""

    sites: list[tuple[str, Site]]
    failed: Failures

    def areas(self, zones: pd.DataFrame, rows: gpd.GeoDataFrame, config: Config) -> gpd.GeoDataFrame:
        """Zones as areas in WGS 84, block by block: each block has a frame of its own."""
        placed = []
        for block_id, site in self.sites:
            mine, ours = zones[zones["block_id"] == block_id], rows[rows["block_id"] == block_id]
            if len(mine):
                with self.failed.noted(block_id):
                    spacing_m = config.for_block(block_id).rows.spacing_m
                    zone = pd.Index(mine["zone_id"]).get_indexer(ours["zone_id"])
                    areas = place_zones(zone, ours.geometry.to_numpy(), site.workable, spacing_m, site.frame)
                    placed.append(gpd.GeoDataFrame(mine, geometry=areas, crs=WGS84))
        return pd.concat(placed, ignore_index=True) if placed else gpd.GeoDataFrame(zones)

    def area_ha(self, block_ids: set[str]) -> pd.Series:
        """Area of some blocks by their ids, exclusions taken off [ha]."""
        area = {block_id: site.workable.area / 1e4 for block_id, site in self.sites if block_id in block_ids}
        return pd.Series(area, dtype="float64")


def take_off(
    tables: dict[str, pd.DataFrame],
    zoned: Zoned,
    config: Config,
    catalogue: Catalogue,
    findings: list[Finding],
    progress: Progress,
    stock: Stock,
) -> dict[str, pd.DataFrame]:
    """What to buy and who does it, for all blocks together.

    Parameters
    ----------
    tables : dict of DataFrame
        The tables of all blocks by name, as `result.block_tables` makes them.
    zoned : Zoned
        The blocks as set out.
    config : Config
        With what the catalogue filled in.
    catalogue : Catalogue
        What can be bought.
    findings : list of Finding
        Gets what was noticed.
    progress : Progress
        Hears of each stage and keeps its seconds.
    stock : Stock
        What is there already.

    Returns
    -------
    dict of DataFrame
        rows with their hours and zone; coils, coil_options, zones, materials, zone_materials, spare_parts,
        programme, costs, block_costs, season, stock_left.
    """
    rows = gpd.GeoDataFrame(tables["rows"]).sort_values(["block_id", "position"], ignore_index=True)
    work = config.work
    wires, adjusters = tables["wires"], tables["adjusters"]
    not_included = left_out_words(tables["left_out"])
    job = to_build(tables | {"rows": rows}, config)
    # Coils are cut zone by zone, and take time of their own: zones are drawn by the hours of all else.
    with progress.stage("zones"):
        done, _ = _in_hundredths(row_work(job, None, catalogue, work))
        in_zones = zone_rows(rows)
        zone, zone_id = draw_zones(in_zones, _hours(done, len(rows)), work)
        rows = rows.assign(zone_id=zone_id[zone])
    with progress.stage("coils"):
        notes = Findings()
        lines, spans = wire_lines(new_of(wires), rows, work), wire_spans(tables["spans"])
        cut = cut_coils(lines, spans, catalogue, config.coils, work, notes, stock)
        findings += notes
    with progress.stage("labour"):
        done, noticed = _in_hundredths(row_work(job, cut, catalogue, work))
        findings += noticed
        hours = _hours(done, len(rows))
        rows = rows.assign(hours=hours)
        zones, noticed = sum_up(in_zones, hours, zone, zone_id, work)
        findings += noticed
    with progress.stage("materials"):
        materials, loads, noticed = list_materials(job, zone, cut, config, catalogue, stock)
        findings += noticed
        tasks = list_tasks(done, zone, loads, cut, work, catalogue)
        sizes = sizes_of(rows, job, zoned.area_ha(set(rows["block_id"])), work)
        bought = bought_of(materials, loads, _block_of_zone(zone, rows, sizes.block_id), catalogue)
        costs = price(bought, sizes, catalogue.charges, labour_per_hour=work.labour_per_hour)
        season, noticed = season_work(moved_wires(wires, rows, adjusters, config), catalogue, work)
        findings += noticed
    # Last: a block whose zones cannot be drawn still counts in all of the above, for as long as this round goes.
    with progress.stage("zones"):
        areas = zoned.areas(zone_table(zones), rows, config)
    currency = config.catalogue.currency
    return {
        "rows": rows,
        "coils": coil_table(cut, rows.set_index("row_id")["zone_id"], stock),
        "coil_options": coil_options_table(cut),
        "zones": areas,
        "materials": material_table(materials, not_included),
        "zone_materials": zone_material_table(loads, zone_id),
        "spare_parts": spare_part_table(spare_parts(materials, config, catalogue)),
        "programme": programme_table(tasks, zone_id),
        "costs": cost_table(costs, sizes, currency, not_included),
        "block_costs": block_cost_table(costs, sizes, currency),
        "season": season_table(season, work.labour_per_hour),
        "stock_left": stock_table(stock_left(stock, materials, cut, catalogue)),
    }


def _in_hundredths(made: tuple[RowWork, list[Finding]]) -> tuple[RowWork, list[Finding]]:
    """Work with its hours to a hundredth, so that those of rows, tasks, zones and blocks add up as printed."""
    done, noticed = made
    return replace(done, hours=half_up(done.hours, 2)), noticed


def _hours(done: RowWork, rows: int) -> FloatArray:
    """Hours of each row, of one person, [row]."""
    return np.asarray(np.bincount(done.row, weights=done.hours, minlength=rows), dtype=np.float64)


def _block_of_zone(zone: IntArray, rows: pd.DataFrame, block_id: TextArray) -> IntArray:
    """Number of each zone's block among those, [zone]."""
    number = {name: at for at, name in enumerate(block_id)}
    first = np.unique(zone, return_index=True)[1]
    return np.array([number[name] for name in rows["block_id"].iloc[first]], dtype=np.int64)
