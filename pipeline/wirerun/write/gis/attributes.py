"""Tables without places in a GeoPackage: what is not a layer of it, to be joined to the layers by ids.

Written by SQLite itself, which is fast and says when a disk is full; a layer needs the library, a plain table does not.

References
----------
OGC GeoPackage Encoding Standard 1.3.1, 12-128r18, section 2.4, attributes.
"""

import sqlite3
from collections.abc import Iterable
from typing import Any, Final

import pandas as pd

from wirerun.records import Plan
from wirerun.rounding import half_up
from wirerun.tables import ASKED_FOR, Column, Table
from wirerun.write.gis.layers import ATTRIBUTES
from wirerun.write.gis.text import clean_cells

_TYPES: Final = {"text": "TEXT", "integer": "INTEGER", "number": "REAL"}


def write_attributes(plan: Plan, base: sqlite3.Connection, moment: str) -> None:
    """Add every table that is no layer to an open GeoPackage, stamped with a moment.

    Raises
    ------
    sqlite3.Error
        If it cannot be written, or a table does not hold every line.
    """
    for name, table in attributes_of(plan).items():
        frame = getattr(plan, name)
        make_table(base, table)
        add_lines(base, table, frame)
        register(base, table.name, table.meaning, moment)
        (held,) = base.execute(f'SELECT count(*) FROM "{table.name}"').fetchone()  # noqa: S608
        if held != len(frame):
            msg = f"table {table.name} has {held} of {len(frame)} lines"
            raise sqlite3.DatabaseError(msg)


def make_table(base: sqlite3.Connection, table: Table) -> None:
    """Make a table without lines; its names are ours, from the dictionary of columns."""
    columns = ", ".join(f'"{column.name}" {_TYPES[column.kind]}' for column in table.columns)
    base.execute(f'CREATE TABLE "{table.name}" (fid INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL, {columns})')


def add_lines(base: sqlite3.Connection, table: Table, frame: pd.DataFrame) -> None:
    """Add the lines of a frame to a table, rounded and cleaned as in the layers."""
    places = ", ".join("?" * len(table.columns))
    names = ", ".join(f'"{column.name}"' for column in table.columns)
    base.executemany(f'INSERT INTO "{table.name}" ({names}) VALUES ({places})', _lines(table, frame))  # noqa: S608


def attributes_of(plan: Plan) -> dict[str, Table]:
    """Return the tables of a plan that are no layer, by their names in it; of those asked for such as have lines."""
    return ATTRIBUTES | {name: table for name, table in plan.written_tables.items() if name in ASKED_FOR}


def register(base: sqlite3.Connection, name: str, meaning: str, moment: str) -> None:
    """Enter a table without places into the contents, as a GIS looks for it, with the lines it has."""
    base.execute(
        "INSERT INTO gpkg_contents (table_name, data_type, identifier, description, last_change, srs_id) "
        "VALUES (?, 'attributes', ?, ?, ?, 0)",
        (name, name, meaning, moment),
    )
    base.execute(
        f'INSERT INTO gpkg_ogr_contents (table_name, feature_count) SELECT ?, count(*) FROM "{name}"',  # noqa: S608
        (name,),
    )


def _lines(table: Table, frame: pd.DataFrame) -> Iterable[tuple[Any, ...]]:
    """Go through the lines of a table, as the schedule has them; SQLite takes what is not a number for none."""
    return zip(*(_values(column, frame[column.name]) for column in table.columns), strict=True)


def _values(column: Column, values: pd.Series) -> list[Any]:
    if column.kind == "text":
        return list(clean_cells(values))
    return list((half_up(values, column.decimals) if column.kind == "number" else values).tolist())
