"""The master of the GIS layers: one GeoPackage in a projected CRS, with all other tables of the schedule beside them.

Each column carries its meaning and unit as a field comment, each layer a default style in two languages. Tables without
places are attribute tables, to be joined by their ids. The file has the same bytes
whenever the plan is the same: its time stamps are fixed.
"""

import os
import sqlite3
from collections.abc import Iterable, Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Final

import geopandas as gpd
import pyogrio

from wirerun.records import Plan
from wirerun.tables import Column, Table
from wirerun.write.gis.attributes import attributes_of, register, write_attributes
from wirerun.write.gis.layers import FINDINGS, LAYERS, Layer, layer_frame
from wirerun.write.gis.qml import layer_qml
from wirerun.write.gis.read_back import reads_as_written
from wirerun.write.gis.sld import layer_sld
from wirerun.write.library_errors import not_written, writing

# A fixed moment for every time stamp in the file, or no two runs would give the same bytes.
MOMENT: Final = "2000-01-01T00:00:00.000Z"
# SQLite locks badly on network drives; nobody else knows of the file before it is whole.
_OPTIONS: Final = {"OGR_CURRENT_DATE": MOMENT, "SQLITE_USE_OGR_VFS": "YES"}
# Not the newest: nothing of a newer version is needed, and older GIS programs would warn of it.
VERSION: Final = "1.3"
GEOMETRY: Final = "geom"


def write_gis(plan: Plan, path: Path) -> None:
    """Write the layers and tables of a plan to a GeoPackage; a file of that name is replaced once the new one is whole.

    Parameters
    ----------
    plan : Plan
        Geometry in WGS 84; the layers are written in `plan.output_crs`.
    path : Path
        The file; its folder is made if it is missing.

    Raises
    ------
    TargetError
        If a position of the plan cannot be expressed in the output CRS.
    OSError
        If it cannot be written, or does not hold every layer and table with every line when it is read again.
    """
    path.parent.mkdir(parents=True, exist_ok=True)
    draft = path.with_name(f".{path.stem}.{os.getpid()}{path.suffix}")
    try:
        with writing(path):
            frames = _write_layers(plan, draft)
            with opened(draft) as base, base:
                write_attributes(plan, base, MOMENT)
                write_comments(base, [*(layer.table for layer in LAYERS), *attributes_of(plan).values()])
                write_styles(base)
            why = _why_not_whole(draft, frames)
            if why:
                raise not_written(path, f"it was not written whole: {why}")
            draft.replace(path)
    finally:
        for end in ("", "-journal"):
            draft.with_name(draft.name + end).unlink(missing_ok=True)


def _write_layers(plan: Plan, path: Path) -> dict[str, gpd.GeoDataFrame]:
    """Write every layer, the empty ones too, and return what was written."""
    frames = {}
    with fixed_moment():
        for layer in LAYERS:
            frames[layer.name] = frame = layer_frame(plan, layer, plan.output_crs)
            pyogrio.write_dataframe(
                frame,
                path,
                layer=layer.name,
                driver="GPKG",
                geometry_type=layer.geometry,
                promote_to_multi=layer.geometry.startswith("Multi"),
                dataset_options={"VERSION": VERSION},
                layer_options={"GEOMETRY_NAME": GEOMETRY, "DESCRIPTION": _description(plan, layer, len(frame))},
            )
    return frames


def _description(plan: Plan, layer: Layer, count: int) -> str:
    if layer.table is not FINDINGS:
        return layer.table.meaning
    return f"{layer.table.meaning} Here: {count} of {len(plan.findings)}."


@contextmanager
def fixed_moment() -> Iterator[None]:
    """Have the writer stamp one fixed moment and take no locks, and put its settings back afterwards."""
    before = {name: pyogrio.get_gdal_config_option(name) for name in _OPTIONS}
    pyogrio.set_gdal_config_options(_OPTIONS)
    try:
        yield
    finally:
        pyogrio.set_gdal_config_options(before)


