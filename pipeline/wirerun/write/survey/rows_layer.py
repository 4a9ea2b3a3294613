"""Found rows as layers: GeoPackage in the survey's own CRS, GeoJSON as a plan reads it."""

from pathlib import Path
from typing import Final

import geopandas as gpd
import pyogrio

from wirerun.write.library_errors import writing

_LAYER: Final = "rows"
# A fixed moment for every time stamp in the file, or no two runs would give the same bytes.
_OPTIONS: Final = {"OGR_CURRENT_DATE": "2000-01-01T00:00:00.000Z"}


def write_rows(rows: gpd.GeoDataFrame, folder: Path) -> None:
    """Write rows.gpkg (layer `rows`) and rows.geojson.

    Parameters
    ----------
    rows : GeoDataFrame
        Lines in the survey's CRS.
    folder : Path
        Where to.
    """
    before = {name: pyogrio.get_gdal_config_option(name) for name in _OPTIONS}
    pyogrio.set_gdal_config_options(_OPTIONS)
    try:
        package = folder / "rows.gpkg"
        with writing(package):
            pyogrio.write_dataframe(rows, package, layer=_LAYER, driver="GPKG", geometry_type="LineString")
        text = folder / "rows.geojson"
        with writing(text):
            options = {"RFC7946": "YES", "COORDINATE_PRECISION": "9"}
            pyogrio.write_dataframe(
                rows.to_crs("EPSG:4326"), text, layer=_LAYER, driver="GeoJSON", geometry_type="LineString", **options
            )
    finally:
        pyogrio.set_gdal_config_options(before)
