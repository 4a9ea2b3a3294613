"""Work zones as areas."""

import geopandas as gpd
import numpy as np
import pandas as pd

from wirerun.geometry.areas import strips
from wirerun.geometry.frame import Frame
from wirerun.model.site import Area


def place_zones(
    zones: pd.DataFrame, rows: gpd.GeoDataFrame, workable: Area, spacing_m: float, frame: Frame
) -> gpd.GeoDataFrame:
    """Work zones of one block as areas in WGS 84: the strips of their rows, a row spacing beyond the outer ones.

    Parameters
    ----------
    zones : DataFrame
        zone_id.
    rows : GeoDataFrame
        zone_id and the line in WGS 84, of the same block.
    workable : Polygon or MultiPolygon
        The block's workable ground, in plane metres.
    spacing_m : float
        Distance between rows. [m]
    frame : Frame
        The block's frame.
    """
    lines = np.array([frame.flatten(line) for line in rows.geometry], dtype=object)
    zone = pd.Index(zones["zone_id"]).get_indexer(rows["zone_id"])
    areas = np.array(strips(lines, zone, workable, spacing_m), dtype=object)
    return gpd.GeoDataFrame(zones, geometry=frame.unflatten(areas), crs="EPSG:4326")