@contextmanager
def opened(path: Path) -> Iterator[sqlite3.Connection]:
    """Open a GeoPackage that nobody else knows of."""
    with closing(sqlite3.connect(f"{path.resolve().as_uri()}?nolock=1", uri=True)) as base:
        yield base


def write_comments(base: sqlite3.Connection, tables: Iterable[Table]) -> None:
    """Describe every column, by the schema extension of the GeoPackage standard (OGC 12-128r18, annex F.9)."""
    base.execute(
        "CREATE TABLE gpkg_data_columns (table_name TEXT NOT NULL, column_name TEXT NOT NULL, name TEXT, title TEXT, "
        "description TEXT, mime_type TEXT, constraint_name TEXT, "
        "CONSTRAINT pk_gdc PRIMARY KEY (table_name, column_name), CONSTRAINT gdc_tn UNIQUE (table_name, name))"
    )
    base.execute(
        "CREATE TABLE gpkg_data_column_constraints (constraint_name TEXT NOT NULL, constraint_type TEXT NOT NULL, "
        "value TEXT, min NUMERIC, min_is_inclusive BOOLEAN, max NUMERIC, max_is_inclusive BOOLEAN, description TEXT, "
        "CONSTRAINT gdcc_ntv UNIQUE (constraint_name, constraint_type, value))"
    )
    base.executemany(
        "INSERT INTO gpkg_extensions (table_name, column_name, extension_name, definition, scope) "
        "VALUES (?, NULL, 'gpkg_schema', 'http://www.geopackage.org/spec121/#extension_schema', 'read-write')",
        [("gpkg_data_columns",), ("gpkg_data_column_constraints",)],
    )
    base.executemany(
        "INSERT INTO gpkg_data_columns (table_name, column_name, name, description) VALUES (?, ?, ?, ?)",
        [(table.name, column.name, column.name, _comment(column)) for table in tables for column in table.columns],
    )


def _comment(column: Column) -> str:
    return f"{column.meaning} [{column.unit}]" if column.unit else column.meaning


def write_styles(base: sqlite3.Connection) -> None:
    """Add the table of default styles that desktop GIS programs look for, as a registered attribute table."""
    base.execute(
        "CREATE TABLE layer_styles (id INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL, f_table_catalog TEXT(256), "
        "f_table_schema TEXT(256), f_table_name TEXT(256), f_geometry_column TEXT(256), styleName TEXT(30), "
        "styleQML TEXT, styleSLD TEXT, useAsDefault BOOLEAN, description TEXT, owner TEXT(30), ui TEXT(30), "
        "update_time DATETIME)"
    )
    # Readers compare the schema with an empty text, not with NULL.
    base.executemany(
        "INSERT INTO layer_styles (f_table_catalog, f_table_schema, f_table_name, f_geometry_column, styleName, "
        "styleQML, styleSLD, useAsDefault, description, owner, update_time) "
        "VALUES ('', '', ?, ?, 'plan', ?, ?, 1, ?, '', ?)",
        [
            (layer.name, GEOMETRY, layer_qml(layer.name), layer_sld(layer.name), layer.table.meaning, MOMENT)
            for layer in LAYERS
        ],
    )
    register(base, "layer_styles", "Default styles of the layers.", MOMENT)


def _why_not_whole(path: Path, frames: dict[str, gpd.GeoDataFrame]) -> str | None:
    """Read the finished file again, and return what is not as it was meant."""
    with opened(path) as base:
        sound = base.execute("PRAGMA quick_check(1)").fetchone()[0]
        if sound != "ok":
            return f"the file check says {sound}"
        for name, frame in frames.items():
            # The names are ours, from LAYERS.
            (indexed,) = base.execute(f"SELECT count(*) FROM rtree_{name}_{GEOMETRY}").fetchone()  # noqa: S608
            if indexed != len(frame) or not reads_as_written(path, frame, name):
                return f"layer {name} does not read as it was written"
    return None
