"""The plan for a GIS: a styled GeoPackage, and the same layers in the formats that other programs and machines read."""

from pipeline.write.gis.clip_need import CLIP_NEEDS, clip_need
from pipeline.write.gis.formats import check_formats, write_formats
from pipeline.write.gis.geopackage import write_gis
from pipeline.write.gis.layers import LAYERS

__all__ = ["CLIP_NEEDS", "LAYERS", "check_formats", "clip_need", "write_formats", "write_gis"]
