"""The whole result of a plan on disk, in the order that makes its record true."""

from collections.abc import Collection
from pathlib import Path
from typing import Final

from wirerun.records import Plan, as_written
from wirerun.write.cards import write_cards, write_forms
from wirerun.write.dictionary import write_dictionary
from wirerun.write.folder import result_folder
from wirerun.write.gis import write_formats, write_gis
from wirerun.write.html_map import write_map
from wirerun.write.library_errors import writing
from wirerun.write.order_book import write_order
from wirerun.write.record import write_record
from wirerun.write.schedule import write_schedule

#: What a plan can be written as; each may be had without the others.
PARTS: Final = ("schedule", "gis", "map", "cards")


def write_result(plan: Plan, target: Path, *, overwrite: bool, only: Collection[str] = PARTS) -> Path:
    """Write schedule, GIS layers, map, field sheets and run record to a folder, and return the folder.

    The folder appears whole or not at all.

    Parameters
    ----------
    plan : Plan
        What to write.
    target : Path
        The folder, such as ``outputs/encosta-nova``.
    overwrite : bool
        Whether a finished plan that stands there is replaced.
    only : collection of str
        Which of `PARTS` to write; the record and the data dictionary come with any.

    Raises
    ------
    TargetError
        If the folder cannot be written as asked; what stood there stays.
    """
    plan = as_written(plan)
    with result_folder(target, overwrite=overwrite) as folder:
        if "schedule" in only:
            with writing(folder / "schedule"):
                write_schedule(plan, folder / "schedule")
                write_order(plan, folder / "schedule" / "order.xlsx")
        if "gis" in only:
            with writing(folder / "gis"):
                write_gis(plan, folder / "gis" / "plan.gpkg")
                write_formats(plan, folder / "gis", plan.config.output.formats)
        if "map" in only:
            with writing(folder / "map.html"):
                write_map(plan, folder / "map.html")
        if "cards" in only:
            with writing(folder / "cards"):
                write_cards(plan, folder / "cards" / "field_cards.pdf")
                write_forms(plan, folder / "cards" / "field_forms.pdf")
        with writing(folder):
            write_dictionary(folder)
            # Last: it lists and hashes all the others.
            write_record(plan, folder)
    return target
