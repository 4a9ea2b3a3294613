"""Which rows were laid, left out or gone: the tables that later plans keep ids by."""

from typing import Final

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from wirerun import tables
from wirerun.arrays import TextArray, words
from wirerun.geometry.frame import Frame
from wirerun.geometry.places import WGS84
from wirerun.geometry.shapes import lines_through
from wirerun.geometry.station import Paths
from wirerun.model.layout import LeftOut, NamedRows
from wirerun.result.fill import fill

# A row's line for later plans: thinned by so much [m], degrees to 1 cm.
_LINE_M: Final = 0.04


_DEGREE_DECIMALS: Final = 7


def left_out_table(left_out: LeftOut, frame: Frame) -> gpd.GeoDataFrame:
    """Rows of one block that cannot be planned, as lines in WGS 84."""
    rows = left_out.rows
    columns = {
        "row_id": rows.row_id,
        "block_id": np.full(len(rows), rows.block_id, dtype=object),
        "length_m": rows.length_m,
        "reason": left_out.reason,
    }
    lonlat = frame.to_lonlat(rows.paths.vertices).stacked()
    lines = lines_through(lonlat, rows.paths.path)
    return gpd.GeoDataFrame(fill(tables.LEFT_OUT, columns), geometry=lines, crs=WGS84)


def row_id_table(named: NamedRows, frame: Frame) -> pd.DataFrame:
    """Every row that was laid in one block and every one that is gone: id, where it comes from, line in WGS 84."""
    rows, gone = named.rows, len(named.gone_id)
    columns = {
        "row_id": np.concatenate([rows.row_id, named.gone_id]),
        "block_id": np.full(len(rows) + gone, rows.block_id, dtype=object),
        "origin": np.concatenate([named.origin, np.full(gone, "gone", dtype=object)]),
        "moved_m": np.concatenate([named.moved_m, np.full(gone, np.nan)]),
        "line": np.concatenate([_as_wkt(rows.paths, frame), _as_wkt(named.gone, frame)]),
    }
    return fill(tables.ROW_IDS, columns)


def _as_wkt(paths: Paths, frame: Frame) -> TextArray:
    """Lines in WGS 84 as WKT, thinned: what they are compared with lies metres apart."""
    if not len(paths.first):
        return words([])
    lines = shapely.linestrings(paths.vertices.stacked(), indices=paths.path)
    lonlat = frame.unflatten(np.asarray(shapely.simplify(lines, _LINE_M), dtype=object))
    return np.asarray(shapely.to_wkt(lonlat, rounding_precision=_DEGREE_DECIMALS), dtype=object)
