"""A result beside a plan (a comparison, a study): its page, its tables as CSV, what they mean, and its record."""

import json
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any

import pandas as pd

from wirerun.records import RECORD, RECORD_FORMAT
from wirerun.tables import Table
from wirerun.write.dictionary import tables_page
from wirerun.write.folder import result_folder
from wirerun.write.library_errors import writing
from wirerun.write.record import outputs_of, versions
from wirerun.write.schedule import csv_bytes


def write_side_result(
    target: Path,
    tables: Sequence[tuple[Table, pd.DataFrame]],
    page: tuple[str, Callable[[Path], None]],
    record: Mapping[str, Any],
    *,
    overwrite: bool,
) -> Path:
    """Write a result to a folder, which appears whole or not at all, and return the folder.

    Parameters
    ----------
    target : Path
        The folder.
    tables : sequence of (Table, DataFrame)
        Each becomes a CSV of its name.
    page : (str, callable)
        The page's file, and what writes it.
    record : mapping
        What the record says beside versions and outputs: its `kind` and `name` among it.
    overwrite : bool
        Whether an earlier result that stands there is replaced.

    Raises
    ------
    TargetError
        If the folder cannot be written as asked; what stood there stays.
    """
    name, write_page = page
    with result_folder(target, overwrite=overwrite) as folder:
        for table, frame in tables:
            with writing(folder / f"{table.name}.csv"):
                (folder / f"{table.name}.csv").write_bytes(csv_bytes(table, frame))
        with writing(folder / name):
            write_page(folder / name)
        with writing(folder):
            meanings = tables_page([table for table, _ in tables])
            (folder / "data_dictionary.md").write_text(meanings, encoding="utf-8", newline="\n")
            whole = {"format": RECORD_FORMAT, **record, "versions": versions(), "outputs": outputs_of(folder)}
            text = json.dumps(whole, indent=2, sort_keys=True, ensure_ascii=False, allow_nan=False) + "\n"
            # A file name that is no text becomes \udc.., which is also how JSON spells it.
            (folder / RECORD).write_bytes(text.encode("utf-8", errors="backslashreplace"))
    return target
