"""A study on disk: its page, and its tables as CSV."""

from functools import partial
from pathlib import Path
from typing import Final

from wirerun.model.study import Study
from wirerun.tables.study import STUDY_ROWS, study_table
from wirerun.write.pages import write_study_page
from wirerun.write.side_result import write_side_result

#: What the record of a study says it is.
STUDY: Final = "study"


def write_study(study: Study, target: Path, *, overwrite: bool) -> Path:
    """Write the page and the tables of a study to a folder, which appears whole or not at all, and return the folder.

    Parameters
    ----------
    study : Study
        What to write.
    target : Path
        The folder.
    overwrite : bool
        Whether an earlier result that stands there is replaced.

    Raises
    ------
    TargetError
        If the folder cannot be written as asked; what stood there stays.
    """
    table = study_table(study.keys, tuple(rule.id for rule in study.rules))
    record = {
        "kind": STUDY,
        "name": study.config.name,
        "config": study.config.model_dump(mode="json"),
        "cases": len(study.cases),
        "whole": int((study.cases["whole"] == "yes").sum()),
    }
    page = ("study.html", partial(write_study_page, study))
    tables = [(table, study.cases), (STUDY_ROWS, study.rows)]
    return write_side_result(target, tables, page, record, overwrite=overwrite)
