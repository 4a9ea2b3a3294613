"""One GeoPackage of a whole estate: every layer and table of its blocks' GeoPackages, and what all come to.

SQLite copies from file to file, so that no block's features pass through memory; the library makes the empty layers.
"""

import sqlite3
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Final

import numpy as np
import pandas as pd
import pyogrio

from wirerun.tables import ALL_TABLES, FINDINGS, Column, Table
from wirerun.tables.estate import ESTATE_BLOCKS, ORDER
from wirerun.write.estate.folders import EstateBlock
from wirerun.write.estate.tables import more_first
from wirerun.write.gis.attributes import add_lines, make_table, register
from wirerun.write.gis.geopackage import GEOMETRY, MOMENT, VERSION, fixed_moment, opened, write_comments, write_styles
from wirerun.write.gis.layers import ATTRIBUTES, LAYERS, Layer
from wirerun.write.library_errors import not_written

_BLOCK: Final = "Block whose plan it is from."
_ZONE: Final = "Work zone of its row."
# What the schedule calls order.csv: a word of SQL's own would have to be quoted.
_ORDER_ITEMS: Final = replace(ORDER, name="order_items")
_KINDS: Final = {"text": object, "integer": np.int64, "number": np.float64}


def write_estate_gis(blocks: Sequence[EstateBlock], block_lines: pd.DataFrame, order: pd.DataFrame, path: Path) -> None:
    """Copy every layer and table of the blocks' GeoPackages into one, block by block.

    Parameters
    ----------
    blocks : sequence of EstateBlock
        All blocks of the estate. A plan without a GeoPackage gives nothing; where there is none at all, nothing is
        written.
    block_lines, order : DataFrame
        `tables.estate.ESTATE_BLOCKS`, with a line for what is missing, too, and `tables.estate.ORDER`.
    path : Path
        The file; its folder is made.

    Raises
    ------
    OSError
        If the file does not hold as many features and lines as those of the blocks.
    """
    path.parent.mkdir(parents=True)
    files = {block.block_id: _file(block) for block in blocks if block.is_there and _file(block).exists()}
    if not files:
        return
    with fixed_moment():
        crs = pyogrio.read_info(next(iter(files.values())), LAYERS[0].name)["crs"]
        for layer in LAYERS:
            _begin_layer(path, layer, crs)
    count = {layer.name: 0 for layer in LAYERS}
    with opened(path) as base:
        # What is not whole is thrown away, so that no journal is wanted; indexes stay in memory while they grow.
        base.executescript("PRAGMA synchronous = OFF; PRAGMA journal_mode = OFF; PRAGMA cache_size = -250000")
        with _without_triggers(base):
            for block_id, file in files.items():
                with _attached(base, file), base:
                    for layer in LAYERS:
                        count[layer.name] += _copy(base, block_id, layer.table, _LAYERS[layer.name])
                    _widen(base)
                    for name, table in _PLAIN.items():
                        if _has(base, table.name):
                            if table.name not in count:
                                make_table(base, table)
                            own = ATTRIBUTES.get(name, ALL_TABLES[name])
                            count[table.name] = count.get(table.name, 0) + _copy(base, block_id, own, table)
        with base:
            for layer in LAYERS:
                base.execute(
                    "UPDATE gpkg_ogr_contents SET feature_count = ? WHERE table_name = ?",
                    (count[layer.name], layer.name),
                )
            for table, frame in ((ESTATE_BLOCKS, block_lines), (_ORDER_ITEMS, order)):
                make_table(base, table)
                add_lines(base, table, frame)
                count[table.name] = len(frame)
            plain = [table for table in (*_PLAIN.values(), ESTATE_BLOCKS, _ORDER_ITEMS) if table.name in count]
            for table in plain:
                register(base, table.name, table.meaning, MOMENT)
            write_comments(base, [*_LAYERS.values(), *plain])
            write_styles(base)
    for name, wanted in count.items():
        if pyogrio.read_info(path, name)["features"] != wanted:
            raise not_written(path, f"it was not written whole: layer {name}")


def _file(block: EstateBlock) -> Path:
    return block.place / "gis" / "plan.gpkg"


def _with_more(table: Table, more: dict[str, str]) -> Table:
    """Return a table with columns of text before all others; one that it has already is moved there."""
    own = {column.name: column for column in table.columns}
    ahead = {name: own.get(name, Column(name, "text", "", said)) for name, said in more.items()}
    return replace(table, columns=tuple((ahead | own).values()))


