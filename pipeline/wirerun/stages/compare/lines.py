"""Which lines of a table were added, are gone or changed from one plan to another, by their ids."""

from typing import Final

import numpy as np
import pandas as pd
from pyproj import Geod

from wirerun.arrays import BoolArray, FloatArray, TextArray
from wirerun.model.comparison import TableChanges
from wirerun.tables import DIFFERENCES, Table, conform, empty

_EARTH: Final = Geod(ellps="WGS84")


def compare_lines(table: Table, before: pd.DataFrame, after: pd.DataFrame, letter: str) -> TableChanges:
    """Lines of one table that differ between two plans.

    Lines are the same line where their ids are; a table without ids (costs, findings) is told apart by its texts. Cells
    are compared as they were written: a difference in the last decimal is one.

    Parameters
    ----------
    table : Table
        Which it is.
    before, after : DataFrame
        The table of the first plan and of the other one, every cell as text.
    letter : str
        What the other plan is called.
    """
    shared = [name for name in table.names if name in before.columns and name in after.columns]
    texts = [column.name for column in table.columns if column.kind == "text" and column.name in shared]
    key = list(table.key) or texts
    old, new = (_by_id(frame, key) for frame in (before, after))
    at = pd.Index(old["id"]).get_indexer(pd.Index(new["id"]))
    both = np.flatnonzero(at >= 0)
    cells = [name for name in shared if name not in key]
    one, other = old.iloc[at[both]], new.iloc[both]
    differs = np.array([one[name].to_numpy() != other[name].to_numpy() for name in cells], dtype=np.bool_)
    differs = differs.reshape(len(cells), len(both))
    changed = differs.any(axis=0)
    gone = np.ones(len(old), dtype=np.bool_)
    gone[at[both]] = False
    parts = [
        _lines("added", new["id"].to_numpy()[at < 0]),
        _lines("gone", old["id"].to_numpy()[gone]),
        _lines("changed", other["id"].to_numpy()[changed]).assign(
            what=_words(cells, differs, one, other)[changed], moved_m=_moved(one, other, table)[changed]
        ),
    ]
    lines = pd.concat(parts, ignore_index=True).assign(plan=letter, table=table.name)
    return TableChanges(
        table.name,
        conform(DIFFERENCES, lines) if len(lines) else empty(DIFFERENCES),
        int((~changed).sum()),
        {name: int(count) for name, count in zip(cells, differs.sum(axis=1), strict=True) if count},
        tuple(name for name in table.names if name not in shared and (name in before.columns or name in after.columns)),
    )


def _by_id(frame: pd.DataFrame, key: list[str]) -> pd.DataFrame:
    """Return the lines with their ids in one column, each id once."""
    named = frame[key[0]].astype("object").str.cat(frame[key[1:]], sep=" ")
    return frame.assign(id=named).drop_duplicates("id", ignore_index=True)


def _lines(change: str, ids: TextArray) -> pd.DataFrame:
    return pd.DataFrame({"id": ids, "change": change, "what": "", "moved_m": np.full(len(ids), np.nan)})


def _words(cells: list[str], differs: BoolArray, one: pd.DataFrame, other: pd.DataFrame) -> TextArray:
    """What changed in each line: ``"clip one-way > two-way; pieces 2 > 3"``; a cell that was empty is a dash."""
    words = np.full(len(one), "", dtype=object)
    for name, here in zip(cells, differs, strict=True):
        old, new = (frame[name].replace("", "-").to_numpy(dtype=object)[here] for frame in (one, other))
        words[here] = words[here] + np.where(words[here] == "", "", "; ") + name + " " + old + " > " + new
    return words


def _moved(one: pd.DataFrame, other: pd.DataFrame, table: Table) -> FloatArray:
    """How far a post stands from where it stood [m]; NaN where the table has no places."""
    if not {"lon", "lat"} <= set(table.names):
        return np.full(len(one), np.nan)
    (lon, lat), (lon2, lat2) = (frame[["lon", "lat"]].to_numpy(dtype=np.float64).T for frame in (one, other))
    return np.asarray(_EARTH.inv(lon, lat, lon2, lat2)[2])
