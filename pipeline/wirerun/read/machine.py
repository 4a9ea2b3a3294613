"""What this machine has: versions, data paths and drivers."""

import platform
import re
import sqlite3
from importlib import resources
from importlib.metadata import PackageNotFoundError, requires, version
from typing import Final

import fiona
import pyogrio
import pyproj
import rasterio
from rasterio.drivers import raster_driver_extensions

from wirerun.read.layer import DRIVERS

_NAME: Final = re.compile(r"[\w.-]+")


def _libraries() -> list[str]:
    """Return what the package says that it needs, extras left out."""
    needed = [line for line in requires("wirerun") or [] if "extra ==" not in line]
    return ["wirerun", *(found[0] for line in needed if (found := _NAME.match(line)))]


def examine() -> tuple[dict[str, str], list[str]]:
    """Facts about this machine, and a sentence for everything that is missing."""
    missing: list[str] = []
    facts = {"python": platform.python_version()}
    for name in _libraries():
        try:
            facts[name] = version(name)
        except PackageNotFoundError:
            missing.append(f"the package {name} is not installed")
    facts["GDAL in rasterio"] = rasterio.__gdal_version__
    facts["GDAL in fiona"] = fiona.__gdal_version__
    facts["GDAL in pyogrio"] = pyogrio.__gdal_version_string__
    facts["PROJ"] = pyproj.proj_version_str
    facts["PROJ data"] = pyproj.datadir.get_data_dir()
    facts["SQLite, for GeoPackages"] = sqlite3.sqlite_version
    readers = [name for name in DRIVERS if "r" in fiona.supported_drivers.get(name, "")]
    missing += [f"fiona cannot read {name}" for name in DRIVERS if name not in readers]
    facts["boundary files"] = ", ".join((*readers, "GPKG"))
    if "GPKG" not in pyogrio.list_drivers(write=True):
        missing.append("pyogrio cannot write GPKG")
    if "tif" not in raster_driver_extensions():
        missing.append("rasterio cannot read GeoTIFF")
    leaflet = resources.files("js_lib_leaflet") / "static" / "js_lib_leaflet" / "leaflet.js"
    facts["Leaflet"] = str(leaflet)
    if not leaflet.is_file():
        missing.append(f"Leaflet's file {leaflet} is not there")
    return facts, missing
