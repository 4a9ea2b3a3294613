"""A study on disk: its page, and its tables as CSV."""

import json
from pathlib import Path
from typing import Final

from wirerun.model.study import Study
from wirerun.records import RECORD, RECORD_FORMAT
from wirerun.tables.study import STUDY_ROWS, study_table
from wirerun.write.folder import result_folder
from wirerun.write.library_errors import writing
from wirerun.write.pages import write_study_page
from wirerun.write.record import outputs_of, versions
from wirerun.write.schedule import csv_bytes

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
    with result_folder(target, overwrite=overwrite) as folder:
        for each, frame in ((table, study.cases), (STUDY_ROWS, study.rows)):
            with writing(folder / f"{each.name}.csv"):
                (folder / f"{each.name}.csv").write_bytes(csv_bytes(each, frame))
        with writing(folder / "study.html"):
            write_study_page(study, folder / "study.html")
        with writing(folder):
            record = {
                "format": RECORD_FORMAT,
                "kind": STUDY,
                "name": study.config.name,
                "config": study.config.model_dump(mode="json"),
                "cases": len(study.cases),
                "whole": int((study.cases["whole"] == "yes").sum()),
                "versions": versions(),
                "outputs": outputs_of(folder),
            }
            text = json.dumps(record, indent=2, sort_keys=True, ensure_ascii=False, allow_nan=False) + "\n"
            (folder / RECORD).write_text(text, encoding="utf-8")
    return target
