"""One file per layer: GeoJSON, Shapefile, FlatGeobuf, GeoParquet, each in a folder of its own."""

from pathlib import Path
from typing import Final

import geopandas as gpd
import pyogrio

from wirerun.geometry.places import WGS84
from wirerun.records import Plan
from wirerun.write.gis.layers import LAYERS, Layer, feature_ids, layer_frame
from wirerun.write.gis.read_back import reads_as_written
from wirerun.write.gis.shapefile_names import short_names
from wirerun.write.gis.text import cut
from wirerun.write.library_errors import not_written, writing

# A tenth of a millimetre on the ground.
_DEGREE_DECIMALS: Final = 9
# The longest text a DBF field holds, in bytes.
_DBF_TEXT: Final = 254
# The header of a DBF has the day of its last change; without a fixed one no two days would give the same bytes.
_DAY: Final = "2000-01-01"


def write_geojson(plan: Plan, folder: Path) -> None:
    """Write every layer as GeoJSON: WGS 84, 9 decimals, what tells a feature apart as its `id`.

    References
    ----------
    RFC 7946, The GeoJSON Format, 2016.
    """
    for layer in LAYERS:
        frame = layer_frame(plan, layer, WGS84)
        options = {
            "RFC7946": "YES",
            "COORDINATE_PRECISION": str(_DEGREE_DECIMALS),
            # What a double holds for sure, so that a rounded number stays short.
            "SIGNIFICANT_FIGURES": "15",
            "DESCRIPTION": layer.table.meaning,
        }
        ids = feature_ids(layer, frame)
        if ids is not None:
            # The writer takes this column away: the columns of the key stay.
            frame = frame.assign(feature_id=ids)
            options["ID_FIELD"] = "feature_id"
        _write(frame, layer, folder / f"{layer.name}.geojson", "GeoJSON", options)


def write_shapefiles(plan: Plan, folder: Path) -> None:
    """Write every layer as a Shapefile in the projected CRS: UTF-8, column names from a fixed dictionary.

    Text is cut to what a field holds, 254 bytes; the format fills fields with blanks, so none stays at the end.
    """
    for layer in LAYERS:
        frame = layer_frame(plan, layer, plan.output_crs)
        for column in layer.table.columns:
            if column.kind == "text":
                short = frame[column.name].map(lambda text: cut(text, _DBF_TEXT).rstrip(" "), na_action="ignore")
                frame[column.name] = short
        options = {"ENCODING": "UTF-8", "DBF_DATE_LAST_UPDATE": _DAY}
        frame = frame.rename(columns=short_names(layer.table))
        _write(frame, layer, folder / f"{layer.name}.shp", "ESRI Shapefile", options)


def write_flatgeobuf(plan: Plan, folder: Path) -> None:
    """Write every layer as FlatGeobuf in the projected CRS, with its spatial index."""
    for layer in LAYERS:
        frame = layer_frame(plan, layer, plan.output_crs)
        options = {"DESCRIPTION": layer.table.meaning}
        _write(frame, layer, folder / f"{layer.name}.fgb", "FlatGeobuf", options)


def write_geoparquet(plan: Plan, folder: Path) -> None:
    """Write every layer as GeoParquet 1.1 in the projected CRS; `check_formats` has seen that pyarrow is there."""
    folder.mkdir(parents=True, exist_ok=True)
    for layer in LAYERS:
        frame = layer_frame(plan, layer, plan.output_crs)
        path = folder / f"{layer.name}.parquet"
        with writing(path):
            frame.to_parquet(path, index=False, schema_version="1.1.0")
            if not _reads_as_parquet(path, frame):
                raise not_written(path, "it does not read as it was written")


def _reads_as_parquet(path: Path, frame: gpd.GeoDataFrame) -> bool:
    """Return whether a GeoParquet file holds what was meant; one that is damaged does not."""
    from pyarrow import ArrowException  # noqa: PLC0415 - see `write_geoparquet`

    try:
        return reads_as_written(path, frame)
    except ArrowException:
        return False


def _write(frame: gpd.GeoDataFrame, layer: Layer, path: Path, driver: str, options: dict[str, str]) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    with writing(path):
        pyogrio.write_dataframe(
            frame,
            path,
            layer=layer.name,
            driver=driver,
            geometry_type=layer.geometry,
            promote_to_multi=layer.geometry.startswith("Multi"),
            layer_options=options,
        )
        if not reads_as_written(path, frame):
            raise not_written(path, "it does not read as it was written")
