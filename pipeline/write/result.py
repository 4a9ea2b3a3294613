"""The whole result of a plan on disk, in the order that makes its record true."""

from pathlib import Path

from pipeline.records import Plan
from pipeline.write.folder import result_folder
from pipeline.write.gis import write_gis
from pipeline.write.html_map import write_map
from pipeline.write.record import write_record
from pipeline.write.schedule import write_schedule


def write_result(plan: Plan, target: Path, *, overwrite: bool) -> Path:
    """Write schedule, GIS layers, map and run record to a folder, and return the folder.

    The folder appears whole or not at all.

    Parameters
    ----------
    plan : Plan
        What to write.
    target : Path
        The folder, such as ``outputs/encosta-nova``.
    overwrite : bool
        Whether a finished plan that stands there is replaced.

    Raises
    ------
    TargetError
        If the folder cannot be written as asked; what stood there stays.
    """
    with result_folder(target, overwrite=overwrite) as folder:
        write_schedule(plan, folder / "schedule")
        write_gis(plan, folder / "gis" / "plan.gpkg")
        write_map(plan, folder / "map.html")
        # Last: it lists and hashes all the others.
        write_record(plan, folder)
    return target
