"""The GIS layers: one GeoPackage with block, exclusions, rows, posts, spans and sections in a projected CRS.

Each column carries its meaning and unit as a field comment, each layer a default style. The file has the same bytes
whenever the plan is the same: its time stamps are fixed.
"""

import os
import shutil
import sqlite3
import tempfile
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final

import geopandas as gpd
import numpy as np
import pandas as pd
import pyogrio

from pipeline import tables
from pipeline.errors import TargetError, WirerunError
from pipeline.records import Plan
from pipeline.tables import Column, Table
from pipeline.write.styles import layer_style

# A fixed moment for every time stamp in the file, or no two runs would give the same bytes.
_MOMENT: Final = "2000-01-01T00:00:00.000Z"
# Not the newest: nothing of a newer version is needed, and older GIS programs would warn of it.
_FORMAT: Final = "1.3"
_GEOMETRY: Final = "geom"

CLIP_NEEDS: Final = ("two-way", "look-on-site", "unknown", "one-way", "none")

BLOCK: Final = Table(
    "block",
    "One feature per block.",
    ("block_id",),
    (
        Column("block_id", "text", "", "Block, as used in the ids of its rows."),
        Column("name", "text", "", "The block's own name in the boundary file.", empty=True),
        Column("area_ha", "number", "ha", "Horizontal area of the block, exclusions not taken off.", decimals=4),
    ),
)
EXCLUSIONS: Final = Table(
    "exclusions",
    "One feature per keep-out area that touches a block.",
    ("block_id",),
    (Column("block_id", "text", "", "Block that the exclusion touches."),),
)
POSTS: Final = replace(
    tables.POSTS,
    columns=(
        *tables.POSTS.columns,
        Column(
            "clip_need",
            "text",
            "",
            "Most that any wire asks for at the post: a two-way clip; a look on site, where one is possible but not "
            "planned; unknown, where no load could be computed; a one-way clip; none at end posts and where every wire "
            "is stapled.",
            choices=CLIP_NEEDS,
        ),
    ),
)


@dataclass(frozen=True, slots=True)
class _Layer:
    """One layer: its columns, and which attribute of the plan it comes from."""

    table: Table
    source: str

    @property
    def geometry(self) -> str:
        """Return the kind of geometry; areas may have several parts."""
        return self.table.shape or "MultiPolygon"


LAYERS: Final = (
    _Layer(BLOCK, "blocks"),
    _Layer(EXCLUSIONS, "exclusions"),
    _Layer(tables.ROWS, "rows"),
    _Layer(POSTS, "posts"),
    _Layer(tables.SPANS, "spans"),
    _Layer(tables.SECTIONS, "sections"),
)


def write_gis(plan: Plan, path: Path) -> None:
    """Write the layers of a plan to a GeoPackage; a file of that name is replaced once the new one is whole.

    Parameters
    ----------
    plan : Plan
        Geometry in WGS 84; the layers are written in `plan.output_crs`.
    path : Path
        The file; its folder is made if it is missing.

    Raises
    ------
    TargetError
        If a position of the plan cannot be expressed in the output CRS.
    WirerunError
        If the file, read again, does not hold every layer with every feature.
    """
    path.parent.mkdir(parents=True, exist_ok=True)
    # SQLite locks badly on network drives: the file is made on a local one and moved when it is whole.
    with tempfile.TemporaryDirectory() as local:
        draft = Path(local) / "plan.gpkg"
        counts = _write_layers(plan, draft)
        _write_extras(draft)
        _check(draft, counts)
        landing = path.with_name(f".{path.name}.{os.getpid()}.part")
        try:
            shutil.copyfile(draft, landing)
            landing.replace(path)
        finally:
            landing.unlink(missing_ok=True)


def clip_need(posts: pd.DataFrame, clips: pd.DataFrame) -> pd.Series:
    """Return for each post the most that any of its wires asks for, one of `CLIP_NEEDS`, indexed as `posts`.

    Parameters
    ----------
    posts : DataFrame
        With `post_id`.
    clips : DataFrame
        With `post_id`, `clip`, `certainty` and `load_min_n`: one line per intermediate post and wire.
    """
    one_way = clips["clip"] == "one-way"
    known = clips.loc[clips["load_min_n"].notna(), "post_id"]
    asks = {
        "one-way": one_way,
        "unknown": ~clips["post_id"].isin(known),
        "look-on-site": one_way & clips["certainty"].isin(["certain", "likely", "possible"]),
        "two-way": clips["clip"] == "two-way",
    }
    need = pd.Series("none", index=posts.index, dtype="str")
    # From the least to the most, so that the most stays.
    for word, lines in asks.items():
        need[posts["post_id"].isin(clips.loc[lines, "post_id"])] = word
    return need


def _write_layers(plan: Plan, path: Path) -> dict[str, int]:
    """Write every layer, the empty ones too, and return how many features each has."""
    counts = {}
    with _fixed_moment():
        for layer in LAYERS:
            frame = _layer_frame(plan, layer)
            pyogrio.write_dataframe(
                frame,
                path,
                layer=layer.table.name,
                driver="GPKG",
                geometry_type=layer.geometry,
                promote_to_multi=layer.geometry.startswith("Multi"),
                dataset_options={"VERSION": _FORMAT},
                layer_options={"GEOMETRY_NAME": _GEOMETRY, "DESCRIPTION": layer.table.meaning},
            )
            counts[layer.table.name] = len(frame)
    return counts


