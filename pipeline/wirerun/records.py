"""What passes between the stages that is not a table."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any, Final

import geopandas as gpd
import numpy as np
import pandas as pd
from affine import Affine
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon

from wirerun.arrays import IntArray, TextArray, words
from wirerun.errors import ModelError, printable
from wirerun.findings import LEVELS, Finding
from wirerun.measurements import NOTHING, Learned, Measured
from wirerun.missing import MissingBlock
from wirerun.rounding import half_up
from wirerun.settings import Catalogue, Config, MachineLimit, WireSettings
from wirerun.tables import ASKED_FOR, FINDINGS, MACHINE_ROWS, SERVICE, SERVICE_POSTS, TABLES, conform, empty
from wirerun.tables.column import Table
from wirerun.terms import Terms, in_terms
from wirerun.units import METRIC, Measure

#: The run record in a plan's folder, and the format of it that this version writes and reads.
RECORD: Final = "run.json"
RECORD_FORMAT: Final = 1


@dataclass(frozen=True, slots=True)
class Block:
    """One block as read: its id, its own name, and its ground in WGS 84 longitude and latitude.

    `area` has the block's own holes; `exclusions` are the keep-out polygons that touch it (empty where none do).
    """

    block_id: str
    name: str
    area: Polygon | MultiPolygon
    exclusions: MultiPolygon

    @property
    def workable(self) -> Polygon | MultiPolygon:
        """Return the block less its exclusions, in longitude and latitude."""
        rest = self.area.difference(self.exclusions)
        return rest if isinstance(rest, Polygon | MultiPolygon) else MultiPolygon()


@dataclass(frozen=True, slots=True)
class Grid:
    """A window of a height raster.

    `heights_m` has shape (rows, columns), metres, 0 where `valid` is False. `transform` maps (column, row) of cell
    CORNERS to (x, y) of `crs_wkt`, axes in the order easting, northing (or longitude, latitude): the centre of cell
    (0, 0) lies at column 0.5, row 0.5.
    """

    heights_m: NDArray[np.float32] | NDArray[np.float64]
    valid: NDArray[np.bool_]
    transform: Affine
    crs_wkt: str
    file: str


@dataclass(frozen=True, slots=True)
class Orthophoto:
    """A photo of the ground in web Mercator, north up, for the map.

    `rgb` has shape (3, rows, columns); `covered`, shape (rows, columns), is False where the photo shows nothing.
    `edges` are west, south, east, north in degrees.
    """

    rgb: NDArray[np.uint8]
    covered: NDArray[np.bool_]
    edges: tuple[float, float, float, float]
    file: str


@dataclass(frozen=True, slots=True)
class Source:
    """A file that went into a plan: its role, its path as the config has it, and its SHA-256."""

    role: str
    path: str
    sha256: str


@dataclass(frozen=True, slots=True)
class SurveyedPosts:
    """Surveyed posts: longitude and latitude, shape (n, 2) [deg]; height, NaN where none [m]; what to call each.

    `stands`, where it is known: which of them stand already; `out_m`: how far each is out of the ground, NaN where that
    was not measured [m].
    """

    lonlat: NDArray[np.float64]
    height_m: NDArray[np.float64]
    places: tuple[str, ...]
    stands: NDArray[np.bool_] | None = None
    out_m: NDArray[np.float64] | None = None


@dataclass(frozen=True, slots=True)
class EarlierRows:
    """Rows of one block in an earlier plan: their ids, number and piece, and lines (longitude, latitude).

    `living` is False for rows that were gone in that plan already: their ids are taken all the same. `folder` is the
    plan's, as the config has it.
    """

    folder: str
    row_id: tuple[str, ...]
    number: NDArray[np.int64]
    piece: NDArray[np.int64]
    living: NDArray[np.bool_]
    lines: tuple[NDArray[np.float64], ...]


@dataclass(frozen=True, slots=True)
class Drawn:
    """What was drawn or surveyed for one block: a guide or lines (longitude, latitude) for its rows, and its posts.

    `attributes` says of each line, as JSON, what the file says of it. `earlier` are the rows whose ids are kept.
    """

    guide: NDArray[np.float64] | None = None
    lines: tuple[NDArray[np.float64], ...] = ()
    attributes: tuple[str, ...] = ()
    posts: SurveyedPosts | None = None
    earlier: EarlierRows | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Stock:
    """Items in the store, whole coils of wire among them; and part coils.

    Attributes
    ----------
    item : [item]
        As named in the catalogue, each once.
    pieces : [item], >= 0
        Pieces, or whole coils.
    part_item : [part]
        The wire of each part coil.
    part_mm : [part], > 0
        What is left on it. [mm]
    part_tag : [part]
        What its tag says; None where that is not known.
    """

    item: TextArray
    pieces: IntArray
    part_item: TextArray
    part_mm: IntArray
    part_tag: TextArray

    def __post_init__(self) -> None:
        if self.item.shape != self.pieces.shape or len(set(self.item.tolist())) < len(self.item):
            msg = "Stock.item has an item twice, or not one for each of the pieces"
            raise ModelError(msg)
        if not self.part_item.shape == self.part_mm.shape == self.part_tag.shape:
            msg = "Stock has not an item and a tag for each part coil"
            raise ModelError(msg)
        if (self.pieces < 0).any() or (self.part_mm <= 0).any():
            msg = "Stock counts less than nothing"
            raise ModelError(msg)

    @classmethod
    def nothing(cls) -> "Stock":
        """Return an empty store."""
        none = np.zeros(0, dtype=np.int64)
        return cls(words([]), none, words([]), none, words([]))

    def __len__(self) -> int:
        return len(self.item) + len(self.part_item)

    def pieces_of(self, item: str) -> int:
        """Return the pieces of an item, or the whole coils of a wire."""
        return int(self.pieces[self.item == item].sum())


@dataclass(frozen=True, slots=True)
class Inputs:
    """All that was read for a plan, checked.

    `grids[i]` is the window of the raster that `blocks[i]` needs, `drawn[i]` what was drawn or surveyed for it.
    `missing` are the blocks that cannot be planned, as far as reading tells. `measured` is what was read in the field.
    """

    blocks: tuple[Block, ...]
    grids: tuple[Grid, ...]
    drawn: tuple[Drawn, ...]
    output_crs: str
    sources: tuple[Source, ...]
    findings: tuple[Finding, ...]
    catalogue: Catalogue
    orthophoto: Orthophoto | None = None
    missing: tuple[MissingBlock, ...] = ()
    measured: Measured = NOTHING
    stock: Stock = field(default_factory=Stock.nothing)
    machine_limits: tuple[MachineLimit, ...] = ()


@dataclass(frozen=True, slots=True)
class FrameNote:
    """The local frame of one block, for the record: transverse Mercator, its centre and its scale."""

    block_id: str
    proj: str
    mean_height_m: float


@dataclass(frozen=True, slots=True)
class WireOfBlocks:
    """A wire, and the blocks that have it: by the same name, of one kind, number of lines, height and diameter."""

    wire: WireSettings
    block_ids: tuple[str, ...]

    @property
    def wire_id(self) -> str:
        """Return the name of the wire."""
        return self.wire.id


@dataclass(frozen=True, slots=True)
class Plan:
    """The whole result: the tables of the contract as (Geo)DataFrames, and what is needed to write them.

    Geometry is WGS 84. `blocks`: block_id, name, area_ha, polygon. `exclusions`: block_id, polygon. `rows`: line.
    `posts`: point. `spans`: line (one per span and wire). `sections`: line. `clips`, `wires`, `zones`: polygons.
    `lifts`, `let_down`, `hold_down_options`, `adjusters`, `tension_check`, `materials`, `zone_materials`,
    `spare_parts`, `fixing_options`, `coils`, `coil_options`, `programme`, `costs`, `block_costs`, `season`,
    `stock_left`, `row_ids`,
    `findings`: plain tables. `left_out`: line, the rows that could not be planned and are in no other table but
    `row_ids`. `config` has what the catalogue filled in. `missing` are the blocks that could not be planned: nothing of
    them is in any table, nor in any total.
    `service`, `service_posts` and `machine_rows` are empty where the config does not ask for them.
    `inputs_mark` tells, in the plan of one block of an estate, what it was made from. `measured` is what measurements
    say, and whether the plan takes it.
    """

    config: Config
    catalogue: Catalogue
    blocks: gpd.GeoDataFrame
    exclusions: gpd.GeoDataFrame
    rows: gpd.GeoDataFrame
    posts: gpd.GeoDataFrame
    spans: gpd.GeoDataFrame
    clips: pd.DataFrame
    sections: gpd.GeoDataFrame
    wires: pd.DataFrame
    lifts: pd.DataFrame
    let_down: pd.DataFrame
    hold_down_options: pd.DataFrame
    adjusters: pd.DataFrame
    tension_check: pd.DataFrame
    materials: pd.DataFrame
    zone_materials: pd.DataFrame
    spare_parts: pd.DataFrame
    fixing_options: pd.DataFrame
    coils: pd.DataFrame
    coil_options: pd.DataFrame
    zones: gpd.GeoDataFrame
    programme: pd.DataFrame
    costs: pd.DataFrame
    block_costs: pd.DataFrame
    season: pd.DataFrame
    stock_left: pd.DataFrame
    left_out: gpd.GeoDataFrame
    row_ids: pd.DataFrame
    findings: pd.DataFrame
    grids: tuple[Grid, ...]
    frames: tuple[FrameNote, ...]
    output_crs: str
    sources: tuple[Source, ...]
    orthophoto: Orthophoto | None = None
    seconds: dict[str, float] = field(default_factory=dict, compare=False)
    missing: tuple[MissingBlock, ...] = ()
    inputs_mark: str = ""
    measured: tuple[Learned, ...] = ()
    service: pd.DataFrame = field(default_factory=lambda: empty(SERVICE))
    service_posts: pd.DataFrame = field(default_factory=lambda: empty(SERVICE_POSTS))
    machine_rows: pd.DataFrame = field(default_factory=lambda: empty(MACHINE_ROWS))

    @property
    def written_tables(self) -> dict[str, Table]:
        """Return the tables that are written: all of `TABLES`, and those asked for that have a line."""
        return TABLES | {name: table for name, table in ASKED_FOR.items() if len(getattr(self, name))}

    def wires_in(self, block_id: str) -> tuple[WireSettings, ...]:
        """Return the wires of one block, as its own settings have them; what was bought for them is in `wires`."""
        return self.config.for_block(block_id).wires

    def wires_of_blocks(self) -> list[WireOfBlocks]:
        """Return the wires of all blocks from the lowest up: blocks may have other wires, or a wire otherwise."""
        found: dict[tuple[object, ...], tuple[WireSettings, list[str]]] = {}
        for block_id in self.blocks["block_id"]:
            for wire in self.wires_in(block_id):
                alike = (wire.id, wire.kind, wire.lines, wire.height_m, wire.diameter_mm)
                found.setdefault(alike, (wire, []))[1].append(block_id)
        wires = [WireOfBlocks(wire, tuple(block_ids)) for wire, block_ids in found.values()]
        return sorted(wires, key=lambda one: (one.wire.height_m, one.wire_id))

    def lines_of(self, table: pd.DataFrame, wire: WireOfBlocks) -> pd.DataFrame:
        """Return the lines of a table that are about a wire in the blocks that have it; by row_id and wire_id."""
        named = table["wire_id"] == wire.wire_id
        if len(wire.block_ids) < len(self.blocks):
            rows = self.rows.loc[self.rows["block_id"].isin(wire.block_ids), "row_id"]
            named &= table["row_id"].isin(rows)
        return table[named]


@dataclass(frozen=True, slots=True)
class FinishedPlan:
    """A plan as its folder has it: the folder as given, its run record, its tables by name, every cell as text."""

    folder: str
    record: Mapping[str, Any]
    tables: Mapping[str, pd.DataFrame]


def as_written(plan: Plan) -> Plan:
    """Return the plan with every number of its tables as the schedule writes it: what is shown is rounded from that."""
    changed = {}
    for table in plan.written_tables.values():
        numbers = [column for column in table.columns if column.kind == "number"]
        frame = getattr(plan, table.name)
        changed[table.name] = frame.assign(**{one.name: half_up(frame[one.name], one.decimals) for one in numbers})
    return replace(plan, **changed)


def left_out_words(left_out: pd.DataFrame, measure: Measure = METRIC.wire) -> str:
    """Rows left out of a plan in words: ``"2 rows, 236.4 m"``; "" where there are none."""
    if left_out.empty:
        return ""
    return f"{len(left_out)} row{'s'[: len(left_out) > 1]}, {measure(left_out['length_m'].sum())}"


def finding_table(findings: Iterable[Finding], terms: Terms = "au-nz") -> pd.DataFrame:
    """Findings as the table of that name, in a country's words; worst first, else in the order they were made."""
    worst_first = sorted(findings, key=lambda finding: -LEVELS.index(finding.level))
    lines = [(f.level, f.code, printable(f.place), printable(in_terms(f.message, terms))) for f in worst_first]
    return conform(FINDINGS, pd.DataFrame(lines, columns=FINDINGS.names, dtype="str"))
