"""What a column and a table are, and the check that a frame keeps its table's promises."""

from dataclasses import dataclass
from functools import cache
from typing import Any, Final, Literal

import pandas as pd

from wirerun.errors import TableError

Kind = Literal["text", "integer", "number"]


@dataclass(frozen=True, slots=True)
class Column:
    """One column. `decimals` is how many a CSV carries; `choices` are the values a text column may take."""

    name: str
    kind: Kind
    unit: str
    meaning: str
    decimals: int = 0
    empty: bool = False
    choices: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Table:
    """One table: its columns in order, the columns that tell its lines apart, and the shape of its features, if any.

    Tables are sorted by their `order`, else by their key; one without a key keeps the order it was made in.
    """

    name: str
    meaning: str
    key: tuple[str, ...]
    columns: tuple[Column, ...]
    shape: Literal["", "Point", "LineString", "MultiPolygon"] = ""
    order: tuple[str, ...] = ()

    @property
    def names(self) -> list[str]:
        """Return the column names in order."""
        return [column.name for column in self.columns]


def text(name: str, meaning: str, *, empty: bool = False, choices: tuple[str, ...] = ()) -> Column:
    """Column of text."""
    return Column(name, "text", "", meaning, empty=empty, choices=choices)


def count(name: str, meaning: str) -> Column:
    """Column of whole numbers."""
    return Column(name, "integer", "", meaning)


def metres(name: str, meaning: str, *, empty: bool = False) -> Column:
    """Column of lengths in metres."""
    return Column(name, "number", "m", meaning, decimals=3, empty=empty)


def degrees(name: str, meaning: str) -> Column:
    """Column of longitudes or latitudes."""
    return Column(name, "number", "deg", meaning, decimals=9)


def percent(name: str, meaning: str) -> Column:
    """Column of percentages."""
    return Column(name, "number", "%", meaning, decimals=2, empty=True)


def newtons(name: str, meaning: str) -> Column:
    """Column of forces."""
    return Column(name, "number", "N", meaning, decimals=2, empty=True)


def millimetres(name: str, meaning: str, *, decimals: int = 0, empty: bool = True) -> Column:
    """Column of lengths in millimetres."""
    return Column(name, "number", "mm", meaning, decimals=decimals, empty=empty)


_DTYPES: Final[dict[Kind, str]] = {"text": "str", "integer": "int64", "number": "float64"}


def empty(table: Table) -> pd.DataFrame:
    """Return a table without lines, with the right columns and dtypes."""
    return _bare(table, pd.get_option("mode.string_storage")).copy()


@cache
def _bare(table: Table, _storage: str) -> pd.DataFrame:
    """Kept apart for each way to store text, as columns made in one way do not equal those made in another."""
    return pd.DataFrame({c.name: pd.Series(dtype=_DTYPES[c.kind]) for c in table.columns})


def as_lines(frame: pd.DataFrame) -> list[dict[str, Any]]:
    """Return the lines of a table in order, each a dict of its cells by column."""
    return [{str(name): cell for name, cell in line.items()} for line in frame.to_dict("records")]


def conform(table: Table, frame: pd.DataFrame) -> pd.DataFrame:
    """Return the table's columns in order, sorted, after checking every promise of the dictionary.

    A geometry column is kept, last.

    Parameters
    ----------
    table : Table
        What is promised.
    frame : DataFrame
        What a stage made; columns beyond the table's are left out.

    Raises
    ------
    TableError
        If a column is missing, has the wrong kind, is empty where it may not be, or holds a value outside its choices;
        names the table, the column and the first value.
    """
    missing = [name for name in table.names if name not in frame.columns]
    if missing:
        msg = f"table {table.name}: no column {', '.join(missing)}"
        raise TableError(msg)
    # A column at a time is several times as slow to ask of a frame with geometry, or to set in any.
    plain, columns = pd.DataFrame(frame), dict[str, pd.Series]()
    for column in table.columns:
        values = columns[column.name] = plain[column.name]
        if column.kind == "text":
            columns[column.name] = values.astype("str")
            bad = ~(values.isin(column.choices) | values.isna()) if column.choices else None
            if bad is not None and bad.any():
                msg = (
                    f"table {table.name}, column {column.name}: {values[bad].iloc[0]!r} is not one of {column.choices}"
                )
                raise TableError(msg)
        elif values.dtype != _DTYPES[column.kind]:
            msg = f"table {table.name}, column {column.name}: {values.dtype} where {_DTYPES[column.kind]} is promised"
            raise TableError(msg)
        if not column.empty and column.kind != "integer" and values.isna().any():
            first = plain.loc[values.isna(), table.names[:3]].iloc[0].to_dict()
            msg = f"table {table.name}, column {column.name}: empty at {first}"
            raise TableError(msg)
    if "geometry" in frame.columns:
        columns["geometry"] = frame["geometry"]
    out = type(frame)(columns)
    if not table.key:
        return out.reset_index(drop=True)
    if out.duplicated(list(table.key)).any():
        twin = out.loc[out.duplicated(list(table.key)), list(table.key)].iloc[0].to_dict()
        msg = f"table {table.name}: two lines for {twin}"
        raise TableError(msg)
    return out.sort_values(list(table.order or table.key), kind="stable", ignore_index=True)
