"""The plan for a GIS: a styled GeoPackage, and the same layers in the formats that other programs and machines read."""

from wirerun.write.gis.formats import check_formats, write_formats
from wirerun.write.gis.geopackage import write_gis
from wirerun.write.gis.layers import LAYERS

__all__ = ["LAYERS", "check_formats", "write_formats", "write_gis"]
