"""The story of the take-off: what is cut, bought and done for all blocks together, from their tables."""

from dataclasses import dataclass

import geopandas as gpd
import numpy as np
import pandas as pd

from wirerun.arrays import FloatArray
from wirerun.findings import Finding, Findings
from wirerun.missing import Failures
from wirerun.model.site import Site
from wirerun.progress import Progress
from wirerun.records import left_out_words
from wirerun.result.coil_tables import coil_options_table, coil_table, wire_lines, wire_spans
from wirerun.result.cost_tables import block_cost_table, bought_of, cost_table, sizes_of
from wirerun.result.season_table import moved_wires, season_table
from wirerun.rounding import half_up
from wirerun.settings import Catalogue, Config
from wirerun.stages.takeoff.coils import cut_coils
from wirerun.stages.takeoff.costs import price
from wirerun.stages.takeoff.materials import Planned, list_materials
from wirerun.stages.takeoff.spare_parts import spare_parts
from wirerun.stages.work.labour import row_work
from wirerun.stages.work.programme import list_tasks
from wirerun.stages.work.season import season_work
from wirerun.stages.work.zone_areas import place_zones
from wirerun.stages.work.zones import draw_zones, zone_table
from wirerun.tables import COILS, empty


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
                    placed.append(place_zones(mine, ours, site.workable, spacing_m, site.frame))
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

    Returns
    -------
    dict of DataFrame
        rows with their hours and zone; coils, coil_options, zones, materials, zone_materials, spare_parts,
        programme, costs, block_costs, season.
    """
    rows = gpd.GeoDataFrame(tables["rows"]).sort_values(["block_id", "position"], ignore_index=True)
    work = config.work
    posts, clips, wires, adjusters = (tables[name] for name in ("posts", "clips", "wires", "adjusters"))
    not_included = left_out_words(tables["left_out"])
    # Coils are cut zone by zone, and take time of their own: zones are drawn by the hours of all else.
    with progress.stage("zones"):
        done, _ = _in_hundredths(row_work(rows, posts, clips, wires, adjusters, empty(COILS), catalogue, work))
        zone_id, _, _ = draw_zones(rows, _hours(done, rows), work)
        rows = rows.assign(zone_id=zone_id)
        zone_of_row = rows.set_index("row_id")["zone_id"]
    with progress.stage("coils"):
        notes = Findings()
        lines, spans = wire_lines(wires, rows, work), wire_spans(tables["spans"])
        cut = cut_coils(lines, spans, catalogue, config.coils, work, notes)
        coils = coil_table(cut, zone_of_row, config.coils.least_remainder_m)
        findings += notes
    with progress.stage("labour"):
        done, noticed = _in_hundredths(row_work(rows, posts, clips, wires, adjusters, coils, catalogue, work))
        findings += noticed
        rows = rows.assign(hours=_hours(done, rows))
        zones, noticed = zone_table(rows, rows["hours"].to_numpy(), zone_id, work)
        findings += noticed
    with progress.stage("materials"):
        planned = Planned(rows, posts, clips, wires, adjusters, coils)
        materials, zone_materials, noticed = list_materials(planned, config, catalogue, not_included)
        findings += noticed
        programme = list_tasks(done, zone_of_row, zone_materials, coils, work, catalogue)
        sizes = sizes_of(rows, zoned.area_ha(set(rows["block_id"])), work)
        number = {block_id: number for number, block_id in enumerate(sizes.block_id)}
        block_of_zone = zones.set_index("zone_id")["block_id"].map(number)
        bought = bought_of(materials, zone_materials, block_of_zone, catalogue)
        costs = price(bought, sizes, catalogue.charges, labour_per_hour=work.labour_per_hour)
        season, noticed = season_work(moved_wires(wires, rows, adjusters, config), catalogue, work)
        findings += noticed
    # Last: a block whose zones cannot be drawn still counts in all of the above, for as long as this round goes.
    with progress.stage("zones"):
        areas = zoned.areas(zones, rows, config)
    currency = config.catalogue.currency
    return {
        "rows": rows,
        "coils": coils,
        "coil_options": coil_options_table(cut),
        "zones": areas,
        "materials": materials,
        "zone_materials": zone_materials,
        "spare_parts": spare_parts(materials, config, catalogue),
        "programme": programme,
        "costs": cost_table(costs, sizes, currency, not_included),
        "block_costs": block_cost_table(costs, sizes, currency),
        "season": season_table(season, work.labour_per_hour),
    }


def _in_hundredths(made: tuple[pd.DataFrame, list[Finding]]) -> tuple[pd.DataFrame, list[Finding]]:
    """Work with its hours to a hundredth, so that those of rows, tasks, zones and blocks add up as printed."""
    done, noticed = made
    return done.assign(hours=half_up(done["hours"], 2)), noticed


def _hours(done: pd.DataFrame, rows: pd.DataFrame) -> FloatArray:
    """Hours of each row, of one person, [row]."""
    hours = done.groupby("row_id")["hours"].sum().reindex(rows["row_id"], fill_value=0.0)
    return np.asarray(hours, dtype=np.float64)
