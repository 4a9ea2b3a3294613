"""Found rows and posts as layers: GeoPackage in the survey's own CRS, GeoJSON as a plan reads it."""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Final

import geopandas as gpd
import pyogrio

from wirerun.write.library_errors import writing

_LAYER: Final = "rows"
# A fixed moment for every time stamp in the file, or no two runs would give the same bytes.
_OPTIONS: Final = {"OGR_CURRENT_DATE": "2000-01-01T00:00:00.000Z"}


#: The file of found posts, as `posts.points` of a plan reads it.
FOUND_POSTS: Final = "posts.geojson"
_TEXT: Final = {"RFC7946": "YES", "COORDINATE_PRECISION": "9"}


def write_rows(rows: gpd.GeoDataFrame, folder: Path) -> None:
    """Write rows.gpkg (layer `rows`) and rows.geojson.

    Parameters
    ----------
    rows : GeoDataFrame
        Lines in the survey's CRS.
    folder : Path
        Where to.
    """
    with _undated():
        package = folder / "rows.gpkg"
        with writing(package):
            pyogrio.write_dataframe(rows, package, layer=_LAYER, driver="GPKG", geometry_type="LineString")
        text = folder / "rows.geojson"
        with writing(text):
            lonlat = rows.to_crs("EPSG:4326")
            pyogrio.write_dataframe(lonlat, text, layer=_LAYER, driver="GeoJSON", geometry_type="LineString", **_TEXT)


def write_posts(posts: gpd.GeoDataFrame, folder: Path) -> None:
    """Write posts.geojson, where there are any.

    Parameters
    ----------
    posts : GeoDataFrame
        Points in the survey's CRS.
    folder : Path
        Where to.
    """
    if not len(posts):
        return
    text = folder / FOUND_POSTS
    with _undated(), writing(text):
        lonlat = posts.to_crs("EPSG:4326")
        pyogrio.write_dataframe(lonlat, text, layer="posts", driver="GeoJSON", geometry_type="Point", **_TEXT)


@contextmanager
def _undated() -> Iterator[None]:
    before = {name: pyogrio.get_gdal_config_option(name) for name in _OPTIONS}
    pyogrio.set_gdal_config_options(_OPTIONS)
    try:
        yield
    finally:
        pyogrio.set_gdal_config_options(before)
