"""A comparison on disk: its page, and its tables as CSV."""

from functools import partial
from pathlib import Path
from typing import Any, Final

from wirerun.errors import TargetError
from wirerun.model.comparison import Comparison
from wirerun.records import RECORD
from wirerun.tables import CHANGES, DIFFERENCES, POST_CHANGES, totals_table
from wirerun.write.folder import check_target
from wirerun.write.pages import write_comparison_page
from wirerun.write.record import read_record
from wirerun.write.side_result import write_side_result

#: What the record of a comparison says it is.
COMPARISON: Final = "comparison"


def write_comparison(comparison: Comparison, target: Path) -> Path:
    """Write the page and the tables of a comparison to a folder, and return the folder.

    The folder appears whole or not at all. An earlier comparison there is replaced, nothing else is.

    Parameters
    ----------
    comparison : Comparison
        What to write.
    target : Path
        The folder.

    Raises
    ------
    TargetError
        If the folder holds anything but an earlier comparison, or cannot be written.
    """
    check_comparison_target(target)
    tables = [
        (totals_table(tuple(comparison.plans)), comparison.totals),
        (DIFFERENCES, comparison.differences),
        (POST_CHANGES, comparison.post_changes),
    ]
    page = ("compare.html", partial(write_comparison_page, comparison))
    return write_side_result(target, tables, page, _record(comparison), overwrite=True)


def check_comparison_target(target: Path) -> None:
    """Make sure that a comparison can be put at a place: an earlier one may stand there, but no plan.

    Raises
    ------
    TargetError
        If the folder holds anything but an earlier comparison, or cannot be written.
    """
    check_target(target, overwrite=True)
    if (target / RECORD).is_file() and read_record(target).get("kind") != COMPARISON:
        msg = f"{target} holds a finished plan, and is left alone; choose another folder"
        raise TargetError(msg)


def _record(comparison: Comparison) -> dict[str, Any]:
    return {
        "kind": COMPARISON,
        "name": " ".join(comparison.plans),
        "plans": {
            letter: {"folder": plan.folder, "plan_mark": plan.record.get("plan_mark", "")}
            for letter, plan in comparison.plans.items()
        },
        "settings": {
            one.letter: [dict(zip(("setting", "before", "after"), each, strict=True)) for each in one.settings]
            for one in comparison.against
        },
        "equal": comparison.equal,
        "lines": {
            one.letter: {
                changes.table: {"same": changes.same} | {change: changes.count(change) for change in CHANGES}
                for changes in one.tables
            }
            for one in comparison.against
        },
    }
