"""One GeoPackage of a whole estate: the layers of all blocks, every table of the schedule, and what all come to."""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import islice
from pathlib import Path
from typing import Any, Final

import numpy as np
import pandas as pd
import pyogrio

from wirerun.tables import ALL_TABLES, Column, Table
from wirerun.tables.estate import ESTATE_BLOCKS, ORDER
from wirerun.write.estate.folders import EstateBlock
from wirerun.write.estate.tables import block_table, lines_of, more_first, names_with_block, order_table
from wirerun.write.gis.geopackage import GEOMETRY, VERSION, fixed_moment, opened, write_comments, write_styles
from wirerun.write.gis.layers import ATTRIBUTES, LAYERS
from wirerun.write.library_errors import not_written

# Lines in hand at a time: choice.
_LINES: Final = 50_000
_BLOCK: Final = "Block whose plan it is from."
_ZONE: Final = "Work zone of its row."
# What the schedule calls order.csv: a word of SQL's own would have to be quoted.
_OF_ALL: Final = (ESTATE_BLOCKS, replace(ORDER, name="order_items"))


def write_estate_gis(blocks: Sequence[EstateBlock], path: Path) -> None:
    """Append every layer and table of the blocks' plans, block by block; those without GIS layers give tables only.

    Parameters
    ----------
    blocks : sequence of EstateBlock
        All blocks of the estate; of what is missing there is a line among the blocks only. Without any nothing is
        written.
    path : Path
        The file; its folder is made.

    Raises
    ------
    OSError
        If the file does not hold as many features as the blocks' when it is read again.
    """
    path.parent.mkdir(parents=True)
    there = [block for block in blocks if block.is_there]
    if not there:
        return
    drawn = [block for block in there if _layers(block).exists()]
    told: list[Table] = []
    with fixed_moment():
        count: dict[str, int] = {}
        for layer in LAYERS if drawn else ():
            told.append(_with_more(layer.table))
            for block in drawn:
                _append_layer(block, path, layer.table, first=layer.name not in count)
                count[layer.name] = count.get(layer.name, 0) + pyogrio.read_info(_layers(block), layer.name)["features"]
        names = {layer.name for layer in LAYERS} if drawn else set()
        for name in ALL_TABLES:
            table = ALL_TABLES[name] if name not in names else ATTRIBUTES.get(name)
            if table is None:
                continue
            told.append(_with_more(table, more_first(name)))
            for block in there:
                for frame in _frames(block, name):
                    _append_table(frame, path, table, first=table.name not in count)
                    count[table.name] = count.get(table.name, 0) + len(frame)
        for table, frame in zip(_OF_ALL, (block_table(blocks), order_table(there)), strict=True):
            told.append(table)
            _append_table(frame, path, table, first=True)
            count[table.name] = len(frame)
    with opened(path) as base, base:
        write_comments(base, [table for table in told if table.name in count])
        if drawn:
            write_styles(base)
    for name, wanted in count.items():
        if pyogrio.read_info(path, name)["features"] != wanted:
            raise not_written(path, f"it was not written whole: layer {name}")


def _with_more(table: Table, first: str | None = None) -> Table:
    """Return a table with the columns that tell of which block, and of a layer of which zone, its lines are."""
    if first is not None:
        return replace(table, columns=(*((Column(first, "text", "", _BLOCK),) if first else ()), *table.columns))
    more = {"block_id": _BLOCK} | ({"zone_id": _ZONE} if "row_id" in table.names else {})
    own = set(table.names)
    return replace(
        table,
        columns=(*(Column(n, "text", "", said) for n, said in more.items() if n not in own), *table.columns),
    )


def _layers(block: EstateBlock) -> Path:
    return block.place / "gis" / "plan.gpkg"


def _append_layer(block: EstateBlock, path: Path, table: Table, *, first: bool) -> None:
    """Add the features of one layer: its columns, and block and zone where it has rows but neither of them."""
    meta, _, geometry, values = pyogrio.raw.read(_layers(block), layer=table.name)
    columns = dict(zip(meta["fields"].tolist(), values, strict=True))
    more = {"block_id": np.full(len(geometry), block.block_id, dtype=object)}
    if "row_id" in columns:
        zone = {row["row_id"]: row["zone_id"] for row in lines_of(block, "rows")}
        more["zone_id"] = np.array([zone.get(row_id) for row_id in columns["row_id"]], dtype=object)
    columns = more | columns
    if first or len(geometry):
        pyogrio.raw.write(
            path,
            geometry,
            list(columns.values()),
            list(columns),
            layer=table.name,
            driver="GPKG",
            geometry_type=meta["geometry_type"],
            crs=meta["crs"],
            append=not first,
            layer_options={"GEOMETRY_NAME": GEOMETRY, "DESCRIPTION": table.meaning} if first else None,
            dataset_options={"VERSION": VERSION} if not path.exists() else None,
        )


def _frames(block: EstateBlock, name: str) -> Iterator[pd.DataFrame]:
    """Go through a table in pieces, with its columns' kinds and the block."""
    lines = lines_of(block, name)
    columns = {column.name: column for column in ALL_TABLES[name].columns}
    while piece := list(islice(lines, _LINES)):
        frame = pd.DataFrame(piece)
        if more_first(name):
            frame[more_first(name)] = block.block_id
        yield pd.DataFrame({each: _values(frame[each], columns.get(each)) for each in names_with_block(name)})


def _values(texts: pd.Series, column: Column | None) -> Any:  # noqa: ANN401 - an array of any kind
    if column is None or column.kind == "text":
        return texts.where(texts != "", None).astype(object)
    numbers = np.array([float(text) if text else np.nan for text in texts])
    return numbers.astype(np.int64) if column.kind == "integer" and not np.isnan(numbers).any() else numbers


def _append_table(frame: pd.DataFrame, path: Path, table: Table, *, first: bool) -> None:
    options = {"DESCRIPTION": table.meaning} if first else None
    pyogrio.write_dataframe(
        frame,
        path,
        layer=table.name,
        driver="GPKG",
        append=not first,
        layer_options=options,
        dataset_options={"VERSION": VERSION} if not path.exists() else None,
    )
