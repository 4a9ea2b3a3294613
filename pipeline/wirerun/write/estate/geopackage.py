"""One GeoPackage of a whole estate: the layers of all blocks, and every table of the schedule beside them."""

from collections.abc import Iterator, Sequence
from itertools import islice
from pathlib import Path
from typing import Any, Final

import numpy as np
import pandas as pd
import pyogrio

from wirerun.tables import ALL_TABLES, Column
from wirerun.write.estate.folders import EstateBlock
from wirerun.write.estate.tables import lines_of, more_first, names_with_block
from wirerun.write.gis.geopackage import GEOMETRY, VERSION, fixed_moment, write_extras
from wirerun.write.gis.layers import LAYERS
from wirerun.write.library_errors import not_written

# Lines in hand at a time: choice.
_LINES: Final = 50_000
# The layer of findings has those with a place on the ground only.
_ALL_FINDINGS: Final = "all_findings"


def write_estate_gis(blocks: Sequence[EstateBlock], path: Path) -> None:
    """Append every layer and table of the blocks' plans, block by block; those without GIS layers give tables only.

    Raises
    ------
    OSError
        If the file does not hold as many features as the blocks' when it is read again.
    """
    path.parent.mkdir(parents=True)
    drawn = [block for block in blocks if _layers(block).exists()]
    with fixed_moment():
        count: dict[str, int] = {}
        for layer in LAYERS if drawn else ():
            for block in drawn:
                _append_layer(block, path, layer.name, first=layer.name not in count)
                count[layer.name] = count.get(layer.name, 0) + pyogrio.read_info(_layers(block), layer.name)["features"]
        names = {layer.name for layer in LAYERS} if drawn else set()
        for name in ALL_TABLES:
            called = name if name not in names else _ALL_FINDINGS if name == "findings" else ""
            for block in blocks if called else ():
                for frame in _frames(block, name):
                    _append_table(frame, path, called, first=called not in count)
                    count[called] = count.get(called, 0) + len(frame)
    if drawn:
        write_extras(path)
    for name, wanted in count.items():
        if pyogrio.read_info(path, name)["features"] != wanted:
            raise not_written(path, f"it was not written whole: layer {name}")


def _layers(block: EstateBlock) -> Path:
    return block.place / "gis" / "plan.gpkg"


def _append_layer(block: EstateBlock, path: Path, name: str, *, first: bool) -> None:
    """Add the features of one layer: its columns, and block and zone where it has rows but neither of them."""
    meta, _, geometry, values = pyogrio.raw.read(_layers(block), layer=name)
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
            layer=name,
            driver="GPKG",
            geometry_type=meta["geometry_type"],
            crs=meta["crs"],
            append=not first,
            layer_options={"GEOMETRY_NAME": GEOMETRY} if first else None,
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


def _append_table(frame: pd.DataFrame, path: Path, name: str, *, first: bool) -> None:
    pyogrio.write_dataframe(frame, path, layer=name, driver="GPKG", append=not first)
