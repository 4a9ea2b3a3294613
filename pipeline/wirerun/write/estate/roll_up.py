"""What the blocks of an estate come to together: tables, one GeoPackage, a map of all of it, and a record."""

import json
from collections.abc import Sequence
from pathlib import Path

import pandas as pd

from wirerun.findings import Finding
from wirerun.records import RECORD, RECORD_FORMAT
from wirerun.settings import Config
from wirerun.write.estate.folders import BLOCKS, ROLL_UP, EstateBlock
from wirerun.write.estate.geopackage import write_estate_gis
from wirerun.write.estate.page import write_estate_page
from wirerun.write.estate.tables import block_table, order_table, write_tables
from wirerun.write.folder import result_folder
from wirerun.write.library_errors import writing
from wirerun.write.record import outputs_of, read_record, versions


def write_roll_up(
    config: Config,
    target: Path,
    blocks: Sequence[EstateBlock],
    findings: Sequence[Finding],
    phases: pd.DataFrame,
) -> Path:
    """Write the folder `all` of an estate, which appears whole or not at all, and return it.

    Parameters
    ----------
    config : Config
        The estate's config.
    target : Path
        The estate's folder.
    blocks : sequence of EstateBlock
        All blocks of the boundary; what is missing is named, and in no sum.
    findings : sequence of Finding
        What was noticed in the files that all blocks share, and of all blocks together.
    phases : DataFrame
        `tables.estate.PHASES`.
    """
    place = target / ROLL_UP
    with result_folder(place, overwrite=True) as folder:
        with writing(folder / "schedule"):
            lines, order = block_table(blocks), order_table(blocks)
            write_tables(blocks, lines, order, findings, phases, folder / "schedule")
        with writing(folder / "gis"):
            write_estate_gis(blocks, lines, order, folder / "gis" / "estate.gpkg")
        with writing(folder / "map.html"):
            write_estate_page(config.name, blocks, lines, folder / "map.html")
        with writing(folder):
            record = {
                "format": RECORD_FORMAT,
                "kind": "estate",
                "name": config.name,
                "blocks": {block.block_id: _told(block) for block in blocks},
                "versions": versions(),
                "outputs": outputs_of(folder),
            }
            text = json.dumps(record, indent=2, sort_keys=True, ensure_ascii=False, allow_nan=False) + "\n"
            (folder / RECORD).write_bytes(text.encode("utf-8", errors="backslashreplace"))
    return place


def _told(block: EstateBlock) -> dict[str, str]:
    """Return what the record says of a block: no word of which run made it, so that two ways there give one record."""
    if not block.is_there:
        return {"missing": block.reason}
    record = read_record(block.place)
    return {"folder": f"{BLOCKS}/{block.place.name}", "inputs_mark": str(record.get("inputs_mark", ""))}
