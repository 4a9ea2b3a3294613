"""The data dictionary that goes with a result: every table, layer, column and finding code, to read and to load.

It says nothing of its own: all comes from the tables, the layers and the list of finding codes.
"""

from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Final

import pandas as pd

from wirerun.findings import CODES
from wirerun.tables import ALL_TABLES, ASKED_FOR, TABLES, Column, Table
from wirerun.write.gis.layers import LAYERS
from wirerun.write.gis.shapefile_names import short_names
from wirerun.write.gis.staking import STAKING
from wirerun.write.schedule import csv_bytes

_KINDS: Final = {"text": "text", "integer": "whole number", "number": "number"}
_SCHEDULE, _LAYER, _STAKING, _CODE = "schedule", "GIS layer", "staking file", "finding code"

DICTIONARY: Final = Table(
    "data_dictionary",
    "One line per column, and per finding code.",
    (),
    (
        Column("where", "text", "", "What it belongs to.", choices=(_SCHEDULE, _LAYER, _STAKING, _CODE)),
        Column("table", "text", "", "Table or layer."),
        Column("column", "text", "", "Column, or finding code."),
        Column("short_name", "text", "", "Its name in a Shapefile.", empty=True),
        Column("kind", "text", "", "What it holds; of a finding code its level."),
        Column("unit", "text", "", "Unit.", empty=True),
        Column("decimals", "integer", "", "Decimals that are written."),
        Column("may_be_empty", "text", "", "Whether it may be empty.", choices=("yes", "no")),
        Column("choices", "text", "", "Values it may take, where they are fixed.", empty=True),
        Column("meaning", "text", "", "What it means."),
    ),
)

_HEAD: Final = """\
# Data dictionary

Lengths are ground metres: `length_m` and `horizontal_m` lie in the horizontal, `slope_length_m` and `chord_m` in space.
An empty cell means that there is no such thing or that it could not be computed, never zero.
Loads are positive where the wire presses down, negative where it pulls up.
"""

_FORMATS: Final = """\
Layers are those of `gis/plan.gpkg`. The formats beside it are written where the config asks for them.

| file in `gis/` | format | CRS | holds |
| --- | --- | --- | --- |
| `plan.gpkg` | GeoPackage | projected | every layer, with styles (QML, SLD 1.0.0) and a comment on each column; every \
other table of the schedule, to be joined by ids (`findings.csv` as `all_findings`: the layer has those with a place) |
| `geojson/` | GeoJSON, RFC 7946 | WGS 84 | a file per layer; `id` is the key, joined by `/` where it has two columns |
| `shapefile/` | Shapefile, UTF-8 | projected | a file per layer, short column names, text cut at 254 bytes |
| `flatgeobuf/` | FlatGeobuf | projected | a file per layer |
| `geoparquet/` | GeoParquet 1.1 | projected | a file per layer |
| `plan.kml` | KML 2.2 | WGS 84 | a folder per layer, spans left out |
| `plan.gpx` | GPX 1.1 | WGS 84 | posts as waypoints (12b-7: row 12b, post 7; A12b-7: first block), rows as tracks |
| `plan.dxf` | DXF 2010 | projected | flat; a layer per kind of thing; posts are blocks, their ids the attribute ID |
| `staking.csv` | CSV | projected | points to set out, see below |
| `TASKDATA/` | ISO 11783-10, 4.3 | WGS 84 | a partfield per block, a guidance line per row |
"""


def write_dictionary(plan_folder: Path) -> None:
    """Write `data_dictionary.md` and `data_dictionary.csv` into the folder of a result.

    Parameters
    ----------
    plan_folder : Path
        The folder; made if it is missing.
    """
    plan_folder.mkdir(parents=True, exist_ok=True)
    lines = [*_schedule_lines(), *_layer_lines(), *_lines(_STAKING, STAKING, {}), *_code_lines()]
    frame = pd.DataFrame(lines, columns=DICTIONARY.names)
    (plan_folder / "data_dictionary.csv").write_bytes(csv_bytes(DICTIONARY, frame))
    (plan_folder / "data_dictionary.md").write_text(_page(), encoding="utf-8", newline="\n")


def tables_page(tables: Iterable[Table]) -> str:
    """Return as Markdown what the columns of some tables mean, each in a file of its name."""
    return "\n".join([_HEAD, *(_section(f"{table.name}.csv", table, {}) for table in tables)])


_Line = tuple[str | int, ...]


def _schedule_lines() -> Iterator[_Line]:
    for table in ALL_TABLES.values():
        yield from _lines(_SCHEDULE, table, {})


def _layer_lines() -> Iterator[_Line]:
    for layer in LAYERS:
        yield from _lines(_LAYER, layer.table, short_names(layer.table))


def _lines(where: str, table: Table, short: dict[str, str]) -> Iterator[_Line]:
    for column in table.columns:
        yield (
            where,
            table.name,
            column.name,
            short.get(column.name, ""),
            _KINDS[column.kind],
            column.unit,
            column.decimals if column.kind == "number" else 0,
            "yes" if column.empty else "no",
            ", ".join(column.choices),
            column.meaning,
        )


def _code_lines() -> Iterator[_Line]:
    for code, (level, meaning) in CODES.items():
        yield (_CODE, "findings", code, "", level, "", 0, "no", "", meaning)


def _page() -> str:
    """Return the dictionary as Markdown."""
    parts = [_HEAD, "## Tables of the schedule\n"]
    parts += [_section(f"schedule/{table.name}.csv", table, {}) for table in TABLES.values()]
    parts.append("## Tables of the schedule that are written where the config asks for them\n")
    parts += [_section(f"schedule/{table.name}.csv", table, {}) for table in ASKED_FOR.values()]
    parts += ["## GIS layers\n", _FORMATS]
    parts += [_section(f"layer {layer.name}", layer.table, short_names(layer.table)) for layer in LAYERS]
    parts.append("## Points to set out\n")
    parts.append(_section("gis/staking.csv", STAKING, {}))
    parts.append("## Finding codes\n")
    codes: list[tuple[str, ...]] = [(f"`{code}`", level, meaning) for code, (level, meaning) in CODES.items()]
    parts.append(_grid(("code", "level", "meaning"), codes))
    return "\n".join(parts)


def _section(title: str, table: Table, short: dict[str, str]) -> str:
    """Return one table or layer; layers have a column for their short names."""
    names = ("short name",) if short else ()
    header = ("column", *names, "kind", "unit", "empty", "meaning")
    cells = [
        (
            f"`{column.name}`",
            *((f"`{short[column.name]}`",) if short else ()),
            _kind(column),
            column.unit,
            "may be" if column.empty else "",
            _meaning(column),
        )
        for column in table.columns
    ]
    return f"### {title}\n{table.meaning}\n\n{_grid(header, cells)}"


def _kind(column: Column) -> str:
    if column.kind != "number":
        return _KINDS[column.kind]
    return f"number, {column.decimals} decimal{'' if column.decimals == 1 else 's'}"


def _meaning(column: Column) -> str:
    return f"{column.meaning} One of: {', '.join(column.choices)}." if column.choices else column.meaning


def _grid(header: tuple[str, ...], cells: list[tuple[str, ...]]) -> str:
    """Return a Markdown table."""
    lines = [header, ("---",) * len(header), *cells]
    return "\n".join("| " + " | ".join(cell.replace("|", "\\|") for cell in line) + " |" for line in lines) + "\n"