#: What a layer has more in an estate than in a plan: block, and zone where its features have a row.
_LAYERS: Final = {
    layer.name: _with_more(
        layer.table, {"block_id": _BLOCK} | ({"zone_id": _ZONE} if "row_id" in layer.table.names else {})
    )
    for layer in LAYERS
}
#: The tables without places, by their names in the schedule.
_PLAIN: Final = {
    name: _with_more(ATTRIBUTES.get(name, table), {more_first(name): _BLOCK} if more_first(name) else {})
    for name, table in ALL_TABLES.items()
    if name not in _LAYERS or name == FINDINGS.name
}


def _begin_layer(path: Path, layer: Layer, crs: str) -> None:
    """Make a layer without features."""
    table = _LAYERS[layer.name]
    pyogrio.raw.write(
        path,
        np.array([], dtype=object),
        [np.array([], dtype=_KINDS[column.kind]) for column in table.columns],
        table.names,
        layer=layer.name,
        driver="GPKG",
        geometry_type=layer.geometry,
        crs=crs,
        append=path.exists(),
        dataset_options={"VERSION": VERSION},
        layer_options={"GEOMETRY_NAME": GEOMETRY, "DESCRIPTION": layer.table.meaning},
    )


@contextmanager
def _without_triggers(base: sqlite3.Connection) -> Iterator[None]:
    """Have no layer count its features, and reckon their bounds, one by one as they are added: both are copied."""
    with base:
        triggers = base.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'").fetchall()
        for name, _ in triggers:
            base.execute(f'DROP TRIGGER "{name}"')
    yield
    with base:
        for _, made_by in triggers:
            base.execute(made_by)


@contextmanager
def _attached(base: sqlite3.Connection, file: Path) -> Iterator[None]:
    """Have a block's file at hand under the name `plan`, only to be read."""
    base.execute("ATTACH ? AS plan", (f"{file.resolve().as_uri()}?immutable=1",))
    try:
        yield
    finally:
        base.execute("DETACH plan")


def _has(base: sqlite3.Connection, name: str) -> bool:
    found = base.execute("SELECT 1 FROM plan.sqlite_master WHERE type = 'table' AND name = ?", (name,)).fetchone()
    return found is not None


def _copy(base: sqlite3.Connection, block_id: str, table: Table, ours: Table) -> int:
    """Add the lines of a block's table to ours, which has more columns, and return how many there are.

    Those of a layer come with their geometry and their places in the index.
    """
    name, is_layer = table.name, table.name in _LAYERS
    more = {"block_id": ":block", "plan_of": ":block", "zone_id": "row_of.zone_id"}
    values = {column: f'one."{column}"' if column in table.names else more[column] for column in ours.names}
    if is_layer:
        values[GEOMETRY] = f"one.{GEOMETRY}"
    zone = "LEFT JOIN plan.rows AS row_of ON row_of.row_id = one.row_id" if more["zone_id"] in values.values() else ""
    names = ", ".join(f'"{column}"' for column in values)
    # The names are ours, from the dictionary of columns.
    (last,) = base.execute(f'SELECT coalesce(max(fid), 0) FROM main."{name}"').fetchone()  # noqa: S608
    base.execute(
        f'INSERT INTO main."{name}" (fid, {names}) '  # noqa: S608
        f'SELECT one.fid + :last, {", ".join(values.values())} FROM plan."{name}" AS one {zone} ORDER BY one.fid',
        {"block": block_id, "last": last},
    )
    if is_layer:
        index = f"rtree_{name}_{GEOMETRY}"
        base.execute(
            f"INSERT INTO main.{index} SELECT id + ?, minx, maxx, miny, maxy FROM plan.{index}",  # noqa: S608
            (last,),
        )
    (count,) = base.execute(f'SELECT count(*) FROM plan."{name}"').fetchone()  # noqa: S608
    return int(count)


def _widen(base: sqlite3.Connection) -> None:
    """Make the extent of each layer hold that of a block's; a layer without features has none."""
    sides = [("min", "min_x"), ("min", "min_y"), ("max", "max_x"), ("max", "max_y")]
    wider = [f"{of} = {most}(coalesce(ours.{of}, its.{of}), coalesce(its.{of}, ours.{of}))" for most, of in sides]
    base.execute(
        f"UPDATE main.gpkg_contents AS ours SET {', '.join(wider)} FROM plan.gpkg_contents AS its "  # noqa: S608
        "WHERE ours.table_name = its.table_name"
    )
