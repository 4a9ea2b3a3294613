"""Tables of an estate from those of its blocks, read line by line: an estate may be larger than the memory."""

import codecs
import csv
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any, Final

import pandas as pd

from wirerun.errors import TableError
from wirerun.findings import Finding
from wirerun.records import finding_table
from wirerun.tables import ALL_TABLES, ASKED_FOR, FINDINGS, TABLES
from wirerun.tables.estate import ESTATE_BLOCKS, ORDER, PHASES
from wirerun.write.estate.folders import EstateBlock
from wirerun.write.record import read_record
from wirerun.write.schedule import csv_bytes, text_cell

_BLOCK_ID: Final = "block_id"
# Where a table has blocks, and lines that are of none: of which block's plan a line is.
_PLAN_OF: Final = "plan_of"


def lines_of(block: EstateBlock, table: str) -> Iterator[dict[str, str]]:
    """Go through the lines of a table of a block's plan, every cell a text as it was written."""
    if _has(block, table):
        with (block.place / "schedule" / f"{table}.csv").open(encoding="utf-8-sig", newline="") as stream:
            yield from csv.DictReader(stream)


def _has(block: EstateBlock, table: str) -> bool:
    """Whether a block's plan has a table: it may lack one that its config does not ask for."""
    return table not in ASKED_FOR or (block.place / "schedule" / f"{table}.csv").is_file()


def has_our_tables(place: Path) -> bool:
    """Whether a block's plan has every table with the columns of this version."""
    for table in TABLES.values():
        path = place / "schedule" / f"{table.name}.csv"
        if not path.is_file():
            return False
        with path.open("rb") as stream:
            if stream.readline().removeprefix(codecs.BOM_UTF8).rstrip(b"\r\n") != ",".join(table.names).encode():
                return False
    return True


def write_tables(
    blocks: Sequence[EstateBlock],
    block_lines: pd.DataFrame,
    order: pd.DataFrame,
    findings: Sequence[Finding],
    phases: pd.DataFrame,
    folder: Path,
) -> None:
    """Write every table of the plans as one, the block first in each line, and the tables of the estate itself.

    Every block has `has_our_tables`; `block_lines` and `order` are `block_table` and `order_table` of them; `findings`
    are of no single block, and come first.

    Raises
    ------
    TableError
        If a plan's table has a line break within a cell.
    """
    folder.mkdir(parents=True)
    there = [block for block in blocks if block.is_there]
    for name in ALL_TABLES:
        shared = csv_bytes(FINDINGS, finding_table(findings)) if name == FINDINGS.name else b""
        having = [block for block in there if _has(block, name)]
        if having or name in TABLES:
            _join(name, having, folder / f"{name}.csv", shared)
    (folder / "blocks.csv").write_bytes(csv_bytes(ESTATE_BLOCKS, block_lines))
    (folder / "phases.csv").write_bytes(csv_bytes(PHASES, phases))
    (folder / "order.csv").write_bytes(csv_bytes(ORDER, order))


def findings_of(folder: Path) -> list[tuple[str, str, str, str]]:
    """Return level, code, place and message of every finding in an estate's folder of tables."""
    with (folder / "findings.csv").open(encoding="utf-8-sig", newline="") as stream:
        return [(one["level"], one["code"], one["place"], one["message"]) for one in csv.DictReader(stream)]


def more_first(name: str) -> str:
    """Name of the column that says of which block a line is, where a table has none in each line; else ""."""
    own = next((column for column in ALL_TABLES[name].columns if column.name == _BLOCK_ID), None)
    return _BLOCK_ID if own is None else _PLAN_OF if own.empty else ""


def names_with_block(name: str) -> list[str]:
    """Columns of a table as the estate has it."""
    return [*filter(None, [more_first(name)]), *ALL_TABLES[name].names]


def _join(name: str, blocks: Sequence[EstateBlock], path: Path, shared: bytes) -> None:
    with path.open("wb") as out:
        out.write(codecs.BOM_UTF8)
        out.write((",".join(names_with_block(name)) + "\r\n").encode())
        out.writelines(b"," + line for line in shared.splitlines(keepends=True)[1:])
        for block in blocks:
            with (block.place / "schedule" / f"{name}.csv").open("rb") as stream:
                stream.readline()
                if not more_first(name):
                    while piece := stream.read(1 << 20):
                        out.write(piece)
                else:
                    # What would be a line break within a cell was made printable; else it is refused.
                    mine = csv_cell(block.block_id) + b","
                    for line in stream:
                        if line.count(b'"') % 2:
                            msg = f"{name}.csv of block {block.block_id} has a line break within a cell"
                            raise TableError(msg)
                        out.write(mine + line)


def csv_cell(text: str) -> bytes:
    """Return a text as a cell of a CSV file, as the schedule has it."""
    return text_cell(text).encode("utf-8", errors="backslashreplace")


def block_table(blocks: Sequence[EstateBlock]) -> pd.DataFrame:
    """Blocks side by side, as `ESTATE_BLOCKS` has them."""
    lines = pd.DataFrame([_block_line(block) for block in blocks], columns=ESTATE_BLOCKS.names)
    return lines.astype({column.name: "float64" for column in ESTATE_BLOCKS.columns if column.kind == "number"})


def _block_line(block: EstateBlock) -> dict[str, Any]:
    line: dict[str, Any] = dict.fromkeys(ESTATE_BLOCKS.names)
    line |= {"block_id": block.block_id, "state": block.state, "reason": block.reason, "area_ha": block.area_ha}
    line["year"] = block.year
    if not block.is_there:
        return line
    counts = read_record(block.place)["counts"]
    length = hours = 0.0
    for row in lines_of(block, "rows"):
        length += float(row["length_m"])
        hours += float(row["hours"] or 0.0)
    totals = [one["total"] for one in lines_of(block, "costs") if one["part"] == "sum"]
    levels = counts["findings"]
    return line | {
        "folder": f"{block.place.parent.name}/{block.place.name}",
        "row_length_m": length,
        "hours": hours,
        "cost": float(totals[0]) if totals and totals[0] else None,
        "warnings": levels["warning"] + levels["error"],
        "notes": levels["note"],
        **{name: counts[name] for name in ("rows", "posts", "two_way_posts", "coils")},
    }


def order_table(blocks: Sequence[EstateBlock]) -> pd.DataFrame:
    """What all blocks need, by item, as `ORDER` has it."""
    found: dict[tuple[str, str], dict[str, Any]] = {}
    for block in blocks:
        for line in lines_of(block, "materials") if block.is_there else ():
            quantity, spare = int(line["quantity"]), int(line["spare_quantity"])
            one = found.setdefault(
                (line["kind"], line["item"]),
                {**{name: line[name] for name in ("item", "kind", "unit")}, "quantity": 0, "spare_quantity": 0},
            )
            # The crew takes its tools from block to block.
            add = max if line["kind"] == "tool" else int.__add__
            one["quantity"], one["spare_quantity"] = add(one["quantity"], quantity), add(one["spare_quantity"], spare)
            one |= {"supplier": line["supplier"], "pack": int(line["pack"])}
            one["unit_price"] = float(line["unit_price"]) if line["unit_price"] else None
            one["blocks"] = one.get("blocks", 0) + 1
    lines = [found[key] for key in sorted(found)]
    for one in lines:
        price = one["unit_price"]
        one["packs"] = -(-(one["quantity"] + one["spare_quantity"]) // one["pack"])
        one["total"] = None if price is None else one["packs"] * one["pack"] * price
    return pd.DataFrame(lines, columns=ORDER.names).astype({"unit_price": "float64", "total": "float64"})