def _layer_frame(plan: Plan, layer: _Layer) -> gpd.GeoDataFrame:
    """Return a layer as it is written: projected, its columns in order, numbers rounded as in the schedule."""
    source = getattr(plan, layer.source)
    columns = {}
    for column in layer.table.columns:
        values = clip_need(plan.posts, plan.clips) if column.name == "clip_need" else source[column.name]
        # Adding zero turns a negative zero into a plain one.
        columns[column.name] = values.round(column.decimals) + 0.0 if column.kind == "number" else values
    geometry = source.geometry.to_crs(plan.output_crs)
    if np.isinf(geometry.bounds.to_numpy()).any():
        msg = f"output.crs = {plan.output_crs} cannot express the place of this plan; choose a CRS made for the region"
        raise TargetError(msg)
    return gpd.GeoDataFrame(columns, geometry=geometry)


@contextmanager
def _fixed_moment() -> Iterator[None]:
    """Have the writer stamp one fixed moment, and put its setting back afterwards."""
    before = pyogrio.get_gdal_config_option("OGR_CURRENT_DATE")
    pyogrio.set_gdal_config_options({"OGR_CURRENT_DATE": _MOMENT})
    try:
        yield
    finally:
        pyogrio.set_gdal_config_options({"OGR_CURRENT_DATE": before})


def _write_extras(path: Path) -> None:
    """Add the field comments and the default styles."""
    with closing(sqlite3.connect(path)) as base, base:
        _write_comments(base)
        _write_styles(base)


def _write_comments(base: sqlite3.Connection) -> None:
    """Describe every column, by the schema extension of the GeoPackage standard (OGC 12-128r18, annex F.9)."""
    base.execute(
        "CREATE TABLE gpkg_data_columns (table_name TEXT NOT NULL, column_name TEXT NOT NULL, name TEXT, title TEXT, "
        "description TEXT, mime_type TEXT, constraint_name TEXT, "
        "CONSTRAINT pk_gdc PRIMARY KEY (table_name, column_name), CONSTRAINT gdc_tn UNIQUE (table_name, name))"
    )
    base.execute(
        "CREATE TABLE gpkg_data_column_constraints (constraint_name TEXT NOT NULL, constraint_type TEXT NOT NULL, "
        "value TEXT, min NUMERIC, min_is_inclusive BOOLEAN, max NUMERIC, max_is_inclusive BOOLEAN, description TEXT, "
        "CONSTRAINT gdcc_ntv UNIQUE (constraint_name, constraint_type, value))"
    )
    base.executemany(
        "INSERT INTO gpkg_extensions (table_name, column_name, extension_name, definition, scope) "
        "VALUES (?, NULL, 'gpkg_schema', 'http://www.geopackage.org/spec121/#extension_schema', 'read-write')",
        [("gpkg_data_columns",), ("gpkg_data_column_constraints",)],
    )
    base.executemany(
        "INSERT INTO gpkg_data_columns (table_name, column_name, name, description) VALUES (?, ?, ?, ?)",
        [
            (layer.table.name, column.name, column.name, _comment(column))
            for layer in LAYERS
            for column in layer.table.columns
        ],
    )


def _comment(column: Column) -> str:
    return f"{column.meaning} [{column.unit}]" if column.unit else column.meaning


def _write_styles(base: sqlite3.Connection) -> None:
    """Add the table of default styles that desktop GIS programs look for, as a registered attribute table."""
    base.execute(
        "CREATE TABLE layer_styles (id INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL, f_table_catalog TEXT(256), "
        "f_table_schema TEXT(256), f_table_name TEXT(256), f_geometry_column TEXT(256), styleName TEXT(30), "
        "styleQML TEXT, styleSLD TEXT, useAsDefault BOOLEAN, description TEXT, owner TEXT(30), ui TEXT(30), "
        "update_time DATETIME)"
    )
    # Readers compare the schema with an empty text, not with NULL.
    base.executemany(
        "INSERT INTO layer_styles (f_table_catalog, f_table_schema, f_table_name, f_geometry_column, styleName, "
        "styleQML, styleSLD, useAsDefault, description, owner, update_time) "
        "VALUES ('', '', ?, ?, 'plan', ?, '', 1, ?, '', ?)",
        [
            (layer.table.name, _GEOMETRY, layer_style(layer.table.name), layer.table.meaning, _MOMENT)
            for layer in LAYERS
        ],
    )
    base.execute(
        "INSERT INTO gpkg_contents (table_name, data_type, identifier, description, last_change, srs_id) "
        "VALUES ('layer_styles', 'attributes', 'layer_styles', 'Default styles of the layers.', ?, 0)",
        (_MOMENT,),
    )
    base.execute("INSERT INTO gpkg_ogr_contents (table_name, feature_count) VALUES ('layer_styles', ?)", (len(LAYERS),))


def _check(path: Path, counts: dict[str, int]) -> None:
    """Read the finished file again and compare it with what was meant."""
    names = {str(name) for name, geometry in pyogrio.list_layers(path) if geometry is not None}
    with closing(sqlite3.connect(path)) as base:
        # The names are ours, from LAYERS.
        found = {
            name: base.execute(f'SELECT count(*) FROM "{name}"').fetchone()[0]  # noqa: S608
            for name in names & counts.keys()
        }
        sound = base.execute("PRAGMA quick_check(1)").fetchone()[0]
    if found != counts or names != counts.keys() or sound != "ok":
        msg = f"the GeoPackage was not written whole: {found} where {counts} was meant; the file check says {sound}"
        raise WirerunError(msg)
